"""The trials of a comparison as its page shows them: a lane per candidate, the calls, the runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.figures import format_quantity, format_span, format_spread, format_stated, number
from generator.pages.labels import call_words, candidate_names, counted, item_titles, listed
from generator.pages.measured import basis_text
from generator.pages.strips import find_strip, find_top
from generator.phrases import difference_text, lead_text, measured_text

Row = Mapping[str, Any]
HALF_SWING = 0.5
"""Ramps shorter than this end before the rotor's lag has reached its peak [swings]."""
FAR = 1.25
"""Ratio of a simulated and a measured limit from which the page says that they differ [1]."""


def view_trials(results: Row) -> list[dict[str, Any]]:
    """One view per trial, in file order."""
    return [_trial(results, trial) for trial in results.get("trials") or ()]


def _trial(results: Row, trial: Row) -> dict[str, Any]:
    name = trial["id"]
    predictions = {row["candidate"]: row for row in results.get("predictions") or () if row["trial"] == name}
    measured = {row["candidate"]: row for row in results.get("measurements") or () if row["item"] == name}
    agreed = {row["candidate"]: row for row in results.get("agreement") or () if row["trial"] == name}
    unit = trial["unit"]
    top = find_top(predictions.values(), measured.values())
    names = candidate_names(results)
    lanes = [
        _lane(index, candidate, names[candidate], predictions, measured, agreed, unit, top)
        for index, candidate in enumerate(names)
    ]
    return {
        "id": name,
        "title": item_titles(results)[name],
        "conditions": conditions(trial),
        "note": trial.get("note"),
        "measured": bool(measured),
        "top": format_stated(top, unit),
        "lanes": lanes,
        "basis": _shared_basis(lanes),
        "simulated": "; ".join(f"{lane['name']} {lane['simulated']}" for lane in lanes if lane["simulated"]),
        "apart": _apart(names, predictions, measured),
        "short": _short_ramps(names, predictions),
        "line_rows": [_line_row(names[c], predictions[c], unit) for c in names if c in predictions],
        "calls": [view_call(row, names) for row in results.get("contrasts") or () if row["item"] == name],
        "runs": [_runs(names[c], measured.get(c), unit) for c in names if (measured.get(c) or {}).get("runs")],
        "drift": _drift(results, name, names),
    }


def _shared_basis(lanes: Sequence[Row]) -> str:
    """What the measured ranges are, where it is the same for all candidates."""
    found = {lane["basis"] for lane in lanes}
    return found.pop() if len(found) == 1 and "not measured" not in found else ""


def conditions(trial: Row) -> str:
    """Stroke, ladder and hold time of a trial in one line."""
    unit = trial["unit"]
    parts = []
    if trial.get("stroke"):
        parts.append(f"stroke {format_stated(trial['stroke'], 'm')}")
    ladder = trial.get("ladder") or {}
    if ladder.get("start") is not None:
        rungs = f"ladder from {format_stated(ladder['start'], unit)} in rungs of {format_stated(ladder['rung'], unit)}"
        parts.append(rungs + (f" to {format_stated(ladder['stop'], unit)}" if ladder.get("stop") else ""))
    if trial.get("hold_time"):
        parts.append(f"{format_stated(trial['hold_time'], 's')} at top speed")
    return ", ".join(parts)


def _lane(
    index: int, candidate: str, name: str, predictions: Row, measured: Row, agreed: Row, unit: str, top: float
) -> dict[str, Any]:
    prediction, row, agreement = predictions.get(candidate), measured.get(candidate), agreed.get(candidate) or {}
    lines = prediction or {}
    ratio = None if lines.get("bound_by") == "stroke" else agreement.get("ratio")
    timing, static = lines.get("any_timing") or {}, lines.get("static") or {}
    return {
        "index": index,
        "id": candidate,
        "name": name,
        "measured": measured_text(row),
        "basis": basis_text(row),
        "predicted": format_span(timing.get("nominal"), static.get("nominal"), unit),
        "bound_by": lines.get("bound_by"),
        "simulated": _simulated(lines.get("simulated") or {}, unit),
        "ratio": "" if ratio is None else number(ratio, 2),
        "place": agreement.get("place") or "",
        "strip": find_strip(prediction, row, top),
        "strip_words": _strip_words(name, prediction, row, unit),
    }


def _strip_words(name: str, prediction: Row | None, row: Row | None, unit: str) -> str:
    """What a strip shows, for those who do not see it."""
    predicted = ""
    if prediction:
        span = format_span(prediction["any_timing"].get("nominal"), prediction["static"].get("nominal"), unit)
        predicted = f", predicted {span}"
    return f"{name}: {'measured ' + measured_text(row) if row else 'not measured'}{predicted}"


def _line_row(name: str, prediction: Row, unit: str) -> tuple[str, ...]:
    return (name, *(format_spread(prediction.get(line) or {}, unit) for line in ("static", "start", "any_timing")))


def _simulated(found: Row, unit: str) -> str:
    """The ladder climbed in simulation, in words; empty where it was not."""
    if found.get("first_lost") is not None:
        phase = f" {_PHASES.get(found['phase'], found['phase'])}" if found.get("phase") else ""
        return f"first lost at {format_stated(found['first_lost'], unit)}{phase}"
    if found.get("last_held") is not None:
        return f"held up to {format_stated(found['last_held'], unit)}"
    return ""


