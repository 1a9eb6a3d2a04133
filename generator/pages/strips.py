"""Small range charts of the trial tables: where each bar begins and ends, on one scale per trial."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

WIDTH = 160.0
"""Width of the view box that a template draws into."""
_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


@dataclass(frozen=True)
class Bar:
    """A range: where it begins and how wide it is, in the view box."""

    x: float
    width: float


@dataclass(frozen=True)
class Strip:
    """One candidate's lane: predicted band with its uncertainty, start line, measured range or bound."""

    band: Bar | None
    pale: Bar | None
    start: float | None
    measured: Bar | None
    estimate: float | None
    bracket: bool
    at_least: float | None
    at_most: float | None


def find_top(predictions: Iterable[Mapping[str, Any]], measurements: Iterable[Mapping[str, Any]]) -> float:
    """The round figure at the right end of a trial's scale, in the unit of the trial."""
    figures: list[float | None] = [prediction["static"].get("high") for prediction in predictions]
    for row in measurements:
        figures += [row.get(key) for key in ("high", "estimate", "at_least", "at_most")]
    largest = max((figure for figure in figures if figure), default=1.0)
    power = 10.0 ** math.floor(math.log10(largest))
    return next(step * power for step in (*_STEPS, 12.0) if step * power >= largest * 1.02)


def find_strip(prediction: Mapping[str, Any] | None, measurement: Mapping[str, Any] | None, top: float) -> Strip:
    """Place one candidate's prediction and measurement on a scale from zero to ``top``."""
    static, start, timing = ((prediction or {}).get(line) or {} for line in ("static", "start", "any_timing"))
    row = measurement or {}
    return Strip(
        band=_bar(timing.get("nominal"), static.get("nominal"), top),
        pale=_bar(timing.get("low"), static.get("high"), top),
        start=_place(start.get("nominal"), top),
        measured=_bar(row.get("low"), row.get("high"), top),
        estimate=_place(row.get("estimate"), top),
        bracket=row.get("count") == 1 and row.get("kind") == "bracketed",
        at_least=_place(row.get("at_least"), top) if row.get("kind") == "lower bound" else None,
        at_most=_place(row.get("at_most"), top) if row.get("kind") == "upper bound" else None,
    )


def _place(value: float | None, top: float) -> float | None:
    return None if value is None else round(min(max(value / top, 0.0), 1.0) * WIDTH, 1)


def _bar(low: float | None, high: float | None, top: float) -> Bar | None:
    left, right = _place(low, top), _place(high, top)
    return None if left is None or right is None else Bar(left, round(max(right - left, 1.0), 1))
