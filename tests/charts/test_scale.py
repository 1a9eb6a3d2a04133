"""Scales: round ticks that hold their figures, on both kinds of scale."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.charts.scale import Scale, find_range, linear_scale, log_scale


@pytest.mark.parametrize(
    ("low", "high", "count", "labels"),
    [
        (0, 100, 5, ("0", "20", "40", "60", "80", "100")),
        (0, 1.6, 8, ("0.0", "0.2", "0.4", "0.6", "0.8", "1.0", "1.2", "1.4", "1.6")),
        (0, 140, 6, ("0", "25", "50", "75", "100", "125", "150")),
        (-3, 3, 4, ("−4", "−2", "0", "2", "4")),
        (0, 0.011, 5, ("0.0000", "0.0025", "0.0050", "0.0075", "0.0100", "0.0125")),
    ],
)
def test_linear_ticks_are_round(low: float, high: float, count: int, labels: tuple[str, ...]) -> None:
    assert linear_scale(low, high, count).labels() == labels


def test_labels_are_shown_in_the_unit_that_people_read() -> None:
    assert linear_scale(0, 1.6, 4, unit="m/s").labels() == ("0", "500", "1000", "1500", "2000")


FINITE = st.floats(-1e9, 1e9, allow_nan=False)


@given(FINITE, FINITE, st.integers(2, 10), st.booleans())
def test_linear_scale_holds_its_range(one: float, other: float, count: int, exact: bool) -> None:
    low, high = min(one, other), max(one, other)
    scale = linear_scale(low, high, count, exact=exact)

    slack = 1e-6 * (scale.high - scale.low)
    assert scale.low < scale.high
    assert scale.low <= low + slack and high - slack <= scale.high
    assert all(scale.low - slack <= tick <= scale.high + slack for tick in scale.ticks)
    assert len(scale.ticks) <= count + 3


@given(st.floats(1e-6, 1e6), st.floats(1.0, 1e5), st.booleans())
def test_log_scale_holds_its_range(low: float, factor: float, exact: bool) -> None:
    scale = log_scale(low, low * factor, exact=exact)

    assert scale.low <= low * (1 + 1e-6) and low * factor * (1 - 1e-6) <= scale.high
    assert list(scale.ticks) == sorted(set(scale.ticks))


def test_log_scale_places_equal_ratios_at_equal_distances() -> None:
    scale = Scale(1, 100, (1, 10, 100), logarithmic=True)

    assert scale.share([1, 10, 100]) == pytest.approx([0, 0.5, 1])
    assert math.isnan(scale.share([0.0])[0]) and math.isnan(scale.share([-1.0])[0])


def test_small_powers_are_written_as_powers() -> None:
    assert Scale(1e-4, 1e5, (1e-4, 1e-2, 1, 1e5), logarithmic=True).labels() == ("10⁻⁴", "0.01", "1", "10⁵")


def test_range_leaves_out_what_is_missing() -> None:
    assert find_range([None, 3.0], [], [float("nan"), 1.0, float("inf")]) == (1.0, 3.0)
    assert find_range([None], []) is None
