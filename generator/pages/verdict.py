"""The verdict as the page shows it: calls with weights, shares of weight, and data for the reader's own weights."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.figures import format_weight_share
from generator.pages.labels import candidate_names, item_titles
from generator.pages.sentences import verdict_counts
from generator.pages.trials import view_call

Row = Mapping[str, Any]
WIDTH = 320.0


def view_verdict(results: Row) -> dict[str, Any] | None:
    """Everything that the verdict section prints; None where there is no verdict."""
    verdict = results.get("verdict")
    if not verdict:
        return None
    names, titles = candidate_names(results), item_titles(results)
    items = [_item(results, entry, names, titles) for entry in verdict_items(results)]
    return {
        "sentence": _leader(verdict, names),
        "entries": items,
        "shares": _shares(verdict, names),
        "counts": verdict_counts(results),
        "specimens": _specimens(results),
        "measured": bool(results.get("measurements")),
        "turns": [text for text in (_turn(turn, names, titles) for turn in verdict.get("turns_when") or ()) if text],
        "data": {
            "candidates": [{"id": candidate, "name": name} for candidate, name in names.items()],
            "items": [{key: item[key] for key in ("id", "title", "weight", "outcome", "winner")} for item in items],
        },
    }


def _leader(verdict: Row, names: Mapping[str, str]) -> str:
    """Who leads by the stated weights, and with how much of them."""
    leader, won = verdict.get("leader"), verdict.get("won") or {}
    if leader:
        name, share = names.get(leader, leader), format_weight_share(won.get(leader))
        doubt = "; what is open could turn that" if verdict.get("could_turn") else ""
        return f"By the author’s weights {name} leads, winning {share} outright{doubt}."
    if (verdict.get("not_measured") or 0.0) >= 1.0:
        return "Nothing has been measured yet, so nothing is weighed."
    return "By the author’s weights nobody leads."


def _specimens(results: Row) -> str:
    """What the intervals do not hold."""
    counts = [item.get("units_tested") for item in (results.get("report") or {}).get("items") or ()]
    units = "How units of one type differ is not in these intervals."
    return f"One specimen of each was tested. {units}" if counts and all(count == 1 for count in counts) else units


def verdict_items(results: Row) -> list[Row]:
    """The verdict's items with weight, outcome and winner."""
    return list((results.get("verdict") or {}).get("items") or ())


def _item(results: Row, entry: Row, names: Mapping[str, str], titles: Mapping[str, str]) -> dict[str, Any]:
    calls = [view_call(row, names) for row in results.get("contrasts") or () if row["item"] == entry["item"]]
    return {
        "id": entry["item"],
        "title": titles.get(entry["item"], entry["item"]),
        "weight": entry["weight"],
        "weight_text": _weight(entry["weight"]),
        "outcome": entry["outcome"],
        "winner": entry.get("winner"),
        "words": _outcome(entry, names),
        "reason": entry.get("reason") or "",
        "calls": calls,
    }


def _outcome(entry: Row, names: Mapping[str, str]) -> str:
    if entry["outcome"] == "won":
        return f"{names.get(entry['winner'], entry['winner'])} ahead"
    return {"tie": "No difference that matters", "undecided": "Undecided"}.get(entry["outcome"], "Not measured")


def _shares(verdict: Row, names: Mapping[str, str]) -> list[dict[str, Any]]:
    """Shares of the weight as bars laid end to end, candidates first."""
    won = verdict.get("won") or {}
    rows = [
        *((name, label, won.get(name) or 0.0, index) for index, (name, label) in enumerate(names.items())),
        *((key, label, verdict.get(key) or 0.0, None) for key, label in _REST.items()),
    ]
    found, place = [], 0.0
    for key, label, share, index in rows:
        width = round(share * WIDTH, 1)
        text = format_weight_share(share)
        bar = {"key": key, "label": label, "share": text, "index": index, "x": place, "width": width}
        found.append(bar)
        place = round(place + width, 1)
    return found


_REST = {"ties": "No difference that matters", "undecided": "Undecided", "not_measured": "Not measured"}


def _turn(turn: Row, names: Mapping[str, str], titles: Mapping[str, str]) -> str:
    """How far one weight may move before somebody else leads, in words; empty where it never turns."""
    title = titles.get(turn["item"], turn["item"])
    parts = []
    if turn.get("below") is not None:
        parts.append(f"below {_weight(turn['below'])}, {_leads(turn.get('leader_below'), names)}")
    if turn.get("above") is not None:
        parts.append(f"above {_weight(turn['above'])}, {_leads(turn.get('leader_above'), names)}")
    return f"{title}: with a weight {'; '.join(parts)}" if parts else ""


def _weight(weight: float) -> str:
    return f"{weight:.3g}"


def _leads(leader: str | None, names: Mapping[str, str]) -> str:
    return f"{names.get(leader, leader)} leads" if leader else "nobody leads"
