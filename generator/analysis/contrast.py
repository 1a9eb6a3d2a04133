"""Differences between candidates and the calls that they allow. One path for every kind of figure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from generator.analysis.difference import (
    LEAST_KNOWN,
    Difference,
    Scatter,
    are_alike,
    find_difference,
    find_hidden_drift,
    pool_scatter,
)
from generator.analysis.tinterval import CONFIDENCE, find_t_factor
from generator.analysis.trend import Order, find_order, remove_trend, tell_cause
from generator.records.comparison import Matters
from generator.records.findings import Contrast, Measurement
from generator.records.trial import Run, Trial

AHEAD = "{} ahead"
NO_DIFFERENCE = "no difference that matters"
UNDECIDED = "undecided"
TOO_FEW = "too few runs"
NOT_COMPARABLE = "not comparable"
ONLY_LOWER = "only a lower bound"
ONLY_UPPER = "only an upper bound"

CALL_CONFIDENCE = 0.99
"""Confidence at which an interval must hold for a call [1]. Two equal candidates would be told apart, wrongly, in one
comparison of twenty by the printed 95 % interval; calls have to stay under one of fifty, with unequal scatter too."""
RUNS_LIMIT = 1000
"""More runs than this are not worth naming [1]."""
SAME_RUNG = 0.01
"""Rungs that differ by a larger share than this are different ladders [1]."""
RUNS_FOR_BOUND = 2
"""Runs that a bound needs before it can put a candidate ahead [1]."""


@dataclass(frozen=True)
class _Item:
    """What all pairs of one item share; sign is 1 where higher is better, else −1.

    runs are those of each candidate. By pair of ids, where there are runs: orders, and trends, the differences with a
    trend taken out.
    """

    id: str
    kind: str
    matters: tuple[float, bool] | None
    sign: float
    relative: Scatter | None
    runs: Mapping[str, Sequence[Run]]
    orders: Mapping[tuple[str, str], Order]
    trends: Mapping[tuple[str, str], Difference | None]


@dataclass(frozen=True)
class _Case:
    """One pair with all that its call depends on."""

    item: _Item
    pooled: Scatter | None
    alike: bool
    first: Measurement
    second: Measurement
    blank: Contrast

    @property
    def apart(self) -> float:
        """Distance of mean places over which a drift may hide [1]."""
        order = self.item.orders.get(self.blank.between)
        return 0.0 if order is None or order.interleaved else order.apart


def compare(
    trial: Trial,
    measurements: Mapping[str, Measurement | None],
    matters: tuple[float, bool] | None,
    relative_scatter: Scatter | None = None,
) -> tuple[Contrast, ...]:
    """Compare the candidates of one trial in pairs; higher limits are better.

    Parameters
    ----------
    trial : Trial
        Gives item, kind and unit.
    measurements : mapping of str to Measurement or None
        As ``find_limits`` returns them, in file order [unit of the trial].
    matters : (value, relative) or None
        The smallest difference worth acting on [unit, or share of the mean of the two estimates].
    relative_scatter : Scatter or None
        Scatter over estimate [1] from other trials of the same kind, used where this trial has none.

    Returns
    -------
    tuple of Contrast
        One for every unordered pair that has measurements, in file order.
    """
    pairs = list(combinations([name for name in measurements if trial.runs.get(name)], 2))
    orders = {pair: find_order(trial.runs, *pair) for pair in pairs}
    trends = {
        (a, b): remove_trend(trial.runs[a], trial.runs[b], orders[a, b], _rung(measurements, a)) for a, b in pairs
    }
    item = _Item(trial.id, trial.measures, matters, 1.0, relative_scatter, trial.runs, orders, trends)
    return _compare(item, measurements)


def _rung(measurements: Mapping[str, Measurement | None], candidate: str) -> float:
    measurement = measurements[candidate]
    return (measurement.rung or 0.0) if measurement else 0.0


def compare_figures(
    item: str,
    kind: str,
    measurements: Mapping[str, Measurement | None],
    matters: tuple[float, bool] | None,
    better: str = "higher",
    relative_scatter: Scatter | None = None,
) -> tuple[Contrast, ...]:
    """Compare any figures (limits, levels, peaks) of one item in pairs.

    Parameters
    ----------
    item, kind : str
        Names for the contrasts; kind is that of ``matters``.
    measurements : mapping of str to Measurement or None
        Estimate, scatter, count and rung (None or 0 where there is no ladder) per candidate [unit].
    matters : (value, relative) or None
        The smallest difference worth acting on [unit, or share of the mean of the two estimates].
    better : str
        ``higher`` or ``lower``: which figure is ahead.
    relative_scatter : Scatter or None
        Scatter over estimate [1] from elsewhere, used where this item has none.

    Returns
    -------
    tuple of Contrast
        difference is first minus second; one for every unordered pair with measurements, in the given order.

    Source: two one-sided tests (Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657); pooled and Welch intervals as
    in JCGM 100:2008, H.5 and G.4.1. Rates of wrong calls are simulated in generator.validation.
    """
    sign = 1.0 if better == "higher" else -1.0
    return _compare(_Item(item, kind, matters, sign, relative_scatter, {}, {}, {}), measurements)


def _compare(item: _Item, measurements: Mapping[str, Measurement | None]) -> tuple[Contrast, ...]:
    measured = [measurement for measurement in measurements.values() if measurement is not None]
    pooled, alike = pool_scatter(measured), are_alike(measured)
    pairs = combinations(measured, 2)
    return tuple(
        _call(_Case(item, pooled, alike, first, second, _blank(item, first, second))) for first, second in pairs
    )


def find_matters(matters: Matters, item: str, kind: str) -> tuple[float, bool] | None:
    """What matters for an item: its own entry, else that of its kind, as (value [unit or 1], relative)."""
    return matters.items.get(item, matters.kinds.get(kind))


def find_relative_scatter(measurements: Sequence[Measurement]) -> Scatter | None:
    """Scatter over estimate [1], pooled over trials of one kind; None below two degrees of freedom."""
    shares = [
        replace(each, scatter=each.scatter / each.estimate)
        for each in measurements
        if each.scatter is not None and each.estimate
    ]
    pooled = pool_scatter(shares)
    return pooled if pooled and pooled.degrees_of_freedom >= LEAST_KNOWN else None


def _blank(item: _Item, first: Measurement, second: Measurement) -> Contrast:
    between = (first.candidate, second.candidate)
    return Contrast(item.id, item.kind, first.quantity, first.unit, between, None, None, None, None, TOO_FEW, "")


def _call(case: _Case) -> Contrast:
    """The call of one pair: comparable? bounds? enough runs? then by intervals."""
    reason = _not_comparable(case.first, case.second)
    if reason:
        return replace(case.blank, call=NOT_COMPARABLE, reason=reason)
    bounds = [each for each in (case.first, case.second) if each.kind in ("lower bound", "upper bound")]
    if bounds:
        return _call_bounds(case, bounds)
    if case.first.estimate is None or case.second.estimate is None:
        return replace(case.blank, reason="the runs of a candidate do not settle on a limit")
    trend = case.item.trends.get(case.blank.between)
    difference = trend or find_difference(
        case.first, case.second, case.pooled, case.item.relative, case.alike, case.apart
    )
    if difference is None:
        least = _matters(case, (case.first.estimate + case.second.estimate) / 2)
        value = case.first.estimate - case.second.estimate
        reason = "a candidate has a single run and too little tells how runs scatter here"
        return replace(case.blank, difference=value, matters=least, reason=reason)
    called = _call_interval(case, difference)
    if trend is not None:
        return replace(called, drift_removed=True, reason=f"{called.reason}, with the trend over the runs taken out")
    return _tell_drift(case, called, difference.drift)


def _tell_drift(case: _Case, called: Contrast, drift: float) -> Contrast:
    """Say why the call allows for a drift, if it does."""
    if not drift:
        return called
    first, second = (case.item.runs[candidate] for candidate in case.blank.between)
    cause = tell_cause(first, second, case.item.orders[case.blank.between])
    return replace(called, drift_allowed=drift, reason=f"{called.reason}; {cause}, so a drift is allowed for")


def _not_comparable(first: Measurement, second: Measurement) -> str:
    """Why two measurements cannot be set against one another; empty where they can."""
    if first.method != second.method:
        return "one candidate climbed in runs, the other was tried in attempts, and these are never pooled"
    if first.rung and second.rung and abs(first.rung - second.rung) > SAME_RUNG * max(first.rung, second.rung):
        return "the candidates climbed ladders with different rungs, and finer rungs are lost earlier"
    return ""


def _matters(case: _Case, mean: float) -> float | None:
    if case.item.matters is None:
        return None
    value, relative = case.item.matters
    return value * abs(mean) if relative else value


def _ahead(case: _Case, difference: float, contrast: Contrast) -> Contrast:
    """Put the better side ahead: the first where a positive difference is good."""
    winner = case.first if case.item.sign * difference > 0 else case.second
    return replace(contrast, call=AHEAD.format(winner.candidate), ahead=winner.candidate)


def _call_interval(case: _Case, difference: Difference) -> Contrast:
    """The call where both sides have an estimate and the scatter is known."""
    low, high = difference.interval()
    uncertainty, freedom = difference.widest(CONFIDENCE)
    contrast = replace(
        case.blank,
        difference=difference.value,
        matters=_matters(case, ((case.first.estimate or 0.0) + (case.second.estimate or 0.0)) / 2),
        low=_finite(low),
        high=_finite(high),
        standard_uncertainty=_finite(uncertainty),
        degrees_of_freedom=_finite(freedom),
    )
    value, least = difference.value, contrast.matters
    call_low, call_high = difference.interval(CALL_CONFIDENCE)
    clear = call_low > 0 or call_high < 0
    if clear and abs(value) > (least or 0.0):
        return _ahead(case, value, replace(contrast, reason=_why_ahead(min(abs(call_low), abs(call_high)), least)))
    if least is not None and -least < call_low and call_high < least:
        reason = "the whole 99 % interval lies within what matters"
        return replace(contrast, call=NO_DIFFERENCE, reason=reason)
    reason = _why_undecided(low, high, clear, least)
    return replace(contrast, call=UNDECIDED, reason=reason, runs_to_decide=find_runs_to_decide(difference, least))


def _why_ahead(nearest: float, least: float | None) -> str:
    """nearest: the end of the interval for calls that lies nearer to zero, as a distance [unit]."""
    if not least:
        return "the 99 % interval excludes zero; nobody said how much would matter"
    if nearest >= least:
        return "the whole 99 % interval lies beyond what matters"
    return "the 99 % interval excludes zero and the estimate exceeds what matters; the true difference may be smaller"


def _why_undecided(low: float, high: float, clear: bool, least: float | None) -> str:
    if clear:
        return "the 99 % interval excludes zero, but the difference may or may not exceed what matters"
    if low > 0 or high < 0:
        return "the 95 % interval excludes zero, the 99 % interval that a call needs does not"
    if least is None:
        return "the 99 % interval includes zero"
    return "the 99 % interval includes zero and also differences that matter"


def find_runs_to_decide(difference: Difference, matters: float | None) -> int | None:
    """Fewest runs per candidate that would give a call if estimates and scatter stayed as they are.

    Parameters
    ----------
    difference : Difference
        As found, with the scatter of single runs [unit].
    matters : float or None
        The smallest difference worth acting on [unit].

    Returns
    -------
    int or None
        None where the rung is too coarse or the difference stands exactly at what matters.
    """
    margin = abs(difference.value) - (matters or 0.0)
    room = abs(difference.value) if margin > 0 else -margin
    if room <= difference.floor:
        return None
    counts = range(2, RUNS_LIMIT + 1)
    return next((n for n in counts if difference.half_width_with(n, CALL_CONFIDENCE) < room), None)


def _call_bounds(case: _Case, bounds: Sequence[Measurement]) -> Contrast:
    """The call where a side is only bounded: ahead if the bound clears the other side's interval."""
    only = ONLY_LOWER if any(each.kind == "lower bound" for each in bounds) else ONLY_UPPER
    contrast = replace(case.blank, call=only, reason="a candidate's limit is only bounded, not found")
    rung = max(case.first.rung or 0.0, case.second.rung or 0.0)
    drift = find_hidden_drift(case.pooled, rung, case.apart) if case.pooled else 0.0
    for upper, lower in ((case.first, case.second), (case.second, case.first)):
        least, most = _least(upper), _most(lower)
        if least is None or most is None:
            continue
        matters = _matters(case, (least + most) / 2)
        if least - most - drift > (matters or 0.0):
            direction = 1.0 if upper is case.first else -1.0
            reason = "the bound alone clears the other's interval by more than what matters"
            called = _ahead(case, direction, replace(contrast, matters=matters, reason=reason))
            return _tell_drift(case, called, drift)
    if any(each.bound_count < RUNS_FOR_BOUND for each in bounds):
        return replace(contrast, reason="a candidate's limit is only bounded, and by a single run")
    return contrast


def _least(measurement: Measurement) -> float | None:
    """What a limit surely reaches [unit]: a bound of two runs or more, or the low end of its interval for calls."""
    if measurement.kind == "lower bound":
        return measurement.at_least if measurement.bound_count >= RUNS_FOR_BOUND else None
    return _call_end(measurement, measurement.low)


def _most(measurement: Measurement) -> float | None:
    """What a limit surely does not exceed [unit]."""
    if measurement.kind == "upper bound":
        return measurement.at_most if measurement.bound_count >= RUNS_FOR_BOUND else None
    return _call_end(measurement, measurement.high)


def _call_end(measurement: Measurement, end: float | None) -> float | None:
    """An end of the 95 % interval, moved out to the confidence of calls [unit]; None for a bracket or an open end."""
    freedom, estimate = measurement.degrees_of_freedom, measurement.estimate
    if end is None or estimate is None or not freedom:
        return None
    return estimate + (end - estimate) * find_t_factor(freedom, CALL_CONFIDENCE) / find_t_factor(freedom)


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None
