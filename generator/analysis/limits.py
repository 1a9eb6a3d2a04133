"""Limits of one trial from climbed ladders: brackets, bounds and mixtures. Attempts have their own module."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from generator.analysis.attempts import find_attempts_limit
from generator.analysis.censored import MIN_FINITE, MIN_RUNGS, Bracket, fit_censored
from generator.analysis.tinterval import find_half_width, find_mean, find_resolved_scatter, find_scatter
from generator.records.findings import Measurement
from generator.records.trial import Run, Trial

ONE_RUN = "this run's bracket, not an interval for the limit"
MEAN = "mean of the runs with its interval"
CENSORED = "fit that counts the runs which never lost or never held, with its interval"
BOUND = "what every run held", "what its one run held"
"""Said of several runs, and of one."""
CEILING = "what every run lost", "what its one run lost"


def find_limits(trial: Trial, candidate_order: Sequence[str]) -> dict[str, Measurement | None]:
    """Find the measured limit of every candidate in one trial.

    Parameters
    ----------
    trial : Trial
        Its runs or attempts; values in its unit [m/s² or m/s].
    candidate_order : sequence of str
        Ids in the order of the file.

    Returns
    -------
    dict of str to Measurement or None
        None where a candidate has neither runs nor attempts.
    """
    return {candidate: _find_limit(trial, candidate) for candidate in candidate_order}


def _find_limit(trial: Trial, candidate: str) -> Measurement | None:
    blank = Measurement(trial.id, candidate, trial.measures, trial.unit, "bracketed", 0)
    runs = trial.runs.get(candidate, ())
    if runs:
        return find_runs_limit(blank, runs)
    attempts = trial.attempts.get(candidate, ())
    return find_attempts_limit(blank, attempts) if attempts else None


def find_runs_limit(blank: Measurement, runs: Sequence[Run]) -> Measurement:
    """Fill a blank measurement from climbs that ended in a bracket (held, lost] or at a bound.

    Parameters
    ----------
    blank : Measurement
        Names the item, the candidate, the quantity and the unit.
    runs : sequence of Run
        At least one [unit of blank].

    Returns
    -------
    Measurement
        Brackets only: mean of the mid-points, u = √(max(s², rung²/12)/n) with n − 1 degrees of freedom, and the
        interval of ``find_half_width``. One bracket: that bracket. Bounds among them: a censored normal fit where
        there is enough to fit, else "at least" or "at most".

    Assumes: runs of one candidate scatter independently about one mean limit.
    Source: JCGM 100:2008, 4.2 and F.2.2.1; the coverage is simulated in generator.validation.
    """
    blank = replace(blank, count=len(runs), reason=_stops(runs))
    brackets = [Bracket(run.held, run.lost) for run in runs]
    finite = [bracket for bracket in brackets if bracket.finite]
    if len(finite) < len(brackets):
        return _bounded(blank, brackets, finite)
    return _one(blank, finite[0]) if len(finite) == 1 else _mean(blank, finite)


def _stops(runs: Sequence[Run]) -> str:
    """Why climbs ended without a loss, each cause once."""
    return ", ".join(dict.fromkeys(run.stopped for run in runs if run.lost is None and run.stopped))


def find_rung(brackets: Sequence[Bracket]) -> float | None:
    """Root mean square width of finite brackets [unit]; None where there is none."""
    if not brackets:
        return None
    return math.sqrt(find_mean([bracket.width**2 for bracket in brackets]))


def _one(blank: Measurement, bracket: Bracket) -> Measurement:
    return replace(
        blank,
        estimate=bracket.middle,
        low=bracket.held,
        high=bracket.lost,
        rung=bracket.width,
        basis=ONE_RUN,
    )


def _mean(blank: Measurement, brackets: Sequence[Bracket]) -> Measurement:
    middles = [bracket.middle for bracket in brackets]
    count, rung, mean = len(middles), find_rung(brackets) or 0.0, find_mean(middles)
    scatter = find_scatter(middles) or 0.0
    uncertainty = find_resolved_scatter(scatter, rung) / math.sqrt(count)
    half = find_half_width(scatter, rung, count)
    return replace(
        blank,
        estimate=mean,
        standard_uncertainty=uncertainty,
        degrees_of_freedom=float(count - 1),
        low=mean - half,
        high=mean + half,
        rung=rung,
        scatter=scatter,
        basis=MEAN,
    )


def _bounded(blank: Measurement, brackets: Sequence[Bracket], finite: Sequence[Bracket]) -> Measurement:
    """Runs of which some never lost, or lost at once."""
    blank = replace(blank, rung=find_rung(finite), bound_count=len(brackets) - len(finite))
    if len(finite) >= MIN_FINITE and len({bracket.held for bracket in finite}) >= MIN_RUNGS:
        fit = fit_censored(brackets)
        return replace(
            blank,
            estimate=fit.mean,
            standard_uncertainty=fit.standard_uncertainty,
            degrees_of_freedom=float(len(finite) - 1),
            low=fit.low,
            high=fit.high,
            scatter=fit.scatter,
            basis=CENSORED,
        )
    if all(bracket.held is not None for bracket in brackets):
        least = min(bracket.held for bracket in brackets if bracket.held is not None)
        basis = BOUND[len(brackets) == 1]
        return replace(blank, kind="lower bound", at_least=least, bound_count=len(brackets), basis=basis)
    most = [bracket.lost for bracket in brackets]
    if any(lost is None for lost in most):
        return replace(blank, kind="bracketed", basis="runs that never lost beside runs that never held")
    ceiling = max(lost for lost in most if lost is not None)
    basis = CEILING[len(brackets) == 1]
    return replace(blank, kind="upper bound", at_most=ceiling, bound_count=len(brackets), basis=basis)
