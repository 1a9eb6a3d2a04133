"""The site in a real browser, under a sub-path of three unrelated static servers and from the file system."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urldefrag, urljoin

import pytest
from places import EPOCH, ROOT, Place
from playwright.sync_api import Browser, Page, sync_playwright

sys.path.append(str(ROOT / "tests" / "checks"))

from servers import find_port, nginx, npm_server, python_server, serve
from site_links import check_links

SUB_PATH = "bench/motion site"
DEMO = "braille-plate-plotter"
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory, shared_cache: Path) -> Place:
    """Two comparisons built twice, the second time with a title changed, below a sub-path."""
    root = tmp_path_factory.mktemp("host") / SUB_PATH
    root.mkdir(parents=True)
    place = Place(root, shared_cache)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", EPOCH)
        file = place.begin("first")
        shutil.copytree(ROOT / "comparisons" / DEMO, place.comparisons / DEMO)
        demo = place.comparisons / DEMO / "comparison.yaml"
        demo.write_text(demo.read_text(encoding="utf-8") + "\nstall_map: false\n", encoding="utf-8")
        assert place.build() == 0
        place.change(file, ('title: "First"', 'title: "Another title"'))
        assert place.build() == 0
    return place


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        yield browser
        browser.close()


def list_kinds(site: Path) -> list[str]:
    """One page of every kind, frozen ones included."""
    frozen = sorted((site / "archive" / "pages" / "comparisons" / "first").glob("*.html"))
    assert len(frozen) == 2
    part = next(path for path in sorted((site / "parts").iterdir()) if path.is_dir())
    changes = sorted((site / "archive" / "builds").glob("*.html"))
    named = ["index.html", f"comparisons/{DEMO}/index.html", "comparisons/first/index.html", "methods/index.html",
             "comparisons/first/versions.html", "methods/motor/index.html", "parts/index.html", "cautions/index.html",
             "builds/index.html"]  # fmt: skip
    paths = [site / name for name in named] + [*frozen, part / "index.html", *changes]
    return [path.relative_to(site).as_posix() for path in paths]


def visit(browser: Browser, base: str, paths: list[str]) -> None:
    """Open pages whose console stays empty and whose every request is answered; links lead somewhere."""
    heard: list[str] = []
    page = browser.new_page()
    page.on("console", lambda message: heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on("requestfailed", lambda request: heard.append(f"failed: {request.url}"))
    page.on("response", lambda answer: heard.append(f"{answer.status}: {answer.url}") if answer.status >= 400 else None)
    page.on("request", lambda request: None if request.url.startswith((base, "data:")) else heard.append(request.url))
    links: set[str] = set()
    for path in paths:
        page.goto(urljoin(base, path), wait_until="load")
        scroll_through(page)
        assert page.locator("h1").count() == 1, path
        assert page.evaluate("[...document.images].every(i => i.complete && i.naturalWidth > 0)"), path
        styled = page.evaluate("getComputedStyle(document.body).fontFamily")
        assert styled and page.evaluate("document.styleSheets.length") > 0, path
        links |= {urldefrag(link)[0] for link in page.evaluate("[...document.links].map(a => a.href)")}
    assert heard == []
    ours = sorted(link for link in links if link.startswith(base))
    assert len(ours) > 40
    if base.startswith("http"):
        broken = [link for link in ours if page.request.get(link).status != 200]
    else:
        broken = [
            link for link in ours if not Path(page.evaluate("u => decodeURI(new URL(u).pathname)", link)).is_file()
        ]
    assert broken == []
    page.close()


def scroll_through(page: Page) -> None:
    """Bring pictures that load when seen into view."""
    page.evaluate("for (const image of document.images) image.loading = 'eager'")
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("width", [360, 1280])
def test_the_fullest_page_loads_first_under_600_kb(width: int, built: Place, browser: Browser, tmp_path: Path) -> None:
    """Bodies as a server sends them that compresses nothing; pictures further down wait until they are seen."""
    port = find_port()
    sizes: dict[str, int] = {}
    with serve(python_server(built.site, port, tmp_path), port, tmp_path) as address:
        page = browser.new_page(viewport={"width": width, "height": 800})
        page.on("response", lambda answer: sizes.update({answer.url: len(answer.body())}))
        page.goto(f"{address}/comparisons/{DEMO}/index.html", wait_until="networkidle")
        page.close()

    assert len(sizes) > 3
    assert sum(sizes.values()) < 600_000, sizes


@pytest.mark.parametrize("name", ["python", "nginx", "npm"])
def test_a_server_shows_the_site_under_a_sub_path(
    name: str, built: Place, browser: Browser, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    port = find_port()
    root = built.root.parents[1]
    if name == "npm":
        command = npm_server(root, port, tmp_path, request.config.cache.mkdir("npm"))
    else:
        command = {"python": python_server, "nginx": nginx}[name](root, port, tmp_path)
    with serve(command, port, tmp_path) as address:
        base = f"{address}/{SUB_PATH.replace(' ', '%20')}/site/"
        visit(browser, base, list_kinds(built.site))


def test_the_file_system_shows_the_site(built: Place, browser: Browser) -> None:
    visit(browser, built.site.as_uri() + "/", list_kinds(built.site))


def test_a_frozen_page_shows_what_it_showed(built: Place, browser: Browser) -> None:
    """The first version keeps its title, and leads to the newest by a click."""
    page = browser.new_page()
    frozen = sorted((built.site / "archive" / "pages" / "comparisons" / "first").glob("*.html"))
    titles = {}
    for path in frozen:
        page.goto(path.as_uri())
        titles[path.name] = page.title()
    assert sorted(title.split(" ")[0] for title in titles.values()) == ["Another", "First"]
    old = next(path for path in frozen if titles[path.name].startswith("First"))
    page.goto(old.as_uri())
    page.locator("a[href$='versions.html']").first.click()
    assert page.url.endswith("/comparisons/first/versions.html")
    page.locator("main a[href$='comparisons/first/index.html'], main a[href='index.html']").first.click()
    assert page.title().startswith("Another title")
    page.close()


def test_every_link_of_the_built_folder_leads_somewhere(built: Place) -> None:
    assert check_links(built.site) == []


def test_the_link_check_sees_faults(tmp_path: Path) -> None:
    page = '<p id="a"></p><p id="a"></p><a href="none.html"></a><a href="/x"></a><a href="b.html#c"></a>'
    page += '<img src="../out.png"><img srcset="i.png 1x, j.png 2x"><a href="javascript:alert(1)"></a><a href="d"></a>'
    (tmp_path / "index.html").write_text(page)
    (tmp_path / "b.html").write_text("<p>b</p>")
    (tmp_path / "alone.txt").write_text("")
    (tmp_path / "d").mkdir()

    faults = "\n".join(check_links(tmp_path))
    words = (
        "a stands twice", "none.html: no such file", "/x: starts at", "#c: no such anchor", "leaves the site",
        "i.png: no such file", "j.png: no such file", "scheme", "d: names a folder", "alone.txt: nothing",
    )  # fmt: skip
    for word in words:
        assert word in faults, word
    assert len(faults.splitlines()) == len(words)
