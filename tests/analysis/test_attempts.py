"""Attempts: the logistic fit against a statistics library, separation, and bounds."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import brentq, minimize_scalar

from generator.analysis.attempts import FIT, NO_FALL, ONE_MIXED, SEPARATED, Counts, find_attempts_limit, fit_logistic
from generator.analysis.tinterval import find_t_factor
from generator.records.findings import Measurement
from generator.records.trial import Attempts

BLANK = Measurement("diagonal", "a", "acceleration", "m/s^2", "bracketed", 0)

# Gorla et al. 2017, Table 9 (staircase, step 1 kN): level, failure; as held (no failure) and lost per level
LEVELS = [36, 35, 36, 37, 38, 39, 38, 37, 38, 37, 36, 35, 36, 37, 36]
FAILED = [1, 0, 0, 0, 0, 1, 1, 0, 1, 1, 1, 0, 0, 1, 1]


def find(*attempts: tuple[float, int, int]) -> Measurement:
    return find_attempts_limit(BLANK, [Attempts(*attempt) for attempt in attempts])


def staircase() -> list[tuple[float, int, int]]:
    rungs = sorted(set(LEVELS))
    failures = {at: [y for x, y in zip(LEVELS, FAILED, strict=True) if x == at] for at in rungs}
    return [(at, failures[at].count(0), failures[at].count(1)) for at in rungs]


SETS = [
    staircase(),
    [(40, 5, 0), (44, 4, 1), (48, 1, 4)],
    [(40, 9, 1), (42, 7, 3), (44, 6, 4), (46, 2, 8), (48, 1, 9)],
]


def library_fit(attempts: list[tuple[float, int, int]]) -> tuple[float, float]:
    """50 % point and slope of a general linear model with binomial counts and logit link."""
    at = np.array([float(rung) for rung, _, _ in attempts])
    held_lost = np.array([[held, lost] for _, held, lost in attempts])
    fit = sm.GLM(held_lost, sm.add_constant(at), family=sm.families.Binomial()).fit(tol=1e-13, maxiter=200)
    return float(-fit.params[0] / fit.params[1]), float(-fit.params[1])


@pytest.mark.parametrize("attempts", SETS, ids=range(len(SETS)))
def test_logistic_fit_as_a_library(attempts: list[tuple[float, int, int]]) -> None:
    rows = np.array(attempts, dtype=float)

    half, slope = fit_logistic(Counts(rows[:, 0], rows[:, 1], rows[:, 1] + rows[:, 2]))

    expected_half, expected_slope = library_fit(attempts)
    assert half == pytest.approx(expected_half, rel=1e-9)
    assert slope == pytest.approx(expected_slope, rel=1e-8)


def test_staircase_lies_with_other_estimators() -> None:
    # the same run: Dixon & Mood 36.79, probit likelihood 36.53, isotonic 36.27 (R package upndown prints 36.26829)
    found = find(*staircase())

    assert found.estimate == pytest.approx(36.53, abs=0.1)
    assert found.basis == FIT


def test_profile_interval_by_another_road() -> None:
    """Ends found again from the likelihood written out and a general optimiser over the slope."""
    attempts = SETS[2]

    def log_likelihood(half: float, slope: float) -> float:
        shares = [1 / (1 + math.exp(slope * (at - half))) for at, _, _ in attempts]
        return sum(h * math.log(p) + n * math.log1p(-p) for (_, h, n), p in zip(attempts, shares, strict=True))

    def profile(half: float) -> float:
        return -minimize_scalar(lambda slope: -log_likelihood(half, slope), bounds=(1e-6, 2), method="bounded").fun

    found = find(*attempts)
    freedom = 50 - 2  # every rung lies between a rung below the lowest loss and a rung above the highest hold
    drop = find_t_factor(freedom) ** 2 / 2
    half, slope = library_fit(attempts)
    best = log_likelihood(half, slope)

    low = brentq(lambda at: best - profile(at) - drop, half - 6, half)
    high = brentq(lambda at: best - profile(at) - drop, half, half + 6)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-4)
    assert found.degrees_of_freedom == freedom


@pytest.mark.parametrize("rungs", [(20, 21, 22), (28.1, 28.2, 28.3), (0.1, 0.2, 0.3)])
def test_attempts_without_any_trend_do_not_settle_wherever_they_lie(rungs: tuple[float, ...]) -> None:
    found = find(*zip(rungs, (2, 3, 2), (3, 2, 3), strict=True))

    assert found.estimate is None or found.low is None or found.high is None


def test_separated_attempts_are_a_bracket() -> None:
    found = find((40, 5, 0), (44, 5, 0), (48, 0, 5), (52, 0, 5))

    assert (found.kind, found.estimate, found.basis) == ("attempts", 46.0, SEPARATED)
    assert found.low is not None and found.high is not None
    assert found.low < 44.5 and found.high > 47.5
    assert found.estimate - found.low == pytest.approx(found.high - found.estimate, rel=1e-6)


def test_one_mixed_rung_has_an_interval() -> None:
    found = find((40, 5, 0), (44, 5, 0), (48, 3, 2), (52, 0, 5))

    assert found.basis == ONE_MIXED
    assert found.estimate is not None and found.low is not None and found.high is not None
    assert 48 < found.estimate < 49  # more held than lost on the mixed rung: half-lost lies above it
    assert 44 < found.low < 48 < found.high < 52


def test_more_tries_narrow_the_interval() -> None:
    few, many = (
        find((40, 4, 0), (44, 3, 1), (48, 1, 3), (52, 0, 4)),
        find((40, 40, 0), (44, 30, 10), (48, 10, 30), (52, 0, 40)),
    )

    assert few.estimate == pytest.approx(many.estimate)
    assert few.high - few.low > 2 * (many.high - many.low)  # type: ignore[operator]


def test_nothing_lost_and_nothing_held_are_bounds() -> None:
    held = find((40, 5, 0), (44, 4, 0))
    lost = find((40, 0, 3), (44, 0, 2))

    assert (held.kind, held.at_least, held.bound_count, held.method) == ("lower bound", 44, 4, "attempts")
    assert (lost.kind, lost.at_most, lost.bound_count) == ("upper bound", 40, 3)


def test_rising_share_has_no_limit() -> None:
    found = find((40, 1, 4), (44, 3, 2), (48, 4, 1))

    assert (found.kind, found.estimate, found.basis) == ("attempts", None, NO_FALL)


def test_flat_shares_leave_an_end_open() -> None:
    found = find((40, 2, 1), (44, 2, 2), (48, 2, 2))

    assert found.low is None and found.standard_uncertainty is None


def test_tries_of_one_rung_add_up_in_any_order() -> None:
    assert find((44, 4, 1), (40, 5, 0), (48, 1, 4)) == find((48, 1, 2), (40, 5, 0), (44, 4, 1), (48, 0, 2))
