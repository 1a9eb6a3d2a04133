"""Parts that the charts of recordings share: thinning of long spectra, stepped bands, marks with a name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.charts.labels import SMALLEST, Room, text_width
from generator.charts.sheet import Frame

Array = NDArray[np.float64]


def figures(values: Sequence[float | None]) -> Array:
    """Figures as floats; NaN where one is missing."""
    return np.array([np.nan if value is None else value for value in values], dtype=float)


def thin_spectrum(points: Array, spacing: float = 1.0) -> Array:
    """At most a lowest and a highest point per ``spacing`` px of a curve [n × 2, px], so that no peak is lost."""
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 4:
        return points
    columns = np.floor(points[:, 0] / spacing).astype(int)
    starts = np.flatnonzero(np.concatenate([[True], np.diff(columns) != 0]))
    kept: list[int] = []
    for start, end in zip(starts, [*starts[1:], len(points)], strict=True):
        heights = points[start:end, 1]
        kept += sorted({int(start + heights.argmin()), int(start + heights.argmax())})
    return points[kept]


def draw_spectrum(frame: Frame, x: Array, y: Array, color: str, dash: Sequence[float], width: float = 1.3) -> Array:
    """Draw a long curve thinned to the pixels that it has; returns them."""
    points = thin_spectrum(frame.points(x, y))
    frame.sheet.stroke([points], color, width, dash, clip=frame.box)
    return points


def step_points(frame: Frame, centres: Array, levels: Array) -> Array:
    """The outline of bands as a stair, on a logarithmic frequency scale [n × 2, px]."""
    ratio = (centres[1:] / centres[:-1]) ** 0.5 if len(centres) > 1 else np.array([10**0.05])
    low = centres / np.concatenate([ratio[:1], ratio])
    high = centres * np.concatenate([ratio, ratio[-1:]])
    edges = np.column_stack([low, high]).ravel()
    points = frame.points(np.clip(edges, frame.x.low, frame.x.high), np.repeat(levels, 2))
    return points[np.isfinite(points).all(axis=1)]


@dataclass(frozen=True)
class Peak:
    """A peak to be named: where [figures], texts from the fullest to the shortest, colour."""

    x: float
    y: float
    texts: tuple[str, ...]
    color: str


def name_peaks(frame: Frame, room: Room, peaks: Sequence[Peak]) -> None:
    """Name peaks, highest first: the fullest text that fits above its peak, with a thin leader."""
    widest = 0.55 * (frame.box[2] - frame.box[0])
    for peak in sorted(peaks, key=lambda peak: -peak.y):
        across, up = frame.point(peak.x, peak.y)
        if not np.isfinite([across, up]).all():
            continue
        places = [
            (across + aside, up + rise, anchor)
            for rise in (9.0, 20.0, 32.0, 46.0, 60.0, 74.0)
            for anchor, aside in (("middle", 0.0), ("start", -4.0), ("end", 4.0))
        ]
        for text in peak.texts:
            spot = room.place(text, places, SMALLEST) if text_width(text, SMALLEST) <= widest else None
            if spot is not None:
                frame.sheet.stroke([np.array([[across, up + 4], [across, spot[1] - 3]])], peak.color, 0.8)
                frame.sheet.text(spot[0], spot[1], text, SMALLEST, anchor=spot[2], color=peak.color, halo=True)
                break
