"""The limit at which half the attempts are lost, from several tries on each rung."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from generator.analysis.tinterval import CONFIDENCE, find_t_factor
from generator.records.findings import Measurement
from generator.records.trial import Attempts

FIT = "logistic fit of the attempts with the interval of its half-lost point"
SEPARATED = "attempts change from all held to all lost between two rungs: their bracket"
NO_FALL = "attempts were not held less often on higher rungs: no limit can be told"
ONE_MIXED = "one rung alone held some and lost some attempts: that rung, with the interval of the half-lost point"
NARROWEST = 1.0
"""Narrowest change from 90 to 10 % held that a fit may take, in rungs: attempts that do not overlap leave it open, and
with narrower ones the interval of few tries covers too little (simulated in generator.validation)."""

FARTHEST = 8
"""How far out an end of an interval is sought, in spans of the rungs tried."""


@dataclass(frozen=True)
class Counts:
    """Tries per rung: at [unit], held and total [1], as arrays in rising order of at."""

    at: NDArray[np.float64]
    held: NDArray[np.float64]
    total: NDArray[np.float64]

    @property
    def steepest(self) -> float:
        """Upper bound of the slope [1/unit]."""
        gaps = np.diff(self.at)
        gap = float(gaps.min()) if gaps.size else abs(float(self.at[0]))
        return 2 * math.log(9) / (NARROWEST * gap)


def find_attempts_limit(blank: Measurement, attempts: Sequence[Attempts]) -> Measurement:
    """Fill a blank measurement from tries on rungs.

    Parameters
    ----------
    blank : Measurement
        Names the item, the candidate, the quantity and the unit.
    attempts : sequence of Attempts
        At least one rung with at least one try [unit of blank].

    Returns
    -------
    Measurement
        kind ``attempts`` with the 50 % point of a logistic curve and its profile likelihood interval; or a bound
        where nothing was lost or nothing held. low or high is None where the attempts do not bound that side.

    Assumes: tries are independent and the chance to hold falls with the rung as a logistic curve.
    Source: maximum likelihood of a logistic response (McCullagh & Nelder, Generalized Linear Models, 2nd ed. 1989,
    ch. 4); without overlap it has no maximum (Albert & Anderson 1984, Biometrika 71:1).
    """
    counts = _count(attempts)
    blank = replace(blank, kind="attempts", method="attempts", count=int(counts.total.sum()), rung=_gap(counts))
    if (counts.held == counts.total).all():
        return _bound(blank, "lower bound", counts)
    if (counts.held == 0).all():
        return _bound(blank, "upper bound", counts)
    any_lost = float(counts.at[counts.held < counts.total].min())
    any_held = float(counts.at[counts.held > 0].max())
    if any_held > any_lost and not _falls(counts):
        return replace(blank, basis=NO_FALL)
    half, slope = _maximise(counts, overlap=any_held > any_lost)
    basis = FIT if any_held > any_lost else SEPARATED if any_held < any_lost else ONE_MIXED
    estimate = (any_held + any_lost) / 2 if basis == SEPARATED else half
    freedom = _freedom(counts)
    low, high = _profile_interval(counts, half, slope, freedom)
    uncertainty = None if low is None or high is None else (high - low) / 2 / find_t_factor(freedom)
    return replace(
        blank,
        estimate=estimate,
        standard_uncertainty=uncertainty,
        degrees_of_freedom=freedom,
        low=low,
        high=high,
        basis=basis,
    )


def _count(attempts: Sequence[Attempts]) -> Counts:
    """Sum the tries of each rung, in rising order."""
    at = sorted({entry.at for entry in attempts})
    held = [sum(entry.held for entry in attempts if entry.at == rung) for rung in at]
    total = [sum(entry.held + entry.lost for entry in attempts if entry.at == rung) for rung in at]
    tried = np.array(total) > 0
    return Counts(np.array(at)[tried], np.array(held, float)[tried], np.array(total, float)[tried])


def _gap(counts: Counts) -> float | None:
    """Smallest distance between rungs [unit]; None with a single rung."""
    return float(np.diff(counts.at).min()) if counts.at.size > 1 else None


def _bound(blank: Measurement, kind: str, counts: Counts) -> Measurement:
    """All held (the highest rung is a lower bound) or all lost (the lowest is an upper bound)."""
    if kind == "lower bound":
        tries = int(counts.total[-1])
        return replace(
            blank, kind=kind, at_least=float(counts.at[-1]), bound_count=tries, basis="every attempt was held"
        )
    tries = int(counts.total[0])
    return replace(blank, kind=kind, at_most=float(counts.at[0]), bound_count=tries, basis="every attempt was lost")


def _falls(counts: Counts) -> bool:
    """Whether the share held falls with the rung: the sign of the likelihood's slope at no slope, beyond rounding."""
    overall = counts.held.sum() / counts.total.sum()
    away = counts.at - counts.at.mean()
    return float(away @ (counts.held - overall * counts.total)) < -1e-9 * float(np.abs(away) @ counts.total)


