"""The worst figures over all trials and ladders, by the formulas of energy at the worst move."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest
from reading import LADDER, reference

from generator.evaluation.bench_sheet import plan_bench
from generator.evaluation.cautions import fastest_move, find_cautions
from generator.evaluation.trials import measure_trials

INERTIA, RHO = 82e-7, 0.04 / math.tau


def worst(case: Any, plans: Sequence[Any] = ()) -> dict[tuple[str, str], dict[str, Any]]:
    """The cautions of the trials alone, or with plans, by candidate and kind."""
    comparison, hardware, predictions = case
    found = {(c["candidate"], c["kind"]): c for c in find_cautions(comparison, hardware, predictions, plans)}
    assert all(c["axis"] is None for c in found.values())
    return found


def planned(case: Any) -> Sequence[Any]:
    comparison, hardware, predictions = case
    return plan_bench(comparison, hardware, predictions, measure_trials(comparison))


def test_energy_is_that_of_the_fastest_trial(bare: Any) -> None:
    # trial top reaches √3 m/s along the diagonal: ½·(0.35 + 0.65)/2·v² and one rotor at √2·v/ρ
    speed = math.sqrt(3.0)
    expected = 0.5 * 0.5 * speed**2 + 0.5 * INERTIA * (math.sqrt(2) * speed / RHO) ** 2
    found = worst(bare)["p", "moving energy"]

    assert found["value"] == pytest.approx(expected)
    assert found["trial"] == "top"
    assert worst(bare)["p", "supply peak"]["value"] == pytest.approx(math.sqrt(48**2 + 2 * expected / 2200e-6))
    assert worst(bare)["p", "supply peak"]["limit"] == 50.0


def test_the_worst_trial_need_not_be_the_last(case: Callable[..., Any]) -> None:
    # at 1 m/s² the stroke lets trial top reach √0.3 m/s only; trial fast moves 0.35 kg and two rotors at 1.5 m/s
    found = worst(case(reference(("acceleration: 10 m/s²", "acceleration: 1 m/s²"))))["p", "moving energy"]

    assert found["trial"] == "fast"
    assert found["value"] == pytest.approx(0.5 * 0.35 * 1.5**2 + 2 * 0.5 * INERTIA * (1.5 / RHO) ** 2)


def test_losses_are_per_motor(bare: Any) -> None:
    # R·Î² at the full current, a quarter of it at half the current
    assert worst(bare)["p", "winding loss"]["value"] == pytest.approx(1.2 * 2.5**2)
    assert worst(bare)["p", "standstill loss"]["value"] == pytest.approx(1.2 * 2.5**2 / 4)
    assert worst(bare)["q", "winding loss"]["value"] == pytest.approx(1.7 * 2.0**2)


def test_run_out_is_longest_on_the_gentlest_rung(bare: Any) -> None:
    # trials: 0.5 m/s at 20, 1.5 m/s at 20 and √3 m/s at 10 m/s²: v²/2a = 0.15 m at most
    found = worst(bare)["p", "stopping distance"]

    assert found["value"] == pytest.approx(3.0 / 20)
    assert found["trial"] == "top"


def test_one_entry_per_candidate_and_kind(bare: Any) -> None:
    comparison, hardware, predictions = bare
    for plans in ((), planned(bare)):
        found = find_cautions(comparison, hardware, predictions, plans)
        assert len(found) == len(worst(bare, plans)) == 2 * 7


def test_the_top_rung_of_the_bench_sheet_counts(case: Callable[..., Any]) -> None:
    # without a stroke torque ends the climb, whose last rung then lies beyond the nominal limit
    bare = case(reference(("    stroke: 300 mm\n", "")))
    plans = planned(bare)
    (nominal,) = (p.static.nominal for p in bare[2] if (p.trial, p.candidate) == ("top", "p"))
    top = next(plan for plan in plans if plan["trial"] == "top")["candidates"]["p"]["ladder"].stop
    # as above, at the top rung: no reader of the cautions may find a worse figure on the bench sheet
    energy = 0.5 * 0.5 * top**2 + 0.5 * INERTIA * (math.sqrt(2) * top / RHO) ** 2
    found = worst(bare, plans)

    assert top > nominal
    assert found["p", "moving energy"]["value"] == pytest.approx(energy)
    assert found["p", "supply peak"]["value"] == pytest.approx(math.sqrt(48**2 + 2 * energy / 2200e-6))
    assert (found["p", "supply peak"]["trial"], found["p", "supply peak"]["rung"]) == ("top", top)
    assert found["p", "winding loss"]["rung"] is None
    for plan in plans:
        for own in plan["candidates"].values():
            for caution in own["cautions"]:
                assert caution.value <= found[caution.candidate, caution.kind]["value"]


def test_the_longest_stop_of_a_ladder_is_that_of_its_first_rung(case: Callable[..., Any]) -> None:
    # a trial without a ladder of its own: the bench sheet starts below the any-timing line, where a stop is longer
    bare = case(reference(("    " + LADDER, "")))
    plans = [plan for plan in planned(bare) if plan["trial"] == "diagonal"]
    first = plans[0]["candidates"]["q"]["ladder"].start
    trials = (bare[0].trials[0],)
    only = (replace(bare[0], trials=trials), bare[1], [p for p in bare[2] if p.trial == "diagonal"])
    found = worst(only, plans)["q", "stopping distance"]

    assert found["value"] == pytest.approx(0.5**2 / (2 * first))
    assert (found["trial"], found["rung"]) == ("diagonal", first)


def test_axes_that_a_steady_force_moves_come_first_and_need_no_trial(case: Callable[..., Any]) -> None:
    text = ("y: {moving_mass: 650 g}", "y: {moving_mass: 650 g, steady_force: -9.80665 N}")
    comparison, hardware, predictions = case(reference(text))
    found = find_cautions(comparison, hardware, predictions, ())

    assert [(c["candidate"], c["kind"], c["axis"], c["value"], c["trial"]) for c in found[:3]] == [
        ("p", "steady force", "y", 9.80665, None),
        ("q", "steady force", "y", 9.80665, None),
        ("p", "moving energy", None, found[2]["value"], "top"),
    ]
    assert found[0]["at"]["mass"] == pytest.approx(1.0)
    assert find_cautions(replace(comparison, trials=()), hardware, [], ()) == found[:2]


def test_a_ladder_that_all_have_climbed_asks_for_no_more(case: Callable[..., Any]) -> None:
    runs = "runs: {p: [{held: 1.3 m/s, lost: 1.35 m/s}], q: [{held: 1.3 m/s, lost: 1.35 m/s}]}\n"
    ladder = "ladder: {start: 500 mm/s, rung: 50 mm/s}\n"
    found = case(reference((ladder, f"{ladder}    {runs}")))
    plans = [plan for plan in planned(found) if plan["trial"] == "top"]

    assert worst(found, plans) == worst(found)


def test_a_held_run_beyond_the_prediction_counts(case: Callable[..., Any]) -> None:
    ladder = "ladder: {start: 500 mm/s, rung: 50 mm/s}\n"
    run = f"{ladder}    runs: {{q: [{{held: 1.6 m/s, lost: 1.65 m/s}}]}}\n"
    comparison, _, predictions = case(reference((ladder, run)))
    (prediction,) = [p for p in predictions if (p.trial, p.candidate) == ("top", "q")]

    assert prediction.static.nominal < 1.6
    assert fastest_move(comparison.trials[2], prediction) == (1.6, 10.0)


def test_without_a_ladder_the_gentlest_limit_stops_the_move(case: Callable[..., Any]) -> None:
    comparison, _, predictions = case(reference(("    " + LADDER, "")))

    assert fastest_move(comparison.trials[0], predictions[0]) == (0.5, predictions[0].any_timing.nominal)
