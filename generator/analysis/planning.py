"""The bench sheet's arithmetic: runs, ladder, order, stroke and time of a trial that is still to be made."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from generator.analysis.contrast import CALL_CONFIDENCE
from generator.analysis.tinterval import find_resolved_scatter, find_t_factor

SHARES = 2000
"""Equal shares of probability over which a chance is averaged [1]."""
POWER = 0.9
"""Chance of telling a difference that matters which a plan aims at [1]."""
FAR = 30.0
"""So far beyond the factor t [1] the noncentral distribution is not a number any more, and the chance is one."""
MOST_RUNS = 1000
CLOSE = 1e-6
"""Share of a rung by which a figure may miss its rung and still be on it [1]."""
LARGEST_RATIO = 100
"""Most fine rungs that one coarse rung may hold [1]."""


@dataclass(frozen=True)
class LadderPlan:
    """A ladder to climb twice: in coarse rungs, the last of them at stop, until lost; then from the last one held in
    fine rungs.

    start, coarse, fine, stop [unit]; expected_rungs, most_rungs [1] are rungs tried per run, and moves [1] are
    those times the moves per rung.
    """

    start: float
    coarse: float
    fine: float
    stop: float
    expected_rungs: float
    most_rungs: int
    expected_moves: float
    most_moves: int


def find_power(difference: float, scatter: float, runs: int, confidence: float) -> float:
    """Chance that the interval of a difference excludes zero on the right side [1].

    Parameters
    ----------
    difference, scatter : float
        True difference and scatter of single runs [unit of both].
    runs : int
        Runs per candidate, at least 2 [1].
    confidence : float
        Of the interval [1].

    Assumes: two candidates with equal scatter, normal runs.
    Source: noncentral t, Cohen, Statistical Power Analysis, 2nd ed. 1988, ch. 2; checked with its table 2.4.1 and
    with a general statistics library.
    """
    from scipy.special import nctdtr

    freedom = 2 * (runs - 1)
    shift = abs(difference) / scatter * math.sqrt(runs / 2)
    t = find_t_factor(freedom, confidence)
    missed = float(nctdtr(freedom, shift, t))
    if math.isnan(missed) and shift - t > FAR:
        return 1.0
    return 1 - missed


def find_runs_needed(
    matters: float, scatter: float, rung: float = 0.0, confidence: float = CALL_CONFIDENCE, power: float = POWER
) -> int | None:
    """Fewest runs per candidate that tell a difference that matters from the scatter.

    Parameters
    ----------
    matters : float
        The difference to tell, above zero [unit].
    scatter : float
        Expected scatter of single runs [unit].
    rung : float
        Rung of the ladder [unit]; its resolution is the least scatter.
    confidence, power : float
        Of the interval that must exclude zero, and the chance that it does [1].

    Returns
    -------
    int or None
        At least 2; None where the rung is not finer than what matters or a thousand runs are not enough.
    """
    if matters <= rung:
        return None
    resolved = find_resolved_scatter(scatter, rung)
    if resolved == 0:
        return 2
    low, high = 2, MOST_RUNS
    if find_power(matters, resolved, high, confidence) < power:
        return None
    while low < high:
        middle = (low + high) // 2
        enough = find_power(matters, resolved, middle, confidence) >= power
        low, high = (low, middle) if enough else (middle + 1, high)
    return low


def find_called_difference(matters: float, scatter: float, runs: int, rung: float = 0.0, power: float = POWER) -> float:
    """Smallest true difference [unit] that is called ahead with the wanted chance.

    A call needs the interval to exclude zero and the estimate to exceed what matters: at a true difference of just
    what matters the second happens half the time, however many runs there are.

    Parameters
    ----------
    matters, scatter, rung, power
        As in ``find_runs_needed``.
    runs : int
        Runs per candidate, at least 2 [1].

    Assumes: two candidates with equal scatter, normal runs; the scatter found varies as χ with 2(n − 1) degrees of
    freedom. Checked by simulation in tests/analysis/test_planning.py.
    """
    from scipy.special import chdtri, ndtr

    resolved = find_resolved_scatter(scatter, rung)
    if resolved == 0:
        return matters
    freedom, spread = 2 * (runs - 1), resolved * math.sqrt(2 / runs)
    found = np.sqrt(chdtri(freedom, (np.arange(SHARES) + 0.5) / SHARES) / freedom)
    needed = np.maximum(matters, find_t_factor(freedom, CALL_CONFIDENCE) * found * spread)

    def missing(difference: float) -> float:
        return power - float(np.mean(ndtr((difference - needed) / spread)))

    low, high = matters, float(needed.max()) + 10 * spread
    while high - low > 1e-6 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if missing(middle) > 0 else (low, middle)
    return high


def plan_ladder(
    low: float,
    high: float,
    resolution: float,
    moves_per_rung: int = 1,
    first: float | None = None,
    last: float | None = None,
) -> LadderPlan:
    """Choose the ladder that needs the fewest moves on average.

    Parameters
    ----------
    low, high : float
        Where the limit is expected, low above zero [unit]; the prior is uniform between them.
    resolution : float
        The wanted fine rung [unit].
    moves_per_rung : int
        Moves made on each rung [1].
    first, last : float or None
        Where the tester's own ladder starts and ends [unit]; None: at the first fine rung, and nowhere.

    Returns
    -------
    LadderPlan
        Every rung is a whole number of fine rungs above ``first`` and none lies above ``last``; start lies below
        ``low`` (the lowest predicted limit) where one fits.

    Assumes: the limit does not scatter within a run, so the fine climb needs no rung that the coarse one settled.
    Checked: against a simulated climb in tests/analysis/test_planning.py.
    """
    first = resolution if first is None else first
    highest = sys.maxsize if last is None else max(0, math.floor((last - first) / resolution + CLOSE))
    lowest = min(max(0, math.ceil((low - first) / resolution) - 1), max(0, highest - 1))
    start, room = first + lowest * resolution, highest - lowest
    cells = min(max(1, math.ceil((high - start) / resolution - 1e-9)), room)
    ratios = range(1, min(LARGEST_RATIO, max(1, cells)) + 1)
    spans = {ratio: min(math.ceil(cells / ratio) * ratio, room) for ratio in ratios}
    expected, ratio = min(
        (_expect_rungs(start, low, high, resolution, ratio, span), ratio) for ratio, span in spans.items()
    )
    span = spans[ratio]
    most = max(_count_rungs(cell, ratio, span) for cell in range(span + 1))
    return LadderPlan(
        start=start,
        coarse=ratio * resolution,
        fine=resolution,
        stop=start + span * resolution,
        expected_rungs=expected,
        most_rungs=most,
        expected_moves=expected * moves_per_rung,
        most_moves=most * moves_per_rung,
    )


def _expect_rungs(start: float, low: float, high: float, fine: float, ratio: int, span: int) -> float:
    """Mean number of rungs tried per run [1] for a limit uniform on [low, high]; span fine rungs lead to the stop."""
    beneath, beyond = max(0.0, min(start, high) - low), max(0.0, high - max(start + span * fine, low))
    total, weight = beneath + beyond * _count_rungs(span, ratio, span), beneath + beyond
    for cell in range(span):
        bottom, top = start + cell * fine, start + (cell + 1) * fine
        share = max(0.0, min(top, high) - max(bottom, low))
        total += share * _count_rungs(cell, ratio, span)
        weight += share
    return total / weight if weight else float(_count_rungs(max(0, span - 1), ratio, span))


def _count_rungs(cell: int, ratio: int, span: int) -> int:
    """Rungs tried when the limit lies ``cell`` fine rungs above start: coarse up to the loss, then fine."""
    held, inside = divmod(cell, ratio)
    if cell >= span:
        return math.ceil(span / ratio) + 1
    return held + 2 + min(inside, ratio - 2, span - held * ratio - 2) + 1


def plan_order(candidates: Sequence[str], runs: int) -> tuple[str, ...]:
    """Order of runs that averages out a steady warming if their number is even: A B B A A B B A …

    Parameters
    ----------
    candidates : sequence of str
        Ids in file order.
    runs : int
        Runs per candidate [1].

    Returns
    -------
    tuple of str
        Whose run comes 1st, 2nd, …; with an even number of runs every candidate has the same mean place.
    """
    forward, backward = tuple(candidates), tuple(reversed(candidates))
    return tuple(name for turn in range(runs) for name in (backward if turn % 2 else forward))


def find_duration(moves: float, move_time: float, pause: float) -> float:
    """Time that a number of moves takes with a pause after each [s]."""
    return moves * (move_time + pause)
