"""The predicted envelope: the largest acceleration at a speed, the largest speed on a stroke, and what bounds them.

Three lines each. *Static*: the torque asked for equals the pull-out torque, as if it had crept up. *Start*: it sets in
at once and the rotor swings past its new lag. *Any timing*: the stop begins at the worst moment of that swing. A real
machine, damped and ramped a little, loses steps between the last and the first. Both ends of a move count: where the
load is harder to stop than to start (a descent), stopping sets the limit. Taking the pull-out torque for braking is
conservative. Broadcasts over draws and speeds; takes its draws from others.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from generator.models.machine import (
    MotorLoad,
    belt_ratios,
    efficiency_factor,
    electrical_speeds,
    motor_loads,
    motor_torque,
    shaft_radius,
    torque_branch,
)
from generator.models.motor import SQUARE_WAVE_FACTOR, available_voltage, corner_speed, pull_out_torque
from generator.models.ramps import ramp_time, stroke_needed, stroke_speed
from generator.models.roots import find_falling_root
from generator.models.transient_limits import ANY_TIMING, START
from generator.records.hardware import Setup, Value
from generator.records.trial import ACCELERATION, Trial

LINES = ("static", "start", "any_timing")

_FASTEST, _SLOWEST = 8.0**7, 8.0**-13  # m/s: a limit beyond the first is none, one below the second is rest
_NO_TORQUE = 1e-12  # N·m: what counts as none
_STEEPEST = 1e12  # m/s²: stands in for an acceleration without bound
_GENTLEST = 1e-30  # m/s²: stands in for none at all


@dataclass(frozen=True)
class Lines:
    """The three lines of a predicted limit, each a float or an array over the broadcast shape."""

    static: Any
    start: Any
    any_timing: Any


@dataclass(frozen=True)
class SpeedLimit:
    """Largest speed of one line [m/s]: by torque, by the stroke, and the smaller; infinite where unbounded."""

    torque: Any
    stroke: Any

    @property
    def limit(self) -> Any:
        """The smaller of both [m/s]."""
        return np.minimum(self.torque, self.stroke)

    @property
    def bound_by(self) -> Any:
        """``torque`` or ``stroke``: what ends the climb first, over the same shape."""
        return np.where(np.less(self.stroke, self.torque), "stroke", "torque")[()]


def limit_lines(setup: Setup, direction: Sequence[float], speed: Value) -> Lines:
    """Acceleration limits of a move along ``direction`` at ``speed``: static, start and any-timing.

    Parameters
    ----------
    setup : Setup
        Its Values are floats, or draws of shape (draws, 1).
    direction : sequence of float
        Unit vector over the set-up's axes.
    speed : float or array [m/s]
        Tool speed; shape (speeds,) beside draws of shape (draws, 1) gives (draws, speeds).

    Returns
    -------
    Lines [m/s²]
        The smallest over the motors; 0 where a motor cannot even keep the speed; infinite where nothing resists.

    Assumes: limits evaluated at the speed itself, as the pull-out torque never rises with speed.
    Checked in tests/models/test_envelope.py.
    """
    pairs = _loads_and_torques(setup, direction, speed)
    start = _weakest(pairs, START)
    return Lines(_weakest(pairs, 1.0), start, np.minimum(start, _weakest_undamped(pairs)))


def predict_acceleration_limit(setup: Setup, direction: Sequence[float], speed: Value, line: str = "static") -> Any:
    """One line of the acceleration limit [m/s²]; see ``limit_lines``. line: ``static``, ``start``, ``any_timing``."""
    pairs = _loads_and_torques(setup, direction, speed)
    limit = _weakest(pairs, 1.0 if line == "static" else START)
    return np.minimum(limit, _weakest_undamped(pairs)) if line == "any_timing" else limit


def predict_speed_limit(
    setup: Setup,
    direction: Sequence[float],
    acceleration: float | None = None,
    stroke: float | None = None,
    hold_time: float = 0.0,
    lines: Sequence[str] = LINES,
) -> dict[str, SpeedLimit]:
    """Largest speed on each line: where torque ends it, and where the stroke does.

    Parameters
    ----------
    setup : Setup
        Its Values are floats or draws of any one shape.
    direction : sequence of float
        Unit vector over the set-up's axes.
    acceleration : float or None [m/s²]
        Stated: torque holds while the limit is at least this. None: while any acceleration is left, and the stroke
        is run with all of it.
    stroke : float or None [m]
        Length in which to speed up, hold ``hold_time`` [s] and stop, with the set-up's jerk. None: unbounded.
    hold_time : float [s]
    lines : sequence of str
        Which of ``static``, ``start``, ``any_timing``.

    Returns
    -------
    dict of SpeedLimit [m/s]
        By line; over the shape of the draws.

    Assumes: torque that a limited jerk leaves as it is. Valid for: limits that do not rise with speed. Found to 1e-13
    relative.
    """
    return {line: _speed_limit(setup, direction, line, acceleration, stroke, hold_time) for line in lines}


@dataclass(frozen=True)
class TrialLines:
    """Limits of one trial by line [m/s² or m/s], and what bounds the nominal static one: ``torque`` or ``stroke``."""

    limits: dict[str, Any]
    bound_by: str


def predict_lines(setup: Setup, trial: Trial, lines: Sequence[str] = LINES) -> TrialLines:
    """Lines of a trial's limit, whichever it measures.

    Parameters
    ----------
    setup : Setup
        Its Values are floats or draws of any one shape.
    trial : Trial
    lines : sequence of str
        Which of ``static``, ``start``, ``any_timing``; the first one tells what bounds the limit.

    Returns
    -------
    TrialLines [m/s² or m/s]
        Over the set-up's own shape.
    """
    if trial.measures == ACCELERATION:
        found = limit_lines(setup, trial.direction, float(trial.speed or 0.0))
        return TrialLines({line: getattr(found, line) for line in lines}, "torque")
    limits = predict_speed_limit(setup, trial.direction, trial.acceleration, trial.stroke, trial.hold_time, lines)
    return TrialLines(
        {line: limit.limit for line, limit in limits.items()}, str(np.ravel(limits[lines[0]].bound_by)[0])
    )


def ramp_swings(setup: Setup, direction: Sequence[float], speed: float, acceleration: float) -> float:
    """How many swings of the rotor a ramp lasts [1]: its time over 2π/√(N_r·a_0·|u|/ρ), for the quickest turning motor.

    a_0 is the static limit at rest, at which the torque of a rotor pulled out by a quarter turn moves everything;
    so N_r·a_0·|u|/ρ is the squared frequency of small swings about a held place.

    Parameters
    ----------
    setup : Setup
        Floats, no draws.
    direction : sequence of float
        Unit vector over the set-up's axes.
    speed, acceleration : float
        Of the ramp [m/s, m/s²], with the set-up's jerk; the acceleration above zero.

    Assumes: dry friction left in a_0, which makes the swing a little slower than it is. The limits are derived for
    ramps in which the lag reaches its peak, half a swing after the start. Checked against the small-oscillation
    frequency in tests/models/test_envelope.py.
    """
    limit = float(np.ravel(predict_acceleration_limit(setup, direction, 0.0))[0])
    parts = zip(setup.motors, belt_ratios(setup, direction), setup.transmissions, strict=True)
    squares = [float(motor.rotor_teeth * abs(ratio) / shaft_radius(way)) * limit for motor, ratio, way in parts]
    return float(ramp_time(speed, acceleration, setup.jerk)) * math.sqrt(max(squares)) / math.tau


def pull_out_torques(setup: Setup, direction: Sequence[float], speed: Value) -> list[Any]:
    """Pull-out torque of each motor at a tool speed [m/s], at the set-up's drive and supply [N·m]."""
    voltage = available_voltage(setup.supply, setup.drive)
    return [
        pull_out_torque(motor, setup.drive.current_peak, voltage, speed_elec if ratio else 0.0)
        for motor, ratio, speed_elec in zip(
            setup.motors, belt_ratios(setup, direction), electrical_speeds(setup, direction, speed), strict=True
        )
    ]


