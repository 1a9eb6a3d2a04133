"""Normal distribution fitted to brackets that may be open on one side (never lost, or never held)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.analysis.tinterval import CONFIDENCE, find_mean, find_scatter, find_t_factor

Array = NDArray[np.float64]

MIN_FINITE = 4
"""Finite brackets that a fit needs; with fewer the scatter is not told by the data."""
MIN_RUNGS = 3
"""Different rungs that these must lie in."""


@dataclass(frozen=True)
class Bracket:
    """A limit known to lie in (held, lost] [unit]; None means open on that side."""

    held: float | None
    lost: float | None

    @property
    def finite(self) -> bool:
        """Closed on both sides."""
        return self.held is not None and self.lost is not None

    @property
    def width(self) -> float:
        """lost − held of a finite bracket [unit]."""
        assert self.held is not None and self.lost is not None
        return self.lost - self.held

    @property
    def middle(self) -> float:
        """Mid-point of a finite bracket [unit]."""
        assert self.held is not None and self.lost is not None
        return (self.held + self.lost) / 2


@dataclass(frozen=True)
class CensoredFit:
    """Mean, scatter [unit] of the normal distribution, u and 95 % interval of the mean [unit]."""

    mean: float
    scatter: float
    standard_uncertainty: float
    low: float
    high: float


def fit_censored(brackets: Sequence[Bracket]) -> CensoredFit:
    """Fit a normal distribution to open and closed brackets by maximum likelihood.

    Parameters
    ----------
    brackets : sequence of Bracket
        At least MIN_FINITE finite ones in at least MIN_RUNGS rungs [unit].

    Returns
    -------
    CensoredFit
        The interval is where 2·(l_max − l_profile(mean)) ≤ n·ln(1 + t²/ν) with n finite brackets and ν = n − 1,
        which is the exact t interval when nothing is open and rungs are fine.

    Assumes: limits of repeated runs are normal; a climb ended for a reason that does not depend on its own limit.
    Source: likelihood of interval-censored data (Turnbull 1976, J. R. Stat. Soc. B 38:290); checked against SciPy's
    CensoredData and its published example. Coverage is simulated in generator.validation.
    """
    from scipy.optimize import brentq

    likelihood = _Likelihood(brackets)
    best, point = likelihood.maximise(np.array([1.0, 0.0]), np.eye(2))
    slope, shift = float(point[0]), float(point[1])
    mean, scatter = shift / slope, 1 / slope
    finite = sum(bracket.finite for bracket in brackets)
    t = find_t_factor(finite - 1, CONFIDENCE)
    drop = finite * math.log1p(t * t / (finite - 1)) / 2

    def excess(at: float) -> float:
        return best - likelihood.profile(at, slope) - drop

    step = t * scatter / math.sqrt(finite)
    low, high = (
        float(brentq(excess, mean, _far_end(excess, mean, sign * step), xtol=1e-9 * step)) for sign in (-1.0, 1.0)
    )
    centre, scale = likelihood.centre, likelihood.scale
    uncertainty = scale * (high - low) / (2 * t)
    return CensoredFit(centre + scale * mean, scale * scatter, uncertainty, centre + scale * low, centre + scale * high)


def _far_end(excess: Callable[[float], float], start: float, step: float) -> float:
    """A point beyond the interval's end, found by doubling."""
    while excess(start + step) < 0:
        step *= 2
    return start + step


class _Likelihood:
    """Log-likelihood of slope a = 1/scatter and shift b = mean/scatter, in which it is concave, of scaled brackets.

    Source: Burridge 1981, J. R. Stat. Soc. B 43:41 (concavity for grouped and censored data).
    """

    def __init__(self, brackets: Sequence[Bracket]) -> None:
        middles = [b.middle for b in brackets if b.finite]
        self.centre, self.scale = find_mean(middles), find_scatter(middles) or 1.0
        self.lower = np.array([-np.inf if b.held is None else (b.held - self.centre) / self.scale for b in brackets])
        self.upper = np.array([np.inf if b.lost is None else (b.lost - self.centre) / self.scale for b in brackets])

    def value(self, point: Array) -> float:
        """Log-likelihood at (slope, shift); −∞ for a slope that is not positive."""
        if point[0] <= 0:
            return -math.inf
        return float(np.sum(_log_normal_mass(point[0] * self.lower - point[1], point[0] * self.upper - point[1])))

    def derivatives(self, point: Array) -> tuple[Array, Array]:
        """Gradient (2,) and matrix of second derivatives (2, 2) at (slope, shift)."""
        low, high = point[0] * self.lower - point[1], point[0] * self.upper - point[1]
        mass = _log_normal_mass(low, high)
        flow: Array = np.zeros((2, mass.size))
        curve: Array = np.zeros((2, 2))
        for end, place, sign in ((low, self.lower, -1.0), (high, self.upper, 1.0)):
            real = np.isfinite(end)
            at, along = np.where(real, end, 0.0), np.where(real, place, 0.0)
            weight = np.where(real, np.exp(-at * at / 2 - mass) / math.sqrt(2 * math.pi), 0.0)
            ways = np.stack([along, -np.ones_like(along)])
            flow += sign * weight * ways
            curve -= sign * (ways * (at * weight)) @ ways.T
        return flow.sum(axis=1), curve - flow @ flow.T

    def maximise(self, point: Array, ways: Array) -> tuple[float, Array]:
        """Largest log-likelihood and its place, moving along the rows of ``ways`` only, by damped Newton steps."""
        value = self.value(point)
        for _ in range(100):
            gradient, curve = self.derivatives(point)
            step = -np.linalg.solve(ways @ curve @ ways.T, ways @ gradient) @ ways
            gained = self.value(point + step)
            while gained < value and np.abs(step).max() > 1e-14:
                step = step / 2
                gained = self.value(point + step)
            point, done = point + step, gained - value < 1e-13
            value = max(gained, value)
            if done:
                break
        return value, point

    def profile(self, mean: float, slope: float) -> float:
        """Largest log-likelihood over the scatter at this scaled mean, sought from a slope."""
        way = np.array([1.0, mean])
        start = slope / math.hypot(1.0, slope * mean)
        return self.maximise(start * way, way[None, :])[0]


def _log_normal_mass(lower: Array, upper: Array) -> Array:
    """ln(Φ(upper) − Φ(lower)), taken in the tail where it loses no digits."""
    from scipy.special import log_ndtr

    flip = lower > 0
    low, high = np.where(flip, -upper, lower), np.where(flip, -lower, upper)
    above, below = log_ndtr(high), log_ndtr(low)
    return above + np.log1p(-np.exp(np.minimum(below - above, -1e-300)))
