"""Normal distribution fitted to brackets that may be open on one side (never lost, or never held)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.analysis.tinterval import CONFIDENCE, find_mean, find_scatter, find_t_factor

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
    mean, scatter = likelihood.maximise()
    best = likelihood(mean, scatter)
    finite = sum(bracket.finite for bracket in brackets)
    t = find_t_factor(finite - 1, CONFIDENCE)
    drop = finite * math.log1p(t * t / (finite - 1)) / 2

    def excess(offset: float) -> float:
        return best - likelihood.profile(mean + offset) - drop

    step = t * scatter / math.sqrt(finite)
    ends = [brentq(excess, 0.0, _far_end(excess, sign * step), xtol=1e-9 * step) for sign in (-1.0, 1.0)]
    return CensoredFit(mean, scatter, (ends[1] - ends[0]) / (2 * t), mean + ends[0], mean + ends[1])


def _far_end(excess: object, step: float) -> float:
    """An offset beyond the interval's end, found by doubling."""
    assert callable(excess)
    while excess(step) < 0:
        step *= 2
    return step


class _Likelihood:
    """Log-likelihood of mean and scatter, in units of the finite brackets' spread so that it is well scaled."""

    def __init__(self, brackets: Sequence[Bracket]) -> None:
        self.lower = np.array([-np.inf if b.held is None else b.held for b in brackets])
        self.upper = np.array([np.inf if b.lost is None else b.lost for b in brackets])
        middles = [b.middle for b in brackets if b.finite]
        self.start = find_mean(middles), find_scatter(middles) or 1.0

    def __call__(self, mean: float, scatter: float) -> float:
        return float(np.sum(_log_normal_mass((self.lower - mean) / scatter, (self.upper - mean) / scatter)))

    def maximise(self) -> tuple[float, float]:
        """Mean and scatter [unit] at the maximum."""
        from scipy.optimize import minimize

        centre, scale = self.start

        def cost(point: NDArray[np.float64]) -> float:
            return -self(centre + scale * point[0], scale * math.exp(point[1]))

        options = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 2000}
        found = minimize(cost, (0.0, 0.0), method="Nelder-Mead", options=options)
        return centre + scale * float(found.x[0]), scale * math.exp(float(found.x[1]))

    def profile(self, mean: float) -> float:
        """Largest log-likelihood over the scatter at this mean."""
        from scipy.optimize import minimize_scalar

        scale = math.hypot(self.start[1], mean - self.start[0])
        found = minimize_scalar(
            lambda log: -self(mean, scale * math.exp(log)),
            bounds=(-6.0, 4.0),
            method="bounded",
            options={"xatol": 1e-7},
        )
        return -float(found.fun)


def _log_normal_mass(lower: NDArray[np.float64], upper: NDArray[np.float64]) -> NDArray[np.float64]:
    """ln(Φ(upper) − Φ(lower)), taken in the tail where it loses no digits."""
    from scipy.special import log_ndtr

    flip = lower > 0
    low, high = np.where(flip, -upper, lower), np.where(flip, -lower, upper)
    above, below = log_ndtr(high), log_ndtr(low)
    return above + np.log1p(-np.exp(np.minimum(below - above, -1e-300)))
