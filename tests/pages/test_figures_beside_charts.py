"""One figure, one text: what a page's lanes and tables print, the charts beside them print alike."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

sys.path.append(str(Path(__file__).parents[1] / "evaluation"))

from reading import change, read_demo, read_text

from generator.charts.index import draw_charts
from generator.evaluation.comparison import evaluate
from generator.pages.context import NO_MEDIA
from generator.pages.recordings import view_panel, view_sound, view_surfaces, view_vibration
from generator.pages.trials import view_call, view_trials
from generator.records.presentation import Chart

STARTER = Path(__file__).parents[2] / "templates" / "starter" / "comparison.yaml"
CHANGES = ("{{title}}", "Starter"), ("{{date}}", "2026-09-21"), ("write_up: write-up.md", "")
SLUGS = ("starter", "braille-plate-plotter", "herbarium-gantry", "tile-engraver")
Results = Mapping[str, Any]


@pytest.fixture(scope="module", params=SLUGS)
def drawn(request: pytest.FixtureRequest) -> tuple[Results, dict[str, Chart]]:
    """The starter's or a demo's results, without stall maps, and its charts by id."""
    if request.param == "starter":
        comparison, files = read_text(change(STARTER.read_text(encoding="utf-8"), *CHANGES)), {}
    else:
        comparison, files = read_demo(request.param)
    results = evaluate(replace(comparison, stall_map=False), files, draws=200)
    return results, {chart.id: chart for chart in draw_charts(results)}


def bare(text: str) -> str:
    """A figure without its unit, as it stands in a column whose head names the unit."""
    for unit in (" m/s²", " mm/s", " dB(A)", " Hz", " mm", " %"):
        text = text.replace(unit, "")
    return text


def rows_of(chart: Chart) -> Iterator[dict[str, str]]:
    """A data table's rows by the heads of the columns without their units."""
    heads = [head.partition(" [")[0] for head in chart.table.columns]
    return (dict(zip(heads, row, strict=True)) for row in chart.table.rows)


def test_a_lane_and_its_chart_print_the_same_prediction_and_measurement(
    drawn: tuple[Results, dict[str, Chart]],
) -> None:
    results, charts = drawn
    for trial in view_trials(results):
        chart = charts[f"trial-{trial['id']}"]
        words = chart.alt.removeprefix(f"{chart.title}. ").removesuffix(".").split("; ")
        for lane, said, row in zip(trial["lanes"], words, rows_of(chart), strict=True):
            expected = "not measured" if lane["measured"] == "–" else f"measured {lane['measured']}"
            assert said == f"{lane['name']}: predicted {lane['predicted']}, {expected}"
            assert row["measured"] == bare(lane["measured"])


def test_the_predicted_lines_are_printed_alike(drawn: tuple[Results, dict[str, Chart]]) -> None:
    results, charts = drawn
    for trial in view_trials(results):
        table = {row["candidate"]: row for row in rows_of(charts[f"trial-{trial['id']}"])}
        for name, *lines in trial["line_rows"]:
            row = table[name]
            assert [row["static limit"], row["start line"], row["any-timing line"]] == [bare(line) for line in lines]


def test_runs_are_printed_as_they_were_stated(drawn: tuple[Results, dict[str, Chart]]) -> None:
    results, charts = drawn
    for trial in view_trials(results):
        table = {row["candidate"]: row["runs, held to lost"] for row in rows_of(charts[f"trial-{trial['id']}"])}
        for run in trial["runs"]:
            cells = [cell for row in run["rows"] for cell in (row[:1] if "Tried at" in run["head"] else row[:2])]
            for figure in {bare(cell) for cell in cells} - {"none", "never"}:
                assert figure in table[run["name"]].replace(",", "").replace(";", "").split()


def test_the_corridor_prints_the_measurements_of_the_lanes(drawn: tuple[Results, dict[str, Chart]]) -> None:
    results, charts = drawn
    corridors = [chart for name, chart in charts.items() if name.startswith("corridor")]
    alts = " ".join(chart.alt for chart in corridors)
    cells = [row["measured"] for chart in corridors for row in rows_of(chart)]
    for lane in (lane for trial in view_trials(results) for lane in trial["lanes"] if lane["measured"] != "–"):
        assert f"{lane['name']} {lane['measured']} at " in alts
        assert any(lane["measured"] in cell for cell in cells)


def test_differences_are_printed_as_the_calls_print_them(drawn: tuple[Results, dict[str, Chart]]) -> None:
    results, charts = drawn
    names = {candidate["id"]: candidate["name"] for candidate in results["candidates"]}
    contrasts = results["contrasts"]
    rows = list(rows_of(charts["differences"])) if contrasts else []
    for contrast, row in zip(contrasts, rows, strict=True):
        call = view_call(contrast, names)
        told, shown = call["lead"] or call["difference"], row["difference with 95 % interval"]
        assert sorted(re.findall(r"[\d.]+", told)) == sorted(re.findall(r"[\d.]+", shown))
        assert row["matters from"] == (call["matters"] or "–")


def test_recordings_and_votes_are_printed_alike(drawn: tuple[Results, dict[str, Chart]]) -> None:
    results, charts = drawn
    for item in view_sound(results, NO_MEDIA) or ():
        chart = charts[f"sound-{item['id']}"]
        assert all(f"{row['name']} {row['measured']}" in chart.alt for row in item["rows"])
        assert {bare(row["measured"]) for row in item["rows"]} <= set(chart.table.rows[0])
        tones = [(bare(tone[1]), bare(tone[2])) for tone in item["tones"]]
        assert tones == [row[1:3] for row in charts[f"sound-{item['id']}-spectrum"].table.rows]
    for item in view_vibration(results, NO_MEDIA) or ():
        rows = charts[f"vibration-{item['id']}"].table.rows
        assert [tuple(map(bare, fit)) for fit in item["fits"]] == list(rows)
    for item in view_surfaces(results, NO_MEDIA) or ():
        rows = charts[f"surface-{item['id']}"].table.rows
        assert [tuple(map(bare, ripple[:5])) for ripple in item["ripples"]] == [row[:5] for row in rows]
    for item in view_panel(results, NO_MEDIA) or ():
        shown = [(pair[3], pair[4], pair[5]) for pair in item["pairs"]]
        assert [tuple(map(bare, pair)) for pair in shown] == [
            row[5:] for row in charts[f"panel-{item['id']}"].table.rows
        ]
