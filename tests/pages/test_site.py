"""The whole small site: valid HTML, links and anchors that lead somewhere, headings in order, assets by content."""

from __future__ import annotations

import hashlib
import posixpath
import re
from collections import Counter
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote
from xml.etree.ElementTree import Element

import html5lib
import pytest

from generator.records.presentation import PUBLISHED, ROOT, VERSION, Page

Site = tuple[Path, list[Page]]


def html_files(folder: Path) -> list[str]:
    """Paths of all HTML files in the site."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*.html"))


def tree_of(folder: Path, name: str) -> Element:
    """The document, parsed strictly: html5lib raises on the first parse error (WHATWG HTML, 13.2)."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse((folder / name).read_text(encoding="utf-8"))


def test_every_page_parses_without_an_error(site: Site) -> None:
    folder, pages = site

    assert len(html_files(folder)) == sum(not page.path.endswith(".xml") for page in pages)
    for name in html_files(folder):
        tree_of(folder, name)


def addresses(tree: Element) -> list[str]:
    """Every address that a document names."""
    found = [node.get(key) for node in tree.iter() for key in ("href", "src") if node.get(key)]
    sets = [node.get("srcset") for node in tree.iter() if node.get("srcset")]
    return [each for each in found if each] + [part.split()[0] for each in sets if each for part in each.split(",")]


def test_every_link_and_anchor_leads_somewhere(site: Site) -> None:
    folder, _ = site
    ids = {name: {node.get("id") for node in tree_of(folder, name).iter()} for name in html_files(folder)}
    broken = []
    for name in html_files(folder):
        for address in addresses(tree_of(folder, name)):
            if re.match(r"https?:|mailto:", address):
                continue
            path, _, fragment = address.partition("#")
            target = posixpath.normpath(posixpath.join(posixpath.dirname(name), unquote(path))) if path else name
            if not (folder / target).is_file() or (fragment and fragment not in ids.get(target, set())):
                broken.append((name, address))

    assert broken == []


def test_every_page_can_be_reached_from_home(site: Site) -> None:
    folder, _ = site
    seen, waiting = set(), ["index.html"]
    while waiting:
        name = waiting.pop()
        if name in seen or not name.endswith(".html"):
            continue
        seen.add(name)
        for address in addresses(tree_of(folder, name)):
            if not re.match(r"https?:|mailto:|#", address):
                path = address.partition("#")[0]
                waiting.append(posixpath.normpath(posixpath.join(posixpath.dirname(name), path)))

    assert set(html_files(folder)) - seen == {"404.html", "bench-sheet.html"}


def test_ids_are_unique(site: Site) -> None:
    folder, _ = site
    for name in html_files(folder):
        counts = Counter(node.get("id") for node in tree_of(folder, name).iter() if node.get("id"))
        assert [identifier for identifier, count in counts.items() if count > 1] == [], name


def test_headings_start_at_one_and_skip_no_level(site: Site) -> None:
    folder, _ = site
    for name in html_files(folder):
        levels = [int(node.tag[1]) for node in tree_of(folder, name).iter() if re.fullmatch("h[1-6]", str(node.tag))]
        assert levels[0] == 1 and levels.count(1) == 1, name
        assert all(after <= before + 1 for before, after in pairwise(levels)), (name, levels)


def test_every_page_has_its_landmarks(site: Site) -> None:
    folder, _ = site
    for name in set(html_files(folder)) - {"404.html", "bench-sheet.html"}:
        tree = tree_of(folder, name)
        tags = Counter(str(node.tag) for node in tree.iter())
        assert tags["main"] == 1 and tags["nav"] >= 1 and tags["footer"] == 1, name
        body = tree.find("body")
        assert body is not None and body[0].get("href") == "#content", name


def test_pictures_have_words_and_sizes(site: Site) -> None:
    folder, _ = site
    for name in html_files(folder):
        for node in tree_of(folder, name).iter("img"):
            assert node.get("alt") and node.get("width") and node.get("height"), name


def test_no_mark_is_left_and_every_page_held_marks(site: Site) -> None:
    folder, pages = site
    for name in html_files(folder):
        assert not {ROOT, VERSION, PUBLISHED} & set((folder / name).read_text(encoding="utf-8")), name
    frozen = [page for page in pages if VERSION in page.text]
    assert len(frozen) > 25
    assert all(PUBLISHED in page.text for page in frozen)


def test_assets_are_named_by_their_content(site: Site) -> None:
    folder, _ = site
    assets = list((folder / "archive/assets").iterdir())

    assert len(assets) >= 12
    for path in assets:
        assert path.stem == hashlib.sha256(path.read_bytes()).hexdigest()[:16]


@pytest.mark.parametrize("name", ["index.html", "parts/index.html", "parts/alder-42-8-series/index.html"])
def test_shared_pages_with_invented_data_carry_a_banner(site: Site, name: str) -> None:
    assert 'class="banner"' in (site[0] / name).read_text(encoding="utf-8")


def test_the_style_sheet_uses_only_colours_that_are_declared(site: Site) -> None:
    (style,) = (path for path in (site[0] / "archive/assets").iterdir() if path.suffix == ".css")
    text = style.read_text(encoding="utf-8")

    used = set(re.findall(r"var\((--[\w-]+)", text))
    assert used <= set(re.findall(r"(--[\w-]+)\s*:", text))