def corner_tool_speed(setup: Setup, direction: Sequence[float]) -> Any:
    """Tool speed from which the first motor no longer gets its full current [m/s]."""
    voltage = available_voltage(setup.supply, setup.drive)
    corner: Any = math.inf
    parts = zip(belt_ratios(setup, direction), setup.motors, setup.transmissions, strict=True)
    for ratio, motor, transmission in parts:
        if ratio:
            speed_mech = corner_speed(motor, setup.drive.current_peak, voltage) / motor.rotor_teeth
            corner = np.minimum(corner, speed_mech * shaft_radius(transmission) / abs(ratio))
    return corner


def square_wave_setup(setup: Setup) -> Setup:
    """The same machine with a saturated bridge, k_v = 4/π: the upper bound of its torque beyond the corner."""
    return dataclasses.replace(setup, drive=dataclasses.replace(setup.drive, sine_factor=SQUARE_WAVE_FACTOR))


def _loads_and_torques(setup: Setup, direction: Sequence[float], speed: Value) -> list[tuple[MotorLoad, Any]]:
    """Each motor's load with its pull-out torque."""
    return list(zip(motor_loads(setup, direction, speed), pull_out_torques(setup, direction, speed), strict=True))


def _weakest(pairs: Sequence[tuple[MotorLoad, Any]], factor: float) -> Any:
    """The smallest acceleration limit over the motors, with a share of their pull-out torque."""
    limit: Any = math.inf
    for load, torque in pairs:
        limit = np.minimum(limit, _largest_acceleration(load, torque if factor == 1.0 else factor * torque))
    return limit


