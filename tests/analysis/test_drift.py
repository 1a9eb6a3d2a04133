"""Rank correlation of runs with their order, against SciPy and published critical values."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
from scipy.stats import spearmanr

from generator.analysis.drift import find_drift, find_places, find_rank_correlation
from generator.records.trial import Run


def runs(*held: float, orders: list[int] | None = None) -> list[Run]:
    places = orders or list(range(1, len(held) + 1))
    return [Run(at, at + 1, order=place) for at, place in zip(held, places, strict=True)]


# Critical values of Spearman's ρ, two-sided 5 %, Zar, Biostatistical Analysis, Table B.20 (values from memory):
# n = 5 1.000, n = 6 0.886, n = 7 0.786, n = 8 0.738
CRITICAL = {5: 1.000, 6: 0.886, 7: 0.786, 8: 0.738}


@pytest.mark.parametrize(("count", "critical"), CRITICAL.items())
def test_critical_values(count: int, critical: float) -> None:
    random = np.random.default_rng(count)
    first = list(range(count))
    for _ in range(300):
        correlation, probability = find_rank_correlation(first, random.permutation(count).tolist())
        assert correlation is not None and probability is not None
        assert (probability <= 0.05) == (abs(correlation) >= critical - 5e-4)


@pytest.mark.parametrize("second", [[3, 1, 4, 2, 6, 5], [1, 1, 2, 3, 3, 3], [2, 7, 1, 8, 2, 8, 1]])
def test_exact_probability_as_scipy_permutes(second: list[float]) -> None:
    first = list(range(len(second)))

    correlation, probability = find_rank_correlation(first, second)

    assert correlation == pytest.approx(spearmanr(first, second).statistic)

    def statistic(row: np.ndarray) -> float:
        return float(abs(spearmanr(first, row).statistic))

    exact = [statistic(np.array(order)) for order in permutations(second)]
    assert probability == pytest.approx(np.mean([value >= abs(correlation or 0) - 1e-9 for value in exact]))


def test_many_runs_as_scipy() -> None:
    random = np.random.default_rng(3)
    first, second = list(range(15)), random.normal(size=15).tolist()

    assert find_rank_correlation(first, second) == pytest.approx(tuple(spearmanr(first, second)))
    assert find_rank_correlation(list(range(12)), list(range(12))) == pytest.approx((1.0, 2 / math.factorial(12)))


def test_a_rise_is_found() -> None:
    found = find_drift("diagonal", "a", runs(30, 31, 32, 33, 34))

    assert (found.found, found.correlation) == (True, pytest.approx(1.0))
    assert found.probability == pytest.approx(2 / math.factorial(5))  # two of the 120 orders are as extreme
    assert "rise" in found.statement


def test_a_fall_is_named() -> None:
    assert "fall" in find_drift("diagonal", "a", runs(36, 35, 34, 33, 32, 31)).statement


def test_no_drift_found() -> None:
    found = find_drift("diagonal", "a", runs(31, 33, 30, 34, 32))

    assert (found.found, found.statement) == (False, "no drift found")


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (runs(30, 31, 32, 33), "5 of a candidate are needed"),
        ([Run(30, 31)] * 6, "no order"),
        (runs(30, 31, 32, 33, 34, orders=[1, 2, 2, 3, 4]), "no order"),
    ],
)
def test_what_cannot_be_tested(made: list[Run], words: str) -> None:
    found = find_drift("diagonal", "a", made)

    assert (found.found, found.probability) == (None, None)
    assert words in found.statement


def test_equal_limits_do_not_drift() -> None:
    assert find_drift("diagonal", "a", runs(30, 30, 30, 30, 30)).found is False


def test_places_from_clock_times_and_dates() -> None:
    clock = [Run(1, 2, time=text) for text in ("9:05", "10:15", "10:15:30")]
    dates = [Run(1, 2, time=text) for text in ("2026-09-15T23:50", "2026-09-16 00:10")]

    assert find_places(clock) == [9 * 3600 + 300, 10 * 3600 + 900, 10 * 3600 + 930]
    places = find_places(dates)
    assert places is not None and places[1] - places[0] == 20 * 60
    assert find_places([Run(1, 2, time="after lunch")]) is None
    assert find_places([Run(1, 2, time="2026")]) is None  # a year, not 20:26
    assert find_places([Run(1, 2, order=1), Run(1, 2)]) is None


def test_places_heed_time_zones() -> None:
    dates = [Run(1, 2, time=f"2026-09-15 09:30{zone}") for zone in ("+02:00", "-05:00")]
    clock = [Run(1, 2, time=text) for text in ("9:30+02:00", "08:00Z")]

    places = find_places(dates)
    assert places is not None and places[1] - places[0] == 7 * 3600
    assert find_places(clock) == [7.5 * 3600, 8 * 3600]


@pytest.mark.parametrize(
    "times",
    [
        ("10:00", "2026-09-15 09:30", "10:30"),
        ("10:00", "10:30+02:00"),
        ("2026-09-15 09:30", "2026-09-15 09:30-05:00"),
    ],
)
def test_times_of_several_kinds_have_no_places(times: tuple[str, ...]) -> None:
    assert find_places([Run(1, 2, time=text) for text in times]) is None
