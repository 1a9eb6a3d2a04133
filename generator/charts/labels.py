"""Where labels go: the width of text, shortening, and a search for a place that hides nothing.

The reader's own font draws the text, so widths are estimated on the wide side from the characters alone.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

TEXT_SIZE = 12.0
"""Size of chart text [px]; nothing is smaller than ``SMALLEST``."""
SMALLEST = 11.5
_NARROW = set("iljtfrI.,:;'|!()[] ·")
_WIDE = set("mwMW@%—…")

_LEVEL = 18.0
"""How far a line may rise or fall [px] along a text that names it."""
_BELOW = 2
"""Fewer places below a line, where the next one of its corridor is near."""
_APART = 6.0
"""Lines nearer to one another [px] run together: no text tells one from the other."""
Box = tuple[float, float, float, float]


def text_width(text: str, size: float = TEXT_SIZE, *, bold: bool = False) -> float:
    """Estimated width [px]."""
    return size * (1.18 if bold else 1.0) * sum(_character_width(character) for character in text)


def _character_width(character: str) -> float:
    if character in _NARROW:
        return 0.34
    if character in _WIDE:
        return 0.92
    if unicodedata.east_asian_width(character) in "WF":
        return 1.02
    if unicodedata.combining(character):
        return 0.0
    return 0.68 if character.isupper() else 0.58


def shorten(text: str, width: float, size: float = TEXT_SIZE, *, bold: bool = False) -> str:
    """The text, or its start and an ellipsis, no wider than ``width`` [px]."""
    if text_width(text, size, bold=bold) <= width:
        return text
    kept = text
    while kept and text_width(kept + "…", size, bold=bold) > width:
        kept = kept[:-1]
    return kept.rstrip() + "…"


def wrap(text: str, width: float, size: float = TEXT_SIZE, lines: int = 2, *, bold: bool = False) -> list[str]:
    """The text in at most ``lines`` lines no wider than ``width`` [px]; the last one shortened."""
    found: list[str] = []
    words = text.split(" ")
    while words and len(found) < lines - 1:
        row = words.pop(0)
        while words and text_width(f"{row} {words[0]}", size, bold=bold) <= width:
            row = f"{row} {words.pop(0)}"
        found.append(shorten(row, width, size, bold=bold))
    return [*found, shorten(" ".join(words), width, size, bold=bold)] if words else found


@dataclass
class Room:
    """The free room of a drawing [px, y up]: its bounds, the boxes taken and the points of lines to keep clear."""

    bounds: Box
    boxes: list[Box] = field(default_factory=list)
    points: list[NDArray[np.float64]] = field(default_factory=list)

    def keep_box(self, left: float, bottom: float, right: float, top: float) -> None:
        """Take a box."""
        self.boxes.append((left, bottom, right, top))

    def keep_line(self, points: NDArray[np.float64], spacing: float = 4.0) -> None:
        """Keep a polyline [n × 2] clear, sampled at least every ``spacing`` px."""
        points = points[np.isfinite(points).all(axis=1)]
        if len(points) < 2:
            self.points.append(points)
            return
        lengths = np.hypot(*np.diff(points, axis=0).T)
        along = np.concatenate([[0.0], np.cumsum(lengths)])
        wanted = np.linspace(0.0, along[-1], max(2, int(along[-1] / spacing) + 1))
        self.points.append(np.column_stack([np.interp(wanted, along, points[:, axis]) for axis in (0, 1)]))

    def is_free(self, box: Box) -> bool:
        """Whether a box lies in the bounds and touches nothing that is taken."""
        left, bottom, right, top = box
        inside = (
            self.bounds[0] <= left and self.bounds[1] <= bottom and right <= self.bounds[2] and top <= self.bounds[3]
        )
        if not inside or any(left < b[2] and b[0] < right and bottom < b[3] and b[1] < top for b in self.boxes):
            return False
        return not any(
            np.any((left < line[:, 0]) & (line[:, 0] < right) & (bottom < line[:, 1]) & (line[:, 1] < top))
            for line in self.points
        )

    def place(
        self, text: str, anchors: Iterable[tuple[float, float, str]], size: float = TEXT_SIZE
    ) -> tuple[float, float, str] | None:
        """The first anchor (x, baseline, start | middle | end) [px] where the text hides nothing; then it is taken."""
        for x, y, anchor in anchors:
            box = text_box(text, x, y, anchor, size)
            if self.is_free(box):
                self.boxes.append(box)
                return x, y, anchor
        return None


def text_box(text: str, x: float, y: float, anchor: str = "start", size: float = TEXT_SIZE) -> Box:
    """The box of a text on a baseline [px, y up], with a little room around it."""
    width = text_width(text, size)
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    return left - 2, y - 0.28 * size, left + width + 2, y + 0.92 * size


def along_line(
    points: NDArray[np.float64],
    shares: Sequence[float],
    width: float,
    gap: float = 7.0,
    others: Sequence[NDArray[np.float64]] = (),
) -> list[tuple[float, float, str]]:
    """Anchors for a text of that width [px] beside a polyline [n × 2, px], the best first.

    The text stands close above or below a fairly level stretch of the line, at the given shares of its length in x:
    early shares, places next to the line and the most level stretches come first. No place is nearer to one of the
    ``others`` than to the line itself, nor where the two run together.
    """
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 2:
        return []
    ranked = []
    for index, share in enumerate(shares):
        middle = float(points[0, 0] + share * (points[-1, 0] - points[0, 0]))
        for anchor, left in (("middle", middle - width / 2), ("start", middle), ("end", middle - width)):
            under = np.linspace(left, left + width, 9)
            heights = np.interp(under, points[:, 0], points[:, 1])
            low, high = float(heights.min()), float(heights.max())
            for step in range(4) if high - low < _LEVEL else ():
                cost = 3 * step + index + (high - low) / 5
                ranked.append((cost, (middle, high + gap + 7 * step, anchor)))
                if step < _BELOW:
                    ranked.append((cost + 0.5, (middle, low - gap - 10 - 7 * step, anchor)))
    places = [place for _, place in sorted(ranked, key=lambda entry: entry[0])]
    return [place for place in places if all(_is_nearer(place, width, points, other) for other in others)]


def _is_nearer(
    place: tuple[float, float, str], width: float, points: NDArray[np.float64], other: NDArray[np.float64]
) -> bool:
    """Whether a text at a place stands clearly at one polyline [n × 2, px] and not at the other."""
    x, y, anchor = place
    middle = x + {"start": width / 2, "middle": 0.0, "end": -width / 2}[anchor]
    other = other[np.isfinite(other).all(axis=1)]
    if len(other) < 2 or not other[0, 0] <= middle <= other[-1, 0]:
        return True
    own, second = (float(np.interp(middle, line[:, 0], line[:, 1])) for line in (points, other))
    centre = y + 0.3 * TEXT_SIZE
    return abs(own - second) > _APART and abs(centre - own) < abs(centre - second)
