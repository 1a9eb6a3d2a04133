"""The shipped table of the validation: complete, honest about its misses, and repeatable."""

from __future__ import annotations

import math
from typing import Any

import pytest

from generator.validation.made_up import Scenario
from generator.validation.table import (
    ALIKE,
    BOUNDS,
    COVERAGE_LEAST,
    COVERAGE_MOST,
    SCENARIOS,
    TRIES,
    WRONG_MOST,
    find_misses,
    read_validation,
    run_row,
    run_validation,
)

NAMES = ("group", "runs", "rung", "scatter_ratio", "drift", "headroom", "third", "others")


def named(row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(tuple(row[name]) if name == "runs" else row[name] for name in NAMES)


def shipped_row(scenario: Scenario) -> dict[str, Any]:
    (row,) = [row for row in read_validation()["rows"] if named(row) == _names_of(scenario)]
    return row


def _names_of(scenario: Scenario) -> tuple[Any, ...]:
    return tuple(getattr(scenario, name) for name in NAMES)


def test_the_shipped_table_has_every_row() -> None:
    table = read_validation()

    assert [named(row) for row in table["rows"]] == [_names_of(scenario) for scenario in SCENARIOS]
    assert table["comparisons"] == sum(row["comparisons"] for row in table["rows"]) > 100_000
    assert table["date"] and table["version"]


def test_the_shipped_misses_are_those_of_its_rows() -> None:
    table = read_validation()

    assert table["misses"] == [miss for row in table["rows"] for miss in find_misses(row)]
    assert table["targets"] == {"coverage_least": 0.94, "coverage_most": 0.97, "wrong_most": 0.02}
    assert (COVERAGE_LEAST, COVERAGE_MOST, WRONG_MOST) == (0.94, 0.97, 0.02)


def test_no_bench_covers_too_little_or_calls_wrongly() -> None:
    assert {miss["words"] for miss in read_validation()["misses"]} == {"covers more than needed"}


def test_plain_benches_with_three_runs_or_more_meet_every_target() -> None:
    missed = [miss for miss in read_validation()["misses"] if miss["group"] == ALIKE and miss["runs"] != [2, 2]]

    assert missed == []


SAMPLE = [scenario for scenario in SCENARIOS if scenario.group not in (BOUNDS, TRIES)][::6] + [
    next(scenario for scenario in SCENARIOS if scenario.group == group) for group in (BOUNDS, TRIES)
]
RATES = {
    "limit_coverage": "limits",
    "difference_coverage": "differences",
    "wrong_equal_unstated": None,
    "wrong_equal": None,
    "wrong_half": None,
    "overstated": None,
    "wrong_edge": None,
    "right_equal": None,
    "right_different": None,
}


@pytest.mark.parametrize("scenario", SAMPLE, ids=lambda scenario: scenario.id)
def test_a_small_run_repeats_the_shipped_rates(scenario: Scenario) -> None:
    """Another seed, fewer comparisons: every rate within five standard errors of the shipped one."""
    shipped, again = shipped_row(scenario), run_row(scenario, comparisons=150, seed=7)

    for name, count in RATES.items():
        number = again[count] if count else again["each"]
        if not number or shipped[name] is None:
            continue
        rate = min(max(shipped[name], 1 / number), 1 - 1 / number)
        assert abs(again[name] - shipped[name]) <= 5 * math.sqrt(rate * (1 - rate) / number), name


def test_the_same_seed_gives_the_same_row() -> None:
    assert run_row(SCENARIOS[3], 20) == run_row(SCENARIOS[3], 20)
    assert run_row(SCENARIOS[3], 20) != run_row(SCENARIOS[3], 20, seed=2)


def test_rows_have_names_of_their_own() -> None:
    assert len({_names_of(scenario) for scenario in SCENARIOS}) == len(SCENARIOS)


def test_a_whole_run_is_put_together(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("generator.validation.table.SCENARIOS", SCENARIOS[:2])
    heard: list[str] = []

    table = run_validation("1.2", "2026-01-02", comparisons=5, tell=heard.append)

    assert heard == [scenario.id for scenario in SCENARIOS[:2]]
    assert (table["version"], table["date"], table["comparisons"]) == ("1.2", "2026-01-02", 50)


def row_with(**changes: Any) -> dict[str, Any]:
    return {**shipped_row(SCENARIOS[10]), **changes}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"limit_coverage": 0.90}, "covers too little"),
        ({"difference_coverage": 0.90}, "covers too little"),
        ({"limit_coverage": 0.99, "rung": 0.5}, "covers more than needed"),
        ({"wrong_equal": 0.05}, "too many wrong calls"),
        ({"wrong_edge": 0.05}, "too many wrong calls"),
    ],
)
def test_misses_are_found(changes: dict[str, Any], words: str) -> None:
    assert [miss["words"] for miss in find_misses(row_with(**changes))] == [words]


def test_a_coarse_rung_may_cover_more() -> None:
    assert find_misses(row_with(limit_coverage=1.0, difference_coverage=1.0, rung=2.0)) == []
