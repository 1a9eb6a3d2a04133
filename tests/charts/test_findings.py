"""Findings: strips, differences, drift, torque, sound, vibration, surfaces, panel say what the results say."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import pytest
from invented_results import contrast, measurement, runs

from generator.charts.calls import item_title, summary_title
from generator.charts.cast import Cast, cast_of, shared_start
from generator.charts.corridor import draw_corridors
from generator.charts.drift import draw_drifts
from generator.charts.evidence import Bracket, run_brackets
from generator.charts.panel import draw_panels
from generator.charts.sound import draw_sounds
from generator.charts.strips import draw_strips, stack_brackets
from generator.charts.torque import draw_torques
from generator.records.presentation import Chart

Results = dict[str, Any]


def table_of(chart: Chart) -> list[dict[str, str]]:
    return [dict(zip(chart.table.columns, row, strict=True)) for row in chart.table.rows]


def test_titles_of_the_invented_comparison(charts: Mapping[str, Chart]) -> None:
    titles = {name: chart.title for name, chart in charts.items()}

    where = "acceleration at 500 mm/s along the diagonal of x and y"
    assert titles["trial-diagonal-500"] == f"Alder 42-8, parallel ahead by 29.4 ± 1.8 m/s²: {where}"
    assert titles["trial-diagonal-900"] == "Not comparable: diagonal-900"
    assert titles["drift-diagonal-500"] == f"No drift found: {where}"
    assert titles["torque"] == (
        "Torque left at 1600 mm/s along the diagonal of x and y: Alder 42-8, parallel 47 % and Alder 42-8, series 12 %"
    )
    assert titles["vibration-along-x"] == (
        "Alder 42-8, series peaks at 60.40 ± 0.40 Hz and Alder 42-8, parallel peaks at 58.20 ± 0.40 Hz: along-x"
    )
    assert titles["panel-smoother-plate"].startswith(
        "The panel shows no common preference between Alder 42-8, series and"
    )
    assert titles["differences"] == (
        "Of five comparisons: Alder 42-8, parallel ahead in one, one without a difference that matters "
        "and three not decided"
    )
    assert titles["surface-plate"].startswith("Alder 42-8, series shows ripples in three of three bands and")
    assert titles["sound-traverse-100-spectrum"].startswith(
        "Two prominent tones, the strongest Alder 42-8, series at 417 Hz (full step)"
    )


def three() -> Cast:
    return cast_of({"candidates": [{"id": f"v{volt}", "name": f"{volt} V supply"} for volt in (24, 36, 48)]})


def call(first: str, second: str, text: str) -> Results:
    return contrast("a", "m/s^2", (1.0, 0.5, 1.5, 0.2), text) | {"between": [first, second]}


def test_three_candidates_are_ranked_pair_by_pair() -> None:
    calls = [call("v24", "v36", "undecided"), call("v24", "v48", "v48 ahead"), call("v36", "v48", "v48 ahead")]

    assert item_title(calls, three(), "speed") == (
        "48 V supply ahead of 24 V supply and 48 V supply ahead of 36 V supply, one pair without a winner: speed"
    )
    assert item_title(calls[:1], three(), "speed") == "Undecided: speed"
    assert item_title([calls[0], calls[0]], three(), "speed") == "Undecided in both pairs: speed"
    mixed = [calls[0], call("v24", "v48", "too few runs")]
    assert item_title(mixed, three(), "speed") == "Two pairs, none called ahead: speed"
    assert item_title([], three(), "speed") == "Nothing to compare yet: speed"
    assert summary_title(calls, three()) == "Of three comparisons: 48 V supply ahead in two and one not decided"


def test_short_names_leave_out_shared_words_only() -> None:
    assert shared_start(["Alder 42-8, series", "Alder 42-8, parallel"]) == "Alder 42-8, "
    assert shared_start(["24 V supply", "24 V battery"]) == "24 V "
    assert shared_start(["24 V supply"]) == shared_start(["24 V", "26 V"]) == shared_start([]) == ""
    assert shared_start(["Alder", "Alder twin"]) == ""
    assert shared_start(["Alder 4", "Alder 4 b"]) == "Alder "


def test_strip_table_lists_every_run_and_every_try(charts: Mapping[str, Chart]) -> None:
    rows = table_of(charts["trial-diagonal-900"])
    assert rows[0]["runs, held to lost [m/s²]"] == "15 to 16"
    assert rows[1]["runs, held to lost [m/s²]"] == "5 of 5 held at 40; 4 of 5 held at 44; 1 of 5 held at 48"

    rows = table_of(charts["trial-top-speed"])
    assert rows[1]["runs, held to lost [mm/s]"] == "1800, never lost"
    assert rows[1]["measured [mm/s]"] == "at least 1800"
    assert table_of(charts["trial-along-x-300"])[0]["runs, held to lost [m/s²]"] == "lost at 20"


def test_rungs_and_speeds_keep_the_digits_that_were_stated(results: Results) -> None:
    results["trials"][0]["speed"] = 0.5125
    found = measurement("diagonal-500", "series", runs(*[(12.375, 12.5)] * 5), estimate=12.4375, low=12.3, high=12.6)
    results["measurements"] = [found, measurement("top-speed", "parallel", runs((1.7855, None)), at_least=1.7855)]
    strip, bound = (draw_strips(results)[place] for place in (0, 2))

    assert table_of(strip)[0]["runs, held to lost [m/s²]"].startswith("12.375 to 12.5; ")
    assert table_of(bound)[1]["runs, held to lost [mm/s]"] == "1785.5, never lost"
    assert table_of(bound)[1]["measured [mm/s]"] == "at least 1785.5"
    assert draw_drifts(results)[0].table.rows[0][2:] == ("12.375", "12.5")
    assert "lost at 12.5 m/s², held 12.375" in draw_drifts(results)[0].alt
    assert "12.44 (12.30 to 12.60) m/s² at 512.5 mm/s" in draw_corridors(results)[0].alt


def test_a_trial_without_runs_says_that_it_is_predicted_only(results: Results) -> None:
    results["measurements"] = []

    assert draw_strips(results)[0].title.startswith("Predicted, not yet measured: acceleration at 500 mm/s")


def test_overlapping_brackets_take_different_lanes() -> None:
    lanes = stack_brackets([Bracket(31, 32), Bracket(31, 32), Bracket(35, 36), Bracket(35.5, None), Bracket(None, 20)])

    assert [len(lane) for lane in lanes] == [3, 2]
    for lane in lanes:
        ends = sorted((b.held or float("-inf"), b.lost or float("inf")) for b in lane)
        assert all(one[1] < other[0] for one, other in pairwise(ends))


def test_many_runs_keep_to_eight_lanes() -> None:
    found = stack_brackets(run_brackets({"runs": runs(*[(31, 32)] * 40)}))

    assert len(found) == 8 and sum(map(len, found)) == 40


def test_drift_says_what_the_test_says_per_candidate(results: Results) -> None:
    results["drift"][1]["statement"] = "the limits fall over the runs: a drift"
    (chart,) = draw_drifts(results)

    assert chart.title.startswith(
        "Alder 42-8, series: no drift found; Alder 42-8, parallel: the limits fall over the runs: a drift ("
    )
    assert [row[0] for row in chart.table.rows] == [str(order) for order in range(1, 11)]


def test_runs_without_order_give_no_drift_chart(results: Results) -> None:
    for row in results["measurements"]:
        for run in row["runs"]:
            run["order"] = None

    assert draw_drifts(results) == ()


def test_torque_table_gives_the_curve(charts: Mapping[str, Chart]) -> None:
    rows = table_of(charts["torque"])

    assert rows[0] == {"speed [mm/s]": "0", "Alder 42-8, series [N·m]": "0.320", "Alder 42-8, parallel [N·m]": "0.370"}
    assert float(rows[-1]["Alder 42-8, series [N·m]"]) == pytest.approx(64 / 200 * (0.33 / 1.6) ** 1.35, rel=0.005)


def test_curves_without_torque_give_no_torque_chart(results: Results) -> None:
    for curve in results["curves"]:
        curve["torque"] = None

    assert draw_torques(results) == ()


def test_bands_table_holds_every_band_and_the_background(results: Results, charts: Mapping[str, Chart]) -> None:
    rows = charts["sound-traverse-100"].table.rows

    assert rows[0] == ("all bands", "53.10 ± 0.70", "50.10 ± 0.70", "35.2")
    rows = rows[1:]
    assert len(rows) == 28
    assert charts["sound-traverse-100"].table.columns[-1] == "background [dB(A)]"
    levels = results["sound"][0]["bands"][0]["level"]
    assert [float(row[1]) for row in rows] == pytest.approx(levels, abs=0.051)


def test_sound_without_levels_names_the_loudest_band(results: Results) -> None:
    results["sound"] = [
        {"id": "s", "unit": "dB", "bands": [{"candidate": "series", "frequency": [100, 200], "level": [40, 50]}]}
    ]
    (chart,) = draw_sounds(results)

    assert chart.title == "Alder 42-8, series 50.0 dB at 200 Hz: s"


def test_a_hidden_level_is_bounded_as_its_measurement_says(results: Results) -> None:
    level = measurement("traverse-100", "series", quantity="level", unit="dB(A)", kind="upper bound", at_most=54.25)
    results["measurements"] = [level]
    hidden = {"candidate": "parallel", "level": 50.0, "low": 49.0, "high": 51.0, "upper_bound": True}
    results["sound"][0]["levels"][1] = hidden
    chart = draw_sounds(results)[0]

    words = "Alder 42-8, series at most 54.3 dB(A) and Alder 42-8, parallel at most 51.0 dB(A): "
    assert chart.title.startswith(words)
    assert chart.table.rows[0][1:3] == ("at most 54.3", "at most 51.0")


@pytest.mark.parametrize(
    ("low", "high", "title"),
    [
        (0.6, 0.9, "The panel preferred Alder 42-8, series to Alder 42-8, parallel"),
        (0.1, 0.4, "The panel preferred Alder 42-8, parallel to Alder 42-8, series"),
        (None, None, "nobody preferred Alder 42-8, series or Alder 42-8, parallel"),
    ],
)
def test_panel_says_whether_it_could_tell(low: float | None, high: float | None, title: str, results: Results) -> None:
    results["panel"][0]["pairs"][0] |= {"low": low, "high": high, "share": low}
    (chart,) = draw_panels(results)

    assert chart.title.lower().startswith(title.lower())
