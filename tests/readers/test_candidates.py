"""Candidates: leaves with owner, tolerance and source; what replaces what; the set-up that they make."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from generator.readers.comparison import ReadResult
from generator.records.candidate import Candidate

Read = Callable[..., ReadResult]
NAME = "    name: First motor\n"


def first(result: ReadResult) -> Candidate:
    assert result.comparison is not None, "\n".join(map(str, result.problems))
    return result.comparison.candidates[0]


def codes(result: ReadResult) -> list[str]:
    return [problem.code for problem in result.problems]


def test_leaves_are_in_si_and_say_who_owns_them(read: Read) -> None:
    candidate = first(read())

    assert candidate.leaves["motor.inductance"].value == 2e-3
    assert candidate.leaves["motor.inductance"].unit == "H"
    assert candidate.leaves["motor.inductance"].owner == "first"
    assert candidate.leaves["machine.axes.x.moving_mass"].owner == "common"
    assert candidate.leaves["machine.transmission.efficiency"].value == 0.95
    assert candidate.axes == ("x", "y")
    assert candidate.motor_names == ("x", "y")


def test_a_candidates_leaf_replaces_commons(read: Read) -> None:
    candidate = first(read((NAME, NAME + "    machine: {axes: {x: {moving_mass: 350 g}}}\n")))

    assert candidate.leaves["machine.axes.x.moving_mass"].value == 0.35
    assert candidate.leaves["machine.axes.x.moving_mass"].owner == "first"
    assert candidate.leaves["machine.axes.x.friction"].owner == "common"


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("motor.resistance", (0.10, True)),
        ("motor.inductance", (0.20, True)),
        ("motor.holding_torque", (0.10, True)),
        ("motor.rotor_inertia", (0.10, True)),
        ("machine.axes.x.moving_mass", (0.02, True)),
        ("machine.axes.x.friction", (0.30, True)),
        ("supply.voltage", (0.02, True)),
        ("supply.source_resistance", (0.30, True)),
        ("drive.peak_current", (0.05, True)),
        ("drive.voltage_drop", (0.30, True)),
        ("machine.transmission.efficiency", (0.03, False)),
        ("motor.rated_current", (None, True)),
        ("machine.axes.x.travel", (None, True)),
        ("machine.transmission.belt_pitch", (None, True)),
    ],
)
def test_default_tolerances(read: Read, path: str, expected: tuple[float | None, bool]) -> None:
    leaf = first(read()).leaves[path]

    assert (leaf.tolerance, leaf.tolerance_relative) == expected
    assert (leaf.distribution, leaf.tolerance_origin) == ("rectangular", "assumed")


def test_tolerances_and_sources_mirror_the_keys_of_any_block(read: Read) -> None:
    machine = (
        "  machine:\n    tolerance: {axes: {x: {moving_mass: 5 g}}, transmission: {efficiency: {standard: 1 %}}}\n"
    )
    motor = "      tolerance: {inductance: 5 %}\n      sources: {inductance: bridge meter}\n"
    candidate = first(read(("  machine:\n", machine), ("      inductance: 2 mH\n", "      inductance: 2 mH\n" + motor)))

    mass = candidate.leaves["machine.axes.x.moving_mass"]
    inductance = candidate.leaves["motor.inductance"]
    efficiency = candidate.leaves["machine.transmission.efficiency"]
    assert (mass.tolerance, mass.tolerance_relative, mass.distribution) == (0.005, False, "rectangular")
    assert (inductance.tolerance, inductance.tolerance_relative, inductance.source) == (0.05, True, "bridge meter")
    assert (efficiency.tolerance, efficiency.tolerance_relative, efficiency.distribution) == (0.01, True, "normal")
    assert inductance.tolerance_origin == "file"
    assert mass.half_width == 0.005
    assert inductance.half_width == pytest.approx(1e-4)


def test_a_tolerance_under_common_holds_for_the_candidates_own_values(read: Read) -> None:
    result = read(("  supply: {", "  motor: {tolerance: {inductance: 7 %}}\n  supply: {"))

    assert first(result).leaves["motor.inductance"].tolerance == 0.07
    assert first(result).leaves["motor.inductance"].owner == "first"


def test_a_tolerance_of_zero_makes_a_figure_exact(read: Read) -> None:
    result = read(("      inductance: 2 mH\n", "      inductance: 2 mH\n      tolerance: {inductance: 0 %}\n"))

    assert first(result).leaves["motor.inductance"].tolerance is None


def test_the_sine_factor_follows_the_owner_of_the_current(read: Read) -> None:
    shared = first(read()).leaves["drive.sine_factor"]
    own = first(read((NAME, NAME + "    drive: {peak_current: 1.9 A}\n"))).leaves["drive.sine_factor"]

    assert (shared.value, shared.distribution, shared.owner, own.owner) == (1.0, "one-sided", "common", "first")
    assert shared.value + shared.half_width == pytest.approx(4 / math.pi, rel=1e-15)


def test_rms_current_replaces_peak_current_as_a_whole(read: Read) -> None:
    candidate = first(read((NAME, NAME + "    drive: {rms_current: 1.2 A}\n")))

    assert "drive.peak_current" not in candidate.leaves
    assert candidate.setup().drive.current_peak == pytest.approx(1.2 * math.sqrt(2))


def test_another_travel_replaces_the_belt_as_a_whole(read: Read) -> None:
    screw = first(read((NAME, NAME + "    machine: {transmission: {screw_lead: 8 mm/rev, efficiency: 0.4}}\n")))
    pulley = first(read((NAME, NAME + "    machine: {transmission: {pulley_teeth: 16}}\n")))

    assert screw.setup().transmissions[0].kind == "screw"
    assert screw.setup().transmissions[0].travel_per_turn == 0.008
    assert pulley.setup().transmissions[0].travel_per_turn == pytest.approx(0.032)


def test_a_square_thread_gives_the_efficiency(read: Read) -> None:
    change = "    machine: {transmission: {screw_lead: 8 mm, friction_coefficient: 0.15, lead_angle: 12 deg}}\n"
    leaf = first(read((NAME, NAME + change))).leaves["machine.transmission.efficiency"]

    # tan 12° / tan(12° + atan 0.15) worked by hand: 0.212557 / tan(20.5308°) = 0.212557 / 0.374503 = 0.567570
    assert leaf.value == pytest.approx(0.567570, abs=2e-5)
    assert (leaf.owner, leaf.origin) == ("first", "assumed")
    # friction ±30 %: 0.195 gives 0.5072, 0.105 gives 0.6539 by the same formula; half of what lies between
    low, high = (math.tan(0.2094395102) / math.tan(0.2094395102 + math.atan(m)) for m in (0.195, 0.105))
    assert leaf.half_width == pytest.approx((high - low) / 2, rel=1e-9)


def test_motors_may_differ_and_have_two_names_each(read: Read) -> None:
    motors = "    motors: {m2: {count: 2, transmission: {screw_lead: 5 mm}, motor: {rotor_inertia: 90 g·cm²}}}\n"
    by_number = first(read(("    transmission: {belt", motors + "    transmission: {belt")))
    by_axis = first(read(("    transmission: {belt", motors.replace("m2", "y") + "    transmission: {belt")))

    assert by_number == by_axis
    setup = by_axis.setup()
    assert setup.counts == (1, 2)
    assert [t.kind for t in setup.transmissions] == ["belt", "screw"]
    assert setup.transmissions[1].travel_per_turn == 0.005
    assert [m.rotor_inertia for m in setup.motors] == [6e-6, 9e-6]


def test_crossed_belts_name_their_motors_by_row(read: Read) -> None:
    crossed = ("motor_map: straight", "motor_map: crossed-belts")
    motors = ("    transmission: {belt", "    motors: {x: {count: 2}}\n    transmission: {belt")
    candidate = first(read(crossed, motors))

    assert candidate.motor_map == ((1.0, 1.0), (1.0, -1.0))
    assert candidate.motor_names == ("m1", "m2")
    assert candidate.setup().counts == (2, 1)


def test_a_third_axis_of_a_crossed_machine_stands_alone(read: Read) -> None:
    axis = "      z: {moving_mass: 1 kg}\n    transmission: {belt"
    candidate = first(read(("motor_map: straight", "motor_map: crossed-belts"), ("    transmission: {belt", axis)))

    assert candidate.motor_map == ((1.0, 1.0, 0.0), (1.0, -1.0, 0.0), (0.0, 0.0, 1.0))
    assert candidate.motor_names == ("m1", "m2", "m3")


@pytest.mark.parametrize("matrix", ["[[1, 1], [2, 2]]", "[[0, 0], [1, 1]]", "[[1]]", "[[1, 0, 0], [0, 1, 0]]"])
def test_a_matrix_that_no_machine_has_is_refused(read: Read, matrix: str) -> None:
    assert codes(read(("motor_map: straight", f"motor_map: {{matrix: {matrix}}}"))) == ["motor-map"]


def test_a_matrix_with_small_numbers_is_no_singular_one(read: Read) -> None:
    candidate = first(read(("motor_map: straight", "motor_map: {matrix: [[1e-5, 1e-5], [1e-5, -1e-5]]}")))

    assert candidate.motor_map_name == "matrix"


def test_an_axis_without_a_mass_is_missed_by_name(read: Read) -> None:
    result = read(("moving_mass: 500 g, travel: 300 mm", "travel: 300 mm"))

    assert codes(result) == ["hardware-missing", "hardware-missing"]
    assert "machine.axes.y.moving_mass" in result.problems[0].message


def test_what_a_faulty_value_brings_about_is_not_said_too(read: Read) -> None:
    assert codes(read(("inductance: 2 mH", "inductance: 2 ohm"))) == ["unit-wrong"]
    assert codes(read(("inductance: 2 mH", "inductence: 2 mH"))) == ["unknown-key"]
    assert codes(read(("  supply: {voltage: 24 V, source_resistance: 0.1 ohm}\n", "  supply: 24 V\n"))) == [
        "wrong-kind"
    ]


@pytest.mark.parametrize("side", ["sources: {holding_torque: maker's sheet}", "tolerance: {holding_torque: 5 %}"])
def test_a_misspelt_key_does_not_orphan_what_is_said_of_it(read: Read, side: str) -> None:
    motor = "      holding_torque: 0.4 N·m\n"
    misspelt = ("      holding_tourqe: 0.4 N·m\n", f"      {side}\n")

    (problem,) = read((motor, "".join(misspelt))).problems

    assert (problem.code, problem.fix) == ("unknown-key", "did you mean holding_torque?")


def test_a_misspelt_key_of_common_does_not_orphan_its_source(read: Read) -> None:
    (problem,) = read(("common:\n", "common:\n  ambiant: 20 degC\n  sources: {ambient: thermometer}\n")).problems

    assert (problem.code, problem.fix) == ("unknown-key", "did you mean ambient?")


def test_all_faults_are_told_at_once(read: Read) -> None:
    result = read(
        ("inductance: 2 mH", "inductance: 2,5 mH"),
        ("date: 2026-09-18", "date: tomorrow"),
        ("direction: {x: 1}", "direction: {x: 1, q: 2}"),
        ("- {held: 20 m/s², lost: 21 m/s²}", "- {held: 22 m/s², lost: 21 m/s²}"),
        end="weights: {nothing: 1}\n",
    )

    assert codes(result) == ["date-form", "decimal-comma", "unknown-axis", "held-not-below-lost", "unknown-item"]


@pytest.mark.parametrize("angle", ["1.7 deg", "100 deg", "360 deg"])
def test_a_step_angle_needs_a_whole_number_of_teeth(read: Read, angle: str) -> None:
    assert "rotor-teeth" in codes(read(("step_angle: 1.8 deg", f"step_angle: {angle}")))


@pytest.mark.parametrize(("angle", "teeth"), [("1.8 deg", 50), ("0.9°", 100), ("3.75 deg", 24), ("0.45 deg", 200)])
def test_rotor_teeth_follow_from_the_step_angle(read: Read, angle: str, teeth: int) -> None:
    assert first(read(("step_angle: 1.8 deg", f"step_angle: {angle}"))).setup().motors[0].rotor_teeth == teeth


def test_facts_that_are_no_numbers_are_kept(read: Read) -> None:
    change = ("peak_current: 2 A", "peak_current: 2 A, step_division: 16")
    candidate = first(read(change, ("      inductance: 2 mH\n", "      inductance: 2 mH\n      wiring: series\n")))

    assert candidate.facts == {"drive.step_division": 16, "motor.wiring": "series"}


def test_the_item_is_kept(read: Read) -> None:
    item = "obtained: bought, price: 31.50, currency: EUR, price_date: 2026-08-20, units_tested: 1, hours_run: 12"
    found = first(read((NAME, f"{NAME}    item: {{{item}}}\n"))).item

    assert (found.obtained, found.price, found.currency, found.units_tested) == ("bought", 31.5, "EUR", 1)
    assert (found.hours_run, found.condition) == (12.0, None)
