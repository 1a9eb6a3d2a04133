"""The reasons: what decides a prediction, what would explain a mismatch, what was calibrated, tones, resonance."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from generator.pages.figures import NOTHING, format_quantity, format_span, format_spread, number
from generator.pages.labels import candidate_names, item_titles, listed
from generator.pages.sentences import influence_sentences

Row = Mapping[str, Any]
Table = dict[str, Any]

LINE_NAMES = {"static": "static limit", "start": "start line", "any_timing": "any-timing line"}
_UNKNOWNS = {"torque derating": "motor torque", "current": "drive current"}


def view_why(results: Row) -> dict[str, Any] | None:
    """Everything that the section prints, or None where there is nothing."""
    view: dict[str, Any] = {
        "influences": influence_sentences(results),
        "explanations": _explanations(results),
        "calibration": _calibrations(results),
        "resonance": _resonance(results),
        "tones": _tones(results),
        "maps": [entry["message"] for entry in results.get("stall_maps") or () if entry.get("message")],
        "notes": list(dict.fromkeys(entry["note"] for entry in results.get("stall_maps") or () if entry.get("note"))),
    }
    return view if any(view.values()) or results.get("stall_maps") else None


# --- explanations ---------------------------------------------------------------------------------------------------


def _explanations(results: Row) -> list[dict[str, Any]]:
    """One list per measurement outside its corridor, causes in order of plausibility."""
    names, titles = candidate_names(results), item_titles(results)
    places = {(row["trial"], row["candidate"]): row for row in results.get("agreement") or ()}
    found: dict[tuple[str, str], list[str]] = {}
    for row in results.get("explanations") or ():
        found.setdefault((row["trial"], row["candidate"]), []).append(explanation_text(row))
    return [
        {
            "title": f"{titles.get(trial, trial)}, {names.get(candidate, candidate)}",
            "place": (places.get((trial, candidate)) or {}).get("place") or "",
            "causes": causes,
        }
        for (trial, candidate), causes in found.items()
    ]


def explanation_text(row: Row) -> str:
    """``Moving mass: 0.82 times the stated one would explain it``, or that no value in the range does."""
    unit, cause = row["unit"], row["cause"][:1].upper() + row["cause"][1:]
    if not row.get("has_effect", True):
        return f"{cause}: has no effect there."
    if row.get("needed") is None:
        return f"{cause}: no value in {_range(row)} explains it."
    if unit == "1" and row["stated"] == 1.0 and "k_v" not in cause:
        return f"{cause}: {number(row['needed'])} times the stated one would explain it."
    needed, stated = (format_quantity(row[key], unit) for key in ("needed", "stated"))
    return f"{cause}: {needed} instead of {stated} would explain it."


def _range(row: Row) -> str:
    if row["unit"] == "1":
        return f"{number(row['low'])} to {number(row['high'])}"
    return format_span(row["low"], row["high"], row["unit"])


# --- calibration ----------------------------------------------------------------------------------------------------


def _calibrations(results: Row) -> list[dict[str, Any]]:
    """One unknown fitted to one trial, the others predicted with it."""
    names, titles = candidate_names(results), item_titles(results)
    return [_calibration(row, names, titles) for row in results.get("calibration") or ()]


def _calibration(row: Row, names: Row, titles: Row) -> dict[str, Any]:
    name, unknown = names.get(row["candidate"], row["candidate"]), _UNKNOWNS.get(row["unknown"], row["unknown"])
    used = titles.get(row["trial"], row["trial"])
    if row.get("factor") is None:
        return {"sentence": f"{name}: {row.get('message') or 'nothing could be fitted'}", "rows": []}
    line = LINE_NAMES.get(row["line"], row["line"])
    sentence = (
        f"{name}: with {number(row['factor'])} times the stated {unknown} the {line} meets what was measured in "
        f"“{used}”. That trial was used; the others are predicted from it."
    )
    rows = [
        (
            titles.get(each["trial"], each["trial"]),
            format_quantity(each.get(row["line"]), each["unit"]),
            format_quantity(each.get("measured"), each["unit"]),
            _error(each.get("error")),
        )
        for each in row.get("predicted") or ()
    ]
    return {"sentence": sentence, "rows": rows}


def _error(error: float | None) -> str:
    return NOTHING if error is None else f"{100 * error:+.0f} %".replace("-", "\u2212")


# --- resonance and tones --------------------------------------------------------------------------------------------


def _resonance(results: Row) -> Table | None:
    names = candidate_names(results)
    rows, messages = [], []
    for row in results.get("resonance") or ():
        name = names.get(row["candidate"], row["candidate"])
        rows.append((
            f"{row['axis']}, {name}", _frequencies(row.get("frequencies") or ()),
            format_quantity(row.get("rotor_clamped"), "Hz"), format_quantity(row.get("measured"), "Hz"),
            _shift(row.get("expected_shift")), format_quantity(row.get("measured_shift"), "Hz", 2),
        ))  # fmt: skip
        if row.get("message"):
            messages.append(f"{row['axis']}, {name}: {row['message']}")
    head = ("Axis and candidate", "Both natural frequencies", "Rotor clamped, upper bound", "Measured peak",
            "Expected shift", "Measured shift")  # fmt: skip
    return {"head": head, "rows": rows, "messages": messages} if rows else None


def _frequencies(pair: Iterable[float]) -> str:
    return listed([format_quantity(frequency, "Hz") for frequency in pair]) or NOTHING


def _shift(shift: Any) -> str:
    if shift is None:
        return NOTHING
    return format_spread(shift, "Hz") if isinstance(shift, Mapping) else format_quantity(float(shift), "Hz", 2)


def _tones(results: Row) -> Table | None:
    """Rates and wavelengths, one row per item, candidate and turning motor; equal rows joined over candidates."""
    names, titles = candidate_names(results), item_titles(results)
    joined: dict[tuple[str, ...], list[str]] = {}
    for row in results.get("tones") or ():
        lengths = row.get("wavelengths") or {}
        key = (
            titles.get(row["trial"], row["trial"]), str(row["motor"] + 1),
            *(format_quantity(row.get(rate), "Hz") for rate in ("full_step", "electrical", "tooth")),
            *(format_quantity(lengths.get(length), "m") for length in ("full_step", "electrical", "tooth", "turn")),
        )  # fmt: skip
        joined.setdefault(key, []).append(names.get(row["candidate"], row["candidate"]))
    rows = [(key[0], _who(who, names), *key[1:]) for key, who in joined.items()]
    head = ("Move", "Candidate", "Motor", "Full steps", "Electrical turns", "Belt teeth", "Per full step",
            "Per electrical turn", "Per tooth", "Per motor turn")  # fmt: skip
    return {"head": head, "rows": rows} if rows else None


def _who(who: list[str], names: Row) -> str:
    named = list(dict.fromkeys(who))
    return "all" if len(named) == len(names) > 1 else listed(named)