def _weakest_undamped(pairs: Sequence[tuple[MotorLoad, Any]]) -> Any:
    """The smallest limit over the motors of a start and a stop at the worst moment."""
    limit: Any = math.inf
    for load, torque in pairs:
        limit = np.minimum(limit, _largest_undamped(load, ANY_TIMING * torque))
    return limit


def _largest_acceleration(load: MotorLoad, torque: Any) -> Any:
    """Largest a of one motor with |τ(±a)| ≤ torque at both ends of the move."""
    limit = _one_end(load, torque)
    if _stops_harder(load):
        turned = dataclasses.replace(load, inertial_force=-load.inertial_force, inertia=-load.inertia)
        limit = np.minimum(limit, _one_end(turned, torque))
    return limit


def _stops_harder(load: MotorLoad) -> bool:
    """Whether stopping may ask for more torque than starting: some force helps the start."""
    turns = load.turns
    helped = np.any(load.inertial_force * turns < 0) or np.any(load.force * turns < 0)
    return bool(helped or (turns == 0 and np.any(load.inertial_force * load.force < 0)))


def _one_end(load: MotorLoad, torque: Any) -> Any:
    """Largest a ≥ 0 up to which |τ| ≤ torque; τ has at most one kink, where the force on the belt changes sign."""
    force, inertial = np.asarray(load.force), np.asarray(load.inertial_force)
    first = _one_branch(load, np.where(force == 0, inertial, force) * load.ratio > 0, torque)
    opposed = force * inertial < 0
    if not np.any(opposed):
        return first
    second = _one_branch(load, inertial * load.ratio > 0, torque)
    kink = np.where(opposed, -force / np.where(opposed, inertial, 1.0), math.inf)
    return np.where(first > kink, second, first)


