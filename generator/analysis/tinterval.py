"""Student's t and what rests on it: mean, scatter, and the interval of a mean read on a ladder. Never reads records."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

CONFIDENCE = 0.95
"""Confidence of every printed interval [1]."""

LEAST_SCATTER = 0.13
"""Least scatter that an interval reckons with, in rungs: runs that all end in one bracket show none, and this is the
smallest figure with which the interval of two runs still covers at least 94 %, whatever the scatter (simulated)."""


@lru_cache(maxsize=4096)
def find_t_factor(degrees_of_freedom: float, confidence: float = CONFIDENCE) -> float:
    """Two-sided Student factor t [1].

    Parameters
    ----------
    degrees_of_freedom : float
        Degrees of freedom, at least 1; ``math.inf`` gives the normal factor [1].
    confidence : float
        Share of the distribution inside ±t [1].

    Source: JCGM 100:2008 (GUM), G.3 and Table G.2, which tests/analysis/test_tinterval.py reproduces.
    """
    from scipy.special import ndtri, stdtrit

    tail = 0.5 + confidence / 2
    return float(ndtri(tail) if math.isinf(degrees_of_freedom) else stdtrit(degrees_of_freedom, tail))


def find_mean(values: Sequence[float]) -> float:
    """Arithmetic mean, summed without rounding error [unit of values]."""
    return math.fsum(values) / len(values)


def find_scatter(values: Sequence[float]) -> float | None:
    """Experimental standard deviation with n − 1 [unit of values]; None for fewer than two values.

    Source: JCGM 100:2008, 4.2.2; checked with the NIST StRD univariate sets.
    """
    if len(values) < 2:
        return None
    mean = find_mean(values)
    return math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1))


def find_resolved_scatter(scatter: float, rung: float) -> float:
    """Scatter of single readings, never below that of a rectangle one rung wide [unit of both].

    Source: JCGM 100:2008, F.2.2.1 (resolution): a rectangle of width δ has the variance δ²/12. The scatter of
    brackets' mid-points holds the resolution already, so the larger of the two counts, not their sum.
    """
    return max(scatter, rung / math.sqrt(12))


def find_half_width(scatter: float, rung: float, count: int) -> float:
    """Half-width of the 95 % interval of a mean read on a ladder [unit of scatter and rung].

    Parameters
    ----------
    scatter : float
        Of the mid-points of the brackets [unit].
    rung : float
        Width of the brackets; 0 where there is no ladder [unit].
    count : int
        Runs, at least 2 [1].

    Returns
    -------
    float
        max(t·max(s, 0.13·rung)/√n, rung/2) [unit].

    Source: Student's interval of a mean, JCGM 100:2008, G.3; the two floors by simulation in generator.validation.
    """
    return max(find_t_factor(count - 1) * max(scatter, LEAST_SCATTER * rung) / math.sqrt(count), rung / 2)


def find_welch(parts: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Combine independent standard uncertainties: (u, effective degrees of freedom).

    Parameters
    ----------
    parts : sequence of (uncertainty [unit], degrees of freedom [1])
        The components, already times their sensitivity.

    Source: JCGM 100:2008, G.4.1 (Welch–Satterthwaite); checked with its worked example and with H.1.
    """
    variance = math.fsum(u * u for u, _ in parts)
    below = math.fsum(u**4 / nu for u, nu in parts)
    return math.sqrt(variance), variance**2 / below if below else math.inf
