"""Phrases that charts and pages share: lists, measurements, calls, differences and ripples, in words and figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.units import NOTHING, format_quantity, format_span, format_stated, format_with_interval

Row = Mapping[str, Any]
BAND = "fastest_clean_band"
STATED = ("acceleration", "speed", BAND)
"""Quantities whose bounds are figures that somebody wrote: rungs, and speeds of bands."""


def listed(parts: Sequence[str]) -> str:
    """``a, b and c``."""
    return "".join(parts) if len(parts) < 2 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def sentence_case(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]


def measured_text(row: Row | None, *, bare: bool = False) -> str:
    """``37.5 ± 0.9 m/s²``, ``31 to 32 m/s²`` for one run's bracket, ``at least 1750 mm/s`` for a bound."""
    if row is None:
        return NOTHING
    low, high = row.get("low"), row.get("high")
    write = format_stated if row.get("quantity") in STATED else format_quantity
    for key in ("at_least", "at_most"):
        if row.get(key) is not None and row.get("estimate") is None:
            return f"{key.replace('_', ' ')} {write(row[key], row['unit'], bare=bare)}"
    if row.get("count") == 1 and row.get("kind") == "bracketed":
        return format_span(low, high, row["unit"], stated=True, bare=bare)
    return _figure(row, row.get("estimate"), low, high, bare=bare)


def call_text(row: Row, names: Mapping[str, str]) -> str:
    """A contrast's call, with the name of the candidate that it puts ahead."""
    ahead = row["ahead"]
    return f"{names.get(ahead, ahead)} ahead" if ahead else str(row["call"])


def difference_text(row: Row) -> str:
    """A contrast's first minus second with its interval; shares of votes in per cent of those with a preference."""
    return _figure(row, row.get("difference"), row.get("low"), row.get("high"))


def _figure(row: Row, value: float | None, low: float | None, high: float | None, *, bare: bool = False) -> str:
    """A row's figure with its interval; speeds of bands as somebody wrote them."""
    if row.get("quantity") == BAND:
        return format_stated(value, unit_of(row), bare=bare)
    return format_with_interval(value, low, high, unit_of(row), bare=bare)


def unit_of(row: Row) -> str:
    """Unit of a row's figures; shares of votes stand in per cent."""
    return "%" if row.get("quantity") == "share" else str(row["unit"])


def lead_text(row: Row) -> str:
    """What follows ``A ahead``: `` by 29.5 ± 1.6 m/s²``, ``, quieter by 2.1 ± 0.6 dB(A)``; empty without a figure."""
    difference, low, high = (row.get(key) for key in ("difference", "low", "high"))
    if difference is None or not row["ahead"]:
        return ""
    if difference < 0 and low is not None and high is not None:
        low, high = -high, -low
    way = ", quieter" if row.get("quantity") == "level" else ", lower"
    return f"{way if _is_lower(row) else ''} by {_figure(row, abs(difference), low, high)}"


def _is_lower(row: Row) -> bool:
    """Whether the one ahead is ahead by the lower figure, as with sound."""
    first, second = row["between"]
    return row["difference"] != 0 and row["ahead"] == (first if row["difference"] < 0 else second)


def wavelength_text(ripple: Row, *, bare: bool = False) -> str:
    """A ripple's wavelength with its resolution as half-width."""
    length, step = ripple.get("wavelength"), ripple.get("resolution")
    if length is None or step is None:
        return format_quantity(length, "m", bare=bare)
    return format_with_interval(length, length - step, length + step, "m", bare=bare)
