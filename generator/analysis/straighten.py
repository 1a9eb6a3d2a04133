"""Rows of a band laid on one another: the photo's turn found from all bands together, and a straight mean profile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

STEEPEST = 0.18
"""Largest turn of the photo that is straightened, as a tangent [1] (10°)."""
STRONGEST_LINES = 24
STRAIGHT = 0.1
"""Shift between middle and edge of a band under which nothing is moved [px]."""
TAPS = 8
TAP_PLACES = np.arange(-TAPS // 2, TAPS // 2)
"""Neighbours that a shifted row is interpolated from [columns]."""
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Strips:
    """Parts of a band: means (parts, columns) [1], NaN where the turned band does not reach; centres (parts,) [px]."""

    means: Array
    centres: Array


def find_turn(bands: Sequence[Strips], least_pixels: float, least_cycles: int) -> float:
    """Turn of the photo as a tangent [1]: the shift per pixel down that best joins the strips of all bands.

    Parameters
    ----------
    bands : sequence of Strips
        Cut straight, without NaN.
    least_pixels : float
        Shortest wavelength that counts [px].
    least_cycles : int
        Fewest cycles along the band that count.

    Returns
    -------
    float
        Columns that the pattern moves right per pixel down; 0 where the best one lies at the end of what is searched.

    Source: cross-correlation of the rows at every lag, taken in the frequency domain.
    """
    lines = [_Lines(band, least_pixels, least_cycles) for band in bands if len(band.centres) > 1]
    if not lines:
        return 0.0
    span = max(float(np.ptp(band.centres)) for band in bands)
    slopes = np.linspace(-STEEPEST, STEEPEST, 2 * int(np.ceil(STEEPEST * span)) + 1)
    best = int(np.argmax(_join(lines, slopes)))
    if best in (0, len(slopes) - 1):
        return 0.0
    return _refine(lines, slopes[best] + (slopes[1] - slopes[0]) * np.linspace(-1, 1, 17))


def straighten(strips: Strips, turn: float) -> Array:
    """Mean profile (columns,) of strips that a turn [1] has moved, over the longest run of columns that any covers."""
    known = np.isfinite(strips.means)
    filled = np.where(known, strips.means, np.nanmean(strips.means))
    moves = -turn * (strips.centres - np.mean(strips.centres))
    if np.max(np.abs(moves)) >= STRAIGHT:
        filled = np.stack([_shift(row, by) for row, by in zip(filled, moves.tolist(), strict=True)])
        known = _moved(known, moves)
    total = known.sum(axis=0)
    first, last = _longest_run(total > 0)
    return np.asarray((filled * known).sum(axis=0)[first:last] / total[first:last], dtype=float)


def _shift(row: Array, by: float) -> Array:
    """A row moved right by a fraction of columns: Lagrange's polynomial through eight neighbours, ends repeated."""
    whole = int(np.floor(by))
    rest = by - whole
    reach = TAPS // 2 + abs(whole) + 1
    padded = np.pad(row, reach, mode="edge")
    moved = np.zeros(len(row))
    for tap in TAP_PLACES:
        others = TAP_PLACES[tap != TAP_PLACES]
        weight = float(np.prod((-rest - others) / (tap - others)))
        first = reach - whole + int(tap)
        moved += weight * padded[first : first + len(row)]
    return moved


def _moved(known: NDArray[np.bool_], moves: Array) -> NDArray[np.bool_]:
    """Where both neighbours of a moved column are known."""
    source = np.arange(known.shape[1]) - moves[:, None]
    lower, last = np.floor(source).astype(int), known.shape[1] - 1
    pair = (np.clip(lower, 0, last), np.clip(lower + 1, 0, last))
    return np.asarray(np.take_along_axis(known, pair[0], axis=1) & np.take_along_axis(known, pair[1], axis=1))


class _Lines:
    """The strongest lines of a band's strips, each with the frequency of the sine that it belongs to."""

    def __init__(self, band: Strips, least_pixels: float, least_cycles: int) -> None:
        level = band.means - band.means.mean(axis=1, keepdims=True)
        lines = fft.rfft(level * np.hanning(level.shape[1]), axis=1)
        frequency = np.arange(lines.shape[1]) / level.shape[1]
        power = np.sum(np.abs(lines) ** 2, axis=0)
        power[frequency > 1 / least_pixels] = 0.0
        power[:least_cycles] = 0.0
        # a sine between two lines leaks into several, yet shifts with its own frequency
        near = np.ones(5)
        total = np.maximum(np.convolve(power, near, "same"), 1e-300)
        chosen = np.argsort(power)[-STRONGEST_LINES:]
        self.frequency = (np.convolve(power * frequency, near, "same") / total)[chosen]
        self.lines = lines[:, chosen]
        self.place = band.centres - np.mean(band.centres)
        self.scale = max(float(np.sum(power[chosen] ** 2)), 1e-300)

    def join(self, slopes: Array) -> Array:
        """How well each slope lays the strips on one another (slopes,): squared power of the joined lines."""
        turned = np.exp(2j * np.pi * slopes[:, None, None] * self.place[None, :, None] * self.frequency)
        power = np.abs(np.sum(turned * self.lines, axis=1)) ** 2
        return np.asarray(np.sum(power**2, axis=1) / self.scale, dtype=float)


def _join(bands: Sequence[_Lines], slopes: Array) -> Array:
    return np.asarray(np.sum([band.join(slopes) for band in bands], axis=0), dtype=float)


def _refine(bands: Sequence[_Lines], slopes: Array) -> float:
    """The best of close slopes, from a parabola through the three about it."""
    fits = _join(bands, slopes)
    k = int(np.clip(np.argmax(fits), 1, len(slopes) - 2))
    left, top, right = fits[k - 1 : k + 2]
    bend = left - 2 * top + right
    return float(slopes[k] + (0.5 * (left - right) / bend if bend < 0 else 0.0) * (slopes[1] - slopes[0]))


def _longest_run(known: NDArray[np.bool_]) -> tuple[int, int]:
    """First and one past the last of the longest run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int))).reshape(-1, 2)
    first, last = edges[np.argmax(edges[:, 1] - edges[:, 0])].tolist()
    return first, last
