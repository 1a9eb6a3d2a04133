"""Sound: one-third-octave bands against the background, level over speed, and spectra with their named tones.

Reads results ``sound``, entries with ``id`` and any of (levels in dB or dB(A) as ``unit`` says, frequencies in Hz):
``speed`` [m/s]; ``levels`` [{candidate, level, low, high, upper_bound}]; ``bands`` [{candidate, frequency, level}];
``background_bands`` {frequency, level}; ``series`` [{candidate, speed, level}]; ``spectra`` [{candidate, frequency,
level}]; ``tones`` [{candidate, frequency, level, cause}]. Lists of one entry run in step. Levels that were measured
with calibration stand in ``measurements``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from generator.charts.bands import Peak, draw_spectrum, figures, name_peaks, step_points
from generator.charts.cast import Cast, cast_of
from generator.charts.evidence import of_item
from generator.charts.labels import SMALLEST, Room
from generator.charts.layout import Layout, draw_legend, legend_height, make_chart
from generator.charts.palette import MUTED, NEUTRAL
from generator.charts.scale import Scale, find_range, linear_scale, log_scale
from generator.charts.sheet import Frame, Sheet
from generator.charts.wording import counted, heading, plain, shortened
from generator.phrases import listed, measured_text, sentence_case
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_quantity, format_span, format_stated

BANDS_CAPTION = (
    "Level per one-third-octave band; the grey hatched stair is the background. Where a line comes within a few "
    "decibels of it, the band says little about the machine."
)
SERIES_CAPTION = "Level over speed, one mark a recording or mean. A bump means a speed that excites the machine."
SPECTRUM_CAPTION = "Spectrum of the constant-speed part; tones found prominent carry their frequency and named cause."
SPEED = "m/s"
Entry = Mapping[str, Any]


def draw_sounds(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """Per item ``sound-<id>`` (bands), ``sound-<id>-speed`` and ``sound-<id>-spectrum``, as far as there is data."""
    cast = cast_of(results)
    bands = partial(_bands_chart, results)
    drawers = (("bands", bands), ("series", _series_chart), ("spectra", _spectrum_chart))
    return tuple(draw(item, cast) for item in results.get("sound") or () for key, draw in drawers if item.get(key))


def _unit(item: Entry) -> str:
    return plain(item.get("unit") or "dB")


def _axis(item: Entry) -> str:
    """Title of the level axis; a level without calibration says what its zero is."""
    if item.get("calibrated") is False:
        return f"level, 0 dB = {plain(item.get('reference') or 'not calibrated')} [dB]"
    return f"level [{_unit(item)}]"


def _in_order(entries: Sequence[Entry], cast: Cast) -> list[Entry]:
    return sorted(entries, key=lambda entry: cast.place(entry["candidate"]))


def _find_levels(results: Mapping[str, Any], item: Entry, cast: Cast) -> dict[str, Entry]:
    """Each candidate's level as a measurement; without calibration, of which the page makes none, its mean."""
    levels = {
        entry["candidate"]: _mean_level(entry, _unit(item)) for entry in _in_order(item.get("levels") or (), cast)
    }
    return levels | of_item(results.get("measurements"), item["id"])


def _mean_level(entry: Entry, unit: str) -> Entry:
    level, low, high = (entry.get(key) for key in ("level", "low", "high"))
    if entry.get("upper_bound"):
        return {"unit": unit, "at_most": level if high is None else high}
    return {"unit": unit, "estimate": level, "low": low, "high": high}


# --- bands --------------------------------------------------------------------------------------------------------


