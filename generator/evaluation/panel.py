"""One panel: persons' choices to preferences, strengths, and whether they could tell at all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from generator.analysis.contrast import AHEAD, NO_DIFFERENCE, UNDECIDED
from generator.analysis.panel import (
    LEVEL,
    Preference,
    Strengths,
    count_persons,
    find_preference,
    find_strengths,
    merge_pairs,
)
from generator.records.findings import Contrast
from generator.records.recordings import Panel


def evaluate_panel(item: Panel, order: Sequence[str]) -> dict[str, Any]:
    """Everything that the page shows of one panel.

    Parameters
    ----------
    item : Panel
        Counts per pair, or single votes.
    order : sequence of str
        Candidates in file order.

    Returns
    -------
    dict
        As ``generator.evaluation.recordings`` describes.
    """
    counted, repeats = count_persons(item.votes, order) if item.votes else (item.pairs, 0)
    pairs = [find_preference(pair) for pair in merge_pairs(counted, order)]
    present = [c for c in order if any(c in pair.between for pair in pairs)]
    strengths = find_strengths(counted, present) if len(present) > 2 else None
    chance = strengths.chance if strengths else (pairs[0].chance if pairs else 1.0)
    return {
        "id": item.id,
        "surface": item.surface,
        "persons": len({vote.voter for vote in item.votes}) or None,
        "repeated_votes": repeats,
        "pairs": [_pair(pair) for pair in pairs],
        "strengths": None if strengths is None else _strengths(strengths),
        "could_tell": chance <= LEVEL,
        "chance": chance,
        "notes": _notes(pairs, strengths, chance, repeats),
    }


def call_panel(section: Mapping[str, Any], matters: tuple[float, bool] | None = None) -> list[Contrast]:
    """The call of each pair of a panel: ahead where the exact test tells the two apart by more than what matters.

    Parameters
    ----------
    section : mapping
        As ``evaluate_panel`` gives it.
    matters : (float, bool) or None
        The smallest difference worth acting on [1]; a share is one of all persons with a preference.

    Returns
    -------
    list of Contrast
        The difference is the share of persons for the first minus that for the second, among those with a preference.
    """
    least = None if matters is None else matters[0]
    return [_call(section["id"], pair, least) for pair in section["pairs"] if pair["share"] is not None]


def _call(item: str, pair: Mapping[str, Any], least: float | None) -> Contrast:
    low, difference, high = (2 * pair[key] - 1 for key in ("low", "share", "high"))
    call, reason = _judge(pair["told"], low, difference, high, least)
    leader = pair["between"][0 if difference > 0 else 1]
    return Contrast(
        item=item,
        kind="panel",
        quantity="share",
        unit="1",
        between=tuple(pair["between"]),
        difference=difference,
        low=low,
        high=high,
        matters=least,
        call=call.format(leader),
        reason=reason,
        ahead=leader if call == AHEAD else None,
    )


def _judge(told: bool, low: float, difference: float, high: float, least: float | None) -> tuple[str, str]:
    """Call and reason of one pair; without a smallest difference that matters there is never a tie."""
    if least is not None and -least < low and high < least:
        return NO_DIFFERENCE, "the whole interval lies within what matters"
    if not told:
        return UNDECIDED, "the persons' choices could be chance, by the exact test at 5 %"
    if least is not None and abs(difference) <= least:
        return UNDECIDED, "the persons told them apart, but by no more than what matters"
    return AHEAD, "more persons chose it than chance would let them, by the exact test at 5 %"


def _pair(pair: Preference) -> dict[str, Any]:
    total = sum(pair.votes) + pair.no_preference
    return {
        "between": list(pair.between),
        "votes": list(pair.votes),
        "no_preference": pair.no_preference,
        "no_preference_share": pair.no_preference / total if total else None,
        "share": pair.share,
        "low": pair.low,
        "high": pair.high,
        "probability": pair.chance,
        "needed": pair.needed,
        "told": pair.told,
    }


def _strengths(found: Strengths) -> dict[str, Any]:
    return {
        "candidates": list(found.candidates),
        "logs": [log if math.isfinite(log) else None for log in found.logs],
        "uncertainties": [u if math.isfinite(u) else None for u in found.uncertainties],
        "state": [_state(log) for log in found.logs],
        "reference": found.candidates[0],
        "probability": found.chance,
    }


def _state(log: float) -> str:
    if math.isnan(log):
        return "not connected"
    return "finite" if math.isfinite(log) else ("without upper limit" if log > 0 else "without lower limit")


def _notes(pairs: Sequence[Preference], strengths: Strengths | None, chance: float, repeats: int) -> list[str]:
    notes = [_tell(chance)]
    if strengths is None and pairs and pairs[0].needed is None:
        notes.append(
            f"{sum(pairs[0].votes)} persons with a preference are too few: even one choice by all would make no call."
        )
    elif strengths is None and pairs and not pairs[0].told:
        notes.append(
            f"Of {sum(pairs[0].votes)} persons with a preference, {pairs[0].needed} for one side would make a call."
        )
    if repeats:
        notes.append(
            f"{repeats} repeated votes of a person on the same pair were joined: persons are counted, not votes."
        )
    states = [] if strengths is None else list(zip(strengths.candidates, map(_state, strengths.logs), strict=True))
    notes += [
        f"{c}: its strength is {state}: the votes set no limit there."
        for c, state in states
        if state.startswith("without")
    ]
    notes += [
        f"{c}: no chain of votes connects it with {strengths.candidates[0]}."
        for c, state in states
        if state == "not connected" and strengths
    ]
    return notes


def _guessing(chance: float) -> str:
    if chance < 0.01:
        return "pure guessing gives votes at least this uneven in fewer than 1 of 100 panels"
    return f"pure guessing gives votes at least this uneven in {100 * chance:.0f} of 100 panels"


def _tell(chance: float) -> str:
    if chance <= LEVEL:
        return f"The votes show a common preference: {_guessing(chance)}."
    return f"The votes show no common preference: {_guessing(chance)}."
