"""Resonance, tones, calibration, explanations and influences of the reference machine, worked out here."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from by_hand import DRAG, INERTIA, RHO, START, limit
from reading import LADDER, measured, reference

from generator.evaluation.influences import find_influences
from generator.evaluation.recall import Recall
from generator.evaluation.resonances import find_answers, predict_peaks
from generator.evaluation.trials import agree, measure_trials
from generator.evaluation.why import calibrate, explain, find_resonances, list_tones
from generator.records.findings import Contrast, MeasuredPeak, Measurement
from generator.records.recordings import Vibration

BELTS = ("drag_torque: 0.03 N·m}", "drag_torque: 0.03 N·m, belt_stiffness: 60 N/mm}")
NONE: dict[tuple[str, str], MeasuredPeak] = {}


def modes(mass: float, current: float, belt: float, teeth: int, holding: float, rated: float) -> list[float]:
    """Both natural frequencies of an axis whose two equal motors pull together [Hz]: carriage and motor ends."""
    torque = holding * current / (math.sqrt(2) * rated)
    motor_end, motor_spring = 2 * INERTIA / RHO**2, 2 * teeth * torque / RHO**2
    stiffness = np.array([[2 * belt, -2 * belt], [-2 * belt, 2 * belt + motor_spring]])
    squares = np.linalg.eigvals(np.linalg.inv(np.diag([mass, motor_end])) @ stiffness)
    return sorted(float(np.sqrt(square)) / math.tau for square in squares)


P = {"teeth": 50, "holding": 0.5, "rated": 2.5}
Q = {"teeth": 100, "holding": 0.44, "rated": 2.0}


def test_natural_frequencies_of_stated_belts(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(reference(BELTS))
    found = {(r["axis"], r["candidate"]): r for r in find_resonances(comparison, hardware, NONE)}

    assert found["x", "p"]["frequencies"] == pytest.approx(modes(0.35, 2.5, 60e3, **P))
    assert found["y", "p"]["frequencies"] == pytest.approx(modes(0.65, 2.5, 60e3, **P))
    assert found["x", "q"]["frequencies"] == pytest.approx(modes(0.35, 2.0, 60e3, **Q))
    assert all(r["measured"] is None and r["reference"] is None for r in found.values())
    assert all(r["expected_shift"] is None and r["measured_shift"] is None for r in found.values())


def test_one_peak_gives_the_stiffness_and_the_other_candidate_is_predicted(case: Callable[..., Any]) -> None:
    # belts not stated; p is made to ring as 45 N/mm would, q is then expected where 45 N/mm put it
    comparison, hardware, _ = case(reference())
    first, second = modes(0.35, 2.5, 45e3, **P)[0], modes(0.35, 2.0, 45e3, **Q)[0]
    p, q = find_resonances(
        comparison, hardware, {("x", "p"): MeasuredPeak(first), ("x", "q"): MeasuredPeak(second + 0.2)}
    )

    assert p["belt_stiffness"] == p["stiffness_of_peak"] == pytest.approx(45e3)
    assert (p["stiffness_from"], q["stiffness_from"], q["stiffness_of_peak"]) == ("peak", "peak", None)
    assert (p["reference"], q["reference"]) == ("p", "p")
    assert p["expected_shift"] is None and p["measured_shift"] is None
    assert q["expected_shift"] == pytest.approx(second - first, rel=1e-6)
    assert q["measured_shift"] == pytest.approx(second + 0.2 - first)
    interval = q["expected_shift_interval"]
    assert interval.low < interval.nominal < interval.high
    assert q["frequencies"] == pytest.approx(modes(0.35, 2.0, 45e3, **Q))


def test_a_stated_stiffness_predicts_every_row_and_the_peak_is_told_beside_it(case: Callable[..., Any]) -> None:
    # 60 N/mm stated, p made to ring as 45 N/mm would: its own peak may not move its prediction
    comparison, hardware, _ = case(reference(BELTS))
    peak = modes(0.35, 2.5, 45e3, **P)[0]
    p, q = find_resonances(comparison, hardware, {("x", "p"): MeasuredPeak(peak)})[:2]

    assert p["frequencies"] == pytest.approx(modes(0.35, 2.5, 60e3, **P))
    assert q["frequencies"] == pytest.approx(modes(0.35, 2.0, 60e3, **Q))
    assert (p["belt_stiffness"], p["stiffness_from"], q["stiffness_from"]) == (60e3, "stated", "stated")
    assert p["stiffness_of_peak"] == pytest.approx(45e3)
    assert p["sensitivity"] > 0 and (q["stiffness_of_peak"], q["sensitivity"]) == (None, None)


def test_a_peak_that_no_stiffness_explains_leaves_the_stated_prediction(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(reference(BELTS))
    lower, upper = modes(0.35, 2.5, 1e12, **P)[0], modes(0.35, 2.5, 1.0, **P)[1]
    p = find_resonances(comparison, hardware, {("x", "p"): MeasuredPeak((lower + upper) / 2)})[0]

    assert p["frequencies"] == pytest.approx(modes(0.35, 2.5, 60e3, **P))
    assert p["stiffness_of_peak"] is None and p["message"].startswith("No belt stiffness explains a peak")


def test_the_interval_of_a_shift_holds_the_peak_s_uncertainty_and_the_detent(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(reference())
    first = modes(0.35, 2.5, 45e3, **P)[0]

    def width(uncertainty: float, detent: float) -> float:
        motors = {
            name: replace(setup, motors=tuple(replace(motor, detent_torque=detent) for motor in setup.motors))
            for name, setup in hardware.drawn.items()
        }
        peaks = {("x", "p"): MeasuredPeak(first, uncertainty), ("x", "q"): MeasuredPeak(first)}
        _, q = find_resonances(comparison, replace(hardware, drawn=motors), peaks)
        return float(q["expected_shift_interval"].high - q["expected_shift_interval"].low)

    assert width(2.0, 0.0) > 1.01 * width(0.0, 0.0)
    assert width(0.0, 0.02) > 1.1 * width(0.0, 0.0)


def test_without_a_stated_stiffness_one_peak_predicts_the_others_alone(case: Callable[..., Any]) -> None:
    _, hardware, _ = case(reference())
    first = modes(0.35, 2.5, 45e3, **P)[0]
    found = predict_peaks(Vibration("rest", "x", "tap"), hardware.nominal, {"p": first})

    assert {entry["candidate"] for entry in found} == {"q"}
    assert [entry["frequency"] for entry in found] == pytest.approx(modes(0.35, 2.0, 45e3, **Q))
    assert predict_peaks(Vibration("rest", "x", "tap"), hardware.nominal, {}) == []


def test_vibration_and_resonance_expect_the_same_shift(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(reference())
    peaks = {"p": 92.0, "q": 70.0}
    _, q = find_resonances(comparison, hardware, {("x", name): MeasuredPeak(peak) for name, peak in peaks.items()})
    figures = {
        name: Measurement("rest", name, "peak_frequency", "Hz", "recorded", 1, estimate=peak)
        for name, peak in peaks.items()
    }
    blank = Contrast(
        "rest", "vibration", "peak_frequency", "Hz", ("p", "q"), 22.0, None, None, None, "too few runs", ""
    )
    (answer,) = find_answers(Vibration("rest", "x", "tap"), hardware.nominal, figures, [blank])

    assert answer["expected"] == pytest.approx(-q["expected_shift"], rel=1e-6)  # first less second, other less first


def test_the_current_of_a_resonance_is_that_of_its_peak(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(reference(BELTS))
    (p, *_) = find_resonances(comparison, hardware, {("x", "p"): MeasuredPeak(60.0, 0.1, 1.25)})

    assert p["current"] == 1.25
    assert p["frequencies"] == pytest.approx(modes(0.35, 1.25, 60e3, **P))


def test_equal_candidates_are_expected_to_ring_alike(case: Callable[..., Any]) -> None:
    comparison = reference()
    _, hardware, _ = case(comparison)
    same = {name: hardware.nominal["p"].__class__(**vars(hardware.nominal["p"]) | {"candidate": name}) for name in "pq"}
    alike = type(hardware)(same, same, hardware.seed, hardware.draws)
    _, q = find_resonances(comparison, alike, {("x", "p"): MeasuredPeak(60.0), ("x", "q"): MeasuredPeak(60.1)})

    assert q["expected_shift"] == 0.0


def test_rates_and_lengths_of_the_turning_motor(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(reference())
    found = list_tones(comparison, hardware, [])
    turns = math.sqrt(2) * 0.5 / 0.04
    p, q = [tone for tone in found if tone["trial"] == "diagonal"]

    # along the diagonal one motor rests and leaves nothing; along x both turn
    assert (p["motor"], q["motor"]) == (0, 0)
    assert [(t["candidate"], t["motor"]) for t in found if t["trial"] == "fast"] == [
        ("p", 0), ("p", 1), ("q", 0), ("q", 1),
    ]  # fmt: skip
    assert (p["full_step"], q["full_step"]) == pytest.approx((turns * 200, turns * 400), rel=1e-8)
    assert p["electrical"] == pytest.approx(turns * 50, rel=1e-8)
    assert p["tooth"] == pytest.approx(turns * 20, rel=1e-8)
    assert p["wavelengths"] == pytest.approx(
        {
            "full_step": 0.5 / (turns * 200),
            "electrical_double": 0.5 / (turns * 100),
            "electrical": 0.5 / (turns * 50),
            "tooth": 0.5 / (turns * 20),
            "turn": 0.5 / turns,
        },
        rel=1e-8,
    )
    assert p["ringing"] == []


def test_ringing_of_the_moved_axes_leaves_a_length(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(reference(BELTS))
    resonances = find_resonances(comparison, hardware, NONE)
    found = list_tones(comparison, hardware, resonances)
    p = next(tone for tone in found if (tone["trial"], tone["candidate"]) == ("diagonal", "p"))
    fast = next(tone for tone in found if (tone["trial"], tone["candidate"]) == ("fast", "p"))

    lower = [modes(mass, 2.5, 60e3, **P)[0] for mass in (0.35, 0.65)]
    assert p["ringing"] == pytest.approx([0.5 / frequency for frequency in lower], rel=1e-8)
    assert fast["ringing"] == pytest.approx([1.5 / lower[0]], rel=1e-8)


FAST = "speed: 1.5 m/s\n    stroke: 120 mm\n    " + LADDER
FAST_RUNS = "speed: 1.5 m/s\n    " + LADDER.rstrip() + "\n    runs: {p: [{held: 60 m/s², lost: 61 m/s²}]}\n"


def test_one_trial_fits_the_torque_and_predicts_the_other(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(measured((FAST, FAST_RUNS)))
    (p,) = calibrate(comparison, hardware, measure_trials(comparison))
    # below the corner the start line is (0.7246·f·T_0 − T_drag)/needed; needed from the static limit 79.451 m/s²
    torque = 0.5 / math.sqrt(2)
    needed = (torque - DRAG) / 79.451
    factor = (32.5 * needed + DRAG) / (START * torque)

    assert (p.candidate, p.unknown, p.line, p.trial) == ("p", "torque derating", "start", "diagonal")
    assert p.factor == pytest.approx(factor, rel=1e-5)
    (fast,) = p.predicted
    expected = limit("p", (1.0, 0.0), 1.5, START, derating=factor)
    assert fast.start == pytest.approx(expected, rel=4e-3)
    assert fast.error == pytest.approx(fast.start / 60.5 - 1)


def test_one_measured_trial_predicts_nothing(case: Callable[..., Any]) -> None:
    comparison, hardware, _ = case(measured())

    assert calibrate(comparison, hardware, measure_trials(comparison)) == []


def explained(case: Callable[..., Any], p: str, q: str) -> dict[str, dict[str, Any]]:
    """Explanations by candidate and cause for one run each in trial diagonal."""
    runs = f"{LADDER.rstrip()}\n    runs: {{p: [{p}], q: [{q}]}}\n"
    comparison, hardware, predictions = case(reference((LADDER, runs)))
    found = measure_trials(comparison)
    rows = explain(comparison, hardware, found, agree(predictions, found))
    return {name: {row.cause: row for row in rows if row.candidate == name} for name in "pq"}


def test_only_what_lies_outside_is_explained(case: Callable[..., Any]) -> None:
    found = explained(case, "{held: 20 m/s², lost: 21 m/s²}", "{held: 30 m/s², lost: 31 m/s²}")

    assert len(found["p"]) == 7 and found["q"] == {}
    assert {row.line for row in found["p"].values()} == {"any_timing"}
    # the any-timing line goes with the torque here: what was lost at 21 m/s² against the line's 0.4223·T_0/needed
    torque = 0.5 / math.sqrt(2)
    line = 0.4222730600 * torque / ((torque - DRAG) / 79.451)
    assert found["p"]["motor torque"].needed == pytest.approx(21 / line, rel=1e-5)
    assert found["p"]["moving mass"].needed is None
    assert found["p"]["wave shape (k_v)"].has_effect is False


def test_more_than_static_needs_more_current(case: Callable[..., Any]) -> None:
    # 10 % above the nominal limit plus its tolerance: 79.451 m/s² and a quarter
    found = explained(case, "{held: 100 m/s², lost: 101 m/s²}", "{held: 30 m/s², lost: 31 m/s²}")["p"]
    needed = (0.5 / math.sqrt(2) - DRAG) / 79.451
    torque = 100 * needed + DRAG

    assert {row.line for row in found.values()} == {"static"}
    assert found["RMS current taken for peak"].needed == pytest.approx(torque / 0.5 * math.sqrt(2) * 2.5, rel=1e-5)


def test_influences_are_the_derivatives_of_the_formula(bare: Any) -> None:
    comparison, hardware, _ = bare
    rows = find_influences(comparison, hardware.seed, Recall())
    own = [row for row in rows if (row["trial"], row["candidate"]) == ("diagonal", "p")]
    by_path = {row["path"]: row for row in own}
    torque = 0.5 / math.sqrt(2)

    # ±10 % of the torque moves (T_0 − T_drag)/needed by ±10 % of T_0 over T_0 − T_drag
    change = 0.10 * torque / (torque - DRAG)
    assert by_path["motor.holding_torque"]["change_low"] == pytest.approx(-change)
    assert by_path["motor.holding_torque"]["change_high"] == pytest.approx(change)
    assert [row["share"] for row in own] == sorted((row["share"] for row in own), reverse=True)
    # squares of the relative changes: 10 % torque, 5 % current, 10 % rotor inertia, 30 % drag; masses add under 1 %
    inertia = INERTIA * math.sqrt(2) / RHO
    share = inertia / (inertia + RHO * 0.5 * math.sqrt(0.5))
    total = change**2 + (change / 2) ** 2 + (0.10 * share) ** 2 + (0.30 * DRAG / (torque - DRAG)) ** 2
    assert own[0]["path"] == "motor.holding_torque"
    # a share from 1000 draws has a standard error of about 0.02
    assert own[0]["share"] == pytest.approx(change**2 / total, abs=0.06)
