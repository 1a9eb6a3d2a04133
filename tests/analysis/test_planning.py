"""The bench sheet's arithmetic: sample size against tables and a library, the ladder against a simulated climb."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from scipy.stats import chi2, norm
from scipy.stats import t as student
from statsmodels.stats.power import TTestIndPower

from generator.analysis.planning import (
    LadderPlan,
    find_called_difference,
    find_duration,
    find_power,
    find_runs_needed,
    plan_ladder,
    plan_order,
)

# Cohen, Statistical Power Analysis, 2nd ed. 1988, table 2.4.1: two-sided 5 %, power 80 %, effect and n per sample;
# the same figures are in Cohen 1992, Psychol. Bull. 112:155, table 2 (393, 64, 26)
COHEN = [(0.5, 64), (0.8, 26)]


@pytest.mark.parametrize(("effect", "count"), COHEN)
def test_sample_sizes_of_cohen(effect: float, count: int) -> None:
    assert find_runs_needed(effect, 1.0, confidence=0.95, power=0.80) == count


@pytest.mark.parametrize("effect", [0.3, 0.7, 1.0, 1.5, 2.0, 3.0])
@pytest.mark.parametrize(("confidence", "power"), [(0.95, 0.8), (0.99, 0.9)])
def test_sample_sizes_of_a_library(effect: float, confidence: float, power: float) -> None:
    needed = find_runs_needed(effect, 1.0, confidence=confidence, power=power)

    assert needed is not None
    library = TTestIndPower()
    alpha = (1 - confidence) / 2
    reached = [library.power(effect, n, alpha, alternative="larger") for n in (max(needed - 1, 2), needed)]
    assert reached[1] >= power
    assert needed == 2 or reached[0] < power
    assert find_power(effect, 1.0, needed, confidence) == pytest.approx(reached[1], rel=1e-8)


@pytest.mark.parametrize(("runs", "rung"), [(2, 0.0), (4, 0.1), (6, 0.5), (20, 0.1)])
def test_the_difference_that_is_called_by_simulation(runs: int, rung: float) -> None:
    """20,000 made-up pairs of normal runs, put to the rule of a call with equal scatter."""
    matters, scatter = 2.0, 1.0
    true = find_called_difference(matters, scatter, runs, rung)
    random = np.random.default_rng([runs, int(10 * rung)])
    resolved = max(scatter, rung / math.sqrt(12))
    sides = random.normal([[true], [0.0]], resolved, (20_000, 2, runs))
    estimate = sides[:, 0].mean(axis=1) - sides[:, 1].mean(axis=1)
    pooled = np.sqrt(sides.var(axis=2, ddof=1).mean(axis=1))
    half = student.ppf(0.995, 2 * (runs - 1)) * pooled * math.sqrt(2 / runs)

    share = float(np.mean((estimate > matters) & (estimate > half)))
    assert share == pytest.approx(0.9, abs=4 * math.sqrt(0.9 * 0.1 / 20_000))


def test_runs_needed_has_limits() -> None:
    assert find_runs_needed(1.0, 0.0) == 2
    assert find_runs_needed(1.0, 0.1, rung=1.0) is None  # the rung is no finer than what matters
    assert find_runs_needed(0.01, 1.0) is None  # not in a thousand runs
    fine, coarse = find_runs_needed(2.0, 0.3, rung=0.5), find_runs_needed(2.0, 0.3, rung=1.9)
    assert fine is not None and coarse is not None and fine < coarse


@pytest.mark.parametrize(("low", "start"), [(30.0, 29.0), (30.5, 30.0), (2.0, 1.0), (1.0, 1.0), (0.3, 1.0)])
def test_a_ladder_starts_on_the_last_rung_below_the_lowest_limit(low: float, start: float) -> None:
    assert plan_ladder(low, 60.0, 1.0).start == start


def climb(plan: LadderPlan, limit: float) -> list[float]:
    """Rungs that a tester would try: up in coarse rungs, the stop at last, then in fine ones from the last held."""
    tried, held, at = [], None, plan.start
    while True:
        tried.append(at)
        if at > limit or at >= plan.stop:
            break
        held, at = at, min(at + plan.coarse, plan.stop)
    lost = at
    if held is None or lost <= limit:
        return tried
    at = held + plan.fine
    while at < lost - plan.fine / 2:
        tried.append(at)
        if at > limit:
            break
        at += plan.fine
    return tried


RANGES = [(20.0, 60.0, 1.0), (18.3, 58.0, 0.5), (0.8, 1.9, 0.05), (5.0, 6.0, 2.0), (30.0, 31.0, 0.25)]


@pytest.mark.parametrize(("low", "high", "fine"), RANGES)
def test_expected_moves_as_simulated(low: float, high: float, fine: float) -> None:
    plan = plan_ladder(low, high, fine, moves_per_rung=4)
    random = np.random.default_rng(1)

    tried = [len(climb(plan, limit)) for limit in random.uniform(low, high, 4000)]

    assert np.mean(tried) == pytest.approx(plan.expected_rungs, abs=4 * np.std(tried) / math.sqrt(4000) + 1e-9)
    assert max(tried) <= plan.most_rungs
    assert (plan.expected_moves, plan.most_moves) == (4 * plan.expected_rungs, 4 * plan.most_rungs)


@pytest.mark.parametrize(("low", "high", "fine"), RANGES)
def test_no_other_coarse_rung_needs_fewer_moves(low: float, high: float, fine: float) -> None:
    plan = plan_ladder(low, high, fine)
    limits = np.linspace(low, high, 2001)[:-1] + (high - low) / 4000

    def mean_of(ratio: int) -> float:
        other = LadderPlan(plan.start, ratio * fine, fine, math.inf, 0.0, 0, 0.0, 0)
        return float(np.mean([len(climb(other, limit)) for limit in limits]))

    best = min(mean_of(ratio) for ratio in range(1, 15))
    assert mean_of(round(plan.coarse / fine)) <= best + 0.02


@pytest.mark.parametrize(("low", "high", "fine"), RANGES)
def test_a_ladder_starts_below_and_ends_above(low: float, high: float, fine: float) -> None:
    plan = plan_ladder(low, high, fine)

    assert plan.start > 0 and (plan.start < low or plan.start == fine)
    assert plan.stop >= high or plan.stop == pytest.approx(high)
    assert plan.start / fine == pytest.approx(round(plan.start / fine))
    assert plan.coarse / fine == pytest.approx(round(plan.coarse / fine))


OWN_LADDERS = [
    (20.0, 60.0, 1.0, 10.0, 45.0),
    (18.3, 58.0, 0.5, 10.25, 40.0),
    (0.8, 1.9, 0.05, 0.61, 1.33),
    (30.0, 60.0, 1.0, 10.0, 25.0),
    (5.0, 30.0, 1.0, 12.0, None),
    (5.0, 9.0, 1.0, 12.0, 40.0),
    (5.0, 9.0, 2.0, 4.0, 5.0),
]
"""Expected range, fine rung, and the first and last rung that the tester allows."""


@pytest.mark.parametrize(("low", "high", "fine", "first", "last"), OWN_LADDERS)
def test_a_plan_keeps_to_the_ladder_that_is_given(
    low: float, high: float, fine: float, first: float, last: float | None
) -> None:
    plan = plan_ladder(low, high, fine, 1, first, last)
    highest = math.inf if last is None else last

    for rung in (plan.start, plan.stop):
        assert (rung - first) / fine == pytest.approx(round((rung - first) / fine))
        assert first <= rung <= highest + 1e-9
    assert plan.start < low or plan.start == first or plan.stop - plan.start <= fine
    assert plan.stop >= high or plan.stop > highest - fine


@pytest.mark.parametrize(("low", "high", "fine", "first", "last"), OWN_LADDERS)
def test_expected_moves_on_a_given_ladder_as_simulated(
    low: float, high: float, fine: float, first: float, last: float | None
) -> None:
    plan = plan_ladder(low, high, fine, 4, first, last)
    random = np.random.default_rng(1)

    tried = [climb(plan, limit) for limit in random.uniform(low, high, 4000)]

    counts = [len(rungs) for rungs in tried]
    assert np.mean(counts) == pytest.approx(plan.expected_rungs, abs=4 * np.std(counts) / math.sqrt(4000) + 1e-9)
    assert max(counts) <= plan.most_rungs
    assert max(max(rungs) for rungs in tried) <= (math.inf if last is None else last + 1e-9)
    assert (plan.expected_moves, plan.most_moves) == (4 * plan.expected_rungs, 4 * plan.most_rungs)


def test_a_stop_beyond_the_expected_range_changes_nothing() -> None:
    assert plan_ladder(20.0, 60.0, 1.0, 1, 1.0, 90.0) == plan_ladder(20.0, 60.0, 1.0)


def test_order_of_runs() -> None:
    assert plan_order(["a", "b"], 4) == ("a", "b", "b", "a", "a", "b", "b", "a")
    assert plan_order(["a", "b", "c"], 2) == ("a", "b", "c", "c", "b", "a")


@pytest.mark.parametrize("candidates", [["a", "b"], ["a", "b", "c"], ["a", "b", "c", "d"]])
@pytest.mark.parametrize("runs", [2, 4, 6])
def test_an_even_order_averages_out_a_steady_drift(candidates: list[str], runs: int) -> None:
    order = plan_order(candidates, runs)
    places = {name: [place for place, other in enumerate(order) if other == name] for name in candidates}

    assert Counter(order) == dict.fromkeys(candidates, runs)
    assert len({float(np.mean(row)) for row in places.values()}) == 1


def test_time_of_moves() -> None:
    # 40 moves of 0.21 s with a pause of 1 s after each
    assert find_duration(40, 0.21, 1.0) == pytest.approx(48.4)


@pytest.mark.parametrize("ratio", np.geomspace(0.5, 100, 12))
def test_runs_needed_are_the_fewest_whatever_the_ratio(ratio: float) -> None:
    """Against a chance worked out by a general library's integration of the normal over the scatter found."""

    def chance(runs: int) -> float:
        freedom, shift = 2 * (runs - 1), ratio * math.sqrt(runs / 2)
        t = student.ppf(0.995, freedom)
        found = chi2.ppf((np.arange(20_000) + 0.5) / 20_000, freedom)
        return float(np.mean(norm.cdf(shift - t * np.sqrt(found / freedom))))

    fewest = next((runs for runs in range(2, 400) if chance(runs) >= 0.9), None)

    assert find_runs_needed(ratio, 1.0) == fewest


def test_a_chance_is_a_number_for_any_number_of_runs() -> None:
    chances = [find_power(2.0, 0.577, runs, 0.99) for runs in range(2, 1001)]

    assert all(0 <= chance <= 1 for chance in chances)
    assert chances == sorted(chances)
    assert find_runs_needed(2.0, 0.577, 1.0) == 5
