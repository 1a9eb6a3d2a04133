"""Drawings as files: the same bytes, one file for both themes, nothing that leaks or names the machine."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from collections.abc import Mapping
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import sync_playwright
from svg_reading import SVG, boxes, parse, path_numbers, texts

from generator.charts.drawing import render_svg, shorten_path
from generator.charts.palette import IRIS, SLOTS, TONES
from generator.charts.sheet import Sheet
from generator.records.presentation import Chart, Drawing

HERE = Path(__file__).parent
BROWSER = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
LIMIT = 60_000


def drawings(charts: Mapping[str, Chart]) -> list[tuple[str, Drawing]]:
    """Both forms of every chart."""
    return [(f"{name} {form}", getattr(chart, form)) for name, chart in charts.items() for form in ("wide", "narrow")]


def test_the_same_results_give_the_same_bytes_in_another_process(charts: Mapping[str, Chart], tmp_path: Path) -> None:
    (tmp_path / "matplotlibrc").write_text(
        "font.size: 30\naxes.grid: True\nsvg.fonttype: path\nlines.scale_dashes: False\n"
    )
    script = (
        "import hashlib, sys; sys.path.insert(0, sys.argv[1])\n"
        "from invented_results import invent_results\n"
        "from generator.charts.index import draw_charts\n"
        "for chart in draw_charts(invent_results()):\n"
        "    print(chart.id, hashlib.sha256(chart.wide.svg + chart.narrow.svg).hexdigest())\n"
    )
    place = os.environ | {"PYTHONHASHSEED": "77", "SOURCE_DATE_EPOCH": "1", "TZ": "Asia/Tokyo", "LC_ALL": "C"}
    place |= {"MATPLOTLIBRC": str(tmp_path / "matplotlibrc"), "PYTHONPATH": str(HERE.parents[1])}
    run = subprocess.run(
        [sys.executable, "-c", script, str(HERE)], env=place, capture_output=True, text=True, check=True
    )

    here = {name: hashlib.sha256(chart.wide.svg + chart.narrow.svg).hexdigest() for name, chart in charts.items()}
    assert dict(line.split() for line in run.stdout.splitlines()) == here


def test_files_are_small_and_have_no_trace_of_the_machine(charts: Mapping[str, Chart]) -> None:
    for name, drawing in drawings(charts):
        text = drawing.svg.decode()
        assert len(drawing.svg) < LIMIT, name
        for trace in ("matplotlib", "<!DOCTYPE", "<metadata", "rdf:", str(Path.home()), "<!--", "xlink"):
            assert trace not in text, (name, trace)
        assert not re.search(r"20\d\d-\d\d-\d\d", text), name


def test_no_style_attribute_and_no_rule_for_everything(charts: Mapping[str, Chart]) -> None:
    for name, drawing in drawings(charts):
        root = parse(drawing.svg)
        assert not [element for element in root.iter() if element.get("style") is not None], name
        (style,) = root.iter(f"{SVG}style")
        assert "*{" not in (style.text or ""), name


def test_every_colour_is_lifted_to_a_custom_property_of_both_themes(charts: Mapping[str, Chart]) -> None:
    known = {slot.light: slot for slot in (*SLOTS, *TONES)}
    for name, drawing in drawings(charts):
        root = parse(drawing.svg)
        style = next(root.iter(f"{SVG}style")).text or ""
        used = {element.get(key) for element in root.iter() for key in ("fill", "stroke")} - {None, "none"}
        for color in sorted(part for part in used if part and not part.startswith("url(")):
            slot = known[color]
            assert f"--{slot.name}:{slot.light};" in style.split("@media")[0], name
            assert f"--{slot.name}:{slot.dark};" in style.split("@media")[1], name
            assert f"var(--{slot.name})" in style, name


def test_ids_are_unique_among_all_drawings_and_every_reference_has_its_target(charts: Mapping[str, Chart]) -> None:
    seen: set[str] = set()
    for name, drawing in drawings(charts):
        root = parse(drawing.svg)
        ids = [element.get("id") for element in root.iter() if element.get("id")]
        text = drawing.svg.decode()
        wanted = (
            set(re.findall(r"url\(#([^)]+)\)", text))
            | set(re.findall(r'href="#([^"]+)"', text))
            | set(root.get("aria-labelledby", "").split())
        )
        assert len(ids) == len(set(ids)) and not seen & set(ids), name
        assert wanted <= set(ids), name
        seen |= set(ids)


def test_drawings_have_their_stated_size_and_say_what_they_show(charts: Mapping[str, Chart]) -> None:
    for name, chart in charts.items():
        for drawing, widest in ((chart.wide, 720), (chart.narrow, 340)):
            root = parse(drawing.svg)
            assert (root.get("width"), root.get("height")) == (str(drawing.width), str(drawing.height)), name
            assert root.get("viewBox") == f"0 0 {drawing.width} {drawing.height}"
            assert drawing.width <= widest
            assert root.find(f"{SVG}title").text == chart.title  # type: ignore[union-attr]
            assert root.find(f"{SVG}desc").text == chart.alt  # type: ignore[union-attr]


def test_text_is_text_of_at_least_eleven_pixels_inside_its_sheet(charts: Mapping[str, Chart]) -> None:
    for name, drawing in drawings(charts):
        found = list(boxes(drawing.svg))
        assert len(found) >= 4, name
        assert min(float(element.get("font-size", "nan")) for element in texts(drawing.svg)) >= 11, name
        for text, left, top, right, bottom in found:
            assert left >= 0 and top >= 0 and bottom <= drawing.height, (name, text)
            assert right <= drawing.width + 3, (name, text)


def test_path_data_has_at_most_one_decimal(charts: Mapping[str, Chart]) -> None:
    for name, drawing in drawings(charts):
        assert not [part for part in path_numbers(drawing.svg) if len(part.partition(".")[2]) > 1], name


POINTS = st.lists(st.tuples(st.floats(-2000, 2000), st.floats(-2000, 2000)), min_size=2, max_size=12)


@given(st.lists(st.tuples(POINTS, st.booleans()), min_size=1, max_size=5))
def test_shortened_path_runs_through_the_same_points(lines: list[tuple[list[tuple[float, float]], bool]]) -> None:
    written = []
    for points, closed in lines:
        written += [f"{'L' if k else 'M'} {x:.6f} {y:.6f}" for k, (x, y) in enumerate(points)]
        written += ["z"] if closed else []

    found = follow_path(shorten_path(" \n".join(written)))

    wanted = [point for points, _ in lines for point in points]
    assert found == pytest.approx(np.array(wanted), abs=0.0501)


def follow_path(data: str) -> np.ndarray:
    """Points of path data of m, implied l and z (SVG 2, section 9.3; value from memory)."""
    here, start, points = np.zeros(2), np.zeros(2), []
    for letter, numbers in re.findall(r"([mz])([^mz]*)", data):
        if letter == "z":
            here = start
            continue
        steps = np.array(re.findall(r"-?\d+(?:\.\d+)?", numbers), dtype=float).reshape(-1, 2)
        for index, step in enumerate(steps):
            here = here + step
            start = here if index == 0 else start
            points.append(here)
    return np.array(points)


def test_a_curve_keeps_its_letters() -> None:
    assert shorten_path("M 0.123 1 \nC 1 2 3 4 5 6.789") == "M 0.1 1 C 1 2 3 4 5 6.8"


def test_hostile_text_is_drawn_as_written() -> None:
    hostile = '<script>alert("$x^2$")</script> & $\\frac{1}{2}$ #3a26c4 style="fill: #3a26c4" \x00\x1b\u202e板'
    sheet = Sheet(300, 60)
    sheet.text(10, 20, hostile)

    root = parse(render_svg(sheet.figure, "t", hostile, hostile))

    wanted = hostile.replace("\x00\x1b\u202e", "")
    assert next(root.iter(f"{SVG}text")).text == wanted
    assert root.find(f"{SVG}title").text == wanted  # type: ignore[union-attr]
    assert not list(root.iter(f"{SVG}script"))


def test_browser_shows_both_themes_in_an_image_and_no_text_collides(
    charts: Mapping[str, Chart], tmp_path: Path
) -> None:
    sheet = Sheet(20, 20)
    sheet.fill([np.array([[0, 0], [20, 0], [20, 20], [0, 20]])], IRIS.light)
    (tmp_path / "swatch.svg").write_bytes(render_svg(sheet.figure, "s", "", ""))
    (tmp_path / "swatch.html").write_text('<body style="margin:0"><img src="swatch.svg">')
    with sync_playwright() as started:
        browser = started.chromium.launch(executable_path="/usr/bin/chromium", args=BROWSER)
        for theme, color in (("light", IRIS.light), ("dark", IRIS.dark)):
            page = browser.new_page(color_scheme=theme, viewport={"width": 40, "height": 40})  # type: ignore[arg-type]
            page.goto((tmp_path / "swatch.html").as_uri())
            assert pixel(page.screenshot(), 10, 10) == color
        page = browser.new_page()
        problems = [problem for name, one in drawings(charts) for problem in collisions(page, name, one, tmp_path)]
        browser.close()
    assert problems == []


def pixel(png: bytes, x: int, y: int) -> str:
    """Colour of one pixel of a screenshot."""
    import io

    from PIL import Image

    red, green, blue = Image.open(io.BytesIO(png)).convert("RGB").getpixel((x, y))  # type: ignore[misc]
    return f"#{red:02x}{green:02x}{blue:02x}"


MEASURE = """() => [...document.querySelectorAll('text')].map(e => {
  const box = e.getBBox(); return [e.textContent, box.x, box.y, box.x + box.width, box.y + box.height]})"""


def collisions(page: object, name: str, drawing: Drawing, folder: Path) -> list[str]:
    """Texts that leave the sheet or lie upon one another, as the browser's own font sets them."""
    path = folder / "chart.svg"
    path.write_bytes(drawing.svg)
    page.goto(path.as_uri())  # type: ignore[attr-defined]
    found = page.evaluate(MEASURE)  # type: ignore[attr-defined]
    outside = [f"{name}: {text!r} leaves the sheet" for text, left, _, right, _ in found
               if left < -0.5 or right > drawing.width + 0.5]  # fmt: skip
    return outside + [
        f"{name}: {one[0]!r} on {other[0]!r}" for one, other in combinations(found, 2) if overlap(one, other)
    ]


def overlap(one: list, other: list) -> bool:
    """Whether two texts share more than the edges of their line boxes."""
    across = min(one[3], other[3]) - max(one[1], other[1])
    down = min(one[4], other[4]) - max(one[2], other[2])
    return across > 1 and down > 4
