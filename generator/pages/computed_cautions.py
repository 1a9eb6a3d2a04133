"""The computed cautions of one comparison: a figure, what it is, what it stands against, under what assumption."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from generator.pages.figures import NOTHING, format_quantity, format_stated
from generator.pages.labels import candidate_names, item_titles, listed, sentence_case

Row = Mapping[str, Any]

_DRIVE, _DIRECT = "the drive’s limit of {}", "the {} that commonly counts as safe to touch when dry"
_ALTERNATING = "the {} peak up to which alternating voltage counts as safety extra-low"
_KINDS: Mapping[str, tuple[str, str]] = {
    "steady force": ("Steady force on axis {}", ""),
    "moving energy": ("Moving energy", ""),
    "supply peak": ("Supply peak of one stop", _DRIVE),
    "touchable supply peak": ("Supply peak of one stop", _DIRECT),
    "winding loss": ("Winding loss of one motor at full current", ""),
    "standstill loss": ("Winding loss of one motor at standstill current", ""),
    "induced voltage": ("Peak voltage of a motor that is turned", _ALTERNATING),
    "stopping distance": ("Stopping distance", ""),
}
"""Label of each kind, and how its limit is said."""
_STANDING = ("winding loss", "standstill loss")
"""Kinds that no move makes better or worse."""
_AT: Mapping[str, Callable[[float], str]] = {
    "speed": lambda value: f"speed {format_quantity(value, 'm/s')}",
    "path": lambda value: f"path {format_quantity(value, 'm')}",
    "deceleration": lambda value: f"deceleration {format_quantity(value, 'm/s^2')}",
    "jerk": lambda value: f"jerk {format_stated(value, 'm/s^3')}",
    "current_share": lambda value: f"{format_stated(value, '%')} of the full current",
    "winding_temperature": lambda value: f"copper at {format_stated(value, 'K')}",
    "mass": lambda value: f"the weight of {format_quantity(value, 'kg')}",
}
"""How a figure of an assumption is said, in this order."""


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
        value, label = format_quantity(row["value"], row["unit"]), _label(row)
        entry = found.setdefault(
            (value, label, row["assumes"]),
            {"value": "not computed" if value == NOTHING else value, "kind": label, "limits": {}, "who": []},
        )
        entry["who"].append(names[row["candidate"]])
        if row["value"] is not None and row["limit"] is not None:
            entry["limits"].setdefault(f"{'above' if _is_above(row) else 'within'} {_limit(row)}", None)
    labels = [label for _, label, _ in found]
    return [
        entry | {"assumes": assumes, "who": _who(entry["who"], names), "limits": listed([*entry["limits"]])}
        for (_, _, assumes), entry in sorted(found.items(), key=lambda pair: labels.index(pair[0][1]))
    ]


def view_table(cautions: Iterable[Row], names: Mapping[str, str]) -> list[tuple[str, ...]]:
    """One row a kind: label, a figure per candidate with the limits that it exceeds, what it stands against."""
    found: dict[str, dict[str, tuple[str, dict[str, None]]]] = {}
    limits: dict[str, dict[str, None]] = {}
    for row in cautions:
        figure = format_quantity(row["value"], row["unit"])
        _, above = found.setdefault(_label(row), {}).setdefault(row["candidate"], (figure, {}))
        if row["limit"] is not None:
            limits.setdefault(_label(row), {})[_limit(row)] = None
        if _is_above(row):
            above[format_stated(row["limit"], row["unit"])] = None
    return [
        (label, *(_cell(*cells.get(candidate, (NOTHING, {}))) for candidate in names), "; ".join(limits.get(label, ())))
        for label, cells in found.items()
    ]


def _cell(figure: str, above: Iterable[str]) -> str:
    """``61.2 V (above 55 V and 60 V)``."""
    return f"{figure} (above {listed([*above])})" if above else figure


def list_falling(results: Row) -> list[str]:
    """``axis z: 13.7 N, the weight of 1.40 kg`` for every axis that a steady force moves, each figure once."""
    falling = [row for row in results.get("cautions") or () if row["kind"] == "steady force"]
    found = (f"axis {row['axis']}: {format_quantity(row['value'], row['unit'])}, {_at(row)}" for row in falling)
    return list(dict.fromkeys(found))


def _label(row: Row) -> str:
    return _KINDS[row["kind"]][0].format(row["axis"])


def _limit(row: Row) -> str:
    """``the drive’s limit of 55 V``."""
    return _KINDS[row["kind"]][1].format(format_stated(row["limit"], row["unit"]))


def _is_above(row: Row) -> bool:
    return row["value"] is not None and row["limit"] is not None and row["value"] > row["limit"]


def _at(row: Row) -> str:
    """The figures of an assumption, such as ``speed 1410 mm/s, path 60.0 mm``."""
    return ", ".join(say(row["at"][name]) for name, say in _AT.items() if name in row["at"])


def _assumes(row: Row, titles: Mapping[str, str], units: Mapping[str, str]) -> str:
    """Under what a figure holds, at which figures, and which trial, or which rung of the bench sheet, gives it."""
    trial, assumes = row["trial"], " ".join(f"{sentence_case(words)}." for words in (row["assumes"], _at(row)) if words)
    if row["value"] is None or trial is None or row["kind"] in _STANDING:
        return assumes
    rung = row["rung"]
    at = "Trial" if rung is None else f"Bench sheet, rung of {format_quantity(rung, units[trial])}"
    return f"{assumes} {at}: {titles.get(trial, trial)}."


def _who(candidates: list[str], names: Mapping[str, str]) -> str:
    named = list(dict.fromkeys(candidates))
    return "all candidates" if len(named) == len(names) > 1 else listed(named)
