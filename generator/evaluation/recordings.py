"""Recordings in, results out: sound, vibration, surfaces and panel of one comparison.

Shapes of the sections, all JSON-ready after rounding, SI, levels in dB; lists of one entry run in step; null where
there is nothing.

``sound``: {id, unit, speed, direction, distance, calibrated, reference ("20 µPa", or which mean is 0 dB),
calibration {how, file, level, full_scale_sine, tone, impurity, steadiness}, background {file, level, uncertainty},
levels [{candidate, level (energetic mean), mean_of_levels, low, high, count, upper_bound, grades}],
recordings [{candidate, file, speed, duration, rate, channel, channels, encoding, level, measured (with background),
uncertainty, excess, grade, bounded_share, resolution, notes}], bands [{candidate, frequency, level (A-weighted), plain,
uncertainty, grade}], background_bands {frequency, level}, series [{candidate, speed, level, count}],
spectra [{candidate, frequency, level}], tones and minor_tones [{candidate, speed, frequency, level, plain_level,
tone_to_noise, tone_to_noise_limit, prominence, prominence_limit, prominent, resolution, cause,
matches [{name, harmonic, expected}]}], values {candidate: [level]}, speeds {candidate: [speed]}, notes}.

``vibration``: {id, axis, excitation, speed, current, band [low, high], densities [{candidate, frequency, density, low,
high, resolution, averages}], fits [{candidate, peak_frequency, peak_low, peak_high, damping_ratio, damping_low,
damping_high, repeatability, count, frequency, density}], recordings [{candidate, file, rate, duration, jitter,
resolution, averages, interval, rms, left_out, peak_frequency, …, displacement_form, half_power, notes}],
predicted [{candidate, frequency}], contrasts {quantity: [contrast]}, figures {quantity: [measurement]},
answers [{between, difference, low, high, repeatability, expected, call, sentence}],
values {quantity: {candidate: [figure]}}, notes}.

``surfaces``: {id, direction, along, ripple_limit, spectra [{candidate, speed, wavelength, contrast, floor}],
ripples [{candidate, speed, wavelength, resolution, pixels_per_cycle, contrast, ratio, of_sample, causes, matches}],
unseen [{candidate, speed, cause, wavelength, why}], photos [{candidate, file, width, height, pixels_per_metre, length,
turn, luminance, overexposed, bands [{speed, top, bottom, left, right (px, travel lying horizontal), luminance,
strongest, clean}], notes}], clean [{candidate, speeds, fastest_clean_band, rippled_below, all_clean, slowest,
fastest}], alt, notes}.

``panel``: {id, surface, persons, repeated_votes, pairs [{between, votes, no_preference, no_preference_share, share,
low, high, probability, needed, told}], strengths {candidates, logs, uncertainties, state, reference, probability},
could_tell, chance, notes}.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from generator.analysis.contrast import compare_figures, find_matters
from generator.errors import FileProblems, Problem
from generator.evaluation.causes import list_causes, list_ringing, tone_rates
from generator.evaluation.levels import average_energetically, find_levels, pair_speeds
from generator.evaluation.panel import call_panel, evaluate_panel
from generator.evaluation.recall import Recall
from generator.evaluation.resonances import find_answers, predict_peaks
from generator.evaluation.sound import evaluate_sound
from generator.evaluation.surfaces import evaluate_surface, find_clean
from generator.evaluation.vibration import UNITS, evaluate_vibration, find_figures
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.records.comparison import Comparison, Decides
from generator.records.findings import Contrast, MeasuredPeak, Measurement
from generator.records.hardware import Setup
from generator.records.recordings import Sound, Surface, Vibration

BETTER = {"rms": "lower", "peak_frequency": "higher", "damping": "higher"}
Setups = Mapping[str, Setup]


@dataclass
class Recorded:
    """What the recordings give: sections of the results object, measurements and contrasts of the deciding figures,
    and measured resonances [Hz] by axis and candidate."""

    sections: dict[str, list[dict[str, Any]]] = field(
        default_factory=lambda: {"sound": [], "vibration": [], "surfaces": [], "panel": []}
    )
    measurements: list[Measurement] = field(default_factory=list)
    contrasts: list[Contrast] = field(default_factory=list)
    peaks: dict[tuple[str, str], MeasuredPeak] = field(default_factory=dict)


def evaluate_recordings(
    comparison: Comparison,
    files: Mapping[str, bytes],
    setups: Setups,
    recall: Recall | None = None,
    limits: Limits = DEFAULT_LIMITS,
) -> Recorded:
    """Analyse every recording that a comparison names.

    Parameters
    ----------
    comparison : Comparison
    files : mapping of str to bytes
        The files by path in the comparison's folder.
    setups : mapping of str to Setup
        Every candidate at its nominal values.
    recall : Recall or None
        Keeps finished items.
    limits : Limits
        What the readers accept.

    Returns
    -------
    Recorded

    Raises
    ------
    FileProblems
        With the problems of all files together.
    """
    work = _Work(comparison, files, setups, recall or Recall(), limits)
    for vibration in comparison.vibration:
        work.guard(work.add_vibration, vibration)
    for sound in comparison.sound:
        work.guard(work.add_sound, sound)
    for surface in comparison.surfaces:
        work.guard(work.add_surface, surface)
    for panel in comparison.panel:
        section = evaluate_panel(panel, work.order)
        work.found.sections["panel"].append(section)
        work.found.contrasts += call_panel(section, find_matters(comparison.matters, panel.id, "panel"))
    if work.problems:
        raise FileProblems(sorted(set(work.problems)))
    return work.found


class _Work:
    """One comparison's recordings on their way to results."""

    def __init__(
        self, comparison: Comparison, files: Mapping[str, bytes], setups: Setups, recall: Recall, limits: Limits
    ) -> None:
        self.limits = limits
        self.comparison = comparison
        self.files = files
        self.setups = setups
        self.recall = recall
        self.order = tuple(candidate.id for candidate in comparison.candidates)
        self.found = Recorded()
        self.problems: list[Problem] = []

    def guard(self, work: Callable[[Any], None], item: Any) -> None:
        """Collect the problems of one item and go on with the next."""
        try:
            work(item)
        except FileProblems as error:
            self.problems += error.problems

    def recalled(
        self, name: str, item: Any, files: Iterable[str], more: Any, make: Callable[[], Any]
    ) -> dict[str, Any]:
        """An item's section, kept by what it depends on: its record, its files and the predictions beside them."""
        content = {file: hashlib.sha256(self._content(file)).hexdigest() for file in files}
        section: dict[str, Any] = self.recall.json(name, [item, content, more, self.order], make)
        return section

    def _content(self, file: str) -> bytes:
        if file not in self.files:
            raise FileProblems(
                [Problem(file, 0, 0, "", "file-missing", "the file is not there", "add it or leave it out")]
            )
        return self.files[file]

    def decides(self, item: str, figure: str, better: str) -> Decides:
        return self.comparison.decides.get(item) or Decides(figure, better)

    def compare(self, item: str, kind: str, measured: Mapping[str, Measurement], better: str) -> list[Contrast]:
        matters = find_matters(self.comparison.matters, item, kind)
        return list(compare_figures(item, kind, self._ordered(measured), matters, better))

    def _ordered(self, found: Mapping[str, Measurement]) -> dict[str, Measurement]:
        return {candidate: found[candidate] for candidate in self.order if candidate in found}

    # --- sound ---

    def add_sound(self, item: Sound) -> None:
        speeds = {r.speed or item.speed for group in item.recordings.values() for r in group}
        causes = {(c, s): list_causes(self.setups[c], item.direction, s) for c in self.order for s in speeds}
        listed = [[c, s, found] for (c, s), found in causes.items()]
        section = self.recalled(
            "sound", item, _sound_files(item), listed,
            lambda: evaluate_sound(item, self.order, self.files, causes, self.limits),
        )  # fmt: skip
        self.found.sections["sound"].append(section)
        measured = find_levels(section, self.order)
        if section["calibrated"]:
            self.found.measurements += average_energetically(measured, section)
        better = self.decides(item.id, "level", "lower").better
        pairs = pair_speeds(section, self.order) if section.get("series") else [measured]
        for pair in pairs:
            self.found.contrasts += self.compare(item.id, "sound", pair, better)

    # --- vibration ---

    def add_vibration(self, item: Vibration) -> None:
        decides = self.decides(item.id, "rms", "lower")
        tones = {
            c: tone_rates(list_causes(self.setups[c], _along(self.comparison, item), item.speed)) for c in self.order
        }
        files = [file for group in (*item.traces.values(), *item.spectra.values()) for file in group]
        section = self.recalled(
            "vibration", item, files, [tones, decides.band],
            lambda: evaluate_vibration(item, self.order, self.files, tones, decides.band, self.limits),
        )  # fmt: skip
        figures = {quantity: self._ordered(find_figures(item.id, section["values"], quantity)) for quantity in UNITS}
        contrasts = {
            quantity: self.compare(item.id, "vibration", figures[quantity], BETTER[quantity]) for quantity in UNITS
        }
        peaks = {
            (item.axis, c): MeasuredPeak(m.estimate, m.standard_uncertainty or 0.0, item.current)
            for c, m in figures["peak_frequency"].items()
            if m.estimate is not None
        }
        answers = find_answers(item, self.setups, figures["peak_frequency"], contrasts["peak_frequency"])
        section["predicted"] = predict_peaks(item, self.setups, {c: peak.frequency for (_, c), peak in peaks.items()})
        section["contrasts"] = contrasts
        section["figures"] = {quantity: list(found.values()) for quantity, found in figures.items()}
        section["answers"] = answers
        section["notes"] = [answer["sentence"] for answer in answers] + section["notes"]
        self.found.sections["vibration"].append(section)
        self.found.measurements += figures[decides.figure].values()
        self.found.contrasts += self.compare(item.id, "vibration", figures[decides.figure], decides.better)
        if not any(axis == item.axis for axis, _ in self.found.peaks):  # of several items of an axis the first counts
            self.found.peaks |= peaks

    # --- surfaces ---

    def add_surface(self, item: Surface) -> None:
        decides = self.decides(item.id, "fastest_clean_band", "higher")
        causes = {(c, speed): self._surface_causes(item, c, speed) for c in self.order for speed in item.bands.speeds()}
        listed = [[c, s, found] for (c, s), found in causes.items()]
        section = self.recalled(
            "surface", item, [photo.file for photo in item.photos.values()], [listed, decides.ripple_limit],
            lambda: evaluate_surface(
                item, self.order, self.files, lambda c, s: causes[c, s], decides.ripple_limit, self.limits
            ),
        )  # fmt: skip
        self.found.sections["surfaces"].append(section)
        measured = {clean["candidate"]: find_clean(item, clean) for clean in section["clean"]}
        self.found.measurements += measured.values()
        self.found.contrasts += self.compare(item.id, "surface", measured, decides.better)

    def _surface_causes(self, item: Surface, candidate: str, speed: float) -> Sequence[Any]:
        if item.direction is None:
            return []
        setup = self.setups[candidate]
        peaks = {place: peak.frequency for place, peak in self.found.peaks.items()}
        return list_causes(setup, item.direction, speed) + list_ringing(setup, item.direction, peaks)


def _sound_files(item: Sound) -> list[str]:
    files = [r.file for group in item.recordings.values() for r in group]
    files += [file for group in item.spectra.values() for file in group]
    files += [item.background.file] if item.background else []
    calibration = item.microphone.calibration
    return files + ([calibration.file] if calibration and calibration.file else [])


def _along(comparison: Comparison, item: Vibration) -> tuple[float, ...]:
    return tuple(1.0 if axis == item.axis else 0.0 for axis in comparison.axes)
