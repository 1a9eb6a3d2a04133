"""Units are spelling: one comparison written in many units gives the same results.

Factors by their definitions: inch and pound by the international agreement of 1959 (0.0254 m, 0.45359237 kg),
standard gravity 9.80665 m/s² (CGPM 1901), degree and turn by π.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Context, Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from generator.evaluation.comparison import evaluate
from generator.readers.comparison import read_comparison
from generator.readers.folder import MemoryFolder

POUND, GRAVITY, INCH = Decimal("0.45359237"), Decimal("9.80665"), Decimal("0.0254")
PI = Decimal("3.14159265358979323846264338327950288")
UNITS: dict[str, dict[str, Decimal]] = {
    "length": {"m": Decimal(1), "mm": Decimal("1e-3"), "cm": Decimal("1e-2"), "in": INCH},
    "speed": {"m/s": Decimal(1), "mm/s": Decimal("1e-3"), "m/min": 1 / Decimal(60), "in/s": INCH},
    "acceleration": {"m/s²": Decimal(1), "mm/s²": Decimal("1e-3"), "m/s^2": Decimal(1), "g": GRAVITY},
    "mass": {"kg": Decimal(1), "g": Decimal("1e-3"), "lb": POUND},
    "inertia": {"kg·m²": Decimal(1), "g·cm²": Decimal("1e-7"), "kg·mm²": Decimal("1e-6")},
    "torque": {
        "N·m": Decimal(1),
        "mN·m": Decimal("1e-3"),
        "Ncm": Decimal("1e-2"),
        "kgf·cm": GRAVITY / 100,
        "oz·in": POUND / 16 * GRAVITY * INCH,
    },
    "force": {"N": Decimal(1), "mN": Decimal("1e-3"), "kN": Decimal(1000)},
    "viscous": {"N·s/m": Decimal(1), "N·s/mm": Decimal(1000)},
    "stiffness": {"N/m": Decimal(1), "N/mm": Decimal(1000)},
    "angle": {"deg": PI / 180, "rad": Decimal(1)},
    "current": {"A": Decimal(1), "mA": Decimal("1e-3")},
    "voltage": {"V": Decimal(1), "mV": Decimal("1e-3")},
    "resistance": {"ohm": Decimal(1), "mohm": Decimal("1e-3")},
    "inductance": {"H": Decimal(1), "mH": Decimal("1e-3"), "uH": Decimal("1e-6")},
    "capacitance": {"F": Decimal(1), "uF": Decimal("1e-6")},
    "time": {"s": Decimal(1), "ms": Decimal("1e-3")},
    "ratio": {"": Decimal(1), "%": Decimal("1e-2")},
}
"""Units of each kind with their size in SI."""

TEXT = """schema: 1
title: One motor at two currents
date: 2026-09-18
data: invented
stall_map: false
common:
  ambient: <ambient>
  machine:
    motor_map: crossed-belts
    axes:
      x: {moving_mass: <mass 0.28>, travel: <length 0.32>, friction: <force 2>}
      y: {moving_mass: <mass 0.54>, travel: <length 0.26>, friction: <force 3>, viscous: <viscous 4>}
    transmission: {belt_pitch: <length 0.002>, pulley_teeth: 24, efficiency: <ratio 0.95>,
      shaft_inertia: <inertia 3e-7>, drag_torque: <torque 0.02>, belt_stiffness: <stiffness 60000>}
  supply: {voltage: <voltage 36>, source_resistance: <resistance 0.1>, capacitance: <capacitance 0.0022>}
  drive: {voltage_drop: <voltage 0.8>, voltage_limit: <voltage 60>, standstill_current: <ratio 0.6>}
  motor: {step_angle: <step>, holding_torque: <torque 0.46>, rated_current: <current 2.8>,
    resistance: <resistance 0.75>, inductance: <inductance 0.0015>, rotor_inertia: <inertia 7e-6>,
    detent_torque: <torque 0.018>, winding_temperature: <winding>}
candidates:
  - {id: low, name: Low current, drive: {peak_current: <current 1.5>}}
  - {id: full, name: Full current, drive: {peak_current: <current 2.8>}}
trials:
  - id: diagonal
    measures: acceleration
    direction: {x: 1, y: 1}
    speed: <speed 0.9>
    stroke: <length 0.3>
    ladder: {start: <acceleration 20>, rung: <acceleration 1>}
    runs:
      low: [{held: <acceleration 31>, lost: <acceleration 32>}, {held: <acceleration 33>, lost: <acceleration 34>}]
      full: [{held: <acceleration 51>, lost: <acceleration 52>}, {held: <acceleration 52>, lost: <acceleration 53>}]
  - id: top
    measures: speed
    direction: {x: 1}
    acceleration: <acceleration 11>
    stroke: <length 0.3>
    hold_time: <time 0.02>
    ladder: {start: <speed 0.8>, rung: <speed 0.05>}
    runs:
      low: [{held: <speed 1.15>, lost: <speed 1.2>}]
