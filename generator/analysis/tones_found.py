"""Tones in a sound spectrum: found, and weighed for prominence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from generator.analysis.density import band_power, find_floor
from generator.records.signals import Density

LOWEST, HIGHEST = 89.1, 11_220.0
"""Range of the prominence measures [Hz] (ECMA-418-1)."""
FALSE_TONES = 0.01
"""Chance that noise alone yields any tone [1]."""
LEAST_RISE = 4.0
"""A line must exceed the local floor by this factor at least [1] (6 dB)."""
LOBE_MARGIN = 4.0
"""A peak this much above what leaks there from a stronger one is a tone of its own [1]."""
WIDEST_SHARE = 0.15
"""Widest tone as a share of its critical band [1] (ECMA-418-1, value from memory)."""
Array = NDArray[np.float64]


@dataclass(frozen=True)
class FoundTone:
    """A tone: frequency [Hz], power [signal²], tone-to-noise ratio and prominence ratio [dB] with their limits [dB]."""

    frequency: float
    power: float
    tone_to_noise: float
    tone_to_noise_limit: float
    prominence: float
    prominence_limit: float

    @property
    def prominent(self) -> bool:
        """Whether either measure reaches its limit."""
        return self.tone_to_noise >= self.tone_to_noise_limit or self.prominence >= self.prominence_limit


# --- the measures -------------------------------------------------------------------------------------------------


def critical_band(frequency: float) -> tuple[float, float]:
    """Edges of the critical band around a frequency [Hz].

    Source: ECMA-418-1 (formerly ECMA-74, annex D), formulas as general libraries implement them.
    """
    width = 25 + 75 * (1 + 1.4 * (frequency / 1000) ** 2) ** 0.69
    if frequency < 500:
        return frequency - width / 2, frequency + width / 2
    low = -width / 2 + np.sqrt(width**2 + 4 * frequency**2) / 2
    return float(low), float(low + width)


def outer_edges(frequency: float) -> tuple[float, float]:
    """Outer edges of the lower and the upper neighbouring band [Hz]. Source: as critical_band."""
    f = frequency
    if f > 1600:
        return 6.8 + 0.806 * f - 8.2e-6 * f * f, 3.3 + 1.215 * f + 2.16e-5 * f * f
    low = 20.0 if f < 171.4 else -149.5 + 1.001 * f - 6.9e-5 * f * f
    return low, 149.5 + 1.035 * f + 7.7e-5 * f * f


def tone_to_noise_limit(frequency: float) -> float:
    """Tone-to-noise ratio from which a tone is prominent [dB]. Source: as critical_band."""
    return 8.0 + (8.33 * np.log10(1000 / frequency) if frequency < 1000 else 0.0)


def prominence_limit(frequency: float) -> float:
    """Prominence ratio from which a tone is prominent [dB]. Source: as critical_band."""
    return 9.0 + (10 * np.log10(1000 / frequency) if frequency < 1000 else 0.0)


def proximity(frequency: float) -> float:
    """Distance within which two tones of one critical band are heard as one [Hz]. Source: as critical_band."""
    return float(21 * 10 ** (1.2 * np.abs(np.log10(frequency / 212)) ** 1.8))


def prominence_ratio(density: Density, frequency: float) -> float:
    """Level of the critical band over the mean of its two neighbours [dB]. Source: as critical_band."""
    low, high = critical_band(frequency)
    outer_low, outer_high = outer_edges(frequency)
    middle = float(band_power(density, low, high))
    below = float(band_power(density, outer_low, low))
    above = float(band_power(density, high, outer_high))
    if frequency <= 171.4:
        below *= 100 / (low - outer_low)
    return float(10 * np.log10(middle / ((below + above) / 2)))


def tone_to_noise_ratio(density: Density, frequency: float, power: float, is_tone: NDArray[np.bool_]) -> float:
    """Level of a tone over the noise in its critical band [dB].

    Parameters
    ----------
    density : Density
        Spectrum [signal²/Hz].
    frequency, power : float
        The tone's [Hz] and [signal²], near tones that are heard as one included.
    is_tone : array (k,)
        Lines that belong to any tone; they are no noise.

    Source: as critical_band.
    """
    low, high = critical_band(frequency)
    inside = (density.frequency >= low) & (density.frequency <= high) & ~is_tone
    noise = float(np.mean(density.density[inside])) * (high - low)
    return float(10 * np.log10(power / noise))


# --- finding ------------------------------------------------------------------------------------------------------


def find_tones(density: Density) -> list[FoundTone]:
    """Find the tones of a spectrum, weakest frequency first.

    Parameters
    ----------
    density : Density
        Spectrum by Hann segments [signal²/Hz].

    Returns
    -------
    list of FoundTone
        Every line of 89.1 Hz to 11.22 kHz that rises from the local floor by more than noise would.

    Assumes: lines much narrower than a critical band; Valid for: resolution of about 1 % of the tone or finer.
    Source: as critical_band; the threshold is the χ² quantile of the strongest of all lines.
    """
    f, p = density.frequency, density.density
    floor = find_floor(f, p)
    rise = max(LEAST_RISE, _noise_rise(density))
    top = min(HIGHEST, f[-1] * 0.95)
    inside = (f[1:-1] >= LOWEST) & (f[1:-1] <= top)
    peaks = 1 + np.flatnonzero(inside & (p[1:-1] >= p[:-2]) & (p[1:-1] > p[2:]) & (p[1:-1] > rise * floor[1:-1]))
    peaks = _without_side_lobes(p, peaks)
    spans = _separate(p, peaks, [_span(density, floor, int(k)) for k in peaks])
    return _weigh(density, floor, spans)


def _noise_rise(density: Density) -> float:
    """How far the strongest line of pure noise rises above the median line [1]."""
    freedom = 2 * density.averages
    return float(chdtri(freedom, FALSE_TONES / len(density.frequency)) / chdtri(freedom, 0.5))


def _span(density: Density, floor: Array, peak: int) -> tuple[int, int]:
    """First and last line of the tone that peaks at a line: down to twice the floor, or to where it rises again."""
    p = density.density
    low, high = critical_band(density.frequency[peak])
    most = max(2, int(WIDEST_SHARE * (high - low) / 2 / density.resolution))
    first = last = peak
    while peak - first < most and first > 1 and 2 * floor[first - 1] < p[first - 1] <= p[first]:
        first -= 1
    while last - peak < most and last < len(p) - 2 and 2 * floor[last + 1] < p[last + 1] <= p[last]:
        last += 1
    return min(first, max(peak - 2, 0)), max(last, min(peak + 2, len(p) - 1))


def _separate(p: Array, peaks: NDArray[np.intp], spans: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Spans that overlap are cut at the lowest line between their peaks."""
    cut = list(spans)
    for k, (left, right) in enumerate(pairwise(peaks)):
        if cut[k][1] >= cut[k + 1][0]:
            valley = int(left + np.argmin(p[left : right + 1]))
            cut[k] = (cut[k][0], max(valley - 1, int(left)))
            cut[k + 1] = (min(valley, int(right)), cut[k + 1][1])
    return cut


