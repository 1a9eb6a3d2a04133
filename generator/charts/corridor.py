"""The corridor: predicted acceleration limits over speed in one direction, with the measured brackets upon them.

Reads results ``curves``, ``trials`` (id, measures, direction, speed, acceleration), ``measurements``, ``agreement``.
A curve may hold ``square_wave_static``: the static limit [m/s²] with a drive that makes a square wave (k_v = 4/π).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from generator.charts.bands import figures
from generator.charts.brackets import Measured, draw_measured, find_lanes, find_measured
from generator.charts.cast import Cast, cast_of
from generator.charts.evidence import figures_of
from generator.charts.labels import SMALLEST, Room, along_line, text_width
from generator.charts.layout import Layout, draw_keys, draw_legend, legend_height, make_chart
from generator.charts.palette import Style
from generator.charts.scale import find_range, linear_scale
from generator.charts.sheet import INK, Frame, Sheet
from generator.charts.wording import count_word, counted, direction_key, direction_slug, direction_text, heading
from generator.phrases import listed, measured_text, sentence_case
from generator.records.presentation import BOUNDS, IN_CORRIDOR, TOO_WIDE, Chart, Table
from generator.units import NOTHING, format_quantity, format_span, format_stated

LINES = (("static", "static limit"), ("start", "start line"), ("any_timing", "any-timing line"))
WIDTHS = {"static": 2.2, "start": 1.0, "any_timing": 0.7}
DOTS = (1.5, 3.0)
OUTSIDE = {"above static limit": "above the static limit", "below any-timing limit": "below the any-timing line"}
SPEED, ACCELERATION = "m/s", "m/s^2"
CAPTION = (
    "Each band is one candidate's predicted corridor, from the any-timing line at its lower edge to the static limit, "
    "the thick line; the thin line inside is the start line, and the paler field adds the uncertainty of the inputs. "
    "The lines hold up to the corner speed, where the motor's torque starts to fall; beyond it they are a guide. "
)
DOTTED = "The thin dotted line is the static limit with a drive that makes a square wave, k_v = 4/π. "
MEASURED = (
    "Bars are measured, all runs together: the hollow mark is the lowest rung held, the filled mark the highest rung "
    "lost; an arrow says that the limit lies beyond. Bars that would hide one another stand side by side."
)


@dataclass(frozen=True)
class View:
    """One direction's curves and measurements."""

    cast: Cast
    direction: Any
    curves: tuple[Mapping[str, Any], ...]
    measured: tuple[Measured, ...]
    places: tuple[str, ...]

    @property
    def is_dotted(self) -> bool:
        """Whether a square wave would raise any static limit, so that a dotted line is drawn."""
        return any(np.isfinite(square_wave_of(curve)).any() for curve in self.curves)


def directions_of(results: Mapping[str, Any]) -> list[Any]:
    """Directions that have curves; those of acceleration trials come first."""
    trials = results.get("trials") or ()
    first = [direction_key(trial["direction"]) for trial in trials if trial.get("measures") == "acceleration"]
    seen: dict[Any, Any] = {}
    for curve in results.get("curves") or ():
        seen.setdefault(direction_key(curve["direction"]), curve["direction"])
    return [seen[key] for key in sorted(seen, key=lambda key: first.index(key) if key in first else len(first))]


