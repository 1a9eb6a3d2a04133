"""Laws that hold for every machine: scaling, monotony, symmetry of directions, and figures that units do not change.

Source: Newton's second law and the similarity that follows from it; what is monotone follows from the formulas' signs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from places_of_trust import PLAIN

from generator.evaluation.comparison import evaluate
from generator.models.energy import moving_energy
from generator.models.envelope import limit_lines, predict_speed_limit
from generator.models.motor import natural_frequency, pull_out_torque
from generator.models.resonance import natural_frequencies
from generator.readers.comparison import read_comparison
from generator.readers.folder import MemoryFolder
from generator.records.hardware import Drive, Motor, Setup, Supply, Transmission

LAW = settings(max_examples=40, deadline=None, derandomize=True)
FACTORS = st.floats(1.01, 5.0)
SPEEDS = st.floats(0.01, 2.0)
ANGLES = st.integers(0, 3599).map(lambda tenths: math.radians(tenths / 10))
CLOSE = {"rel": 1e-9, "abs": 1e-12}


@st.composite
def machines(draw: st.DrawFn, maps: tuple[Any, ...] = (((1.0, 0.0), (0.0, 1.0)), ((1.0, 1.0), (1.0, -1.0)))) -> Setup:
    """Plausible machines with two axes, straight or with crossed belts, without a steady force."""
    motor = Motor(
        50, math.radians(1.8), draw(st.floats(0.1, 2)), draw(st.floats(0.5, 4)), draw(st.floats(0.3, 5)),
        draw(st.floats(5e-4, 1e-2)), draw(st.floats(1e-6, 1e-4)),
    )  # fmt: skip
    belt = Transmission("belt", 0.04, efficiency=0.95, drag_torque=draw(st.floats(0, 0.02)), belt_stiffness=6e4)
    return Setup(
        "any", ("x", "y"), draw(st.sampled_from(maps)), (draw(st.floats(0.1, 2)), draw(st.floats(0.1, 2))),
        (draw(st.floats(0, 3)), draw(st.floats(0, 3))), (draw(st.floats(0, 4)), draw(st.floats(0, 4))), (0.0, 0.0),
        (None, None), (motor, motor), (belt, belt), (1, 1), Supply(draw(st.floats(12, 60))),
        Drive(draw(st.floats(0.5, 3)), voltage_drop=1.0),
    )  # fmt: skip


def along(angle: float) -> tuple[float, float]:
    return math.cos(angle), math.sin(angle)


def lines(setup: Setup, direction: tuple[float, float], speed: float) -> list[float]:
    found = limit_lines(setup, direction, speed)
    return [float(found.static), float(found.start), float(found.any_timing)]


@LAW
@given(machines(), ANGLES, SPEEDS)
def test_there_and_back_are_equal_where_nothing_pulls(setup: Setup, angle: float, speed: float) -> None:
    there, back = lines(setup, along(angle), speed), lines(setup, along(angle + math.pi), speed)

    assert there == pytest.approx(back, **CLOSE)


@LAW
@given(machines(maps=(((1.0, 1.0), (1.0, -1.0)),)), SPEEDS)
def test_crossed_belts_know_no_difference_between_the_diagonals(setup: Setup, speed: float) -> None:
    assert lines(setup, along(math.pi / 4), speed) == pytest.approx(lines(setup, along(-math.pi / 4), speed), **CLOSE)


@LAW
@given(machines(), ANGLES, SPEEDS, FACTORS)
def test_forces_and_masses_scaled_together_change_no_acceleration(
    setup: Setup, angle: float, speed: float, factor: float
) -> None:
    motors = tuple(
        replace(m, holding_torque=m.holding_torque * factor, rotor_inertia=m.rotor_inertia * factor,
                resistance=m.resistance * factor, inductance=m.inductance * factor)
        for m in setup.motors
    )  # fmt: skip
    scaled = replace(
        setup,
        moving_mass=tuple(m * factor for m in setup.moving_mass),
        friction=tuple(f * factor for f in setup.friction),
        viscous=tuple(f * factor for f in setup.viscous),
        transmissions=tuple(replace(t, drag_torque=t.drag_torque * factor) for t in setup.transmissions),
        motors=motors,
        supply=Supply(setup.supply.voltage * factor),
        drive=replace(setup.drive, voltage_drop=factor),
    )

    assert lines(scaled, along(angle), speed) == pytest.approx(lines(setup, along(angle), speed), rel=1e-7, abs=1e-9)


WORSE = {
    "mass": lambda s, k: replace(s, moving_mass=tuple(m * k for m in s.moving_mass)),
    "friction": lambda s, k: replace(s, friction=tuple(f + k for f in s.friction)),
    "viscous": lambda s, k: replace(s, viscous=tuple(f + k for f in s.viscous)),
    "rotor": lambda s, k: replace(s, motors=tuple(replace(m, rotor_inertia=m.rotor_inertia * k) for m in s.motors)),
    "voltage": lambda s, k: replace(s, supply=Supply(s.supply.voltage / k)),
    "torque": lambda s, k: replace(
        s, motors=tuple(replace(m, detent_torque=0.0, iron_drag=1e-5 * k) for m in s.motors)
    ),
}


@pytest.mark.parametrize("what", WORSE)
def test_what_hinders_never_helps(what: str) -> None:
    @LAW
    @given(machines(), ANGLES, SPEEDS, FACTORS)
    def holds(setup: Setup, angle: float, speed: float, factor: float) -> None:
        before = np.array(lines(setup, along(angle), speed)[:2])
        after = np.array(lines(WORSE[what](setup, factor), along(angle), speed)[:2])

        assert (after <= before * (1 + 1e-9) + 1e-9).all()

    holds()


@LAW
@given(machines(), ANGLES, SPEEDS, FACTORS)
def test_a_faster_move_never_allows_more(setup: Setup, angle: float, speed: float, factor: float) -> None:
    slow, fast = lines(setup, along(angle), speed), lines(setup, along(angle), speed * factor)

    assert all(b <= a * (1 + 1e-9) + 1e-9 for a, b in zip(slow, fast, strict=True))


@LAW
@given(machines(), ANGLES, st.floats(0.5, 20))
def test_the_speed_limit_is_where_the_acceleration_limit_is_used_up(setup: Setup, angle: float, wanted: float) -> None:
    limit = float(predict_speed_limit(setup, along(angle), wanted, lines=("static",))["static"].torque)

    if math.isfinite(limit) and limit > 1e-6:
        assert lines(setup, along(angle), limit * (1 - 1e-6))[0] >= wanted * (1 - 1e-4) - 1e-6
        assert lines(setup, along(angle), limit * (1 + 1e-6))[0] <= wanted * (1 + 1e-4) + 1e-6


@LAW
@given(machines(), FACTORS, st.floats(0, 5000))
def test_torque_follows_the_motor_and_never_rises_with_speed(setup: Setup, factor: float, speed: float) -> None:
    motor, drive = setup.motors[0], setup.drive
    torque = float(pull_out_torque(motor, drive.current_peak, 24.0, speed))
    faster = float(pull_out_torque(motor, drive.current_peak, 24.0, speed * factor + 1))

    assert 0 <= faster <= torque * (1 + 1e-9)


@LAW
@given(machines(), FACTORS)
def test_frequencies_fall_with_the_root_of_what_moves(setup: Setup, factor: float) -> None:
    heavy = replace(
        setup,
        moving_mass=tuple(m * factor for m in setup.moving_mass),
        motors=tuple(replace(m, rotor_inertia=m.rotor_inertia * factor) for m in setup.motors),
    )
    motor = setup.motors[0]
    one = natural_frequency(motor, 1.0, motor.rotor_inertia)

    assert natural_frequency(motor, 1.0, motor.rotor_inertia * factor) == pytest.approx(
        one / math.sqrt(factor), **CLOSE
    )
    for axis in ("x", "y"):
        before = np.asarray(natural_frequencies(setup, axis))
        assert np.asarray(natural_frequencies(heavy, axis)) == pytest.approx(before / math.sqrt(factor), rel=1e-7)


@LAW
@given(machines(), ANGLES, SPEEDS, FACTORS)
def test_energy_goes_with_the_square_of_speed_in_every_direction(
    setup: Setup, angle: float, speed: float, factor: float
) -> None:
    one = float(moving_energy(setup, along(angle), speed))

    assert float(moving_energy(setup, along(angle), speed * factor)) == pytest.approx(one * factor**2, **CLOSE)
    assert float(moving_energy(setup, along(angle + math.pi), speed)) == pytest.approx(one, **CLOSE)


UNITS: Mapping[str, tuple[str, ...]] = {
    "420 g": ("0.42 kg", "420000 mg", "14.815064018823773 oz", "0.92594150117648584 lb"),
    "250 mm": ("0.25 m", "25 cm", "9.8425196850393704 in"),
    "2 mm": ("0.002 m", "2000 um", "0.078740157480314961 in"),
    "94 %": ("0.94",),
    "24 V": ("24000 mV", "0.024 kV"),
    "{peak_current: 1.5 A}": ("{peak_current: 1500 mA}",),
    "0.26 N·m": ("26 N·cm", "260 mN·m", "36.819102491921087 oz·in"),
    "2.3 mH": ("0.0023 H", "2300 uH"),
    "1.5 ohm": ("1500 mohm",),
    "38 g·cm²": ("3.8e-6 kg·m²", "3.8 kg·mm²"),
    "300 mm/s": ("0.3 m/s", "18 m/min", "11.811023622047244 in/s"),
    "120 mm": ("12 cm", "0.12 m"),
    "start: 10 m/s²": ("start: 10000 mm/s²",),
    "held: 50 m/s², lost: 51 m/s²": ("held: 50000 mm/s², lost: 51000 mm/s2",),
}
"""Other ways to write the plain figures; inch, pound and ounce by definition (25.4 mm, 453.59237 g)."""
RUNS = {"runs.csv": b"held [m/s2],lost [m/s2]\n42,43\n43,44\n"}
OTHER_RUNS = {"runs.csv": b"held [mm/s2],lost [mm/s2]\n42000,43000\n43000,44000\n"}


@settings(max_examples=6, deadline=None, derandomize=True, phases=[Phase.generate])
@given(st.data())
def test_units_change_no_figure(data: st.DataObject) -> None:
    # Figures are rounded to nine digits, so the last of them may differ by one.
    text = PLAIN
    for written, others in UNITS.items():
        assert written in PLAIN
        text = text.replace(written, data.draw(st.sampled_from((written, *others))))
    files = data.draw(st.sampled_from((RUNS, OTHER_RUNS)))

    assert figures(text, files) == pytest.approx(PLAIN_FIGURES(), rel=1e-8, abs=1e-12)


def figures(text: str, files: Mapping[str, bytes]) -> list[float]:
    """Every number of the results object, in order."""
    read = read_comparison(MemoryFolder({"comparison.yaml": text.encode(), **files}), "plain")
    assert read.comparison is not None, [str(problem) for problem in read.problems]
    return list(_numbers({k: v for k, v in evaluate(read.comparison, files, draws=40).items() if k != "made_with"}))


def PLAIN_FIGURES() -> list[float]:
    """Those of the plain comparison, made once."""
    if not _KEPT:
        _KEPT.extend(figures(PLAIN, RUNS))
    return _KEPT


_KEPT: list[float] = []


def _numbers(value: Any) -> Any:
    if isinstance(value, Mapping):
        for key in sorted(value):
            yield from _numbers(value[key])
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _numbers(inner)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield float(value)
