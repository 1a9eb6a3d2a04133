"""One sound recording: A-weighted level, bands, tones, and the same freed of background noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from generator.analysis.bands import Bands, band_powers, third_octave_bands
from generator.analysis.density import find_density
from generator.analysis.levels import (
    NEPER,
    add_levels,
    correct_background,
    power_to_level,
    power_uncertainty,
)
from generator.analysis.tones_found import FoundTone, find_tones
from generator.analysis.weighting import a_weighting, a_weighting_power
from generator.records.signals import BandLevels, Density, Waveform

SEGMENT_TIME = 1.0
"""Length of the segments [s]: lines 1 Hz apart where the recording is long enough."""
FEWEST_SEGMENTS = 4
Array = NDArray[np.float64]


@dataclass(frozen=True)
class SoundSpectrum:
    """A recording in pascal: density [Pa²/Hz], bands (n,), band levels plain and A-weighted (n,) [dB], A level [dB].

    uncertainty [dB] is the level's own, from its scatter within the recording; NaN where it is too short to tell.
    """

    density: Density
    bands: Bands
    plain: Array
    weighted: Array
    level: float
    uncertainty: float


@dataclass(frozen=True)
class SoundFigures:
    """What one recording gives, levels in dB.

    measured and level: A-weighted, before and after the background is taken off; excess: measured less background.
    plain, weighted: band levels (n,) after it, with grade (n,). tones with their power in Pa².
    bounded_share [1]: how much of the level's power comes from bands that are only upper bounds.
    """

    spectrum: SoundSpectrum
    level: float
    uncertainty: float
    grade: str | None
    excess: float | None
    plain: Array
    weighted: Array
    grades: tuple[str | None, ...]
    bounded_share: float
    tones: tuple[FoundTone, ...]

    @property
    def measured(self) -> float:
        """A-weighted level with the background in it [dB]."""
        return self.spectrum.level


def find_sound_spectrum(recording: Waveform, square: float) -> SoundSpectrum:
    """Spectrum and levels of a recording.

    Parameters
    ----------
    recording : Waveform
        Samples [full scale].
    square : float [Pa²]
        Mean square that one squared unit of full scale stands for.

    Source: L_Aeq as IEC 61672-1; bands as IEC 61260-1. Checked by sines and noise of known level.
    """
    segment = _segment(recording)
    frequency = np.arange(segment // 2 + 1) * (recording.rate / segment)
    weights = a_weighting_power(frequency)
    density = find_density(recording.samples, recording.rate, segment, weights)
    assert density.powers is not None
    uncertainty = power_uncertainty(density.powers, density.averages)
    density = replace(density, density=density.density * square, powers=density.powers * square)
    bands = third_octave_bands(recording.rate / 2)
    weighed = replace(density, density=density.density * weights)
    return SoundSpectrum(
        density=density,
        bands=bands,
        plain=power_to_level(band_powers(density, bands)),
        weighted=power_to_level(band_powers(weighed, bands)),
        level=float(power_to_level(np.sum(weighed.density) * density.resolution)),
        uncertainty=uncertainty,
    )


def find_sound(spectrum: SoundSpectrum, background: SoundSpectrum | None) -> SoundFigures:
    """Figures of a recording, freed of the background where there is one.

    Parameters
    ----------
    spectrum, background : SoundSpectrum
        Same microphone and place; where their sample rates differ the shared bands are corrected.

    Returns
    -------
    SoundFigures
        The background is taken off per band, and the bands are summed; the level's grade follows its own excess.

    Source: ISO 3744:2010 8.2.3, as correct_background.
    """
    tones = tuple(find_tones(spectrum.density))
    if background is None:
        free: tuple[str | None, ...] = (None,) * len(spectrum.plain)
        return SoundFigures(
            spectrum,
            spectrum.level,
            spectrum.uncertainty,
            None,
            None,
            spectrum.plain,
            spectrum.weighted,
            free,
            0.0,
            tones,
        )
    noise = _matched(background.weighted, len(spectrum.weighted))
    weighted = correct_background(spectrum.weighted, noise)
    plain = correct_background(spectrum.plain, _matched(background.plain, len(spectrum.plain)))
    whole = correct_background(spectrum.level, background.level, spectrum.uncertainty, background.uncertainty)
    powers = 10 ** (weighted.level / 10)
    bounded = np.array([grade == "upper bound" for grade in weighted.grade])
    return SoundFigures(
        spectrum=spectrum,
        level=float(add_levels(weighted.level)),
        uncertainty=float(whole.uncertainty[0]),
        grade=whole.grade[0],
        excess=spectrum.level - background.level,
        plain=plain.level,
        weighted=weighted.level,
        grades=weighted.grade,
        bounded_share=float(powers[bounded].sum() / powers.sum()),
        tones=tones,
    )


def band_uncertainty(bands: Bands, duration: float) -> Array:
    """Standard uncertainty of band levels of steady noise (n,) [dB]: 4.34/√(bandwidth·duration).

    Source: Bendat & Piersol, Random Data, 8.2 (section from memory).
    """
    return NEPER / np.sqrt((bands.high - bands.low) * duration)


def level_from_spectrum(spectrum: BandLevels) -> float:
    """A-weighted level [dB] of a ready spectrum: its levels are weighted, unless they are, and summed."""
    weights = 0.0 if spectrum.weighted else a_weighting(spectrum.frequency)
    return float(add_levels(spectrum.level + weights))


def _segment(recording: Waveform) -> int:
    """Even number of samples per segment."""
    longest = len(recording.samples) / ((FEWEST_SEGMENTS + 1) / 2)
    return 2 * int(min(SEGMENT_TIME * recording.rate, longest) / 2)


def _matched(levels: Array, count: int) -> Array:
    """Background levels for ``count`` bands; bands that it does not reach count as silent."""
    return np.concatenate([levels[:count], np.full(max(0, count - len(levels)), -np.inf)])
