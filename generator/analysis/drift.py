"""Whether runs drift with the order in which they were made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime
from functools import lru_cache
from itertools import permutations

from generator.analysis.tinterval import find_mean
from generator.records.findings import Drift
from generator.records.trial import Run

MIN_RUNS = 5
"""Fewest runs whose ranks can show a drift at the usual level: n = 4 cannot go below p = 0.083 [1]."""
EXACT_RUNS = 8
"""Up to this many runs every permutation is counted [1]."""
LEVEL = 0.05


def find_drift(item: str, candidate: str, runs: Sequence[Run]) -> Drift:
    """Test by rank correlation whether a candidate's limits rise or fall over its runs.

    Parameters
    ----------
    item, candidate : str
        Names for the result.
    runs : sequence of Run
        With ``order``, or ``time`` as a clock time or ISO 8601 date and time, on every run that counts.

    Returns
    -------
    Drift
        Spearman's ρ [1] and its two-sided probability [1] from five runs on: every permutation counted up to
        eight runs, Student's approximation beyond; found is None where it cannot be tested.

    Assumes: one reading per run: the middle of its bracket, or its one end.
    Source: Spearman 1904, Am. J. Psychol. 15:72; Kendall & Gibbons, Rank Correlation Methods, 5th ed. 1990.
    """
    places = find_places(runs)
    if places is None:
        return Drift(item, candidate, len(runs), None, None, None, "no order is noted, so a drift cannot be tested")
    if len(runs) < MIN_RUNS:
        statement = f"too few runs to test for drift: {MIN_RUNS} of a candidate are needed"
        return Drift(item, candidate, len(runs), None, None, None, statement)
    correlation, probability = find_rank_correlation(places, [find_reading(run) for run in runs])
    if correlation is None or probability is None:
        return Drift(item, candidate, len(runs), None, None, False, "all runs ended on the same rung: no drift seen")
    found = probability < LEVEL
    way = "rise" if correlation > 0 else "fall"
    statement = f"the limits {way} over the runs: a drift" if found else "no drift found"
    return Drift(item, candidate, len(runs), correlation, probability, found, statement)


def find_reading(run: Run) -> float:
    """The run's one figure for ranking and trends [unit]: the middle of its bracket, or its one end."""
    ends = [end for end in (run.held, run.lost) if end is not None]
    return find_mean(ends)


def find_places(runs: Sequence[Run]) -> list[float] | None:
    """When each run was made: its order [1], else its time [s]; None where a run lacks it or two share it.

    Times count only where all are of one kind: clock times or dates, with a time zone or without.
    """
    orders = [run.order for run in runs]
    places = [None if order is None else float(order) for order in orders]
    if None in places:
        times = [_read_time(run.time or "") for run in runs]
        places = [seconds for _, seconds in times] if len({kind for kind, _ in times}) == 1 else [None]
    known = [place for place in places if place is not None]
    return known if len(known) == len(runs) and len(set(known)) == len(known) else None


def _read_time(text: str) -> tuple[tuple[bool, bool], float | None]:
    """Whether a text has a clock time alone, whether it has a time zone, and its seconds; None where it is no time."""
    text = text.strip()
    clock = f"0{text}" if text[1:2] == ":" else text
    is_clock = clock[2:3] == ":"
    try:
        moment = datetime.fromisoformat(f"2000-01-01 {clock}" if is_clock else text)
    except ValueError:
        return (is_clock, False), None
    start = datetime(2000, 1, 1, tzinfo=moment.tzinfo and UTC)
    return (is_clock, moment.tzinfo is not None), (moment - start).total_seconds()


def find_rank_correlation(first: Sequence[float], second: Sequence[float]) -> tuple[float | None, float | None]:
    """Spearman's rank correlation with ties at mean rank [1] and its two-sided probability [1].

    None, None where either side is constant.
    """
    ranks_first, ranks_second = _ranks(first), _ranks(second)
    if len(set(ranks_first)) == 1 or len(set(ranks_second)) == 1:
        return None, None
    seen = _correlate(ranks_first, ranks_second)
    if len(first) <= EXACT_RUNS:
        return seen, _exact_probability(tuple(ranks_first), tuple(sorted(ranks_second)), round(abs(seen), 9))
    return seen, _student_probability(seen, len(first))


def _ranks(values: Sequence[float]) -> list[float]:
    """Ranks from 1, equal values share the mean of theirs."""
    ordered = sorted(values)
    return [(2 * ordered.index(value) + ordered.count(value) + 1) / 2 for value in values]


def _correlate(first: Sequence[float], second: Sequence[float]) -> float:
    """Pearson's correlation of two rank rows."""
    mean_first, mean_second = find_mean(first), find_mean(second)
    across = math.fsum((a - mean_first) * (b - mean_second) for a, b in zip(first, second, strict=True))
    squares = [math.fsum((v - m) ** 2 for v in row) for row, m in ((first, mean_first), (second, mean_second))]
    return across / math.sqrt(squares[0] * squares[1])


@lru_cache(maxsize=256)
def _exact_probability(first: tuple[float, ...], second: tuple[float, ...], seen: float) -> float:
    """Share of all orders whose |ρ| is at least the one seen."""
    import numpy as np

    orders = np.array(list(permutations(second)))
    centred = np.array(first) - find_mean(first)
    spread = np.sqrt(np.sum(centred**2) * np.sum((np.array(second) - find_mean(second)) ** 2))
    return float(np.mean(np.abs(orders @ centred) / spread >= seen - 1e-8))


def _student_probability(correlation: float, count: int) -> float:
    """Two-sided probability from t = ρ·√((n − 2)/(1 − ρ²))."""
    from scipy.special import stdtr

    if abs(correlation) >= 1.0 - 1e-12:
        return 2.0 / math.factorial(count)
    t = abs(correlation) * math.sqrt((count - 2) / (1 - correlation**2))
    return float(2 * stdtr(count - 2, -t))
