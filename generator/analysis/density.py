"""Spectral density by averaged, overlapped Hann segments, in blocks so that memory stays near the signal's own."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.special import chdtri

from generator.records.signals import Density

BLOCK = 1 << 19
OVERLAP_CORRELATION = 1 / 36
"""Squared correlation of neighbouring Hann segments that overlap by half [1]."""
Array = NDArray[np.float64]


def find_density(samples: NDArray[np.floating], rate: float, segment: int, weights: Array | None = None) -> Density:
    """Estimate the one-sided spectral density by Welch's method.

    Parameters
    ----------
    samples : array (k,) [signal]
        Evenly spaced samples; each segment's mean is removed.
    rate : float [Hz]
        Sample rate.
    segment : int
        Samples per segment; segments overlap by half.
    weights : array (segment // 2 + 1,) or None [1]
        Power weights by frequency; each segment's weighted power is then returned too.

    Returns
    -------
    Density
        density [signal²/Hz] at multiples of rate/segment [Hz]; powers [signal²] per segment.

    Assumes: a stationary signal of at least one segment. Valid for: even segments.
    Source: Welch 1967, IEEE Trans. Audio Electroacoust. 15:70. Checked against scipy.signal.welch.
    """
    window = np.hanning(segment + 1)[:-1].astype(samples.dtype)
    count = max(1, (len(samples) - segment) // (segment // 2) + 1)
    scale = 1.0 / (rate * float(np.sum(window.astype(float) ** 2)))
    power_weights = None if weights is None else (weights * _one_sided(segment) * scale * rate / segment)
    total = np.zeros(segment // 2 + 1)
    powers = np.zeros(count)
    per_block = max(1, BLOCK // segment)
    for first in range(0, count, per_block):
        chosen = range(first, min(first + per_block, count))
        squares = _squares(samples, window, chosen)
        total += squares.sum(axis=0, dtype=np.float64)
        if power_weights is not None:
            # not a matrix product: libraries sum those in an order of their own on each kind of processor
            powers[chosen.start : chosen.stop] = (squares * power_weights.astype(squares.dtype)).sum(1, dtype=float)
    return Density(
        frequency=np.asarray(np.arange(segment // 2 + 1) * (rate / segment), dtype=float),
        density=total * scale / count * _one_sided(segment),
        averages=effective_averages(count),
        duration=len(samples) / rate,
        powers=None if weights is None else powers,
    )


def effective_averages(count: int) -> float:
    """Independent averages that ``count`` Hann segments, half overlapped, are worth [1]."""
    return count / (1 + 2 * OVERLAP_CORRELATION * (count - 1) / count)


def density_interval(averages: float, confidence: float = 0.95) -> tuple[float, float]:
    """Factors on an estimated density that bound the true one [1].

    Source: χ² with 2·averages degrees of freedom; Bendat & Piersol, Random Data, 8.5 (section from memory).
    """
    tail = (1 - confidence) / 2
    freedom = 2 * averages
    return float(freedom / chdtri(freedom, tail)), float(freedom / chdtri(freedom, 1 - tail))


def band_power(density: Density, low: Array | float, high: Array | float) -> Array:
    """Power between two frequencies [signal²]; a line counts by the share of its cell that lies inside."""
    step = density.resolution
    edges = np.concatenate([[0.0], density.frequency + step / 2])
    cells = np.concatenate([[0.0], np.cumsum(density.density * step)])
    return np.interp(high, edges, cells) - np.interp(low, edges, cells)


def find_floor(frequency: Array, density: Array, cells_per_octave: int = 6, least: int = 40) -> Array:
    """Median of the density in cells that widen with frequency, joined by straight lines [signal²/Hz]."""
    edges = [1]
    while edges[-1] < len(frequency):
        edges.append(max(edges[-1] + least, round(edges[-1] * 2 ** (1 / cells_per_octave))))
    edges[-1] = len(frequency)
    if len(edges) > 2 and edges[-1] - edges[-2] < least:
        del edges[-2]
    pairs = list(pairwise(edges))
    middles = [float(np.mean(frequency[a:b])) for a, b in pairs]
    medians = [float(np.median(density[a:b])) for a, b in pairs]
    return np.interp(frequency, middles, medians)


def _squares(samples: NDArray[np.floating], window: NDArray[np.floating], chosen: range) -> NDArray[np.floating]:
    """Squared magnitudes of the windowed segments, two-sided scale."""
    segment, step = len(window), len(window) // 2
    if len(samples) < segment:
        samples = np.concatenate([samples, np.zeros(segment - len(samples), samples.dtype)])
    part = samples[chosen.start * step : (chosen.stop - 1) * step + segment]
    pieces = np.lib.stride_tricks.sliding_window_view(part, segment)[::step]
    lines = fft.rfft((pieces - pieces.mean(axis=1, keepdims=True)) * window, axis=1)
    return lines.real**2 + lines.imag**2


def _one_sided(segment: int) -> Array:
    factor = np.full(segment // 2 + 1, 2.0)
    factor[0] = 1.0
    if segment % 2 == 0:
        factor[-1] = 1.0
    return factor
