"""Arithmetic of levels: decibels, energetic means, and the correction for background noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

REFERENCE_PRESSURE = 20e-6
"""Pa, reference of sound pressure levels in air (ISO 1683)."""
NEPER = 10 / np.log(10)
NONE_NEEDED, ENGINEERING, SURVEY, UPPER_BOUND = "none needed", "engineering", "survey", "upper bound"
MOST_CORRECTION = 3.0
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Corrected:
    """Levels freed of background (n,) [dB], their standard uncertainty [dB] and the grade of each correction."""

    level: Array
    uncertainty: Array
    grade: tuple[str, ...]


def power_to_level(power: ArrayLike, reference: float = REFERENCE_PRESSURE) -> Array:
    """Level [dB] of a mean square [Pa²], re ``reference`` [Pa]; −inf for no power at all."""
    with np.errstate(divide="ignore"):
        return 10 * np.log10(np.asarray(power, dtype=float) / reference**2)


def add_levels(levels: ArrayLike, axis: int | None = None) -> Array:
    """Level of the sum of independent sounds [dB] from their levels [dB]."""
    with np.errstate(divide="ignore"):
        return 10 * np.log10(np.sum(10 ** (np.asarray(levels, dtype=float) / 10), axis=axis))


def mean_level(levels: ArrayLike) -> float:
    """Energetic mean of levels [dB]."""
    return float(add_levels(levels) - 10 * np.log10(np.size(levels)))


def correct_background(
    level: ArrayLike, background: ArrayLike, uncertainty: ArrayLike = 0.0, background_uncertainty: ArrayLike = 0.0
) -> Corrected:
    """Take steady background noise off measured levels.

    Parameters
    ----------
    level, background : array (n,) [dB]
        Machine with background, and background alone, at the same place.
    uncertainty, background_uncertainty : array (n,) [dB]
        Their standard uncertainties.

    Returns
    -------
    Corrected
        K1 = −10·lg(1 − 10^(−ΔL/10)) taken off for 3 dB ≤ ΔL < 15 dB; nothing at 15 dB and more; under 3 dB the
        level less 3 dB, an upper bound.

    Source: ISO 3744:2010 8.2.3 (engineering grade from 6 dB) and ISO 3746:2010 (survey grade from 3 dB), limits from
    memory; the uncertainty is the first-order propagation of JCGM 100:2008, 5.1.2.
    """
    measured, noise = np.broadcast_arrays(np.atleast_1d(level).astype(float), np.atleast_1d(background).astype(float))
    excess = measured - noise
    grades = np.select([excess >= 15, excess >= 6, excess >= 3], [NONE_NEEDED, ENGINEERING, SURVEY], UPPER_BOUND)
    share = 10 ** (-np.clip(excess, 3.0, None) / 10)
    correction = np.where(excess >= 15, 0.0, np.where(excess >= 3, -10 * np.log10(1 - share), MOST_CORRECTION))
    spread = np.hypot(np.asarray(uncertainty) / (1 - share), share * np.asarray(background_uncertainty) / (1 - share))
    return Corrected(measured - correction, np.broadcast_to(spread, measured.shape), tuple(str(g) for g in grades))


def power_uncertainty(powers: Array, averages: float) -> float:
    """Standard uncertainty of the level of a mean power [dB], from its scatter over segments.

    Parameters
    ----------
    powers : array (segments,) [signal²]
        Weighted power of each segment.
    averages : float [1]
        Number of independent averages that the segments are worth.
    """
    if len(powers) < 3 or not np.mean(powers) > 0:
        return float("nan")
    return float(NEPER * np.std(powers, ddof=1) / np.mean(powers) / np.sqrt(averages))
