"""Sound items given as levels or ready spectra, and what every sound item says of itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.analysis.levels import correct_background, mean_level
from generator.analysis.sound import level_from_spectrum
from generator.evaluation.levels import find_level
from generator.readers.limits import Limits
from generator.readers.traces import read_band_levels
from generator.records.recordings import Sound

WEIGHTED_UNIT, PLAIN_UNIT = "dB(A)", "dB"


def evaluate_stated(item: Sound, order: Sequence[str], files: Mapping[str, bytes], limits: Limits) -> dict[str, Any]:
    """An item given as levels, or as spectra that are summed to levels."""
    spectra = {c: [read_band_levels(files[f], f, limits) for f in item.spectra.get(c, ())] for c in order}
    values = {c: list(item.levels.get(c, ())) + [level_from_spectrum(s) for s in spectra[c]] for c in order}
    weighted = item.levels_weighted or not item.levels
    values = {c: found for c, found in values.items() if found}
    grades: dict[str, list[str | None]] = {c: [None] * len(found) for c, found in values.items()}
    if item.background_level is not None:
        corrected = {c: correct_background(found, item.background_level) for c, found in values.items()}
        grades = {c: list(found.grade) for c, found in corrected.items()}
        values = {c: found.level.tolist() for c, found in corrected.items()}
    unit = WEIGHTED_UNIT if weighted else PLAIN_UNIT
    bands = [
        {"candidate": c, "frequency": s.frequency, "level": s.level, "weighted": s.weighted, "file": s.name}
        for c, found in spectra.items()
        for s in found[:1]
    ]
    return {
        **head_of(item, unit),
        "calibrated": True,
        "reference": "20 µPa",
        "background": {"level": item.background_level} if item.background_level is not None else None,
        "levels": [level_of(item, c, values[c], grades[c], unit) for c in values],
        "bands": bands,
        "values": values,
        "notes": note_microphone(item),
    }


def head_of(item: Sound, unit: str) -> dict[str, Any]:
    """What the file states of an item: unit of its levels, speed [m/s], direction, distance [m]."""
    return {
        "id": item.id,
        "unit": unit,
        "speed": item.speed,
        "direction": item.direction,
        "distance": item.microphone.distance,
    }


def level_of(
    item: Sound, candidate: str, values: Sequence[float], grades: Sequence[str | None], unit: str
) -> dict[str, Any]:
    """A candidate's combined level: energetic mean, with the interval of the mean level beside it."""
    found = find_level(item.id, candidate, values, grades, unit)
    mean = mean_level(values)
    shift = mean - found.estimate if found.estimate is not None else 0.0
    return {
        "candidate": candidate,
        "level": mean,
        "mean_of_levels": float(np.mean(values)),
        "low": None if found.low is None else found.low + shift,
        "high": None if found.high is None else found.high + shift,
        "count": len(values),
        "upper_bound": found.kind == "upper bound",
        "grades": [grade for grade in grades if grade],
    }


def note_microphone(item: Sound) -> list[str]:
    """A note where repeats may share one place of the microphone."""
    if item.microphone.placed_anew:
        return []
    return ["The file does not say that the microphone was placed anew: the scatter is the machine's alone."]
