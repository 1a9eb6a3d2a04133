"""Surfaces: contrast of the ripples over their wavelength, one field per band of the sample, with named causes.

Reads results ``surfaces``, entries {id, spectra [{candidate, speed [m/s], wavelength [m], contrast [1], floor [1]}],
ripples [{candidate, speed [m/s], wavelength [m], contrast [1], ratio [1], causes [text, …]}]}; floor (the contrast
that a ripple has to pass) and ripples may be missing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.charts.bands import Peak, draw_spectrum, figures, name_peaks
from generator.charts.cast import Cast, cast_of
from generator.charts.labels import SMALLEST, Room
from generator.charts.layout import Layout, draw_legend, legend_height, make_chart
from generator.charts.palette import MUTED, RULE
from generator.charts.scale import Scale, find_range, linear_scale, log_scale
from generator.charts.sheet import INK, Frame, Sheet
from generator.charts.wording import count_word, counted, heading, plain, shortened
from generator.phrases import listed, sentence_case, wavelength_text
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_number, format_quantity, format_stated

CAPTION = (
    "One field per band of the sample, slowest at the top, all on one scale. Lines: contrast of the ripples over their "
    "wavelength; dotted: what a ripple has to pass to count; marks: ripples that do, with every cause that fits. "
    "Contrast depends on light and camera, so compare it only between photos that share both."
)
Entry = Mapping[str, Any]


def draw_surfaces(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per item with spectra: ``surface-<id>``."""
    cast = cast_of(results)
    return tuple(_chart(item, cast) for item in results.get("surfaces") or () if item.get("spectra"))


def _chart(item: Entry, cast: Cast) -> Chart:
    seen = [ripple for ripple in item.get("ripples") or () if ripple.get("contrast") is not None]
    ripples = sorted(seen, key=lambda ripple: (ripple["speed"], cast.place(ripple["candidate"])))
    title = f"{_title(item, ripples, cast)}: {cast.item(item['id'])}"
    words = shortened([_ripple_words(ripple, cast) for ripple in ripples])
    columns = (
        heading("band at", "m/s"),
        "candidate",
        heading("wavelength", "m"),
        "contrast [%]",
        "over floor",
        "causes that fit",
    )
    rows = tuple(
        (
            format_stated(ripple["speed"], "m/s", bare=True),
            cast.name(ripple["candidate"]),
            wavelength_text(ripple, bare=True),
            format_quantity(ripple["contrast"], "%", 2, bare=True),
            format_number(ripple.get("ratio"), 2),
            _causes(ripple) or NOTHING,
        )
        for ripple in ripples
    )
    table = Table(f"Ripples found on {cast.item(item['id'])}", columns, rows)
    return make_chart(
        f"surface-{item['id']}",
        title,
        CAPTION,
        f"{title}. {'; '.join(words) or 'No ripple'}.",
        table,
        lambda layout: _draw(item, ripples, cast, layout),
    )


def _causes(ripple: Entry) -> str:
    return listed([plain(cause) for cause in ripple.get("causes") or ()])


def _ripple_words(ripple: Entry, cast: Cast) -> str:
    cause = f", {_causes(ripple)}" if _causes(ripple) else ", no predicted cause fits"
    return (
        f"{cast.name(ripple['candidate'])} at {format_stated(ripple['speed'], 'm/s')}: "
        f"{wavelength_text(ripple)} with {format_quantity(ripple['contrast'], '%', 2)} contrast{cause}"
    )


def _title(item: Entry, ripples: Sequence[Entry], cast: Cast) -> str:
    """How many bands of each candidate show a ripple."""
    parts = []
    for candidate in sorted({entry["candidate"] for entry in item["spectra"]}, key=cast.place):
        bands = {entry["speed"] for entry in item["spectra"] if entry["candidate"] == candidate}
        rippled = {ripple["speed"] for ripple in ripples if ripple["candidate"] == candidate}
        parts.append(f"{cast.name(candidate)} shows ripples in {_share(len(rippled), len(bands))}")
    return sentence_case(listed(parts))


def _share(count: int, total: int) -> str:
    return f"{count_word(count)} of {counted(total, 'band')}"


