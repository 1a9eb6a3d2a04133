"""What a candidate's motors, belt and resonances would leave in recordings, under names for people."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from generator.models.resonance import predict_resonance
from generator.models.tones import predict_tones
from generator.records.hardware import Setup
from generator.records.signals import Cause

ELECTRICAL = "electrical"


def list_causes(setup: Setup, direction: Sequence[float] | None, speed: float | None) -> list[Cause]:
    """Rates of every turning motor at a speed along the path [Hz]; empty where direction or speed are not stated.

    Parameters
    ----------
    setup : Setup
        At its nominal values.
    direction : sequence of float (axes,) or None
        Unit vector of the path.
    speed : float or None [m/s]
    """
    if direction is None or not speed:
        return []
    found: list[Cause] = []
    for tone in predict_tones(setup, direction, speed):
        family = f"{ELECTRICAL} {tone.full_step:.6g}"
        found += [
            Cause("full steps (detent)", tone.full_step, family),
            Cause("twice the electrical rate (unequal phases)", tone.electrical_double, family),
            Cause("electrical turns (current offset)", tone.electrical, family),
            Cause("motor turns", tone.turn, f"turn {tone.turn:.6g}"),
        ]
        if tone.tooth:
            found.append(Cause("belt teeth", tone.tooth, f"tooth {tone.tooth:.6g}"))
        if setup.drive.step_division:
            found.append(Cause("microsteps", tone.full_step * setup.drive.step_division, family))
    return list(dict.fromkeys(found))


def list_ringing(setup: Setup, direction: Sequence[float], peaks: Mapping[tuple[str, str], float]) -> list[Cause]:
    """Ringing of every axis that the path moves [Hz]: at the measured peak, else at the predicted lower mode.

    Parameters
    ----------
    setup : Setup
        At its nominal values.
    direction : sequence of float (axes,)
        Unit vector of the path.
    peaks : mapping of (axis, candidate) to float [Hz]
        Measured.
    """
    moved = [axis for axis, share in zip(setup.axes, direction, strict=True) if share]
    return [cause for axis in moved for cause in _ringing(setup, axis, peaks.get((axis, setup.candidate)))]


def _ringing(setup: Setup, axis: str, measured: float | None) -> Iterable[Cause]:
    if measured is not None:
        return [Cause(f"ringing of {axis} at the measured {measured:.3g} Hz", measured, f"ringing {axis}", 1)]
    predicted = predict_resonance(setup, axis).frequencies
    if predicted is None:
        return []
    return [Cause(f"ringing of {axis} at the predicted {predicted[0]:.3g} Hz", predicted[0], f"ringing {axis}", 1)]


def tone_rates(causes: Iterable[Cause]) -> list[float]:
    """Step and tooth rates [Hz], whose lines take no part in a resonance."""
    return [cause.frequency for cause in causes if cause.family.startswith((ELECTRICAL, "tooth"))]
