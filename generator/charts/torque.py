"""Pull-out torque over tool speed: what each candidate's fastest motor can give before it slips.

Reads results ``curves`` (torque [N·m] over speed [m/s], optional corner_speed [m/s]), one chart per direction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.charts.bands import figures
from generator.charts.cast import Cast, cast_of
from generator.charts.corridor import directions_of
from generator.charts.labels import Room, along_line, text_width
from generator.charts.layout import Layout, draw_legend, legend_height, make_chart
from generator.charts.scale import find_range, linear_scale
from generator.charts.sheet import Frame, Sheet
from generator.charts.wording import direction_key, direction_slug, direction_text, heading
from generator.phrases import listed
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_quantity, format_share, format_stated

CAPTION = (
    "Pull-out torque of the motor that turns fastest, at nominal inputs: level while the supply can still drive the "
    "full current, falling once it cannot. {corner}"
)
CORNER = "The mark on each line is its corner."
SHARES = (0.97, 0.9, 0.82, 0.74, 0.66, 0.58, 0.5, 0.42, 0.34, 0.26, 0.18, 0.1)
SPEED = "m/s"
Curves = Sequence[Mapping[str, Any]]


def draw_torques(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per direction with a torque curve: ``torque``, then ``torque-<direction>``."""
    cast = cast_of(results)
    charts = []
    for index, direction in enumerate(directions_of(results)):
        curves = [
            curve
            for curve in results["curves"]
            if direction_key(curve["direction"]) == direction_key(direction) and _range([curve])
        ]
        curves.sort(key=lambda curve: cast.place(curve["candidate"]))
        if curves:
            identity = "torque" if index == 0 else f"torque-{direction_slug(direction)}"
            charts.append(_chart(identity, curves, direction, cast))
    return tuple(charts)


def _chart(identity: str, curves: Curves, direction: Any, cast: Cast) -> Chart:
    where = direction_text(direction)
    title = _title(curves, cast, where)
    words = [_words(curve, cast) for curve in curves]
    caption = CAPTION.format(corner=CORNER if any(map(_corner, curves)) else "").strip()
    alt = f"{title}. Pull-out torque over tool speed {where}: {'; '.join(words)}."
    return make_chart(
        identity, title, caption, alt, _table(curves, cast, where), lambda layout: _draw(curves, cast, layout)
    )


def _range(curves: Curves) -> tuple[float, float] | None:
    return find_range(*(curve.get("torque") or () for curve in curves))


def _corner(curve: Mapping[str, Any]) -> tuple[float, float] | None:
    """Corner speed and torque there, if it lies on the curve."""
    speed = curve.get("corner_speed")
    if speed is None or not curve["speed"][0] <= speed <= curve["speed"][-1]:
        return None
    return speed, _at(curve, speed)


def _at(curve: Mapping[str, Any], speed: float) -> float:
    torque = figures(curve["torque"])
    known = np.isfinite(torque)
    return float(np.interp(speed, np.asarray(curve["speed"], dtype=float)[known], torque[known]))


def _title(curves: Curves, cast: Cast, where: str) -> str:
    """Which candidate keeps most of its torque at the highest shared speed, in figures."""
    top = min(curve["speed"][-1] for curve in curves)
    kept = sorted(
        ((_at(curve, top) / (_at(curve, curve["speed"][0]) or 1.0), curve) for curve in curves),
        key=lambda pair: pair[0],
    )
    shares = [f"{cast.name(curve['candidate'])} {format_share(share)}" for share, curve in reversed(kept)]
    return f"Torque left at {format_quantity(top, SPEED)} {where}: {listed(shares)}"


def _words(curve: Mapping[str, Any], cast: Cast) -> str:
    speeds, corner = curve["speed"], _corner(curve)
    bend = f", falling from {format_quantity(corner[0], SPEED)}" if corner else ""
    return (
        f"{cast.name(curve['candidate'])} {format_quantity(_at(curve, speeds[0]), 'N·m')} at "
        f"{format_quantity(speeds[0], SPEED)}{bend}, {format_quantity(_at(curve, speeds[-1]), 'N·m')} at "
        f"{format_quantity(speeds[-1], SPEED)}"
    )


def _table(curves: Curves, cast: Cast, where: str) -> Table:
    ticks = linear_scale(0.0, max(curve["speed"][-1] for curve in curves), 8, exact=True).ticks
    rows = [
        (
            format_stated(speed, SPEED, bare=True),
            *(
                format_quantity(_at(curve, speed), "N·m", bare=True)
                if curve["speed"][0] <= speed <= curve["speed"][-1]
                else NOTHING
                for curve in curves
            ),
        )
        for speed in ticks
    ]
    columns = (heading("speed", SPEED), *(f"{cast.name(curve['candidate'])} [N·m]" for curve in curves))
    return Table(f"Pull-out torque {where}", columns, tuple(rows))


def _draw(curves: Curves, cast: Cast, layout: Layout) -> Sheet:
    for legend in (False, True) if layout.is_wide else (True,):
        sheet, frame, room = _frame(curves, layout, [cast.name(curve["candidate"]) for curve in curves], legend=legend)
        for curve in curves:
            style = cast.style(curve["candidate"])
            room.keep_line(frame.line(curve["speed"], figures(curve["torque"]), style.color, 2.2, style.dash))
            corner = _corner(curve)
            if corner:
                x, y = frame.point(*corner)
                sheet.mark(x, y, style.marker, style.color, 4.5)
                room.keep_box(x - 7, y - 7, x + 7, y + 7)
        if legend:
            draw_legend(sheet, layout, cast, [curve["candidate"] for curve in curves])
        elif not _place_names(curves, cast, frame, room):
            continue
        break
    return sheet


def _frame(curves: Curves, layout: Layout, names: Sequence[str], *, legend: bool) -> tuple[Sheet, Frame, Room]:
    sheet = Sheet(layout.width, layout.height - 60 if layout.is_wide else layout.height)
    keys = legend_height(layout, names if legend else ())
    box = layout.box(42, sheet.height - 26 - keys)
    highest = max((_range(curves) or (0.0, 1.0))[1], 1e-6)
    x = linear_scale(
        0.0, max(curve["speed"][-1] for curve in curves), 8 if layout.is_wide else 5, exact=True, unit=SPEED
    )
    frame = Frame(sheet, box, x, linear_scale(0.0, highest * 1.05, 5))
    frame.draw_axes(heading("speed", SPEED), heading("torque", "N·m"))
    return sheet, frame, Room((box[0] + 3, box[1] + 3, box[2] - 3, box[3] - 1))


def _place_names(curves: Curves, cast: Cast, frame: Frame, room: Room) -> bool:
    found = []
    for curve in curves:
        name = cast.name(curve["candidate"])
        points = frame.points(curve["speed"], figures(curve["torque"]))
        spot = room.place(name, along_line(points, SHARES, text_width(name)))
        if spot is None:
            return False
        found.append((name, spot, cast.style(curve["candidate"]).color))
    for name, (x, y, anchor), color in found:
        frame.sheet.text(x, y, name, anchor=anchor, color=color, halo=True)
    return True
