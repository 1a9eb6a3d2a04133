"""Made-up trials with known truth: what a bench would record. Unit of everything: the scatter of one run."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from generator.analysis.planning import plan_order
from generator.records.trial import Attempts, Run, Trial

FIRST, SECOND, THIRD = "first", "second", "third"
OTHERS = ("fourth", "fifth", "sixth", "seventh")
BASE = 100.0
"""Limit about which all truths lie, in scatters; its place on the ladder is random."""
LOGISTIC_SCATTER = math.pi / math.sqrt(3)
"""Standard deviation of the logistic distribution of scale one."""


@dataclass(frozen=True)
class Scenario:
    """One row of the table: a kind of bench with its counts, its ladder and what goes wrong on it.

    runs holds the runs (or tries per rung) of both candidates; rung, drift (over the whole session) and headroom (of
    the ladder's top over the first limit) are in scatters; scatter_ratio is second over first. third is the number
    of runs of a third candidate that lends its scatter; others is the number of further candidates, each with the runs
    of the first, behind all. Candidates that are not interleaved run one after the other.
    """

    group: str
    runs: tuple[int, int]
    rung: float
    scatter_ratio: float = 1.0
    drift: float = 0.0
    interleaved: bool = True
    order_noted: bool = True
    headroom: float | None = None
    third: int = 0
    others: int = 0
    tries: bool = False

    @property
    def id(self) -> str:
        """Stable name, from which the row's random numbers start."""
        parts = [self.group, f"{self.runs[0]} and {self.runs[1]}", f"rung {self.rung:g}"]
        extras = {
            "ratio": (self.scatter_ratio, 1.0),
            "drift": (self.drift, 0.0),
            "headroom": (self.headroom, None),
            "third": (self.third, 0),
            "others": (self.others, 0),
        }
        return ", ".join(parts + [f"{name} {value:g}" for name, (value, plain) in extras.items() if value != plain])


@dataclass(frozen=True)
class Made:
    """A made-up trial with the true limits of both candidates: each its mean over its own runs, where limits drift.

    difference is the true one at any one moment.
    """

    trial: Trial
    truth: tuple[float, float]
    difference: float


def make_trial(scenario: Scenario, difference: float, random: np.random.Generator) -> Made:
    """Make one trial.

    Parameters
    ----------
    scenario : Scenario
        The bench.
    difference : float
        True limit of the first candidate less that of the second [scatter].
    random : numpy.random.Generator
        Where chance comes from.
    """
    first = BASE + float(random.uniform(0.0, scenario.rung))
    truth = (first, first - difference)
    if scenario.tries:
        attempts = {
            name: _try(limit, scenario, count, random)
            for name, limit, count in zip((FIRST, SECOND), truth, scenario.runs, strict=True)
        }
        return Made(_trial(attempts=attempts), truth, difference)
    runs = _climb_all(scenario, truth, random)
    truth = (truth[0] + _mean_moved(scenario, FIRST), truth[1] + _mean_moved(scenario, SECOND))
    return Made(_trial(runs=runs), truth, difference)


def _trial(**recorded: object) -> Trial:
    return Trial("made-up", "acceleration", (1.0,), {"x": 1.0}, speed=1.0, **recorded)  # type: ignore[arg-type]


def _climb_all(
    scenario: Scenario, truth: tuple[float, float], random: np.random.Generator
) -> dict[str, tuple[Run, ...]]:
    """Runs of all candidates in the order of the session, with the drift of the session in them."""
    order = _order(scenario)
    names = (FIRST, SECOND, THIRD, *OTHERS)
    scatter = dict.fromkeys(names, 1.0) | {SECOND: scenario.scatter_ratio}
    limits = dict.fromkeys(names, BASE + 1.5) | {FIRST: truth[0], SECOND: truth[1]}
    runs: dict[str, list[Run]] = {name: [] for name in names if name in order}
    for place, name in enumerate(order):
        moved = _moved(scenario, place, len(order))
        noted = place + 1 if scenario.order_noted else None
        runs[name].append(_climb(limits[name] + moved, scatter[name], scenario, random, noted))
    return {name: tuple(made) for name, made in runs.items()}


def _moved(scenario: Scenario, place: int, count: int) -> float:
    """How far the limits have drifted at one place of the session [scatter]."""
    return scenario.drift * (place / max(count - 1, 1) - 0.5)


def _mean_moved(scenario: Scenario, candidate: str) -> float:
    """Mean drift over the runs of one candidate [scatter]."""
    order = _order(scenario)
    moved = [_moved(scenario, place, len(order)) for place, name in enumerate(order) if name == candidate]
    return sum(moved) / len(moved)


def _order(scenario: Scenario) -> tuple[str, ...]:
    """Whose run comes when: A B B A …, unequal numbers spread evenly; or first, third, second in blocks."""
    first, second = scenario.runs
    third = (THIRD,) * scenario.third
    if not scenario.interleaved:
        others = tuple(name for name in OTHERS[: scenario.others] for _ in range(first))
        return (FIRST,) * first + third + (SECOND,) * second + others
    if first == second:
        return (*plan_order((FIRST, SECOND), first), *third)
    spread = [((run + 0.5) / count, name) for name, count in ((FIRST, first), (SECOND, second)) for run in range(count)]
    return (*(name for _, name in sorted(spread)), *third)


def _climb(
    limit: float, scatter: float, scenario: Scenario, random: np.random.Generator, order: int | None = None
) -> Run:
    """One climb from rung to rung until the run's own limit is passed, or the top is reached."""
    rung = scenario.rung
    held = math.floor(random.normal(limit, scatter) / rung) * rung
    if scenario.headroom is not None:
        top = math.ceil((BASE + scenario.headroom) / rung) * rung
        if held >= top - rung / 2:
            return Run(top, None, "stroke", order)
    return Run(held, held + rung, None, order)


def _try(limit: float, scenario: Scenario, tries: int, random: np.random.Generator) -> tuple[Attempts, ...]:
    """Tries on every rung across the change from held to lost."""
    rung = scenario.rung
    ladder = (math.floor((limit - 4.0) / rung) + np.arange(math.ceil(8.0 / rung) + 2)) * rung
    chance = 1 / (1 + np.exp((ladder - limit) * LOGISTIC_SCATTER))
    held = random.binomial(tries, chance)
    return tuple(Attempts(at, count, tries - count) for at, count in zip(ladder.tolist(), held.tolist(), strict=True))
