"""Vibration: density of acceleration over frequency with the fitted resonance and the predicted peaks.

Reads results ``vibration``, entries {id, axis, excitation, densities [{candidate, frequency [Hz], density, low, high}],
fits [{candidate, frequency [Hz], density, peak_frequency [Hz], peak_low, peak_high, damping_ratio}], predicted
[{candidate, frequency [Hz]}]}; densities in (m/s²)²/Hz, low and high their interval; all but id may be missing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.charts.bands import draw_spectrum, figures
from generator.charts.cast import Cast, cast_of
from generator.charts.labels import SMALLEST, Room
from generator.charts.layout import Layout, draw_legend, legend_height, make_chart
from generator.charts.palette import PAGE
from generator.charts.scale import find_range, linear_scale, log_scale
from generator.charts.sheet import Frame, Sheet
from generator.phrases import listed, sentence_case
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_quantity, format_with_interval

CAPTION = (
    "Density of acceleration with its interval as a pale band, where repeats or averages allow one; the smooth thick "
    "line is the fitted resonance, the mark its peak; the short lines at the top are the predicted peaks."
)
UNIT = "(m/s²)²/Hz"
Entry = Mapping[str, Any]


def draw_vibrations(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per item with densities: ``vibration-<id>``."""
    cast = cast_of(results)
    return tuple(_chart(item, cast) for item in results.get("vibration") or () if item.get("densities"))


def _in_order(entries: Sequence[Entry], cast: Cast) -> list[Entry]:
    return sorted(entries, key=lambda entry: cast.place(entry["candidate"]))


def _chart(item: Entry, cast: Cast) -> Chart:
    where = cast.item(item["id"])
    fits = [fit for fit in _in_order(item.get("fits") or (), cast) if fit.get("peak_frequency") is not None]
    words = [_fit_words(fit, cast) for fit in fits]
    title = f"{sentence_case(listed(words) if words else 'no resonance could be fitted')}: {where}"
    alt = f"{title}. Density of acceleration over frequency; highest line: {'; '.join(_highest(item, cast))}."
    predicted = [
        f"{cast.name(entry['candidate'])} {format_quantity(entry['frequency'], 'Hz')}"
        for entry in _in_order(item.get("predicted") or (), cast)
    ]
    alt += f" Predicted: {listed(predicted)}." if predicted else ""
    return make_chart(
        f"vibration-{item['id']}",
        title,
        CAPTION,
        alt,
        _table(item, cast, where),
        lambda layout: _draw(item, cast, layout),
    )


def _fit_words(fit: Entry, cast: Cast) -> str:
    return f"{cast.name(fit['candidate'])} peaks at {_peak(fit)}"


def _peak(fit: Entry, *, bare: bool = False) -> str:
    return format_with_interval(fit.get("peak_frequency"), fit.get("peak_low"), fit.get("peak_high"), "Hz", bare=bare)


def _highest(item: Entry, cast: Cast) -> list[str]:
    found = []
    for entry in _in_order(item["densities"], cast):
        density = figures(entry["density"])
        best = int(np.nanargmax(density)) if np.isfinite(density).any() else None
        text = (
            "none"
            if best is None
            else f"{format_quantity(density[best], UNIT)} at {format_quantity(entry['frequency'][best], 'Hz')}"
        )
        found.append(f"{cast.name(entry['candidate'])} {text}")
    return found


def _table(item: Entry, cast: Cast, where: str) -> Table:
    fits = {fit["candidate"]: fit for fit in item.get("fits") or ()}
    predicted: dict[str, list[str]] = {}
    for entry in item.get("predicted") or ():
        predicted.setdefault(entry["candidate"], []).append(format_quantity(entry["frequency"], "Hz", bare=True))
    rows = []
    for entry in _in_order(item["densities"], cast):
        fit = fits.get(entry["candidate"], {})
        rows.append(
            (
                cast.name(entry["candidate"]),
                _peak(fit, bare=True),
                format_with_interval(fit.get("damping_ratio"), fit.get("damping_low"), fit.get("damping_high"), "1"),
                listed(predicted.get(entry["candidate"], [])) or NOTHING,
            )
        )
    columns = ("candidate", "peak with 95 % interval [Hz]", "damping ratio with 95 % interval", "predicted [Hz]")
    return Table(f"Resonance, {where}", columns, tuple(rows))