def _bands_chart(results: Mapping[str, Any], item: Entry, cast: Cast) -> Chart:
    bands = _in_order(item["bands"], cast)
    loudest = [_loudest(entry, cast, _unit(item)) for entry in bands]
    levels = _find_levels(results, item, cast)
    words = [f"{cast.name(candidate)} {measured_text(row)}" for candidate, row in levels.items()] or loudest
    title = f"{sentence_case(listed(words))}: {cast.item(item['id'])}"
    table = _bands_table(item, bands, levels, cast)
    alt = f"{title}. One-third-octave bands, loudest band: {'; '.join(loudest)}."
    return make_chart(
        f"sound-{item['id']}", title, BANDS_CAPTION, alt, table, lambda layout: _draw_bands(item, bands, cast, layout)
    )


def _loudest(entry: Entry, cast: Cast, unit: str) -> str:
    levels = figures(entry["level"])
    name = cast.name(entry["candidate"])
    if not np.isfinite(levels).any():
        return f"{name} without a level"
    best = int(np.nanargmax(levels))
    return f"{name} {format_quantity(levels[best], unit)} at {format_stated(entry['frequency'][best], 'Hz')}"


def _bands_table(item: Entry, bands: Sequence[Entry], levels: Mapping[str, Entry], cast: Cast) -> Table:
    """Levels by band, above them those of all bands together."""
    caption = f"Level per one-third-octave band, {cast.item(item['id'])}"
    entries = _with_background(item, bands, cast)
    table = _columns_table(caption, "frequency [Hz]", "frequency", entries, _unit(item))
    background = (item.get("background") or {}).get("level")
    last = [format_quantity(background, _unit(item), bare=True)] if len(entries) > len(bands) else []
    whole = ("all bands", *(measured_text(levels.get(entry["candidate"]), bare=True) for entry in bands), *last)
    return replace(table, rows=(whole, *table.rows)) if levels else table


def _with_background(item: Entry, bands: Sequence[Entry], cast: Cast) -> list[tuple[str, Entry]]:
    named = [(cast.name(entry["candidate"]), entry) for entry in bands]
    background = item.get("background_bands")
    return [*named, ("background", background)] if background else named


def _columns_table(caption: str, head: str, key: str, entries: Sequence[tuple[str, Entry]], unit: str) -> Table:
    """A column per entry over all figures of ``key``."""
    steps = sorted({step for _, entry in entries for step in entry[key]})
    found = [dict(zip(entry[key], entry["level"], strict=True)) for _, entry in entries]
    rows = tuple(
        (
            format_stated(step, SPEED if key == "speed" else "Hz", bare=True),
            *(format_quantity(levels.get(step), unit, bare=True) for levels in found),
        )
        for step in steps
    )
    return Table(caption, (head, *(f"{name} [{unit}]" for name, _ in entries)), rows)


def _level_frame(
    sheet: Sheet,
    layout: Layout,
    x: Scale,
    levels: Sequence[Sequence[float | None]],
    keys: Sequence[str],
    titles: tuple[str, str],
) -> Frame:
    low, high = find_range(*levels) or (0.0, 60.0)
    y = linear_scale(max(low, high - 60), high + 4, 6)
    frame = Frame(sheet, layout.box(42, sheet.height - 26 - legend_height(layout, keys)), x, y)
    frame.draw_axes(*titles)
    return frame


def _draw_bands(item: Entry, bands: Sequence[Entry], cast: Cast, layout: Layout) -> Sheet:
    sheet = Sheet(layout.width, layout.height - 60 if layout.is_wide else layout.height)
    background = item.get("background_bands") or {"frequency": [], "level": []}
    frequencies = [[step for step in entry["frequency"] if step > 0] for entry in bands]
    low, high = find_range(*frequencies) or (20.0, 20000.0)
    x = frequency_scale(low * 0.89, high * 1.12, layout)
    levels = [entry["level"] for entry in (*bands, background)]
    names = [entry["candidate"] for entry in bands]
    frame = _level_frame(sheet, layout, x, levels, [cast.name(name) for name in names], ("frequency [Hz]", _axis(item)))
    _draw_background(frame, background)
    for entry in bands:
        style = cast.style(entry["candidate"])
        points = frame.line(figures(entry["frequency"]), figures(entry["level"]), style.color, 1.8, style.dash)
        for across, up in frame.inside(points):
            sheet.mark(across, up, style.marker, style.color, 3.2 if layout.is_wide else 2.6)
    draw_legend(sheet, layout, cast, names)
    return sheet


