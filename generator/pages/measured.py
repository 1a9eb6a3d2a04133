"""What stands behind a measurement, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_STOPS = {
    "stroke": "the stroke ended the runs",
    "supply": "the supply ended the runs",
    "heat": "heat ended the runs",
    "operator": "the operator ended the runs",
}


def basis_text(row: Mapping[str, Any] | None) -> str:
    """What the range beside a measurement is, and why a bound is only a bound."""
    if row is None:
        return "not measured"
    stop = _STOPS.get(str(row.get("reason") or ""), str(row.get("reason") or ""))
    return "; ".join(part for part in (str(row.get("basis") or ""), stop) if part)
