"""All charts of a results object: what is there is drawn, what is missing is left out, nothing written breaks them."""

from __future__ import annotations

import random
import re
import warnings
from collections.abc import Mapping
from typing import Any

import pytest
from svg_reading import boxes, parse, written

from generator.charts.index import draw_charts
from generator.records.presentation import Chart

Results = dict[str, Any]
PARTS = ("curves", "predictions", "measurements", "agreement", "contrasts", "drift", "stall_maps", "sound", "vibration",
         "surfaces", "panel", "trials", "items")  # fmt: skip
GRIDS = ("speed", "acceleration", "frequency", "wavelength", "state", "direction", "at", "order", "votes", "schema",
         "no_preference", "peak_frequency")  # fmt: skip


def test_charts_stand_in_the_order_of_the_page(charts: Mapping[str, Chart]) -> None:
    assert list(charts) == [
        *("corridor", "corridor-x"),
        *("trial-diagonal-500", "trial-diagonal-900", "trial-top-speed", "trial-along-x-300"),
        "drift-diagonal-500",
        *("torque", "torque-x", "stall-series", "stall-parallel"),
        *("sound-traverse-100", "sound-traverse-100-speed", "sound-traverse-100-spectrum"),
        *("vibration-along-x", "surface-plate", "panel-smoother-plate", "differences"),
    ]


def test_every_chart_has_a_finding_a_caption_an_alt_text_and_a_table(charts: Mapping[str, Chart]) -> None:
    for name, chart in charts.items():
        assert len(chart.title) > 20 and len(chart.caption) > 60, name
        assert chart.title.rpartition(": ")[0] in chart.alt, name
        assert len(chart.title) < len(chart.alt) < 1500, name
        assert chart.table.caption and chart.table.rows, name
        assert {len(row) for row in chart.table.rows} == {len(chart.table.columns)}, name


def test_every_figure_of_a_title_stands_in_alt_text_or_table(charts: Mapping[str, Chart]) -> None:
    for name, chart in charts.items():
        if name.startswith(("stall", "torque")):
            continue  # shares of counts and of torques that the alt text gives
        cells = " ".join(cell for one in (chart, charts["differences"]) for row in one.table.rows for cell in row)
        for figure in re.findall(r"\d+(?:\.\d+)?", chart.title.rpartition(": ")[0]):
            assert figure.removesuffix(".0") in chart.alt.removeprefix(chart.title) + cells, (name, figure)


def test_nothing_to_draw_gives_no_chart() -> None:
    assert draw_charts({}) == ()
    assert draw_charts({"candidates": [{"id": "a", "name": "A"}], "curves": [], "trials": None}) == ()


@pytest.mark.parametrize("part", PARTS)
def test_a_missing_part_leaves_the_others(part: str, results: Results, charts: Mapping[str, Chart]) -> None:
    del results[part]
    found = {chart.id for chart in draw_charts(results)}

    assert found < set(charts) or part in ("items", "agreement", "contrasts", "predictions", "measurements", "drift")
    assert "panel-smoother-plate" in found or part == "panel"


@pytest.mark.parametrize("seed", range(6))
def test_missing_figures_leave_gaps_and_no_nan(seed: int, results: Results) -> None:
    chance = random.Random(seed)
    share = (0.05, 0.3, 1.0)[seed % 3]

    thinned = thin_out(results, share, chance)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        charts = draw_charts(thinned)

    assert len(charts) > 5
    for chart in charts:
        for drawing in (chart.wide, chart.narrow):
            marked = re.sub(rb"<(title|desc)[^>]*>[^<]*</", b"", drawing.svg)
            assert not re.search(rb"\b(nan|inf|None)\b", marked), chart.id
        assert not re.search(r"\b(nan|inf|None)\b", chart.title + chart.alt + str(chart.table.rows)), chart.id


def thin_out(thing: Any, share: float, chance: random.Random) -> Any:
    """A copy in which that share of the figures is None; grids of steps and what a reader always gives stay."""
    if isinstance(thing, dict) and "at" in thing:
        return thing
    if isinstance(thing, dict):
        return {key: part if key in GRIDS else thin_out(part, share, chance) for key, part in thing.items()}
    if isinstance(thing, list):
        return [thin_out(part, share, chance) for part in thing]
    if isinstance(thing, float | int) and not isinstance(thing, bool):
        return None if chance.random() < share else thing
    return thing


HOSTILE = [
    "<b>&amp;</b>",
    "$\\frac{a}{b}$ and $_x$",
    "}</style><script>alert(1)</script>",
    "名前 " * 30,
    "x" * 300,
    "\u202eabc\x07\n\nsecond line",
    "",
    "''\"]]>",
]


def test_hostile_names_are_drawn_as_text_and_stay_inside(results: Results) -> None:
    results["candidates"] = [{"id": f"c{k}", "name": name} for k, name in enumerate(HOSTILE)]
    first = results["curves"][0]
    results["curves"] = [first | {"candidate": f"c{k}"} for k in range(len(HOSTILE))]
    results["measurements"] = [results["measurements"][0] | {"candidate": f"c{k}"} for k in range(len(HOSTILE))]
    results["contrasts"] = [results["contrasts"][0] | {"between": ["c0", f"c{k}"]} for k in range(1, len(HOSTILE))]
    results["items"] = [{"id": "diagonal-500", "what": "<i>$x$</i> " * 20}]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        charts = draw_charts(results)

    for chart in charts:
        for drawing in (chart.wide, chart.narrow):
            tags = {element.tag.rpartition("}")[2] for element in parse(drawing.svg).iter()}
            known = {"svg", "title", "desc", "style", "defs", "path", "text", "pattern", "rect", "clipPath", "g", "use"}
            assert tags <= known, chart.id
            for text, left, _, right, _ in boxes(drawing.svg):
                assert left >= -1 and right <= drawing.width + 3, (chart.id, text)
    corridor = next(chart for chart in charts if chart.id == "corridor")
    assert any("<b>&amp;</b>" in text for text in written(corridor.wide.svg))


def test_one_candidate_without_measurement_is_named_as_such(results: Results) -> None:
    results["measurements"] = [row for row in results["measurements"] if row["candidate"] != "parallel"]
    charts = {chart.id: chart for chart in draw_charts(results)}

    strip = charts["trial-diagonal-500"]
    assert "Alder 42-8, parallel: predicted 31.3 to 74.0 m/s², not measured" in strip.alt
    assert strip.table.rows[1][4:] == ("–", "–")
    assert "not measured" in written(strip.wide.svg)