def frequency_scale(low: float, high: float, layout: Layout) -> Scale:
    """A logarithmic scale with ticks as close as the width allows."""
    factors = (1, 2, 5) if layout.is_wide or high < 40 * low else (1, 3)
    return log_scale(low, high, factors if high < 300 * low or layout.is_wide else (1,), exact=True)


def _draw_background(frame: Frame, background: Entry) -> None:
    levels, centres = figures(background["level"]), figures(background["frequency"])
    known = np.isfinite(levels) & (centres > 0)
    if not known.any():
        return
    top = step_points(frame, centres[known], np.maximum(levels[known], frame.y.low))
    shape = np.vstack([top, [[top[-1, 0], frame.box[1]], [top[0, 0], frame.box[1]]]])
    frame.sheet.fill([shape], NEUTRAL.light, 0.10, clip=frame.box)
    frame.sheet.hatch([shape], NEUTRAL.light, "/", 0.25, clip=frame.box)
    frame.sheet.stroke([top], MUTED.light, 1.0, clip=frame.box)
    room = Room((frame.box[0] + 4, frame.box[1] + 4, frame.box[2] - 4, frame.box[3]))
    spot = room.place("background", [(top[0, 0] + 8, frame.box[1] + 6, "start")], SMALLEST)
    if spot:
        frame.sheet.text(spot[0], spot[1], "background", SMALLEST, color=MUTED.light, halo=True)


# --- level over speed ---------------------------------------------------------------------------------------------


def _series_chart(item: Entry, cast: Cast) -> Chart:
    series = _in_order(item["series"], cast)
    words = [_series_words(entry, cast, _unit(item)) for entry in series]
    title = f"{'; '.join(words)}: {cast.item(item['id'])}"
    entries = [(cast.name(entry["candidate"]), entry) for entry in series]
    table = _columns_table(
        f"Level over speed, {cast.item(item['id'])}", heading("speed", SPEED), "speed", entries, _unit(item)
    )
    return make_chart(
        f"sound-{item['id']}-speed",
        title,
        SERIES_CAPTION,
        f"Level over speed. {title}.",
        table,
        lambda layout: _draw_series(item, series, cast, layout),
    )


def _series_words(entry: Entry, cast: Cast, unit: str) -> str:
    levels = figures(entry["level"])
    name = cast.name(entry["candidate"])
    if not np.isfinite(levels).any():
        return f"{name} without a level"
    low, high = int(np.nanargmin(levels)), int(np.nanargmax(levels))
    return (
        f"{name} {format_span(levels[low], levels[high], unit)}, loudest at "
        f"{format_stated(entry['speed'][high], 'm/s')}"
    )


def _draw_series(item: Entry, series: Sequence[Entry], cast: Cast, layout: Layout) -> Sheet:
    sheet = Sheet(layout.width, layout.height - 80 if layout.is_wide else layout.height - 20)
    names = [entry["candidate"] for entry in series]
    top = (find_range(*(entry["speed"] for entry in series)) or (0.0, 1.0))[1]
    x = linear_scale(0.0, top * 1.05, 8 if layout.is_wide else 5, exact=True, unit=SPEED)
    frame = _level_frame(
        sheet,
        layout,
        x,
        [entry["level"] for entry in series],
        [cast.name(name) for name in names],
        (heading("speed", SPEED), _axis(item)),
    )
    for entry in series:
        style = cast.style(entry["candidate"])
        points = frame.line(figures(entry["speed"]), figures(entry["level"]), style.color, 1.8, style.dash)
        for across, up in frame.inside(points):
            sheet.mark(across, up, style.marker, style.color, 4.0)
    draw_legend(sheet, layout, cast, names)
    return sheet


