"""Every interval and range that a comparison's page prints stands in its results.json, figure beside figure."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import html5lib
import numpy as np
import pytest
from places import EPOCH, ROOT, Place

SCALES = {
    "m/s²": 1.0, "mm/s": 1e-3, "m/s": 1.0, "Hz": 1.0, "kHz": 1e3, "dB(A)": 1.0, "dB": 1.0, "%": 1e-2, "mm": 1e-3,
    "N·m": 1.0, "N/mm": 1e3, "J": 1.0, "V": 1.0, "": 1.0,
}  # fmt: skip
"""Printed units in SI, as the results hold them."""
NUMBER = r"(−?\d+(?:\.\d+)?)"
UNIT = rf"\s({'|'.join(re.escape(unit) for unit in sorted(SCALES, key=len, reverse=True) if unit)})(?![\w/·²])"
PLUS_MINUS = re.compile(rf"{NUMBER} ± {NUMBER}(?:{UNIT})?")
INTERVAL = re.compile(rf"{NUMBER} \({NUMBER} to {NUMBER}\)(?:{UNIT})?|{NUMBER}{UNIT} \({NUMBER} to {NUMBER}\)")
INLINE = ("a", "abbr", "b", "code", "em", "i", "span", "strong", "sub", "sup")
DEMOS = ("braille-plate-plotter", "herbarium-gantry")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory, shared_cache: Path) -> Place:
    """Both measured demos, without stall maps."""
    place = Place(tmp_path_factory.mktemp("figures"), shared_cache)
    for slug in DEMOS:
        shutil.copytree(ROOT / "comparisons" / slug, place.comparisons / slug)
        with (place.comparisons / slug / "comparison.yaml").open("a", encoding="utf-8") as file:
            file.write("\nstall_map: false\n")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", EPOCH)
        assert place.build() == 0
    return place


def read_text(element: Element) -> str:
    """Text of a page as a reader sees it, without scripts and drawings; blocks stand apart."""
    if element.tag in ("script", "svg", "math"):
        return f" {element.tail or ''}"
    inner = (element.text or "") + "".join(map(read_text, element))
    apart = (
        "\n" if element.tag in ("p", "td", "th", "li", "dt", "dd", "div", "h2", "h3", "figcaption", "caption") else ""
    )
    return f"{inner}{apart}{element.tail or ''}"


def list_groups(value: Any) -> Iterator[np.ndarray]:
    """The numbers that stand together in one object of the results, without their signs."""
    if isinstance(value, dict):
        numbers = [float(v) for v in value.values() if isinstance(v, int | float) and not isinstance(v, bool)]
        if numbers:
            yield np.abs(np.array(numbers))
        for inner in value.values():
            yield from list_groups(inner)
    elif isinstance(value, list):
        if len(value) in (2, 3) and all(isinstance(v, int | float) for v in value):
            yield np.abs(np.array(value, dtype=float))
        for inner in value:
            yield from list_groups(inner)


def last_place(text: str) -> float:
    """Half a step of a printed number's last digit (of its last but zeros, if whole), and a little for halves."""
    whole, _, decimals = text.partition(".")
    zeros = 0 if decimals else len(whole) - len(whole.rstrip("0"))
    return 0.5001 * 10.0 ** (zeros - len(decimals))


def stands(groups: list[np.ndarray], wanted: list[tuple[float, float]], unit: str) -> bool:
    """Whether one object holds a figure for each (value, tolerance), in a unit that the heading may have given."""
    scales = [1.0] if unit else sorted(set(SCALES.values()))
    return any(
        all(np.any(np.abs(group - scale * abs(value)) <= scale * near) for value, near in wanted)
        for group in groups
        for scale in scales
    )


Printed = tuple[str, list[tuple[float, float]], str]


def read_number(text: str) -> float:
    return float(text.replace("−", "-"))


def find_plus_minus(text: str) -> Iterator[Printed]:
    """What ``a ± b`` may stand for: an interval by its ends, or a figure and its uncertainty."""
    for match in PLUS_MINUS.finditer(text):
        value, half, unit = match[1], match[2], match[3] or ""
        scale, size, width = SCALES[unit], read_number(value), float(half)
        near = last_place(value) + last_place(half) + 0.02 * width  # intervals off by 2 % of their half are symmetric
        ends = [(size - width, near), (size, last_place(value)), (size + width, near)]
        halves = [(size, last_place(value)), (width, last_place(half))]
        for wanted in (ends, halves):
            yield match[0], [(scale * end, scale * tolerance) for end, tolerance in wanted], unit


def find_intervals(text: str) -> Iterator[Printed]:
    for match in INTERVAL.finditer(text):
        *three, unit = match.group(1, 2, 3, 4) if match[1] else match.group(5, 7, 8, 6)
        scale = SCALES[unit or ""]
        yield match[0], [(scale * read_number(each), scale * last_place(each)) for each in three], unit or ""


@pytest.mark.parametrize("slug", DEMOS)
def test_every_interval_on_the_page_stands_in_the_results(built: Place, slug: str) -> None:
    folder = built.site / "comparisons" / slug
    groups = list(list_groups(json.loads((folder / "results.json").read_text(encoding="utf-8"))))
    page = html5lib.parse((folder / "index.html").read_text(encoding="utf-8"), namespaceHTMLElements=False)
    main = page.find(".//main")
    assert main is not None
    text = re.sub(r"[ \u00a0\u202f]+", " ", read_text(main))

    found = [*find_plus_minus(text), *find_intervals(text)]
    there = {printed for printed, wanted, unit in found if stands(groups, wanted, unit)}
    missing = sorted({printed for printed, _, _ in found} - there)

    assert len(there) > 60
    assert missing == []
