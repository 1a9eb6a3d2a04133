"""What the envelope costs: 4,000 draws × 200 speeds × 2 candidates in one array call each, beside scalar loops.

Run: .venv/bin/python tests/bench/bench_envelope.py [DRAWS SPEEDS]
The array call finds all three lines at every point. Each scalar loop finds the static line alone, one point at a time
in plain floats with a SciPy optimiser, on a random sample of the points; its time for all points is extrapolated from
that sample. Processor time of one process; every sampled point must give the array's figure.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq, minimize, minimize_scalar

from generator.models.envelope import limit_lines
from generator.models.uncertainty import draw_setups
from generator.records.candidate import Candidate, Leaf
from generator.records.hardware import Setup

DIRECTION = (0.6, 0.8)
REPEATS = 5
SAMPLES = {"bounded scalar search": 400, "constrained search in the current plane": 150}


@dataclass(frozen=True)
class Point:
    """One motor's share of one draw at one speed, in plain floats."""

    resistance: float
    reactance: float
    emf: float
    current: float
    voltage: float
    torque_constant: float
    radius: float
    force: float
    inertia: float
    ratio: float
    drag: float


def main() -> None:
    draws, speeds = ([int(text) for text in sys.argv[1:]] or [4000, 200])[:2]
    candidates = [make_candidate("first", 1.8, 1.5e-3), make_candidate("second", 0.9, 3.2e-3)]
    setups = draw_setups(candidates, draws, 1)
    grid = np.linspace(0.01, 2.5, speeds)
    points = draws * speeds * len(candidates)
    lines = {name: np.asarray(limit_lines(setup, DIRECTION, grid).static) for name, setup in setups.items()}
    array = min(
        find_time(lambda: [limit_lines(setup, DIRECTION, grid) for setup in setups.values()]) for _ in range(REPEATS)
    )
    rows = [("arrays, three lines", points, array, array, 1.0, 0.0)]
    for name, search in (
        ("bounded scalar search", search_angle),
        ("constrained search in the current plane", search_plane),
    ):
        seconds, worst = sample(search, SAMPLES[name], setups, lines, grid)
        whole = seconds / SAMPLES[name] * points
        rows.append((f"loop, {name}", SAMPLES[name], seconds, whole, whole / array, worst))
    print_table(points, rows)


def make_candidate(name: str, step_degrees: float, inductance: float) -> Candidate:
    """Crossed belts at 48 V with a drawn leaf for everything that has a default tolerance."""
    rows = (
        ("motor.step_angle", math.radians(step_degrees), None),
        ("motor.holding_torque", 0.5, 0.1),
        ("motor.rated_current", 2.5, None),
        ("motor.resistance", 1.2, 0.1),
        ("motor.inductance", inductance, 0.2),
        ("motor.rotor_inertia", 82e-7, 0.1),
        ("machine.axes.x.moving_mass", 0.35, 0.02),
        ("machine.axes.y.moving_mass", 0.65, 0.02),
        ("machine.transmission.travel_per_turn", 0.04, None),
        ("machine.transmission.drag_torque", 0.03, 0.3),
        ("supply.voltage", 48.0, 0.02),
        ("drive.peak_current", 2.5, 0.05),
        ("drive.sine_factor", 1.0, 0.2),
    )
    leaves = {path: Leaf("common", path, value, "", tolerance) for path, value, tolerance in rows}
    leaves["drive.sine_factor"] = replace(leaves["drive.sine_factor"], distribution="one-sided")
    return Candidate(name, name, ("x", "y"), ((1.0, 1.0), (1.0, -1.0)), "crossed-belts", ("x", "y"), leaves)


def sample(
    search: Callable[[Point], float],
    count: int,
    setups: dict[str, Setup],
    lines: dict[str, np.ndarray],
    grid: np.ndarray,
) -> tuple[float, float]:
    """Time of a scalar search over a random sample of points [s], and its worst relative difference from the arrays."""
    rng = np.random.default_rng(5)
    names = list(setups)
    work, expected = [], []
    for _ in range(count):
        name = names[rng.integers(len(names))]
        row, column = rng.integers(lines[name].shape[0]), rng.integers(len(grid))
        work.append(find_points(setups[name], row, float(grid[column])))
        expected.append(lines[name][row, column])
    found: list[float] = []
    seconds = find_time(lambda: found.extend(min(find_limit(point, search(point)) for point in pair) for pair in work))
    worst = float(np.max(np.abs(np.array(found) / np.array(expected) - 1)))
    if worst > 1e-4:
        raise SystemExit(f"the loop and the arrays differ by {worst:.1e}")
    return seconds, worst


