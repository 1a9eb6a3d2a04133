"""Reads a drawing back: an XML parser of the standard library, texts with their boxes, ids and colours."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from generator.charts.labels import text_width

SVG = "{http://www.w3.org/2000/svg}"


def parse(svg: bytes) -> ElementTree.Element:
    """The root element."""
    return ElementTree.fromstring(svg)


def texts(svg: bytes) -> list[ElementTree.Element]:
    """The text elements."""
    return list(parse(svg).iter(f"{SVG}text"))


def written(svg: bytes) -> list[str]:
    """What the text elements say."""
    return [element.text or "" for element in texts(svg)]


def boxes(svg: bytes) -> Iterator[tuple[str, float, float, float, float]]:
    """Text with left, top, right and bottom of its box [px]."""
    for element in texts(svg):
        size, text = float(element.get("font-size", "nan")), element.text or ""
        width = text_width(text, size, bold=element.get("font-weight") == "700")
        x, y = float(element.get("x", "nan")), float(element.get("y", "nan"))
        anchor = {"start": 0.0, "middle": width / 2, "end": width}[element.get("text-anchor", "start")]
        yield text, x - anchor, y - 0.75 * size, x - anchor + width, y + 0.2 * size


def path_numbers(svg: bytes) -> list[str]:
    """Every number of every path's data."""
    return [number for path in parse(svg).iter(f"{SVG}path") for number in re.findall(r"-?[\d.]+", path.get("d", ""))]
