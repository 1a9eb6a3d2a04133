"""Labels: widths on the wide side, shortening, and places that hide nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.charts.labels import Room, along_line, shorten, text_box, text_width, wrap


@pytest.mark.parametrize("text", ["Alder 42-8, parallel", "acceleration [m/s²]", "illicit", "MMMMWWWW", "0.25"])
def test_width_is_not_below_that_of_a_wide_font(text: str) -> None:
    # DejaVu Sans, which matplotlib ships, is wider than common interface fonts: 10 % below it is still wide enough.
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    drawn = TextPath((0, 0), text, size=12, prop=FontProperties("DejaVu Sans")).get_extents().width
    assert 0.9 * drawn <= text_width(text, 12) <= 1.6 * drawn


@given(st.text(max_size=60), st.floats(20, 300))
def test_shortened_text_fits(text: str, width: float) -> None:
    short = shorten(text, width)

    assert short == text or (short.endswith("…") and text_width(short) <= width)


@given(st.lists(st.text("abcdefghij", min_size=1, max_size=12), min_size=1, max_size=20), st.integers(1, 4))
def test_wrapped_lines_fit_and_lose_words_only_at_the_end(words: list[str], lines: int) -> None:
    found = wrap(" ".join(words), 120.0, lines=lines)

    assert len(found) <= lines
    assert all(text_width(line) <= 120.0 for line in found)
    if not any("…" in line for line in found):
        assert " ".join(found) == " ".join(words)


def test_a_label_keeps_off_boxes_lines_and_bounds() -> None:
    room = Room((0, 0, 200, 100))
    room.keep_box(0, 40, 200, 100)
    room.keep_line(np.array([[0.0, 30.0], [200.0, 30.0]]))

    assert room.place("label", [(150.0, 80.0, "start"), (150.0, 28.0, "start"), (190.0, 5.0, "start")]) is None
    assert room.place("label", [(100.0, 5.0, "middle")]) == (100.0, 5.0, "middle")
    assert room.place("label", [(110.0, 8.0, "middle")]) is None


def test_anchors_begin_at_the_first_share_next_to_the_line() -> None:
    points = np.array([[0.0, 50.0], [100.0, 50.0]])
    x, y, _ = along_line(points, [0.5, 0.1], 20.0)[0]

    assert x == pytest.approx(50) and 50 < y < 60
    assert along_line(points[:1], [0.5], 20.0) == []


def test_level_stretches_of_a_line_are_preferred() -> None:
    points = np.array([[0.0, 90.0], [100.0, 90.0], [200.0, 0.0]])
    x, y, anchor = along_line(points, [0.75, 0.25], 60.0)[0]

    assert (x, anchor) == (50.0, "middle") and y > 90


def test_box_of_a_text_grows_to_the_side_of_its_anchor() -> None:
    left, right = (text_box("label", 100, 0, anchor) for anchor in ("end", "start"))

    assert left[2] == pytest.approx(102) and right[0] == pytest.approx(98)


def test_no_name_stands_nearer_to_another_line_nor_where_two_run_together() -> None:
    along = np.linspace(0.0, 400.0, 41)
    lower = np.column_stack([along, np.full_like(along, 60.0)])
    upper = np.column_stack([along, np.where(along < 200, 80.0, 62.0)])

    free = along_line(lower, (0.2, 0.8), 50.0)
    told = along_line(lower, (0.2, 0.8), 50.0, others=[upper])

    assert {x > 200 for x, _, _ in free} == {False, True}
    assert told and all(x <= 225 and y + 4 < 70 for x, y, _ in told)
