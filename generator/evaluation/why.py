"""Why it happened: resonance, tones, calibration, explanations of mismatches, and which inputs decide."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from scipy.special import ndtri

from generator.evaluation.influences import find_influences
from generator.evaluation.numbers import drop_noise, to_json
from generator.evaluation.predictions import Hardware
from generator.evaluation.recall import Recall
from generator.evaluation.trials import Measured
from generator.models import calibration, explanation, resonance, tones, uncertainty
from generator.records.comparison import Comparison
from generator.records.findings import Agreement, MeasuredPeak, Measurement, Spread
from generator.records.hardware import Setup

OUTSIDE = ("above static limit", "below any-timing limit")


def find_why(
    comparison: Comparison,
    hardware: Hardware,
    measured: Measured,
    agreement: Sequence[Agreement],
    peaks: Mapping[tuple[str, str], MeasuredPeak],
    recall: Recall,
) -> dict[str, Any]:
    """The sections of the results object that answer why.

    ``peaks`` holds measured resonances by axis and candidate.
    """
    resonances = find_resonances(comparison, hardware, peaks)
    return {
        "resonance": resonances,
        "tones": list_tones(comparison, hardware, resonances),
        "calibration": calibrate(comparison, hardware, measured),
        "explanations": explain(comparison, hardware, measured, agreement),
        "influences": find_influences(comparison, hardware.seed, recall),
    }


# --- resonance ------------------------------------------------------------------------------------------------------


def find_resonances(
    comparison: Comparison, hardware: Hardware, peaks: Mapping[tuple[str, str], MeasuredPeak]
) -> list[dict[str, Any]]:
    """Per axis and candidate both natural frequencies, the measured peak, and the shift from the first candidate."""
    found = []
    for axis in comparison.axes:
        reference = next((c.id for c in comparison.candidates if (axis, c.id) in peaks), None)
        for setup in hardware.nominal.values():
            entry = _resonance(setup, axis, _current(comparison, axis, peaks), peaks, reference, hardware)
            if entry["frequencies"] is not None or entry["measured"] is not None:
                found.append(entry)
    return found


def _current(comparison: Comparison, axis: str, peaks: Mapping[tuple[str, str], MeasuredPeak]) -> float | None:
    """Current in force while the peaks of an axis were recorded, or will be; None for the drive's."""
    recorded = [peak.current for (place, _), peak in peaks.items() if place == axis]
    planned = [vibration.current for vibration in comparison.vibration if vibration.axis == axis]
    return next(iter(recorded or planned), None)


def _resonance(
    setup: Setup,
    axis: str,
    current: float | None,
    peaks: Mapping[tuple[str, str], MeasuredPeak],
    reference: str | None,
    hardware: Hardware,
) -> dict[str, Any]:
    """One axis and candidate: predicted from the stiffness stated, else from the one that the first peak asks for."""
    peak = peaks.get((axis, setup.candidate))
    own = None if peak is None else peak.frequency
    first = setup.candidate == reference
    solved = None
    if reference is not None:
        measured = peaks[axis, reference].frequency
        solved = resonance.predict_resonance(hardware.nominal[reference], axis, current, measured)
    found, origin = resonance.predict_by_stiffness(setup, axis, current, solved)
    expected = None if first or reference is None else _expected_shift(setup, axis, current, reference, peaks, hardware)
    shift = own - peaks[axis, reference].frequency if own is not None and reference is not None and not first else None
    return (
        vars(found)
        | ({"message": solved.message, "sensitivity": solved.sensitivity} if solved and first else {})
        | {
            "stiffness_from": origin,
            "stiffness_of_peak": solved.belt_stiffness if solved and first else None,
            "measured": own,
            "reference": reference,
            "expected_shift": None if expected is None else expected.nominal,
            "expected_shift_interval": expected,
            "measured_shift": shift,
        }
    )


