"""The verdict: what the calls add up to under the stated weights, without a score and without claiming more."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from generator.analysis.answer import render_answer
from generator.analysis.contrast import NO_DIFFERENCE, TOO_FEW, UNDECIDED
from generator.records.findings import Contrast, ItemCall, Turn, Verdict

WON, TIE, OPEN, NOT_MEASURED = "won", "tie", "undecided", "not measured"


@dataclass(frozen=True)
class _Standing:
    """Weight won per candidate, in file order [as stated]."""

    won: Mapping[str, float]

    @property
    def leader(self) -> str | None:
        """The one candidate with the most weight; None where nobody or more than one has it."""
        return self.level[0] if len(self.level) == 1 else None

    @property
    def level(self) -> tuple[str, ...]:
        """All that have the most weight; none where nobody has any."""
        best = max(self.won.values())
        return tuple(name for name, weight in self.won.items() if weight == best and best > 0)

    def could_turn(self, still_open: float) -> bool:
        """Whether the weight of what is open would bring somebody level with the leader."""
        first, *others = sorted(self.won.values(), reverse=True)
        lead = round(first - max(others, default=0.0), 9)
        return self.leader is not None and still_open > 0 and round(still_open, 9) >= lead

    def lead(self, leader: str, other: str) -> float:
        """Weight by which one is ahead of the other."""
        return round(self.won[leader] - self.won[other], 9)


def find_verdict(
    candidates: Mapping[str, str],
    items: Sequence[str],
    contrasts: Sequence[Contrast],
    weights: Mapping[str, float],
    descriptions: Mapping[str, str] | None = None,
    measured: Collection[str] | None = None,
) -> Verdict:
    """Add up the calls of a comparison.

    Parameters
    ----------
    candidates : mapping of str to str
        Id to name, in file order.
    items : sequence of str
        Ids of everything that was or is to be measured, in file order.
    contrasts : sequence of Contrast
        Of all items.
    weights : mapping of str to float
        Stated weights [any unit, not negative]; empty: all items count alike; items left out weigh nothing.
    descriptions : mapping of str to str, optional
        Item to words that follow "in": ``acceleration at 500 mm/s along x and y``; the id where there are none.
    measured : collection of str, optional
        Items with at least one measurement; those with a contrast count in any case.

    Returns
    -------
    Verdict
        won, ties, undecided, not_measured are shares of the stated weight [1] that sum to 1 where there is any.
    """
    stated = bool(weights)
    weights = {item: float(weights.get(item, 0.0)) for item in items} if weights else dict.fromkeys(items, 1.0)
    measured = set(measured or ()) | {contrast.item for contrast in contrasts}
    taking_part = [name for name in candidates if any(name in contrast.between for contrast in contrasts)]
    calls = tuple(_call_item(item, weights[item], contrasts, taking_part, measured) for item in items)
    total = sum(weights.values())
    standing = _Standing({name: _weight(calls, WON, name) for name in candidates})
    could_turn = standing.could_turn(_weight(calls, OPEN) + _weight(calls, NOT_MEASURED))
    return Verdict(
        sentence=render_answer(
            candidates, calls, contrasts, descriptions or {}, standing.won, standing.leader, stated, could_turn
        ),
        items=calls,
        won={name: _share(weight, total) for name, weight in standing.won.items()},
        ties=_share(_weight(calls, TIE), total),
        undecided=_share(_weight(calls, OPEN), total),
        not_measured=_share(_weight(calls, NOT_MEASURED), total),
        leader=standing.leader,
        could_turn=could_turn,
        calls=sum(map(_is_called, contrasts)),
        turns_when=tuple(_turn(call, standing) for call in calls),
    )


def _is_called(contrast: Contrast) -> bool:
    """Whether an interval or a bound decided: undecided pairs count only where there was an interval to ask."""
    if contrast.call == UNDECIDED:
        return contrast.low is not None or contrast.high is not None
    return contrast.ahead is not None or contrast.call == NO_DIFFERENCE


def _weight(calls: Sequence[ItemCall], outcome: str, winner: str | None = None) -> float:
    """Weight of the items with this outcome, to 9 decimals, so that 0.1 and 0.2 weigh as much as 0.3."""
    return round(math.fsum(call.weight for call in calls if call.outcome == outcome and call.winner == winner), 9)


def _share(weight: float, total: float) -> float:
    return weight / total if total else 0.0


def _call_item(
    item: str,
    weight: float,
    contrasts: Sequence[Contrast],
    taking_part: Sequence[str],
    measured: Collection[str],
) -> ItemCall:
    """Who is ahead of everyone in one item, or why nobody is."""
    own = [contrast for contrast in contrasts if contrast.item == item]
    if item not in measured:
        return ItemCall(item, weight, NOT_MEASURED, None, "nothing was measured here")
    if not own:
        return ItemCall(item, weight, OPEN, None, "only one candidate was measured here")
    compared = {name for contrast in own for name in contrast.between}
    if compared != set(taking_part):
        return ItemCall(item, weight, OPEN, None, "not every candidate was measured here")
    return _call_compared(item, weight, own, taking_part)


def _call_compared(item: str, weight: float, own: Sequence[Contrast], taking_part: Sequence[str]) -> ItemCall:
    beaten = {name for contrast in own if contrast.ahead for name in contrast.between if name != contrast.ahead}
    contenders, behind = [n for n in taking_part if n not in beaten], tuple(n for n in taking_part if n in beaten)
    for name in contenders:
        if all(contrast.ahead == name for contrast in own if name in contrast.between):
            reason = own[0].reason if len(own) == 1 else "ahead of every other candidate"
            return ItemCall(item, weight, WON, name, reason)
    between = [contrast for contrast in own if set(contrast.between) <= set(contenders)]
    if between and all(contrast.call == NO_DIFFERENCE for contrast in between):
        reason = own[0].reason if len(own) == 1 else "the best do not differ by what matters"
        return ItemCall(item, weight, TIE, None, reason, behind)
    return ItemCall(item, weight, OPEN, None, _why_open(between or own), behind)


def _why_open(contrasts: Sequence[Contrast]) -> str:
    """Reason of the first pair that has no answer, preferring one that more runs would settle."""
    for call in (UNDECIDED, TOO_FEW):
        for contrast in contrasts:
            if contrast.call == call:
                return contrast.reason
    return contrasts[0].reason


def _turn_from_level(call: ItemCall, winner: str, standing: _Standing) -> Turn:
    """Where several are level, or nobody has any weight, the least change puts one of them ahead."""
    above = call.weight + max(standing.won.values()) - standing.won[winner]
    others = [name for name in standing.level if name != winner]
    if winner in standing.level and len(others) == 1:
        return Turn(call.item, call.weight, call.weight, above, others[0], winner)
    return Turn(call.item, call.weight, None, above, None, winner)


def _turn(call: ItemCall, standing: _Standing) -> Turn:
    """How far one weight could go, the others staying, before another candidate leads or nobody does."""
    never = Turn(call.item, call.weight, None, None, None, None)
    leader, winner = standing.leader, call.winner
    if winner is None:
        return never
    if leader is None:
        return _turn_from_level(call, winner, standing)
    if winner != leader:
        above = call.weight + standing.lead(leader, winner)
        return Turn(call.item, call.weight, None, above, None, winner)
    runner_up = max((name for name in standing.won if name != leader), key=lambda name: standing.won[name])
    below = call.weight - standing.lead(leader, runner_up)
    return Turn(call.item, call.weight, below, None, runner_up, None) if below > 0 else never
