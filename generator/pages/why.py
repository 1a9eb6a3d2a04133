"""The reasons: what decides a prediction, what would explain a mismatch, what was calibrated, tones, resonance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from generator.pages.figures import (
    NOTHING,
    format_quantity,
    format_share,
    format_span,
    format_spread,
    format_stated,
    number,
)
from generator.pages.labels import candidate_names, counted, item_titles, listed, sentence_case, short_label
from generator.phrases import measured_text
from generator.units import format_direction

Row = Mapping[str, Any]
Table = dict[str, Any]

LINE_NAMES = {"static": "static limit", "start": "start line", "any_timing": "any-timing line"}
LEAST_SHARE = 0.01
"""Share of the variance below which no input decides [1]."""
_FACTORS = ("moving mass", "motor torque")
_UNKNOWNS = {"torque derating": "motor torque", "current": "drive current"}


def view_why(results: Row) -> dict[str, Any] | None:
    """Everything that the section prints, or None where there is nothing."""
    view: dict[str, Any] = {
        "influences": _influences(results),
        "explanations": _explanations(results),
        "calibration": _calibrations(results),
        "resonance": _resonance(results),
        "tones": _tones(results),
        "maps": _maps_left_out(results),
    }
    return view if any(view.values()) or results.get("stall_maps") else None


# --- influences -----------------------------------------------------------------------------------------------------


def _influences(results: Row) -> Table | None:
    """The input that decides each prediction, its share of the variance and what its tolerance does."""
    names, titles = candidate_names(results), item_titles(results)
    best: dict[tuple[str, str], Row] = {}
    for row in results.get("influences") or ():
        key = (row["trial"], row["candidate"])
        if key not in best or (row.get("share") or 0.0) > (best[key].get("share") or 0.0):
            best[key] = row
    rows = [_influence(row, names, titles) for row in best.values() if (row.get("share") or 0.0) >= LEAST_SHARE]
    still = [
        f"{titles.get(trial, trial)}, {names.get(candidate, candidate)}"
        for (trial, candidate), row in best.items()
        if (row.get("share") or 0.0) < LEAST_SHARE
    ]
    bound = {
        (row["trial"], row["candidate"]) for row in results.get("predictions") or () if row.get("bound_by") == "stroke"
    }
    reason = (
        "the stroke bounds it"
        if bound >= {key for key in best if (best[key].get("share") or 0.0) < LEAST_SHARE}
        else ""
    )
    head = (
        "Prediction",
        "Candidate",
        "Input that decides",
        "Share of the variance",
        "Its tolerance moves the limit by",
    )
    words = _who_decides(rows)
    return {"head": head, "rows": rows, "words": words, "still": "; ".join(still), "reason": reason} if best else None


def _who_decides(rows: list[tuple[str, ...]]) -> str:
    """``The holding torque decides 5 of 8 predictions of the static limit, the phase inductance 3.``"""
    counts = Counter(row[2] for row in rows).most_common()
    if not counts:
        return ""
    (first, count), *others = [(f"the {label[:1].lower()}{label[1:]}", count) for label, count in counts]
    rest = "".join(f", {label} {count}" for label, count in others)
    return f"{sentence_case(first)} decides {count} of {counted(len(rows), 'prediction')} of the static limit{rest}."


def _influence(row: Row, names: Row, titles: Row) -> tuple[str, ...]:
    changes = [change for change in (row.get("change_low"), row.get("change_high")) if change]
    moved = " and ".join(f"{100 * change:+.0f} %".replace("-", "\u2212") for change in changes)
    candidate = names.get(row["candidate"], row["candidate"])
    share = format_share(row["share"])
    return titles.get(row["trial"], row["trial"]), candidate, short_label(row["path"]), share, moved or NOTHING


# --- explanations ---------------------------------------------------------------------------------------------------


def _explanations(results: Row) -> list[dict[str, Any]]:
    """One list per measurement outside its corridor, causes in order of plausibility."""
    names, titles = candidate_names(results), item_titles(results)
    places = {(row["trial"], row["candidate"]): row for row in results.get("agreement") or ()}
    found: dict[tuple[str, str], list[Row]] = {}
    for row in results.get("explanations") or ():
        found.setdefault((row["trial"], row["candidate"]), []).append(row)
    return [
        {
            "title": f"{titles.get(trial, trial)}, {names.get(candidate, candidate)}",
            "place": (places.get((trial, candidate)) or {}).get("place") or "",
            "causes": _causes(rows),
        }
        for (trial, candidate), rows in found.items()
    ]


def _causes(rows: list[Row]) -> list[str]:
    """Each cause that would explain it, then those that would not, then those without effect, each in one line."""
    explain = [_needed(row) for row in rows if row.get("needed") is not None]
    short = [f"{row['cause']} ({_range(row)})" for row in rows if row.get("needed") is None and row.get("has_effect")]
    idle = [row["cause"] for row in rows if not row.get("has_effect", True)]
    lines = [*explain] or ["None of the causes searched explains it."]
    if short:
        lines.append(f"No value in its range explains it: {listed(short)}.")
    return lines + ([f"Without effect there: {listed(idle)}."] if idle else [])


def _needed(row: Row) -> str:
    """``Moving mass: 0.82 times the stated one would explain it.``"""
    unit, cause = row["unit"], sentence_case(row["cause"])
    if unit == "1" and row["cause"] in _FACTORS:
        return f"{cause}: {number(row['needed'])} times the stated one would explain it."
    needed, stated = (format_quantity(row[key], unit) for key in ("needed", "stated"))
    return f"{cause}: {needed} in place of {stated} would explain it."


def _range(row: Row) -> str:
    if row["unit"] == "1":
        return f"{number(row['low'])} to {number(row['high'])}" + (" times" if row["cause"] in _FACTORS else "")
    return format_span(row["low"], row["high"], row["unit"])


# --- calibration ----------------------------------------------------------------------------------------------------


def _calibrations(results: Row) -> list[dict[str, Any]]:
    """One unknown fitted to one trial, the others predicted with it."""
    names, titles = candidate_names(results), item_titles(results)
    measured = {(row["item"], row["candidate"]): row for row in results.get("measurements") or ()}
    return [_calibration(row, names, titles, measured) for row in results.get("calibration") or ()]


def _calibration(row: Row, names: Row, titles: Row, measured: Mapping[tuple[str, str], Row]) -> dict[str, Any]:
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
            measured_text(measured.get((each["trial"], row["candidate"]))),
            _error(each.get("error")),
        )
        for each in row.get("predicted") or ()
    ]
    return {"sentence": sentence, "rows": rows}


def _error(error: float | None) -> str:
    return NOTHING if error is None else f"{100 * error:+.0f} %".replace("-", "\u2212")


# --- stall maps, resonance and tones ---------------------------------------------------------------------------------


def _maps_left_out(results: Row) -> list[str]:
    """Which maps could not be simulated, and why."""
    names = candidate_names(results)
    left_out = [entry for entry in results.get("stall_maps") or () if entry.get("message")]
    return [f"{names[row['candidate']]} {format_direction(row['direction'])}: {row['message']}" for row in left_out]


def _resonance(results: Row) -> Table | None:
    names = candidate_names(results)
    rows, messages = [], []
    for row in results.get("resonance") or ():
        name = names.get(row["candidate"], row["candidate"])
        rows.append((
            f"{row['axis']}, {name}", _stiffness(row, names), _frequencies(row.get("frequencies") or ()),
            format_quantity(row.get("rotor_clamped"), "Hz"), format_quantity(row.get("measured"), "Hz"),
            _shift(row), format_quantity(row.get("measured_shift"), "Hz", 2),
        ))  # fmt: skip
        if row.get("message"):
            messages.append(f"{row['axis']}, {name}: {row['message']}")
    head = ("Axis and candidate", "Belt stiffness used", "Both natural frequencies", "Rotor clamped, upper bound",
            "Measured peak", "Expected shift", "Measured shift")  # fmt: skip
    return {"head": head, "rows": rows, "messages": messages} if rows else None


def _stiffness(row: Row, names: Row) -> str:
    """``60 N/mm, stated; this peak asks for 59.2 N/mm``: which of the two the frequencies come from."""
    used, asked = format_quantity(row.get("belt_stiffness"), "N/m"), row.get("stiffness_of_peak")
    if row.get("stiffness_from") == "stated":
        used = f"{format_stated(row['belt_stiffness'], 'N/m')}, stated"
        return used if asked is None else f"{used}; this peak asks for {format_quantity(asked, 'N/m')}"
    if row.get("stiffness_from") == "peak":
        return f"{used}, from " + ("this peak" if asked is not None else f"the peak of {names[row['reference']]}")
    return used


def _frequencies(pair: Iterable[float]) -> str:
    return listed([format_quantity(frequency, "Hz") for frequency in pair]) or NOTHING


def _shift(row: Row) -> str:
    interval = row.get("expected_shift_interval")
    return format_spread(interval, "Hz") if interval else format_quantity(row.get("expected_shift"), "Hz", 2)


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
