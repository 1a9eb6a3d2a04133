"""The stall map: which simulated moves are held, lost and in which phase, or not reachable on the stroke.

Reads results ``stall_maps``: entries {candidate, direction, speed [m/s], acceleration [m/s²], state}, state a row per
acceleration of 0 held, 1 lost at the start, 2 in cruise, 3 in braking, 4 at the stop, 5 not reachable. Entries without
cells give no chart. Lines come from ``curves``, brackets from ``measurements`` in the same direction.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.charts.brackets import Measured, draw_measured, find_measured
from generator.charts.cast import Cast, cast_of
from generator.charts.corridor import series_of
from generator.charts.labels import Room, along_line, text_width
from generator.charts.layout import Key, Layout, draw_field, draw_keys, legend_height, make_chart
from generator.charts.palette import ACCENT, MUTED, NEUTRAL, Style
from generator.charts.scale import linear_scale
from generator.charts.sheet import Frame, Sheet
from generator.charts.wording import direction_key, direction_slug, direction_text, heading
from generator.phrases import listed
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_quantity, format_span

HELD, START, CRUISE, BRAKING, STOP, UNREACHABLE = range(6)
LOST = (START, CRUISE, BRAKING, STOP)
NAMES = {
    HELD: "held",
    START: "lost at the start",
    CRUISE: "lost in cruise",
    BRAKING: "lost in braking",
    STOP: "lost at the stop",
    UNREACHABLE: "stroke too short",
}
_PAINT = {
    START: (ACCENT.light, 0.10, "/"),
    CRUISE: (ACCENT.light, 0.20, "."),
    BRAKING: (ACCENT.light, 0.34, "\\"),
    STOP: (ACCENT.light, 0.16, "x"),
    UNREACHABLE: (MUTED.light, 0.05, "-"),
}
CAPTION = (
    "Every cell is one move simulated at nominal inputs. Plain field: steps held; hatched fields: steps lost, by the "
    "phase in which the loss came. Islands are shown as they are. Over it the candidate's static limit (thick), below "
    "it its start line and its any-timing line (thin), and what was measured. At low speed an acceleration is over "
    "within a few full steps, and at high speed a phase gets nearly a square wave, so that moves may be held above the "
    "static limit. The simulation assumes an ideal current regulator."
)
SPEED, ACCELERATION = "m/s", "m/s^2"
States = NDArray[np.int_]


@dataclass(frozen=True)
class View:
    """One map with the lines and brackets over it."""

    cast: Cast
    candidate: str
    direction: Any
    speed: NDArray[np.float64]
    acceleration: NDArray[np.float64]
    state: States
    curve: Mapping[str, Any] | None
    measured: tuple[Measured, ...]


def draw_stall_maps(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per map: ``stall-<candidate>``, with the direction behind it where maps have several."""
    cast = cast_of(results)
    entries = [entry for entry in results.get("stall_maps") or () if entry.get("state")]
    several = len({direction_key(entry["direction"]) for entry in entries}) > 1
    charts: list[Chart] = []
    first = ""
    for entry in entries:
        view = _view(results, entry, cast)
        slug = f"-{direction_slug(view.direction)}" if several else ""
        title = _title(view)
        caption = f"Fields, lines and bars mean what they do in the map of {first}." if first else CAPTION
        charts.append(
            make_chart(
                f"stall-{view.candidate}{slug}",
                title,
                " ".join(filter(None, (caption, entry.get("note")))),
                _alt(view, title),
                _table(view),
                partial(_draw, view),
            )
        )
        first = first or f"{cast.name(view.candidate)} {direction_text(view.direction)}"
    return tuple(charts)


def _view(results: Mapping[str, Any], entry: Mapping[str, Any], cast: Cast) -> View:
    candidate, key = entry["candidate"], direction_key(entry["direction"])
    curves = [
        curve
        for curve in results.get("curves") or ()
        if curve["candidate"] == candidate and direction_key(curve["direction"]) == key
    ]
    trials = [trial for trial in results.get("trials") or () if direction_key(trial["direction"]) == key]
    measured = [found for trial in trials for found in find_measured(results, trial, cast)]
    return View(
        cast,
        candidate,
        entry["direction"],
        np.asarray(entry["speed"], dtype=float),
        np.asarray(entry["acceleration"], dtype=float),
        np.asarray(entry["state"], dtype=int),
        curves[0] if curves else None,
        tuple(found for found in measured if found.candidate == candidate),
    )


