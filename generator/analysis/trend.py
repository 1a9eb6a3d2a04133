"""The order in which two candidates ran, and a common trend over it taken out of their difference."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from generator.analysis.difference import HIDDEN, Difference, find_separate, may_be_one
from generator.analysis.drift import LEVEL, find_places, find_reading
from generator.analysis.tinterval import LEAST_SCATTER, find_mean, find_resolved_scatter, find_t_factor
from generator.records.trial import Run

FEWEST = 3
"""Fewest runs on a side from which a trend can be taken out [1]."""


@dataclass(frozen=True)
class Order:
    """Where the runs of two candidates stand in the session of their trial.

    places [1] are ranks of the first's runs, then of the second's; None where no order is noted for them.
    apart [1] is the first's mean place less the second's; where nothing is noted, the largest there can be: all
    candidates one after the other, these two first and last.
    interleaved says that the order is noted, and that drift can hardly pass for a difference in it: mean places a
    round of all candidates apart at most, and one began before the other ended, or they are next to one another.
    """

    places: tuple[tuple[float, ...], tuple[float, ...]] | None
    apart: float
    interleaved: bool


def find_order(runs: Mapping[str, Sequence[Run]], first: str, second: str) -> Order:
    """Find where two candidates' runs stand among all runs of a trial.

    Parameters
    ----------
    runs : mapping of str to sequence of Run
        Of every candidate of the trial, with order or time where they are noted.
    first, second : str
        Two of its ids.

    Returns
    -------
    Order
        Ranked among all runs of the trial, or among those of the two where the others' order is not noted.
    """
    pair = {first: runs[first], second: runs[second]}
    for among in ({**pair, **runs}, pair):
        places = find_places([run for each in among.values() for run in each])
        if places is not None:
            ranks, cut = _rank(places), len(runs[first])
            sides = ranks[:cut], ranks[cut : cut + len(runs[second])]
            apart = find_mean(sides[0]) - find_mean(sides[1])
            return Order(sides, apart, _interleaved(sides, apart, len(among)))
    count = sum(len(each) for each in runs.values())
    return Order(None, count - (len(runs[first]) + len(runs[second])) / 2, interleaved=False)


def _interleaved(sides: tuple[Sequence[float], Sequence[float]], apart: float, candidates: int) -> bool:
    first, second = sides
    overlap = min(first) < max(second) and min(second) < max(first)
    return abs(apart) <= 1 or (overlap and abs(apart) <= candidates - 1)


def tell_cause(first: Sequence[Run], second: Sequence[Run], order: Order) -> str:
    """Why no trend can be taken out of a difference in which a drift may hide."""
    if order.places is None:
        if any(run.order is None and not run.time for run in (*first, *second)):
            return "the order of the runs is not noted"
        return "the order noted does not tell the runs apart"
    if min(len(first), len(second)) < FEWEST:
        return "the candidates were not interleaved, with too few runs to take a trend out"
    return "the candidates were not interleaved, and a run that ended at a bound leaves no trend to take out"


def _rank(places: Sequence[float]) -> tuple[float, ...]:
    ranks = {place: float(rank) for rank, place in enumerate(sorted(places))}
    return tuple(ranks[place] for place in places)


def remove_trend(first: Sequence[Run], second: Sequence[Run], order: Order, rung: float) -> Difference | None:
    """Find the difference of two candidates at the same place in the order of runs.

    Parameters
    ----------
    first, second : sequence of Run
        All runs of two candidates.
    order : Order
        Of these runs.
    rung : float
        Of their ladder [unit of the runs].

    Returns
    -------
    Difference or None
        First minus second less slope times the distance of their mean places, its uncertainty with n₁ + n₂ − 3
        degrees of freedom [unit]. Taken out wherever the candidates were not interleaved, for a drift would pass as
        a difference there; and where they were, if the trend is significant, for it would pass as scatter. None
        where it is not taken out, no order is noted for both, a run ended at a bound, or a side has under three runs.

    Assumes: one straight trend over the places of both. Where the counts or the scatters about the trend differ, the
    wider of the pooled and the separate interval counts, as for any difference.
    Source: analysis of covariance with a common slope (Snedecor & Cochran, Statistical Methods, 8th ed. 1989, ch. 18).
    """
    if order.places is None or min(len(first), len(second)) < FEWEST or any(_open(run) for run in (*first, *second)):
        return None
    sides = [
        _Side(places, [find_reading(run) for run in runs])
        for places, runs in zip(order.places, (first, second), strict=True)
    ]
    return _adjust(sides, order, rung)


def _open(run: Run) -> bool:
    return run.held is None or run.lost is None


@dataclass(frozen=True)
class _Side:
    """One candidate's places [1] and readings [unit]."""

    places: Sequence[float]
    readings: Sequence[float]

    @property
    def count(self) -> int:
        return len(self.readings)

    @property
    def along(self) -> float:
        return _product(self.places, self.places)

    @property
    def across(self) -> float:
        return _product(self.places, self.readings)

    def left(self, slope: float) -> float:
        """Sum of squares about a trend of this slope through the side's own mean [unit²]."""
        whole = _product(self.readings, self.readings)
        return max(whole - 2 * slope * self.across + slope**2 * self.along, 0.0)


def _adjust(sides: Sequence[_Side], order: Order, rung: float) -> Difference | None:
    along = math.fsum(side.along for side in sides)
    slope = math.fsum(side.across for side in sides) / along
    freedom = sum(side.count for side in sides) - 3
    scatter = math.sqrt(math.fsum(side.left(slope) for side in sides) / freedom)
    separate = _separate(sides, slope, rung)
    tested = min(freedom, separate[1]) if separate else freedom
    if order.interleaved and not _significant(slope, scatter, along, tested):
        return None
    apart = order.apart
    shares = math.fsum(1 / side.count for side in sides)
    least = max(scatter, LEAST_SCATTER * rung)
    parts = [(least * math.sqrt(shares + apart**2 / along), float(freedom))]
    if separate is not None:
        parts.append((separate[0] * math.sqrt(1 + apart**2 / along / shares), separate[1]))
    value = find_mean(sides[0].readings) - find_mean(sides[1].readings) - slope * apart
    return Difference(value, tuple(parts), rung, hidden=scatter < HIDDEN * rung, run_scatter=least)


def _separate(sides: Sequence[_Side], slope: float, rung: float) -> tuple[float, float] | None:
    """u and degrees of freedom from each side's scatter about the trend, which costs both one; None for like ones."""
    whole = sum(side.count - 1 for side in sides)
    kept = (whole - 1) / whole
    scatters = [find_resolved_scatter(math.sqrt(s.left(slope) / (s.count - 1) / kept), rung) for s in sides]
    counts = [side.count for side in sides]
    if counts[0] == counts[1] and may_be_one(scatters, counts[0]):
        return None
    uncertainty, freedom = find_separate((scatters[0], counts[0]), (scatters[1], counts[1]))
    return uncertainty, kept * freedom


def _significant(slope: float, scatter: float, along: float, freedom: float) -> bool:
    """Whether the common slope differs from zero at the level of the drift test."""
    return abs(slope) * math.sqrt(along) > find_t_factor(freedom, 1 - LEVEL) * scatter


def _product(first: Sequence[float], second: Sequence[float]) -> float:
    """Sum of products of the deviations from both means."""
    mean_first, mean_second = find_mean(first), find_mean(second)
    return math.fsum((a - mean_first) * (b - mean_second) for a, b in zip(first, second, strict=True))
