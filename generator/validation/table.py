"""The table of the validation: which benches are simulated, its rows, its targets, and the run that is shipped."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from importlib.resources import files
from typing import Any

from generator.validation.made_up import Scenario
from generator.validation.tally import Tally, tally_scenario

SEED = 20260914
COMPARISONS = 1500
"""Made-up comparisons per truth, five truths per row [1]."""
COVERAGE_LEAST = 0.94
COVERAGE_MOST = 0.97
"""Wanted where the rung is no coarser than the scatter; a coarser rung may cover more [1]."""
WRONG_MOST = 0.02
NOISE = 3.0
"""A row misses a target only beyond this many standard errors of its own simulation [1]."""

ALIKE = "equal scatter, equal numbers of runs"
SINGLE = "single runs, scatter known from a third candidate"
COUNTS = "unequal numbers of runs"
SCATTERS = "one candidate scatters more"
BOTH = "the candidate with fewer runs scatters more"
DRIFT = "limits drift over the session, candidates interleaved"
BLOCKS = "limits drift over the session, one candidate after the other, order noted"
MANY_BLOCKS = "limits drift over the session, four or six candidates one after the other, order noted"
FEW_BLOCKS = "limits drift over the session, one candidate after the other, order noted, two runs each"
UNNOTED = "limits drift over the session, one candidate after the other, order not noted"
UNNOTED_SINGLE = "limits drift over the session, single runs with a third candidate between them, order not noted"
STEADY = "order not noted, though nothing drifts and the candidates were interleaved"
BOUNDS = "some runs never lost"
TRIES = "attempts on every rung"

SCENARIOS: tuple[Scenario, ...] = (
    *(Scenario(ALIKE, (n, n), rung) for n in (2, 3, 4, 5, 7, 10) for rung in (0.2, 0.5, 1.0, 2.0, 5.0)),
    *(Scenario(SINGLE, (1, 1), rung, third=third) for third in (3, 5) for rung in (0.2, 1.0, 5.0)),
    *(Scenario(COUNTS, runs, rung) for runs in ((2, 3), (3, 5), (10, 3)) for rung in (0.2, 1.0, 5.0)),
    *(Scenario(SCATTERS, (n, n), 1.0, scatter_ratio=ratio) for n in (2, 3, 5, 10) for ratio in (2.0, 3.0)),
    *(Scenario(BOTH, runs, 1.0, scatter_ratio=ratio) for runs in ((5, 3), (10, 3), (10, 2)) for ratio in (2.0, 3.0)),
    *(Scenario(DRIFT, (n, n), 1.0, drift=drift) for n in (2, 3, 5, 10) for drift in (1.0, 4.0)),
    *(Scenario(DRIFT, (n, n), 1.0, scatter_ratio=3.0, drift=4.0) for n in (3, 5)),
    *(Scenario(BLOCKS, (n, n), 1.0, drift=drift, interleaved=False) for n in (3, 5, 10) for drift in (1.0, 4.0)),
    *(Scenario(BLOCKS, (n, n), 1.0, scatter_ratio=3.0, drift=4.0, interleaved=False) for n in (3, 5)),
    *(
        Scenario(MANY_BLOCKS, (n, n), 1.0, drift=drift, interleaved=False, others=others)
        for n, others in ((2, 2), (3, 2), (4, 4))
        for drift in (4.0, 12.0)
    ),
    *(
        Scenario(FEW_BLOCKS, (2, 2), rung, drift=drift, interleaved=False)
        for rung in (0.2, 1.0)
        for drift in (1.0, 4.0)
    ),
    *(
        Scenario(UNNOTED, (n, n), rung, drift=drift, interleaved=False, order_noted=False)
        for n in (2, 3, 5, 10)
        for rung in (0.2, 1.0, 5.0)
        for drift in (4.0, 8.0)
    ),
    *(
        Scenario(UNNOTED_SINGLE, (1, 1), rung, drift=drift, interleaved=False, order_noted=False, third=3)
        for rung in (0.2, 1.0)
        for drift in (4.0, 8.0)
    ),
    *(Scenario(STEADY, (n, n), 1.0, order_noted=False) for n in (2, 3, 5, 10)),
    *(Scenario(BOUNDS, (n, n), rung, headroom=head) for n in (5, 10) for rung in (0.2, 1.0) for head in (0.0, 1.0)),
    *(Scenario(TRIES, (n, n), rung, tries=True) for n in (3, 5, 10) for rung in (0.5, 1.0, 2.0)),
)
FACTOR = 2.3
"""What matters, in the largest of scatter and rung: no whole number, lest every true difference be a whole rung [1]."""
SLOW = (BOUNDS, TRIES)
SLOW_SHARE = 5
"""Rows that need fits get one comparison for this many of the others [1]."""


def run_row(scenario: Scenario, comparisons: int = COMPARISONS, seed: int = SEED) -> dict[str, Any]:
    """Simulate one row of the table.

    Parameters
    ----------
    scenario : Scenario
        The bench.
    comparisons : int
        Per truth: equal with nothing said to matter, equal, different by half of what matters, by just what matters,
        by twice that.
    seed : int
        Start of the random numbers.

    Returns
    -------
    dict
        JSON-ready: coverage of limits and of differences, and rates of wrong and right calls [1], None where none.
    """
    if scenario.group in SLOW:
        comparisons = max(comparisons // SLOW_SHARE, 1)
    matters = FACTOR * max(1.0, scenario.rung, scenario.scatter_ratio)
    unstated = tally_scenario(scenario, 0.0, None, comparisons, seed)
    equal = tally_scenario(scenario, 0.0, matters, comparisons, seed)
    half = tally_scenario(scenario, matters / 2, matters, comparisons, seed)
    edge = tally_scenario(scenario, matters, matters, comparisons, seed)
    twice = tally_scenario(scenario, -2 * matters, matters, comparisons, seed)
    named = ("group", "rung", "scatter_ratio", "drift", "headroom", "third", "others")
    return {
        **{name: getattr(scenario, name) for name in named},
        "runs": list(scenario.runs),
        "matters": matters,
        "each": comparisons,
        **_coverage((unstated, equal, half, edge, twice)),
        "wrong_equal_unstated": _rate([unstated], "wrong", "comparisons"),
        "wrong_equal": _rate([equal], "wrong", "comparisons"),
        "wrong_half": _rate([half], "wrong", "comparisons"),
        "overstated": _rate([half], "overstated", "comparisons"),
        "wrong_edge": _rate([edge], "wrong", "comparisons"),
        "wrong_different": _rate([twice], "wrong", "comparisons"),
        "right_equal": _rate([equal], "right", "comparisons"),
        "right_different": _rate([twice], "right", "comparisons"),
    }


def _coverage(tallies: Sequence[Tally]) -> dict[str, Any]:
    """How many statements were made over all truths, and how many hold."""
    return {
        "comparisons": sum(tally.comparisons for tally in tallies),
        "limits": sum(tally.limits for tally in tallies),
        "limit_coverage": _rate(tallies, "limits_hold", "limits"),
        "bounds": sum(tally.bounds for tally in tallies),
        "bounds_true": _rate(tallies, "bounds_hold", "bounds"),
        "differences": sum(tally.differences for tally in tallies),
        "difference_coverage": _rate(tallies, "differences_hold", "differences"),
    }


def _rate(tallies: Sequence[Tally], part: str, whole: str) -> float | None:
    total = sum(getattr(tally, whole) for tally in tallies)
    return round(sum(getattr(tally, part) for tally in tallies) / total, 4) if total else None


def run_validation(
    version: str, date: str, comparisons: int = COMPARISONS, tell: Callable[[str], None] = lambda text: None
) -> dict[str, Any]:
    """Simulate the whole table.

    Parameters
    ----------
    version, date : str
        Of the project and of the run, to be shown with the table.
    comparisons : int
        Made-up comparisons per truth and row [1].
    tell : callable
        Hears the name of each row before it is run.

    Returns
    -------
    dict
        JSON-ready, with rows, targets and the rows that miss one.
    """
    rows = []
    for scenario in SCENARIOS:
        tell(scenario.id)
        rows.append(run_row(scenario, comparisons))
    return {
        "version": version,
        "date": date,
        "seed": SEED,
        "comparisons_per_truth": comparisons,
        "comparisons": sum(row["comparisons"] for row in rows),
        "targets": {"coverage_least": COVERAGE_LEAST, "coverage_most": COVERAGE_MOST, "wrong_most": WRONG_MOST},
        "rows": rows,
        "misses": [miss for row in rows for miss in find_misses(row)],
    }


def find_misses(row: dict[str, Any]) -> list[dict[str, Any]]:
    """Targets that a row misses by more than the chance of its own simulation.

    Parameters
    ----------
    row : dict
        As ``run_row`` returns it.

    Returns
    -------
    list of dict
        figure, value, target [1] and words of each miss, with the row's group, runs and rung.
    """
    misses = []
    for figure, count in (("limit_coverage", "limits"), ("difference_coverage", "differences")):
        misses += _outside(row, figure, row[count], COVERAGE_LEAST, below=True, words="covers too little")
        if row["rung"] <= 1:
            misses += _outside(row, figure, row[count], COVERAGE_MOST, below=False, words="covers more than needed")
    for figure in ("wrong_equal_unstated", "wrong_equal", "wrong_half", "wrong_edge", "wrong_different"):
        misses += _outside(row, figure, row["each"], WRONG_MOST, below=False, words="too many wrong calls")
    return misses


def _outside(
    row: dict[str, Any], figure: str, count: float, target: float, below: bool, words: str
) -> list[dict[str, Any]]:
    value = row[figure]
    if value is None or not count:
        return []
    error = NOISE * (target * (1 - target) / count) ** 0.5
    if (value >= target - error) if below else (value <= target + error):
        return []
    named = {key: row[key] for key in ("group", "runs", "rung", "scatter_ratio", "drift")}
    return [{**named, "figure": figure, "value": value, "target": target, "words": words}]


def read_validation() -> dict[str, Any]:
    """Read the table that is shipped with the project."""
    return dict(json.loads(files("generator.validation").joinpath("results.json").read_text(encoding="utf-8")))
