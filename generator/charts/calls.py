"""The calls between candidates as sentences; they say what the results say and compute nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.charts.cast import Cast
from generator.charts.wording import count_word
from generator.phrases import call_text, lead_text, listed, sentence_case

SETTLED = "no difference that matters"


def item_title(contrasts: Sequence[Mapping[str, Any]], cast: Cast, where: str) -> str:
    """The finding of one item from its contrasts."""
    if not contrasts:
        return f"Nothing to compare yet: {where}"
    if len(contrasts) == 1:
        return f"{sentence_case(call_text(contrasts[0], cast.names))}{lead_text(contrasts[0])}: {where}"
    won = [
        f"{cast.name(contrast['ahead'])} ahead of {cast.name(_other(contrast))}"
        for contrast in contrasts
        if contrast["ahead"]
    ]
    calls = {str(contrast["call"]) for contrast in contrasts}
    if not won and len(calls) == 1:
        many = "both" if len(contrasts) == 2 else f"all {count_word(len(contrasts))}"
        return f"{sentence_case(calls.pop())} in {many} pairs: {where}"
    if not won:
        return f"{sentence_case(count_word(len(contrasts)))} pairs, none called ahead: {where}"
    rest = len(contrasts) - len(won)
    more = f", {count_word(rest)} {'pair' if rest == 1 else 'pairs'} without a winner" if rest else ""
    return f"{listed(won)}{more}: {where}"


def _other(contrast: Mapping[str, Any]) -> str:
    """The one that another is ahead of."""
    first, second = contrast["between"]
    return str(second if contrast["ahead"] == first else first)


def summary_title(contrasts: Sequence[Mapping[str, Any]], cast: Cast) -> str:
    """The finding over all contrasts: who is ahead how often, and what stays open."""
    leaders = [contrast["ahead"] for contrast in contrasts if contrast["ahead"]]
    settled = sum(contrast["call"] == SETTLED for contrast in contrasts)
    open_calls = len(contrasts) - len(leaders) - settled
    wins = [(leaders.count(candidate), candidate) for candidate in cast.ids if candidate in leaders]
    parts = [f"{cast.name(candidate)} ahead in {count_word(count)}" for count, candidate in sorted(wins, reverse=True)]
    parts += [f"{count_word(settled)} without a difference that matters"] if settled else []
    parts += [f"{count_word(open_calls)} not decided"] if open_calls else []
    return f"Of {count_word(len(contrasts))} comparison{'' if len(contrasts) == 1 else 's'}: {listed(parts)}"
