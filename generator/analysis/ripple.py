"""Ripples in a brightness profile: straight sines that stand out of the noise, each with wavelength and contrast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

FALSE_RIPPLES = 0.01
"""Chance that noise alone yields any ripple in a band [1]."""
LEAST_PIXELS = 4.0
"""Pixels per cycle under which a ripple is refused [1]."""
LEAST_CYCLES = 6
"""Cycles along the band under which a ripple cannot be told from shading [1]."""
SHADING_DEGREE = 5
FLOOR_REACH = 20
SMALLEST = 1e-18
MOST_RIPPLES = 8
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ripple:
    """A sine in the profile: frequency [cycles/px], contrast (amplitude over mean brightness) [1], ratio [1] of its
    amplitude to the noise floor there."""

    frequency: float
    contrast: float
    ratio: float


@dataclass(frozen=True)
class RippleSpectrum:
    """Amplitude spectrum of a relative profile: frequency (k,) [cycles/px], amplitude and floor (k,) [1], ripples."""

    frequency: Array
    amplitude: Array
    floor: Array
    ripples: tuple[Ripple, ...]
    threshold: float


def find_ripples(profile: Array) -> RippleSpectrum:
    """Find the sines in a brightness profile, strongest first.

    Parameters
    ----------
    profile : array (n,) [1]
        Linear brightness along the travel, one value per pixel.

    Returns
    -------
    RippleSpectrum
        Slow shading (a polynomial of fifth degree) divided out; Hann-windowed amplitude spectrum; each line whose
        power exceeds the local floor by more than the strongest of N noise lines would is refined by least squares
        and taken off before the next is sought, so that a window's side lobes are no ripples.

    Source: power of a noise line over its mean is exponential: threshold −ln(1 − 0.99^(1/N)).
    """
    relative = remove_shading(profile)
    frequency = np.arange(len(profile) // 2 + 1) / len(profile)
    searched = (frequency * len(profile) >= LEAST_CYCLES) & (frequency <= 1 / LEAST_PIXELS)
    lines = max(1, int(np.count_nonzero(searched)))
    threshold = float(-np.log(1 - (1 - FALSE_RIPPLES) ** (1 / lines)))
    whole = amplitude_spectrum(relative)
    ripples, rest = [], relative
    for _ in range(MOST_RIPPLES):
        power = amplitude_spectrum(rest) ** 2
        floor = _floor(power)
        line = int(np.argmax(np.where(searched, power / floor, 0.0)))
        if not searched[line] or power[line] <= threshold * floor[line]:
            break
        found, wave = refine_sine(rest, float(frequency[line]))
        rest = rest - wave
        contrast = float(np.sqrt(2 * np.mean(wave**2)))
        ripples.append(Ripple(found, contrast, contrast / float(np.sqrt(floor[line]))))
    left = np.sqrt(_floor(amplitude_spectrum(rest) ** 2))
    least = float(np.sqrt(threshold))
    clear = [ripple for ripple in ripples if ripple.ratio >= least and _in_reach(ripple, frequency)]
    return RippleSpectrum(frequency, whole, left, tuple(sorted(clear, key=lambda r: -r.contrast)), least)


def remove_shading(profile: Array) -> Array:
    """The profile over its slow shading, less one [1]."""
    place = np.linspace(-1, 1, len(profile))
    series = np.polynomial.chebyshev.chebvander(place, SHADING_DEGREE)
    shading = series @ np.linalg.lstsq(series, profile, rcond=None)[0]
    return profile / np.maximum(shading, 1e-6 * np.max(np.abs(profile))) - 1


def amplitude_spectrum(signal: Array) -> Array:
    """Amplitude of a sine at each line (n//2 + 1,), Hann-windowed [signal]."""
    window = np.hanning(len(signal) + 1)[:-1]
    return 2 * np.abs(fft.rfft(signal * window)) / np.sum(window)


def refine_sine(signal: Array, frequency: float) -> tuple[float, Array]:
    """Least-squares sine near a frequency: its own frequency [cycles/sample] and its values (n,).

    Source: Gauss–Newton on frequency, amplitude and phase, as the four-parameter sine fit of IEEE 1057 (from memory).
    """
    count = len(signal)
    place = np.arange(count) - (count - 1) / 2
    start = frequency
    for _ in range(6):
        turn = np.exp(2j * np.pi * frequency * place)
        c, s = _amplitudes(signal, turn)
        slope = 2 * np.pi * place * (s * turn.real - c * turn.imag)
        model = np.stack([turn.real, turn.imag, slope])
        solved = np.linalg.solve(model @ model.T, model @ signal)
        step = float(np.clip(solved[2], -0.5 / count, 0.5 / count))
        frequency = float(np.clip(frequency + step, start - 1 / count, start + 1 / count))
        if abs(step) < 1e-9:
            break
    turn = np.exp(2j * np.pi * frequency * place)
    c, s = _amplitudes(signal, turn)
    return frequency, c * turn.real + s * turn.imag


def _amplitudes(signal: Array, turn: NDArray[np.complex128]) -> Array:
    model = np.stack([turn.real, turn.imag])
    return np.asarray(np.linalg.solve(model @ model.T, model @ signal), dtype=float)


def _in_reach(ripple: Ripple, frequency: Array) -> bool:
    step = frequency[1]
    return (LEAST_CYCLES - 0.5) * step <= ripple.frequency <= 1 / LEAST_PIXELS + step / 2


def _floor(power: Array) -> Array:
    """Mean noise power around each line: median of its neighbours over ln 2, which a few strong lines do not move.

    Lines that the removal of shading has emptied are no neighbours.
    """
    from scipy.ndimage import median_filter

    floor = np.empty_like(power)
    floor[LEAST_CYCLES:] = median_filter(power[LEAST_CYCLES:], 2 * FLOOR_REACH + 1, mode="reflect") / np.log(2)
    floor[:LEAST_CYCLES] = floor[LEAST_CYCLES]
    return np.maximum(floor, SMALLEST)