def _counts(view: View) -> dict[int, int]:
    return {state: int(np.sum(view.state == state)) for state in NAMES}


def _first_losses(view: View) -> list[int]:
    """Per speed with a loss, the state of the lowest acceleration that is lost."""
    lost = (view.state >= START) & (view.state <= STOP)
    return [int(view.state[np.argmax(lost[:, column]), column]) for column in np.flatnonzero(lost.any(axis=0))]


def _title(view: View) -> str:
    """In which phase steps are lost first as the acceleration climbs, at most of the speeds."""
    name = f"{view.cast.name(view.candidate)} {direction_text(view.direction)}"
    first = _first_losses(view)
    if not first:
        return f"Simulated, {name}: no move is lost on this map"
    worst = max(LOST, key=first.count)
    count = "all" if first.count(worst) == len(first) else f"{first.count(worst)} of"
    return f"Simulated, {name}: as acceleration climbs, steps are first {NAMES[worst]} at {count} {len(first)} speeds"


def _alt(view: View, title: str) -> str:
    counts = _counts(view)
    shares = [f"{count} {NAMES[state]}" for state, count in counts.items() if count]
    measured = [found.text for found in view.measured]
    over = f" Measured: {'; '.join(measured)}." if measured else ""
    speeds = format_span(view.speed[0], view.speed[-1], SPEED)
    limits = format_span(view.acceleration[0], view.acceleration[-1], ACCELERATION)
    return f"{title}. {view.state.size} moves over speed {speeds} and acceleration {limits}: {listed(shares)}.{over}"


