"""Measured limits beside predictions: worked by hand from the runs of the file."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from reading import LADDER, measured, reference

from generator.evaluation.trials import agree, compare_trials, find_drifts, listed_runs, measure_trials

T_975 = {2: 4.302653, 4: 2.776445}
"""Quantiles of Student's t, from the table of JCGM 100:2008, annex G."""
TRIES = """ladder: {start: 20 m/s², rung: 1 m/s²}
    attempts:
      p: [{at: 30 m/s², held: 5, lost: 0}, {at: 31 m/s², held: 3, lost: 2}, {at: 32 m/s², held: 0, lost: 5}]
"""


def test_three_brackets_by_hand() -> None:
    # mid-points 31.5, 33.5, 32.5: mean 32.5, s = 1, u = s/√3, ν = 2
    found = measure_trials(measured())["diagonal"]["p"]
    half = T_975[2] / math.sqrt(3)

    assert (found.kind, found.method, found.count) == ("bracketed", "runs", 3)
    assert found.estimate == pytest.approx(32.5)
    assert found.standard_uncertainty == pytest.approx(1 / math.sqrt(3))
    assert found.degrees_of_freedom == 2
    assert (found.low, found.high) == pytest.approx((32.5 - half, 32.5 + half), abs=1e-5)


def test_only_measured_candidates_are_listed() -> None:
    runs = "\n    runs:\n      q: [{held: 25 m/s², lost: 26 m/s²}]\n"
    found = measure_trials(reference((LADDER, LADDER.rstrip() + runs)))

    assert list(found) == ["diagonal", "fast", "top"]
    assert list(found["diagonal"]) == ["q"]
    assert (found["diagonal"]["q"].low, found["diagonal"]["q"].high) == (25.0, 26.0)
    assert found["fast"] == found["top"] == {}


def test_difference_is_first_minus_second_with_pooled_scatter() -> None:
    # mid-points of q 25.5, 26.5, 24.5: s = 1 too; D = 32.5 − 25.5 = 7, u = √(2/3), ν = 4
    comparison = measured()
    (found,) = compare_trials(comparison, measure_trials(comparison))
    half = T_975[4] * math.sqrt(2 / 3)

    assert (found.item, found.between, found.kind) == ("diagonal", ("p", "q"), "acceleration")
    assert found.difference == pytest.approx(7.0)
    assert (found.low, found.high) == pytest.approx((7.0 - half, 7.0 + half), abs=1e-5)
    assert found.matters is None


def test_what_matters_is_a_share_of_the_mean() -> None:
    comparison = measured(end="matters: {kinds: {acceleration: 10 %}}\n")
    (found,) = compare_trials(comparison, measure_trials(comparison))

    assert found.matters == pytest.approx(0.10 * (32.5 + 25.5) / 2)
    assert found.call == "p ahead"


def test_scatter_of_other_trials_serves_single_runs() -> None:
    # one run each in trial fast; trial diagonal's relative scatter is 1/32.5 and 1/25.5, about 3.5 %
    single = "\n    runs:\n      p: [{held: 90 m/s², lost: 91 m/s²}]\n      q: [{held: 24 m/s², lost: 25 m/s²}]\n"
    text = ("speed: 1.5 m/s\n    stroke: 120 mm\n    " + LADDER, "speed: 1.5 m/s\n    " + LADDER.rstrip() + single)
    comparison = measured(text, end="matters: {kinds: {acceleration: 10 %}}\n")
    _, fast = compare_trials(comparison, measure_trials(comparison))

    assert (fast.item, fast.call) == ("fast", "p ahead")


def test_agreement_takes_the_ratio_to_the_nominal_static_limit(case: Callable[..., Any]) -> None:
    comparison, _, predictions = case(measured())
    found = {a.candidate: a for a in agree(predictions, measure_trials(comparison))}

    # 79.451 and 43.276 m/s² are the reference table's limits
    assert found["p"].ratio == pytest.approx(32.5 / 79.451, rel=1e-5)
    assert found["q"].ratio == pytest.approx(25.5 / 43.276, rel=1e-5)
    assert set(found) == {"p", "q"}


def test_runs_are_listed_as_written() -> None:
    comparison = measured(("lost: 32 m/s², order: 1}", "lost: 32 m/s², order: 1, note: warm}"))

    listed = listed_runs(comparison.trials[0], "p")

    assert listed[0] == {"held": 31.0, "lost": 32.0, "stopped": None, "order": 1, "time": None, "note": "warm"}
    assert len(listed) == 3
    assert listed_runs(comparison.trials[1], "p") == []


def test_tries_are_listed_as_written() -> None:
    comparison = reference((LADDER, TRIES))

    assert listed_runs(comparison.trials[0], "p")[1] == {"at": 31.0, "held": 3, "lost": 2}
    assert measure_trials(comparison)["diagonal"]["p"].method == "attempts"


def test_drift_needs_five_ordered_runs() -> None:
    rising = ", ".join(f"{{held: {30 + k} m/s², lost: {31 + k} m/s², order: {k + 1}}}" for k in range(6))
    three = ", ".join(f"{{held: {30 + k} m/s², lost: {31 + k} m/s², order: {k + 7}}}" for k in range(3))
    comparison = reference((LADDER, f"{LADDER.rstrip()}\n    runs:\n      p: [{rising}]\n      q: [{three}]\n"))

    p, q = find_drifts(comparison)

    # six runs in rising order: ρ = 1, and 2 of 6! orders are as extreme
    assert (p.candidate, p.count, p.correlation) == ("p", 6, pytest.approx(1.0))
    assert p.probability == pytest.approx(2 / math.factorial(6))
    assert p.found is True
    assert (q.count, q.found) == (3, None)
