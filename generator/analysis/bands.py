"""One-third-octave bands: their frequencies and their levels from a spectral density."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.analysis.density import band_power
from generator.records.signals import Density

REFERENCE = 1000.0
FIRST, LAST = -17, 13
"""Band numbers that are reported: 20 Hz to 20 kHz."""
NOMINAL_MANTISSAS = (1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8)
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bands:
    """nominal, middle, low and high [Hz] of each band (n,)."""

    nominal: Array
    middle: Array
    low: Array
    high: Array


def third_octave_bands(highest: float = np.inf, first: int = FIRST, last: int = LAST) -> Bands:
    """Frequencies of the one-third-octave bands whose middle lies below ``highest`` [Hz].

    Source: IEC 61260-1:2014, base 10: f_m = 1000·10^(x/10), edges f_m·10^(∓1/20); clause numbers from memory.
    Checked against the table of exact and nominal mid-band frequencies.
    """
    numbers = np.arange(first, last + 1)
    middle = REFERENCE * 10 ** (numbers / 10)
    numbers, middle = numbers[middle < highest], middle[middle < highest]
    nominal = np.array([NOMINAL_MANTISSAS[n % 10] * 10.0 ** (3 + n // 10) for n in numbers])
    return Bands(nominal, middle, middle * 10**-0.05, middle * 10**0.05)


def band_powers(density: Density, bands: Bands) -> Array:
    """Power in each band (n,) [signal²]; lines on an edge are split, the top band may end at half the sample rate."""
    return band_power(density, bands.low, bands.high)
