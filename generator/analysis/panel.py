"""Persons choosing between candidates: exact tests, intervals, strengths, and whether anybody could tell."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, chdtrc

from generator.records.recordings import PairCount, Vote

LEVEL = 0.05
"""Chance of calling a difference where there is none [1]."""
STEPS = 1000
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Preference:
    """One pair: persons for the first and the second, share for the first with its 95 % interval, and the exact test.

    share and its bounds are of those with a preference; needed is the fewest for one side that would tell, None where
    even all would not.
    """

    between: tuple[str, str]
    votes: tuple[int, int]
    no_preference: int
    share: float | None
    low: float | None
    high: float | None
    chance: float
    needed: int | None

    @property
    def told(self) -> bool:
        """Whether the persons could tell the two apart."""
        return self.chance <= LEVEL


@dataclass(frozen=True)
class Strengths:
    """Bradley–Terry log strengths relative to the first candidate [1]; ±inf where the data set no limit, nan where
    nothing connects the two. chance is that of a likelihood ratio at least as large with all candidates equal."""

    candidates: tuple[str, ...]
    logs: tuple[float, ...]
    uncertainties: tuple[float, ...]
    chance: float


# --- one pair -----------------------------------------------------------------------------------------------------


def find_preference(pair: PairCount) -> Preference:
    """Test and interval of one pair.

    Parameters
    ----------
    pair : PairCount
        Persons, each counted once.

    Source: exact two-sided binomial test at one half; Clopper & Pearson 1934, Biometrika 26:404.
    """
    first, second = pair.votes
    count = first + second
    low, high = clopper_pearson(first, count) if count else (None, None)
    share = first / count if count else None
    chance = binomial_chance(first, count)
    return Preference(pair.between, pair.votes, pair.no_preference, share, low, high, chance, votes_needed(count))


def clopper_pearson(successes: int, count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact interval of a proportion [1] from ``successes`` of ``count``."""
    tail = (1 - confidence) / 2
    k, n = successes, count
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, tail))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1 - tail))
    return low, high


def binomial_chance(successes: int, count: int) -> float:
    """Chance of a split at least as uneven, if each side is as likely [1]."""
    fewer = min(successes, count - successes)
    one_side = sum(math.comb(count, k) for k in range(fewer + 1)) / 2**count
    return min(1.0, 2 * one_side)


