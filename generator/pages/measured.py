"""Measurements and contrasts in words and figures, as trial tables, verdict and prose print them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.figures import NOTHING, format_quantity, format_span, format_with_interval

_STOPS = {
    "stroke": "the stroke ended the runs",
    "supply": "the supply ended the runs",
    "heat": "heat ended the runs",
    "operator": "the operator ended the runs",
}


def measured_text(row: Mapping[str, Any] | None) -> str:
    """``37.5 ± 0.9 m/s²``, ``31.0 to 32.0 m/s²`` for one run's bracket, ``at least 1750 mm/s`` for a bound."""
    if row is None:
        return NOTHING
    unit = row["unit"]
    if row.get("at_least") is not None and row.get("estimate") is None:
        return f"at least {format_quantity(row['at_least'], unit)}"
    if row.get("at_most") is not None and row.get("estimate") is None:
        return f"at most {format_quantity(row['at_most'], unit)}"
    if row.get("count") == 1 and row.get("kind") == "bracketed":
        return format_span(row.get("low"), row.get("high"), unit)
    return format_with_interval(row.get("estimate"), row.get("low"), row.get("high"), unit)


def basis_text(row: Mapping[str, Any] | None) -> str:
    """What the range beside a measurement is, and why a bound is only a bound."""
    if row is None:
        return "not measured"
    stop = _STOPS.get(str(row.get("reason") or ""), str(row.get("reason") or ""))
    return "; ".join(part for part in (str(row.get("basis") or ""), stop) if part)


def difference_text(row: Mapping[str, Any]) -> str:
    """First minus second with its interval; shares of votes in per cent of those with a preference."""
    return format_with_interval(row.get("difference"), row.get("low"), row.get("high"), _unit(row))


def _unit(row: Mapping[str, Any]) -> str:
    return "%" if row["quantity"] == "share" else str(row["unit"])


def lead_text(row: Mapping[str, Any]) -> str:
    """What follows ``A ahead``: `` by 29.5 ± 1.6 m/s²``, ``, quieter by 2.1 ± 0.6 dB(A)``; empty without a figure."""
    difference, low, high = (row.get(key) for key in ("difference", "low", "high"))
    if difference is None or not row["call"].endswith(" ahead"):
        return ""
    if difference < 0 and low is not None and high is not None:
        low, high = -high, -low
    way = ", quieter" if row["quantity"] == "level" else ", lower"
    return f"{way if _is_lower(row) else ''} by {format_with_interval(abs(difference), low, high, _unit(row))}"


def _is_lower(row: Mapping[str, Any]) -> bool:
    """Whether the one ahead is ahead by the lower figure, as with sound."""
    first, second = row["between"]
    ahead = row["call"].removesuffix(" ahead")
    return (ahead == first and row["difference"] < 0) or (ahead == second and row["difference"] > 0)
