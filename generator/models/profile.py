"""Owns the commanded moves: from rest to a speed, along it, and back to rest, as a trapezoid or with limited jerk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.records.simulation import LOST_AT_STOP

Array = NDArray[np.float64]

LONGEST_CRUISE = 0.1
"""Cruise simulated at most [s]; a loss in cruise shows within a few swings of the rotor."""
REST_TIME = 0.03
"""Rest simulated after the move [s]."""


@dataclass(frozen=True)
class Moves:
    """Moves side by side; every array is (cells,). speed [m/s], acceleration [m/s²], ramp and cruise [s].

    jerk_time [s] is how long the acceleration builds up; None for trapezoids.
    """

    speed: Array
    acceleration: Array
    ramp_time: Array
    cruise_time: Array
    jerk_time: Array | None = None

    @property
    def duration(self) -> Array:
        """Both ramps, cruise and rest [s]."""
        return 2 * self.ramp_time + self.cruise_time + REST_TIME

    @property
    def ramp_length(self) -> Array:
        """Way of one ramp [m]."""
        return self.speed * self.ramp_time / 2

    def take(self, chosen: NDArray[np.intp]) -> Moves:
        """The chosen moves only."""
        parts = (None if values is None else values[chosen] for values in vars(self).values())
        return Moves(*parts)  # type: ignore[arg-type]

    def speed_bound(self, time: Array) -> Array:
        """Commanded speed [m/s] at time [s], (cells,): exact for trapezoids, from above with limited jerk."""
        left = 2 * self.ramp_time + self.cruise_time - time
        return np.clip(self.acceleration * np.minimum(time, left), 0.0, self.speed)

    def position(self, time: Array) -> Array:
        """Commanded way [m] at time [s], shape (cells,) or (…, cells)."""
        accelerated = np.minimum(time, self.ramp_time)
        cruising = np.minimum(time - accelerated, self.cruise_time)
        braked = time - accelerated
        braked -= cruising
        remaining = np.maximum(self.ramp_time - braked, 0.0)
        way = self._ramp(accelerated)
        way -= self._ramp(remaining)
        way += self.speed * cruising
        way += self.ramp_length
        return way

    def phase(self, time: Array) -> NDArray[np.int8]:
        """Phase at time [s], (cells,): 1 start, 2 cruise, 3 braking, 4 stop."""
        braking = self.ramp_time + self.cruise_time
        late = (time > self.ramp_time).astype(np.int8) + (time > braking) + (time > braking + self.ramp_time)
        return np.minimum(late + np.int8(1), np.int8(LOST_AT_STOP)).astype(np.int8)

    def _ramp(self, time: Array) -> Array:
        """Way [m] after time [s] of a ramp from rest."""
        if self.jerk_time is None:
            return self.acceleration * (0.5 * time * time)
        rising = np.minimum(time, self.jerk_time)
        steady = np.clip(time - self.jerk_time, 0.0, self.ramp_time - 2 * self.jerk_time)
        falling = np.clip(time - (self.ramp_time - self.jerk_time), 0.0, self.jerk_time)
        gained = 0.5 * self.acceleration * self.jerk_time
        way = self.acceleration * (rising**3 / (6 * self.jerk_time) + 0.5 * steady**2) + gained * steady
        way += (self.speed - gained) * falling
        return way + self.acceleration * (0.5 * falling**2 - falling**3 / (6 * self.jerk_time))


def plan_moves(speed: Array, acceleration: Array, stroke: float | None, jerk: float | None = None) -> Moves:
    """Plan moves to a speed with an acceleration, over a stroke.

    Parameters
    ----------
    speed, acceleration : array (cells,)
        Along the path [m/s], [m/s²]; positive.
    stroke : float or None
        Way of the whole move [m]; None gives the longest cruise.
    jerk : float or None
        Limit of the jerk [m/s³]; None gives a trapezoid. Where the speed is reached before the acceleration is,
        the ramp peaks at √(speed·jerk).

    Returns
    -------
    Moves
        The stroke's rest after both ramps is cruised, at most for LONGEST_CRUISE. A move that cannot reach its
        speed on the stroke has a negative cruise: see ``find_reachable``.

    Source: rest-to-rest motion with constant jerk, from the integrals of the jerk.
    Checked in tests/models/test_profile.py.
    """
    peak, jerk_time = acceleration, None
    ramp_time = speed / peak
    if jerk is not None:
        peak = np.minimum(acceleration, np.sqrt(speed * jerk))
        jerk_time = peak / jerk
        ramp_time = speed / peak + jerk_time
    cruise = np.full_like(speed, LONGEST_CRUISE)
    if stroke is not None:
        cruise = np.minimum(cruise, stroke / speed - ramp_time)
    return Moves(speed, peak, ramp_time, cruise, jerk_time)


def join_moves(parts: Sequence[Moves]) -> Moves:
    """Moves of one kind, trapezoids or with limited jerk, side by side."""
    speed, acceleration, ramp_time, cruise_time = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("speed", "acceleration", "ramp_time", "cruise_time")
    )
    limits = [part.jerk_time for part in parts if part.jerk_time is not None]
    return Moves(speed, acceleration, ramp_time, cruise_time, np.concatenate(limits) if limits else None)


def find_reachable(moves: Moves) -> NDArray[np.bool_]:
    """Tell which moves reach their speed on the stroke, (cells,): both ramps fit, to 1e-9 of their length."""
    return moves.cruise_time >= -1e-9 * moves.ramp_time