def find_points(setup: Setup, row: int, speed: float) -> list[Point]:
    """Both motors of one draw at one speed; taking the figures out of the arrays is not timed."""

    def get(value: object) -> float:
        array = np.asarray(value, dtype=np.float64)
        return float(array[row, 0] if array.ndim else array)

    x, y = DIRECTION
    mass_x, mass_y = (get(mass) for mass in setup.moving_mass)
    voltage = get(setup.drive.sine_factor) * get(setup.supply.voltage)
    points = []
    for motor, transmission, sign in zip(setup.motors, setup.transmissions, (1.0, -1.0), strict=True):
        radius, ratio = get(transmission.travel_per_turn) / (2 * math.pi), x + sign * y
        flux = get(motor.holding_torque) / (math.sqrt(2) * motor.rotor_teeth * get(motor.rated_current))
        speed_elec = motor.rotor_teeth * abs(ratio) * speed / radius
        points.append(
            Point(
                resistance=get(motor.resistance),
                reactance=speed_elec * get(motor.inductance),
                emf=speed_elec * flux,
                current=get(setup.drive.current_peak),
                voltage=voltage,
                torque_constant=motor.rotor_teeth * flux,
                radius=radius,
                force=(mass_x * x + sign * mass_y * y) / 2,
                inertia=get(motor.rotor_inertia),
                ratio=ratio,
                drag=math.copysign(get(transmission.drag_torque), ratio),
            )
        )
    return points


def search_angle(point: Point) -> float:
    """Largest torque by a bounded search along i_d for the highest i_q that both circles allow [N·m]."""
    square = point.resistance**2 + point.reactance**2
    centre_d, centre_q = -point.emf * point.reactance / square, -point.emf * point.resistance / square
    radius = point.voltage / math.sqrt(square)

    def height(i_d: float) -> float:
        inner = math.sqrt(max(point.current**2 - i_d**2, 0.0))
        return -min(inner, centre_q + math.sqrt(max(radius**2 - (i_d - centre_d) ** 2, 0.0)))

    low, high = max(-point.current, centre_d - radius), min(point.current, centre_d + radius)
    if low >= high:
        return 0.0
    best = minimize_scalar(height, bounds=(low, high), method="bounded", options={"xatol": 1e-9})
    return max(0.0, -best.fun) * point.torque_constant


def search_plane(point: Point) -> float:
    """Largest torque by a constrained search over (i_d, i_q), the limits as the machine's equations have them [N·m]."""
    impedance = complex(point.resistance, point.reactance)

    def room(x: np.ndarray) -> list[float]:
        vector = complex(x[0], x[1]) * point.current
        terminal = abs(impedance * vector + 1j * point.emf)
        return [1 - x[0] ** 2 - x[1] ** 2, 1 - (terminal / point.voltage) ** 2]

    start = -1j * point.emf / impedance / point.current
    start /= max(1.0, abs(start))
    constraint = {"type": "ineq", "fun": room}
    best = minimize(lambda x: -x[1], [start.real, start.imag], method="SLSQP", constraints=constraint)
    return max(0.0, float(best.x[1])) * point.current * point.torque_constant


def find_limit(point: Point, torque: float) -> float:
    """Acceleration at which the motor's torque is used up, by a bracketing root finder [m/s²]."""

    def left(acceleration: float) -> float:
        rotating = point.inertia * point.ratio / point.radius
        return torque - abs((point.radius * point.force + rotating) * acceleration + point.drag)

    if left(0.0) <= 0:
        return 0.0
    return float(brentq(left, 0.0, 1e6, xtol=1e-9))


def find_time(work: Callable[[], object]) -> float:
    """Processor time of one call [s]."""
    start = time.process_time()
    work()
    return time.process_time() - start


def print_table(points: int, rows: list[tuple[str, int, float, float, float, float]]) -> None:
    print(f"{points} points: acceleration limits of both motors; loops sampled and extrapolated to all points")
    print(f"{'way':<48} {'points run':>10} {'time [s]':>9} {'all points [s]':>15} {'ratio':>8} {'worst diff':>11}")
    for name, count, seconds, whole, ratio, worst in rows:
        print(f"{name:<48} {count:>10} {seconds:>9.3f} {whole:>15.3f} {ratio:>8.0f} {worst:>11.1e}")


if __name__ == "__main__":
    main()
