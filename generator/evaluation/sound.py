"""One sound item: recordings, levels or spectra of every candidate to what the page shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.analysis.calibration import Scale, scale_from_calibrator, scale_from_full_scale
from generator.analysis.density import band_power
from generator.analysis.levels import (
    REFERENCE_PRESSURE,
    add_levels,
    mean_level,
    power_to_level,
)
from generator.analysis.matching import match_tone
from generator.analysis.sound import (
    SoundFigures,
    SoundSpectrum,
    band_uncertainty,
    find_sound,
    find_sound_spectrum,
)
from generator.analysis.tones_found import FoundTone, find_tones
from generator.analysis.weighting import a_weighting_power
from generator.evaluation.stated_sound import WEIGHTED_UNIT, evaluate_stated, head_of, level_of, note_microphone
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.sound import read_sound
from generator.records.recordings import Sound, SoundRecording
from generator.records.signals import Cause, Density, Waveform

SPECTRUM_START, SPECTRUM_RATIO, SPECTRUM_LINES = 50.0, 2 ** (1 / 24), 4
SAME_AS_BACKGROUND = 3.0
"""A tone within this of a tone of the background is the background's [dB]."""
Array = NDArray[np.float64]
Causes = Mapping[tuple[str, float | None], Sequence[Cause]]


@dataclass(frozen=True)
class _Heard:
    """One recording with its figures."""

    candidate: str
    recording: SoundRecording
    wave: Waveform
    figures: SoundFigures
    speed: float | None


def evaluate_sound(
    item: Sound, order: Sequence[str], files: Mapping[str, bytes], causes: Causes, limits: Limits = DEFAULT_LIMITS
) -> dict[str, Any]:
    """Everything that the page shows of one sound item.

    Parameters
    ----------
    item : Sound
    order : sequence of str
        Candidates in file order.
    files : mapping of str to bytes
        By path in the comparison's folder.
    causes : mapping of (candidate, speed) to causes
        Predicted tones [Hz].
    limits : Limits
        What the readers accept.

    Returns
    -------
    dict
        As ``generator.evaluation.recordings`` describes, with ``values`` (candidate to levels per recording, in dB)
        for the contrast.
    """
    if item.recordings:
        return _Recorded(item, order, files, causes, limits).section()
    return evaluate_stated(item, order, files, limits)


# --- recordings ---------------------------------------------------------------------------------------------------