def _table(view: View) -> Table:
    """Per speed the first acceleration lost, the last held below it, and the phase."""
    step = max(1, len(view.speed) // 12)
    rows = []
    for column in range(step - 1, len(view.speed), step):
        states = view.state[:, column]
        lost = np.flatnonzero((states >= START) & (states <= STOP))
        first = int(lost[0]) if len(lost) else len(states)
        held = np.flatnonzero(states[:first] == HELD)
        above = np.flatnonzero(states[first:] == HELD)
        rows.append(
            (
                format_quantity(view.speed[column], SPEED, bare=True),
                format_quantity(view.acceleration[held[-1]], ACCELERATION, bare=True) if len(held) else NOTHING,
                format_quantity(view.acceleration[first], ACCELERATION, bare=True) if len(lost) else NOTHING,
                NAMES[int(states[first])] if len(lost) else NOTHING,
                format_quantity(view.acceleration[first + above[-1]], ACCELERATION, bare=True)
                if len(above)
                else NOTHING,
            )
        )
    heads = [heading(name, ACCELERATION) for name in ("last held", "first lost", "held again up to")]
    columns = (heading("speed", SPEED), heads[0], heads[1], "phase", heads[2])
    return Table(f"Simulated moves of {view.cast.name(view.candidate)}", columns, tuple(rows))


def merge_cells(mask: NDArray[np.bool_]) -> list[tuple[int, int, int, int]]:
    """Few rectangles (row, column, row past the end, column past the end) that cover the cells of a mask once."""
    done: list[tuple[int, int, int, int]] = []
    growing: dict[tuple[int, int], int] = {}
    for row in range(mask.shape[0] + 1):
        runs = _runs(mask[row]) if row < mask.shape[0] else []
        for run in [run for run in growing if run not in runs]:
            done.append((growing.pop(run), run[0], row, run[1]))
        for run in runs:
            growing.setdefault(run, row)
    return done


def _runs(row: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return [(int(start), int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def find_borders(mask: NDArray[np.bool_]) -> list[tuple[int, int, int, int]]:
    """Lines (row, column, row, column) between a mask's cells and the others, joined where they go on."""
    across = [
        (row + 1, start, row + 1, end) for row, line in enumerate(mask[1:] != mask[:-1]) for start, end in _runs(line)
    ]
    up = [
        (start, column + 1, end, column + 1)
        for column, line in enumerate((mask[:, 1:] != mask[:, :-1]).T)
        for start, end in _runs(line)
    ]
    return across + up


def _edges(centres: NDArray[np.float64]) -> NDArray[np.float64]:
    """Edges of cells around their centres."""
    if len(centres) == 1:
        return np.array([0.0, 2 * centres[0]])
    middle = (centres[1:] + centres[:-1]) / 2
    return np.concatenate(
        [[max(0.0, 1.5 * centres[0] - 0.5 * centres[1])], middle, [1.5 * centres[-1] - 0.5 * centres[-2]]]
    )


def _draw(view: View, layout: Layout) -> Sheet:
    style = view.cast.style(view.candidate)
    sheet = Sheet(layout.width, layout.height + 20)
    present = [state for state in NAMES if np.any(view.state == state)]
    keys = layout.with_columns(3) if layout.is_wide else layout
    frame = _frame(view, layout, sheet, legend_height(keys, [NAMES[state] for state in present]))
    _draw_cells(view, frame, style)
    room = Room((frame.box[0] + 3, frame.box[1] + 3, frame.box[2] - 3, frame.box[3] - 2))
    frame.draw_x_axis(heading("speed", SPEED))
    _draw_lines(view, frame, style, room, names=layout.is_wide)
    draw_keys(sheet, keys, [_key(sheet, state, style) for state in present])
    return sheet


def _key(sheet: Sheet, state: int, style: Style) -> Key:
    paint = _PAINT.get(state, (style.color, 0.10, ""))
    return NAMES[state], lambda x, y: draw_field(sheet, x, y, *paint)


def _frame(view: View, layout: Layout, sheet: Sheet, keys: float) -> Frame:
    x, y = _edges(view.speed), _edges(view.acceleration)
    box = layout.box(42, sheet.height - 26 - keys)
    wide = layout.is_wide
    frame = Frame(
        sheet,
        box,
        linear_scale(0.0, x[-1], 8 if wide else 5, exact=True, unit=SPEED),
        linear_scale(0.0, y[-1], 6 if wide else 5, exact=True),
    )
    frame.draw_y_axis(heading("acceleration", ACCELERATION))
    return frame


def _draw_cells(view: View, frame: Frame, style: Style) -> None:
    x, y = _edges(view.speed), _edges(view.acceleration)
    for state in NAMES:
        color, opacity, pattern = _PAINT.get(state, (style.color, 0.10, ""))
        shapes = [
            frame.points(x[[left, right, right, left]], y[[low, low, high, high]])
            for low, left, high, right in merge_cells(view.state == state)
        ]
        frame.sheet.fill(shapes, color, opacity, clip=frame.box)
        frame.sheet.hatch(shapes, color, pattern, 0.55, clip=frame.box)
    borders = find_borders(view.state == HELD)
    lines = [frame.points(x[[left, right]], y[[low, high]]) for low, left, high, right in borders]
    frame.sheet.stroke(lines, NEUTRAL.light, 1.4, clip=frame.box)


def _draw_lines(view: View, frame: Frame, style: Style, room: Room, *, names: bool) -> None:
    for found in view.measured:
        draw_measured(frame, found, style, room)
    if view.curve is None:
        return
    drawn = []
    for line, width in (("any_timing", 1.2), ("start", 1.2), ("static", 2.4)):
        points = frame.line(view.curve["speed"], series_of(view.curve, line), style.color, width, style.dash)
        drawn.append((line, points))
        room.keep_line(points)
    for line, points in drawn if names else ():
        inside = points[(points[:, 1] < frame.box[3]) & (points[:, 0] < frame.box[2])]
        others = [other for name, other in drawn if name != line]
        text = {"static": "static limit", "start": "start line", "any_timing": "any-timing line"}[line]
        shares = (0.06, 0.14, 0.24, 0.01, 0.36, 0.5, 0.64, 0.8)
        spot = room.place(text, along_line(inside, shares, text_width(text), others=others))
        if spot:
            frame.sheet.text(spot[0], spot[1], text, anchor=spot[2], color=style.color, halo=True)
