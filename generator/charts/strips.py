"""Trial strips: per trial one small range chart, all candidates on one scale, prediction behind measurement.

Reads results ``trials``, ``predictions``, ``measurements``, ``contrasts``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from generator.charts.brackets import draw_arrow
from generator.charts.calls import item_title
from generator.charts.cast import Cast, cast_of
from generator.charts.evidence import Bracket, figures_of, of_item, run_brackets, rung_tries
from generator.charts.labels import shorten, text_width
from generator.charts.layout import Layout, make_chart
from generator.charts.palette import PAGE, Style
from generator.charts.scale import Scale, find_range, linear_scale
from generator.charts.sheet import Frame, Sheet
from generator.charts.wording import heading
from generator.phrases import measured_text
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_span, format_stated, format_with_interval

CAPTION = (
    "Pale bar: predicted corridor from the any-timing line to the static limit, its start line marked, paler with the "
    "uncertainty of the inputs. Filled mark with a thick line: measured limit with its interval. Thin brackets: single "
    "runs, from the last rung held to the first rung lost; an arrow means that steps were never lost."
)
LANE = 6.0
MOST_LANES = 8
_KEYS = ("any_timing", "start", "static")


@dataclass(frozen=True)
class Strip:
    """One candidate's row: its prediction and measurement, each None where there is none, and its runs by lane."""

    candidate: str
    prediction: Mapping[str, Any] | None
    measurement: Mapping[str, Any] | None
    lanes: tuple[tuple[Bracket, ...], ...]

    @property
    def figures(self) -> list[float | None]:
        """Everything that the scale has to hold."""
        found: list[float | None] = [end for lane in self.lanes for bracket in lane for end in figures_of(bracket)]
        found += [self.line(key, kind) for key in _KEYS for kind in ("nominal", "low", "high")]
        if self.measurement:
            found += [self.measurement.get(key) for key in ("estimate", "low", "high", "at_least", "at_most")]
            found += [at for at, _, _ in rung_tries(self.measurement)]
        return found

    def line(self, key: str, kind: str = "nominal") -> float | None:
        """One figure of the prediction."""
        return ((self.prediction or {}).get(key) or {}).get(kind)


