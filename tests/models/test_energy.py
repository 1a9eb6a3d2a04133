"""Energy of a move and the figures to heed, against worked examples."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from generator.models import energy
from generator.records.hardware import Drive, Motor, Supply, Transmission

ROOT = math.sqrt(0.5)


def weightless(motor):
    """The motor with a rotor too light to count, so that the carriage's energy stands alone."""
    return replace(motor, rotor_inertia=0.0)


@pytest.mark.parametrize(("mass", "speed", "joule"), [(0.5, 0.3, 0.0225), (2.0, 1.0, 1.0)])
def test_kinetic_energy_of_the_carriage(mass, speed, joule, motors, make_axis):
    # m·v²/2, worked by hand
    setup = make_axis(weightless(motors["P"]), 2.5, moving_mass=(mass,))
    assert energy.moving_energy(setup, (1.0,), speed) == pytest.approx(joule, rel=1e-12)


def test_every_rotor_counts(motors, make_axis, make_setup):
    # 1 m/s on 40 mm per turn: 157.08 rad/s; 82e-7 kg·m² then hold 0.101163 J
    turning = 0.5 * 82e-7 * (2 * math.pi / 0.04) ** 2
    assert turning == pytest.approx(0.101163, abs=5e-7)
    one, two = (make_axis(motors["P"], 2.5, counts=(count,)) for count in (1, 2))
    assert energy.moving_energy(one, (1.0,), 1.0) == pytest.approx(0.25 + turning, rel=1e-12)
    assert energy.moving_energy(two, (1.0,), 1.0) == pytest.approx(0.25 + 2 * turning, rel=1e-12)
    # crossed belts at 45°: one motor at √2 times the speed, the other at rest
    diagonal = energy.moving_energy(make_setup(motors["P"], 2.5), (ROOT, ROOT), 1.0)
    assert diagonal == pytest.approx(0.25 * (0.35 + 0.65) + 2 * turning, rel=1e-12)


def test_moving_energy_over_arrays(motors, make_setup):
    setup, speeds = make_setup(motors["P"], 2.5), np.array([0.0, 0.5, 1.0])
    many = energy.moving_energy(setup, (0.6, 0.8), speeds)
    assert many == pytest.approx([float(energy.moving_energy(setup, (0.6, 0.8), speed)) for speed in speeds])
    assert many[1] == pytest.approx(many[2] / 4)


def test_supply_rise_of_a_worked_example(motors, make_axis):
    # ½·C·(V1² − V0²) = E: 1 J into 470 µF at 24 V ends at 69.5077 V; 6172.84 µF would hold it to 30 V
    setup = make_axis(motors["P"], 2.5, supply=Supply(24.0, capacitance=470e-6))
    assert energy.supply_peak(setup, 1.0) == pytest.approx(69.5077, abs=5e-5)
    assert energy.supply_peak(setup, 0.6) == pytest.approx(55.9392, abs=5e-5)
    held = make_axis(motors["P"], 2.5, supply=Supply(24.0, capacitance=6172.84e-6))
    assert energy.supply_peak(held, 1.0) == pytest.approx(30.0, abs=5e-6)
    assert energy.supply_peak(make_axis(motors["P"], 2.5), 1.0) is None


def test_a_descent_gives_its_height_back(motors, make_axis):
    # 2 kg lowered by 0.3 m: m·g·h = 5.88399 J, on the way back of a lift too
    setup = make_axis(motors["P"], 2.5, steady_force=(-2 * 9.80665,))
    assert energy.steady_work(setup, (-1.0,), 0.3) == pytest.approx(5.88399, abs=1e-9)
    assert energy.steady_work(setup, (1.0,), 0.3) == pytest.approx(5.88399, abs=1e-9)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_lift_comes_down_again(way, motors, make_axis):
    # 4 kg over 200 mm return 7.84532 J: from rest into 500 µF at 36 V, √(1296 + 2·7.84532/0.0005) = 180.7686 V
    setup = make_axis(
        weightless(motors["P"]),
        2.5,
        moving_mass=(4.0,),
        steady_force=(-4 * 9.80665,),
        supply=Supply(36.0, capacitance=5e-4),
    )
    peak = by_kind(energy.find_cautions(setup, (way,), 0.0, stroke=0.2))["supply peak"]
    assert peak.value == pytest.approx(180.7686, abs=5e-5)
    assert "steady force's work over the path included" in peak.assumes
    assert peak.at == {"speed": 0.0, "path": 0.2}


