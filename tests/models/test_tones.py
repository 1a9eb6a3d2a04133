"""Rates and wavelengths against elementary kinematics worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from generator.models.tones import predict_tones
from generator.records.hardware import Transmission


def belt(teeth=20.0):
    return Transmission("belt", 0.002 * teeth, teeth_per_turn=teeth)


def test_rates_of_a_straight_axis(make_axis, motors):
    # 40 mm a turn, 200 full steps a turn, 100 mm/s: 2.5 turns/s, 500 full steps/s, 125 Hz electrical, 50 teeth/s
    (tones,) = predict_tones(make_axis(motors["P"], 2.5, transmissions=(belt(),)), (1.0,), 0.1, "t")

    assert tones.turn == pytest.approx(2.5)
    assert tones.full_step == pytest.approx(500.0)
    assert tones.electrical == pytest.approx(125.0)
    assert tones.electrical_double == pytest.approx(250.0)
    assert 4 * tones.electrical == pytest.approx(tones.full_step)
    assert tones.tooth == pytest.approx(50.0)
    assert (tones.trial, tones.candidate, tones.motor, tones.speed) == ("t", "reference", 0, 0.1)


def test_wavelengths_do_not_depend_on_speed(make_axis, motors):
    setup = make_axis(motors["P"], 2.5, transmissions=(belt(),))
    expected = {"full_step": 0.2e-3, "electrical_double": 0.4e-3, "electrical": 0.8e-3, "tooth": 2e-3, "turn": 40e-3}
    for speed in (0.02, 0.1, 1.3):
        assert predict_tones(setup, (1.0,), speed)[0].wavelengths == pytest.approx(expected)


def test_ringing_leaves_a_wavelength_that_grows_with_speed(make_axis, motors):
    # 50 Hz at 100 mm/s prints a ripple of 2 mm
    (tones,) = predict_tones(make_axis(motors["P"], 2.5), (1.0,), 0.1, ringing=(50.0, 125.0))

    assert tones.ringing == pytest.approx((2e-3, 0.8e-3))


def test_crossed_belts_at_45_degrees_turn_one_motor_faster(make_setup, motors):
    setup = make_setup(motors["P"], 2.5, transmissions=(belt(), belt()))
    diagonal = predict_tones(setup, (math.sqrt(0.5), math.sqrt(0.5)), 0.1)
    straight = predict_tones(setup, (1.0, 0.0), 0.1)

    assert [tones.motor for tones in diagonal] == [0]
    assert diagonal[0].full_step == pytest.approx(500 * math.sqrt(2))
    assert diagonal[0].wavelengths["tooth"] == pytest.approx(2e-3 / math.sqrt(2))
    assert [tones.motor for tones in straight] == [0, 1]
    assert [tones.full_step for tones in straight] == pytest.approx([500, 500])


def test_a_fine_motor_on_a_screw(make_axis, motors):
    # 0.9°: 400 full steps a turn; lead 8 mm at 80 mm/s: 10 turns/s, 4000 full steps/s, and no teeth
    screw = make_axis(motors["Q"], 2.0, transmissions=(Transmission("screw", 0.008),))
    (tones,) = predict_tones(screw, (1.0,), 0.08)

    assert tones.full_step == pytest.approx(4000.0)
    assert tones.electrical == pytest.approx(1000.0)
    assert tones.tooth is None
    assert tones.wavelengths["tooth"] is None


def test_four_full_steps_of_a_fine_motor_are_a_fifth_of_a_tooth(make_axis, motors):
    setup = make_axis(motors["Q"], 2.0, transmissions=(belt(),))
    waves = predict_tones(setup, (1.0,), 0.1)[0].wavelengths

    assert waves["tooth"] / waves["electrical"] == pytest.approx(5.0)


def test_backward_is_as_loud_as_forward(make_axis, motors):
    setup = make_axis(motors["P"], 2.5, transmissions=(replace(belt(), travel_per_turn=0.04),))

    assert predict_tones(setup, (-1.0,), 0.1) == predict_tones(setup, (1.0,), 0.1)
