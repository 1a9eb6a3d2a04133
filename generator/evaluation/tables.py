"""The results object's tables as CSV, one row a figure, for readers who go on in a spreadsheet."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any

Row = Mapping[str, Any]
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def write_tables(results: Row) -> dict[str, bytes]:
    """``predictions.csv``, ``measurements.csv``, ``contrasts.csv`` and ``curves.csv``; empty ones are left out."""
    tables = {
        "predictions.csv": [_prediction(row) for row in results["predictions"]],
        "measurements.csv": [_measurement(row) for row in results["measurements"]],
        "contrasts.csv": [_contrast(row) for row in results["contrasts"]],
        "curves.csv": [row for curve in results["curves"] for row in _curve(curve)],
    }
    return {name: _write(rows) for name, rows in tables.items() if rows}


def _write(rows: Sequence[Row]) -> bytes:
    """RFC 4180 text; a text that a spreadsheet would take for a formula gets a leading apostrophe."""
    import pandas

    frame = pandas.DataFrame([{key: _plain(value) for key, value in row.items()} for row in rows])
    text = io.StringIO()
    frame.to_csv(text, index=False, lineterminator="\r\n")
    return text.getvalue().encode()


def _plain(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value


def _prediction(row: Row) -> dict[str, Any]:
    found = {key: row[key] for key in ("trial", "candidate", "quantity", "unit", "bound_by")}
    for line in ("static", "start", "any_timing"):
        found |= {f"{line}_{part}": row[line][part] for part in ("nominal", "low", "median", "high")}
    return found


_MEASURED = (
    "item", "candidate", "quantity", "unit", "kind", "count", "estimate", "standard_uncertainty", "degrees_of_freedom",
    "low", "high", "at_least", "at_most",
)  # fmt: skip


def _measurement(row: Row) -> dict[str, Any]:
    return {key: row.get(key) for key in _MEASURED}


def _contrast(row: Row) -> dict[str, Any]:
    first, second = row["between"]
    keys = ("difference", "low", "high", "matters", "call", "reason")
    return {"item": row["item"], "unit": row["unit"], "first": first, "second": second} | {k: row[k] for k in keys}


def _curve(curve: Row) -> list[dict[str, Any]]:
    direction = " ".join(f"{axis} {share:g}" for axis, share in curve["direction"].items())
    return [
        {
            "candidate": curve["candidate"],
            "direction": direction,
            "speed": speed,
            "torque": curve["torque"][k],
            **{f"{line}_nominal": curve[line]["nominal"][k] for line in ("static", "start", "any_timing")},
            "static_low": curve["static"]["low"][k],
            "static_high": curve["static"]["high"][k],
        }
        for k, speed in enumerate(curve["speed"])
    ]