def _without_side_lobes(p: Array, peaks: NDArray[np.intp]) -> NDArray[np.intp]:
    """Peaks without those that the window alone leaves beside a stronger one.

    A Hann window leaks sin(πd)/(πd(1 − d²)) of a tone's amplitude to a line that lies d lines away.
    """
    distance = np.abs(peaks[:, None] - peaks[None, :]).astype(float)
    apart = np.maximum(distance, 2.0)
    leaked = p[peaks] * (1 / (np.pi * apart * (apart**2 - 1))) ** 2 * (distance >= 2)
    return peaks[p[peaks] > LOBE_MARGIN * np.max(leaked, axis=1, initial=0.0)]


def _weigh(density: Density, floor: Array, spans: Sequence[tuple[int, int]]) -> list[FoundTone]:
    is_tone = np.zeros(len(density.frequency), dtype=bool)
    for first, last in spans:
        is_tone[first : last + 1] = True
    step = density.resolution
    excess = density.density - floor
    powers = np.array([max(excess[a : b + 1].sum() * step, 0.0) for a, b in spans])
    centres = np.array([_centre(density, floor, a, b) for a, b in spans])
    return [
        _tone(density, centre, power, _joined(centre, centres, powers), is_tone)
        for centre, power in zip(centres, powers, strict=True)
        if power > 0
    ]


def _centre(density: Density, floor: Array, first: int, last: int) -> float:
    """Frequency of a tone: centre of gravity of what rises above the floor [Hz]."""
    weight = np.clip(density.density[first : last + 1] - floor[first : last + 1], 0, None)
    return float(np.sum(weight * density.frequency[first : last + 1]) / np.sum(weight))


def _joined(frequency: float, centres: Array, powers: Array) -> float:
    """Power of a tone with those that are heard as one with it [signal²]."""
    low, high = critical_band(frequency)
    near = (np.abs(centres - frequency) < proximity(frequency)) & (centres >= low) & (centres <= high)
    return float(np.sum(powers[near]))


def _tone(density: Density, frequency: float, power: float, joined: float, is_tone: NDArray[np.bool_]) -> FoundTone:
    return FoundTone(
        frequency=frequency,
        power=float(power),
        tone_to_noise=tone_to_noise_ratio(density, frequency, joined, is_tone),
        tone_to_noise_limit=float(tone_to_noise_limit(frequency)),
        prominence=prominence_ratio(density, frequency),
        prominence_limit=float(prominence_limit(frequency)),
    )
