"""What the time-domain simulation and the causes behind a limit give, in SI. Never computes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

HELD, LOST_AT_START, LOST_IN_CRUISE, LOST_IN_BRAKING, LOST_AT_STOP, NOT_REACHABLE = range(6)
PHASES = {LOST_AT_START: "start", LOST_IN_CRUISE: "cruise", LOST_IN_BRAKING: "braking", LOST_AT_STOP: "stop"}


@dataclass(frozen=True)
class StallMap:
    """Which moves a candidate holds, simulated: speeds [m/s] by accelerations [m/s²] along one direction.

    state (accelerations, speeds) holds one of HELD … NOT_REACHABLE; lost_motor the first motor that slipped, -1
    where none did. elastic tells whether the belts were springs. note says where the grid is coarser than usual,
    message why there is no map; the arrays are then empty.
    """

    candidate: str
    direction: tuple[float, ...]
    speeds: NDArray[np.float64]
    accelerations: NDArray[np.float64]
    stroke: float | None
    state: NDArray[np.int8]
    lost_motor: NDArray[np.int8]
    elastic: bool = False
    cell_steps: int = 0
    note: str | None = None
    message: str | None = None


@dataclass(frozen=True)
class Climb:
    """A trial's ladder climbed in simulation [m/s² or m/s].

    first_lost is the lowest rung lost, None if none was; last_held the rung held below it; held_above the highest
    rung held above it (an island), None if there is none. phase and motor tell where the first loss came.
    """

    trial: str
    candidate: str
    unit: str
    first_lost: float | None = None
    last_held: float | None = None
    held_above: float | None = None
    phase: str | None = None
    motor: int | None = None
    message: str | None = None


@dataclass(frozen=True)
class Trace:
    """One simulated move, step by step.

    time [s] (steps,); command and angle [rad], speed [rad/s] of the shafts (motors, steps); current [A] (2, motors,
    steps); position [m] and velocity [m/s] of the carriage (axes, steps), still where the machine is rigid.
    """

    time: NDArray[np.float64]
    command: NDArray[np.float64]
    angle: NDArray[np.float64]
    speed: NDArray[np.float64]
    current: NDArray[np.float64]
    position: NDArray[np.float64]
    velocity: NDArray[np.float64]


@dataclass(frozen=True)
class Resonance:
    """Natural frequencies of one axis and candidate [Hz].

    frequencies: both, ascending, None where no belt stiffness is known. rotor_clamped: carriage on its belts with
    the rotors held, an upper bound of the lower one. rotor_alone: each motor's rotor on its torque stiffness.
    belt_stiffness [N/m] of one belt path; sensitivity: relative change of a stiffness solved from a measured peak
    over that of the frequency [1], None where it was given. message says what stands in the way, or a caution.
    """

    axis: str
    candidate: str
    current: float
    rotor_alone: tuple[float, ...]
    frequencies: tuple[float, float] | None = None
    rotor_clamped: float | None = None
    belt_stiffness: float | None = None
    sensitivity: float | None = None
    message: str | None = None


@dataclass(frozen=True)
class Tones:
    """Rates [Hz] and lengths on the work [m] that one turning motor leaves at a speed.

    turn: revolutions; full_step, which is also the fourfold electrical rate (detent); electrical (current offset);
    electrical_double (phase mismatch); tooth: belt teeth, None without a belt. wavelengths go by the same names,
    with ``ringing`` for each natural frequency.
    """

    trial: str
    candidate: str
    motor: int
    speed: float
    turn: float
    full_step: float
    electrical: float
    electrical_double: float
    tooth: float | None
    wavelengths: Mapping[str, float | None]
    ringing: tuple[float, ...] = ()


@dataclass(frozen=True)
class CalibratedTrial:
    """A trial predicted with a calibrated input [m/s² or m/s]: the lines, the measured limit, the matched line's error.

    error is predicted minus measured over measured [1]; None where only a bound was measured.
    """

    trial: str
    quantity: str
    unit: str
    static: float
    start: float
    any_timing: float
    measured: float | None
    error: float | None


@dataclass(frozen=True)
class Calibration:
    """One unknown of a candidate, fitted to one trial so that a line of the corridor meets the measured limit.

    factor: by which the stated input is multiplied [1], None with a message where none in the range does it.
    """

    candidate: str
    unknown: str
    line: str
    trial: str
    range: tuple[float, float]
    factor: float | None = None
    predicted: tuple[CalibratedTrial, ...] = ()
    message: str | None = None


@dataclass(frozen=True)
class Explanation:
    """One candidate cause of a measurement outside its corridor, searched only in its plausible range.

    stated, low, high and needed are the input's own values [unit]; needed is None where no value in the range
    explains the measurement. has_effect is false where the input does not move the line there. share tells how much
    of the range the needed value takes [0 … 1]: the smaller, the more plausible.
    """

    trial: str
    candidate: str
    line: str
    cause: str
    unit: str
    stated: float
    low: float
    high: float
    needed: float | None
    has_effect: bool
    share: float | None
