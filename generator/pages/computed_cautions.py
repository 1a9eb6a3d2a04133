"""The computed cautions of one comparison: a figure, what it is, what it stands against, under what assumption."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from generator.pages.figures import NOTHING, format_quantity, format_stated
from generator.pages.labels import candidate_names, item_titles, listed, sentence_case

Row = Mapping[str, Any]

_KINDS: Mapping[str, tuple[str, str]] = {
    "moving energy": ("Moving energy", ""),
    "supply peak": ("Supply peak of one stop", "the drive’s limit of {}"),
    "touchable supply peak": ("Supply peak of one stop", "the {} that commonly counts as safe to touch when dry"),
    "winding loss": ("Winding loss of one motor at full current", ""),
    "standstill loss": ("Winding loss of one motor at standstill current", ""),
    "induced voltage": (
        "Voltage made by the motors when they are turned",
        "the {} that commonly counts as safe to touch when dry",
    ),
    "stopping distance": ("Stopping distance", ""),
}
"""Label of each kind, and how its limit is said."""
_STANDING = ("winding loss", "standstill loss")
"""Kinds that no move makes better or worse."""


def view_cautions(results: Row) -> dict[str, Any] | None:
    """The cautions of a whole comparison; None where there are none."""
    titles, units = item_titles(results), {trial["id"]: trial["unit"] for trial in results.get("trials") or ()}
    cautions = [row | {"assumes": _assumes(row, titles, units)} for row in results.get("cautions") or ()]
    rows = view_rows(cautions, candidate_names(results))
    return {"rows": rows} if rows else None


def view_rows(cautions: Iterable[Row], names: Mapping[str, str]) -> list[dict[str, Any]]:
    """Figures with equal text joined: over candidates, and over the limits that one figure stands against; by kind."""
    found: dict[tuple[str, str, str], dict[str, Any]] = {}
    for row in cautions:
        label, limit = _KINDS.get(row["kind"], (sentence_case(row["kind"]), "the limit of {}"))
        value = format_quantity(row.get("value"), row.get("unit") or "1")
        entry = found.setdefault(
            (value, label, row.get("assumes") or ""),
            {"value": "not computed" if value == NOTHING else value, "kind": label, "limits": {}, "who": []},
        )
        entry["who"].append(names.get(str(row.get("candidate")), ""))
        if row.get("value") is not None and row.get("limit") is not None:
            entry["limits"].setdefault(_limit(row, limit), None)
    labels = [label for _, label, _ in found]
    return [
        entry | {"assumes": _sentence(assumes), "who": _who(entry["who"], names), "limits": listed([*entry["limits"]])}
        for (_, _, assumes), entry in sorted(found.items(), key=lambda pair: labels.index(pair[0][1]))
    ]


def view_table(cautions: Iterable[Row], names: Mapping[str, str]) -> list[tuple[str, ...]]:
    """One row a kind: label, a figure per candidate, what it stands against."""
    found: dict[str, dict[str, str]] = {}
    limits: dict[str, dict[str, None]] = {}
    for row in cautions:
        label, limit = _KINDS.get(row["kind"], (sentence_case(row["kind"]), "the limit of {}"))
        above = row.get("value") is not None and row.get("limit") is not None and row["value"] > row["limit"]
        figure = format_quantity(row.get("value"), row.get("unit") or "1") + (" (above)" if above else "")
        found.setdefault(label, {})[str(row.get("candidate"))] = figure
        if row.get("limit") is not None:
            limits.setdefault(label, {})[limit.format(format_stated(row["limit"], row.get("unit") or "1"))] = None
    return [
        (label, *(cells.get(candidate, NOTHING) for candidate in names), "; ".join(limits.get(label, ())))
        for label, cells in found.items()
    ]


def _assumes(row: Row, titles: Mapping[str, str], units: Mapping[str, str]) -> str:
    """Under what a figure holds, and which trial, or which rung of the bench sheet, gives it."""
    assumes, trial = _sentence(row.get("assumes") or ""), row.get("trial")
    if row.get("value") is None or trial is None or row["kind"] in _STANDING:
        return assumes
    rung = row.get("rung")
    at = "Trial" if rung is None else f"Top rung of the bench sheet, {format_quantity(rung, units[trial])}"
    return f"{assumes} {at}: {titles.get(trial, trial)}."


def _limit(row: Row, words: str) -> str:
    """``above the drive’s limit of 55 V``."""
    way = "above" if row["value"] > row["limit"] else "within"
    return f"{way} {words.format(format_stated(row['limit'], row.get('unit') or '1'))}"


def _who(candidates: list[str], names: Mapping[str, str]) -> str:
    named = list(dict.fromkeys(name for name in candidates if name))
    return "all candidates" if len(named) == len(names) > 1 else listed(named)


def _sentence(text: str) -> str:
    text = sentence_case(text.strip())
    return text + ("." if text and not text.endswith(".") else "")
