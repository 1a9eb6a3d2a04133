"""The wide and the narrow form of a chart, legends, and the making of a Chart from both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from generator.charts.cast import Cast
from generator.charts.drawing import render_drawing
from generator.charts.labels import TEXT_SIZE, Box, shorten, text_width
from generator.charts.palette import Style
from generator.charts.sheet import INK, Sheet
from generator.charts.wording import plain
from generator.records.presentation import Chart, Table

LEGEND_ROW = 19.0
_SWATCH = 34.0


@dataclass(frozen=True)
class Layout:
    """One form of a drawing: width and height [px], left and right margin [px], columns of its legend."""

    name: str
    width: int
    height: int
    left: float
    right: float
    columns: int

    @property
    def is_wide(self) -> bool:
        """Whether there is room for labels beside what they name."""
        return self.name == "wide"

    def with_height(self, height: float) -> Layout:
        """The same form at another height [px]."""
        return Layout(self.name, self.width, round(height), self.left, self.right, self.columns)

    def box(self, bottom: float, top: float) -> Box:
        """Plot area between two heights [px]."""
        return self.left, bottom, self.width - self.right, top


WIDE = Layout("wide", 720, 400, 44, 18, 4)
NARROW = Layout("narrow", 340, 320, 38, 12, 2)


def make_chart(
    identity: str, title: str, caption: str, alt: str, table: Table, draw: Callable[[Layout], Sheet]
) -> Chart:
    """Draw both forms and put the chart together; texts lose what cannot be drawn."""
    title, alt = plain(title), plain(alt)
    wide, narrow = (
        render_drawing(draw(layout), f"{identity}-{layout.name[0]}", title, alt) for layout in (WIDE, NARROW)
    )
    return Chart(identity, title, plain(caption), alt, table, wide, narrow)


def legend_rows(count: int, layout: Layout) -> int:
    """Rows that a legend of so many entries needs."""
    return -(-count // layout.columns)


def draw_legend(sheet: Sheet, layout: Layout, cast: Cast, candidates: Sequence[str], *, filled: bool = False) -> float:
    """Draw a legend at the top of the sheet; returns the height [px] that is left below it."""
    widest = (layout.width - 8) / layout.columns
    widths = [_SWATCH + text_width(cast.name(candidate)) + 18 for candidate in candidates]
    column = widest if not layout.is_wide else min(widest, max(widths, default=widest))
    for index, candidate in enumerate(candidates):
        row, place = divmod(index, layout.columns)
        x, y = 4 + place * column, sheet.height - 16 - row * LEGEND_ROW
        draw_swatch(sheet, x, y, cast.style(candidate), filled=filled)
        sheet.text(x + _SWATCH, y, shorten(cast.name(candidate), column - _SWATCH - 6))
    return sheet.height - 6 - legend_rows(len(candidates), layout) * LEGEND_ROW


def draw_swatch(sheet: Sheet, x: float, y: float, style: Style, *, filled: bool = False) -> None:
    """A candidate's line and marker, or its hatched field, left of a text on baseline y."""
    if filled:
        shape = np.array([[x, y - 2], [x + 26, y - 2], [x + 26, y + 10], [x, y + 10]])
        sheet.fill([shape], style.color, 0.22)
        sheet.hatch([shape], style.color, style.hatch, 0.6)
        sheet.stroke([shape], style.color, 1.2, closed=True)
        return
    sheet.stroke([np.array([[x, y + 4], [x + 28, y + 4]])], style.color, 2.2, style.dash)
    sheet.mark(x + 14, y + 4, style.marker, style.color, 4.2)


def draw_note(sheet: Sheet, x: float, y: float, text: str, width: float, *, anchor: str = "middle") -> None:
    """A remark inside a drawing, shortened to its width [px]."""
    sheet.text(x, y, shorten(text, width, TEXT_SIZE), anchor=anchor, color=INK, halo=True)
