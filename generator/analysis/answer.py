"""The answer in one plain sentence, built from the calls alone so that it never claims more than they do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from generator.analysis.contrast import TOO_FEW
from generator.records.findings import Contrast, ItemCall

BENCH_SHEET = "Nothing has been measured yet: this is a bench sheet, with predictions only."
LISTED = 3
"""Most items that a sentence names one by one [1]."""


def render_answer(
    candidates: Mapping[str, str],
    calls: Sequence[ItemCall],
    contrasts: Sequence[Contrast],
    descriptions: Mapping[str, str],
    leader: str | None,
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
    leader : str or None
        Who has won the most weight.

    Returns
    -------
    str
        One sentence with its full stop.
    """
    counted = [call for call in calls if call.weight > 0]
    measured = [call for call in counted if call.outcome != "not measured"]
    if not measured:
        return BENCH_SHEET
    items = _Items(measured, descriptions)
    if all(call.outcome == "undecided" for call in measured):
        return _nothing_told(candidates, contrasts)
    clauses = _win_clauses(candidates, measured, items)
    clauses += _clauses(measured, "tie", "no difference that matters shows in", items)
    open_items = [call for call in measured if call.outcome == "undecided"]
    if open_items:
        clauses.append(f"{items.name(open_items)} {'is' if len(open_items) == 1 else 'are'} still undecided")
    return _finish(clauses, _by_weight(candidates, measured, leader))


class _Items:
    """Names items in a sentence: one by one while they are few, else by their number."""

    def __init__(self, measured: Sequence[ItemCall], descriptions: Mapping[str, str]) -> None:
        self.total = len(measured)
        self.descriptions = descriptions

    def name(self, calls: Sequence[ItemCall]) -> str:
        if len(calls) > LISTED:
            everything = len(calls) == self.total
            return f"all {self.total} items measured" if everything else f"{len(calls)} of {self.total} items measured"
        return join_words([self.descriptions.get(call.item, call.item) for call in calls])


def join_words(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _nothing_told(candidates: Mapping[str, str], contrasts: Sequence[Contrast]) -> str:
    names = join_words(list(candidates.values()))
    if contrasts and all(contrast.call == TOO_FEW for contrast in contrasts):
        return f"There are too few runs to tell {names} apart: what was measured is described, not called."
    return f"What was measured does not tell {names} apart."


def _win_clauses(candidates: Mapping[str, str], measured: Sequence[ItemCall], items: _Items) -> list[str]:
    clauses = []
    others = "" if len(candidates) == 2 else " of all others"
    for name, title in candidates.items():
        won = [call for call in measured if call.winner == name]
        if won:
            clauses.append(f"{title} is ahead{others} in {items.name(won)}")
    return clauses


def _clauses(measured: Sequence[ItemCall], outcome: str, words: str, items: _Items) -> list[str]:
    chosen = [call for call in measured if call.outcome == outcome]
    return [f"{words} {items.name(chosen)}"] if chosen else []


def _by_weight(candidates: Mapping[str, str], measured: Sequence[ItemCall], leader: str | None) -> str:
    """What the weights make of mixed wins, with the doubt that open items leave; empty where wins are not mixed."""
    weight = {name: sum(call.weight for call in measured if call.winner == name) for name in candidates}
    winners = [name for name in candidates if weight[name] > 0]
    undecided = sum(call.weight for call in measured if call.outcome == "undecided")
    if len(winners) < 2:
        return ""
    if leader is None:
        return "by the weights stated they are level"
    runner_up = max(weight[name] for name in winners if name != leader)
    doubt = ", which the undecided could turn" if undecided >= weight[leader] - runner_up and undecided > 0 else ""
    return f"by the weights stated {candidates[leader]} leads{doubt}"


def _finish(clauses: Sequence[str], conclusion: str) -> str:
    parts = [*clauses, conclusion] if conclusion else list(clauses)
    sentence = "; ".join(parts)
    return sentence[0].upper() + sentence[1:] + "."
