"""Where a measured limit lies in its predicted corridor."""

from __future__ import annotations

from dataclasses import replace

import pytest

from generator.analysis.agreement import (
    ABOVE,
    BELOW,
    BETWEEN,
    INSIDE,
    ONLY_LOWER,
    ONLY_UPPER,
    TOO_WIDE,
    find_agreement,
)
from generator.records.findings import Measurement, Prediction, Spread

PREDICTION = Prediction(
    "diagonal",
    "a",
    "acceleration",
    "m/s^2",
    static=Spread(44.0, 38.0, 47.0, 58.0),
    start=Spread(32.0, 28.0, 34.0, 42.0),
    any_timing=Spread(18.0, 15.0, 19.0, 24.0),
    bound_by="torque",
)
MEASURED = Measurement("diagonal", "a", "acceleration", "m/s^2", "bracketed", 3)


@pytest.mark.parametrize(
    ("low", "high", "place"),
    [
        (31.0, 35.0, INSIDE),
        (57.0, 62.0, INSIDE),  # reaches below the highest static limit
        (58.5, 62.0, ABOVE),
        (20.0, 27.5, BETWEEN),
        (20.0, 28.5, INSIDE),  # reaches the lowest start limit
        (14.5, 16.0, BETWEEN),  # reaches the lowest any-timing limit
        (12.0, 14.5, BELOW),
        (10.0, 70.0, TOO_WIDE),
        (15.0, 58.0, TOO_WIDE),  # from the lowest any-timing limit to the highest static one
        (15.1, 70.0, INSIDE),
        (10.0, 57.9, INSIDE),
    ],
)
def test_places_are_judged_by_intervals(low: float, high: float, place: str) -> None:
    found = find_agreement(PREDICTION, replace(MEASURED, estimate=(low + high) / 2, low=low, high=high))

    assert found is not None
    assert (found.trial, found.candidate, found.place) == ("diagonal", "a", place)
    assert found.ratio == pytest.approx((low + high) / 2 / 44.0)
    assert found.reason


@pytest.mark.parametrize(("least", "place"), [(40.0, ONLY_LOWER), (60.0, ABOVE)])
def test_lower_bounds(least: float, place: str) -> None:
    found = find_agreement(PREDICTION, replace(MEASURED, kind="lower bound", at_least=least))

    assert found is not None and (found.place, found.ratio) == (place, None)


@pytest.mark.parametrize(("most", "place"), [(20.0, ONLY_UPPER), (10.0, BELOW)])
def test_upper_bounds(most: float, place: str) -> None:
    found = find_agreement(PREDICTION, replace(MEASURED, kind="upper bound", at_most=most))

    assert found is not None and found.place == place


def test_nominal_figures_stand_in_for_missing_draws() -> None:
    bare = replace(PREDICTION, static=Spread(44.0), start=Spread(32.0), any_timing=Spread(18.0))

    found = find_agreement(bare, replace(MEASURED, estimate=46.0, low=45.0, high=47.0))

    assert found is not None and found.place == ABOVE


def test_nothing_to_compare() -> None:
    assert find_agreement(replace(PREDICTION, static=Spread(None)), replace(MEASURED, estimate=4.0)) is None
    assert find_agreement(PREDICTION, MEASURED) is None


def test_one_run_is_called_a_bracket() -> None:
    found = find_agreement(PREDICTION, replace(MEASURED, count=1, estimate=40.0, low=39.5, high=40.5))

    assert found is not None and "bracket of the one run" in found.reason
