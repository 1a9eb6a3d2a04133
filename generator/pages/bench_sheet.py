"""The bench sheet: what to do at the bench, as a section of a comparison's page and as a page made for print."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from generator.pages.computed_cautions import list_falling, view_table
from generator.pages.context import Context
from generator.pages.figures import NOTHING, format_quantity, format_share, format_stated
from generator.pages.labels import candidate_names, counted, listed, sentence_case
from generator.pages.templates import read_template, render_template
from generator.records.presentation import Page
from generator.units import find_display

Row = Mapping[str, Any]
SPARE_ROWS = 2
"""Empty rows beyond the planned runs, for runs that have to be repeated."""


def view_bench(results: Row) -> list[dict[str, Any]] | None:
    """The plans of all trials that are not measured for every candidate; None where there are none."""
    names = candidate_names(results)
    plans = results["bench_sheet"]
    return [_plan(results, plan, names) for plan in plans if len(plan["measured"]) < len(names)] or None


def render_bench_sheet(results: Row, context: Context) -> Page:
    """Render the sheet for all trials as one page that carries its own styles, so that it can lie anywhere."""
    names = candidate_names(results)
    view = {
        "results": results,
        "site": context.site,
        "style": read_template(context.environment, "styles/sheet.css"),
        "plans": [_plan(results, plan, names) for plan in results["bench_sheet"]],
        "derating": _derating(results.get("derating")),
        "falling": "; ".join(list_falling(results)),
        "digest": _digest(results),
    }
    text = render_template(context.environment, "bench_sheet.html", view)
    return Page(f"bench-sheet-{results['comparison']}.html", text)


def _digest(results: Row) -> str:
    """Digits that tell sheets of different inputs apart: of the figures stated, the trials and the plans."""
    told = [results.get(key) for key in ("inputs", "trials", "bench_sheet", "derating")]
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:12]


def _derating(derating: Row | None) -> str:
    """What earlier comparisons of the same machine taught the plan; empty where there are none."""
    if not derating:
        return ""
    shown_by = listed([str(slug) for slug in derating["comparisons"]])
    return (
        f"The motors’ torque is taken as {derating['factor']:.2f} of the stated one, as earlier comparisons of "
        f"this machine showed ({shown_by})."
    )


def _plan(results: Row, plan: Row, names: Mapping[str, str]) -> dict[str, Any]:
    """One trial's plan in words and figures."""
    unit = plan["unit"]
    trial: Row = next(row for row in results["trials"] if row["id"] == plan["trial"])
    order = list(plan["order"] or ())
    candidates = {candidate: plan["candidates"][candidate] for candidate in names}
    own = [row for each in candidates.values() for row in each["cautions"]]
    return {
        "id": plan["trial"],
        "unit": find_display(unit).text,
        "heads": ("Figure", *names.values(), "Stands against"),
        "title": sentence_case(plan["what"]),
        "stroke": format_stated(trial["stroke"], "m"),
        "measured": listed([names[candidate] for candidate in plan["measured"]]),
        "runs": _runs(plan, unit),
        "order": _order(order, names),
        "rows": [_candidate(names[c], each, unit) for c, each in candidates.items()],
        "notes": [note for c, each in candidates.items() for note in _notes(names[c], each, unit)],
        "blanks": [(place, names.get(candidate, "")) for place, candidate in enumerate(order + [""] * SPARE_ROWS, 1)],
        "cautions": view_table(own, names),
    }


def _runs(plan: Row, unit: str) -> str:
    """How many runs to make and on what that rests."""
    if plan["matters"] is None:
        return "No number of runs can be given, as no limit is predicted from which to take what matters."
    matters = format_quantity(plan["matters"], unit, 2)
    scatter = format_quantity(plan["scatter"], unit, 2)
    if not plan["runs"]:
        return f"No number of runs would surely tell {matters}: the rung is too coarse or the scatter too large."
    how = "as measured so far" if plan["scatter_origin"] == "measured" else "assumed"
    whose = "" if plan["matters_origin"] == "file" else " (assumed)"
    chance = format_share(plan["power"])
    return (
        f"{counted(plan['runs'], 'run')} of each candidate tell a difference of {matters}{whose} from none with a "
        f"chance of at least {chance}, if single runs scatter by {scatter} ({how}). A candidate is called ahead with "
        f"that chance from about {format_quantity(plan['called_from'], unit, 2)} on."
    )