# --- spectrum with tones ------------------------------------------------------------------------------------------


def _spectrum_chart(item: Entry, cast: Cast) -> Chart:
    spectra, tones = _in_order(item["spectra"], cast), _in_order(item.get("tones") or (), cast)
    words = [_tone_words(tone, cast) for tone in tones]
    title = _tones_title(tones, cast)
    rows = tuple(
        (
            cast.name(tone["candidate"]),
            format_quantity(tone["frequency"], "Hz", bare=True),
            format_quantity(tone.get("level"), _unit(item), bare=True),
            _cause(tone) or NOTHING,
        )
        for tone in tones
    )
    columns = ("candidate", "frequency [Hz]", f"level [{_unit(item)}]", "cause")
    return make_chart(
        f"sound-{item['id']}-spectrum",
        f"{title}: {cast.item(item['id'])}",
        SPECTRUM_CAPTION,
        f"Sound spectrum, {cast.item(item['id'])}. {title}. {'; '.join(shortened(words))}.",
        Table(f"Tones, {cast.item(item['id'])}", columns, rows),
        lambda layout: _draw_spectrum(item, spectra, tones, cast, layout),
    )


def _tones_title(tones: Sequence[Entry], cast: Cast) -> str:
    """How many tones, and the strongest."""
    if not tones:
        return "No prominent tone was found"
    if len(tones) == 1:
        return f"One prominent tone, {_tone_words(tones[0], cast)}"
    strongest = max(tones, key=lambda tone: -np.inf if tone.get("level") is None else tone["level"])
    return f"{sentence_case(counted(len(tones), 'prominent tone'))}, the strongest {_tone_words(strongest, cast)}"


def _tone_words(tone: Entry, cast: Cast) -> str:
    cause = f" ({_cause(tone)})" if _cause(tone) else ""
    return f"{cast.name(tone['candidate'])} at {format_quantity(tone['frequency'], 'Hz')}{cause}"


def _cause(tone: Entry) -> str:
    return plain(tone.get("cause") or "")


def _tone_text(tone: Entry) -> str:
    return format_quantity(tone["frequency"], "Hz") + (f", {_cause(tone)}" if _cause(tone) else "")


def _draw_spectrum(item: Entry, spectra: Sequence[Entry], tones: Sequence[Entry], cast: Cast, layout: Layout) -> Sheet:
    sheet = Sheet(layout.width, layout.height - 40 if layout.is_wide else layout.height)
    names = [entry["candidate"] for entry in spectra]
    low, high = find_range(*([step for step in entry["frequency"] if step >= 20] for entry in spectra)) or (20, 2e4)
    x = frequency_scale(low, high, layout)
    levels = [
        [level for step, level in zip(entry["frequency"], entry["level"], strict=True) if step >= 20]
        for entry in spectra
    ]
    frame = _level_frame(
        sheet,
        layout,
        x,
        [*levels, [(find_range(*levels) or (0, 0))[1] + 10]],
        [cast.name(name) for name in names],
        ("frequency [Hz]", _axis(item)),
    )
    room = Room((frame.box[0], frame.box[1], frame.box[2], frame.box[3] + 6))
    for entry in spectra:
        style = cast.style(entry["candidate"])
        points = draw_spectrum(frame, figures(entry["frequency"]), figures(entry["level"]), style.color, style.dash)
        room.keep_line(points)
    peaks = []
    for tone in tones:
        style = cast.style(tone["candidate"])
        if tone.get("level") is not None:
            across, up = frame.point(tone["frequency"], tone["level"])
            sheet.mark(across, up, style.marker, style.color, 3.6)
            texts = tuple(filter(None, (_tone_text(tone), _cause(tone), format_quantity(tone["frequency"], "Hz"))))
            peaks.append(Peak(tone["frequency"], tone["level"], texts, style.color))
    name_peaks(frame, room, peaks)
    draw_legend(sheet, layout, cast, names)
    return sheet
