"""What every page of one site shares: the site's facts, templates and the addresses of style sheet and scripts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import jinja2

from generator.pages.templates import render_template
from generator.records.comparison import Site
from generator.records.presentation import Page


@dataclass(frozen=True)
class Look:
    """How a candidate is marked: colour slot, and its swatch (line and marker) as inline SVG in ``currentColor``."""

    slot: str
    swatch: str


def plain_look(index: int) -> Look:
    """The look of a candidate where no other is given: the colour slots in turn, and a plain dot."""
    dot = '<circle cx="18" cy="8" r="5" fill="currentColor"/>'
    dot = f'<svg class="swatch" width="36" height="16" viewBox="0 0 36 16" aria-hidden="true">{dot}</svg>'
    return Look(("iris", "moss", "lagoon", "mulberry")[index % 4], dot)


@dataclass(frozen=True)
class Context:
    """assets maps the names of pages/assets.py to addresses from the site's root; made_with names tool and version.

    look gives the look of the candidate at a place in its file, the same as in the charts; invented says whether any
    comparison of the site holds invented data.
    """

    site: Site
    environment: jinja2.Environment
    assets: Mapping[str, str]
    made_with: str = "Stallmark"
    invented: bool = False
    social_image: str | None = None
    look: Callable[[int], Look] = plain_look

    def absolute(self, path: str) -> str | None:
        """Public address of a page or file, or None where the site has no address."""
        return None if not self.site.address else self.site.address.rstrip("/") + "/" + path


@dataclass(frozen=True)
class Picture:
    """A published photo: addresses from the root with their widths [px], smallest first, by media type."""

    sources: Mapping[str, tuple[tuple[str, int], ...]]
    width: int
    height: int

    @property
    def fallback(self) -> str:
        """Address for browsers that choose no source: the largest JPEG or PNG, else the largest of the last type."""
        plain = [rows for kind, rows in self.sources.items() if kind in ("image/jpeg", "image/png")]
        return (plain or list(self.sources.values()))[-1][-1][0]


@dataclass(frozen=True)
class Excerpt:
    """A short listening excerpt: address from the root, media type, and whether its loudness was matched."""

    address: str
    media_type: str
    matched: bool


@dataclass(frozen=True)
class Media:
    """Published recordings by (item, candidate), files to download, and the social preview picture's address."""

    pictures: Mapping[tuple[str, str], Picture] = field(default_factory=dict)
    excerpts: Mapping[tuple[str, str], tuple[Excerpt, ...]] = field(default_factory=dict)
    downloads: tuple[Download, ...] = ()
    social_image: str | None = None


@dataclass(frozen=True)
class Download:
    """A file to take away: what it is, address from the root, size [bytes]."""

    what: str
    address: str
    size: int | None = None


NO_MEDIA = Media()


@dataclass(frozen=True)
class Head:
    """What the head of a page says: title, one-sentence description, kind for previews, structured data, language."""

    title: str
    description: str
    kind: str = "website"
    structured: tuple[dict, ...] = ()
    language: str | None = None
    image: str | None = None
    scripts: tuple[str, ...] = ()


def versions_path(path: str) -> str:
    """Path of the page that lists a page's versions: beside it, ``versions.html``."""
    return f"{path}/versions.html" if path else "versions.html"


def render_page(
    context: Context,
    template: str,
    path: str,
    head: Head,
    invented: bool = False,
    frozen: bool = True,
    **view: Any,
) -> Page:
    """Render one page of the site in the common frame; frozen pages name their version and link to their others."""
    shared = {
        "context": context,
        "site": context.site,
        "head": head,
        "path": path,
        "canonical": context.absolute(canonical(path)),
        "versions_path": versions_path(path),
        "invented": invented,
        "frozen": frozen,
        "area": path.split("/", 1)[0],
    }
    return Page(path, render_template(context.environment, template, shared | view))


def canonical(path: str) -> str:
    """A page's public path: folders end in a slash, files keep their name."""
    if not path or "." in path.rsplit("/", 1)[-1]:
        return path
    return path.rstrip("/") + "/"
