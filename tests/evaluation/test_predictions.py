"""Predicted corridors against formulas written out here and against an independent Monte Carlo run."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from by_hand import ANY_TIMING, DIAGONAL, DRAG, INERTIA, RHO, START, limit
from reading import REFERENCE, read_text, reference

from generator.evaluation.predictions import directions, predict_curves


@pytest.mark.parametrize(
    ("trial", "candidate", "expected"),
    # the reference table: computed independently of this project, twice
    [("diagonal", "p", 79.451), ("diagonal", "q", 43.276), ("fast", "p", 126.716), ("fast", "q", 28.019)],
)
def test_nominal_static_limits_are_the_reference_table(bare: Any, trial: str, candidate: str, expected: float) -> None:
    (found,) = [p for p in bare[2] if (p.trial, p.candidate) == (trial, candidate)]

    assert found.static.nominal == pytest.approx(expected, abs=5.1e-4)
    assert (found.quantity, found.unit, found.bound_by) == ("acceleration", "m/s^2", "torque")


@pytest.mark.parametrize("candidate", ["p", "q"])
@pytest.mark.parametrize(("trial", "direction", "speed"), [("diagonal", DIAGONAL, 0.5), ("fast", (1.0, 0.0), 1.5)])
def test_three_lines_by_a_scan_of_currents(
    bare: Any, candidate: str, trial: str, direction: tuple[float, float], speed: float
) -> None:
    (found,) = [p for p in bare[2] if (p.trial, p.candidate) == (trial, candidate)]
    start = limit(candidate, direction, speed, START)

    # the scan's grid is the tolerance: 1/400 of the current in size, 1/2000 of a half turn in angle
    assert found.static.nominal == pytest.approx(limit(candidate, direction, speed), rel=4e-3)
    assert found.start.nominal == pytest.approx(start, rel=4e-3)
    undamped = limit(candidate, direction, speed, ANY_TIMING, drag=0.0)
    assert found.any_timing.nominal == pytest.approx(min(start, undamped), rel=4e-3)


def test_a_speed_trial_ends_with_the_stroke_or_the_torque(bare: Any) -> None:
    # v = (a/2)(√(t_h² + 4S/a) − t_h) with a = 10 m/s², S = 0.3 m, no hold: √3 m/s, which motor Q does not reach
    (p, q) = [found for found in bare[2] if found.trial == "top"]

    assert (p.bound_by, q.bound_by) == ("stroke", "torque")
    assert p.static.nominal == pytest.approx(math.sqrt(3.0))
    assert limit("q", DIAGONAL, float(q.static.nominal)) == pytest.approx(10.0, rel=4e-3)
    assert (p.quantity, p.unit) == ("speed", "m/s")


def test_hold_time_shortens_the_reach(case: Callable[..., Any]) -> None:
    _, _, found = case(reference(("stroke: 300 mm", "stroke: 300 mm\n    hold_time: 50 ms")))
    (p, _) = [prediction for prediction in found if prediction.trial == "top"]

    assert p.static.nominal == pytest.approx(5 * (math.sqrt(0.05**2 + 0.12) - 0.05))


def test_one_prediction_per_trial_and_candidate_in_file_order(bare: Any) -> None:
    assert [(p.trial, p.candidate) for p in bare[2]] == [
        (trial, candidate) for trial in ("diagonal", "fast", "top") for candidate in ("p", "q")
    ]


def test_the_spread_is_that_of_an_independent_run(bare: Any) -> None:
    # below the corner the limit is (T_0 − T_drag)/(ρ·f + J·u/ρ); default half-widths, all rectangular
    random = np.random.default_rng(7)

    def draw(value: float, share: float) -> Any:
        return value * random.uniform(1 - share, 1 + share, 200_000)

    torque = draw(0.5, 0.10) / math.sqrt(2) * draw(2.5, 0.05) / 2.5
    x_mass, y_mass = draw(0.35, 0.02), draw(0.65, 0.02)
    force = (x_mass + y_mass) / 2 * math.sqrt(0.5)
    needed = RHO * force + draw(INERTIA, 0.10) * math.sqrt(2) / RHO
    expected = np.percentile((torque - draw(DRAG, 0.30)) / needed, (2.5, 50.0, 97.5))
    (found,) = [p.static for p in bare[2] if (p.trial, p.candidate) == ("diagonal", "p")]

    assert found.low is not None and found.median is not None and found.high is not None
    # 1000 draws: the standard error of these percentiles is about 0.5 %, so 2 % is four of them
    assert (found.low, found.median, found.high) == pytest.approx(tuple(expected), rel=0.02)


def test_curves_meet_the_trials_they_are_drawn_for(bare: Any) -> None:
    comparison, hardware, _ = bare
    curves = predict_curves(comparison, hardware)
    (p,) = [c for c in curves if c["candidate"] == "p" and len(c["direction"]) == 2]

    assert p["direction"] == {"x": 1.0, "y": 1.0}
    assert p["speed"][0] == 0.0 and p["speed"][-1] >= 1.25 * 0.5
    for line in ("static", "start", "any_timing"):
        assert np.all(p[line]["low"] <= p[line]["median"]) and np.all(p[line]["median"] <= p[line]["high"])
    assert np.all(p["any_timing"]["nominal"] <= p["start"]["nominal"] + 1e-12)
    assert np.all(p["start"]["nominal"] < p["static"]["nominal"])
    assert float(np.interp(0.5, p["speed"], p["static"]["nominal"])) == pytest.approx(79.451, abs=0.01)
    assert np.all(p["square_wave_static"] >= p["static"]["nominal"] - 1e-12)


def test_torque_falls_from_the_corner_on(bare: Any) -> None:
    comparison, hardware, _ = bare
    for curve in predict_curves(comparison, hardware):
        full = 0.5 / math.sqrt(2) if curve["candidate"] == "p" else 0.44 / math.sqrt(2)
        below, above = curve["speed"] < curve["corner_speed"], curve["speed"] > 1.02 * curve["corner_speed"]
        assert curve["torque"][below] == pytest.approx(full)
        assert np.all(curve["torque"][above] < full) and above.any()


def test_one_axis_of_speeds_per_direction(bare: Any) -> None:
    comparison, hardware, _ = bare
    curves = predict_curves(comparison, hardware)

    assert len(curves) == 2 * len(directions(comparison)) == 4
    assert np.array_equal(curves[0]["speed"], curves[1]["speed"])


def test_without_trials_the_first_axis_is_drawn(case: Callable[..., Any]) -> None:
    comparison, hardware, found = case(read_text(REFERENCE[: REFERENCE.index("trials:")]))

    assert directions(comparison) == [(1.0, 0.0)]
    assert found == []
    assert [curve["direction"] for curve in predict_curves(comparison, hardware)] == [{"x": 1.0}] * 2
