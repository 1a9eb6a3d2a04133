"""A trend over the order of runs, taken out of a difference, against a general regression."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm

from generator.analysis.contrast import compare
from generator.analysis.limits import find_limits
from generator.analysis.trend import are_apart, remove_trend
from generator.records.trial import Run, Trial

TRIAL = Trial("diagonal", "acceleration", (1.0, 0.0), {"x": 1.0}, speed=0.5)


def runs_at(places: list[int], middles: list[float], rung: float = 0.2) -> tuple[Run, ...]:
    return tuple(
        Run(middle - rung / 2, middle + rung / 2, order=place) for place, middle in zip(places, middles, strict=True)
    )


FIRST = runs_at([1, 2, 3, 4, 5], [30.1, 30.9, 31.6, 32.9, 33.2])
SECOND = runs_at([6, 7, 8, 9, 10], [34.2, 34.8, 36.1, 36.6, 37.5])


def test_blocks_as_a_general_regression() -> None:
    found = remove_trend(FIRST, SECOND, 0.2)

    assert found is not None
    middles = [(run.held + run.lost) / 2 for run in (*FIRST, *SECOND)]  # type: ignore[operator]
    design = np.column_stack([np.ones(10), [1.0] * 5 + [0.0] * 5, np.arange(10.0)])
    fit = sm.OLS(middles, design).fit()
    uncertainty, freedom = found.widest(0.95)
    assert found.value == pytest.approx(fit.params[1], rel=1e-9)
    assert uncertainty == pytest.approx(fit.bse[1], rel=1e-9)
    assert freedom == fit.df_resid == 7
    assert found.interval() == pytest.approx(tuple(fit.conf_int()[1]), rel=1e-9)


def test_a_drift_in_blocks_does_not_pass_for_a_difference() -> None:
    trial = replace(TRIAL, runs={"a": FIRST, "b": SECOND})
    (noted,) = compare(trial, find_limits(trial, ["a", "b"]), None)
    silent = replace(
        TRIAL, runs={name: tuple(replace(r, order=None) for r in runs) for name, runs in trial.runs.items()}
    )
    (unnoted,) = compare(silent, find_limits(silent, ["a", "b"]), None)

    assert unnoted.call == "b ahead"  # the order hides the drift, and the reason says so
    assert unnoted.reason.endswith("the order of the runs is not noted, so a drift would not show")
    assert (noted.call, noted.drift_removed) == ("undecided", True)
    assert noted.low is not None and noted.high is not None
    assert noted.low < 0 < noted.high


def test_interleaved_runs_are_left_alone_unless_they_drift() -> None:
    steady = [32.0, 32.4, 31.8, 32.2, 31.9]
    places = [1, 4, 5, 8, 9], [2, 3, 6, 7, 10]
    drifting = [[30 + place + 0.1 * (place % 3) for place in row] for row in places]

    assert remove_trend(runs_at(places[0], steady), runs_at(places[1], steady), 0.2) is None
    found = remove_trend(runs_at(places[0], drifting[0]), runs_at(places[1], drifting[1]), 0.2)
    assert found is not None
    low, high = found.interval()
    assert low < 0 < high and high - low < 1


def test_two_blocks_too_short_for_a_trend_are_not_called() -> None:
    trial = replace(TRIAL, runs={"a": runs_at([1, 2], [30.1, 30.2]), "b": runs_at([3, 4], [44.1, 44.2])})
    (blocks,) = compare(trial, find_limits(trial, ["a", "b"]), None)
    mixed = replace(TRIAL, runs={"a": runs_at([1, 4], [30.1, 30.2]), "b": runs_at([2, 3], [44.1, 44.2])})
    (interleaved,) = compare(mixed, find_limits(mixed, ["a", "b"]), None)

    assert (blocks.call, blocks.low, blocks.runs_to_decide) == ("undecided", None, None)
    assert blocks.difference == pytest.approx(-14.0)
    assert "a drift from a difference" in blocks.reason
    assert interleaved.call == "b ahead"


@pytest.mark.parametrize(
    ("places", "apart"),
    [(([1, 4], [2, 3]), False), (([1, 3], [2, 4]), False), (([1, 2], [3, 4]), True), (([1], [2]), False),
     (([1, 2, 6], [3, 4, 5]), False), (([10, 20, 30], [40, 50, 60]), True)],
)  # fmt: skip
def test_one_after_the_other_is_more_than_one_place_apart(places: tuple[list[int], list[int]], apart: bool) -> None:
    first, second = (runs_at(own, [30.0] * len(own)) for own in places)
    assert are_apart(first, second) is apart
    assert are_apart(first, tuple(replace(run, order=None) for run in second)) is None


@pytest.mark.parametrize(
    "second",
    [
        tuple(replace(run, order=None) for run in SECOND),
        tuple(replace(run, order=1) for run in SECOND),
        SECOND[:2],
        (*SECOND[:4], Run(38.0, None, "stroke", 10)),
    ],
    ids=["no order", "order not of one session", "too few", "a bound"],
)
def test_nothing_to_take_out(second: tuple[Run, ...]) -> None:
    assert remove_trend(FIRST, second, 0.2) is None
