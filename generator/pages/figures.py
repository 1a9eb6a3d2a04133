"""Figures as pages print them: units.py with a dash for what is not there, and intervals told apart by their shape."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from generator import units

MINUS = "\u2212"
NOTHING = "–"


def number(value: float, digits: int = 3) -> str:
    """A bare figure with that many significant digits; very large and small ones by powers of ten."""
    if value == 0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    if -4 <= exponent <= 6:
        return units.format_quantity(value, "1", digits)
    mantissa = f"{value / 10.0**exponent:.{digits - 1}f}".replace("-", MINUS)
    return f"{mantissa} × 10{str(exponent).translate(_RAISED)}"


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def format_quantity(value: float | None, unit: str, digits: int = 3) -> str:
    """A figure in the unit that people read; nothing → a dash."""
    return NOTHING if value is None else units.format_quantity(value, unit, digits)


def format_stated(value: float | None, unit: str) -> str:
    """A stated figure without zeros that nobody wrote; nothing → a dash."""
    return NOTHING if value is None else units.format_stated(value, unit)


def format_with_interval(value: float | None, low: float | None, high: float | None, unit: str) -> str:
    """``37.5 ± 0.9 m/s²`` where the interval is symmetric, else ``37.5 (36.9 to 39.1) m/s²``."""
    if value is None or low is None or high is None or low == high:
        return format_quantity(value, unit)
    if abs((high + low) / 2 - value) <= 0.01 * (high - low):
        return units.format_with_interval(value, unit, half_width=(high - low) / 2)
    return units.format_with_interval(value, unit, low=low, high=high)


def format_span(low: float | None, high: float | None, unit: str) -> str:
    """``33.1 to 44.1 m/s²``."""
    if low is None or high is None:
        return NOTHING
    return units.format_quantity(low, unit) if low == high else units.format_range(low, high, unit)


def format_spread(spread: Mapping[str, Any], unit: str) -> str:
    """A predicted line: nominal, and the interval of its draws."""
    return format_with_interval(spread.get("nominal"), spread.get("low"), spread.get("high"), unit)


def format_share(share: float | None) -> str:
    """``0.714`` → ``71 %``; halves go up."""
    return NOTHING if share is None else f"{math.floor(100 * share + 0.5)} %"


def format_weight_share(share: float | None) -> str:
    """``0.714`` → ``71.4 %``, ``0.5`` → ``50 %``: a share of the weight, as the page's script counts it anew."""
    return NOTHING if share is None else f"{math.floor(1000 * share + 0.5) / 10:g} %"


def format_tolerance(row: Mapping[str, Any]) -> str:
    """A leaf's tolerance as text: ``± 5 %``, ``± 0.01 N·m``; empty where it is taken as exact."""
    tolerance = row.get("tolerance")
    if not tolerance:
        return ""
    if row.get("distribution") == "one-sided":
        end = row["value"] * (1 + tolerance) if row.get("tolerance_relative", True) else row["value"] + tolerance
        return f"up to {number(end)}"
    if row.get("tolerance_relative", True):
        text = f"± {units.format_stated(tolerance, '%')}"
    else:
        unit = row["unit"]
        text = f"± {format_stated(tolerance, unit)}" if unit != "K" else f"± {tolerance:g} K"
    return text + (" (standard)" if row.get("distribution") == "normal" else "")
