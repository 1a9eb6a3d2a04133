"""The corridor chart: its finding, its table against the curves, and where its brackets stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from invented_results import measurement, runs, static_limit
from svg_reading import SVG, parse, written

from generator.charts.brackets import find_measured
from generator.charts.cast import cast_of
from generator.charts.corridor import directions_of, draw_corridors
from generator.charts.evidence import Bracket, whole_bracket
from generator.records.presentation import Chart

Results = dict[str, Any]


def titles(results: Results) -> list[str]:
    return [chart.title for chart in draw_corridors(results)]


def test_title_counts_where_the_limits_found_lie(results: Results) -> None:
    assert titles(results) == [
        "All four limits found along the diagonal of x and y lie in the predicted corridor",
        "The limit found along x lies in the predicted corridor; one more is only a lower bound and "
        "one more is only an upper bound",
    ]


@pytest.mark.parametrize(
    ("places", "title"),
    [
        (("inside corridor", "only a lower bound", "only an upper bound"),
         "The limit found along x lies in the predicted corridor; one more is only a lower bound and "
         "one more is only an upper bound"),
        (("inside corridor", "between any-timing and start", "inside corridor"),
         "All three limits found along x lie in the predicted corridor"),
        (("inside corridor", "between any-timing and start", "only an upper bound"),
         "Both limits found along x lie in the predicted corridor; one more is only an upper bound"),
        (("inside corridor", "only a lower bound", "only a lower bound"),
         "The limit found along x lies in the predicted corridor; two more are only lower bounds"),
        (("inside corridor", "too wide to place", "only a lower bound"),
         "The limit found along x lies in the predicted corridor; one more is only a lower bound and "
         "one more is too wide to place"),
        (("above static limit", "above static limit", "only a lower bound"),
         "Neither of the two limits found along x lies in the predicted corridor; two above the static limit; "
         "one more is only a lower bound"),
        (("below any-timing limit", "only a lower bound", "only a lower bound"),
         "The limit found along x does not lie in the predicted corridor; one below the any-timing line; "
         "two more are only lower bounds"),
    ],
)  # fmt: skip
def test_bounds_are_told_apart_from_limits_found(places: tuple[str, ...], title: str, results: Results) -> None:
    rows = [row for row in results["agreement"] if row["trial"] in ("top-speed", "along-x-300")]
    measured = {(row["item"], row["candidate"]): row for row in results["measurements"]}
    for row, place in zip(rows, places, strict=True):
        row["place"] = place
        kind = place.removeprefix("only a ").removeprefix("only an ")
        measured[row["trial"], row["candidate"]]["kind"] = kind if kind.endswith("bound") else "bracketed"

    assert titles(results)[1] == title


def test_title_of_nothing_measured_says_who_is_predicted_ahead(results: Results) -> None:
    results["measurements"] = []

    assert titles(results)[0] == (
        "Predicted: Alder 42-8, parallel has the higher static limit at both ends of the speed range, "
        "along the diagonal of x and y"
    )
    results["curves"][1] = results["curves"][0] | {"candidate": "parallel"}
    assert titles(results)[0] == "Predicted acceleration limits along the diagonal of x and y"


def test_all_lost_from_the_corridor(results: Results) -> None:
    for row in results["agreement"]:
        row["place"] = "above static limit"

    assert titles(results)[0] == (
        "None of the four limits found along the diagonal of x and y lies in the predicted corridor; "
        "four above the static limit"
    )


def test_table_holds_the_curves_at_round_and_at_measured_speeds(charts: Mapping[str, Chart]) -> None:
    rows = [row for row in charts["corridor"].table.rows if row[0] == "Alder 42-8, series"]

    assert [row[1] for row in rows] == ["0", "200", "400", "500", "600", "800", "900", "1000", "1200", "1400", "1600"]
    for row in rows:
        wanted = static_limit(64.0, 0.33, float(row[1]) / 1000)
        assert float(row[4]) == pytest.approx(wanted, rel=0.006)
        assert float(row[2]) == pytest.approx(0.4223 * wanted, rel=0.006)
        assert float(row[5]) == pytest.approx(min(64.0, 1.27 * wanted), rel=0.006)
        assert float(row[5]) >= float(row[4]), "more voltage never gives less, also where the dotted line is not drawn"
    assert rows[3][7] == "32.5 ± 1.2 m/s²"
    assert charts["corridor"].table.columns[5:7] == (
        "static limit, square wave [m/s²]", "95 % intervals, low end of any-timing to high end of static [m/s²]",
    )  # fmt: skip


def test_directions_of_acceleration_trials_come_first(results: Results) -> None:
    results["curves"] = results["curves"][::-1]
    results["trials"] = results["trials"][:3]

    assert [sorted(direction) for direction in directions_of(results)] == [["x", "y"], ["x"]]


@pytest.mark.parametrize(
    ("found", "bracket"),
    [
        (runs((31, 32), (33, 34), (30, 31)), Bracket(30, 34)),
        (runs((31, None), (33, 34)), Bracket(31, None)),
        (runs((None, 20), (20, 21)), Bracket(None, 21)),
        (runs((None, None)), None),
        ([], None),
    ],
)
def test_whole_bracket_runs_from_the_lowest_held_to_the_highest_lost(found: list, bracket: Bracket | None) -> None:
    assert whole_bracket(measurement("diagonal-500", "series", found)) == bracket


def test_counts_of_tries_are_never_taken_for_rungs() -> None:
    tries = [{"at": 40.0, "held": 5, "lost": 0}, {"at": 48.0, "held": 1, "lost": 4}]

    assert whole_bracket(measurement("diagonal-900", "parallel", tries, low=42.0, high=49.0)) == Bracket(42.0, 49.0)


def test_brackets_stand_at_their_speeds_and_limits(results: Results) -> None:
    # The scale of the drawing from two of its own tick labels; then the bracket's line must end at held and lost.
    results["measurements"] = [measurement("diagonal-500", "series", runs((30, 50)), estimate=40.0)]
    svg = draw_corridors(results)[0].narrow.svg
    across, up = (place(svg, text) for text in (("500", "1000"), ("20", "80")))
    lines = [path.get("d", "") for path in parse(svg).iter(f"{SVG}path") if path.get("stroke-width") == "2.4"]

    (line,) = lines
    x0, y0, step, rise = (float(part) for part in line.removeprefix("m").replace("-", " -").split())
    assert x0 == pytest.approx(across["500"][0], abs=0.6) and step == 0
    pixel = (up["80"][1] - up["20"][1]) / 60
    assert y0 == pytest.approx(up["20"][1] + 10 * pixel - 4, abs=0.6)
    assert rise == pytest.approx(20 * pixel, abs=0.2)


def place(svg: bytes, labels: tuple[str, ...]) -> dict[str, np.ndarray]:
    """Where tick labels stand [px]."""
    found = {element.text: element for element in parse(svg).iter(f"{SVG}text")}
    return {label: np.array([float(found[label].get(key, "nan")) for key in ("x", "y")]) for label in labels}


def test_a_speed_trial_without_acceleration_stands_on_the_base_line(results: Results) -> None:
    trial = results["trials"][2] | {"acceleration": None}

    assert [found.at for found in find_measured(results, trial, cast_of(results))] == [0.0, 0.0]


def test_short_names_stand_at_their_lines(results: Results) -> None:
    results["candidates"] = [{"id": "series", "name": "A"}, {"id": "parallel", "name": "B"}]
    wide = written(draw_corridors(results)[0].wide.svg)

    assert {"A, static limit", "B, static limit", "start line", "any-timing line"} <= set(wide)
    assert "A" not in wide


def test_many_names_stand_in_a_legend_and_lines_are_named_once(results: Results) -> None:
    names = [f"A candidate with a rather long name, number {k}" for k in range(7)]
    results["candidates"] = [{"id": f"c{k}", "name": name} for k, name in enumerate(names)]
    results["curves"] = [results["curves"][0] | {"candidate": f"c{k}"} for k in range(7)]
    chart = draw_corridors(results)[0]

    for svg in (chart.wide.svg, chart.narrow.svg):
        assert sum(text.startswith("A candidate with") for text in written(svg)) == 7
    assert written(chart.wide.svg).count("static limit") == 1


def test_every_line_is_named_in_a_legend_where_it_has_no_room(results: Results) -> None:
    lines = {"static limit", "start line", "any-timing line"}
    chart = draw_corridors(results)[0]
    assert lines | {"square wave"} <= set(written(chart.narrow.svg))
    assert lines <= set(written(chart.wide.svg))
    assert "square wave" not in written(chart.wide.svg)  # the wide form has room at the lines

    for curve in results["curves"]:  # lines that run together cannot be named where they lie
        curve["any_timing"] = curve["start"]
    assert lines | {"square wave"} <= set(written(draw_corridors(results)[0].wide.svg))


def test_dotted_lines_are_explained_where_they_are_drawn(results: Results) -> None:
    first, second = draw_corridors(results)
    assert "dotted line is the static limit with a drive that makes a square wave" in first.caption
    assert "dotted" not in second.caption

    for curve in results["curves"]:
        curve["square_wave_static"] = None
    chart = draw_corridors(results)[0]
    assert "dotted" not in chart.caption
    assert "square wave" not in written(chart.narrow.svg)
    assert "static limit, square wave [m/s²]" not in chart.table.columns
    assert all(len(row) == len(chart.table.columns) for row in chart.table.rows)


def test_the_caption_says_where_the_lines_hold(charts: Mapping[str, Chart]) -> None:
    assert "The lines hold up to the corner speed" in charts["corridor"].caption


def test_brackets_that_would_hide_one_another_stand_side_by_side(results: Results) -> None:
    same = [measurement("diagonal-500", key, runs((30, 50)), estimate=40.0) for key in ("series", "parallel")]
    results["measurements"] = same
    svg = draw_corridors(results)[0].wide.svg
    starts = [
        path.get("d", "").split()[0] for path in parse(svg).iter(f"{SVG}path") if path.get("stroke-width") == "2.4"
    ]

    first, second = (float(start.removeprefix("m")) for start in starts)
    assert second - first == pytest.approx(11, abs=0.2)