def test_a_force_across_the_move_does_no_work(motors, make_setup):
    # the force acts on y, the move runs along x
    setup = make_setup(motors["P"], 2.5, steady_force=(0.0, -10.0), supply=Supply(48.0, capacitance=1e-3))
    for stroke in (0.2, None):
        peak = by_kind(energy.find_cautions(setup, (1.0, 0.0), 0.5, stroke=stroke))["supply peak"]
        moving = energy.moving_energy(setup, (1.0, 0.0), 0.5)
        assert peak.value == pytest.approx(math.sqrt(48**2 + 2 * moving / 1e-3))
        assert "steady force" not in peak.assumes and peak.at == {"speed": 0.5}


def test_an_axis_that_can_fall_is_named_with_its_weight(motors, make_setup):
    # 13.7 N at standard gravity is the weight of 1.39701 kg, whichever way it pulls
    for force in (-13.7, 13.7):
        (falling,) = energy.find_falling(make_setup(motors["P"], 2.5, steady_force=(0.0, force)))
        assert (falling.kind, falling.axis, falling.value, falling.unit) == ("steady force", "y", 13.7, "N")
        assert falling.at["mass"] == pytest.approx(1.39701, abs=5e-6)
    assert energy.find_falling(make_setup(motors["P"], 2.5)) == ()


def test_a_stop_with_limited_jerk(motors, make_axis):
    # 0.3 m/s with 1000 m/s³: no more than √300 = 17.3205 m/s², v·√(v/j) = 5.19615 mm; at 10 m/s², 0.15·(0.03 + 0.01)
    setup = make_axis(motors["P"], 2.5, jerk=1000.0)
    hard, gentle = (by_kind(energy.find_cautions(setup, (1.0,), 0.3, a))["stopping distance"] for a in (28.0, 10.0))
    assert hard.value == pytest.approx(0.00519615, abs=5e-9)
    assert hard.at == {"speed": 0.3, "deceleration": pytest.approx(17.3205, abs=5e-5), "jerk": 1000.0}
    assert gentle.value == pytest.approx(0.006)
    assert gentle.at["deceleration"] == 10.0


def test_a_turned_motor_stands_beside_the_limit_of_alternating_voltage(motors, make_axis):
    # N_r·λ = 0.141421 V·s, 40 mm per turn: 22.2144 V for each m/s
    setup = make_axis(motors["P"], 2.5)
    for speed, volt in ((1.9, 42.2074), (2.0, 44.4288)):
        induced = by_kind(energy.find_cautions(setup, (1.0,), speed))["induced voltage"]
        assert induced.value == pytest.approx(volt, abs=5e-5)
        # 42.4 V peak: IEC 60335-1, as quoted in IEC 62282-5-1; the 60 V beside it there are for direct voltage
        assert induced.limit == 42.4


def test_winding_loss_is_that_of_two_phases(motors):
    # Î/√2 in each of two phases of 1.2 ohm: 2·1.2·(2.5/√2)² = 7.5 W, 23.58 % more at 80 °C (IEC 60028)
    assert energy.winding_loss(motors["P"], 2.5) == pytest.approx(7.5)
    hot = replace(motors["P"], winding_temperature=353.15)
    assert energy.winding_loss(hot, 2.5) == pytest.approx(7.5 * 1.2358, rel=1e-9)


def test_induced_voltage_of_a_machine_pushed_by_hand(motors, make_setup):
    # N_r·λ = 0.141421 V·s at 222.144 rad/s (45°, 1 m/s), nothing in the motor that rests
    voltages = energy.induced_voltages(make_setup(motors["P"], 2.5), (ROOT, ROOT), 1.0)
    assert voltages == pytest.approx([31.4159, 0.0], abs=5e-5)


def by_kind(cautions):
    return {caution.kind: caution for caution in cautions}


