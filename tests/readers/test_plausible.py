"""Figures that are out by a thousand get a warning; what motors, machines and supplies of this trade have gets none."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from generator.readers.comparison import ReadResult
from generator.readers.plausible import USUAL

Read = Callable[..., ReadResult]
KEYS = ("holding_torque", "rated_current", "resistance", "inductance", "rotor_inertia")
WRITTEN = ("0.4 N·m", "2 A", "1.2 ohm", "2 mH", "60 g·cm²")
UNITS = ("N·m", "A", "ohm", "mH", "g·cm²")

# Sizes as data sheets of two-phase motors give them, by flange; values from memory.
MOTORS = {
    "20 mm": (0.018, 0.6, 6.5, 1.7, 2),
    "20 mm, fine wire": (0.016, 0.2, 32, 9, 1.6),
    "28 mm": (0.06, 0.67, 5.6, 3.4, 9),
    "35 mm": (0.14, 1.0, 2.7, 4.3, 14),
    "42 mm, flat": (0.12, 1.0, 3.6, 4.0, 20),
    "42 mm": (0.45, 1.5, 2.2, 4.6, 68),
    "42 mm, long": (0.65, 1.7, 1.65, 3.2, 110),
    "57 mm": (1.26, 2.8, 0.9, 2.5, 300),
    "57 mm, fine wire": (1.0, 1.0, 6.6, 21, 280),
    "57 mm, long": (3.0, 4.2, 0.9, 3.8, 840),
    "86 mm": (4.5, 5.5, 0.46, 4.0, 1400),
    "86 mm, long": (12, 6.0, 0.75, 9.0, 4000),
    "110 mm": (12, 5.5, 0.9, 13, 5500),
    "110 mm, long": (28, 8.0, 0.7, 15, 16000),
}


def motor(figures: tuple[float, ...]) -> list[tuple[str, str]]:
    """Changes that give the first candidate this motor."""
    return [
        (f"      {key}: {old}\n", f"      {key}: {new:g} {unit}\n")
        for key, old, new, unit in zip(KEYS, WRITTEN, figures, UNITS, strict=True)
    ]


def codes(result: ReadResult) -> list[str]:
    """Codes of warnings; the current of the plain comparison saturates some motors, which is told elsewhere."""
    assert result.comparison is not None, "\n".join(map(str, result.problems))
    assert {problem.severity for problem in result.problems} <= {"warning"}
    return [problem.code for problem in result.problems if problem.code != "current-saturation"]


@pytest.mark.parametrize("size", MOTORS)
def test_no_motor_of_the_trade_is_unusual(read: Read, size: str) -> None:
    assert codes(read(*motor(MOTORS[size]))) == []


@pytest.mark.parametrize("factor", [1e-3, 1e3])
@pytest.mark.parametrize(
    ("key", "code"),
    [
        ("holding_torque", "torque-inertia-unusual"),
        ("rotor_inertia", "torque-inertia-unusual"),
        ("resistance", "time-constant-unusual"),
        ("inductance", "time-constant-unusual"),
    ],
)
@pytest.mark.parametrize("size", MOTORS)
def test_a_slip_by_a_thousand_in_a_motor_is_noticed(read: Read, size: str, key: str, code: str, factor: float) -> None:
    figures = [figure * factor if name == key else figure for name, figure in zip(KEYS, MOTORS[size], strict=True)]

    assert codes(read(*motor(tuple(figures)))) == [code]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("moving_mass: 300 g", "moving_mass: 120 kg"),
        ("moving_mass: 300 g", "moving_mass: 10 g"),
        ("travel: 300 mm", "travel: 12 m"),
        ("travel: 300 mm", "travel: 3 mm"),
        ("voltage: 24 V", "voltage: 48 V"),
        ("voltage: 24 V", "voltage: 325 V"),
        ("voltage: 24 V", "voltage: 5 V"),
        ("belt_pitch: 2 mm", "belt_pitch: 14 mm"),
        ("source_resistance: 0.1 ohm", "source_resistance: 0.1 ohm, capacitance: 47 mF"),
        ("speed: 500 mm/s", "speed: 1 mm/s"),
    ],
)
def test_small_and_large_machines_are_usual(read: Read, old: str, new: str) -> None:
    assert codes(read((old, new))) == []


@pytest.mark.parametrize(
    ("old", "new", "found", "usual"),
    [
        ("moving_mass: 300 g", "moving_mass: 300 kg", "300 kg", "5 g to 200 kg"),
        ("moving_mass: 300 g", "moving_mass: 300 mg", "0.3 g", "5 g to 200 kg"),
        ("travel: 300 mm", "travel: 300 m", "300 m", "0.5 mm to 60 m"),
        ("voltage: 24 V", "voltage: 24 kV", "24000 V", "1 V to 400 V"),
        ("source_resistance: 0.1 ohm", "capacitance: 2200 F", "2200000000 µF", "1 µF to 1000000 µF"),
        ("belt_pitch: 2 mm", "belt_pitch: 2 m", "2 m", "0.5 mm to 50 mm"),
        ("peak_current: 2 A", "peak_current: 2 mA", "0.002 A", "0.02 A to 50 A"),
        ("common:\n", "common:\n  ambient: 22 K\n", "−251.15 °C", "−50 °C to 100 °C"),
        ("speed: 500 mm/s\n    stroke: 100 mm", "speed: 500 m/s", "500000 mm/s", "0.01 mm/s to 30000 mm/s"),
    ],
)
def test_a_figure_far_from_the_usual_is_named_with_its_range(
    read: Read, old: str, new: str, found: str, usual: str
) -> None:
    result = read((old, new))

    assert codes(result) == ["figure-unusual"]
    assert result.problems[0].message == f"{found} is unusual here; usual is {usual}"
    assert result.problems[0].fix.startswith("check the unit")


def test_a_ratio_says_what_it_is_made_of(read: Read) -> None:
    (constant,) = read(("inductance: 2 mH", "inductance: 2000 mH")).problems
    (rotor,) = read(("      rotor_inertia: 60 g·cm²\n", "      rotor_inertia: 60 kg·cm²\n")).problems

    made = "inductance 2000 mH over resistance 1.2 Ω makes an electrical time constant of 1.67 s"
    assert constant.message == f"{made}; usual is 0.05 ms to 50 ms"
    made = "holding torque 0.4 N·m over rotor inertia 60000 g·cm² makes an acceleration of 66.7 rad/s²"
    assert rotor.message == f"{made}; usual is 2000 rad/s² to 1000000 rad/s²"
    assert "check the unit" in constant.fix and "check the unit" in rotor.fix


def test_a_speed_trial_s_ladder_has_speeds_too(read: Read) -> None:
    trial = "  - id: top\n    measures: speed\n    direction: {x: 1}\n    ladder: {start: 500 m/s, rung: 50 m/s}\n"

    assert codes(read(end=trial)) == ["figure-unusual"]


def test_a_figure_that_candidates_share_is_told_once(read: Read) -> None:
    result = read(("      resistance: 1.2 ohm\n", ""), ("common:\n", "common:\n  motor: {resistance: 1.2 kohm}\n"))

    assert codes(result) == ["time-constant-unusual"]


def test_every_range_runs_upwards() -> None:
    assert all(0 < low < high for low, high in USUAL.values())
