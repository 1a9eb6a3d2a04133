"""The arithmetic of one straight move: from rest to a speed and back to rest, by equal ramps.

A ramp has a constant acceleration, or a jerk of constant size that builds the acceleration up and takes it away again.
Knows of no machine. Source: the integrals of the jerk. Checked in tests/models/test_ramps.py against the moves that
the simulation makes (``profile``, written on its own) and against an integration in small steps.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from generator.models.roots import find_falling_root
from generator.records.hardware import Value


def ramp_peak(speed: Value, jerk: float) -> Any:
    """Acceleration that a ramp to a speed [m/s] with a jerk [m/s³] never exceeds, √(v·j) [m/s²]."""
    return np.sqrt(speed * np.asarray(jerk))


def ramp_time(speed: Value, acceleration: Value, jerk: float | None = None) -> Any:
    """Time of one ramp [s].

    Parameters
    ----------
    speed, acceleration : float or array [m/s], [m/s²]
        The acceleration above zero.
    jerk : float or None [m/s³]
        None: a constant acceleration.

    Returns
    -------
    float or array [s]
        v/a, with jerk v/a + a/j, or 2·√(v/j) where a is never reached.
    """
    if jerk is None:
        return speed / acceleration
    reached = speed * np.asarray(jerk) >= np.square(acceleration)
    return np.where(reached, speed / acceleration + acceleration / jerk, 2 * np.sqrt(speed / np.asarray(jerk)))[()]


def stopping_distance(speed: Value, deceleration: Value, jerk: float | None = None) -> Any:
    """Way of one ramp [m], half of its time at full speed: v²/2a, with jerk v/2·(v/a + a/j), or v·√(v/j)."""
    return speed * ramp_time(speed, deceleration, jerk) / 2


def stroke_needed(speed: Value, acceleration: Value, hold_time: float = 0.0, jerk: float | None = None) -> Any:
    """Stroke that reaches a speed [m/s], holds it for a time [s] and stops again: two ramps and v·t_h [m]."""
    return speed * (ramp_time(speed, acceleration, jerk) + hold_time)


def move_time(stroke: float, speed: float, acceleration: float, jerk: float | None = None) -> Any:
    """Time of one move over a stroke [m] that is long enough to reach the speed [s]."""
    return stroke / speed + ramp_time(speed, acceleration, jerk)


def lowest_acceleration(speed: float, stroke: float, hold_time: float = 0.0, jerk: float | None = None) -> float:
    """Smallest acceleration with which a move on a stroke reaches a speed and holds it [m/s²]; infinite if none.

    With a jerk none does where even the steepest ramp, which peaks at √(v·j), is too long for the stroke.
    """
    ramp = stroke / speed - hold_time
    shortest = 0.0 if jerk is None else 2 * math.sqrt(speed / jerk)
    if ramp <= 0 or ramp < shortest:
        return math.inf
    # the smaller root of a/j + v/a = ramp, with the difference of near equals turned into a sum
    return 2 * speed / (ramp + math.sqrt(ramp * ramp - shortest * shortest))


def stroke_speed(acceleration: float, stroke: float, hold_time: float = 0.0, jerk: float | None = None) -> float:
    """Largest speed that a move on a stroke reaches and holds, (a/2)·(√(t² + 4S/a) − t) without a jerk [m/s]."""
    if jerk is None:
        # the same root with the difference of near equals turned into a sum
        return 2 * stroke / (hold_time + math.sqrt(hold_time * hold_time + 4 * stroke / acceleration))
    # no ramp is longer than v/a + a/j, and none shorter than v/a or 2·√(v/j)
    low = stroke_speed(acceleration, stroke, hold_time + acceleration / jerk)
    high = min(stroke_speed(acceleration, stroke, hold_time), math.cbrt(stroke * stroke * jerk / 4))
    return float(
        find_falling_root(
            lambda speed: stroke - stroke_needed(speed, acceleration, hold_time, jerk), np.array(low), np.array(high)
        )
    )
