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
    heading,
    plain,
    shortened,
)


def test_headings_name_the_unit_that_people_read() -> None:
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


def test_counts_in_words_and_long_lists() -> None:
    assert counted(1, "run") == "one run" and counted(13, "run") == "13 runs"
    assert shortened(list("abcdefgh"), 3) == ["a", "b", "c", "and 5 more in the table"]
    assert shortened(list("abcd"), 3) == list("abcd")
