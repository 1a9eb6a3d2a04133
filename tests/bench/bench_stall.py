"""Speed and memory of the stall map: ratios of processor time within one run.

Run:  .venv/bin/python tests/bench/bench_stall.py

The comparison integrates the same equations (one axis, one motor, the same ideal regulator with a 50 µs time
constant) by one scipy.integrate.solve_ivp call per cell. Doing that for all 2304 cells would take half an hour, so a
few cells are drawn at random from the same grid, timed, and their mean is extrapolated to all cells; said in the table.
"""

from __future__ import annotations

import math
import sys
import time
import tracemalloc
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from generator.models import stall
from generator.models.profile import find_reachable, plan_moves
from generator.records.hardware import Drive, Motor, Setup, Supply, Transmission

STROKE = 0.3
SAMPLED = 12
MOTOR = Motor(50, math.radians(1.8), 0.5, 2.5, 1.2, 1.5e-3, 82e-7)


def one_axis() -> Setup:
    """One motor that moves 0.5 kg with friction."""
    belt = (Transmission("belt", 0.04),)
    axes = ("x",), ((1.0,),), (0.5,), (1.5,), (0.0,), (0.0,), (None,)
    return Setup("bench", *axes, (MOTOR,), belt, (1,), Supply(48.0), Drive(2.5))


def crossed_belts() -> Setup:
    """Two motors on crossed belts."""
    belt = (Transmission("belt", 0.04, drag_torque=0.03),) * 2
    axes = ("x", "y"), ((1.0, 1.0), (1.0, -1.0)), (0.35, 0.65), (1.0, 2.0), (0.0,) * 2, (0.0,) * 2, (None,) * 2
    return Setup("bench", *axes, (MOTOR,) * 2, belt, (1, 1), Supply(48.0), Drive(2.5))


def grid(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Speeds up to 1.5 m/s and accelerations up to 100 m/s²."""
    return np.linspace(1.5 / count, 1.5, count), np.linspace(100.0 / count, 100.0, count)


def rates(t: float, state: np.ndarray, command, radius: float, inertia: float) -> list[float]:
    """Both currents, angle and speed of one motor, in plain numbers."""
    first, second, angle, speed = state.tolist()
    way, path_speed = command(t)
    teeth, gear = 50, 50 / radius
    flux = 0.5 / (math.sqrt(2) * 50 * 2.5)
    sine, cosine = math.sin(teeth * angle), math.cos(teeth * angle)
    changes = []
    cos_wanted, sin_wanted = 2.5 * math.cos(gear * way), 2.5 * math.sin(gear * way)
    phases = ((first, cos_wanted, -sin_wanted, -sine), (second, sin_wanted, cos_wanted, cosine))
    for now, wanted, slope, shape in phases:
        emf = teeth * flux * speed * shape
        asked = 1.2 * now + emf + 1.5e-3 * (slope * gear * path_speed + (wanted - now) / 50e-6)
        changes.append((min(max(asked, -48.0), 48.0) - 1.2 * now - emf) / 1.5e-3)
    torque = teeth * flux * (-first * sine + second * cosine)
    return [*changes, speed, (torque - radius * 1.5 * math.tanh(radius * speed / 2e-3)) / inertia]


def solve_cell(speed: float, acceleration: float) -> None:
    """One whole move by one solve_ivp call."""
    ramp = speed / acceleration
    cruise = min(0.1, STROKE / speed - ramp)
    end = 2 * ramp + cruise

    def command(t: float) -> tuple[float, float]:
        if t < ramp:
            return acceleration * t * t / 2, acceleration * t
        if t < ramp + cruise:
            return speed * (t - ramp / 2), speed
        left = max(end - t, 0.0)
        return speed * (ramp + cruise) - acceleration * left * left / 2, acceleration * left

    radius = 0.04 / math.tau
    inertia = 82e-7 + 0.5 * radius**2
    solve_ivp(rates, (0, end + 0.03), [2.5, 0, 0, 0], "LSODA", args=(command, radius, inertia), rtol=1e-6, atol=1e-8)


def time_map(setup: Setup, direction: tuple[float, ...], count: int) -> tuple[float, int]:
    """Seconds and cell steps of one map."""
    start = time.process_time()
    found = stall.predict_stall_map(stall.Grid(setup, direction, *grid(count), STROKE))
    return time.process_time() - start, found.cell_steps


def peak_memory(setup: Setup, direction: tuple[float, ...], count: int) -> float:
    """Peak above start [MB]."""
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    stall.predict_stall_map(stall.Grid(setup, direction, *grid(count), STROKE))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return (peak - before) / 1e6


def main() -> None:
    """Print the table."""
    axis, machine = one_axis(), crossed_belts()
    diagonal = (math.sqrt(0.5), math.sqrt(0.5))
    speed, acceleration = (values.ravel() for values in np.meshgrid(*grid(48)))
    reachable = np.flatnonzero(find_reachable(plan_moves(speed, acceleration, STROKE)))
    chosen = np.random.default_rng(1).choice(reachable, SAMPLED, replace=False)
    start = time.process_time()
    for cell in chosen:
        solve_cell(float(speed[cell]), float(acceleration[cell]))
    each = (time.process_time() - start) / SAMPLED
    cells = len(reachable)
    whole, _ = time_map(axis, (1.0,), 48)
    say(f"solve_ivp, one axis, mean of {SAMPLED} drawn cells", f"{each:.3f} s a cell")
    say(f"  extrapolated to the {cells} reachable cells", f"{each * cells:.0f} s")
    say("map 48 × 48, one axis", f"{whole:.2f} s")
    say("  times faster", f"{each * cells / whole:.0f} (wanted: 200 or more)")
    each_cell = []
    for count in (12, 24, 48):
        seconds, steps = time_map(machine, diagonal, count)
        each_cell.append(seconds / count**2 * 1e3)
        words = f"{seconds:.2f} s, {each_cell[-1]:.2f} ms a cell, {steps / 1e6:.1f} M cell steps"
        say(f"map {count} × {count}, crossed belts at 45°", words)
    growth = max(later / earlier for earlier, later in pairwise(each_cell))
    say("  time a cell on four times the cells", f"{growth:.2f} times at most (wanted: 1.1 or less)")
    say("peak memory above start, 48 × 48", f"{peak_memory(machine, diagonal, 48):.1f} MB (wanted: under 200)")


def say(what: str, value: str) -> None:
    """Print one row."""
    print(f"{what:50} {value}")


if __name__ == "__main__":
    main()
