"""Follows every link of a built folder on disk: files, anchors, sources in sizes, and files that nothing names.

Usage: python tests/checks/site_links.py SITE
"""

from __future__ import annotations

import hashlib
import posixpath
import re
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

ADDRESSES = {"href", "src", "poster", "data", "action", "longdesc"}
LISTS = {"srcset", "imagesrcset"}
IN_STYLE = re.compile(r"url\(\s*['\"]?([^'\")]+)")
ROOTS = {"index.html", "404.html", "feed.xml", "sitemap.xml", "robots.txt"}
"""Files that a reader or a host asks for by themselves."""
BOOKKEEPING = ("archive/builds/", "archive/entries/", "archive/sources/", "archive/pages/", "archive/assets/")
"""Kept for the record: what older pages showed, manifests, and inputs that are named by digest there."""


class Reader(HTMLParser):
    """Collects what one page names, and the anchors that it has."""

    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.anchors: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.anchors += [given["id"]] if "id" in given else []
        self.links += [given[name] for name in ADDRESSES & set(given)]
        for name in LISTS & set(given):
            self.links += [part.split()[0] for part in given[name].split(",")]
        self.links += IN_STYLE.findall(given.get("style", ""))


def read_page(path: Path) -> Reader:
    """One page as a reader of it."""
    reader = Reader()
    reader.feed(path.read_text(encoding="utf-8"))
    reader.close()
    return reader


def check_links(site: Path) -> list[str]:
    """Everything wrong with the links of a folder, as lines of text."""
    pages = {path.relative_to(site).as_posix(): read_page(path) for path in sorted(site.rglob("*.html"))}
    named: set[str] = set(ROOTS)
    faults = []
    for name, page in pages.items():
        doubled = {anchor for anchor in page.anchors if page.anchors.count(anchor) > 1}
        faults += [f"{name}: the anchor {anchor} stands twice" for anchor in sorted(doubled)]
        for link in page.links:
            faults += [f"{name}: {link}: {fault}" for fault in _follow(site, name, link, pages, named)]
    known = {_digest(site / name) for name in named}
    faults += [f"{name}: nothing names it, nor its content" for name in _list_files(site)
               if name not in named and _digest(site / name) not in known]  # fmt: skip
    return faults


def _digest(path: Path) -> str:
    """Pages name downloads by content, so that an old page leads to what it showed; a copy stands beside the page."""
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""


def _follow(site: Path, name: str, link: str, pages: dict[str, Reader], named: set[str]) -> Iterator[str]:
    """Faults of one link; notes the file that it names."""
    parts = urlsplit(link)
    if parts.scheme or parts.netloc:
        if parts.scheme not in ("http", "https", "mailto", "data"):
            yield "a scheme that a page should not name"
        return
    if name == "404.html" and not parts.path:
        return
    if parts.path.startswith("/"):
        yield "starts at the host's root, which a sub-path breaks"
        return
    target = posixpath.normpath(posixpath.join(posixpath.dirname(name), unquote(parts.path))) if parts.path else name
    if target.startswith(".."):
        yield "leaves the site"
    elif not (site / target).is_file():
        yield "no such file" if not (site / target).is_dir() else "names a folder, which a file system cannot show"
    else:
        named.add(target)
        if parts.fragment and target in pages and unquote(parts.fragment) not in pages[target].anchors:
            yield "no such anchor"


def _list_files(site: Path) -> list[str]:
    """Files that something in the site should name."""
    files = (path.relative_to(site).as_posix() for path in sorted(site.rglob("*")) if path.is_file())
    return [name for name in files if not name.startswith(BOOKKEEPING) and not name.endswith(".gz")]


if __name__ == "__main__":
    found = check_links(Path(sys.argv[1]))
    print("\n".join(found) or "every link leads somewhere, and every file is named")
    sys.exit(1 if found else 0)
