"""Words: numbers, units and directions as pages show them, and text that is safe to draw."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.charts.wording import (
    counted,
    direction_key,
    direction_slug,
    direction_text,
    estimate,
    heading,
    listed,
    number,
    plain,
    quantity,
    shortened,
    span,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (32.5, "32.5"), (-29.38, "−29.4"), (1150.0, "1150"), (0.046, "0.046"), (None, "–"), (5e-324, "0")],
)
def test_number_has_three_significant_digits_and_a_true_minus(value: float | None, text: str) -> None:
    assert number(value) == text


def test_figures_are_shown_in_the_unit_that_people_read() -> None:
    assert quantity(0.5, "m/s") == "500 mm/s"
    assert quantity(32.5, "m/s^2") == "32.5 m/s²"
    assert quantity(0.00048, "m") == "0.48 mm"
    assert quantity(0.4375, "%", bare=True) == "43.8"
    assert quantity(52.1, "dB(A)") == "52.1 dB(A)"
    assert span(1.1, 1.3, "m/s") == "1100 to 1300 mm/s"
    assert span(None, None, "m/s") == quantity(None, "m/s") == "–"
    assert span(0.359, 2.97) == "0.36 to 2.97" and span(2.08, 100.0) == "2.08 to 100"
    assert heading("speed", "m/s") == "speed [mm/s]"


@given(st.text())
def test_plain_text_is_one_line_of_characters_that_xml_can_hold(text: str) -> None:
    from xml.etree import ElementTree

    element = ElementTree.Element("text")
    element.text = plain(text)

    assert ElementTree.fromstring(ElementTree.tostring(element, encoding="unicode")).text == (plain(text) or None)
    assert "\n" not in plain(text) and plain(plain(text)) == plain(text)


def test_plain_text_drops_direction_overrides_and_private_characters() -> None:
    assert plain("a\u202eb\ue000c\x00d\r\n e") == "abcd e"
    assert plain("板 42 · µ²") == "板 42 · µ²"


@pytest.mark.parametrize(
    ("direction", "text", "slug"),
    [
        ({"x": 1}, "along x", "x"),
        ({"x": -1.0}, "along −x", "minus-x"),
        ({"x": 1, "y": 1}, "along the diagonal of x and y", "x-y"),
        ({"x": 1, "y": -1}, "along the diagonal of x and −y", "x1-yminus1"),
        ((0.0, 1.0), "along y", "y"),
        ({"x": 1, "y": 2}, "along x : y = 1 : 2", "x1-y2"),
    ],
)
def test_directions_have_a_text_and_an_id(direction: object, text: str, slug: str) -> None:
    assert direction_text(direction) == text
    assert direction_slug(direction) == slug


def test_equal_directions_have_equal_keys() -> None:
    assert direction_key({"x": 2, "y": 2, "z": 0}) == direction_key((0.70710678, 0.70710678))


def test_lists_and_counts_in_words() -> None:
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed([]) == ""
    assert counted(1, "run") == "one run" and counted(13, "run") == "13 runs"
    assert shortened(list("abcdefgh"), 3) == ["a", "b", "c", "and 5 more in the table"]
    assert shortened(list("abcd"), 3) == list("abcd")


@pytest.mark.parametrize(
    ("figures", "text"),
    [
        ((32.46, 31.26, 33.66), "32.5 m/s² (31.3 to 33.7)"),
        ((0.0359, -0.02, 0.0918), "0.036 m/s² (−0.020 to 0.092)"),
        ((31.5, 31.0, 32.0), "31.5 m/s² (31.0 to 32.0)"),
        ((1234.0, 1100.0, 1368.0), "1234 m/s² (1100 to 1368)"),
        ((32.5, None, 33.0), "32.5 m/s²"),
        ((None, 31.0, 32.0), "31 to 32 m/s²"),
        ((None, None, None), "–"),
    ],
)
def test_figure_and_interval_end_with_two_digits_of_the_uncertainty(figures: tuple, text: str) -> None:
    # JCGM 100:2008, 7.2.6: at most two significant digits of the uncertainty; estimates rounded to be consistent.
    assert estimate(*figures, "m/s^2") == text
