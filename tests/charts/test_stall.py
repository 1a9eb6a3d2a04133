"""The stall map: cells merged without loss, borders, counts in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from generator.charts.stall import draw_stall_maps, find_borders, merge_cells
from generator.records.presentation import Chart

MASKS = arrays(np.bool_, array_shapes(min_dims=2, max_dims=2, max_side=9), elements=st.booleans())


@given(MASKS)
def test_merged_rectangles_cover_each_cell_once(mask: np.ndarray) -> None:
    covered = np.zeros(mask.shape, dtype=int)
    for low, left, high, right in merge_cells(mask):
        covered[low:high, left:right] += 1

    assert np.array_equal(covered, mask.astype(int))


@given(MASKS)
def test_borders_have_the_length_of_all_changes(mask: np.ndarray) -> None:
    length = sum(abs(row - other) + abs(column - end) for row, column, other, end in find_borders(mask))

    assert length == np.sum(mask[1:] != mask[:-1]) + np.sum(mask[:, 1:] != mask[:, :-1])


def test_one_block_is_one_rectangle() -> None:
    mask = np.zeros((48, 48), dtype=bool)
    mask[3:20, 5:40] = True

    assert merge_cells(mask) == [(3, 5, 20, 40)]


def test_alt_text_counts_every_cell(results: dict[str, Any], charts: Mapping[str, Chart]) -> None:
    counts = Counter(state for row in results["stall_maps"][0]["state"] for state in row)
    alt = charts["stall-series"].alt

    assert f"2304 moves over speed 33.3 to 1600 mm/s and acceleration 2.08 to 100 m/s²: {counts[0]} held" in alt
    assert f"{counts[1]} lost at the start" in alt and f"{counts[5]} stroke too short" in alt
    states = np.array(results["stall_maps"][0]["state"])
    first = [next((state for state in column if state in (1, 2, 3, 4)), None) for column in states.T]
    assert f"steps are first lost in braking at {first.count(3)} of 48 speeds" in charts["stall-series"].title


def test_a_coarser_map_says_so_in_its_own_caption(results: dict[str, Any]) -> None:
    note = "This map has 24 × 24 cells instead of 48 × 48, to keep the page quick."
    entry = results["stall_maps"][0]
    results["stall_maps"] = [entry, entry | {"candidate": "parallel", "note": note}]
    first, second = draw_stall_maps(results)

    assert "held above the static limit" in first.caption and "24 × 24" not in first.caption
    assert second.caption.startswith("Fields, lines and bars mean") and second.caption.endswith(note)


def test_table_gives_first_lost_last_held_and_islands(results: dict[str, Any]) -> None:
    entry = results["stall_maps"][0]
    entry |= {"speed": [0.1, 0.2], "acceleration": [1.0, 2.0, 3.0, 4.0], "state": [[0, 0], [0, 0], [3, 0], [0, 0]]}
    results["stall_maps"] = [entry]
    chart = draw_stall_maps(results)[0]

    assert chart.table.rows == (("100", "2.00", "3.00", "lost in braking", "4.00"), ("200", "4.00", "–", "–", "–"))


def test_a_map_without_cells_gives_no_chart(results: dict[str, Any]) -> None:
    results["stall_maps"] = [results["stall_maps"][0] | {"state": [], "message": "Not simulated: …"}]

    assert draw_stall_maps(results) == ()


@pytest.mark.parametrize(
    ("state", "title"), [(0, "no move is lost"), (4, "steps are first lost at the stop at all 48 speeds")]
)
def test_maps_of_one_state(state: int, title: str, results: dict[str, Any]) -> None:
    entry = results["stall_maps"][0]
    results["stall_maps"] = [entry | {"state": np.full((48, 48), state).tolist()}]
    (chart,) = draw_stall_maps(results)

    assert title in chart.title


def test_a_ragged_map_stays_under_the_size_limit(results: dict[str, Any]) -> None:
    entry = results["stall_maps"][0]
    chance = np.random.default_rng(1)
    states = np.array(entry["state"])
    ragged = np.where(chance.random(states.shape) < 0.15, chance.integers(0, 5, states.shape), states)
    results["stall_maps"] = [entry | {"state": ragged.tolist()}]
    (chart,) = draw_stall_maps(results)

    assert len(chart.wide.svg) < 60_000
