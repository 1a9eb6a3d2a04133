"""The difference of two measured figures: its uncertainty from pooled, separate or borrowed scatter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from generator.analysis.tinterval import (
    CONFIDENCE,
    LEAST_SCATTER,
    find_resolved_scatter,
    find_t_factor,
    find_welch,
)
from generator.records.findings import Measurement

ALIKE = 0.5
"""Scatters of one item pass for one and the same while an F test finds their ratio in more than this share of equal
pairs [1]: the smallest share with which intervals cover 94 % where one scatters three times as much (simulated)."""
LEAST_KNOWN = 2.0
"""Degrees of freedom that a scatter needs where single runs have none of their own and much hangs on it [1]."""
CLOSE = 1e-9
"""Share by which a ratio of scatters may miss the F test's and still be on it: scatters of few rungs often are [1]."""
HIDDEN = 0.75
"""A scatter below this share of the rung is not told apart from rounding: limits then differ by up to a rung unseen."""


@dataclass(frozen=True)
class Scatter:
    """Scatter of single runs [unit, or 1 where relative] and its degrees of freedom [1].

    along is the sum of squares of the runs' places about their own candidate's mean place [1], where each candidate
    made its runs in one go: the order in which a drift spreads them least.
    """

    value: float
    degrees_of_freedom: float
    along: float


