"""The test-report block: what such a report carries, as far as the file gives it, and gently what it does not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.days import day
from generator.pages.figures import format_share, format_stated

Row = Mapping[str, Any]

_BENCH: Mapping[str, tuple[str, str]] = {
    "operator": ("Operator", ""),
    "place": ("Place", ""),
    "warm_up": ("Warm-up", "s"),
    "humidity": ("Relative humidity", "share"),
    "pressure": ("Air pressure", "Pa"),
    "lost_when": ("Steps count as lost from", "m"),
    "moves_per_rung": ("Moves per rung", ""),
    "method_of_detection": ("How lost steps are found", ""),
    "position": ("Where on the machine", ""),
    "deviations": ("Deviations from the method", ""),
}
_ITEM: Mapping[str, tuple[str, str]] = {
    "obtained": ("how obtained:", ""),
    "condition": ("condition:", ""),
    "units_tested": ("units tested:", ""),
    "hours_run": ("run for", "h"),
}


def view_report(results: Row) -> dict[str, Any] | None:
    """Facts in the order of a report; None where results carry none."""
    report = results.get("report")
    if not report:
        return None
    bench = report.get("bench") or {}
    return {
        "facts": [fact for fact in _facts(results, report, bench) if fact[1]],
        "things": [(row.get("name") or row["candidate"], _item(row)) for row in report.get("items") or ()],
        "instruments": [_instrument(row) for row in report.get("instruments") or ()],
        "missing": [_missing(entry) for entry in report.get("missing") or ()],
        "interests": results.get("interests") or report.get("interests"),
    }


def _facts(results: Row, report: Row, bench: Row) -> list[tuple[str, str]]:
    dates = [bench.get("date_from"), bench.get("date_to")]
    return [
        ("Report by", str(report.get("author") or "")),
        ("Identification", str(results["comparison"])),
        ("Issued", day(report.get("date_of_issue") or "")),
        ("Tested", " to ".join(dict.fromkeys(day(date) for date in dates if date))),
        *((label, _text(bench.get(key), unit)) for key, (label, unit) in _BENCH.items()),
    ]


def _text(value: Any, unit: str) -> str:
    """A fact as text: a quantity where it has a unit."""
    if value is None or value == "":
        return ""
    if unit == "share":
        return format_share(float(value))
    if unit == "h":
        return f"{float(value):g} h"
    return _duration(float(value)) if unit == "s" else format_stated(float(value), unit) if unit else str(value)


def _duration(seconds: float) -> str:
    return (
        f"{seconds / 3600:g} h"
        if seconds >= 3600
        else f"{seconds / 60:g} min"
        if seconds >= 60
        else format_stated(seconds, "s")
    )


def _item(row: Row) -> str:
    parts = [f"{label} {_text(row.get(key), unit)}" for key, (label, unit) in _ITEM.items() if row.get(key) is not None]
    if row.get("price") is not None:
        when = f" on {day(row['price_date'])}" if row.get("price_date") else ""
        parts.append(f"price: {row['price']:.2f} {row.get('currency') or ''}{when}".strip())
    return ", ".join(parts) or "nothing stated"


def _instrument(row: Row) -> tuple[str, str]:
    parts: Sequence[tuple[str, str]] = (
        ("serial", "serial number"), ("checked_on", "checked on"), ("uncertainty", "uncertainty"),
    )  # fmt: skip
    said = [f"{label} {day(row[key])}" for key, label in parts if row.get(key)]
    return str(row.get("what") or row["id"]), ", ".join(said) or "nothing further stated"


def _missing(entry: Any) -> str:
    return str(entry.get("message") or entry.get("path") or "") if isinstance(entry, Mapping) else str(entry)
