"""A Figure to SVG bytes: text stays text, one file serves both themes, the same figure gives the same bytes.

Colours are written as presentation attributes in the light theme and lifted to custom properties by the file's own
style element, so the file follows the reader's theme inside an ``img``, and still shows the light theme in a renderer
that knows no custom properties. There is no style attribute and no rule that could reach the page around it.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import AbstractContextManager
from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

import matplotlib
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from generator.charts.palette import PAGE, SLOTS, TONES
from generator.charts.sheet import HALO, Sheet
from generator.charts.wording import plain
from generator.records.presentation import Drawing

FONTS = "system-ui, sans-serif"
SALT = "stallmark"
_WORTH_SHARING = 200
_NAMESPACE = "http://www.w3.org/2000/svg"
_LINK = "{http://www.w3.org/1999/xlink}href"
_COLORS = {slot.light: slot for slot in (*SLOTS, *TONES)}
_DROPPED = {"font-family", "font"}
_FIGURE = re.compile(r"-?\d+\.\d{2,}")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")


@lru_cache(maxsize=1)
def _settings() -> Any:
    """matplotlib's defaults wherever the user's settings differ, and ours."""
    current: Any = dict(matplotlib.rcParams)
    defaults: Any = dict(matplotlib.rcParamsDefault)
    changed = {key: value for key, value in defaults.items() if current.get(key) != value and "backend" not in key}
    return changed | {"svg.fonttype": "none", "svg.hashsalt": SALT, "hatch.linewidth": 0.6}


def settings() -> AbstractContextManager[None]:
    """Settings under which drawings are made and rendered, so that the user's own do not show in them."""
    return matplotlib.rc_context(_settings())


def render_svg(figure: Figure, prefix: str, title: str, description: str) -> bytes:
    """Render a figure.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        Drawn in pixels: 72 to the inch.
    prefix : str
        Starts every id of the file, so that two drawings may stand in one page.
    title, description : str
        The finding and what the drawing shows, for people who do not see it.

    Returns
    -------
    bytes
        UTF-8; the same for the same figure.
    """
    buffer = io.StringIO()
    with settings():
        FigureCanvasSVG(figure).print_svg(buffer, metadata={"Date": None})
    root = ElementTree.fromstring(buffer.getvalue())
    return _Cleaner(prefix).clean(root, title, description)


def render_drawing(sheet: Sheet, prefix: str, title: str, description: str) -> Drawing:
    """A sheet as a Drawing."""
    return Drawing(render_svg(sheet.figure, prefix, title, description), sheet.width, sheet.height)


def shorten_path(data: str) -> str:
    """Path data in whole tenths of a px with relative steps; a path with curves is only rounded."""
    tokens = data.split()
    if not set("CQ").isdisjoint(tokens):
        return _FIGURE.sub(lambda found: f"{float(found[0]):.1f}", " ".join(tokens))
    parts: list[str] = []
    here, start, index = (0, 0), (0, 0), 0
    while index < len(tokens):
        letter = tokens[index]
        if letter == "z":
            parts.append("z")
            here, index = start, index + 1
            continue
        point = round(float(tokens[index + 1]) * 10), round(float(tokens[index + 2]) * 10)
        parts.append("m" if letter == "M" else "")
        parts += [_tenths(point[0] - here[0]), _tenths(point[1] - here[1])]
        start = point if letter == "M" else start
        here, index = point, index + 3
    return re.sub(r" ?([mz]) ?", r"\1", " ".join(filter(None, parts))).replace(" -", "-")


@lru_cache(maxsize=1 << 14)
def _tenths(count: int) -> str:
    """A whole number of tenths as a short decimal."""
    return f"{count / 10:g}" if abs(count) < 10**6 else f"{count // 10}"


