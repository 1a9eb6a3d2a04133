"""Figures as pages print them: those of units.py, and what only pages print."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from generator.units import NOTHING, format_stated, format_with_interval
from generator.units import format_number as number
from generator.units import format_quantity as format_quantity
from generator.units import format_share as format_share
from generator.units import format_span as format_span

MINUS = "\u2212"


def format_spread(spread: Mapping[str, Any], unit: str) -> str:
    """A predicted line: nominal, and the interval of its draws."""
    return format_with_interval(spread.get("nominal"), spread.get("low"), spread.get("high"), unit)


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
        text = f"± {format_stated(tolerance, '%')}"
    else:
        unit = row["unit"]
        text = f"± {format_stated(tolerance, unit)}" if unit != "K" else f"± {tolerance:g} K"
    return text + (" (standard)" if row.get("distribution") == "normal" else "")