def test_cautions_carry_their_figures_and_assumptions(motors, make_axis):
    setup = make_axis(
        motors["P"],
        2.5,
        moving_mass=(2.0,),
        steady_force=(-19.6,),
        travel=(0.3,),
        supply=Supply(48.0, capacitance=1e-3),
        drive=Drive(2.5, voltage_limit=56.0, standstill_current=0.6),
    )
    found = by_kind(energy.find_cautions(setup, (-1.0,), 1.0, acceleration=10.0))
    moving = 1.0 + 0.5 * 82e-7 * (2 * math.pi / 0.04) ** 2
    assert found["moving energy"].value == pytest.approx(moving)
    peak = math.sqrt(48**2 + 2 * (moving + 19.6 * 0.3) / 1e-3)
    assert found["supply peak"].value == found["touchable supply peak"].value == pytest.approx(peak)
    assert (found["supply peak"].limit, found["touchable supply peak"].limit) == (56.0, 60.0)
    assert found["supply peak"].at == {"speed": 1.0, "path": 0.3}
    assert found["winding loss"].value == pytest.approx(1.2 * 2.5**2)
    assert found["standstill loss"].value == pytest.approx(1.2 * 1.5**2)
    assert found["standstill loss"].at == {"current_share": 0.6, "winding_temperature": 293.15}
    assert found["stopping distance"].value == pytest.approx(0.05)
    assert found["induced voltage"].value == pytest.approx(0.1414213562 * 2 * math.pi / 0.04)
    assert found["stopping distance"].at == {"speed": 1.0, "deceleration": 10.0}
    assert all(caution.candidate == "reference" and caution.assumes for caution in found.values())
    # figures stand beside the words, for pages to format
    assert not any(character.isdigit() for caution in found.values() for character in caution.assumes.replace("√2", ""))


def test_missing_inputs_are_said(motors, make_axis):
    setup = make_axis(motors["P"], 2.5, steady_force=(-19.6,))
    found = by_kind(energy.find_cautions(setup, (-1.0,), 1.0))
    assert found["supply peak"].value is None
    assert "capacitance is not given" in found["supply peak"].assumes
    assert "stopping distance" not in found
    stocked = replace(setup, supply=Supply(48.0, capacitance=1e-3))
    open_ended = by_kind(energy.find_cautions(stocked, (-1.0,), 1.0))["supply peak"]
    assert open_ended.value == pytest.approx(math.sqrt(48**2 + 2e3 * float(energy.moving_energy(setup, (1.0,), 1.0))))
    assert "work left out" in open_ended.assumes


def test_path_is_the_shortest_way_to_an_end(motors, make_setup):
    # 0.3 × 0.2 m crossed at 3:4: y ends the path after 0.25 m; 10 N along −y then do 10·0.8·0.25 J
    setup = make_setup(
        weightless(motors["P"]),
        2.5,
        travel=(0.3, 0.2),
        steady_force=(0.0, -10.0),
        supply=Supply(48.0, capacitance=1e-3),
    )
    peak = by_kind(energy.find_cautions(setup, (0.6, -0.8), 0.0))["supply peak"].value
    assert peak == pytest.approx(math.sqrt(48**2 + 2 * 2.0 / 1e-3))


def test_motors_of_unequal_kind_and_count(make_setup, motors):
    setup = make_setup(
        motors["P"],
        2.0,
        motors=(motors["P"], Motor(50, math.radians(1.8), 0.3, 1.0, 3.0, 4e-3, 40e-7)),
        counts=(1, 2),
        transmissions=(Transmission("belt", 0.04),) * 2,
    )
    found = by_kind(energy.find_cautions(setup, (1.0, 0.0), 0.5))
    # per motor, however many there are: the hotter kind, 3 Ω at 2 A
    assert found["winding loss"].value == pytest.approx(3.0 * 4.0)
    assert "standstill loss" not in found


@pytest.fixture
def make_rail(motors, make_axis):
    """A light axis on 48 V into 1 mF, its drive's limit 60 V, changed."""

    def make(limit=60.0, capacitance=0.001, **changes):
        supply = Supply(48.0, capacitance=capacitance)
        setup = make_axis(motors["P"], 2.5, supply=supply, **changes)
        return replace(setup, drive=replace(setup.drive, voltage_limit=limit))

    return make


def test_the_speed_from_which_a_stop_lifts_the_rail_to_its_limit_gives_just_that_peak(make_rail):
    setup = make_rail()
    speed = energy.find_rail_speed(setup, (1.0,))

    # 0.001/2·(60² − 48²) = 0.648 J over 0.25 + 0.101163 J at 1 m/s
    assert speed == pytest.approx(math.sqrt(0.648 / 0.351163), rel=1e-5)
    assert energy.supply_peak(setup, energy.moving_energy(setup, (1.0,), speed)) == pytest.approx(60.0, rel=1e-12)


def test_a_steady_force_that_alone_lifts_the_rail_leaves_no_speed(make_rail):
    # 40 N over 2 m are 80 J, and the rail takes 0.648 J
    assert energy.find_rail_speed(make_rail(steady_force=(-40.0,)), (1.0,), 2.0) == 0.0


def test_without_limit_or_capacitance_no_speed_is_named(make_rail):
    assert energy.find_rail_speed(make_rail(limit=None), (1.0,)) is None
    assert energy.find_rail_speed(make_rail(capacitance=None), (1.0,)) is None
