"""Every kind of page in a real Chromium: accessibility, width, console, keyboard, scripts, no scripts, print.

A missing browser fails these tests. axe-core is the general checker behind axe-playwright-python (WCAG 2.2 A and AA).
"""

from __future__ import annotations

import functools
import re
import threading
from collections.abc import Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

from generator.charts.labels import SMALLEST
from generator.records.presentation import Page as SitePage

ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
FULL = "comparisons/braille-plate-plotter/index.html"
KINDS = {
    "home": "index.html",
    "comparison": FULL,
    "bench sheet": "comparisons/tile-engraver/index.html",
    "parts": "parts/index.html",
    "part": "parts/alder-42-8-series/index.html",
    "methods": "methods/index.html",
    "method": "methods/motor/index.html",
    "cautions": "cautions/index.html",
    "builds": "builds/index.html",
    "changes": "archive/builds/0001-0a1b2c3d.html",
    "versions": "comparisons/braille-plate-plotter/versions.html",
    "not found": "404.html",
    "sheet for print": "bench-sheet.html",
}
RULES = {"preload": False, "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
BY_THEME = ["color-contrast", "link-in-text-block"]
BY_WIDTH = [
    "scrollable-region-focusable", "target-size", "region", "landmark-unique", "heading-order", "label",
    "button-name", "link-name", "image-alt", "list", "td-headers-attr", "aria-hidden-focus",
]  # fmt: skip


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One Chromium for all tests of this file."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A fresh page whose console, errors and foreign requests must stay empty."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    heard: list[str] = []
    page.on("console", lambda message: heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on("requestfailed", lambda request: heard.append(f"failed: {request.url}"))
    page.on("request", lambda request: heard.extend([request.url] if _is_foreign(request.url) else []))
    yield page
    context.close()
    assert heard == []


def _is_foreign(address: str) -> bool:
    return not address.startswith(("file://", "http://127.0.0.1:", "data:"))


@pytest.fixture
def root(site: tuple[Path, list[SitePage]]) -> str:
    """Address of the small site in the file system."""
    return site[0].as_uri() + "/"


@pytest.fixture(scope="module")
def server(site: tuple[Path, list[SitePage]]) -> Iterator[str]:
    """Address of the small site over http."""

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, format: str, *args: Any) -> None:
            """Say nothing."""

    handler = functools.partial(Quiet, directory=str(site[0]))
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as served:
        threading.Thread(target=served.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{served.server_address[1]}/"
        served.shutdown()


def overflow(page: Page) -> int:
    """How far the page is wider than the window [px]."""
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


# --- every kind of page ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_accessible_and_no_wider_than_the_window(page: Page, root: str, kind: str) -> None:
    """All rules with everything folded out; then, in the other themes and widths, those that these may change."""
    page.goto(root + KINDS[kind])
    look_at(page, 1280, "light", RULES, folded_out=True)
    look_at(page, 1280, "dark", only(BY_THEME))
    look_at(page, 360, "dark", only(BY_THEME + BY_WIDTH))
    look_at(page, 360, "light", only(BY_THEME + BY_WIDTH))


def only(rules: list[str]) -> dict[str, Any]:
    """Options that run these rules alone."""
    return {"preload": False, "runOnly": {"type": "rule", "values": rules}}


def look_at(
    page: Page, width: int, theme: Literal["light", "dark"], rules: dict[str, Any], folded_out: bool = False
) -> None:
    """One width and theme: no overflow, folded out or not, and no violation."""
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=theme)
    fold = "fold => document.querySelectorAll('details').forEach(each => { each.open = fold; })"
    page.evaluate(fold, True)
    assert overflow(page) == 0
    page.evaluate(fold, folded_out)
    assert overflow(page) == 0
    found = Axe().run(page, options=rules).response["violations"]
    assert [(each["id"], [node["html"][:150] for node in each["nodes"][:3]]) for each in found] == []


DRAWN = """() => [
  ...[...document.querySelectorAll('figure.chart img')].map(image => image.clientWidth / image.naturalWidth * SMALLEST),
  ...[...document.querySelectorAll('main svg text')].filter(text => text.checkVisibility()).map(
    text => parseFloat(getComputedStyle(text).fontSize) * Math.abs(text.getScreenCTM().d)),
]"""


@pytest.mark.parametrize("width", [360, 500, 700, 799, 810, 1030, 1280])
def test_text_of_charts_is_at_least_eleven_pixels_on_the_screen(page: Page, root: str, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(root + FULL)
    page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    page.evaluate("document.querySelectorAll('img').forEach(each => { each.loading = 'eager'; })")
    page.wait_for_load_state("networkidle")

    sizes = page.evaluate(DRAWN.replace("SMALLEST", str(SMALLEST)))
    assert len(sizes) > 15
    assert min(sizes) >= 11


@pytest.mark.parametrize("kind", ["home", "comparison", "bench sheet", "method"])
def test_readable_at_twice_the_size(page: Page, root: str, kind: str) -> None:
    """WCAG 1.4.10: 1280 px at 200 % is a window of 640 px; at 400 % it is one of 320 px."""
    page.goto(root + KINDS[kind])
    for width in (640, 320):
        page.set_viewport_size({"width": width, "height": 600})
        assert overflow(page) == 0, width


def test_the_same_over_http(page: Page, server: str) -> None:
    page.goto(server + FULL)

    assert page.locator("fieldset").count() == 1
    assert page.evaluate("[...document.images].filter(image => image.complete && !image.naturalWidth).length") == 0


# --- keyboard -------------------------------------------------------------------------------------------------------


FOCUSED = """() => {
  const element = document.activeElement;
  const box = element.getBoundingClientRect();
  const style = getComputedStyle(element);
  return {
    tag: element.tagName, width: box.width, height: box.height, top: box.top, bottom: box.bottom,
    outline: style.outlineStyle, name: element.id || element.textContent.trim().slice(0, 40),
  };
}"""


@pytest.mark.parametrize("kind", KINDS)
def test_every_control_takes_the_focus_and_shows_it(page: Page, root: str, kind: str) -> None:
    page.emulate_media(reduced_motion="reduce")
    page.goto(root + KINDS[kind])
    wanted = page.evaluate(
        "[...document.querySelectorAll('a[href], button, input, summary, audio, [tabindex=\"0\"]')]"
        ".filter(each => each.checkVisibility() && each.offsetWidth > 0).length"
    )
    seen = []
    for _ in range(wanted + 40):
        page.keyboard.press("Tab")
        focused = page.evaluate(FOCUSED)
        if focused["tag"] == "BODY":
            break
        seen.append(focused)

    if kind not in ("not found", "sheet for print"):  # which begin with their content
        assert seen[0]["name"] == "Skip to the content"
    assert len(seen) >= wanted
    assert [each for each in seen if each["tag"] != "AUDIO" and each["outline"] == "none"] == []
    assert [each for each in seen if each["bottom"] <= 0 or each["top"] >= 900 or each["width"] == 0] == []


def test_the_skip_link_leads_to_the_content(page: Page, root: str) -> None:
    page.goto(root + FULL)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")

    assert page.evaluate("document.activeElement.id") == "content"


def test_a_term_is_explained_by_tap_and_by_keyboard(page: Page, root: str) -> None:
    page.goto(root + FULL)
    term = page.get_by_role("button", name="static limit").first
    explanation = page.locator("#term-static-limit")

    term.click()
    assert explanation.is_visible()
    page.keyboard.press("Escape")
    assert not explanation.is_visible()
    term.focus()
    page.keyboard.press("Enter")
    assert explanation.is_visible()


# --- the reader's own weights ---------------------------------------------------------------------------------------


def share(page: Page, key: str) -> str:
    """A share as the page prints it."""
    return page.locator(f'[data-share-text="{key}"]').inner_text()


def test_own_weights_by_keyboard_link_and_reset(page: Page, root: str) -> None:
    page.goto(root + FULL)
    assert (share(page, "parallel"), share(page, "ties")) == ("71.4 %", "28.6 %")

    slider = page.locator("#weight-diagonal-500")
    slider.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")  # 3 → 5 in steps of 0.5
    assert slider.input_value() == "5"
    assert share(page, "parallel") == "77.8 %"  # (5 + 2) of 9
    assert "leads, winning 77.8 % of the weight outright" in page.locator(".weights-result").inner_text()

    carried = page.get_by_role("link", name="Link that carries these weights").get_attribute("href")
    page.get_by_role("button", name="Back to the author’s weights").click()
    assert (slider.input_value(), share(page, "parallel")) == ("3", "71.4 %")

    page.goto("about:blank")
    page.goto(root + FULL + str(carried))
    assert (slider.input_value(), share(page, "parallel")) == ("5", "77.8 %")


def test_weights_as_numbers_and_none_at_all(page: Page, root: str) -> None:
    page.goto(root + FULL)
    numbers = page.locator(".weight input[type=number]")
    numbers.nth(0).fill("0.25")
    assert share(page, "parallel") == "52.9 %"  # 2.25 of 4.25

    for place in range(numbers.count()):
        numbers.nth(place).fill("0")
    assert share(page, "parallel") == "–"
    assert "nothing is weighed" in page.locator(".weights-result").inner_text()


@pytest.mark.parametrize("fragment", ["#weights=", "#weights=diagonal-500:-1,nobody:3", "#weights=%E0%A4%A", "#trials"])
def test_a_link_with_nonsense_leaves_the_authors_weights(page: Page, root: str, fragment: str) -> None:
    page.goto(root + FULL + fragment)

    assert share(page, "parallel") == "71.4 %"


# --- blind viewer, filter -------------------------------------------------------------------------------------------


def test_photos_are_compared_blind_by_keyboard(page: Page, root: str) -> None:
    page.goto(root + FULL)
    viewer = page.locator('[data-blind-viewer="plate"]')
    orders = set()
    viewer.get_by_role("button", name="Compare blind").focus()
    for _ in range(12):
        page.keyboard.press("Enter")
        assert viewer.locator(".candidate").filter(visible=True).count() == 0
        assert "Alder" not in viewer.locator(".blind-bar").inner_text()
        assert not re.search("Alder", " ".join(viewer.locator("img").evaluate_all("all => all.map(each => each.alt)")))
        orders.add(viewer.locator(".sample").first.get_attribute("data-candidate"))
        page.keyboard.press("Enter")  # the focus is on the first choice
        assert "You chose" in viewer.get_by_role("status").inner_text()
        assert viewer.locator(".candidate").filter(visible=True).count() == 2

    counts = [int(text) for text in re.findall(r": (\d+)", viewer.locator(".blind-tally").inner_text())]
    assert sum(counts) == 12 and len(counts) == 3
    assert orders == {"series", "parallel"}  # all twelve alike: once in 2048

    viewer.get_by_role("button", name="Show names again").click()
    assert viewer.get_by_role("button").all_inner_texts() == ["Compare blind"]


def test_recordings_are_compared_blind_among_those_made_alike(page: Page, root: str) -> None:
    page.goto(root + FULL)
    viewer = page.locator('[data-blind-viewer="traverse-100"]')
    assert viewer.locator(".sample").count() == 4
    viewer.get_by_role("button", name="Compare blind").click()
    for _ in range(6):
        shown = viewer.locator(".sample").filter(visible=True)
        assert len(set(shown.evaluate_all("all => all.map(each => each.dataset.group)"))) == 1
        assert len(set(shown.evaluate_all("all => all.map(each => each.dataset.candidate)"))) == 2
        assert shown.locator(".small").filter(visible=True).count() == 0
        viewer.get_by_role("button", name="No preference").click()
        assert "You chose neither." in viewer.get_by_role("status").inner_text()
        viewer.get_by_role("button", name="Next pair").click()


def test_the_filter_keeps_what_holds_all_words(page: Page, root: str) -> None:
    page.goto(root + "index.html")
    field = page.get_by_label("Filter by words")
    shown = page.locator("#comparison-list > li").filter(visible=True)

    field.fill("SCREW lead")
    assert shown.count() == 1
    assert page.get_by_role("status").inner_text() == "1 of 3 shown"
    field.fill("no such thing")
    assert shown.count() == 0
    field.fill("")
    assert shown.count() == 3


# --- without scripts, on paper --------------------------------------------------------------------------------------


def test_everything_is_there_without_scripts(browser: Browser, root: str) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 800})
    page = context.new_page()
    page.goto(root + FULL)

    assert page.locator("fieldset").count() == 0
    assert page.locator('[data-share-text="parallel"]').inner_text() == "71.4\u00a0%"
    assert page.locator(".photos img").count() == 2
    page.get_by_role("button", name="static limit").first.click()
    assert page.locator("#term-static-limit").is_visible()
    page.goto(root + "index.html")
    assert page.locator("#comparison-list > li").count() == 3
    assert not page.get_by_label("Filter by words").is_visible()
    context.close()


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_says_the_same_without_scripts(page: Page, browser: Browser, root: str, kind: str) -> None:
    """What scripts add is controls: each heading, picture and link stands there without them."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 800})
    bare = context.new_page()
    for each in (page, bare):
        each.goto(root + KINDS[kind])
    assert bare.locator("h1").inner_text()
    for what in ("h2", "h3", "table", "img", "audio", "main a[href]"):
        assert 0 <= page.locator(what).count() - bare.locator(what).count() <= 2, what
    context.close()


def test_pages_print(page: Page, root: str) -> None:
    page.goto(root + FULL)
    page.emulate_media(media="print")
    assert page.locator(".section-list").is_hidden() and page.locator(".weights").is_hidden()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    paper = page.pdf(format="A4", prefer_css_page_size=True)

    assert paper.startswith(b"%PDF") and 3 <= len(re.findall(rb"/Type\s*/Page\b", paper)) <= 30


def test_the_sheet_for_print_fits_its_trials_on_few_pages(page: Page, root: str) -> None:
    page.goto(root + "bench-sheet.html")
    paper = page.pdf(format="A4", prefer_css_page_size=True)

    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", paper)) <= 4


def test_motion_is_reduced_when_asked(page: Page, root: str) -> None:
    page.emulate_media(reduced_motion="reduce")
    page.goto(root + FULL)
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    page.emulate_media(reduced_motion="no-preference")
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "smooth"
