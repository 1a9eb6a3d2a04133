"""The wide and the narrow form of a chart, legends, and the making of a Chart from both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from generator.charts.cast import Cast
from generator.charts.drawing import render_drawing, settings
from generator.charts.labels import Box, shorten, text_width
from generator.charts.palette import Style
from generator.charts.sheet import Sheet
from generator.charts.wording import plain
from generator.records.presentation import Chart, Table

Key = tuple[str, Callable[[float, float], None]]
LEGEND_ROW = 19.0
_SWATCH = 32.0
_GAP = 4.0


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

    def with_columns(self, columns: int) -> Layout:
        """The same form with another number of legend columns."""
        return replace(self, columns=columns)

    def box(self, bottom: float, top: float) -> Box:
        """Plot area between two heights [px]."""
        return self.left, bottom, self.width - self.right, top


WIDE = Layout("wide", 720, 400, 44, 18, 4)
NARROW = Layout("narrow", 320, 320, 40, 10, 2)


def make_chart(
    identity: str, title: str, caption: str, alt: str, table: Table, draw: Callable[[Layout], Sheet]
) -> Chart:
    """Draw both forms and put the chart together; texts lose what cannot be drawn."""
    title, alt = plain(title), plain(alt)
    with settings():
        wide, narrow = (
            render_drawing(draw(layout), f"{identity}-{layout.name[0]}", title, alt) for layout in (WIDE, NARROW)
        )
    return Chart(identity, title, plain(caption), alt, table, wide, narrow)


def legend_columns(layout: Layout, texts: Sequence[str]) -> int:
    """As many columns as the form allows and its longest text fits into."""
    longest = max((_SWATCH + text_width(text) + _GAP for text in texts), default=1.0)
    return max(1, min(layout.columns, int((layout.width - 4) // longest)))


def legend_height(layout: Layout, texts: Sequence[str]) -> float:
    """Height [px] that a legend of these texts takes at the top of a sheet."""
    rows = -(-len(texts) // legend_columns(layout, texts))
    return rows * LEGEND_ROW + 6 if texts else 0.0


def draw_keys(sheet: Sheet, layout: Layout, keys: Sequence[Key], below: float = 0.0) -> None:
    """Draw a legend, ``below`` px under the sheet's top: texts and what paints their swatches from x and baseline y."""
    texts = [text for text, _ in keys]
    columns = legend_columns(layout, texts)
    widest = (layout.width - 4) / columns
    longest = max((_SWATCH + text_width(text) + _GAP for text in texts), default=widest)
    for index, (text, paint) in enumerate(keys):
        row, place = divmod(index, columns)
        x, y = 4 + place * min(widest, longest + 16), sheet.height - below - 16 - row * LEGEND_ROW
        paint(x, y)
        sheet.text(x + _SWATCH, y, shorten(text, widest - _SWATCH - 4))


def draw_legend(sheet: Sheet, layout: Layout, cast: Cast, candidates: Sequence[str]) -> None:
    """A legend of candidates: line style and marker beside each name."""
    keys = [(cast.name(candidate), partial(draw_swatch, sheet, cast.style(candidate))) for candidate in candidates]
    draw_keys(sheet, layout, keys)


def draw_swatch(sheet: Sheet, style: Style, x: float, y: float) -> None:
    """A candidate's line and marker, left of a text on baseline y."""
    sheet.stroke([np.array([[x, y + 4], [x + 26, y + 4]])], style.color, 2.2, style.dash)
    sheet.mark(x + 13, y + 4, style.marker, style.color, 4.2)


def draw_field(sheet: Sheet, x: float, y: float, color: str, opacity: float, pattern: str) -> None:
    """A hatched field as swatch, left of a text on baseline y."""
    shape = np.array([[x, y - 2], [x + 26, y - 2], [x + 26, y + 10], [x, y + 10]])
    sheet.fill([shape], color, opacity)
    sheet.hatch([shape], color, pattern, 0.6)
    sheet.stroke([shape], color, 0.8, closed=True)
