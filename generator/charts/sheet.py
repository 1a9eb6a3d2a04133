"""A drawing sheet in pixels: paths, marks and text on a matplotlib Figure, and frames with scales upon it.

Artists are put on the Figure in pixels by our own scales, without matplotlib's axes: a drawing takes a quarter of the
time, every margin is fixed, and what is drawn later lies above. Coordinates are px from the lower left corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.backend_bases import RendererBase
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Bbox, IdentityTransform
from numpy.typing import ArrayLike, NDArray

from generator.charts.labels import SMALLEST, TEXT_SIZE, Box, text_width
from generator.charts.palette import MARKER_CORNERS, MUTED, NEUTRAL, RULE
from generator.charts.scale import Scale
from generator.charts.wording import plain

PER_INCH = 72
HALO = "halo"
_FILLED = (".", "*")
"""Hatches of filled marks, which look darker than lines."""
INK = NEUTRAL.light
_ALIGN: dict[str, Any] = {"start": "left", "middle": "center", "end": "right"}
Lines = Sequence[NDArray[np.float64]]


def _compound(lines: Lines, closed: bool) -> Path:
    """One path from several polylines [n × 2 each]."""
    if closed:
        lines = [np.vstack([line, line[:1]]) for line in lines]
    codes = np.full(sum(len(line) for line in lines), Path.LINETO, dtype=Path.code_type)
    ends = np.cumsum([len(line) for line in lines])
    codes[np.concatenate([[0], ends[:-1]])] = Path.MOVETO
    if closed:
        codes[ends - 1] = Path.CLOSEPOLY
    return Path(np.round(np.vstack(list(lines)), 1), codes)


class _Label(Text):
    """Text drawn where it stands, on its baseline: the reader's font sets its width, so there is nothing to lay out."""

    def draw(self, renderer: RendererBase) -> None:
        """Hand the text to the renderer without measuring it, which is the dearest part of a drawing."""
        x, y = self.get_position()
        context = renderer.new_gc()
        context.set_foreground(self.get_color())
        renderer.open_group("text", self.get_gid())
        up = renderer.get_canvas_width_height()[1] - y if renderer.flipy() else y
        renderer.draw_text(context, x, up, self.get_text(), self.get_fontproperties(), 0.0, ismath=False, mtext=self)
        renderer.close_group("text")
        context.restore()


