"""Signals as read from files, in SI, and what is looked for in them. Never computes.

Arrays are read-only by agreement. ``notes`` hold words for the page; a fault that spoils the file is an error instead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Waveform:
    """One channel of a sound file: rate [Hz], samples (k,) [digital full scale], and what the file said of itself."""

    name: str
    rate: float
    samples: NDArray[np.floating]
    channel: int = 1
    channels: int = 1
    encoding: str = ""
    notes: tuple[str, ...] = ()

    @property
    def duration(self) -> float:
        """Length of the part used [s]."""
        return len(self.samples) / self.rate


@dataclass(frozen=True)
class Acceleration:
    """An evenly spaced trace: rate [Hz], samples (k,) [m/s²]; jitter [1] is the spread of its time steps."""

    name: str
    rate: float
    samples: Array
    jitter: float = 0.0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Density:
    """One-sided spectral density: frequency (k,) [Hz], density (k,) [signal²/Hz].

    averages is the effective number of independent averages; duration [s] what it was made from;
    powers (segments,) [signal²] the weighted power of each segment, if weighed.
    """

    frequency: Array
    density: Array
    averages: float
    duration: float
    powers: Array | None = None

    @property
    def resolution(self) -> float:
        """Spacing of the lines [Hz]."""
        return float(self.frequency[1] - self.frequency[0])


@dataclass(frozen=True)
class BandLevels:
    """A ready sound spectrum: frequency (k,) [Hz] and level (k,) [dB, or dB(A) if weighted]."""

    name: str
    frequency: Array
    level: Array
    weighted: bool = False


@dataclass(frozen=True)
class Picture:
    """A decoded photo, upright: pixels (height, width) or (height, width, 3), 8 or 16 bit, sRGB-encoded."""

    name: str
    pixels: NDArray[np.uint8] | NDArray[np.uint16]
    notes: tuple[str, ...] = ()

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.pixels.shape[0])


@dataclass(frozen=True)
class Cause:
    """Something that would be heard or seen: its name and frequency [Hz].

    Causes of one family are multiples of one another, so the simplest of them speaks for all. harmonics: how many
    multiples of the frequency are looked for.
    """

    name: str
    frequency: float
    family: str = ""
    harmonics: int = 8


@dataclass(frozen=True)
class Match:
    """A cause that could explain what was found: harmonic (1 for the cause itself), expected frequency [Hz] or
    wavelength [m]."""

    name: str
    harmonic: int
    expected: float

    @property
    def words(self) -> str:
        """The cause as the page names it."""
        return self.name if self.harmonic == 1 else f"{self.name}, {self.harmonic}× its rate"
