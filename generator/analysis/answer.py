"""The answer in one plain sentence, built from the calls alone so that it never claims more than they do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from generator.analysis.contrast import TOO_FEW
from generator.records.findings import Contrast, ItemCall

BENCH_SHEET = "Nothing has been measured yet: this is a bench sheet, with predictions only."
LISTED = 2
"""Most items that a sentence names one by one [1]."""


def render_answer(
    candidates: Mapping[str, str],
    calls: Sequence[ItemCall],
    contrasts: Sequence[Contrast],
    descriptions: Mapping[str, str],
    won: Mapping[str, float],
    leader: str | None,
    weights_stated: bool = True,
    could_turn: bool = False,
) -> str:
    """Say in one sentence what the calls say.

    Parameters
    ----------
    candidates : mapping of str to str
        Id to name, in file order.
    calls : sequence of ItemCall
        Of every item; those that weigh nothing are left out.
    contrasts : sequence of Contrast
        Of every item, to tell too few runs from measured but undecided.
    descriptions : mapping of str to str
        Item to words that follow "in".
    won : mapping of str to float
        Weight that each candidate has won, in file order [as stated].
    leader : str or None
        Who has won the most weight.
    weights_stated : bool
        Whether somebody stated weights; else all items count alike.
    could_turn : bool
        Whether what is still open could put somebody else in the lead.

    Returns
    -------
    str
        One sentence with its full stop.
    """
    counted = [call for call in calls if call.weight > 0]
    measured = [call for call in counted if call.outcome != "not measured"]
    if not measured:
        return "What was measured carries no weight." if len(counted) < len(calls) else BENCH_SHEET
    if not any(call.winner or call.behind or call.outcome == "tie" for call in measured):
        return _nothing_told(candidates, measured, contrasts)
    noun = "items measured" if len(counted) == len(calls) else "weighted items measured"
    items = _Items(measured, descriptions, noun)
    clauses = _win_clauses(candidates, measured, contrasts, items, won)
    clauses += _tie_clauses(candidates, measured, items) + _open_clauses(candidates, measured, items)
    conclusion = _by_weight(candidates, won, leader, weights_stated, could_turn)
    sentence = "; ".join([*clauses, conclusion] if conclusion else clauses)
    return ("N" + sentence[1:] if sentence.startswith(("no difference", "nobody")) else sentence) + "."


class _Items:
    """Names items in a sentence: one by one while they are few, else by their number."""

    def __init__(self, measured: Sequence[ItemCall], descriptions: Mapping[str, str], noun: str) -> None:
        self.total = len(measured)
        self.noun = noun
        self.descriptions = descriptions

    def name(self, calls: Sequence[ItemCall]) -> str:
        if len(calls) > LISTED:
            everything = len(calls) == self.total
            return f"all {self.total} {self.noun}" if everything else f"{len(calls)} of {self.total} {self.noun}"
        return join_words([self.descriptions.get(call.item, call.item) for call in calls])


def join_words(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _nothing_told(candidates: Mapping[str, str], measured: Sequence[ItemCall], contrasts: Sequence[Contrast]) -> str:
    names = join_words(list(candidates.values()))
    items = {call.item for call in measured}
    calls = {contrast.call for contrast in contrasts if contrast.item in items}
    if calls == {TOO_FEW}:
        return f"There are too few runs to tell {names} apart: what was measured is described, not called."
    return f"What was measured does not tell {names} apart."


def _win_clauses(
    candidates: Mapping[str, str],
    measured: Sequence[ItemCall],
    contrasts: Sequence[Contrast],
    items: _Items,
    weight: Mapping[str, float],
) -> list[str]:
    """Who is ahead of whom, and in what; the one that has won the most weight first."""
    taking_part = {name for contrast in contrasts for name in contrast.between}
    clauses = []
    for name, title in sorted(candidates.items(), key=lambda pair: -weight[pair[0]]):
        won = [call for call in measured if call.winner == name]
        others = [candidates[other] for other in candidates if other in taking_part and other != name]
        if won:
            of = "" if len(candidates) == 2 else f" of {join_words(others)}"
            clauses.append(f"{title} is ahead{of} in {items.name(won)}")
    return clauses


def _tie_clauses(candidates: Mapping[str, str], measured: Sequence[ItemCall], items: _Items) -> list[str]:
    """Where nothing that matters separates the candidates, or the best of them."""
    clauses = []
    for behind in dict.fromkeys(call.behind for call in measured if call.outcome == "tie"):
        tied = [call for call in measured if call.outcome == "tie" and call.behind == behind]
        level = [title for name, title in candidates.items() if name not in behind]
        between = f" between {join_words(level)}" if behind else ""
        clauses.append(f"no difference that matters{between} shows in {items.name(tied)}{_behind(candidates, behind)}")
    return clauses


def _open_clauses(candidates: Mapping[str, str], measured: Sequence[ItemCall], items: _Items) -> list[str]:
    """What is still undecided, and who is behind nevertheless where that can be said in one clause."""
    left = [call for call in measured if call.outcome == "undecided"]
    partly, wholly = [call for call in left if call.behind], [call for call in left if not call.behind]
    clauses = []
    if partly:
        behind = _behind(candidates, partly[0].behind) if len({call.behind for call in partly}) == 1 else ""
        clauses.append(f"nobody is ahead of everyone in {items.name(partly)}{behind}")
    if wholly:
        clauses.append(f"{items.name(wholly)} {'is' if len(wholly) == 1 else 'are'} still undecided")
    return clauses


def _behind(candidates: Mapping[str, str], behind: Sequence[str]) -> str:
    if not behind:
        return ""
    if len(behind) == len(candidates):
        return ", where each is behind another"
    return f", where {join_words([candidates[name] for name in behind])} {'is' if len(behind) == 1 else 'are'} behind"


def _by_weight(
    candidates: Mapping[str, str], weight: Mapping[str, float], leader: str | None, stated: bool, could_turn: bool
) -> str:
    """What the weights make of the wins, with the doubt that open items leave; empty where one winner stands alone."""
    winners = sorted((name for name in candidates if weight[name] > 0), key=lambda name: -weight[name])
    if len(winners) < 2 and not (winners and stated and could_turn):
        return ""
    by = "by the weights stated" if stated else "with all items counting alike"
    if leader is None:
        return f"{by} {join_words([candidates[name] for name in _level(winners, weight)])} are level"
    return f"{by} {candidates[leader]} leads{', which what is open could turn' if could_turn else ''}"


def _level(winners: Sequence[str], weight: Mapping[str, float]) -> list[str]:
    """Those who share the largest weight, in file order as far as weights allow."""
    return [name for name in winners if weight[name] == weight[winners[0]]]