def _one_branch(load: MotorLoad, driving: Any, torque: Any) -> Any:
    """Where |α·a + β| reaches torque: (torque − sign(α)·β)/|α|; 0 if |β| exceeds it, infinite if a has no part."""
    per_acceleration, constant = torque_branch(load, driving)
    size = np.abs(per_acceleration)
    room = torque - np.sign(per_acceleration) * constant
    limit = room / np.where(size == 0, 1.0, size)
    if np.any(size == 0):
        limit = np.where(size == 0, math.inf, limit)
    return np.where(np.abs(constant) > torque, 0.0, limit)


def _largest_undamped(load: MotorLoad, torque: Any) -> Any:
    """Largest a with |α|·a ≤ torque, no friction to help the stop; a steady force counts against it both ways."""
    size = np.maximum(np.abs(torque_branch(load, True)[0]), np.abs(torque_branch(load, False)[0]))
    if np.any(load.steady_force):
        torque = np.maximum(torque - _held_torque(load), 0.0)
    return torque / size if np.all(size > 0) else np.where(size > 0, torque / np.where(size > 0, size, 1.0), math.inf)


def _held_torque(load: MotorLoad) -> Any:
    """Torque that steady forces ask for at the worst, lifted against the transmission's losses [N·m]."""
    return np.abs(load.radius * efficiency_factor(load, True) * load.steady_force)


def _speed_limit(
    setup: Setup,
    direction: Sequence[float],
    line: str,
    acceleration: float | None,
    stroke: float | None,
    hold_time: float,
) -> SpeedLimit:
    """Both bounds of one line's largest speed."""

    def left(speed: Any) -> Any:
        return np.minimum(predict_acceleration_limit(setup, direction, speed, line), _STEEPEST)

    if acceleration is None:
        torque = _largest_speed(lambda speed: _spare_torque(setup, direction, speed, line))
    else:
        torque = _largest_speed(lambda speed: left(speed) - acceleration)
    if stroke is None:
        reached: Any = np.full_like(torque, math.inf)
    elif acceleration is None:
        reached = _largest_speed(lambda speed: _spare_stroke(setup, stroke, hold_time, speed, left(speed)))
    else:
        reached = np.full_like(torque, stroke_speed(acceleration, stroke, hold_time, setup.jerk))
    return SpeedLimit(torque, reached[()])


def _spare_stroke(setup: Setup, stroke: float, hold_time: float, speed: Value, acceleration: Any) -> Any:
    """Stroke that a move leaves over times its acceleration, which keeps it finite and smooth [m²/s²]."""
    used = np.maximum(acceleration, _GENTLEST)
    return used * (stroke - stroke_needed(speed, used, hold_time, setup.jerk))


def _spare_torque(setup: Setup, direction: Sequence[float], speed: Value, line: str) -> Any:
    """Torque left for any acceleration at all, the smallest over the motors [N·m]; below 0 where none is."""
    spare: Any = math.inf
    for load, torque in _loads_and_torques(setup, direction, speed):
        share = torque if line == "static" else START * torque
        spare = np.minimum(spare, share - np.abs(motor_torque(load, 0.0)))
        if line == "any_timing":
            spare = np.minimum(spare, ANY_TIMING * torque - _held_torque(load))
    return np.where(spare > 0, spare, np.minimum(spare, -_NO_TORQUE))


def _largest_speed(excess: Callable[[Any], Any]) -> Any:
    """Largest speed up to which ``excess`` (falling) is not below 0, element by element.

    0 where it is below at rest, infinite where it holds at any speed that a machine could have.
    """
    holds = np.asarray(excess(0.0)) >= 0
    high = np.ones(holds.shape)
    while np.any(growing := (excess(high) >= 0) & holds & (high < _FASTEST)):
        high = np.where(growing, 8 * high, high)
    unbounded = high >= _FASTEST
    while np.any(shrinking := (excess(high / 8) < 0) & holds & (high > _SLOWEST)):
        high = np.where(shrinking, high / 8, high)
    root = find_falling_root(excess, high / 8, high)
    return np.where(holds, np.where(unbounded, math.inf, root), 0.0)[()]
