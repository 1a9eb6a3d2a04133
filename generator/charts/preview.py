"""The picture that stands for a comparison where its address is shared: question, answer and candidates, as PNG."""

from __future__ import annotations

import io
import warnings

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg

from generator.charts.cast import Cast
from generator.charts.drawing import settings
from generator.charts.labels import shorten, wrap
from generator.charts.palette import ACCENT, CARD, MUTED, NEUTRAL, PAGE
from generator.charts.sheet import Sheet
from generator.charts.wording import plain

WIDTH, HEIGHT = 1200, 630
_MARGIN = 72.0
_ROOM = WIDTH - 2 * _MARGIN
_SHOWN = 4


def draw_preview(title: str, answer: str, cast: Cast, site: str = "", *, invented: bool = False) -> bytes:
    """Draw the social preview image.

    Parameters
    ----------
    title, answer : str
        The question and the answer in one sentence; shortened where they do not fit.
    cast : Cast
        Candidates with their styles; the first four are shown.
    site : str
        Name of the site.
    invented : bool
        Whether the data are invented; the picture then says so.

    Returns
    -------
    bytes
        PNG of 1200 × 630 px; the same for the same words.
    """
    with settings():
        sheet = Sheet(WIDTH, HEIGHT)
        sheet.fill([_box(0, 0, WIDTH, HEIGHT)], PAGE.light)
        sheet.fill([_box(0, HEIGHT - 16, WIDTH, HEIGHT)], ACCENT.light)
        top = _draw_lines(sheet, plain(title), 58, HEIGHT - 128, 3, bold=True)
        _draw_answer(sheet, plain(answer), top - 30)
        _draw_candidates(sheet, cast)
        note = "Invented data · " if invented else ""
        sheet.text(_MARGIN, 40, shorten(f"{note}{plain(site)}".strip(" ·"), _ROOM, 24), 24, color=MUTED.light)
        return _to_png(sheet)


def _box(left: float, bottom: float, right: float, top: float) -> np.ndarray:
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])


def _draw_lines(sheet: Sheet, text: str, size: float, y: float, most: int, *, bold: bool = False) -> float:
    """Draw a text in lines; returns the height below the last one."""
    for line in wrap(text, _ROOM - 40, size, most, bold=bold):
        sheet.text(_MARGIN, y, line, size, bold=bold)
        y -= 1.28 * size
    return y


def _draw_answer(sheet: Sheet, answer: str, y: float) -> None:
    lines = wrap(answer, _ROOM - 80, 32, 4 if y > 330 else 3)
    if not answer:
        return
    sheet.fill([_box(_MARGIN, y - 43 * (len(lines) - 1) - 14, _MARGIN + 7, y + 30)], ACCENT.light)
    for index, line in enumerate(lines):
        sheet.text(_MARGIN + 30, y - 43 * index, line, 32, color=NEUTRAL.light)


def _draw_candidates(sheet: Sheet, cast: Cast) -> None:
    shown = cast.ids[:_SHOWN]
    if not shown:
        return
    width = _ROOM / len(shown)
    sheet.fill([_box(_MARGIN, 84, WIDTH - _MARGIN, 148)], CARD.light)
    for index, candidate in enumerate(shown):
        style, x = cast.style(candidate), _MARGIN + 20 + index * width
        sheet.stroke([np.array([[x, 116], [x + 56, 116]])], style.color, 5, tuple(2 * part for part in style.dash))
        sheet.mark(x + 28, 116, style.marker, style.color, 11)
        name = shorten(cast.name(candidate), width - 110, 26)
        sheet.text(x + 72, 107, name, 26, color=style.color)


def _to_png(sheet: Sheet) -> bytes:
    buffer = io.BytesIO()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        FigureCanvasAgg(sheet.figure).print_png(buffer, metadata={"Software": None})
    return buffer.getvalue()
