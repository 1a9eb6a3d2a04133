"""Takes a common trend over the order of runs out of a difference."""

from __future__ import annotations

import math
from collections.abc import Sequence

from generator.analysis.difference import HIDDEN, Difference
from generator.analysis.drift import LEVEL, MIN_RUNS, find_places, find_reading
from generator.analysis.tinterval import LEAST_SCATTER, find_mean, find_t_factor
from generator.records.trial import Run

INTERLEAVED = 1.0
"""Largest distance between the mean places of two candidates whose runs count as interleaved [1]."""
FEWEST = 3
"""Fewest runs on a side from which a trend can be taken out [1]."""


def remove_trend(first: Sequence[Run], second: Sequence[Run], rung: float) -> Difference | None:
    """Find the difference of two candidates at the same place in the order of runs.

    Parameters
    ----------
    first, second : sequence of Run
        All runs of two candidates, with order or time.
    rung : float
        Of their ladder [unit of the runs].

    Returns
    -------
    Difference or None
        First minus second less slope times the distance of their mean places, its uncertainty with n₁ + n₂ − 3
        degrees of freedom [unit]. Taken out wherever the candidates were not interleaved, for a drift would pass as
        a difference there; and where they were, if the trend is significant, for it would pass as scatter. None
        where it is not taken out, no order is noted for both, a run ended at a bound, or a side has under three runs.

    Assumes: one straight trend over the places of both, equal scatter.
    Source: analysis of covariance with a common slope (Snedecor & Cochran, Statistical Methods, 8th ed. 1989, ch. 18).
    """
    runs = [*first, *second]
    places = find_places(runs)
    if places is None or min(len(first), len(second)) < FEWEST or any(_open(run) for run in runs):
        return None
    ranks, cut = _rank(places), len(first)
    sides = [(ranks[:cut], [find_reading(run) for run in first]), (ranks[cut:], [find_reading(run) for run in second])]
    return _adjust(sides, _distance(ranks, cut), rung)


def are_apart(first: Sequence[Run], second: Sequence[Run]) -> bool | None:
    """Whether two candidates ran one after the other rather than interleaved; None where no order is noted for both."""
    places = find_places([*first, *second])
    return None if places is None else abs(_distance(_rank(places), len(first))) > INTERLEAVED


def _rank(places: Sequence[float]) -> list[float]:
    return [float(sorted(places).index(place)) for place in places]


def _distance(ranks: Sequence[float], cut: int) -> float:
    """Mean place of the first candidate less that of the second [1]."""
    return find_mean(ranks[:cut]) - find_mean(ranks[cut:])


def _open(run: Run) -> bool:
    return run.held is None or run.lost is None


def _adjust(sides: Sequence[tuple[Sequence[float], Sequence[float]]], apart: float, rung: float) -> Difference | None:
    across = math.fsum(_product(places, readings) for places, readings in sides)
    along = math.fsum(_product(places, places) for places, _ in sides)
    total = math.fsum(_product(readings, readings) for _, readings in sides)
    slope = across / along
    counts = [len(readings) for _, readings in sides]
    freedom = sum(counts) - 3
    scatter = math.sqrt(max(total - slope * across, 0.0) / freedom)
    if abs(apart) <= INTERLEAVED and (min(counts) < MIN_RUNS or not _significant(slope, scatter, along, freedom)):
        return None
    uncertainty = math.sqrt(1 / counts[0] + 1 / counts[1] + apart**2 / along)
    value = find_mean(sides[0][1]) - find_mean(sides[1][1]) - slope * apart
    least = max(scatter, LEAST_SCATTER * rung)
    return Difference(
        value, ((least * uncertainty, float(freedom)),), rung, hidden=scatter < HIDDEN * rung, run_scatter=least
    )


def _significant(slope: float, scatter: float, along: float, freedom: int) -> bool:
    """Whether the common slope differs from zero at the level of the drift test."""
    return abs(slope) * math.sqrt(along) > find_t_factor(freedom, 1 - LEVEL) * scatter


def _product(first: Sequence[float], second: Sequence[float]) -> float:
    """Sum of products of the deviations from both means."""
    mean_first, mean_second = find_mean(first), find_mean(second)
    return math.fsum((a - mean_first) * (b - mean_second) for a, b in zip(first, second, strict=True))