def _expected_shift(
    setup: Setup,
    axis: str,
    current: float | None,
    reference: str,
    peaks: Mapping[tuple[str, str], MeasuredPeak],
    hardware: Hardware,
) -> Spread | None:
    """Shift of the peak from the reference candidate [Hz] with the spread of the draws, of peak and detent too."""
    peak, currents = peaks[axis, reference], (current, current)
    shift = float(resonance.predict_shift(hardware.nominal[reference], setup, axis, peak.frequency, currents))
    if not np.isfinite(shift):
        return None
    nominal = drop_noise(shift, peak.frequency)
    measured, places = _draw_peak(peak, axis, (reference, setup.candidate), hardware)
    pair = hardware.drawn[reference], hardware.drawn[setup.candidate]
    drawn = resonance.predict_shift(*pair, axis, measured, currents, places)
    known = np.ravel(drawn)[np.isfinite(np.ravel(drawn))]
    return uncertainty.spread(nominal, known) if known.size > 1 else Spread(nominal)


def _draw_peak(
    peak: MeasuredPeak, axis: str, candidates: tuple[str, str], hardware: Hardware
) -> tuple[Any, tuple[Any, Any]]:
    """Draws (draws, 1) of the measured peak [Hz], normal, and of each motor's place in its detent, from −1 to 1."""

    def draw(owner: str, path: str) -> Any:
        return uncertainty.draw_uniform(hardware.seed, owner, path, hardware.draws).reshape(-1, 1)

    measured = peak.frequency + peak.uncertainty * ndtri(draw(candidates[0], f"vibration.{axis}.peak"))
    first, second = (2 * draw(candidate, f"vibration.{axis}.detent") - 1 for candidate in candidates)
    return measured, (first, second)


# --- tones ----------------------------------------------------------------------------------------------------------


def list_tones(
    comparison: Comparison, hardware: Hardware, resonances: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Rates and wavelengths of every turning motor, per move at one speed that a trial or a sound item states."""
    stated = [(trial.id, trial.direction, trial.speed) for trial in comparison.trials if trial.speed]
    stated += [(s.id, s.direction, s.speed) for s in comparison.sound if s.direction and s.speed]
    return [
        to_json(tone)
        for item, direction, speed in stated
        for setup in hardware.nominal.values()
        for tone in tones.predict_tones(setup, direction, speed, item, _ringing(setup, direction, resonances))
    ]


def _ringing(setup: Setup, direction: Sequence[float], resonances: Sequence[Mapping[str, Any]]) -> list[float]:
    """Frequencies at which the axes of a move ring [Hz]: the measured peak, else the predicted lower one."""
    moved = [axis for axis, share in zip(setup.axes, direction, strict=True) if share]
    own = [entry for entry in resonances if entry["candidate"] == setup.candidate and entry["axis"] in moved]
    return [entry["measured"] or entry["frequencies"][0] for entry in own]


# --- calibration and explanations ------------------------------------------------------------------------------------


def calibrate(comparison: Comparison, hardware: Hardware, measured: Measured) -> list[Any]:
    """One unknown fitted to one trial per candidate, where a second trial can be predicted with it."""
    found = []
    everything = _flat(measured)
    unknown = comparison.calibrate.unknown
    for setup in hardware.nominal.values():
        own = [m for m in everything if m.candidate == setup.candidate]
        if len(own) > 1 and any(m.estimate is not None for m in own):
            found.append(calibration.calibrate(setup, comparison.trials, own, unknown, comparison.calibrate.trial))
    return found


def explain(
    comparison: Comparison, hardware: Hardware, measured: Measured, agreement: Sequence[Agreement]
) -> list[Any]:
    """What would explain each measurement outside its corridor, the most plausible first."""
    trials = {trial.id: trial for trial in comparison.trials}
    found: list[Any] = []
    for place in agreement:
        if place.place in OUTSIDE:
            setup, trial = hardware.nominal[place.candidate], trials[place.trial]
            found += explanation.explain_measurement(setup, trial, measured[place.trial][place.candidate])
    return found


def _flat(measured: Measured) -> list[Measurement]:
    return [measurement for by_candidate in measured.values() for measurement in by_candidate.values()]
