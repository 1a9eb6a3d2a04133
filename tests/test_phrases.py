"""Phrases that charts and pages share: lists, measurements by their kind, calls by their key, leads and ripples."""

from __future__ import annotations

from typing import Any

import pytest

from generator.phrases import (
    call_text,
    difference_text,
    lead_text,
    listed,
    measured_text,
    sentence_case,
    wavelength_text,
)

Row = dict[str, Any]


def test_lists_and_sentences() -> None:
    assert [listed(parts) for parts in ([], ["a"], ["a", "b", "c"])] == ["", "a", "a, b and c"]
    assert sentence_case("too few runs") == "Too few runs" and sentence_case("") == ""


def measured(**figures: Any) -> Row:
    return {"quantity": "acceleration", "unit": "m/s^2", "kind": "bracketed", "count": 3} | figures


@pytest.mark.parametrize(
    ("row", "text"),
    [
        (None, "–"),
        (measured(), "–"),
        (measured(estimate=32.46, low=31.26, high=33.66), "32.5 ± 1.2 m/s²"),
        (measured(estimate=32.46, low=None, high=33.0), "32.5 m/s²"),
        # a single run's bracket and bounds are rungs, which somebody chose
        (measured(count=1, estimate=31.5, low=31.0, high=32.0), "31 to 32 m/s²"),
        (measured(at_least=12.375), "at least 12.375 m/s²"),
        (measured(quantity="speed", unit="m/s", at_most=1.785), "at most 1785 mm/s"),
        (measured(quantity="fastest_clean_band", unit="m/s", kind="recorded", count=1, estimate=0.04), "40 mm/s"),
        (measured(quantity="level", unit="dB(A)", at_most=45.3578), "at most 45.4 dB(A)"),
    ],
)
def test_a_measurement_is_written_by_its_kind(row: Row | None, text: str) -> None:
    assert measured_text(row) == text
    assert measured_text(row, bare=True) == text.partition(" m/s²")[0].partition(" mm/s")[0].partition(" dB")[0]


def contrast(call: str, ahead: str | None, **figures: Any) -> Row:
    found = {"quantity": "acceleration", "unit": "m/s^2", "between": ["a", "b"], "call": call, "ahead": ahead}
    return found | {"difference": -30.0, "low": -33.0, "high": -26.0} | figures


def test_the_key_says_who_is_ahead_whatever_the_words() -> None:
    assert call_text(contrast("b ahead", "b"), {"b": "36 V supply"}) == "36 V supply ahead"
    assert call_text(contrast("undecided", None), {}) == "undecided"
    assert call_text(contrast("a ahead", None), {"a": "36 V supply"}) == "a ahead"
    assert lead_text(contrast("a ahead", None)) == ""


def test_a_lead_is_a_size_whichever_way_the_difference_points() -> None:
    row = contrast("b ahead", "b")
    level = {"quantity": "level", "unit": "dB(A)", "difference": -2.1, "low": -2.7, "high": -1.5}

    assert lead_text(row) == " by 30.0 (26.0 to 33.0) m/s²"
    assert lead_text(row | {"ahead": "a", "quantity": "rms"}) == ", lower by 30.0 (26.0 to 33.0) m/s²"
    assert lead_text(row | {"ahead": "a"} | level) == ", quieter by 2.10 ± 0.60 dB(A)"
    assert lead_text(row | {"difference": None}) == ""


def test_differences_of_shares_of_votes_stand_in_per_cent() -> None:
    shares = contrast("undecided", None, quantity="share", unit="1", difference=-0.125, low=-0.605, high=0.402)

    assert difference_text(shares) == "−13 (−61 to 40) %"
    assert difference_text(contrast("b ahead", "b")) == "−30.0 (−33.0 to −26.0) m/s²"


def test_speeds_of_bands_are_printed_as_somebody_wrote_them() -> None:
    bands = contrast("b ahead", "b", quantity="fastest_clean_band", unit="m/s", difference=-0.06, low=None, high=None)

    assert difference_text(bands) == "−60 mm/s"
    assert lead_text(bands) == " by 60 mm/s"


def test_a_wavelength_carries_its_resolution() -> None:
    assert wavelength_text({"wavelength": 1.41e-3, "resolution": 5e-5}) == "1.410 ± 0.050 mm"
    assert wavelength_text({"wavelength": 1.41e-3}, bare=True) == "1.41"