def _draw(item: Entry, ripples: Sequence[Entry], cast: Cast, layout: Layout) -> Sheet:
    spectra = item["spectra"]
    speeds = sorted({entry["speed"] for entry in spectra})
    names = sorted({entry["candidate"] for entry in spectra}, key=cast.place)
    keys = legend_height(layout, [cast.name(name) for name in names])
    height, gap = 74.0, 12.0
    sheet = Sheet(layout.width, round(len(speeds) * (height + gap) + 42 + 22 + keys))
    x, y = _scales(spectra, ripples)
    top = sheet.height - keys - 22
    sheet.text(4, top + 7, "contrast [%]")
    for index, speed in enumerate(speeds):
        up = top - index * (height + gap)
        frame = Frame(sheet, layout.box(up - height, up), x, y)
        _draw_band(frame, speed, spectra, ripples, cast)
    frame.draw_x_axis(heading("wavelength", "m"))
    draw_legend(sheet, layout, cast, names)
    return sheet


def _scales(spectra: Sequence[Entry], ripples: Sequence[Entry]) -> tuple[Scale, Scale]:
    low, high = find_range(*([wave for wave in entry["wavelength"] if wave and wave > 0] for entry in spectra)) or (
        1e-4,
        1e-2,
    )
    contrasts = [entry["contrast"] for entry in spectra] + [[ripple["contrast"] for ripple in ripples]]
    highest = (find_range(*contrasts) or (0.0, 0.01))[1]
    return log_scale(low, high, exact=True, unit="m"), linear_scale(0.0, 145 * max(highest, 1e-6), 2, exact=True)


def _draw_band(frame: Frame, speed: float, spectra: Sequence[Entry], ripples: Sequence[Entry], cast: Cast) -> None:
    left, bottom, right, top = frame.box
    frame.draw_y_axis()
    frame.sheet.stroke([np.array([[left, bottom], [right, bottom]])], RULE.light, 1.0)
    text = format_stated(speed, "m/s")
    frame.sheet.text(right, top - 10, text, SMALLEST, anchor="end", color=MUTED.light, halo=True)
    room = Room((left, bottom, right, top + 10))
    room.keep_box(right - 50, top - 16, right, top)
    for entry in sorted(spectra, key=lambda entry: cast.place(entry["candidate"])):
        if entry["speed"] == speed:
            style = cast.style(entry["candidate"])
            wave = figures(entry["wavelength"])
            draw_spectrum(frame, wave, 100 * figures(entry["contrast"]), style.color, style.dash)
            if entry.get("floor"):
                draw_spectrum(frame, wave, 100 * figures(entry["floor"]), style.color, (1.0, 3.0), 0.9)
    found: dict[tuple[str, ...], list[Entry]] = {}
    for ripple in ripples:
        if ripple["speed"] == speed:
            style = cast.style(ripple["candidate"])
            across, up = frame.point(ripple["wavelength"], 100 * ripple["contrast"])
            frame.sheet.mark(across, up, style.marker, style.color, 3.8)
            room.keep_box(across - 5, up - 5, across + 5, up + 5)
            found.setdefault(_texts(ripple), []).append(ripple)
    name_peaks(frame, room, [_peak(texts, group, cast) for texts, group in found.items()])


def _texts(ripple: Entry) -> tuple[str, ...]:
    """The causes in full, or the first and how many more."""
    causes = [plain(cause) for cause in ripple.get("causes") or ()]
    if not causes:
        return ("no cause fits",)
    rest = f" + {len(causes) - 1}" if len(causes) > 1 else ""
    bare = causes[0].partition(" (")[0]
    return listed(causes), f"{causes[0]}{rest}", f"{bare}{rest}"


def _peak(texts: tuple[str, ...], group: Sequence[Entry], cast: Cast) -> Peak:
    """One name for the ripples of a band that share their causes, in ink where candidates share it."""
    highest = max(group, key=lambda ripple: ripple["contrast"])
    alone = len({ripple["candidate"] for ripple in group}) == 1
    color = cast.style(highest["candidate"]).color if alone else INK
    return Peak(highest["wavelength"], 100 * highest["contrast"], texts, color)
