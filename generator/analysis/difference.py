"""The difference of two measured figures: its uncertainty from pooled, separate or borrowed scatter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from generator.analysis.tinterval import (
    CONFIDENCE,
    find_resolved_scatter,
    find_t_factor,
    find_welch,
)
from generator.records.findings import Measurement

WELCH_RATIO = 3.0
"""Scatters that differ by more than this factor are not pooled, given WELCH_RUNS on both sides [1]."""
WELCH_RUNS = 5


@dataclass(frozen=True)
class Scatter:
    """Scatter of single runs [unit, or 1 where relative] and its degrees of freedom [1]."""

    value: float
    degrees_of_freedom: float


@dataclass(frozen=True)
class Difference:
    """First minus second [unit] with what its interval needs.

    uncertainty [unit] and degrees_of_freedom [1] give t·u; floor [unit] is the least half-width (resolution);
    extra [unit] is added on each side (single runs); below and above [unit] replace t·u where the sides' own
    intervals are not symmetrical: the distance from value to each end at 95 %. run_scatter [unit] is one run's.
    """

    value: float
    uncertainty: float
    degrees_of_freedom: float
    floor: float = 0.0
    extra: float = 0.0
    run_scatter: float = 0.0
    below: float | None = None
    above: float | None = None
    count: int = 0

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Both ends [unit] at a confidence [1]."""
        t = find_t_factor(self.degrees_of_freedom, confidence)
        if self.below is None or self.above is None:
            half = max(t * self.uncertainty + self.extra, self.floor)
            return self.value - half, self.value + half
        stretch = t / find_t_factor(self.degrees_of_freedom, CONFIDENCE)
        return self.value - stretch * self.below, self.value + stretch * self.above

    def half_width_with(self, count: int, confidence: float) -> float:
        """Half-width [unit] that ``count`` runs (or tries) per candidate would give with the scatter seen now."""
        if self.below is not None and self.above is not None:
            low, high = self.interval(confidence)
            return (high - low) / 2 * math.sqrt(self.count / count)
        t = find_t_factor(2 * (count - 1), confidence)
        return max(t * self.run_scatter * math.sqrt(2 / count), self.floor)


def pool_scatter(measurements: Sequence[Measurement]) -> Scatter | None:
    """Pool the scatter of all measurements with two or more runs; None where there is none.

    Source: s_p² = Σ(n − 1)s²/Σ(n − 1), JCGM 100:2008, 4.2.4 and H.5.
    """
    parts = [
        (find_resolved_scatter(each.scatter, each.rung or 0.0), each.degrees_of_freedom)
        for each in measurements
        if each.scatter is not None and each.degrees_of_freedom and each.bound_count == 0
    ]
    if not parts:
        return None
    total = math.fsum(nu for _, nu in parts)
    return Scatter(math.sqrt(math.fsum(nu * s * s for s, nu in parts) / total), total)


def find_difference(
    first: Measurement, second: Measurement, pooled: Scatter | None, relative: Scatter | None
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

    Returns
    -------
    Difference or None
        None where a side has a single run and no scatter is known.
    """
    assert first.estimate is not None and second.estimate is not None
    if _has_own_interval(first) or _has_own_interval(second):
        return _join_intervals(first, second)
    if pooled is None and relative is not None:
        pooled = Scatter(relative.value * abs(first.estimate + second.estimate) / 2, relative.degrees_of_freedom)
    if pooled is None:
        return None
    if _scatter_differs(first, second):
        return _welch(first, second)
    return _pooled(first, second, pooled)


def _has_own_interval(measurement: Measurement) -> bool:
    """Intervals that are not mean ± t·u: attempts and censored fits."""
    return measurement.kind == "attempts" or measurement.bound_count > 0


def _rung(first: Measurement, second: Measurement) -> float:
    return max(first.rung or 0.0, second.rung or 0.0)


def _pooled(first: Measurement, second: Measurement, pooled: Scatter) -> Difference:
    """u² = max(s², rung²/12)·(1/n₁ + 1/n₂); a single run adds half its bracket, two limits are known to a rung."""
    assert first.estimate is not None and second.estimate is not None
    rung = _rung(first, second)
    scatter = find_resolved_scatter(pooled.value, rung)
    singles = sum(each.count == 1 for each in (first, second))
    return Difference(
        first.estimate - second.estimate,
        scatter * math.sqrt(1 / first.count + 1 / second.count),
        pooled.degrees_of_freedom,
        floor=rung,
        extra=singles * rung / 2,
        run_scatter=scatter,
    )


def _scatter_differs(first: Measurement, second: Measurement) -> bool:
    if first.scatter is None or second.scatter is None or min(first.count, second.count) < WELCH_RUNS:
        return False
    rung = _rung(first, second)
    low, high = sorted(find_resolved_scatter(each, rung) for each in (first.scatter, second.scatter))
    return high > WELCH_RATIO * low


def _welch(first: Measurement, second: Measurement) -> Difference:
    assert first.estimate is not None and second.estimate is not None
    sides = [(each.standard_uncertainty or 0.0, each.degrees_of_freedom or 1.0) for each in (first, second)]
    uncertainty, freedom = find_welch(sides)
    scatters = [each.scatter or 0.0 for each in (first, second)]
    run_scatter = math.sqrt(math.fsum(s * s for s in scatters) / 2)
    value = first.estimate - second.estimate
    return Difference(value, uncertainty, freedom, floor=_rung(first, second), run_scatter=run_scatter)


def _join_intervals(first: Measurement, second: Measurement) -> Difference | None:
    """Distances from the estimates to their interval ends, joined in quadrature, each side its own.

    Source: method of variance estimates recovery (Zou & Donner 2008, Stat. Med. 27:1693).
    """
    assert first.estimate is not None and second.estimate is not None
    if first.kind != "attempts" and (first.standard_uncertainty is None or second.standard_uncertainty is None):
        return None
    below = math.hypot(_distance(first, "low"), _distance(second, "high"))
    above = math.hypot(_distance(first, "high"), _distance(second, "low"))
    freedom = min(each.degrees_of_freedom or math.inf for each in (first, second))
    uncertainty = math.hypot(*(each.standard_uncertainty or math.inf for each in (first, second)))
    value, count = first.estimate - second.estimate, max(first.count, second.count)
    return Difference(value, uncertainty, freedom, below=below, above=above, count=count)


def _distance(measurement: Measurement, end: str) -> float:
    """From estimate to one end of the interval [unit]; infinite where that end is open."""
    value = measurement.low if end == "low" else measurement.high
    return math.inf if value is None else abs(value - (measurement.estimate or 0.0))
