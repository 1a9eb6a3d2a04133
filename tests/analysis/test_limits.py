"""Limits from runs: hand-worked cases, bounds, scaling laws, and the coverage of their intervals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.analysis.limits import BOUND, CEILING, CENSORED, MEAN, ONE_RUN, find_limits
from generator.records.findings import Measurement
from generator.records.trial import Attempts, Run, Trial

TRIAL = Trial("diagonal", "acceleration", (1.0, 0.0), {"x": 1.0}, speed=0.5)


def limit_of(*runs: Run) -> Measurement:
    found = find_limits(replace(TRIAL, runs={"a": runs}), ["a"])["a"]
    assert found is not None
    return found


def brackets(*held: float, rung: float = 1.0) -> tuple[Run, ...]:
    return tuple(Run(at, at + rung) for at in held)


def test_three_runs_by_hand() -> None:
    # mid-points 31.5, 33.5, 32.5: mean 32.5, s = 1, u = 1/√3, t(2) = 4.3027: ± 2.484
    found = limit_of(*brackets(31, 33, 32))

    assert (found.kind, found.count, found.basis) == ("bracketed", 3, MEAN)
    assert found.estimate == 32.5
    assert found.scatter == pytest.approx(1.0)
    assert found.standard_uncertainty == pytest.approx(1 / math.sqrt(3))
    assert found.degrees_of_freedom == 2
    assert found.low == pytest.approx(32.5 - 2.4841, abs=1e-4)
    assert found.high == pytest.approx(32.5 + 2.4841, abs=1e-4)


def test_equal_runs_keep_the_resolution() -> None:
    # u of a rectangle one rung wide over √n (GUM F.2.2.1); never narrower than the bracket itself
    found = limit_of(*brackets(*[40] * 8))

    assert found.standard_uncertainty == pytest.approx(1 / math.sqrt(12 * 8))
    assert (found.low, found.high) == (40.0, 41.0)


def test_one_run_is_its_bracket() -> None:
    found = limit_of(Run(77, 78))

    assert (found.estimate, found.low, found.high) == (77.5, 77, 78)
    assert (found.standard_uncertainty, found.degrees_of_freedom, found.basis) == (None, None, ONE_RUN)


def test_unequal_rungs_count_by_mean_square() -> None:
    found = limit_of(Run(30, 31), Run(30, 33))

    assert found.rung == pytest.approx(math.sqrt((1 + 9) / 2))


def test_never_lost_is_a_lower_bound() -> None:
    found = limit_of(Run(1.8, None, "stroke"), Run(1.9, None, "stroke"))

    assert (found.kind, found.at_least, found.bound_count) == ("lower bound", 1.8, 2)
    assert (found.estimate, found.low, found.reason, found.basis) == (None, None, "stroke", BOUND[0])


def test_a_single_bound_is_said_to_be_one_run_s() -> None:
    assert limit_of(Run(30.0, None, "stroke")).basis == BOUND[1]
    assert limit_of(Run(None, 20.0)).basis == CEILING[1]


def test_lost_on_the_first_rung_is_an_upper_bound() -> None:
    found = limit_of(Run(None, 20), Run(None, 20))

    assert (found.kind, found.at_most, found.at_least, found.basis) == ("upper bound", 20, None, CEILING[0])


def test_few_runs_beside_bounds_are_bounded() -> None:
    found = limit_of(Run(77, 78), Run(80, None, "heat"), Run(79, 80))

    assert (found.kind, found.at_least, found.bound_count) == ("lower bound", 77, 3)
    low = limit_of(Run(21, 22), Run(None, 20))
    assert (low.kind, low.at_most) == ("upper bound", 22)


def test_bounds_on_both_sides_settle_on_nothing() -> None:
    found = limit_of(Run(None, 20), Run(80, None))

    assert (found.kind, found.estimate, found.at_least, found.at_most) == ("bracketed", None, None, None)


def test_enough_brackets_beside_bounds_are_fitted() -> None:
    found = limit_of(*brackets(31, 33, 32, 30), Run(34, None, "stroke"))
    without = limit_of(*brackets(31, 33, 32, 30))

    assert (found.kind, found.basis, found.bound_count, found.degrees_of_freedom) == ("bracketed", CENSORED, 1, 3)
    assert found.estimate is not None and without.estimate is not None
    assert found.estimate > without.estimate
    assert limit_of(*brackets(31, 31, 32, 32), Run(34, None)).kind == "lower bound"  # two rungs are too few to fit


def test_order_of_candidates_and_the_missing() -> None:
    trial = replace(TRIAL, runs={"b": brackets(3), "a": brackets(4)}, attempts={"c": (Attempts(4, 2, 0),)})

    found = find_limits(trial, ["a", "b", "c", "d"])

    assert list(found) == ["a", "b", "c", "d"]
    assert found["d"] is None
    assert found["c"] is not None and found["c"].at_least == 4


RUNS = st.lists(st.integers(10, 60), min_size=1, max_size=10)


@settings(derandomize=True, deadline=None)
@given(held=RUNS, factor=st.sampled_from([1e-3, 0.5, 2.0, 1e3]))
def test_scaling_scales_everything(held: list[int], factor: float) -> None:
    plain = limit_of(*brackets(*held))
    scaled = limit_of(*(Run(at * factor, (at + 1) * factor) for at in held))

    for name in ("estimate", "low", "high", "rung"):
        assert getattr(scaled, name) == pytest.approx(factor * getattr(plain, name), rel=1e-9)


@settings(derandomize=True, deadline=None)
@given(held=RUNS)
def test_the_order_of_runs_does_not_matter(held: list[int]) -> None:
    assert limit_of(*brackets(*held)) == limit_of(*brackets(*sorted(held)))


@settings(derandomize=True, deadline=None)
@given(held=st.lists(st.integers(10, 60), min_size=2, max_size=10))
def test_an_interval_holds_its_estimate_and_a_rung(held: list[int]) -> None:
    found = limit_of(*brackets(*held))

    assert found.low is not None and found.high is not None and found.estimate is not None
    assert found.low < found.estimate < found.high
    assert found.high - found.low >= 1.0 - 1e-12


@pytest.mark.parametrize("count", [2, 3, 5, 8])
@pytest.mark.parametrize("rung", [0.2, 0.5, 1.0, 2.0, 5.0])
def test_coverage_of_run_intervals(count: int, rung: float) -> None:
    """At least 94 % for any rung, 94 to 97 % where it is no coarser than the scatter, beyond four standard errors."""
    random = np.random.default_rng([count, int(10 * rung)])
    trials, inside = 1500, 0
    for _ in range(trials):
        truth = 40 + random.uniform(0, rung)
        held = np.floor(random.normal(truth, 1.0, count) / rung) * rung
        found = limit_of(*brackets(*held.tolist(), rung=rung))
        assert found.low is not None and found.high is not None
        inside += found.low <= truth <= found.high

    noise = 4 * math.sqrt(0.95 * 0.05 / trials)
    assert inside / trials >= 0.94 - noise
    if rung <= 1:
        assert inside / trials <= 0.97 + noise
