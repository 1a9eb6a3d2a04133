"""Measured brackets on a plot of acceleration over speed: what was measured in a trial, and how it is drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from generator.charts.cast import Cast
from generator.charts.evidence import Bracket, of_item, whole_bracket
from generator.charts.labels import Room
from generator.charts.palette import PAGE, Style
from generator.charts.sheet import Frame, Sheet
from generator.phrases import measured_text
from generator.units import format_stated

Point = tuple[float, float]
REACH = 30.0
"""Length of the arrow of an open bracket [px]."""
LANE = 11.0


@dataclass(frozen=True)
class Measured:
    """A trial's result as drawn: at [m/s or m/s²] is the given figure, bracket the measured one."""

    trial: str
    candidate: str
    measures: str
    at: float
    bracket: Bracket
    entry: Mapping[str, Any]

    @property
    def text(self) -> str:
        """The result and what was given: ``32.5 ± 1.2 m/s² at 500 mm/s``."""
        given = format_stated(self.at, "m/s" if self.measures == "acceleration" else "m/s^2")
        return f"{measured_text(self.entry)} at {given}"


def find_measured(results: Mapping[str, Any], trial: Mapping[str, Any], cast: Cast) -> list[Measured]:
    """The measured limits of one trial, as they are drawn, in file order."""
    is_speed = trial.get("measures") == "speed"
    at = trial.get("acceleration") or 0.0 if is_speed else trial.get("speed")
    entries = of_item(results.get("measurements"), trial["id"])
    found = [(candidate, whole_bracket(entries[candidate])) for candidate in cast.ids if candidate in entries]
    return [
        Measured(trial["id"], candidate, trial["measures"], at, bracket, entries[candidate])
        for candidate, bracket in found
        if bracket is not None and at is not None
    ]


def find_lanes(frame: Frame, measured: Sequence[Measured]) -> list[float]:
    """How far aside [px] each bracket stands, so that brackets of one trial do not hide one another."""
    lanes: dict[str, list[list[tuple[float, float]]]] = {}
    places = []
    for found in measured:
        low, high = _reach(frame, found)
        taken = lanes.setdefault(found.trial, [])
        free = next((k for k, lane in enumerate(taken) if all(high < a or b < low for a, b in lane)), len(taken))
        if free == len(taken):
            taken.append([])
        taken[free].append((low, high))
        places.append(free)
    return [LANE * (place - (len(lanes[found.trial]) - 1) / 2) for place, found in zip(places, measured, strict=True)]


def _reach(frame: Frame, found: Measured) -> tuple[float, float]:
    """The pixels that a bracket takes along its axis, marks and arrow included."""
    axis = 1 if found.measures == "acceleration" else 0
    ends = [end for end in (found.bracket.held, found.bracket.lost) if end is not None]
    pixels = [(frame.point(found.at, end) if axis else frame.point(end, found.at))[axis] for end in ends]
    low, high = min(pixels), max(pixels)
    low -= REACH if found.bracket.held is None else 5.0
    return low, high + (REACH if found.bracket.lost is None else 5.0)


def draw_measured(frame: Frame, found: Measured, style: Style, room: Room, aside: float = 0.0) -> None:
    """Draw a trial's bracket, upright at a speed or level at an acceleration, and keep it clear of labels."""
    upright = found.measures == "acceleration"

    def spot(end: float | None) -> Point | None:
        if end is None:
            return None
        x, y = frame.point(found.at, end) if upright else frame.point(end, found.at)
        return (x + aside, y) if upright else (x, y + aside)

    held, lost = spot(found.bracket.held), spot(found.bracket.lost)
    line = draw_bracket(frame, held, lost, style, upright=upright)
    if len(line):
        (left, bottom), (right, top) = line.min(axis=0) - 9, line.max(axis=0) + 9
        room.keep_box(float(left), float(bottom), float(right), float(top))


def draw_bracket(
    frame: Frame, held: Point | None, lost: Point | None, style: Style, *, upright: bool = True
) -> np.ndarray:
    """A bracket between two pixels: hollow mark held, filled mark lost, an arrow where an end is missing.

    Returns the pixels of its line, none where both ends are missing.
    """
    left, bottom, right, top = frame.box
    start, end = held, lost
    if held is None and lost is not None:
        start = (lost[0], max(lost[1] - REACH, bottom)) if upright else (max(lost[0] - REACH, left), lost[1])
    elif held is not None and lost is None:
        end = (held[0], min(held[1] + REACH, top)) if upright else (min(held[0] + REACH, right), held[1])
    if start is None or end is None:
        return np.empty((0, 2))
    line = np.array([start, end])
    frame.sheet.stroke([line], PAGE.light, 6.0, opacity=0.85)
    frame.sheet.stroke([line], style.color, 2.4)
    for spot, here, other, back in ((held, start, end, PAGE.light), (lost, end, start, None)):
        if spot is None:
            draw_arrow(frame.sheet, other, here, style.color)
        else:
            frame.sheet.mark(*spot, style.marker, style.color, 4.2, back=back)
    return line


def draw_arrow(sheet: Sheet, start: tuple[float, float], end: tuple[float, float], color: str, size: float = 6) -> None:
    """An open arrow head at the end of a line."""
    along = np.array(end) - np.array(start)
    length = float(np.hypot(*along)) or 1.0
    along = along / length * size
    across = np.array([-along[1], along[0]]) * 0.7
    tip = np.array(end)
    sheet.stroke([np.vstack([tip - along + across, tip, tip - along - across])], color, 2.0)