def _log_likelihood(counts: Counts, half: float, slope: float) -> float:
    """Log-likelihood of P(held) = 1/(1 + exp(slope·(at − half)))."""
    from scipy.special import log_expit

    exponent = -slope * (counts.at - half)
    lost = counts.total - counts.held
    return float(counts.held @ log_expit(exponent) + lost @ log_expit(-exponent))


def _best_slope(counts: Counts, half: float) -> float:
    """Slope in [0, steepest] of the largest likelihood at this 50 % point; the likelihood is concave in it."""
    away, low, high = counts.at - half, 0.0, counts.steepest
    if _gain(counts, away, 0.0)[0] <= 0:
        return 0.0
    if _gain(counts, away, high)[0] >= 0:
        return high
    slope = min(high, 2.0 / float(np.abs(away).max()))
    for _ in range(60):
        gain, curve = _gain(counts, away, slope)
        low, high = (slope, high) if gain > 0 else (low, slope)
        following = slope + gain / max(curve, 1e-300)
        if not low < following < high:
            following = (low + high) / 2
        if abs(following - slope) <= 1e-10 * counts.steepest:
            break
        slope = following
    return slope


def _gain(counts: Counts, away: NDArray[np.float64], slope: float) -> tuple[float, float]:
    """First derivative of the log-likelihood by the slope, and the second with its sign turned."""
    from scipy.special import expit

    held = expit(-slope * away)
    expected = counts.total * held
    return float(away @ (expected - counts.held)), float((away * away) @ (expected * (1 - held)))


def _profile(counts: Counts, half: float) -> float:
    return _log_likelihood(counts, half, _best_slope(counts, half))


def _maximise(counts: Counts, overlap: bool) -> tuple[float, float]:
    """50 % point [unit] and slope [1/unit] of the largest likelihood, the slope at most ``steepest``."""
    if overlap:
        half, slope = fit_logistic(counts)
        if slope <= counts.steepest:
            return half, slope
    return _steepest_half(counts), counts.steepest


def fit_logistic(counts: Counts) -> tuple[float, float]:
    """50 % point [unit] and slope [1/unit] of the logistic maximum likelihood, by Newton's method.

    Parameters
    ----------
    counts : Counts
        Tries that overlap: some held above some lost [unit].

    Checked: against a general linear model of a statistics library in tests/analysis/test_attempts.py.
    """
    from scipy.special import expit

    centre, scale = float(counts.at.mean()), float(np.ptp(counts.at))
    design = np.column_stack([np.ones_like(counts.at), (counts.at - centre) / scale])
    point = np.zeros(2)
    for _ in range(100):
        share = expit(design @ point)
        gradient = design.T @ (counts.held - counts.total * share)
        information = design.T @ (design * (counts.total * share * (1 - share))[:, None])
        step = np.linalg.solve(information, gradient)
        longest = float(np.abs(step).max())
        point = point + step * min(1.0, 2.0 / max(longest, 1e-300))
        if longest < 1e-12:
            break
    return centre - scale * float(point[0] / point[1]), -float(point[1]) / scale


def _steepest_half(counts: Counts) -> float:
    """50 % point of the largest likelihood at the steepest slope [unit]: expected holds equal those counted."""
    from scipy.optimize import brentq
    from scipy.special import expit

    def surplus(half: float) -> float:
        return float(np.sum(counts.total * expit(-counts.steepest * (counts.at - half)) - counts.held))

    gap = _reach(counts)
    return float(brentq(surplus, counts.at[0] - gap, counts.at[-1] + gap, xtol=1e-12 * gap))


def _freedom(counts: Counts) -> float:
    """Tries that tell of the 50 % point (from a rung below the lowest loss to a rung above the highest hold) less two.

    Few tries make a likelihood interval too narrow; Student's factor with these in place of the normal one mends it.
    """
    first = max(int(np.argmax(counts.held < counts.total)) - 1, 0)
    last = counts.at.size - int(np.argmax(counts.held[::-1] > 0))
    return max(float(counts.total[first : last + 1].sum()) - 2, 1.0)


def _profile_interval(counts: Counts, half: float, slope: float, freedom: float) -> tuple[float | None, float | None]:
    """Where twice the drop of the profile log-likelihood stays within t² [unit]; None where it never leaves it."""
    best = _log_likelihood(counts, half, slope)
    drop = find_t_factor(freedom, CONFIDENCE) ** 2 / 2

    def excess(at: float) -> float:
        return best - _profile(counts, at) - drop

    reach = _reach(counts)
    return _end(excess, half, -reach), _end(excess, half, reach)


def _reach(counts: Counts) -> float:
    """Distance between the outer rungs, or the one rung itself [unit]."""
    return float(np.ptp(counts.at)) or abs(float(counts.at[0]))


def _end(excess: Callable[[float], float], start: float, reach: float) -> float | None:
    """Where excess turns positive, outward from start; None within FARTHEST times the reach.

    The profile falls on both sides of its maximum, because the likelihood is concave in intercept and slope.
    """
    from scipy.optimize import brentq

    near, step = start, reach / 32
    while abs(step) <= FARTHEST * abs(reach):
        far = start + step
        if excess(far) > 0:
            return float(brentq(excess, near, far, xtol=1e-10 * abs(reach)))
        near, step = far, 2 * step
    return None