def draw_strips(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per trial with a prediction or a measurement: ``trial-<id>``."""
    cast = cast_of(results)
    found = [(trial, _strips(results, trial, cast)) for trial in results.get("trials") or ()]
    return tuple(
        _chart(results, trial, strips, cast) for trial, strips in found if find_range(*(row.figures for row in strips))
    )


def _strips(results: Mapping[str, Any], trial: Mapping[str, Any], cast: Cast) -> tuple[Strip, ...]:
    predicted = of_item(results.get("predictions"), trial["id"], "trial")
    measured = of_item(results.get("measurements"), trial["id"])
    return tuple(
        Strip(name, predicted.get(name), measured.get(name), stack_brackets(run_brackets(measured.get(name) or {})))
        for name in cast.ids
    )


def stack_brackets(brackets: list[Bracket]) -> tuple[tuple[Bracket, ...], ...]:
    """Brackets in lanes, so that none hides another; the last lane takes what is left over."""
    lanes: list[list[Bracket]] = []
    for bracket in brackets:
        free = next((lane for lane in lanes if not any(_overlap(bracket, other) for other in lane)), None)
        if free is None and len(lanes) < MOST_LANES:
            lanes.append([bracket])
        else:
            (free if free is not None else lanes[-1]).append(bracket)
    return tuple(tuple(lane) for lane in lanes)


def _overlap(one: Bracket, other: Bracket) -> bool:
    low = max(-np.inf if b.held is None else b.held for b in (one, other))
    high = min(np.inf if b.lost is None else b.lost for b in (one, other))
    return bool(low <= high)


def _unit(trial: Mapping[str, Any]) -> str:
    return "m/s" if trial.get("measures") == "speed" else "m/s^2"


def _chart(results: Mapping[str, Any], trial: Mapping[str, Any], strips: tuple[Strip, ...], cast: Cast) -> Chart:
    contrasts = [contrast for contrast in results.get("contrasts") or () if contrast["item"] == trial["id"]]
    is_measured = any(strip.measurement for strip in strips)
    where = cast.item(trial["id"])
    title = item_title(contrasts, cast, where) if is_measured else f"Predicted, not yet measured: {where}"
    alt = f"{title}. " + "; ".join(_words(strip, cast, _unit(trial)) for strip in strips) + "."
    table = _table(strips, cast, _unit(trial), where)
    return make_chart(
        f"trial-{trial['id']}", title, CAPTION, alt, table, lambda layout: _draw(strips, trial, cast, layout)
    )


def _words(strip: Strip, cast: Cast, unit: str) -> str:
    predicted = format_span(strip.line("any_timing"), strip.line("static"), unit)
    measured = measured_text(strip.measurement)
    start = (
        f"{cast.name(strip.candidate)}: predicted {predicted}" if predicted != NOTHING else cast.name(strip.candidate)
    )
    return f"{start}, {'not measured' if measured == NOTHING else f'measured {measured}'}"


def _table(strips: tuple[Strip, ...], cast: Cast, unit: str, where: str) -> Table:
    columns = (
        "candidate",
        *(heading(text, unit) for text in ("any-timing line", "start line", "static limit")),
        heading("measured", unit),
        heading("runs, held to lost", unit),
    )
    rows = [
        (
            cast.name(strip.candidate),
            *(_with_range(strip, key, unit) for key in _KEYS),
            measured_text(strip.measurement, bare=True),
            _runs_text(strip, unit),
        )
        for strip in strips
    ]
    return Table(f"Predicted and measured: {where}", columns, tuple(rows))


def _with_range(strip: Strip, key: str, unit: str) -> str:
    nominal, low, high = (strip.line(key, kind) for kind in ("nominal", "low", "high"))
    return format_with_interval(nominal, low, high, unit, bare=True)


def _runs_text(strip: Strip, unit: str) -> str:
    measurement = strip.measurement or {}
    tries = [
        f"{held} of {held + lost} held at {format_stated(at, unit, bare=True)}"
        for at, held, lost in rung_tries(measurement)
    ]
    runs = [_run_text(bracket, unit) for bracket in run_brackets(measurement)]
    return "; ".join(runs or tries) or NOTHING


def _run_text(bracket: Bracket, unit: str) -> str:
    if bracket.lost is None:
        return f"{format_stated(bracket.held, unit, bare=True)}, never lost"
    if bracket.held is None:
        return f"lost at {format_stated(bracket.lost, unit, bare=True)}"
    return format_span(bracket.held, bracket.lost, unit, stated=True, bare=True)


def _draw(strips: tuple[Strip, ...], trial: Mapping[str, Any], cast: Cast, layout: Layout) -> Sheet:
    heights = [_row_height(strip, layout) for strip in strips]
    sheet = Sheet(layout.width, round(sum(heights) + 46))
    scale = _scale(strips, layout, _unit(trial))
    left, right = _columns(strips, cast, layout)
    bottom = 42.0
    frame = Frame(sheet, (left, bottom, right, sheet.height - 4.0), scale, linear_scale(0, 1, 1))
    frame.draw_x_axis(heading(trial.get("measures") or "limit", _unit(trial)), grid=True)
    top = sheet.height - 4.0
    for strip, height in zip(strips, heights, strict=True):
        _draw_row(frame, strip, cast, layout, top)
        top -= height
    return sheet


def _scale(strips: tuple[Strip, ...], layout: Layout, unit: str) -> Scale:
    low, high = find_range(*(strip.figures for strip in strips)) or (0.0, 1.0)
    room = 0.08 * high if any(bracket.is_open for strip in strips for lane in strip.lanes for bracket in lane) else 0.0
    start = 0.0 if low < 0.6 * high else low - 0.1 * (high - low)
    return linear_scale(start, (high + room) or 1.0, 8 if layout.is_wide else 5, unit=unit)


def _row_height(strip: Strip, layout: Layout) -> float:
    return 26.0 + LANE * len(strip.lanes) + (0 if layout.is_wide else 20)


def _columns(strips: tuple[Strip, ...], cast: Cast, layout: Layout) -> tuple[float, float]:
    """Left and right end of the scale: names stand left of it and values right where there is room."""
    if not layout.is_wide:
        return 14.0, layout.width - 14.0
    names = max(text_width(cast.name(strip.candidate)) for strip in strips) + 30
    return min(max(names, 90.0), 200.0), layout.width - 150.0


def _draw_row(frame: Frame, strip: Strip, cast: Cast, layout: Layout, top: float) -> None:
    style = cast.style(strip.candidate)
    sheet, (left, _, right, _) = frame.sheet, frame.box
    value = measured_text(strip.measurement, bare=True)
    value = "not measured" if value == NOTHING else value
    middle = top - 14.0
    if layout.is_wide:
        sheet.mark(6, middle, style.marker, style.color, 4.2)
        sheet.text(16, middle - 4, shorten(cast.name(strip.candidate), left - 28), color=style.color)
        sheet.text(right + 14, middle - 4, shorten(value, layout.width - right - 16))
    else:
        sheet.mark(left - 8, top - 10, style.marker, style.color, 4.2)
        room = right - left - text_width(value) - 12
        sheet.text(left + 2, top - 14, shorten(cast.name(strip.candidate), room), color=style.color)
        sheet.text(right, top - 14, value, anchor="end")
        middle -= 20.0
    _draw_prediction(frame, strip, style, middle, 9.0 + LANE * len(strip.lanes))
    _draw_estimate(frame, strip, style, middle)
    for index, lane in enumerate(strip.lanes):
        for bracket in lane:
            _draw_run(frame, bracket, style, middle - 10.0 - LANE * index)


def _across(frame: Frame, value: float | None) -> float | None:
    if value is None:
        return None
    return float(np.clip(frame.points([value], [0.0])[0, 0], frame.box[0], frame.box[2]))


def _bar(low: float, high: float, below: float, above: float) -> np.ndarray:
    return np.array([[low, below], [high, below], [high, above], [low, above]])


def _draw_prediction(frame: Frame, strip: Strip, style: Style, middle: float, depth: float) -> None:
    below, above = middle - depth, middle + 9.0
    for low_kind, high_kind, opacity in (("low", "high", 0.10), ("nominal", "nominal", 0.16)):
        low, high = (
            _across(frame, strip.line(key, kind)) for key, kind in (("any_timing", low_kind), ("static", high_kind))
        )
        if low is not None and high is not None:
            frame.sheet.fill([_bar(low, high, below, above)], style.color, opacity)
    low, start, high = (_across(frame, strip.line(key)) for key in _KEYS)
    if low is not None and high is not None:
        frame.sheet.hatch([_bar(low, high, below, above)], style.color, style.hatch, 0.28)
    for across, width in ((start, 1.0), (high, 2.2)):
        if across is not None:
            frame.sheet.stroke([np.array([[across, below], [across, above]])], style.color, width, style.dash)


def _draw_estimate(frame: Frame, strip: Strip, style: Style, middle: float) -> None:
    measurement = strip.measurement or {}
    low, high, estimate = (_across(frame, measurement.get(key)) for key in ("low", "high", "estimate"))
    if low is not None and high is not None:
        frame.sheet.stroke([np.array([[low, middle], [high, middle]])], PAGE.light, 6.0, opacity=0.85)
        frame.sheet.stroke([np.array([[low, middle], [high, middle]])], style.color, 3.0)
    if estimate is not None:
        frame.sheet.mark(estimate, middle, style.marker, style.color, 5.0)
        return
    for key, way in (("at_least", 1), ("at_most", -1)):
        start = _across(frame, measurement.get(key))
        if start is not None:
            _draw_bound(frame, style, start, middle, way)


def _draw_bound(frame: Frame, style: Style, start: float, middle: float, way: int) -> None:
    """A hollow mark with an arrow to where the limit lies."""
    end = min(max(start + 34.0 * way, frame.box[0]), frame.box[2])
    frame.sheet.stroke([np.array([[start, middle], [end, middle]])], style.color, 3.0)
    draw_arrow(frame.sheet, (start, middle), (end, middle), style.color, 7)
    frame.sheet.mark(start, middle, style.marker, style.color, 4.6, back=PAGE.light)


def _draw_run(frame: Frame, bracket: Bracket, style: Style, height: float) -> None:
    held, lost = _across(frame, bracket.held), _across(frame, bracket.lost)
    start = held if held is not None else max((lost or 0.0) - 22.0, frame.box[0])
    end = lost if lost is not None else min((held or 0.0) + 22.0, frame.box[2])
    sheet = frame.sheet
    ends = [np.array([[across, height - 2.5], [across, height + 2.5]]) for across in (held, lost) if across is not None]
    sheet.stroke([np.array([[start, height], [end, height]]), *ends], style.color, 1.4)
    if lost is None:
        draw_arrow(sheet, (start, height), (end, height), style.color, 4)
    if held is None:
        draw_arrow(sheet, (end, height), (start, height), style.color, 4)
