"""Headings and default prose made from the figures, section by section, where the author wrote none. No filler."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.labels import candidate_names, counted, item_titles, listed
from generator.records.presentation import BOUNDS, IN_CORRIDOR, TOO_WIDE

Row = Mapping[str, Any]


def corridor_heading(results: Row) -> str:
    """How many of the limits found lie in, above and below the predicted corridor, and what else was measured."""
    measured = {(row["item"], row["candidate"]): row for row in results.get("measurements") or ()}
    found, bounded, wide = [], 0, 0
    for row in results.get("agreement") or ():
        own = measured.get((row["trial"], row["candidate"]), {})
        if row["place"] in BOUNDS or own.get("kind") in ("lower bound", "upper bound"):
            bounded += 1
        elif row["place"] == TOO_WIDE:
            wide += 1
        else:
            found.append((_SIDES.get(row["place"], "in"), own.get("kind") == "bracketed" and own["count"] == 1))
    if not found:
        return "The corridor that the inputs predict"
    rest = [f"{count} more {'is' if count == 1 else 'are'} {how}"
            for count, how in ((bounded, "only bounded"), (wide, "too uncertain to place")) if count]  # fmt: skip
    single = sum(alone for _, alone in found)
    return "; ".join([_found([side for side, _ in found]), *_single(single, len(found)), *rest])


_SIDES = {"above static limit": "above", "below any-timing limit": "below"}


def _found(sides: Sequence[str]) -> str:
    """``8 of 11 limits found lie in the predicted corridor, 3 below it``."""
    total = len(sides)
    counts = [(sides.count(side), side) for side in ("in", "above", "below") if side in sides]
    (first, where), others = counts[0], counts[1:]
    if total == 1:
        return f"The limit found lies {where} the predicted corridor"
    who = f"{first} of {total}" if others else "Both" if total == 2 else f"All {total}"
    lead = f"{who} limits found {'lies' if others and first == 1 else 'lie'} {where} the predicted corridor"
    return ", ".join([lead, *(f"{count} {side} it" for count, side in others)])


def _single(single: int, total: int) -> list[str]:
    if single == total:
        return ["from a single run" if total == 1 else "from single runs"]
    return [f"{single} of the {total} {'rests' if single == 1 else 'rest'} on a single run"] if single else []


def corridor_prose(results: Row) -> list[str]:
    """Where limits lie that are not plainly inside the corridor, by name."""
    names, titles = candidate_names(results), item_titles(results)
    found: dict[str, list[str]] = {}
    for row in results.get("agreement") or ():
        if row["place"] != IN_CORRIDOR[0]:
            where = f"{names.get(row['candidate'], row['candidate'])} in “{titles.get(row['trial'], row['trial'])}”"
            found.setdefault(row["place"], []).append(where)
    return [f"{_PLACES.get(place, place.capitalize())}: {listed(where)}." for place, where in found.items()]


_PLACES = {
    "above static limit": "Above what the static limit allows",
    "below any-timing limit": "Below what the any-timing limit allows",
    "between any-timing and start": "Between the any-timing line and the start line, as sudden moves can be",
    TOO_WIDE: "Too uncertain to place, since the measured interval spans the whole corridor",
    "only a lower bound": "Only a lower bound, so its place is open",
    "only an upper bound": "Only an upper bound, so its place is open",
}


def trials_prose(results: Row) -> list[str]:
    """How many calls of each kind the trials gave."""
    trials = {trial["id"] for trial in results.get("trials") or ()}
    calls = Counter(_kind(row) for row in results.get("contrasts") or () if row["item"] in trials)
    if not calls:
        return []
    parts = [f"{count} {words}" for words, count in calls.items()]
    if len(calls) == 1 and calls.total() == 1:
        return [f"One pair was compared, {next(iter(calls))}."]
    return [f"{counted(calls.total(), 'pair was', 'pairs were')} compared: {listed(parts)}."]


def _kind(row: Row) -> str:
    return "with one candidate ahead" if row["ahead"] else f"“{row['call']}”"


def verdict_counts(results: Row) -> str:
    """How many calls the page makes, on what they stand and what chance does to them."""
    calls = (results.get("verdict") or {}).get("calls") or 0
    panel = sum(row["kind"] == "panel" for row in results.get("contrasts") or ())
    found = [
        (calls - panel, "on 99 % intervals", "a hundred such calls between equal candidates about one"),
        (panel, "by a blind panel’s exact test at 5 %", "twenty such calls by votes that are mere guesses at most one"),
    ]
    return " ".join(
        f"This page makes {counted(count, 'call')} {how}. Of {many} would come out wrong."
        for count, how, many in found
        if count > 0
    )