def draw_corridors(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per direction: ``corridor`` for the first, ``corridor-<direction>`` for the others."""
    charts: list[Chart] = []
    views = [_view(results, direction) for direction in directions_of(results)]
    for view in views:
        identity = f"corridor-{direction_slug(view.direction)}" if charts else "corridor"
        title = _title(view)
        drawing = partial(_draw, view)
        charts.append(
            make_chart(identity, title, _caption(view, views[: len(charts)]), _alt(view, title), _table(view), drawing)
        )
    return tuple(charts)


def _caption(view: View, before: Sequence[View]) -> str:
    """What the marks mean, told once: whole at the first chart, and at a later one only what is new there."""
    bands = CAPTION
    if before:
        bands = f"Bands, lines and bars mean what they do in the chart {direction_text(before[0].direction)}. "
    dotted = view.is_dotted and not any(other.is_dotted for other in before)
    measured = view.measured and not any(other.measured for other in before)
    return bands + (DOTTED if dotted else "") + (MEASURED if measured else "")


def _view(results: Mapping[str, Any], direction: Any) -> View:
    key = direction_key(direction)
    cast = cast_of(results)
    curves = [curve for curve in results["curves"] if direction_key(curve["direction"]) == key]
    trials = [trial for trial in results.get("trials") or () if direction_key(trial["direction"]) == key]
    measured = tuple(found for trial in trials for found in find_measured(results, trial, cast))
    drawn = {(found.trial, found.candidate) for found in measured}
    kinds = {(row["item"], row["candidate"]): row["kind"] for row in results.get("measurements") or ()}
    places = tuple(
        _BOUND.get(kinds.get((entry["trial"], entry["candidate"]), ""), entry.get("place") or "")
        for entry in results.get("agreement") or ()
        if (entry["trial"], entry["candidate"]) in drawn
    )
    curves.sort(key=lambda curve: cast.place(curve["candidate"]))
    return View(cast, direction, tuple(curves), measured, places)


_BOUND = dict(zip(("lower bound", "upper bound"), BOUNDS, strict=True))
"""A limit that was bounded counts as that, wherever its bound lies."""


def _title(view: View) -> str:
    """The finding: how the measurements lie to the corridor, or what is predicted where nothing was measured."""
    where = direction_text(view.direction)
    judged = [place for place in view.places if place not in (*BOUNDS, TOO_WIDE)]
    if not judged:
        return _predicted_title(view, where)
    subject = _subject(sum(place in IN_CORRIDOR for place in judged), len(judged), where)
    rest = [f"{count_word(judged.count(place))} {text}" for place, text in OUTSIDE.items() if place in judged]
    return "; ".join([f"{subject} in the predicted corridor", *rest, *_bounds(view)])


def _subject(inside: int, total: int, where: str) -> str:
    """``Eight of eleven limits found along x lie``."""
    limits = f"limits found {where}"
    if total == 1:
        return f"The limit found {where} {'lies' if inside else 'does not lie'}"
    if not inside:
        return f"{'Neither' if total == 2 else 'None'} of the {count_word(total)} {limits} lies"
    if inside == total:
        return f"{'Both' if total == 2 else f'All {count_word(total)}'} {limits} lie"
    return f"{sentence_case(count_word(inside))} of {count_word(total)} {limits} {'lies' if inside == 1 else 'lie'}"


def _bounds(view: View) -> list[str]:
    """``one more is only a lower bound``, where limits were bounded and not found, or cannot be placed."""
    parts = []
    for place in BOUNDS:
        count = view.places.count(place)
        several = re.sub(r" an? ", " ", place) + "s"
        parts += [f"{count_word(count)} more {f'is {place}' if count == 1 else f'are {several}'}"] if count else []
    wide = view.places.count(TOO_WIDE)
    parts += [f"{count_word(wide)} more {'is' if wide == 1 else 'are'} {TOO_WIDE}"] if wide else []
    return [listed(parts)] if parts else []


def _predicted_title(view: View, where: str) -> str:
    """Who is predicted ahead at the lowest and at the highest speed that all curves share."""
    lead = [_leader(view, end) for end in (0, -1)]
    if len(view.curves) < 2 or None in lead:
        return f"Predicted acceleration limits {where}"
    low, high = (view.cast.name(str(name)) for name in lead)
    if low == high:
        return f"Predicted: {low} has the higher static limit at both ends of the speed range, {where}"
    return f"Predicted: {low} has the higher static limit at low speed, {high} at high speed, {where}"


def _leader(view: View, end: int) -> str | None:
    """The candidate that is alone ahead by more than 1 % at one end of the shared speeds."""
    shared = (max(curve["speed"][0] for curve in view.curves), min(curve["speed"][-1] for curve in view.curves))
    found = sorted((_at(curve, "static", "nominal", shared[end]) or 0.0, curve["candidate"]) for curve in view.curves)
    if len(found) > 1 and found[-1][0] <= 1.01 * found[-2][0]:
        return None
    return found[-1][1]


def series_of(curve: Mapping[str, Any], line: str, kind: str = "nominal") -> np.ndarray:
    """One line of a curve as floats; NaN where it is missing."""
    values = (curve.get(line) or {}).get(kind)
    if not values:
        return np.full(len(curve["speed"]), np.nan)
    return figures(values)


def square_wave_of(curve: Mapping[str, Any]) -> np.ndarray:
    """The static limit with a square wave where it lies above that with a sine; NaN elsewhere."""
    values = curve.get("square_wave_static")
    if not values:
        return np.full(len(curve["speed"]), np.nan)
    raised = figures(values)
    return np.where(raised > 1.002 * series_of(curve, "static"), raised, np.nan)


def _at(curve: Mapping[str, Any], line: str, kind: str, speed: float) -> float | None:
    return _value(curve, series_of(curve, line, kind), speed)


def _square_wave_at(curve: Mapping[str, Any], speed: float) -> float | None:
    """The static limit with a square wave, also where it is no higher than that with a sine and not drawn."""
    values = curve.get("square_wave_static")
    return _value(curve, figures(values), speed) if values else None


def _value(curve: Mapping[str, Any], values: np.ndarray, speed: float) -> float | None:
    """One of a curve's lines at a speed; None where it has no figure."""
    speeds = np.asarray(curve["speed"], dtype=float)
    known = np.isfinite(values)
    if not known.any() or not speeds[0] <= speed <= speeds[-1]:
        return None
    return float(np.interp(speed, speeds[known], values[known]))


def _draw(view: View, layout: Layout) -> Sheet:
    """The chart with names at its lines; what finds no room there, and all of it where it is narrow, in a legend."""
    names = [view.cast.name(curve["candidate"]) for curve in view.curves]
    kinds = [name for _, name in LINES] + ["square wave"] * view.is_dotted
    for legend, keys in ((False, False), (True, False), (True, True)) if layout.is_wide else ((True, True),):
        heights = legend_height(layout, names if legend else ()), legend_height(layout, kinds if keys else ())
        sheet = Sheet(layout.width, round(layout.height + heights[1]))
        frame, room = _frame(view, layout, sheet, sum(heights))
        _draw_evidence(view, frame, room)
        if legend:
            draw_legend(sheet, layout, view.cast, [curve["candidate"] for curve in view.curves])
        elif not _place_names(view, frame, room):
            continue
        if keys:
            draw_keys(sheet, layout, [(kind, partial(_draw_key, sheet, kind)) for kind in kinds], heights[0])
        elif not _place_line_names(view, frame, room, LINES if legend else LINES[1:]):
            continue
        break
    return sheet


def _draw_key(sheet: Sheet, kind: str, x: float, y: float) -> None:
    """A line as it lies in its corridor: at the upper edge, within, or at the lower edge; a dotted one alone."""
    if kind == "square wave":
        sheet.stroke([np.array([[x, y + 4], [x + 26, y + 4]])], INK, 1.0, DOTS)
        return
    line = next(line for line, name in LINES if name == kind)
    up = {"static": 9.0, "start": 4.0, "any_timing": -1.0}[line]
    sheet.fill([np.array([[x, y - 1], [x + 26, y - 1], [x + 26, y + 9], [x, y + 9]])], INK, 0.13)
    sheet.stroke([np.array([[x, y + up], [x + 26, y + up]])], INK, WIDTHS[line])


def _draw_evidence(view: View, frame: Frame, room: Room) -> None:
    for curve in view.curves:
        _draw_bands(frame, curve, view.cast.style(curve["candidate"]))
    for curve in view.curves:
        for line in _draw_lines(frame, curve, view.cast.style(curve["candidate"])):
            room.keep_line(line)
    for found, aside in zip(view.measured, find_lanes(frame, view.measured), strict=True):
        draw_measured(frame, found, view.cast.style(found.candidate), room, aside)


def _frame(view: View, layout: Layout, sheet: Sheet, keys: float) -> tuple[Frame, Room]:
    box = layout.box(42, sheet.height - 26 - keys)
    speeds = find_range(*(curve["speed"] for curve in view.curves), *_along(view, "speed")) or (0.0, 1.0)
    limits = [series_of(curve, "static", kind).tolist() for curve in view.curves for kind in ("nominal", "high")]
    highest = (find_range(*limits, *_along(view, "acceleration")) or (0.0, 1.0))[1]
    wide = layout.is_wide
    x = linear_scale(0.0, speeds[1], 8 if wide else 5, exact=True, unit=SPEED)
    frame = Frame(sheet, box, x, linear_scale(0.0, max(highest, 1e-6) * 1.02, 6 if wide else 5))
    frame.draw_axes(heading("speed", SPEED), heading("acceleration", ACCELERATION))
    return frame, Room((box[0] + 3, box[1] + 3, box[2] - 3, box[3] - 1))


def _along(view: View, measures: str) -> list[list[float]]:
    """Figures of the measurements along one axis."""
    return [figures_of(found.bracket) if found.measures == measures else [found.at] for found in view.measured]


def _draw_bands(frame: Frame, curve: Mapping[str, Any], style: Style) -> None:
    speed = curve["speed"]
    outer = series_of(curve, "any_timing", "low"), series_of(curve, "static", "high")
    frame.band(speed, *outer, style.color, 0.08)
    frame.band(speed, series_of(curve, "any_timing"), series_of(curve, "static"), style.color, 0.13, style.hatch)


def _draw_lines(frame: Frame, curve: Mapping[str, Any], style: Style) -> list[np.ndarray]:
    """Draw the lines of a curve; returns their pixels."""
    speed = curve["speed"]
    lines = [
        frame.line(speed, series_of(curve, "any_timing"), style.color, WIDTHS["any_timing"], opacity=0.7),
        frame.line(speed, series_of(curve, "start"), style.color, WIDTHS["start"], style.dash, opacity=0.9),
    ]
    lines.append(frame.line(speed, square_wave_of(curve), style.color, 1.0, DOTS))
    return [*lines, frame.line(speed, series_of(curve, "static"), style.color, WIDTHS["static"], style.dash)]


def _place_names(view: View, frame: Frame, room: Room) -> bool:
    """Write each candidate's name at its static limit; False, and nothing written, if a name has no room."""
    shares = [0.93, 0.86, 0.78, 0.7, 0.62, 0.54, 0.46, 0.38, 0.3, 0.22, 0.14, 0.07]
    placed, dotted = [], _dotted(view, frame)
    for curve in view.curves:
        style = view.cast.style(curve["candidate"])
        text = f"{view.cast.name(curve['candidate'])}, static limit"
        points = frame.points(curve["speed"], series_of(curve, "static"))
        spot = room.place(text, along_line(points, shares, text_width(text), others=dotted))
        if spot is None:
            return False
        placed.append((spot, text, style.color))
    for (x, y, anchor), text, color in placed:
        frame.sheet.text(x, y, text, anchor=anchor, color=color, halo=True)
    return True


def _place_line_names(view: View, frame: Frame, room: Room, lines: Sequence[tuple[str, str]]) -> bool:
    """Say once what each kind of line is; False where one finds no room."""
    drawn = {line: [frame.points(c["speed"], series_of(c, line)) for c in view.curves] for line, _ in LINES}
    drawn["square wave"] = _dotted(view, frame)
    others = {line: [points for other in drawn if other != line for points in drawn[other]] for line, _ in lines}
    return all(_place_line_name(view, frame, room, text, drawn[line], others[line]) for line, text in lines)


def _place_line_name(
    view: View, frame: Frame, room: Room, text: str, lines: Sequence[np.ndarray], others: Sequence[np.ndarray]
) -> bool:
    shares = (0.12, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8)
    for curve, points in zip(view.curves, lines, strict=True):
        places = along_line(points, shares, text_width(text, SMALLEST), 4.0, others)
        spot = room.place(text, places, SMALLEST)
        if spot is not None:
            color = view.cast.style(curve["candidate"]).color
            frame.sheet.text(spot[0], spot[1], text, SMALLEST, anchor=spot[2], color=color, halo=True)
            return True
    return False


def _dotted(view: View, frame: Frame) -> list[np.ndarray]:
    """The pixels of the dotted lines."""
    return [frame.points(curve["speed"], square_wave_of(curve)) for curve in view.curves]


def _table(view: View) -> Table:
    """The curves at round speeds and at every measured speed."""
    columns = (
        "candidate",
        heading("speed", SPEED),
        *(heading(name, ACCELERATION) for name in ("any-timing line", "start line", "static limit")),
        *([heading("static limit, square wave", ACCELERATION)] if view.is_dotted else []),
        heading("95 % intervals, low end of any-timing to high end of static", ACCELERATION),
        "measured",
    )
    rows = [row for curve in view.curves for row in _rows(view, curve)]
    rows += [_speed_row(view, found) for found in view.measured if found.measures == "speed"]
    return Table(f"Acceleration limits {direction_text(view.direction)}", columns, tuple(rows))


def _rows(view: View, curve: Mapping[str, Any]) -> list[tuple[str, ...]]:
    measured = {
        found.at: found
        for found in view.measured
        if found.candidate == curve["candidate"] and found.measures == "acceleration"
    }
    ticks = linear_scale(0.0, float(curve["speed"][-1]), 8, exact=True).ticks
    speeds = sorted({*ticks, *measured})
    rows = []
    for speed in speeds:
        lines = [_at(curve, line, "nominal", speed) for line in ("any_timing", "start", "static")]
        if all(value is None for value in lines) and speed not in measured:
            continue
        ends = _at(curve, "any_timing", "low", speed), _at(curve, "static", "high", speed)
        entry = measured[speed].entry if speed in measured else None
        rows.append(
            (
                view.cast.name(curve["candidate"]),
                format_stated(speed, SPEED, bare=True),
                *(format_quantity(line, ACCELERATION, bare=True) for line in lines),
                *([format_quantity(_square_wave_at(curve, speed), ACCELERATION, bare=True)] * view.is_dotted),
                format_span(*ends, ACCELERATION, bare=True),
                measured_text(entry),
            )
        )
    return rows


def _speed_row(view: View, found: Measured) -> tuple[str, ...]:
    return (view.cast.name(found.candidate), *[NOTHING] * (6 if view.is_dotted else 5), f"speed {found.text}")


def _alt(view: View, title: str) -> str:
    """What the drawing shows, from its figures."""
    parts = [f"{title}. Predicted acceleration limit over speed {direction_text(view.direction)}:"]
    for curve in view.curves:
        parts.append(_curve_words(view, curve))
    if not view.measured:
        return " ".join(parts) + " Nothing was measured."
    words = [f"{view.cast.name(found.candidate)} {found.text}" for found in view.measured]
    return " ".join(parts) + f" {sentence_case(counted(len(words), 'limit'))} measured: {'; '.join(words)}."


def _curve_words(view: View, curve: Mapping[str, Sequence[float]]) -> str:
    speeds = curve["speed"]
    static, lowest = series_of(curve, "static"), series_of(curve, "any_timing")
    name = view.cast.name(str(curve["candidate"]))
    return (
        f"{name} static {format_quantity(static[0], ACCELERATION)} at {format_quantity(speeds[0], SPEED)} and "
        f"{format_quantity(static[-1], ACCELERATION)} at {format_quantity(speeds[-1], SPEED)}, any-timing line "
        f"{format_span(lowest[0], lowest[-1], ACCELERATION)};"
    )
