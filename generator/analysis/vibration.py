"""Vibration traces: density with interval, the strongest peak and its damping, and the rms in a band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.analysis.density import band_power, density_interval, find_density
from generator.analysis.resonance_fit import (
    DISPLACEMENT,
    HalfPower,
    ResonanceFit,
    find_half_power,
    fit_resonance,
)
from generator.records.signals import Acceleration, Density

FIRST_PARTS, FEWEST_PARTS = 8, 3
"""Non-overlapping segments to begin with at least, and when a peak is too narrow for them [1]."""
LONGEST_SEGMENT = 2.0
"""Length of a segment to begin with at most [s]."""
LINES_PER_WIDTH = 3.0
TONE_REACH = 3
"""Lines left out on either side of a predicted tone [1]."""
SEARCH = (5.0, 500.0)
"""Where peaks are looked for unless a band is stated [Hz]."""
NOT_WHITE = "operating peak: moves at one speed do not excite all frequencies alike"
Array = NDArray[np.float64]


@dataclass(frozen=True)
class VibrationFigures:
    """What one trace gives: rms [m/s²] in band [Hz], density [(m/s²)²/Hz], its interval factors [1], and the peak."""

    density: Density
    band: tuple[float, float]
    rms: float
    interval: tuple[float, float] | None
    fit: ResonanceFit | None
    displacement: ResonanceFit | None
    half_power: HalfPower | None
    left_out: tuple[float, ...]


def find_trace(
    trace: Acceleration, tones: Sequence[float] = (), band: tuple[float, float] | None = None
) -> VibrationFigures:
    """Figures of one trace.

    Parameters
    ----------
    trace : Acceleration
        Evenly spaced samples [m/s²].
    tones : sequence of float [Hz]
        Predicted step and tooth tones; lines near them take no part in the peak.
    band : (low, high) [Hz] or None
        Where the rms is taken and the peak is looked for; default 5 Hz to 500 Hz.

    Returns
    -------
    VibrationFigures
        From segments of an eighth of the trace (at most 2 s), longer ones, up to a third of the trace, where the
        peak is narrower than three lines.
    """
    duration = len(trace.samples) / trace.rate
    figures = find_spectrum(_density(trace, min(duration / FIRST_PARTS, LONGEST_SEGMENT)), tones, band)
    fit = figures.fit
    if fit is None or 2 * fit.damping * fit.frequency >= LINES_PER_WIDTH * figures.density.resolution:
        return figures
    longer = min(duration / FEWEST_PARTS, LINES_PER_WIDTH / (2 * fit.damping * fit.frequency))
    finer = find_spectrum(_density(trace, longer), tones, band)
    return finer if finer.fit is not None else figures


def find_spectrum(
    density: Density, tones: Sequence[float] = (), band: tuple[float, float] | None = None
) -> VibrationFigures:
    """Figures of a ready density; parameters as ``find_trace``."""
    low, high = band or SEARCH
    high = min(high, float(density.frequency[-1]))
    left_out = near_tones(density, tones)
    near = find_peak(density, low, high, left_out)
    fit = None if near is None else fit_resonance(density, near, left_out)
    known = np.isfinite(density.averages)
    return VibrationFigures(
        density=density,
        band=(low, high),
        rms=float(np.sqrt(band_power(density, low, high))),
        interval=density_interval(density.averages) if known else None,
        fit=fit,
        displacement=None if fit is None else fit_resonance(density, fit.frequency, left_out, DISPLACEMENT),
        half_power=None if fit is None else find_half_power(density, fit),
        left_out=tuple(sorted(tone for tone in tones if low <= tone <= high)),
    )


def near_tones(density: Density, tones: Sequence[float]) -> NDArray[np.bool_]:
    """Which lines (k,) lie within three lines of a predicted tone [Hz]."""
    left_out = np.zeros(len(density.frequency), dtype=bool)
    for tone in tones:
        left_out |= np.abs(density.frequency - tone) <= (TONE_REACH + 0.5) * density.resolution
    return left_out


def find_peak(density: Density, low: float, high: float, left_out: NDArray[np.bool_]) -> float | None:
    """Frequency of the highest place of the density, smoothed over three lines [Hz]; None without lines to look at."""
    smooth = np.convolve(np.where(left_out, 0.0, density.density), np.ones(3) / 3, mode="same")
    f = density.frequency
    inside = (f >= max(low, 2 * density.resolution)) & (f <= high) & ~left_out
    if not np.any(inside):
        return None
    return float(f[inside][np.argmax(smooth[inside])])


def _density(trace: Acceleration, seconds: float) -> Density:
    return find_density(trace.samples, trace.rate, 2 * int(seconds * trace.rate / 2))