class _Recorded:
    """An item given as recordings."""

    def __init__(
        self, item: Sound, order: Sequence[str], files: Mapping[str, bytes], causes: Causes, limits: Limits
    ) -> None:
        self.limits = limits
        self.item = item
        self.causes = causes
        self.files = files
        self.order = [candidate for candidate in order if item.recordings.get(candidate)]
        self.scale, self.calibration = self._calibrate()
        self.background = self._background()
        self.heard = [self._hear(c, r) for c in self.order for r in item.recordings[c]]
        self.offset = 0.0 if self.scale else self._first_mean()

    def _calibrate(self) -> tuple[Scale | None, dict[str, Any] | None]:
        stated = self.item.microphone.calibration
        if stated is None or (stated.file is None and stated.full_scale is None):
            return None, None
        if stated.full_scale is not None:
            scale = scale_from_full_scale(stated.full_scale)
        else:
            assert stated.file is not None and stated.level is not None
            wave = read_sound(self.files[stated.file], SoundRecording(stated.file), self.limits)
            scale = scale_from_calibrator(wave, stated.level)
        level = stated.full_scale if stated.full_scale is not None else stated.level
        full_scale_sine = float(power_to_level(scale.square / 2))
        facts = {"how": scale.how, "file": stated.file, "level": level, "full_scale_sine": full_scale_sine}
        return scale, facts | {"tone": scale.tone, "impurity": scale.impurity, "steadiness": scale.steadiness}

    @property
    def _square(self) -> float:
        """Pa² per squared full scale; uncalibrated, levels are first taken re full scale."""
        return self.scale.square if self.scale else REFERENCE_PRESSURE**2

    def _background(self) -> SoundSpectrum | None:
        if self.item.background is None:
            return None
        wave = read_sound(self.files[self.item.background.file], self.item.background, self.limits)
        return find_sound_spectrum(wave, self._square)

    def _hear(self, candidate: str, recording: SoundRecording) -> _Heard:
        wave = read_sound(self.files[recording.file], recording, self.limits)
        figures = find_sound(find_sound_spectrum(wave, self._square), self.background)
        return _Heard(candidate, recording, wave, figures, recording.speed or self.item.speed)

    def _first_mean(self) -> float:
        return float(np.mean([h.figures.level for h in self.heard if h.candidate == self.order[0]]))

    @property
    def _is_series(self) -> bool:
        return len({h.speed for h in self.heard}) > 1

    def _of(self, candidate: str) -> list[_Heard]:
        return [heard for heard in self.heard if heard.candidate == candidate]

    def section(self) -> dict[str, Any]:
        tones = [tone for candidate in self.order for tone in self._tones(candidate)]
        values = {c: [h.figures.level - self.offset for h in self._of(c)] for c in self.order}
        grades = {c: [h.figures.grade for h in self._of(c)] for c in self.order}
        spectra = [self._spectrum(c) for c in self.order]
        return {
            **head_of(self.item, WEIGHTED_UNIT),
            "calibrated": self.scale is not None,
            "reference": "20 µPa" if self.scale else f"mean level of {self.order[0]}",
            "calibration": self.calibration,
            "background": self._background_facts(),
            "levels": [level_of(self.item, c, values[c], grades[c], WEIGHTED_UNIT) for c in self.order],
            "recordings": [self._recording(heard) for heard in self.heard],
            "bands": [self._bands(c) for c in self.order],
            "background_bands": self._background_bands(),
            "series": [self._series(c) for c in self.order] if self._is_series else [],
            "spectra": [] if self._is_series else spectra,
            "tones": [tone for tone in tones if tone["prominent"]],
            "minor_tones": [tone for tone in tones if not tone["prominent"]],
            "values": values,
            "speeds": {c: [h.speed for h in self._of(c)] for c in self.order},
            "notes": self._notes(),
        }

    # --- facts per recording and candidate ---

    def _recording(self, heard: _Heard) -> dict[str, Any]:
        figures, wave = heard.figures, heard.wave
        return {
            "candidate": heard.candidate,
            "file": wave.name,
            "speed": heard.speed,
            "duration": wave.duration,
            "rate": wave.rate,
            "channel": wave.channel,
            "channels": wave.channels,
            "encoding": wave.encoding,
            "level": figures.level - self.offset,
            "measured": figures.measured - self.offset,
            "uncertainty": figures.uncertainty,
            "excess": figures.excess,
            "grade": figures.grade,
            "bounded_share": figures.bounded_share,
            "resolution": figures.spectrum.density.resolution,
            "notes": list(wave.notes),
        }

    def _background_facts(self) -> dict[str, Any] | None:
        if self.background is None:
            return None
        assert self.item.background is not None
        return {
            "file": self.item.background.file,
            "level": self.background.level - self.offset,
            "uncertainty": self.background.uncertainty,
        }

    def _background_bands(self) -> dict[str, Any] | None:
        if self.background is None:
            return None
        return {"frequency": self.background.bands.nominal, "level": self.background.weighted - self.offset}

    def _bands(self, candidate: str) -> dict[str, Any]:
        heard = self._of(candidate)
        count = min(len(h.figures.weighted) for h in heard)
        bands = heard[0].figures.spectrum.bands
        duration = sum(h.wave.duration for h in heard)
        grades = [[h.figures.grades[k] for h in heard] for k in range(count)]
        return {
            "candidate": candidate,
            "frequency": bands.nominal[:count],
            "level": _combined([h.figures.weighted[:count] for h in heard]) - self.offset,
            "plain": _combined([h.figures.plain[:count] for h in heard]) - self.offset,
            "uncertainty": band_uncertainty(bands, duration)[:count],
            "grade": [_worst(each) for each in grades],
        }

    def _series(self, candidate: str) -> dict[str, Any]:
        speeds = sorted({h.speed for h in self._of(candidate) if h.speed is not None})
        levels = [[h.figures.level for h in self._of(candidate) if h.speed == speed] for speed in speeds]
        return {
            "candidate": candidate,
            "speed": speeds,
            "level": [mean_level(found) - self.offset for found in levels],
            "count": [len(found) for found in levels],
        }

    def _spectrum(self, candidate: str) -> dict[str, Any]:
        density = _mean_density([h.figures.spectrum.density for h in self._of(candidate)])
        weighed = replace(density, density=density.density * a_weighting_power(density.frequency))
        edges = _cells(density)
        levels = power_to_level(band_power(weighed, edges[:-1], edges[1:])) - self.offset
        return {"candidate": candidate, "frequency": np.sqrt(edges[:-1] * edges[1:]), "level": levels}

    # --- tones ---

    def _tones(self, candidate: str) -> list[dict[str, Any]]:
        found = []
        for speed in dict.fromkeys(h.speed for h in self._of(candidate)):
            density = _mean_density([h.figures.spectrum.density for h in self._of(candidate) if h.speed == speed])
            causes = self.causes.get((candidate, speed), ())
            found += [self._tone(candidate, speed, tone, density, causes) for tone in find_tones(density)]
        return found

    def _tone(
        self, candidate: str, speed: float | None, tone: FoundTone, density: Density, causes: Sequence[Cause]
    ) -> dict[str, Any]:
        matches = match_tone(tone.frequency, causes, density.resolution)
        weight = float(a_weighting_power(tone.frequency))
        words = [match.words for match in matches] + (
            ["also in the background"] if self._in_background(tone, density) else []
        )
        return {
            "candidate": candidate,
            "speed": speed,
            "frequency": tone.frequency,
            "level": float(power_to_level(tone.power * weight)) - self.offset,
            "plain_level": float(power_to_level(tone.power)) - self.offset,
            "tone_to_noise": tone.tone_to_noise,
            "tone_to_noise_limit": tone.tone_to_noise_limit,
            "prominence": tone.prominence,
            "prominence_limit": tone.prominence_limit,
            "prominent": tone.prominent,
            "resolution": density.resolution,
            "cause": "; ".join(words) or None,
            "matches": matches,
        }

    def _in_background(self, tone: FoundTone, density: Density) -> bool:
        if self.background is None:
            return False
        near = [
            t
            for t in find_tones(self.background.density)
            if abs(t.frequency - tone.frequency) <= 2 * density.resolution
        ]
        return any(t.power >= tone.power * 10 ** (-SAME_AS_BACKGROUND / 10) for t in near)

    # --- notes ---

    def _notes(self) -> list[str]:
        notes = note_microphone(self.item)
        if self.scale is None:
            notes.append(
                "Not calibrated: only differences mean anything; the first candidate's mean level is set to 0 dB."
            )
        else:
            notes += [f"Calibration: {note}." for note in self.scale.notes]
        notes += [f"{h.wave.name}: {note}." for h in self.heard for note in h.wave.notes]
        rates = {h.wave.rate for h in self.heard}
        if len(rates) > 1:
            notes.append(
                "The recordings have different sample rates: bands above half the lowest are not in all of them."
            )
        if not all(h.recording.constant_speed or h.recording.start is not None for h in self.heard):
            notes.append(
                "Some recordings are used whole: if the machine speeds up and slows down in them, ramps are included."
            )
        return notes


def _combined(levels: Sequence[Array]) -> Array:
    """Energetic mean over recordings (n,) [dB]."""
    return add_levels(np.stack(levels), axis=0) - 10 * np.log10(len(levels))


def _worst(grades: Sequence[str | None]) -> str | None:
    order = (None, "none needed", "engineering", "survey", "upper bound")
    return max(grades, key=order.index)


def _mean_density(densities: Sequence[Density]) -> Density:
    """Mean of the densities that share the first one's lines."""
    first = densities[0]
    alike = [d for d in densities if len(d.frequency) == len(first.frequency) and d.resolution == first.resolution]
    return Density(
        first.frequency,
        np.mean([d.density for d in alike], axis=0),
        sum(d.averages for d in alike),
        sum(d.duration for d in alike),
    )


def _cells(density: Density) -> Array:
    """Edges of the cells that a drawn spectrum has [Hz]: 1/24 octave, but never under four lines."""
    edges = [SPECTRUM_START]
    top = float(density.frequency[-1])
    while edges[-1] < top:
        edges.append(max(edges[-1] * SPECTRUM_RATIO, edges[-1] + SPECTRUM_LINES * density.resolution))
    return np.array([*edges[:-1], top]) if len(edges) > 1 else np.array([top / 2, top])