def _order(order: list[str], names: Mapping[str, str]) -> str:
    """``A B B A, where A is Alder in series and B Alder in parallel``."""
    if not order:
        return ""
    letters = {candidate: chr(ord("A") + place) for place, candidate in enumerate(dict.fromkeys(order))}
    meant = [f"{letter} is {names[candidate]}" for candidate, letter in letters.items()]
    return f"{' '.join(letters[candidate] for candidate in order)}, where {'; '.join(meant)}"


def _candidate(name: str, each: Row, unit: str) -> tuple[str, ...]:
    """Name, start, coarse and fine rung, end, moves and time of one run, stroke."""
    ladder = each["ladder"]
    if not ladder:
        return (name, *[NOTHING] * 7)
    rungs = (format_stated(ladder[key], unit) for key in ("start", "coarse", "fine", "stop"))
    return (
        name,
        *rungs,
        f"{ladder['expected_moves']:.0f}, at most {ladder['most_moves']}",
        _minutes(each),
        _stroke(each),
    )


def _minutes(each: Row) -> str:
    seconds = each["duration"]
    return NOTHING if seconds is None else f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"


def _stroke(each: Row) -> str:
    return format_quantity(each["stroke_needed"], "m")


def _notes(name: str, each: Row, unit: str) -> list[str]:
    """What stands in the way: no prediction, a ladder or a stroke that is too short, a rail that rises too far."""
    if each["why"]:
        return [f"{name}: {each['why']}."]
    return [*_end_notes(name, each, unit), *_stroke_notes(name, each, unit), *_rail_notes(name, each, unit)]


def _end_notes(name: str, each: Row, unit: str) -> list[str]:
    """Where the ladder that the file states, the stroke or the jerk leaves out a part of where the limit may lie."""
    low, high = each["expected_low"], each["expected_high"]
    start, stop, fine = (each["ladder"][key] for key in ("start", "stop", "fine"))
    notes, further, peak = [], each["stroke_beyond"], each["ramp_peak"]
    stroke = f"where one rung more would take a stroke of {format_quantity(further, 'm')}"
    begins, ends = (
        stroke if further is not None and (unit == "m/s^2") is is_start else "as stated" for is_start in (True, False)
    )
    if peak is not None and stop + fine > peak:
        ends = f"as a ramp to this speed with this jerk reaches {format_quantity(peak, 'm/s^2')} at most"
    if low is not None and low < start:
        at, to = format_stated(start, unit), format_quantity(low, unit)
        notes.append(f"{name}: the ladder starts at {at}, {begins}; the limit may lie below it, down to {to}.")
    if high is not None and high > stop:
        at, to = format_stated(stop, unit), format_quantity(high, unit)
        notes.append(f"{name}: the ladder ends at {at}, {ends}; the limit may lie beyond it, up to {to}.")
    return notes


def _rail_notes(name: str, each: Row, unit: str) -> list[str]:
    """From which rung on one stop may lift the supply above what the drive bears."""
    rows = [
        row for row in each["cautions"] if row["kind"] == "supply peak" and None not in (row["value"], row["limit"])
    ]
    notes = []
    for row in rows:
        if row["value"] <= row["limit"]:
            continue
        peak, limit = format_quantity(row["value"], row["unit"]), format_stated(row["limit"], row["unit"])
        rung = each["rail_rung"]
        if unit == "m/s^2":
            stop, advice = f"one stop from this trial’s speed may lift the supply to {peak}", "do not run it"
        elif rung is None:
            stop = f"one stop from any rung, the first one too, may lift the supply, from the top rung to {peak}"
            advice = "do not climb"
        else:
            stop = f"one stop from the top rung may lift the supply to {peak}"
            advice = f"do not climb beyond {format_stated(rung, unit)}"
        notes.append(f"{name}: {stop}, above the drive’s limit of {limit}: {advice} before the rail can take it.")
    return notes


def _stroke_notes(name: str, each: Row, unit: str) -> list[str]:
    if each["stroke_enough"] is False:
        needed, reachable = _stroke(each), format_quantity(each["reachable"], unit)
        way = "down to" if unit == "m/s^2" else "up to"
        return [
            f"{name}: the stroke is too short. This ladder needs {needed}; the stroke given reaches {way} {reachable}."
        ]
    return []
