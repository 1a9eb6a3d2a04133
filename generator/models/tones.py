"""Owns the rates and wavelengths that turning motors leave in sound, in vibration and on the work."""

from __future__ import annotations

import math
from collections.abc import Sequence

from generator.models.machine import belt_ratios
from generator.records.hardware import Setup
from generator.records.simulation import Tones


def predict_tones(
    setup: Setup, direction: Sequence[float], speed: float, trial: str = "", ringing: Sequence[float] = ()
) -> tuple[Tones, ...]:
    """Rates and wavelengths of every turning motor at a speed along the path.

    Parameters
    ----------
    setup : Setup
        At its nominal values.
    direction : sequence of float (axes,)
        Unit vector of the path [1].
    speed : float
        Along the path [m/s], above zero.
    trial : str
        Id copied into the records.
    ringing : sequence of float
        Natural frequencies [Hz] whose wavelengths are wanted.

    Returns
    -------
    tuple of Tones
        One per turning motor; a resting one has no tones.

    Notes
    -----
    A motor turns n = |u|·v/p times a second. Full steps come at n·2π/step angle, the electrical turn at a quarter of
    that. Causes: current offset at the electrical rate, unequal phases at its double (2 % in amplitude or 1° in phase
    leave about 1 % of torque ripple), detent at its fourfold. A cause at rate f leaves a wavelength v/f.

    Valid for: two-phase motors. Source: Kenjo & Sugawara, Stepping Motors and Their Microprocessor Controls.
    Checked in tests/models/test_tones.py.
    """
    tones = []
    for motor, ratio in enumerate(belt_ratios(setup, direction)):
        if ratio != 0:
            tones.append(_tones_of(setup, motor, abs(float(ratio)) * speed, speed, trial, tuple(ringing)))
    return tuple(tones)


def _tones_of(setup: Setup, motor: int, belt: float, speed: float, trial: str, ringing: tuple[float, ...]) -> Tones:
    """Tones of one motor whose belt moves at a speed [m/s]."""
    transmission = setup.transmissions[motor]
    turn = belt / float(transmission.travel_per_turn)
    full_step = turn * math.tau / setup.motors[motor].step_angle
    tooth = None if transmission.teeth_per_turn is None else turn * transmission.teeth_per_turn
    rates = {
        "full_step": full_step,
        "electrical_double": full_step / 2,
        "electrical": full_step / 4,
        "tooth": tooth,
        "turn": turn,
    }
    return Tones(
        trial=trial,
        candidate=setup.candidate,
        motor=motor,
        speed=speed,
        turn=turn,
        full_step=full_step,
        electrical=full_step / 4,
        electrical_double=full_step / 2,
        tooth=tooth,
        wavelengths={name: None if rate is None else speed / rate for name, rate in rates.items()},
        ringing=tuple(speed / frequency for frequency in ringing),
    )