def _short_ramps(names: Mapping[str, str], predictions: Row) -> str:
    """Whose ramp at the static limit is over before the rotor's lag has peaked; empty where nobody's is."""
    swings = {names[c]: (predictions[c] or {}).get("ramp_swings") for c in names if c in predictions}
    short = [f"{name} {number(found, 2)}" for name, found in swings.items() if found is not None and found < HALF_SWING]
    if not short:
        return ""
    ramp = f"A ramp at the static limit lasts less than half a swing of the rotor ({', '.join(short)} swings)"
    return f"{ramp}: it is over before the lag peaks, so that such moves may be held above these lines."


def _apart(names: Mapping[str, str], predictions: Row, measured: Row) -> str:
    """Whose simulated ladder ended far from what was measured; empty where nobody's did."""
    found: dict[str, list[str]] = {"above": [], "below": []}
    for candidate in [candidate for candidate in names if candidate in predictions and candidate in measured]:
        climb, limit = predictions[candidate].get("simulated") or {}, measured[candidate]
        lost, held = climb.get("first_lost"), climb.get("last_held")
        least, most = (limit["estimate"] or limit.get(bound) for bound in ("at_least", "at_most"))
        if most and (lost or held or 0.0) > FAR * most:
            found["above"].append(names[candidate])
        elif least and lost and FAR * lost < least:
            found["below"].append(names[candidate])
    parts = [f"more than a quarter {way} the measured limit of {listed(who)}" for way, who in found.items() if who]
    return f"That is {' and '.join(parts)}." if parts else ""


_PHASES = {"start": "at the start", "cruise": "in cruise", "braking": "while braking", "stop": "at the stop"}


def view_call(row: Row, names: Mapping[str, str]) -> dict[str, Any]:
    """A contrast as the page states it."""
    lead = lead_text(row)
    first, second = (names.get(candidate, candidate) for candidate in row["between"])
    difference = "" if row.get("difference") is None else difference_text(row)
    return {
        "item": row["item"],
        "words": call_words(row, names),
        "decided": bool(row["ahead"]) or row["call"].startswith("no difference"),
        "slot": _slot(row, names),
        "lead": lead,
        "pair": f"{first} against {second}",
        "difference": difference if not lead else "",
        "matters": format_quantity(row.get("matters"), row["unit"], 2) if row.get("matters") else "",
        "reason": row.get("reason") or "",
        "more": _more_runs(row.get("runs_to_decide"), bool(row.get("drift_allowed") or row.get("drift_removed"))),
        "drift": format_quantity(row["drift_allowed"], row["unit"], 2) if row.get("drift_allowed") else "",
    }


def _slot(row: Row, names: Mapping[str, str]) -> int | None:
    """Place in the file of the candidate ahead; None where nobody is."""
    return list(names).index(row["ahead"]) if row["ahead"] in names else None


def _more_runs(count: int | None, drift: bool) -> str:
    """How many runs would decide, and that they must be interleaved where a drift widens the interval now."""
    if not count:
        return ""
    how = ", interleaved and with their order noted," if drift else ""
    return f"{count} runs of each{how} would be expected to decide it"


def _runs(name: str, row: Row | None, unit: str) -> dict[str, Any]:
    """The runs or attempts of one candidate as a table."""
    runs: Sequence[Row] = (row or {}).get("runs") or ()
    if runs and "at" in runs[0]:
        head = ("Tried at", "Held", "Lost")
        rows = [(format_stated(run["at"], unit), str(run["held"]), str(run["lost"])) for run in runs]
        return {"name": name, "count": counted(len(runs), "rung"), "head": head, "rows": rows}
    noted = [key for key in ("stopped", "order", "time", "note") if any(run.get(key) for run in runs)]
    heads = ("Last rung held", "First rung lost", *(_HEADS[key] for key in noted))
    return {
        "name": name,
        "count": counted(len(runs), "run"),
        "head": heads,
        "rows": [(*_ends(run, unit), *(str(run.get(key) or "") for key in noted)) for run in runs],
    }


_HEADS = {"stopped": "Ended by", "order": "Order", "time": "Time", "note": "Note"}


def _ends(run: Row, unit: str) -> tuple[str, str]:
    """What a run held and lost, in words where it held nothing or never lost."""
    held, lost = run.get("held"), run.get("lost")
    return (
        "none" if held is None else format_stated(held, unit),
        "never" if lost is None else format_stated(lost, unit),
    )


NO_ORDER = "attempts carry no order, so no room is made for a drift"


def _drift(results: Row, item: str, names: Mapping[str, str]) -> str:
    """What the order of the runs shows, all candidates of a trial in one line."""
    found: dict[str, list[str]] = {}
    for row in results.get("drift") or ():
        statement = row.get("statement") or (row.get("drift") or {}).get("statement")
        if (row.get("item") or row.get("trial")) == item and statement:
            found.setdefault(statement, []).append(names.get(row["candidate"], row["candidate"]))
    for row in results.get("measurements") or ():
        if row["item"] == item and row["kind"] == "attempts":
            found.setdefault(NO_ORDER, []).append(names.get(row["candidate"], row["candidate"]))
    return "; ".join(f"{listed(who)}: {statement}" for statement, who in found.items())
