"""How much of the pull-out torque a sudden acceleration may ask for before the rotor swings past its hold.

With lag δ (electrical) and p = asked torque over pull-out torque, time in units of 1/ω_0: δ'' = p − sin δ, undamped.
A load that sets in at once makes the rotor swing beyond its new lag; it is lost when the swing passes the far
equilibrium. Two cases, each solved from its energy balance. Nothing here is fitted.
"""

from __future__ import annotations

import math
from collections.abc import Callable


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function that rises through 0 between low and high does so, by halving down to neighbouring floats."""
    middle = (low + high) / 2
    while low < middle < high:
        low, high = (middle, high) if function(middle) < 0 else (low, middle)
        middle = (low + high) / 2
    return middle


def _start_limit() -> float:
    """Equal areas for one step from rest: (π − δ)·sin δ = 1 + cos δ, p = sin δ."""
    return math.sin(_root(lambda lag: (math.pi - lag) * math.sin(lag) - 1 - math.cos(lag), 0.1, math.pi / 2))


def _any_timing_limit() -> float:
    """Braking sets in at the extreme δ_m of the swing that the start left: the least favourable moment.

    p·δ_m = 1 − cos δ_m (extreme), 2·(1 − cos δ_m) = 1 + p·(asin p − π) + √(1 − p²) (barrier).
    """

    def share(extreme: float) -> float:
        return (1 - math.cos(extreme)) / extreme

    def excess(extreme: float) -> float:
        p = share(extreme)
        return 2 * (1 - math.cos(extreme)) - 1 - p * (math.asin(p) - math.pi) - math.sqrt(1 - p * p)

    return share(_root(excess, 0.1, 2.0))


START = _start_limit()
"""Largest p that survives one step from rest (equal-area criterion): 0.72461."""

ANY_TIMING = _any_timing_limit()
"""Largest p that survives a start and a stop whatever lies between them: 0.42227."""
