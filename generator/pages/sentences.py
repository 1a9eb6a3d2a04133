"""Headings and default prose made from the figures, section by section, where the author wrote none. No filler."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from generator.pages.labels import candidate_names, counted, item_titles, listed
from generator.records.presentation import BOUNDS, IN_CORRIDOR

Row = Mapping[str, Any]


def corridor_heading(results: Row) -> str:
    """How many of the limits found lie in the predicted corridor, and how many limits were only bounded."""
    places = [row["place"] for row in results.get("agreement") or ()]
    found = [place for place in places if place not in BOUNDS]
    bounded = len(places) - len(found)
    more = f"; {bounded} more {'is' if bounded == 1 else 'are'} only bounded" if bounded else ""
    if not found:
        return "The corridor that the inputs predict"
    single = sum(row["kind"] == "bracketed" and row["count"] == 1 for row in results.get("measurements") or ())
    rest = f"; {single} of them {'rests' if single == 1 else 'rest'} on a single run" if 0 < single < len(found) else ""
    rest = "; from single runs" if single and single == len(found) else rest
    return f"{_found(sum(place in IN_CORRIDOR for place in found), len(found))} in the predicted corridor{rest}{more}"


def _found(inside: int, total: int) -> str:
    """``8 of 11 limits found lie``."""
    if total == 1:
        return f"The limit found {'lies' if inside else 'does not lie'}"
    if not inside:
        return f"{'Neither' if total == 2 else 'None'} of the {total} limits found lies"
    if inside == total:
        return f"{'Both' if total == 2 else f'All {total}'} limits found lie"
    return f"{inside} of {total} limits found {'lies' if inside == 1 else 'lie'}"


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
    "only a lower bound": "Only a lower bound, so its place is open",
    "only an upper bound": "Only an upper bound, so its place is open",
}


def trials_prose(results: Row) -> list[str]:
    """How many calls of each kind the trials gave."""
    trials = {trial["id"] for trial in results.get("trials") or ()}
    calls = Counter(_kind(row["call"]) for row in results.get("contrasts") or () if row["item"] in trials)
    if not calls:
        return []
    parts = [f"{count} {words}" for words, count in calls.items()]
    return [f"{counted(sum(calls.values()), 'pair was', 'pairs were')} compared: {listed(parts)}."]


def _kind(call: str) -> str:
    return "with one candidate ahead" if call.endswith(" ahead") else f"“{call}”"


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
