"""The calls between candidates as sentences; they say what the results say and compute nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.charts.cast import Cast
from generator.charts.wording import count_word, estimate, listed, sentence

AHEAD = " ahead"
SETTLED = "no difference that matters"


def leader_of(contrast: Mapping[str, Any]) -> str | None:
    """Id of the candidate that a call puts ahead."""
    if contrast.get("ahead"):
        return str(contrast["ahead"])
    call = str(contrast.get("call") or "")
    return call.removesuffix(AHEAD) if call.endswith(AHEAD) else None


def call_text(contrast: Mapping[str, Any], cast: Cast) -> str:
    """The call with the candidate's name in place of its id."""
    leader = leader_of(contrast)
    return f"{cast.name(leader)} ahead" if leader else str(contrast.get("call") or "no call")


def size_text(contrast: Mapping[str, Any]) -> str:
    """How far apart, without sign: ``29.3 m/s² (26.6 to 32)``."""
    difference, low, high = (contrast.get(key) for key in ("difference", "low", "high"))
    if difference is None:
        return ""
    if difference < 0:
        difference, low, high = -difference, _negative(high), _negative(low)
    return estimate(difference, low, high, contrast.get("unit"))


def _negative(value: float | None) -> float | None:
    return None if value is None else -value


def item_title(contrasts: Sequence[Mapping[str, Any]], cast: Cast, where: str) -> str:
    """The finding of one item from its contrasts."""
    if not contrasts:
        return f"Nothing to compare yet: {where}"
    if len(contrasts) == 1:
        return _pair_title(contrasts[0], cast, where)
    ahead = [(leader_of(contrast), contrast) for contrast in contrasts]
    won = [
        f"{cast.name(leader)} ahead of {cast.name(_other(contrast, leader))}"
        for leader, contrast in ahead
        if leader is not None
    ]
    calls = {str(contrast.get("call") or "no call") for contrast in contrasts}
    if not won and len(calls) == 1:
        many = "both" if len(contrasts) == 2 else f"all {count_word(len(contrasts))}"
        return f"{sentence(calls.pop())} in {many} pairs: {where}"
    if not won:
        return f"{sentence(count_word(len(contrasts)))} pairs, none called ahead: {where}"
    rest = len(contrasts) - len(won)
    more = f", {count_word(rest)} {'pair' if rest == 1 else 'pairs'} without a winner" if rest else ""
    return f"{listed(won)}{more}: {where}"


def _pair_title(contrast: Mapping[str, Any], cast: Cast, where: str) -> str:
    leader, size = leader_of(contrast), size_text(contrast)
    if leader:
        return f"{cast.name(leader)} ahead{f' by {size}' if size else ''}: {where}"
    return f"{sentence(str(contrast.get('call') or 'no call'))}: {where}"


def _other(contrast: Mapping[str, Any], leader: str) -> str:
    first, second = contrast["between"]
    return str(second if leader == first else first)


def summary_title(contrasts: Sequence[Mapping[str, Any]], cast: Cast) -> str:
    """The finding over all contrasts: who is ahead how often, and what stays open."""
    leaders = [leader for leader in map(leader_of, contrasts) if leader]
    settled = sum(contrast.get("call") == SETTLED for contrast in contrasts)
    open_calls = len(contrasts) - len(leaders) - settled
    wins = [(leaders.count(candidate), candidate) for candidate in cast.ids if candidate in leaders]
    parts = [f"{cast.name(candidate)} ahead in {count_word(count)}" for count, candidate in sorted(wins, reverse=True)]
    parts += [f"{count_word(settled)} without a difference that matters"] if settled else []
    parts += [f"{count_word(open_calls)} not decided"] if open_calls else []
    return f"Of {count_word(len(contrasts))} comparison{'' if len(contrasts) == 1 else 's'}: {listed(parts)}"