def votes_needed(count: int) -> int | None:
    """Fewest votes for one side, of ``count``, that would tell two candidates apart; None if none would."""
    return next((k for k in range(count // 2 + 1, count + 1) if binomial_chance(k, count) <= LEVEL), None)


def count_persons(votes: Sequence[Vote], order: Sequence[str]) -> tuple[tuple[PairCount, ...], int]:
    """Persons per pair from single votes, and how many votes were repeats of a person on the same pair.

    A person who judged a pair several times counts once: for the side chosen more often, else as no preference.
    """
    by_person: dict[tuple[str, str], dict[str, Counter[str | None]]] = defaultdict(lambda: defaultdict(Counter))
    for vote in votes:
        first, second = sorted((vote.left, vote.right), key=list(order).index)
        by_person[(first, second)][vote.voter][vote.chosen] += 1
    repeats = len(votes) - sum(len(persons) for persons in by_person.values())
    pairs = sorted(by_person, key=lambda pair: [list(order).index(each) for each in pair])
    return tuple(_count(pair, by_person[pair]) for pair in pairs), repeats


def _count(pair: tuple[str, str], persons: Mapping[str, Counter[str | None]]) -> PairCount:
    leads = [choices[pair[0]] - choices[pair[1]] for choices in persons.values()]
    first, second = sum(lead > 0 for lead in leads), sum(lead < 0 for lead in leads)
    return PairCount(pair, (first, second), len(leads) - first - second)


def merge_pairs(pairs: Sequence[PairCount], order: Sequence[str]) -> tuple[PairCount, ...]:
    """One count per pair, in file order of the candidates, from counts that may name a pair twice or turned round."""
    sums: dict[tuple[str, str], list[int]] = {}
    for pair in pairs:
        turned = list(order).index(pair.between[0]) > list(order).index(pair.between[1])
        key = (pair.between[1], pair.between[0]) if turned else pair.between
        votes = pair.votes[::-1] if turned else pair.votes
        total = sums.setdefault(key, [0, 0, 0])
        for k, number in enumerate((*votes, pair.no_preference)):
            total[k] += number
    return tuple(PairCount(key, (a, b), none) for key, (a, b, none) in sums.items())


# --- more than two ------------------------------------------------------------------------------------------------


def find_strengths(pairs: Sequence[PairCount], order: Sequence[str]) -> Strengths:
    """Bradley–Terry strengths of all candidates by maximum likelihood.

    Parameters
    ----------
    pairs : sequence of PairCount
        Persons per pair; those without a preference take no part.
    order : sequence of str
        Candidates; the first is the reference.

    Returns
    -------
    Strengths
        A candidate that never loses to the group of the reference (or never wins) has an infinite estimate: the
        likelihood then has no maximum.

    Assumes: independent persons, one strength per candidate. Source: Bradley & Terry 1952, Biometrika 39:324; the
    condition for finite estimates is Ford 1957, Am. Math. Monthly 64:28. Checked against published journal data.
    """
    wins = _wins(pairs, order)
    reach = _reaches(wins)
    logs, errors = np.full(len(order), np.nan), np.full(len(order), np.nan)
    together = reach[0] & reach[:, 0]
    logs[reach[0] & ~reach[:, 0]] = -np.inf
    logs[~reach[0] & reach[:, 0]] = np.inf
    group = np.flatnonzero(together)
    logs[group], errors[group] = _fit_group(wins[np.ix_(group, group)])
    return Strengths(tuple(order), tuple(map(float, logs)), tuple(map(float, errors)), _equal_chance(wins, reach))


def _wins(pairs: Sequence[PairCount], order: Sequence[str]) -> Array:
    wins = np.zeros((len(order), len(order)))
    for pair in pairs:
        i, j = (list(order).index(each) for each in pair.between)
        wins[i, j] += pair.votes[0]
        wins[j, i] += pair.votes[1]
    return wins


def _reaches(wins: Array) -> NDArray[np.bool_]:
    """[i, j]: whether a chain of wins leads from i to j (or i is j)."""
    reach = (wins > 0) | np.eye(len(wins), dtype=bool)
    for k in range(len(wins)):
        reach |= reach[:, [k]] & reach[[k], :]
    return reach


def _fit_group(wins: Array) -> tuple[Array, Array]:
    """Log strengths relative to the first, and standard uncertainties, of a group in which wins lead everywhere."""
    logs = _iterate(wins)
    if len(wins) == 1:
        return logs, np.zeros(1)
    games = wins + wins.T
    odds = 1 / (1 + np.exp(logs[None, :] - logs[:, None]))
    weights = games * odds * (1 - odds)
    information = np.diag(weights.sum(axis=1)) - weights
    spread = np.sqrt(np.diag(np.linalg.inv(information[1:, 1:])))
    return logs, np.concatenate([[0.0], spread])


def _iterate(wins: Array) -> Array:
    """Log strengths by Newton's method, with the first held at zero; no step is longer than 1."""
    games, total = wins + wins.T, wins.sum(axis=1)
    logs = np.zeros(len(wins))
    for _ in range(STEPS if len(wins) > 1 else 0):
        odds = 1 / (1 + np.exp(logs[None, :] - logs[:, None]))
        slope = total - (games * odds).sum(axis=1)
        weights = games * odds * (1 - odds)
        information = (np.diag(weights.sum(axis=1)) - weights)[1:, 1:]
        step = np.concatenate([[0.0], np.linalg.solve(information, slope[1:])])
        logs = logs + step / max(1.0, float(np.max(np.abs(step))))
        if np.max(np.abs(step)) < 1e-12:
            break
    return logs


def _equal_chance(wins: Array, reach: NDArray[np.bool_]) -> float:
    """Chance [1] of the likelihood ratio against equal strengths, by χ²."""
    games = wins + wins.T
    met = games > 0
    groups = len({tuple(row) for row in _reaches(met.astype(float))})
    degrees = len(wins) - groups
    if degrees == 0:
        return 1.0
    best = _best_likelihood(wins, reach)
    equal = -math.log(2) * float(wins.sum())
    return float(chdtrc(degrees, max(0.0, 2 * (best - equal))))


def _best_likelihood(wins: Array, reach: NDArray[np.bool_]) -> float:
    """Largest log-likelihood; between groups that only win or only lose every result has probability one."""
    mutual = reach & reach.T
    total, seen = 0.0, np.zeros(len(wins), dtype=bool)
    for k in range(len(wins)):
        if seen[k]:
            continue
        group = np.flatnonzero(mutual[k])
        seen[group] = True
        part = wins[np.ix_(group, group)]
        logs = _iterate(part)
        total += float(np.sum(part * -np.log1p(np.exp(logs[None, :] - logs[:, None]))))
    return total
