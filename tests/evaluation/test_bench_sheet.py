"""The bench sheet of the reference comparison, worked by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from reading import LADDER, measured, reference
from statsmodels.stats.power import TTestIndPower

from generator.evaluation.bench_sheet import EXPECTED_MATTERS, EXPECTED_SCATTER, plan_bench
from generator.evaluation.trials import measure_trials
from generator.models.profile import find_reachable, plan_moves
from generator.records.comparison import Comparison

Sheet = dict[str, dict[str, Any]]


def sheet(case: Any) -> Sheet:
    """Plans by trial."""
    comparison, hardware, predictions = case
    found = plan_bench(comparison, hardware, predictions, measure_trials(comparison))
    return {plan["trial"]: plan for plan in found}


def laddered(ladder: str) -> Comparison:
    """The reference comparison with another ladder in its trials ``diagonal`` and ``fast``."""
    return reference((LADDER, ladder), (LADDER, ladder))


@pytest.fixture(scope="module")
def roomy(case: Callable[..., Any]) -> Any:
    """The reference comparison with ladders that leave room below every limit, its hardware and predictions."""
    return case(laddered("ladder: {start: 1 m/s², rung: 1 m/s²}\n"))


@pytest.fixture(scope="module")
def plans(roomy: Any) -> Sheet:
    return sheet(roomy)


@pytest.mark.parametrize("trial", ["diagonal"])
def test_the_ladder_starts_below_the_lowest_limit_and_ends_above_the_highest(
    roomy: Any, plans: Sheet, trial: str
) -> None:
    rung = 1.0
    for prediction in (p for p in roomy[2] if p.trial == trial):
        plan = plans[trial]["candidates"][prediction.candidate]
        ladder = plan["ladder"]
        assert (plan["expected_low"], plan["expected_high"]) == (prediction.any_timing.low, prediction.static.high)
        assert prediction.any_timing.low - rung <= ladder.start < prediction.any_timing.low
        assert ladder.start / rung == pytest.approx(round(ladder.start / rung))
        assert ladder.stop >= prediction.static.high > ladder.stop - ladder.coarse - 1e-9
        assert ladder.fine == rung
        assert ladder.most_moves == 4 * ladder.most_rungs


def test_the_file_s_ladder_bounds_the_plan(case: Callable[..., Any]) -> None:
    found = case(laddered("ladder: {start: 20.5 m/s², rung: 1 m/s², stop: 30 m/s²}\n"))
    (prediction,) = (p for p in found[2] if (p.trial, p.candidate) == ("fast", "q"))

    plan = sheet(found)["fast"]["candidates"]["q"]

    # the file's own rungs lie at 20.5, 21.5 … 29.5 m/s²
    assert prediction.any_timing.low < 20.5 and prediction.static.high > 30
    assert (plan["ladder"].start, plan["ladder"].stop) == (20.5, 29.5)
    assert (plan["expected_low"], plan["expected_high"]) == (prediction.any_timing.low, prediction.static.high)


def test_every_rung_of_a_plan_may_be_written_into_the_file(case: Callable[..., Any]) -> None:
    ladder = "ladder: {start: 20.5 m/s², rung: 1 m/s², stop: 30 m/s²}"
    for each in sheet(case(laddered(f"{ladder}\n")))["fast"]["candidates"].values():
        plan = each["ladder"]
        rungs = [*np.arange(plan.start, plan.stop - plan.fine / 2, plan.fine), plan.stop]
        runs = [f"{{held: {a:.6g} m/s², lost: {b:.6g} m/s²}}" for a, b in pairwise(rungs)]
        read = laddered(f"{ladder}\n    runs: {{p: [{', '.join(runs)}]}}\n")  # fails on a problem, see read_text
        assert len(read.trials[1].runs["p"]) == len(runs) > 0


def test_an_acceleration_ladder_needs_most_stroke_at_its_start(plans: Sheet) -> None:
    # v²/a at 1.5 m/s from the first rung; 120 mm allow no less than 2.25/0.12 = 18.75 m/s²
    for plan in plans["fast"]["candidates"].values():
        needed = 1.5**2 / plan["ladder"].start
        assert plan["stroke_needed"] == pytest.approx(needed)
        assert plan["stroke_enough"] is True
        assert plan["reachable"] == pytest.approx(18.75)
    # where the limit may lie lower, the ladder starts at the first rung that the stroke allows
    short = plans["fast"]["candidates"]["q"]
    assert short["expected_low"] < 18.75
    assert short["ladder"].start == pytest.approx(19.0)
    assert short["stroke_beyond"] == pytest.approx(2.25 / 18.0)


def test_a_speed_ladder_needs_most_stroke_at_its_end(plans: Sheet) -> None:
    plan = plans["top"]["candidates"]["p"]

    assert plan["reachable"] == pytest.approx(math.sqrt(3.0))
    assert plan["ladder"].stop == pytest.approx(1.70)  # the last rung of 50 mm/s below 1.732 m/s
    assert plan["stroke_needed"] == pytest.approx(1.70**2 / 10)
    assert plan["stroke_beyond"] == pytest.approx(1.75**2 / 10)
    assert plan["stroke_enough"] is True


def test_a_stroke_that_reaches_no_rung_at_all_is_too_short(case: Callable[..., Any]) -> None:
    found = sheet(case(reference(("    stroke: 120 mm\n", "    stroke: 2 mm\n"))))["diagonal"]["candidates"]["p"]

    assert found["reachable"] == pytest.approx(0.25 / 0.002)
    assert found["ladder"].start >= found["reachable"] or found["stroke_enough"] is False


def test_without_a_stroke_nothing_is_refused(case: Callable[..., Any]) -> None:
    plan = sheet(case(reference(("    stroke: 120 mm\n", ""))))["diagonal"]["candidates"]["p"]

    assert plan["stroke_needed"] == pytest.approx(0.25 / plan["ladder"].start)
    assert plan["stroke_enough"] is None and plan["reachable"] is None


def test_time_is_moves_and_pauses(plans: Sheet) -> None:
    # one move over 120 mm at 0.5 m/s and the top rung's a: 0.12/0.5 + 0.5/a; 5 s between moves
    plan = plans["diagonal"]["candidates"]["p"]
    move = 0.12 / 0.5 + 0.5 / plan["ladder"].stop

    assert plan["duration"] == pytest.approx(plan["ladder"].expected_moves * (move + 5.0))


def even(count: float) -> int:
    """The smallest even number that is not below a count."""
    return 2 * math.ceil(count / 2)


def test_runs_needed_agree_with_a_statistics_library(roomy: Any, plans: Sheet) -> None:
    plan = plans["diagonal"]
    level = sum(p.start.median for p in roomy[2] if p.trial == "diagonal") / 2

    assert plan["matters"] == pytest.approx(EXPECTED_MATTERS * level)
    assert plan["scatter"] == pytest.approx(EXPECTED_SCATTER * level)
    assert (plan["matters_origin"], plan["scatter_origin"]) == ("assumed", "assumed")
    # statsmodels, two-sided t test of two samples; the bench asks for 99 % where 95 % would call too early
    exact = TTestIndPower().solve_power(plan["matters"] / plan["scatter"], alpha=0.01, power=plan["power"])
    assert plan["runs"] == even(exact)


def test_stated_and_measured_figures_take_the_place_of_assumed_ones(case: Callable[..., Any]) -> None:
    plan = sheet(case(measured(end="matters: {items: {diagonal: 4 m/s²}}\n")))["diagonal"]

    # three runs one apart: s = 1 for both
    assert (plan["scatter"], plan["scatter_origin"]) == (pytest.approx(1.0), "measured")
    assert (plan["matters"], plan["matters_origin"]) == (4.0, "file")
    assert plan["measured"] == ["p", "q"]
    exact = TTestIndPower().solve_power(4.0, alpha=0.01, power=plan["power"])
    assert plan["runs"] == even(exact)


def test_a_rung_that_is_too_coarse_leaves_no_number_of_runs(case: Callable[..., Any]) -> None:
    plan = sheet(case(measured(end="matters: {items: {diagonal: 0.5 m/s²}}\n")))["diagonal"]

    assert plan["runs"] is None and plan["order"] is None


@pytest.mark.parametrize("matters", ["2", "2.5", "3", "4", "5", "6", "8"])
def test_the_order_is_a_b_b_a_and_averages_out_a_steady_warming(matters: str, case: Callable[..., Any]) -> None:
    plan = sheet(case(measured(end=f"matters: {{items: {{diagonal: {matters} m/s²}}}}\n")))["diagonal"]
    places = [[k for k, name in enumerate(plan["order"]) if name == candidate] for candidate in ("p", "q")]

    assert plan["order"][:4] == ("p", "q", "q", "p")
    assert len(places[0]) == len(places[1]) == plan["runs"]
    assert sum(places[0]) == sum(places[1])  # what grows with the place adds equally to both means


def test_a_handy_rung_stands_in_for_an_unstated_one(case: Callable[..., Any]) -> None:
    comparison, hardware, predictions = case(reference(("    " + LADDER, "")))
    highest = {p.candidate: p.static.high for p in predictions if p.trial == "diagonal"}

    for candidate, plan in sheet((comparison, hardware, predictions))["diagonal"]["candidates"].items():
        # 2 % of where the limit may lie, rounded down to 1, 2 or 5 times a power of ten
        handy = max(rung for rung in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0) if rung <= 0.02 * highest[candidate])
        assert plan["ladder"].fine == handy


def test_cautions_are_those_of_the_top_rung(plans: Sheet) -> None:
    plan = plans["top"]["candidates"]["p"]
    found = {caution.kind: caution.value for caution in plan["cautions"]}

    assert found["stopping distance"] == pytest.approx(plan["ladder"].stop ** 2 / 20)


def test_a_hold_that_takes_the_whole_stroke_leaves_no_ladder(case: Callable[..., Any]) -> None:
    # 500 mm/s for 0.3 s need 150 mm, the stroke has 120 mm
    comparison = reference()
    trials = tuple(replace(trial, hold_time=0.3) if trial.id == "diagonal" else trial for trial in comparison.trials)
    found = sheet(case(replace(comparison, trials=trials)))["diagonal"]

    for each in found["candidates"].values():
        assert (each["ladder"], each["stroke_needed"]) == (None, None)
        assert "no ramp is left" in each["why"]


def jerky(jerk: str, *changes: tuple[str, str]) -> Comparison:
    """The reference comparison, changed, with ramps of limited jerk."""
    drive = "  drive: {voltage_limit: 50 V, standstill_current: 50 %}\n"
    return reference((drive, f"{drive}  move: {{profile: s-curve, jerk: {jerk}}}\n"), *changes)


def test_limited_jerk_lengthens_strokes_and_ends_the_ladder(case: Callable[..., Any]) -> None:
    # to 0.5 m/s with 1000 m/s³: √500 = 22.3607 m/s² at most
    plan = sheet(case(jerky("1000 m/s³")))["diagonal"]["candidates"]["p"]

    assert plan["ramp_peak"] == pytest.approx(22.3607, abs=5e-5)
    assert plan["expected_high"] > 23 and plan["ladder"].stop == 22.0
    start = plan["ladder"].start
    assert plan["stroke_needed"] == pytest.approx(0.5 * (0.5 / start + start / 1000))
    # 0.5·(0.5/a + a/1000) = 0.12: the smaller root is 120 − √(14400 − 500)
    assert plan["reachable"] == pytest.approx(120 - math.sqrt(13900))
    # both ramps of the move at 22 m/s² last 0.5/22 + 0.022 s
    move = 0.12 / 0.5 + 0.5 / 22 + 0.022
    assert plan["duration"] == pytest.approx(plan["ladder"].expected_moves * (move + 5.0))


def test_limited_jerk_lowers_the_top_of_a_speed_ladder(case: Callable[..., Any]) -> None:
    # v·(v/10 + 10/100) = 0.3: v = 5·(√(0.01 + 0.12) − 0.1) = 1.30278 m/s, where straight ramps reach √3 m/s
    plan = sheet(case(jerky("100 m/s³")))["top"]["candidates"]["p"]

    assert plan["reachable"] == pytest.approx(1.30278, abs=5e-6)
    assert plan["ladder"].stop == pytest.approx(1.3)
    assert plan["stroke_needed"] == pytest.approx(1.3 * 0.23)
    assert plan["stroke_enough"] is True and plan["ramp_peak"] is None
    stop = next(caution.value for caution in plan["cautions"] if caution.kind == "stopping distance")
    assert stop == pytest.approx(1.3 * 0.23 / 2)


SLOW = ("speed: 500 mm/s\n    stroke: 120 mm\n    " + LADDER, "speed: 300 mm/s\n    stroke: {}\n    ladder: {}\n")


def slow(case: Callable[..., Any], stroke: str, ladder: str) -> Any:
    """The plan of motor P to 300 mm/s with 1000 m/s³."""
    comparison = jerky("1000 m/s³", (SLOW[0], SLOW[1].format(stroke, ladder)))
    return sheet(case(comparison))["diagonal"]["candidates"]["p"]


def test_a_stroke_too_short_for_the_jerk_leaves_no_ladder(case: Callable[..., Any]) -> None:
    # 2·0.3·√(0.3/1000) = 10.3923 mm is the shortest stroke to 0.3 m/s, whatever the acceleration
    found = slow(case, "10 mm", "{start: 10 m/s², rung: 1 m/s²}")
    rungs = np.arange(10.0, 60.0)

    assert not np.any(find_reachable(plan_moves(np.full(50, 0.3), rungs, 0.010, 1000.0)))
    assert found["ladder"] is None
    assert found["why"] == "with this jerk no rung reaches 300 mm/s on a stroke of less than 10.4 mm"


def test_rungs_that_no_ramp_reaches_leave_no_ladder(case: Callable[..., Any]) -> None:
    found = slow(case, "120 mm", "{start: 20 m/s², rung: 1 m/s²}")

    assert found["ladder"] is None
    assert found["why"] == "with this jerk a ramp to 300 mm/s reaches 17.3 m/s² at most, and the lowest rung is 20 m/s²"


def test_no_rung_between_what_the_stroke_and_what_the_jerk_allow(case: Callable[..., Any]) -> None:
    # 0.3·(0.3/a + a/1000) = 10.4 mm from 16.66 m/s² on, and 17.32 m/s² is the most: rungs of 5 m/s² miss both
    found = slow(case, "10.4 mm", "{start: 5 m/s², rung: 5 m/s²}")

    assert (found["ladder"].start, found["ladder"].stop) == (15.0, 15.0)
    assert found["reachable"] == pytest.approx(16.66, abs=0.01)
    assert found["stroke_needed"] == pytest.approx(0.3 * 0.035)
    assert found["stroke_enough"] is False


def test_a_ladder_that_stops_below_what_the_stroke_allows_is_too_long(case: Callable[..., Any]) -> None:
    # trial fast needs 18.75 m/s² on its stroke
    for plan in sheet(case(laddered("ladder: {start: 10 m/s², rung: 1 m/s², stop: 18 m/s²}\n")))["fast"][
        "candidates"
    ].values():
        assert (plan["ladder"].start, plan["ladder"].stop) == (18.0, 18.0)
        assert plan["stroke_enough"] is False


def test_the_stopping_distance_is_that_of_the_gentlest_rung(plans: Sheet) -> None:
    # 0.5²/2a is longest at the first rung of an acceleration ladder
    for plan in plans["diagonal"]["candidates"].values():
        stop = next(caution.value for caution in plan["cautions"] if caution.kind == "stopping distance")
        assert stop == pytest.approx(0.125 / plan["ladder"].start)


def test_no_prediction_no_ladder(case: Callable[..., Any]) -> None:
    # at 100 m/s on this path the motors give no torque at all
    text = ("speed: 500 mm/s\n    stroke: 120 mm\n    " + LADDER, "speed: 100 m/s\n")
    plan = sheet(case(reference(text)))["diagonal"]

    for each in plan["candidates"].values():
        assert each["ladder"] is None and each["why"]
        assert set(each) == {
            "ladder", "why", "expected_low", "expected_high", "stroke_needed", "stroke_enough",
            "stroke_beyond", "reachable", "ramp_peak", "duration", "rail_rung", "cautions",
        }  # fmt: skip


def test_the_sheet_says_what_each_trial_is(plans: Sheet) -> None:
    assert plans["diagonal"]["what"] == "acceleration at 500 mm/s along the diagonal of x and y"


def test_the_last_rung_that_the_rail_bears_is_named(case: Callable[..., Any]) -> None:
    def plans_at(limit: str) -> Sheet:
        return sheet(case(reference(("voltage_limit: 50 V", f"voltage_limit: {limit}"))))

    tops = {limit: plans_at(limit)["top"]["candidates"]["p"] for limit in ("58 V", "59 V", "60 V")}
    ladder = tops["59 V"]["ladder"]
    peak = next(row.value for row in tops["59 V"]["cautions"] if row.kind == "supply peak")

    # the energy of a stop goes with the square of the speed: from the peak at the top rung back to 59 V
    bearable = ladder.stop * math.sqrt((59**2 - 48**2) / (peak**2 - 48**2))
    assert ladder.start <= tops["59 V"]["rail_rung"] <= bearable < tops["59 V"]["rail_rung"] + ladder.fine
    assert (tops["59 V"]["rail_rung"] - 0.5) / 0.05 == pytest.approx(round((tops["59 V"]["rail_rung"] - 0.5) / 0.05))
    assert tops["58 V"]["rail_rung"] is None, "the first rung is too much"
    assert tops["60 V"]["rail_rung"] == pytest.approx(ladder.stop)
    assert plans_at("59 V")["diagonal"]["candidates"]["p"]["rail_rung"] is None
