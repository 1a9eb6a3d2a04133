"""Measured peaks of vibration beside what the model expects of them, and the answer in words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from generator.evaluation.numbers import drop_noise
from generator.models.resonance import predict_by_stiffness, predict_resonance, predict_shift
from generator.records.findings import Contrast, Measurement
from generator.records.hardware import Setup
from generator.records.recordings import Vibration

Setups = Mapping[str, Setup]
NO_SHIFT = 0.005
"""A shift that rounds to nothing beside any repeatability [Hz]."""


def predict_peaks(item: Vibration, setups: Setups, measured: Mapping[str, float]) -> list[dict[str, Any]]:
    """Both natural frequencies of the item's axis per candidate [Hz].

    From the stated belt stiffness; without one from that which the first measured peak [Hz] asks for, for all
    candidates but that one, whose own peak predicts nothing.
    """
    reference = next((candidate for candidate in setups if candidate in measured), None)
    peak = None
    if reference is not None:
        peak = predict_resonance(setups[reference], item.axis, item.current, measured[reference])
    found = []
    for candidate, setup in setups.items():
        own, _ = predict_by_stiffness(setup, item.axis, item.current, None if candidate == reference else peak)
        found += [{"candidate": candidate, "frequency": frequency} for frequency in own.frequencies or ()]
    return found


def find_answers(
    item: Vibration, setups: Setups, peaks: Mapping[str, Measurement], contrasts: Sequence[Contrast]
) -> list[dict[str, Any]]:
    """Per pair: how far the peaks lie apart, how well they repeat, what the model expected, and the call in words.

    Parameters
    ----------
    item : Vibration
    setups : mapping of str to Setup
        At nominal values.
    peaks : mapping of str to Measurement
        Peak frequencies [Hz] by candidate.
    contrasts : sequence of Contrast
        Of the peak frequencies.
    """
    return [_answer(item, setups, peaks, contrast) for contrast in contrasts if contrast.difference is not None]


def _answer(item: Vibration, setups: Setups, peaks: Mapping[str, Measurement], contrast: Contrast) -> dict[str, Any]:
    first, second = contrast.between
    scatters = [m.scatter for m in (peaks[first], peaks[second]) if m.scatter is not None]
    repeatability = max(scatters) if scatters else None
    expected = _expected(item, setups, first, second, peaks[first])
    answer = {
        "between": list(contrast.between),
        "difference": contrast.difference,
        "low": contrast.low,
        "high": contrast.high,
        "repeatability": repeatability,
        "expected": expected,
        "call": contrast.call,
    }
    return answer | {"sentence": _sentence(contrast, repeatability, expected)}


def _expected(item: Vibration, setups: Setups, first: str, second: str, reference: Measurement) -> float | None:
    """Peak of the first less that of the second by the model [Hz], from the first's measured peak."""
    if reference.estimate is None:
        return None
    shift = float(
        predict_shift(setups[first], setups[second], item.axis, reference.estimate, (item.current, item.current))
    )
    return 0.0 - drop_noise(shift, reference.estimate) if math.isfinite(shift) else None


def _sentence(contrast: Contrast, repeatability: float | None, expected: float | None) -> str:
    first, second = contrast.between
    assert contrast.difference is not None
    apart = f"The peaks of {first} and {second} lie {abs(contrast.difference):.2g} Hz apart"
    known = "with no repeats to tell the scatter" if repeatability is None else f"repeatability {repeatability:.2g} Hz"
    call = f"{contrast.ahead} has the higher peak" if contrast.ahead else contrast.call
    if contrast.low is not None and contrast.high is not None and contrast.low <= 0 <= contrast.high:
        call = "no difference shown"
    return f"{apart}, {known}: {call}{_model_words(contrast.difference, expected)}."


def _model_words(difference: float, expected: float | None) -> str:
    if expected is None:
        return ""
    if abs(expected) < NO_SHIFT:
        return "; the model expected no shift"
    return f"; the model expected {abs(expected):.2g} Hz{' the other way' if difference * expected < 0 else ''}"
