"""Differences between candidates with their intervals against the zone of what does not matter; one row a contrast.

Reads results ``contrasts`` and ``trials``. Every row has its own scale, in the unit of its item, around zero.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.charts.calls import summary_title
from generator.charts.cast import Cast, cast_of
from generator.charts.labels import SMALLEST, shorten, wrap
from generator.charts.layout import Layout, make_chart
from generator.charts.palette import MUTED, NEUTRAL
from generator.charts.scale import find_range
from generator.charts.sheet import INK, Sheet
from generator.phrases import call_text, difference_text, sentence_case, unit_of
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_quantity

CAPTION = (
    "Each row has its own scale, in its own unit, with zero in the middle. Line and mark: difference, first minus "
    "second, with its 95 % interval; hatched field: differences too small to matter. Calls are made on the wider 99 % "
    "interval: ahead needs it clear of zero and a difference beyond the field; no difference that matters needs all of "
    "it inside the field. A blind panel is called by its own exact test."
)
Contrasts = Sequence[Mapping[str, Any]]
LINE = 15.0
"""Height of a line of a title [px]."""


def draw_contrasts(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart of all contrasts: ``differences``."""
    contrasts = list(results.get("contrasts") or ())
    if not contrasts:
        return ()
    cast = cast_of(results)
    title = summary_title(contrasts, cast)
    alt = f"{title}. " + "; ".join(_words(contrast, cast) for contrast in contrasts) + "."
    return (
        make_chart(
            "differences", title, CAPTION, alt, _table(contrasts, cast), lambda layout: _draw(contrasts, cast, layout)
        ),
    )


def _pair(contrast: Mapping[str, Any], cast: Cast) -> str:
    first, second = contrast["between"]
    return f"{cast.name(first)} − {cast.name(second)}"


def _words(contrast: Mapping[str, Any], cast: Cast) -> str:
    return (
        f"{cast.item(contrast['item'])}, {_pair(contrast, cast)}: {_size(contrast)}, {call_text(contrast, cast.names)}"
    )


def _table(contrasts: Contrasts, cast: Cast) -> Table:
    columns = ("item", "difference of", "difference with 95 % interval", "matters from", "call")
    rows = [
        (
            cast.item(contrast["item"]),
            _pair(contrast, cast),
            difference_text(contrast),
            format_quantity(contrast.get("matters"), unit_of(contrast), 2),
            call_text(contrast, cast.names),
        )
        for contrast in contrasts
    ]
    return Table("Differences between the candidates", columns, tuple(rows))


def _draw(contrasts: Contrasts, cast: Cast, layout: Layout) -> Sheet:
    room = _columns(layout)[0] - 18 if layout.is_wide else layout.width - 8
    titles = [wrap(sentence_case(cast.item(contrast["item"])), room) for contrast in contrasts]
    height, usual = (58.0, 2) if layout.is_wide else (112.0, 1)
    extra = [LINE * max(0, len(lines) - usual) for lines in titles]
    many_pairs = len({tuple(contrast["between"]) for contrast in contrasts}) > 1
    sheet = Sheet(layout.width, round(height * len(contrasts) + sum(extra) + 22))
    _draw_head(sheet, contrasts[0], cast, layout, many_pairs)
    top = sheet.height - 22.0
    for contrast, lines, more in zip(contrasts, titles, extra, strict=True):
        sheet.stroke([np.array([[0, top], [layout.width, top]])], MUTED.light, 0.6, opacity=0.6)
        for index, line in enumerate(lines):
            sheet.text(4, top - (17 if layout.is_wide else 16) - LINE * index, line)
        _draw_labels(sheet, contrast, cast, layout, top, len(lines))
        _draw_row(sheet, contrast, cast, layout, top - (height + more) / 2 if layout.is_wide else top - more - 92)
        top -= height + more
    return sheet