class _Cleaner:
    """Rebuilds matplotlib's element tree as a small one of our own."""

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix
        self.ids: dict[str, str] = {}
        self.used: set[str] = set()
        self.halo = False

    def clean(self, root: ElementTree.Element, title: str, description: str) -> bytes:
        width, height = (number.removesuffix("pt") for number in (root.get("width", ""), root.get("height", "")))
        fresh = ElementTree.Element("svg", {"xmlns": _NAMESPACE, "width": width, "height": height})
        fresh.attrib |= {"viewBox": f"0 0 {width} {height}", "role": "img", "font-family": FONTS}
        fresh.set("stroke-linejoin", "round")
        self._say(fresh, title, description)
        style = ElementTree.SubElement(fresh, "style")
        for child in root:
            fresh.extend(self._rebuild(child))
        self._share_paths(fresh)
        style.text = self._style()
        return (ElementTree.tostring(fresh, encoding="unicode") + "\n").encode()

    def _share_paths(self, root: ElementTree.Element) -> None:
        """Write a long path that is drawn twice, plain and hatched, only once."""
        paths: dict[str, list[ElementTree.Element]] = {}
        for element in root.iter("path"):
            paths.setdefault(element.get("d", ""), []).append(element)
        shared = [(data, group) for data, group in paths.items() if len(group) > 1 and len(data) > _WORTH_SHARING]
        if not shared:
            return
        kept = ElementTree.SubElement(root, "defs")
        for index, (data, group) in enumerate(shared):
            name = f"{self.prefix}-path{index}"
            ElementTree.SubElement(kept, "path", {"id": name, "d": data})
            for element in group:
                element.tag = "use"
                del element.attrib["d"]
                element.set("href", f"#{name}")

    def _say(self, root: ElementTree.Element, title: str, description: str) -> None:
        for name, text in (("title", title), ("desc", description)):
            ElementTree.SubElement(root, name, {"id": f"{self.prefix}-{name}"}).text = plain(text)
        root.set("aria-labelledby", f"{self.prefix}-title {self.prefix}-desc")

    def _rebuild(self, element: ElementTree.Element) -> Iterator[ElementTree.Element]:
        """The element cleaned; nothing for metadata and styles, its children for a group that says nothing."""
        tag = element.tag.rpartition("}")[2]
        if tag in ("metadata", "style") or (tag == "defs" and element.find("*") is None):
            return
        children = [fresh for child in element for fresh in self._rebuild(child)]
        if tag == "g" and element.get("id", "") == HALO:
            self.halo = True
            for child in children:
                child.set("class", HALO)
        attributes = self._attributes(element, tag)
        if (tag == "g" and not attributes) or (tag == "defs" and not children):
            yield from children
            return
        fresh = ElementTree.Element(tag, attributes)
        fresh.text = element.text if tag == "text" else None
        fresh.extend(children)
        yield fresh

    def _attributes(self, element: ElementTree.Element, tag: str) -> dict[str, str]:
        pairs = dict(element.attrib)
        for part in filter(None, pairs.pop("style", "").split(";")):
            name, _, value = part.partition(":")
            pairs[name.strip()] = value.strip()
        if tag == "g":
            pairs.pop("id", None)
        if tag == "text" and pairs.get("transform", "").startswith("rotate(-0 "):
            pairs.pop("transform")
        return {
            ("href" if name == _LINK else name): self._value(name, value)
            for name, value in pairs.items()
            if name not in _DROPPED
        }

    def _value(self, name: str, value: str) -> str:
        if name == "id":
            return self._short_id(value)
        if name == _LINK:
            return f"#{self._short_id(value[1:])}"
        if name in ("fill", "stroke") and value in _COLORS:
            self.used.add(value)
        value = _REFERENCE.sub(lambda found: f"url(#{self._short_id(found[1])})", value)
        if name == "font-size":
            return value.removesuffix("px")
        if name == "d":
            return shorten_path(value)
        if name in ("x", "y", "width", "height", "transform"):
            value = _FIGURE.sub(lambda found: f"{float(found[0]):.1f}", value)
        return value

    def _short_id(self, name: str) -> str:
        return self.ids.setdefault(name, f"{self.prefix}-{len(self.ids) + 1}")

    def _style(self) -> str:
        """Custom properties for the colours in use, in both themes, and the rules that lift attributes to them."""
        slots = [slot for slot in _COLORS.values() if slot.light in self.used or (self.halo and slot is PAGE)]
        light = "".join(f"--{slot.name}:{slot.light};" for slot in slots)
        dark = "".join(f"--{slot.name}:{slot.dark};" for slot in slots)
        rules = "".join(
            f'[fill="{slot.light}"]{{fill:var(--{slot.name})}}[stroke="{slot.light}"]{{stroke:var(--{slot.name})}}'
            for slot in slots
        )
        halo = f".{HALO}{{paint-order:stroke;stroke:var(--page);stroke-width:3px}}" if self.halo else ""
        numbers = "text{font-variant-numeric:tabular-nums}"
        return f"svg{{{light}}}@media (prefers-color-scheme:dark){{svg{{{dark}}}}}{rules}{numbers}{halo}"