def _draw(item: Entry, cast: Cast, layout: Layout) -> Sheet:
    sheet = Sheet(layout.width, layout.height)
    densities = _in_order(item["densities"], cast)
    names = [entry["candidate"] for entry in densities]
    frame = _frame(item, layout, sheet, [cast.name(name) for name in names])
    for entry in densities:
        style = cast.style(entry["candidate"])
        frequency = figures(entry["frequency"])
        if entry.get("low") and entry.get("high"):
            frame.band(frequency, figures(entry["low"]), figures(entry["high"]), style.color, 0.14)
        draw_spectrum(frame, frequency, figures(entry["density"]), style.color, style.dash, 1.2)
    room = Room((frame.box[0], frame.box[1], frame.box[2], frame.box[3] + 2))
    for fit in _in_order(item.get("fits") or (), cast):
        _draw_fit(frame, fit, cast)
    _draw_predicted(item, cast, frame, room)
    draw_legend(sheet, layout, cast, names)
    return sheet


def _frame(item: Entry, layout: Layout, sheet: Sheet, keys: Sequence[str]) -> Frame:
    densities = item["densities"]
    positive = [[value for value in entry["density"] if value is not None and value > 0] for entry in densities]
    low, high = find_range(*positive) or (1e-4, 1.0)
    frequencies = find_range(*(entry["frequency"] for entry in densities)) or (0.0, 200.0)
    y = log_scale(max(low, high * 1e-5), high * 4, (1,))
    x = linear_scale(*frequencies, 8 if layout.is_wide else 5, exact=True)
    frame = Frame(sheet, layout.box(42, sheet.height - 26 - legend_height(layout, keys)), x, y)
    frame.draw_axes("frequency [Hz]", f"density [{UNIT}]")
    return frame


def _draw_fit(frame: Frame, fit: Entry, cast: Cast) -> None:
    style = cast.style(fit["candidate"])
    if fit.get("frequency") and fit.get("density"):
        points = frame.points(figures(fit["frequency"]), figures(fit["density"]))
        frame.sheet.stroke([points], PAGE.light, 5.0, opacity=0.7, clip=frame.box)
        frame.sheet.stroke([points], style.color, 2.6, clip=frame.box)
        if fit.get("peak_frequency") is not None:
            height = np.interp(fit["peak_frequency"], figures(fit["frequency"]), figures(fit["density"]))
            frame.sheet.mark(*frame.point(fit["peak_frequency"], float(height)), style.marker, style.color, 5.0)


def _draw_predicted(item: Entry, cast: Cast, frame: Frame, room: Room) -> None:
    top = frame.box[3]
    entries = [
        entry
        for entry in _in_order(item.get("predicted") or (), cast)
        if frame.x.low <= entry["frequency"] <= frame.x.high
    ]
    for entry in entries:
        style = cast.style(entry["candidate"])
        across = frame.point(entry["frequency"], frame.y.high)[0]
        frame.sheet.stroke([np.array([[across, top], [across, top - 22]])], style.color, 2.2, style.dash)
        frame.sheet.mark(across, top - 26, style.marker, style.color, 3.4)
        room.keep_box(across - 4, top - 30, across + 4, top)
    if not entries:
        return
    places = [frame.point(entry["frequency"], frame.y.high)[0] for entry in entries]
    anchors = [(max(places) + 9, top - 14, "start"), (min(places) - 9, top - 14, "end")]
    spot = room.place("predicted", anchors, SMALLEST)
    if spot:
        frame.sheet.text(spot[0], spot[1], "predicted", SMALLEST, anchor=spot[2], halo=True)
