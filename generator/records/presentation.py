"""What charts hand to pages and pages hand to the archive. Never computes.

Page text holds three private-use characters that the archive replaces when it writes a page:
``ROOT`` by the relative path to the site's root, ``VERSION`` by the page's own version (first 12 digits of the
digest of its text with the marks still in it), ``PUBLISHED`` by the date that this version was first published.
So a page and its frozen copy differ only in these marks.
"""

from __future__ import annotations

from dataclasses import dataclass

ROOT = "\ue000"
VERSION = "\ue001"
PUBLISHED = "\ue002"

IN_CORRIDOR = ("inside corridor", "between any-timing and start")
"""Places of a measured limit in the corridor, which runs from the any-timing line to the static limit."""
BOUNDS = ("only a lower bound", "only an upper bound")
"""Places of a limit that was bounded and not found."""
TOO_WIDE = "too wide to place"
"""Place of a limit whose interval spans the whole corridor."""


@dataclass(frozen=True)
class Table:
    """A data table as text: the caption, the column heads and the rows."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Drawing:
    """One SVG variant of a chart; width and height [px]."""

    svg: bytes
    width: int
    height: int


@dataclass(frozen=True)
class Chart:
    """A drawn chart: id (unique in its comparison), a title that states the finding, a caption that says what to
    see, alt text, a data table, and a wide and a narrow drawing."""

    id: str
    title: str
    caption: str
    alt: str
    table: Table
    wide: Drawing
    narrow: Drawing


@dataclass(frozen=True)
class Asset:
    """A file named by its content in the site: archive/assets/<name>; name is <digest16>.<extension>."""

    name: str
    content: bytes

    @property
    def address(self) -> str:
        """Where it stands in the site, from its root."""
        return f"archive/assets/{self.name}"


@dataclass(frozen=True)
class Page:
    """One page: path in the site without index.html ("" for home, "comparisons/x", "404.html" as it is) and text."""

    path: str
    text: str