@dataclass(frozen=True)
class Difference:
    """First minus second [unit] with what its interval needs.

    parts holds (u [unit], degrees of freedom [1]), of which the one with the wider t·u counts. rung [unit] floors the
    half-width: by half of it, or by all of it where the rung hides the scatter (hidden).
    extra [unit] is added on each side (single runs on a coarse ladder), and so is drift [unit], what a drift that no
    run can show may have put into the difference. run_scatter [unit] is one run's.
    below and above [unit] replace t·u where the sides' own intervals are not symmetrical: from value to each end at
    95 %; count [1] is their runs.
    """

    value: float
    parts: tuple[tuple[float, float], ...]
    rung: float = 0.0
    hidden: bool = False
    extra: float = 0.0
    drift: float = 0.0
    run_scatter: float = 0.0
    below: float | None = None
    above: float | None = None
    count: int = 0

    @property
    def floor(self) -> float:
        """Least half-width [unit]: two limits that are each rounded to half a rung differ by up to a rung unseen."""
        return self.rung if self.hidden else self.rung / 2

    def widest(self, confidence: float) -> tuple[float, float]:
        """The part with the largest t·u: (u [unit], degrees of freedom [1])."""
        return max(self.parts, key=lambda part: find_t_factor(part[1], confidence) * part[0])

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Both ends [unit] at a confidence [1]."""
        uncertainty, freedom = self.widest(confidence)
        t = find_t_factor(freedom, confidence)
        if self.below is None or self.above is None:
            half = max(t * uncertainty + self.extra, self.floor) + self.drift
            return self.value - half, self.value + half
        stretch = t / find_t_factor(freedom, CONFIDENCE)
        return self.value - stretch * self.below - self.drift, self.value + stretch * self.above + self.drift

    def half_width_with(self, count: int, confidence: float) -> float:
        """Half-width [unit] that ``count`` interleaved runs (or tries) of each would give with the scatter seen now."""
        if self.below is not None and self.above is not None:
            low, high = replace(self, drift=0.0).interval(confidence)
            return (high - low) / 2 * math.sqrt(self.count / count)
        t = find_t_factor(2 * (count - 1), confidence)
        return max(t * self.run_scatter * math.sqrt(2 / count), self.floor)


def pool_scatter(measurements: Sequence[Measurement]) -> Scatter | None:
    """Pool the scatter of all measurements with two or more runs; None where there is none.

    Parameters
    ----------
    measurements : sequence of Measurement
        Of one item [one unit].

    Source: s_p² = Σ(n − 1)s²/Σ(n − 1), JCGM 100:2008, H.5.2.2.
    """
    return _pool([each for each in measurements if _scatters(each)])


def _pool(measurements: Sequence[Measurement]) -> Scatter | None:
    parts = [(each.scatter or 0.0, each.degrees_of_freedom or 0.0) for each in measurements]
    total = math.fsum(nu for _, nu in parts)
    if not total:
        return None
    along = math.fsum(each.count * (each.count**2 - 1) / 12 for each in measurements)
    return Scatter(math.sqrt(math.fsum(nu * s * s for s, nu in parts) / total), total, along)


def find_hidden_drift(scatter: Scatter, rung: float, apart: float) -> float:
    """Find what a steady drift may put into a difference without being seen [unit].

    Parameters
    ----------
    scatter : Scatter
        Of single runs [unit].
    rung : float
        Of their ladder, which may hide half of itself more [unit].
    apart : float
        Distance of the candidates' mean places in the order of the runs [1].

    Returns
    -------
    float
        apart times the steepest slope that leaves runs in one go no more scatter than was seen, b² =
        (ν + 1)·(s² + (rung/2)²)/along.

    Assumes: one straight trend over the places. The ν + 1 and the half rung by simulation in generator.validation.
    """
    squares = (scatter.degrees_of_freedom + 1) * (scatter.value**2 + (rung / 2) ** 2)
    return abs(apart) * math.sqrt(squares / scatter.along)


def are_alike(measurements: Sequence[Measurement]) -> bool:
    """Whether the scatters of an item may pass for one: from equal counts, and no F test tells the extremes apart.

    Source: F test of two variances, Snedecor & Cochran, Statistical Methods, 8th ed. 1989, 6.12.
    """
    sides = [each for each in measurements if _scatters(each)]
    if len(sides) < 2:
        return True
    if len({each.count for each in sides}) > 1:
        return False
    resolved = [find_resolved_scatter(each.scatter or 0.0, each.rung or 0.0) for each in sides]
    return may_be_one(resolved, sides[0].count)


def may_be_one(scatters: Sequence[float], count: int) -> bool:
    """Whether scatters [unit], each from ``count`` runs, may pass for one."""
    return max(scatters) < _largest_ratio(count - 1) * (1 - CLOSE) * min(scatters)


@lru_cache(maxsize=256)
def _largest_ratio(freedom: int) -> float:
    """Ratio of two scatters with these degrees of freedom that ALIKE of equal pairs exceed [1]."""
    from scipy.special import fdtri

    return math.sqrt(float(fdtri(freedom, freedom, 1 - ALIKE / 2)))


def _scatters(measurement: Measurement) -> bool:
    """A mean of two or more runs without bounds among them."""
    return measurement.scatter is not None and measurement.count >= 2 and not _has_own_interval(measurement)


def _has_own_interval(measurement: Measurement) -> bool:
    """Intervals that are not mean ± t·u: attempts and censored fits."""
    return measurement.kind == "attempts" or measurement.bound_count > 0


def find_difference(
    first: Measurement,
    second: Measurement,
    pooled: Scatter | None,
    relative: Scatter | None,
    alike: bool = True,
    apart: float = 0.0,
) -> Difference | None:
    """Find the difference of two estimates and its uncertainty.

    Parameters
    ----------
    first, second : Measurement
        Both with an estimate [unit].
    pooled : Scatter or None
        Of single runs, over all candidates of the item [unit].
    relative : Scatter or None
        Of single runs over estimate, from elsewhere [1]; used only where pooled is None.
    alike : bool
        Whether the item's scatters may pass for one. Where not, the wider of the pooled and the separate interval
        counts: pooling is safe with equal counts only, and the separate one with enough runs only.
    apart : float
        Distance of mean places in the order of the runs over which a drift may hide; 0 where none can [1].

    Returns
    -------
    Difference or None
        None where a side has a single run and no scatter is known, or both have and a drift may hide while the
        scatter rests on less than LEAST_KNOWN degrees of freedom.
    """
    assert first.estimate is not None and second.estimate is not None
    if _has_own_interval(first) or _has_own_interval(second):
        difference, scatter = _join_intervals(first, second), _pool([first, second])
    else:
        scatter = pooled or _scale(relative, abs(first.estimate + second.estimate) / 2)
        difference = None if scatter is None else _pooled(first, second, scatter, alike)
    if difference is None or scatter is None or not apart:
        return difference
    if max(first.count, second.count) == 1 and scatter.degrees_of_freedom < LEAST_KNOWN:
        return None
    rung = max(first.rung or 0.0, second.rung or 0.0)
    return replace(difference, drift=find_hidden_drift(scatter, rung, apart))


def _scale(relative: Scatter | None, mean: float) -> Scatter | None:
    return None if relative is None else replace(relative, value=relative.value * mean)


def _pooled(first: Measurement, second: Measurement, pooled: Scatter, alike: bool) -> Difference:
    """u² = s²·(1/n₁ + 1/n₂); a single run adds half its bracket where the rung hides the scatter."""
    assert first.estimate is not None and second.estimate is not None
    rung = max(first.rung or 0.0, second.rung or 0.0)
    scatter = max(pooled.value, LEAST_SCATTER * rung)
    parts = [(scatter * math.sqrt(1 / first.count + 1 / second.count), pooled.degrees_of_freedom)]
    if not alike and _scatters(first) and _scatters(second):
        parts.append(find_separate(_own_part(first), _own_part(second)))
    singles, hidden = sum(each.count == 1 for each in (first, second)), pooled.value < HIDDEN * rung
    return Difference(
        first.estimate - second.estimate,
        tuple(parts),
        rung,
        hidden=hidden,
        extra=singles * rung / 2 if hidden else 0.0,
        run_scatter=find_resolved_scatter(pooled.value, rung),
    )


def find_separate(first: tuple[float, int], second: tuple[float, int]) -> tuple[float, float]:
    """Find the uncertainty of a difference from each side's own scatter.

    Parameters
    ----------
    first, second : (scatter [unit], runs [1])
        Of each side, resolved.

    Returns
    -------
    tuple
        u [unit], and degrees of freedom [1] that two samples of the smaller count could have. A small sample whose
        scatter comes out small by chance would else count for nothing; beside one more than half as large again it
        gets three quarters of that (simulated).
    """
    sides = (first, second)
    uncertainty, freedom = find_welch([(scatter / math.sqrt(count), count - 1.0) for scatter, count in sides])
    small, large = sorted(count for _, count in sides)
    most = 2.0 * (small - 1) if large <= 1.5 * small else 1.5 * (small - 1)
    return uncertainty, min(freedom, most)


def _own_part(measurement: Measurement) -> tuple[float, int]:
    """Scatter of one side alone, resolved, and its runs."""
    return find_resolved_scatter(measurement.scatter or 0.0, measurement.rung or 0.0), measurement.count


def _join_intervals(first: Measurement, second: Measurement) -> Difference | None:
    """Distances from the estimates to their interval ends, joined in quadrature, each side its own.

    Source: method of variance estimates recovery (Zou & Donner 2008, Stat. Med. 27:1693).
    """
    assert first.estimate is not None and second.estimate is not None
    if first.method == "runs" and (first.standard_uncertainty is None or second.standard_uncertainty is None):
        return None
    below = math.hypot(_distance(first, "low"), _distance(second, "high"))
    above = math.hypot(_distance(first, "high"), _distance(second, "low"))
    freedom = min(each.degrees_of_freedom or math.inf for each in (first, second))
    uncertainty = math.hypot(*(each.standard_uncertainty or math.inf for each in (first, second)))
    value, count = first.estimate - second.estimate, max(first.count, second.count)
    return Difference(value, ((uncertainty, freedom),), below=below, above=above, count=count)


def _distance(measurement: Measurement, end: str) -> float:
    """From estimate to one end of the interval [unit]; infinite where that end is open."""
    value = measurement.low if end == "low" else measurement.high
    return math.inf if value is None else abs(value - (measurement.estimate or 0.0))