class Sheet:
    """A transparent sheet of width × height [px]."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self.figure = Figure(figsize=(width / PER_INCH, height / PER_INCH), dpi=PER_INCH, frameon=False)
        self._above = 0

    def _add(self, artist: PathPatch | Text, clip: Box | None = None) -> None:
        self._above += 1
        artist.set_zorder(self._above)
        self.figure.add_artist(artist, clip=False)
        if clip is not None:
            artist.set_clip_box(Bbox.from_extents(*clip))

    def stroke(
        self,
        lines: Lines,
        color: str,
        width: float = 1.5,
        dash: Sequence[float] = (),
        *,
        opacity: float = 1.0,
        closed: bool = False,
        clip: Box | None = None,
    ) -> None:
        """Stroke polylines [n × 2, px]; dash [px on, off, …]."""
        lines = [line for line in lines if len(line)]
        if not lines:
            return
        style = (0, tuple(part / width for part in dash)) if dash else "solid"
        patch = PathPatch(
            _compound(lines, closed),
            fill=False,
            edgecolor=(color, opacity),
            linewidth=width,
            linestyle=style,
            joinstyle="round",
            transform=IdentityTransform(),
        )
        self._add(patch, clip)

    def fill(self, shapes: Lines, color: str, opacity: float = 1.0, *, clip: Box | None = None) -> None:
        """Fill polygons [n × 2, px]."""
        shapes = [shape for shape in shapes if len(shape) > 2]
        if shapes:
            path = _compound(shapes, closed=True)
            self._add(PathPatch(path, facecolor=(color, opacity), linewidth=0, transform=IdentityTransform()), clip)

    def hatch(self, shapes: Lines, color: str, pattern: str, opacity: float, *, clip: Box | None = None) -> None:
        """Hatch polygons [n × 2, px]."""
        shapes = [shape for shape in shapes if len(shape) > 2]
        opacity *= 0.6 if pattern in _FILLED else 1.0
        if shapes and pattern:
            patch = PathPatch(
                _compound(shapes, closed=True),
                facecolor="none",
                edgecolor=(color, opacity),
                linewidth=0,
                hatch=pattern,
                transform=IdentityTransform(),
            )
            self._add(patch, clip)

    def mark(self, x: float, y: float, marker: str, color: str, size: float = 4.0, *, back: str | None = None) -> None:
        """A marker of about ``size`` in radius; hollow, over ``back``, where that is given."""
        corners = np.array([x, y]) + size * np.array(MARKER_CORNERS[marker])
        if back is None:
            self.fill([corners], color)
        else:
            self.fill([corners], back)
            self.stroke([corners], color, 1.6, closed=True)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = TEXT_SIZE,
        *,
        anchor: str = "start",
        color: str = INK,
        bold: bool = False,
        halo: bool = False,
    ) -> None:
        """Text on its baseline; halo clears what lies behind the letters."""
        artist = _Label(
            round(x, 1),
            round(y, 1),
            plain(text),
            fontsize=size,
            color=color,
            horizontalalignment=_ALIGN[anchor],
            verticalalignment="baseline",
            fontweight="bold" if bold else "normal",
            fontfamily="DejaVu Sans",
            transform=IdentityTransform(),
        )
        if halo:
            artist.set_gid(HALO)
        self._add(artist)


@dataclass
class Frame:
    """A plot area on a sheet: its box [px] and a scale along each side."""

    sheet: Sheet
    box: Box
    x: Scale
    y: Scale

    def points(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Figures as pixels [n × 2]."""
        left, bottom, right, top = self.box
        across, up = np.broadcast_arrays(self.x.share(x), self.y.share(y))
        return np.column_stack([np.ravel(left + across * (right - left)), np.ravel(bottom + up * (top - bottom))])

    def point(self, x: float, y: float) -> tuple[float, float]:
        """One figure as a pixel."""
        found = self.points([x], [y])[0]
        return float(found[0]), float(found[1])

    def line(
        self,
        x: ArrayLike,
        y: ArrayLike,
        color: str,
        width: float = 1.5,
        dash: Sequence[float] = (),
        *,
        opacity: float = 1.0,
    ) -> NDArray[np.float64]:
        """Draw a curve, with gaps where figures are missing; returns its pixels."""
        points = self.points(x, y)
        self.sheet.stroke(split_gaps(points), color, width, dash, opacity=opacity, clip=self.box)
        return points

    def inside(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Those of some pixels that lie in the plot area."""
        left, bottom, right, top = self.box
        x, y = points[:, 0], points[:, 1]
        return points[(left <= x) & (x <= right) & (bottom <= y) & (y <= top)]

    def band(
        self, x: ArrayLike, low: ArrayLike, high: ArrayLike, color: str, opacity: float, pattern: str = ""
    ) -> None:
        """Fill between two curves; hatched where a pattern is given."""
        shapes = band_shapes(self.points(x, low), self.points(x, high))
        self.sheet.fill(shapes, color, opacity, clip=self.box)
        self.sheet.hatch(shapes, color, pattern, min(1.0, opacity * 2.2), clip=self.box)

    def draw_axes(self, x_title: str, y_title: str, *, vertical_grid: bool = False) -> None:
        """Grid, tick labels and titles: the y title above the axis, the x title below it."""
        self.draw_y_axis(y_title)
        self.draw_x_axis(x_title, grid=vertical_grid)

    def draw_y_axis(self, title: str = "") -> None:
        """Horizontal grid lines, their labels at the left, the title above."""
        left, _, right, top = self.box
        heights = self.points([self.x.low], self.y.ticks)[:, 1]
        self.sheet.stroke([np.array([[left, up], [right, up]]) for up in heights], RULE.light, 1.0)
        for up, label in zip(heights, self.y.labels(), strict=True):
            self.sheet.text(left - 7, up - 4, label, SMALLEST, anchor="end", color=MUTED.light)
        if title:
            self.sheet.text(4, top + 13, title, TEXT_SIZE, color=INK)

    def draw_x_axis(self, title: str = "", *, grid: bool = False) -> None:
        """The base line, ticks with labels under it, the title below at the right end."""
        left, bottom, right, top = self.box
        places = self.points(self.x.ticks, [self.y.low])[:, 0]
        if grid:
            self.sheet.stroke([np.array([[across, bottom], [across, top]]) for across in places], RULE.light, 1.0)
        ticks = [np.array([[across, bottom], [across, bottom - 5]]) for across in places]
        self.sheet.stroke([np.array([[left, bottom], [right, bottom]]), *ticks], MUTED.light, 1.0)
        for across, label in zip(places, self.x.labels(), strict=True):
            middle = min(across, self.sheet.width - text_width(label, SMALLEST) / 2 - 1)
            self.sheet.text(middle, bottom - 17, label, SMALLEST, anchor="middle", color=MUTED.light)
        if title:
            self.sheet.text(right, bottom - 34, title, TEXT_SIZE, anchor="end", color=INK)


def split_gaps(points: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """The unbroken parts of a polyline [n × 2]."""
    finite = np.isfinite(points).all(axis=1)
    edges = np.flatnonzero(np.diff(finite.astype(int))) + 1
    return [part for part in np.split(points, edges) if len(part) and np.isfinite(part[0]).all()]


def band_shapes(low: NDArray[np.float64], high: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Polygons between two polylines over the same x."""
    both = np.hstack([low, high])
    return [np.vstack([part[:, :2], part[::-1, 2:]]) for part in split_gaps(both) if len(part) > 1]