def _columns(layout: Layout) -> tuple[float, float]:
    """Where the scales begin and end."""
    return (226.0, layout.width - 206.0) if layout.is_wide else (14.0, layout.width - 14.0)


def _draw_head(sheet: Sheet, contrast: Mapping[str, Any], cast: Cast, layout: Layout, many_pairs: bool) -> None:
    """Which side of zero belongs to whom."""
    left, right = _columns(layout)
    first, second = contrast["between"]
    names = ("second", "first") if many_pairs else (cast.short(second), cast.short(first))
    room = (right - left) / 2 - 14
    middle, y = (left + right) / 2, sheet.height - 15
    sheet.text(middle - 10, y, shorten(f"← {names[0]} higher", room, SMALLEST), SMALLEST, anchor="end", color=INK)
    sheet.text(middle + 10, y, shorten(f"{names[1]} higher →", room, SMALLEST), SMALLEST, color=INK)


def _draw_labels(sheet: Sheet, contrast: Mapping[str, Any], cast: Cast, layout: Layout, top: float, lines: int) -> None:
    """The pair under the lines of the title at the left; the call and the size of the difference at the right."""
    left, right = _columns(layout)
    leader = contrast["ahead"]
    color = cast.style(leader).color if leader else INK
    call, size = call_text(contrast, cast.names), _size(contrast)
    pair = " − ".join(map(cast.short, contrast["between"]))
    if layout.is_wide:
        room = layout.width - right - 16
        below = top - 17 - LINE * lines
        sheet.text(4, below, shorten(pair, left - 18, SMALLEST), SMALLEST, color=MUTED.light)
        sheet.text(right + 14, top - 24, shorten(call, room, bold=True), color=color, bold=True)
        sheet.text(right + 14, top - 41, shorten(size, room, SMALLEST), SMALLEST, color=MUTED.light)
        return
    room = layout.width - 8
    top -= LINE * (lines - 1)
    sheet.text(4, top - 32, shorten(pair, room, SMALLEST), SMALLEST, color=MUTED.light)
    sheet.text(4, top - 48, shorten(call, room, bold=True), color=color, bold=True)
    sheet.text(4, top - 63, shorten(size, room, SMALLEST), SMALLEST, color=MUTED.light)


def _size(contrast: Mapping[str, Any]) -> str:
    """The difference with its interval."""
    text = difference_text(contrast)
    return "no difference known" if text == NOTHING else text


def _draw_row(sheet: Sheet, contrast: Mapping[str, Any], cast: Cast, layout: Layout, middle: float) -> None:
    left, right = _columns(layout)
    difference, low, high, matters = (contrast.get(key) for key in ("difference", "low", "high", "matters"))
    found = find_range((difference, low, high, matters))
    reach = 1.1 * max(map(abs, found)) if found else 1.0
    centre = (left + right) / 2

    def across(value: float) -> float:
        return centre + value / (reach or 1.0) * (right - left) / 2

    if matters:
        sides = across(-matters), across(matters)
        shape = np.array(
            [[sides[0], middle - 12], [sides[1], middle - 12], [sides[1], middle + 12], [sides[0], middle + 12]]
        )
        sheet.fill([shape], NEUTRAL.light, 0.10)
        sheet.hatch([shape], NEUTRAL.light, "/", 0.25)
    sheet.stroke([np.array([[left, middle], [right, middle]])], MUTED.light, 0.8, opacity=0.7)
    sheet.stroke([np.array([[centre, middle - 14], [centre, middle + 14]])], MUTED.light, 1.0)
    leader = contrast["ahead"]
    style = cast.style(leader or "")
    if low is not None and high is not None:
        sheet.stroke([np.array([[across(low), middle], [across(high), middle]])], style.color, 3.0)
        caps = [np.array([[across(end), middle - 5], [across(end), middle + 5]]) for end in (low, high)]
        sheet.stroke(caps, style.color, 1.6)
    if difference is not None:
        sheet.mark(across(difference), middle, style.marker if leader else "circle", style.color, 5.0)
