"""Specification and derived figures as tables: what each candidate states, what all share, what follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.figures import NOTHING, format_quantity, format_stated, format_tolerance
from generator.pages.labels import DERIVED, candidate_names, input_label

Row = Mapping[str, Any]


def view_specification(results: Row) -> dict[str, Any]:
    """Own figures per candidate side by side, shared figures once, and the derived ones."""
    names = candidate_names(results)
    by_path: dict[str, dict[str, Row]] = {}
    for row in results.get("inputs") or ():
        by_path.setdefault(row["path"], {})[row["candidate"]] = row
    shared = {path: rows for path, rows in by_path.items() if all(row.get("shared") for row in rows.values())}
    return {
        "names": list(names.values()),
        "groups": _groups([_own(path, rows, names) for path, rows in by_path.items() if path not in shared]),
        "shared": [_shared(path, next(iter(rows.values()))) for path, rows in shared.items()],
        "derived": _derived(results),
        "assumed": sum(
            row.get("tolerance_origin") == "assumed" and bool(row.get("tolerance")) for row in _rows(by_path)
        ),
    }


def _groups(rows: list[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Figures in which the candidates differ first, then those that are equal though each states them."""
    parts = [("In which they differ", [row for row in rows if row["differs"]]),
             ("Equal, though each states it", [row for row in rows if not row["differs"]])]  # fmt: skip
    return [(title, part) for title, part in parts if part]


def _rows(by_path: Mapping[str, Mapping[str, Row]]) -> list[Row]:
    return [row for rows in by_path.values() for row in rows.values()]


def _own(path: str, rows: Mapping[str, Row], names: Mapping[str, str]) -> dict[str, Any]:
    cells = [_cell(rows.get(candidate)) for candidate in names]
    return {"label": input_label(path), "cells": cells, "differs": len({cell["value"] for cell in cells}) > 1}


def _cell(row: Row | None) -> dict[str, str]:
    if row is None:
        return {"value": NOTHING, "tolerance": "", "source": ""}
    return {
        "value": format_stated(row.get("value"), row["unit"]),
        "tolerance": tolerance_text(row),
        "source": source_text(row),
    }


def _shared(path: str, row: Row) -> dict[str, str]:
    return {"label": input_label(path)} | _cell(row)


def tolerance_text(row: Row) -> str:
    """``± 5 %``, marked where it is the project's default and not the author's figure."""
    text = format_tolerance(row)
    return f"{text}, assumed" if row.get("tolerance") and row.get("tolerance_origin") == "assumed" else text


def source_text(row: Row) -> str:
    """Where a figure comes from; empty where it is the author's own statement."""
    if row.get("source"):
        return str(row["source"])
    return "assumed" if row.get("origin") == "assumed" else ""


def _derived_cell(value: object, unit: str) -> str:
    if isinstance(value, int):
        return str(value)
    return format_quantity(value if isinstance(value, float) else None, unit)


def _derived(results: Row) -> list[dict[str, Any]]:
    rows = []
    for key, (label, unit) in DERIVED.items():
        values = [candidate.get(key) for candidate in results.get("candidates") or ()]
        if any(isinstance(value, int | float) for value in values):
            cells = [_derived_cell(value, unit) for value in values]
            rows.append({"label": label, "cells": cells})
    return rows
