"""Ripples in a brightness profile: straight sines that stand out of the noise, each with wavelength and contrast."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

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
        found, contrast, wave = refine_sine(rest, float(frequency[line]))
        rest = rest - wave
        ripples.append(Ripple(found, contrast, contrast / float(np.sqrt(floor[line]))))
    left = np.sqrt(_floor(amplitude_spectrum(rest) ** 2))
    least = float(np.sqrt(threshold))
    clear = [ripple for ripple in ripples if ripple.ratio >= least and _in_reach(ripple, frequency)]
    return RippleSpectrum(frequency, whole, left, tuple(sorted(clear, key=lambda r: -r.contrast)), least)


def remove_shading(profile: Array) -> Array:
    """The profile over its slow shading, less one [1]."""
    basis = shading_basis(len(profile))
    shading = basis @ (basis.T @ profile)
    return profile / np.maximum(shading, 1e-6 * np.max(np.abs(profile))) - 1


@lru_cache(maxsize=16)
def shading_basis(count: int) -> Array:
    """Orthonormal polynomials (count, degree + 1) that slow shading is made of."""
    series = np.polynomial.chebyshev.chebvander(np.linspace(-1, 1, count), SHADING_DEGREE)
    return np.asarray(np.linalg.qr(series)[0], dtype=float)


def amplitude_spectrum(signal: Array) -> Array:
    """Amplitude of a sine at each line (n//2 + 1,), Hann-windowed [signal]."""
    window = np.hanning(len(signal) + 1)[:-1]
    return 2 * np.abs(fft.rfft(signal * window)) / np.sum(window)


def refine_sine(signal: Array, frequency: float) -> tuple[float, float, Array]:
    """Least-squares sine near a frequency in a signal without shading.

    Parameters
    ----------
    signal : array (n,) [any unit]
    frequency : float [cycles/sample]

    Returns
    -------
    tuple
        Its own frequency [cycles/sample], its amplitude, and what it leaves in the signal (n,) [the same]: of a slow
        sine the removal of shading has taken a part, so sine and shading are fitted together.

    Source: Gauss–Newton on frequency, amplitude and phase, as the four-parameter sine fit of IEEE 1057 (from memory).
    """
    count, start = len(signal), frequency
    basis = shading_basis(count)
    place = np.arange(count) - (count - 1) / 2
    for _ in range(8):
        turn = np.exp(2j * np.pi * frequency * place)
        c, s = _solve(np.stack([turn.real, turn.imag]), signal, basis)[0]
        slope = 2 * np.pi * place * (s * turn.real - c * turn.imag)
        change = _solve(np.stack([turn.real, turn.imag, slope]), signal, basis)[0][2]
        step = float(np.clip(change, -0.5 / count, 0.5 / count))
        frequency = float(np.clip(frequency + step, start - 1 / count, start + 1 / count))
        if abs(step) < 1e-9:
            break
    turn = np.exp(2j * np.pi * frequency * place)
    (c, s), wave = _solve(np.stack([turn.real, turn.imag]), signal, basis)
    return frequency, float(np.hypot(c, s)), wave


def _solve(model: Array, signal: Array, basis: Array) -> tuple[Array, Array]:
    """Least-squares weights of the model's rows once shading is taken off them, and the signal that they make."""
    bare = model - (model @ basis) @ basis.T
    weights = np.asarray(np.linalg.solve(bare @ bare.T, bare @ signal), dtype=float)
    return weights, weights @ bare


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
