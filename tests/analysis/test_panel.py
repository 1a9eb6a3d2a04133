"""Panels: exact tests and intervals against tables, strengths against published journal data."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import binomtest

from generator.analysis.panel import (
    binomial_chance,
    clopper_pearson,
    count_persons,
    find_preference,
    find_strengths,
    merge_pairs,
    votes_needed,
)
from generator.records.recordings import PairCount, Vote


@pytest.mark.parametrize(
    ("successes", "count", "low", "high"),
    [
        # Clopper & Pearson 1934; scipy.stats gives the same; 0 of n has the closed form 1 − 0.025^(1/n)
        (0, 10, 0.0, 0.308497),
        (1, 10, 0.002529, 0.445016),
        (3, 10, 0.066740, 0.652453),
        (5, 10, 0.187086, 0.812914),
        (10, 10, 0.691503, 1.0),
        (7, 20, 0.153909, 0.592189),
        (81, 263, 0.252737, 0.367622),
        (15, 148, 0.057844, 0.161650),
    ],
)
def test_clopper_pearson(successes: int, count: int, low: float, high: float) -> None:
    assert clopper_pearson(successes, count) == pytest.approx((low, high), abs=6e-7)


@pytest.mark.parametrize(
    ("successes", "count", "chance"),
    [(5, 5, 0.0625), (8, 8, 0.0078125), (7, 8, 0.0703125), (9, 10, 0.021484375), (15, 20, 0.0413894653)],
)
def test_sign_test(successes: int, count: int, chance: float) -> None:
    assert binomial_chance(successes, count) == pytest.approx(chance, rel=1e-9)


def test_exact_test_equals_scipy_everywhere() -> None:
    for count in range(1, 41):
        for successes in range(count + 1):
            assert binomial_chance(successes, count) == pytest.approx(binomtest(successes, count).pvalue, rel=1e-9)


@pytest.mark.parametrize(
    ("count", "needed"),
    [(7, 7), (10, 9), (12, 10), (15, 12), (20, 15), (24, 18), (30, 21), (40, 27), (50, 33), (60, 39)],
)
def test_fewest_votes_that_tell(count: int, needed: int) -> None:
    # two-sided 5 % column of paired-comparison tables (ISO 5495; computed from the binomial, the tables were not seen)
    assert votes_needed(count) == needed


def test_five_persons_can_never_tell() -> None:
    assert votes_needed(5) is None and votes_needed(0) is None


def test_preference_of_the_demo() -> None:
    found = find_preference(PairCount(("a", "b"), (7, 9), 4))

    assert found.share == 7 / 16 and not found.told and found.needed == 13
    assert found.chance == pytest.approx(binomtest(7, 16).pvalue)


def test_nobody_with_a_preference() -> None:
    found = find_preference(PairCount(("a", "b"), (0, 0), 5))

    assert found.share is None and found.low is None and found.chance == 1.0 and not found.told


# --- persons, not votes ---------------------------------------------------------------------------------------------


def vote(voter: str, chosen: str | None, left: str = "a", right: str = "b") -> Vote:
    return Vote(voter, left, right, chosen)


def test_repeated_votes_count_once() -> None:
    votes = [vote("1", "a"), vote("1", "a"), vote("1", "b"), vote("2", "b", "b", "a"), vote("3", None)]
    votes += [vote("4", "a"), vote("4", "b")]

    counts, repeats = count_persons(votes, ["a", "b"])

    assert counts == (PairCount(("a", "b"), (1, 1), 2),) and repeats == 3


def test_pairs_are_counted_apart_and_in_file_order() -> None:
    votes = [vote("1", "c", "c", "b"), vote("1", "a"), vote("2", "a", "c", "a")]

    counts, repeats = count_persons(votes, ["a", "b", "c"])

    assert [c.between for c in counts] == [("a", "b"), ("a", "c"), ("b", "c")] and repeats == 0
    assert [c.votes for c in counts] == [(1, 0), (1, 0), (0, 1)]


def test_turned_pairs_are_merged() -> None:
    merged = merge_pairs([PairCount(("b", "a"), (3, 5), 1), PairCount(("a", "b"), (2, 1), 0)], ["a", "b"])

    assert merged == (PairCount(("a", "b"), (7, 4), 1),)


# --- strengths ------------------------------------------------------------------------------------------------------

JOURNALS = ("Biometrika", "Comm Statist", "JASA", "JRSS-B")
CITED = [[714, 730, 498, 221], [33, 425, 68, 17], [320, 813, 1072, 142], [284, 276, 325, 188]]


def pairs(names: tuple[str, ...], wins: list[list[int]]) -> list[PairCount]:
    return [
        PairCount((names[i], names[j]), (wins[i][j], wins[j][i]))
        for i in range(len(names))
        for j in range(i + 1, len(names))
    ]


def test_journal_citations() -> None:
    # Stigler 1994; Agresti, Categorical Data Analysis, 2nd ed., p. 448; counts as the R package BradleyTerry2 ships
    # them; coefficients −2.94907, −0.47957, 0.26895 (Firth, J. Stat. Softw. 12(1) 2005, from memory)
    found = find_strengths(pairs(JOURNALS, CITED), JOURNALS)

    assert found.logs == pytest.approx((0, -2.949073, -0.479570, 0.268954), abs=2e-6)
    assert found.uncertainties == pytest.approx((0, 0.102545, 0.060589, 0.070830), abs=2e-6)
    assert found.chance < 1e-100


def test_two_candidates_have_the_log_odds() -> None:
    assert find_strengths([PairCount(("a", "b"), (7, 3))], ("a", "b")).logs[1] == pytest.approx(-math.log(7 / 3))


def test_three_candidates() -> None:
    found = find_strengths(pairs(("a", "b", "c"), [[0, 8, 9], [2, 0, 7], [1, 3, 0]]), ("a", "b", "c"))

    assert found.logs == pytest.approx((0, -1.376077, -2.215579), abs=2e-6)


def test_one_that_never_loses_has_no_upper_limit() -> None:
    found = find_strengths(pairs(("a", "b", "c"), [[0, 4, 0], [3, 0, 0], [5, 6, 0]]), ("a", "b", "c"))

    assert found.logs[2] == math.inf and found.logs[1] == pytest.approx(math.log(3 / 4))
    assert math.isnan(found.uncertainties[2])


def test_one_that_never_wins_has_no_lower_limit() -> None:
    found = find_strengths(pairs(("a", "b", "c"), [[0, 4, 5], [3, 0, 6], [0, 0, 0]]), ("a", "b", "c"))

    assert found.logs[2] == -math.inf


def test_unconnected_candidates_have_no_strength() -> None:
    found = find_strengths([PairCount(("a", "b"), (3, 4)), PairCount(("c", "d"), (2, 5))], ("a", "b", "c", "d"))

    assert math.isnan(found.logs[2]) and math.isnan(found.logs[3])


def test_equal_candidates_are_rarely_told_apart() -> None:
    rng = np.random.default_rng(2)
    chances = []
    for _ in range(400):
        wins = [[0, 0, 0], [0, 0, 0], [0, 0, 0]]
        for i, j in ((0, 1), (0, 2), (1, 2)):
            wins[i][j] = int(rng.binomial(30, 0.5))
            wins[j][i] = 30 - wins[i][j]
        chances.append(find_strengths(pairs(("a", "b", "c"), wins), ("a", "b", "c")).chance)

    assert np.mean(np.array(chances) <= 0.05) == pytest.approx(0.05, abs=0.03)