matters: {items: {diagonal: <acceleration 2.5>, top: <speed 0.1>}}
"""
PICK = {"<ambient>": "22 degC", "<winding>": "60 degC", "<step>": "1.8 deg"}
"""Figures whose units shift as well as stretch, or are no powers of ten."""


def places(text: str) -> Iterator[tuple[str, str, str]]:
    """Every figure to be written: its mark, its kind and its SI value."""
    start = 0
    while (begin := text.find("<", start)) >= 0:
        start = text.index(">", begin) + 1
        kind, _, value = text[begin + 1 : start - 1].partition(" ")
        if value:
            yield text[begin:start], kind, value


def write(value: str, kind: str, unit: str) -> str:
    """A figure in a unit, with 13 significant digits, so that its last bits in SI are not those of the first."""
    figure = (Decimal(value) / UNITS[kind][unit]).normalize(Context(prec=13))
    return f"{figure:f} {unit}".strip()


def spell(units: dict[str, str], pick: dict[str, str]) -> str:
    """The comparison with every kind in its unit."""
    text = TEXT
    for mark, kind, value in list(places(TEXT)):
        text = text.replace(mark, write(value, kind, units[kind]), 1)
    for mark, written in pick.items():
        text = text.replace(mark, written)
    return text


def results_of(text: str, draws: int = 100) -> dict[str, Any]:
    """Results of a comparison's text."""
    found = read_comparison(MemoryFolder({"comparison.yaml": text.encode()}), "units")
    assert found.comparison is not None, "\n".join(map(str, found.problems))
    return evaluate(found.comparison, {}, draws=draws)


FIRST = {kind: next(iter(units)) for kind, units in UNITS.items()}


@pytest.fixture(scope="module")
def in_si() -> dict[str, Any]:
    """The results of the comparison written in SI."""
    return results_of(spell(FIRST, PICK))


def assert_alike(found: Any, expected: Any, place: str = "") -> None:
    """Equal texts, switches and counts; figures equal to 1e-9 of their size, as far as their nine digits show."""
    if isinstance(expected, dict):
        assert list(found) == list(expected), place
        for key, value in expected.items():
            assert_alike(found[key], value, f"{place}/{key}")
    elif isinstance(expected, list):
        assert len(found) == len(expected), place
        for number, value in enumerate(expected):
            assert_alike(found[number], value, f"{place}/{number}")
    elif isinstance(expected, float):
        # both are rounded to nine digits, so two neighbouring roundings may lie one unit of the ninth digit apart
        assert math.isclose(found, expected, rel_tol=1.01e-8), f"{place}: {found} {expected}"
    else:
        assert found == expected, f"{place}: {found} {expected}"


@pytest.mark.parametrize("number", range(1, max(map(len, UNITS.values()))))
def test_every_unit_of_every_kind(in_si: dict[str, Any], number: int) -> None:
    units = {kind: list(names)[number % len(names)] for kind, names in UNITS.items()}

    assert_alike(results_of(spell(units, PICK)), in_si)


def test_temperatures_and_angles(in_si: dict[str, Any]) -> None:
    pick = {"<ambient>": "22 °C", "<winding>": "333.15 K", "<step>": "0.03141592653590 rad"}

    assert_alike(results_of(spell(FIRST, pick)), in_si)


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(units=st.fixed_dictionaries({kind: st.sampled_from(sorted(names)) for kind, names in UNITS.items()}))
def test_all_kinds_at_once(in_si: dict[str, Any], units: dict[str, str]) -> None:
    assert_alike(results_of(spell(units, PICK)), in_si)


def test_rms_and_peak_of_one_sine(in_si: dict[str, Any]) -> None:
    # Î = √2·I_rms; a figure of its own name has draws of its own, so what is compared is nominal
    text = spell(FIRST, PICK)
    for peak in ("1.5", "2.8"):
        text = text.replace(f"peak_current: {peak} A", f"rms_current: {Decimal(peak) / Decimal(2).sqrt():.13f} A")
    found = results_of(text)

    assert "peak_current" not in text
    for ours, theirs in zip(found["predictions"], in_si["predictions"], strict=True):
        for line in ("static", "start", "any_timing"):
            assert ours[line]["nominal"] == pytest.approx(theirs[line]["nominal"], rel=1e-8)
    for ours, theirs in zip(found["candidates"], in_si["candidates"], strict=True):
        for key in ("current_peak", "static_torque", "available_voltage"):
            assert ours[key] == pytest.approx(theirs[key], rel=1e-8)


def test_revolutions_are_no_radians() -> None:
    # a travel per turn may be written per turn or not; both are the same length
    texts = [spell(FIRST, PICK).replace("belt_pitch: 0.002 m, pulley_teeth: 24", f"travel_per_turn: {written}")
             for written in ("48 mm", "48 mm/rev", "0.048 m/turn")]  # fmt: skip
    first, *others = [results_of(text, 20) for text in texts]

    assert first["candidates"][0]["travel_per_turn"] == 0.048
    for other in others:
        assert_alike(other, first)
