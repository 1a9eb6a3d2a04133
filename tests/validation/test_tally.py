"""Counting of made-up comparisons, and the benches that make them."""

from __future__ import annotations

import numpy as np
import pytest

from generator.records.findings import Contrast, Measurement
from generator.validation.made_up import FIRST, SECOND, THIRD, Scenario, make_trial
from generator.validation.tally import Tally, tally_scenario


def contrast(ahead: str | None, call: str = "") -> Contrast:
    words = f"{ahead} ahead" if ahead else call
    return Contrast("made-up", "q", "q", "1", (FIRST, SECOND), 1.0, 0.5, 1.5, None, words, "", ahead=ahead)


@pytest.mark.parametrize(
    ("made", "truth", "matters", "counted"),
    [
        (contrast(FIRST), 2.0, 1.0, "right"),
        (contrast(FIRST), 2.0, None, "right"),
        (contrast(FIRST), 0.5, 1.0, "overstated"),
        (contrast(SECOND), 2.0, 1.0, "wrong"),
        (contrast(FIRST), 0.0, 1.0, "wrong"),
        (contrast(None, "no difference that matters"), 0.5, 1.0, "right"),
        (contrast(None, "no difference that matters"), 1.0, 1.0, "wrong"),
        (contrast(None, "undecided"), 2.0, 1.0, None),
        (contrast(None, "too few runs"), 2.0, 1.0, None),
    ],
)
def test_calls_are_counted(made: Contrast, truth: float, matters: float | None, counted: str | None) -> None:
    tally = Tally()

    tally.count_contrast(made, truth, matters)

    assert {name: getattr(tally, name) for name in ("right", "wrong", "overstated")} == {
        name: int(name == counted) for name in ("right", "wrong", "overstated")
    }
    assert (tally.comparisons, tally.differences) == (1, 1)
    assert tally.differences_hold == (0.5 <= truth <= 1.5)


def test_limits_are_counted() -> None:
    blank = Measurement("made-up", FIRST, "q", "1", "bracketed", 3)
    tally = Tally()

    tally.count_limit(None, 1.0)
    tally.count_limit(Measurement("m", FIRST, "q", "1", "bracketed", 1, estimate=1.0, low=0.5, high=1.5), 1.0)
    assert tally.limits == 0  # one run's bracket is no interval
    for low, high, truth in ((0.0, 2.0, 1.0), (0.0, 2.0, 3.0), (None, 2.0, -9.0)):
        measured = Measurement("m", FIRST, "q", "1", "attempts", 9, 1.0, degrees_of_freedom=7.0, low=low, high=high)
        tally.count_limit(measured, truth)
    tally.count_limit(Measurement(*vars(blank).values()), 1.0)

    assert (tally.limits, tally.limits_hold) == (3, 2)
    tally.count_limit(Measurement("m", FIRST, "q", "1", "lower bound", 2, at_least=5.0), 4.0)
    assert (tally.bounds, tally.bounds_hold, tally.limits) == (1, 0, 4)


def test_made_up_runs_scatter_about_their_truth() -> None:
    random = np.random.default_rng(1)
    made = make_trial(Scenario("plain", (4000, 4000), 0.1, scatter_ratio=3.0), 5.0, random)

    for name, truth, scatter in zip((FIRST, SECOND), made.truth, (1.0, 3.0), strict=True):
        middles = [(run.held + run.lost) / 2 for run in made.trial.runs[name]]  # type: ignore[operator]
        assert np.mean(middles) == pytest.approx(truth, abs=5 * scatter / np.sqrt(4000))
        assert np.std(middles) == pytest.approx(scatter, rel=0.06)
    assert made.truth[0] - made.truth[1] == pytest.approx(5.0)


def test_made_up_drift_is_in_the_runs_and_in_the_truth() -> None:
    random = np.random.default_rng(1)
    bench = Scenario("drift", (400, 400), 0.1, drift=40.0, interleaved=False)

    made = make_trial(bench, 0.0, random)

    assert made.difference == 0.0
    assert made.truth[1] - made.truth[0] == pytest.approx(20.0, abs=0.1)  # half the session lies between their middles
    for name, truth in zip((FIRST, SECOND), made.truth, strict=True):
        middles = [(run.held + run.lost) / 2 for run in made.trial.runs[name]]  # type: ignore[operator]
        assert np.mean(middles) == pytest.approx(truth, abs=0.3)
        assert [run.order for run in made.trial.runs[name]][:2] == ([1, 2] if name == FIRST else [401, 402])


def test_made_up_ladder_ends_at_its_top() -> None:
    made = make_trial(Scenario("top", (200, 200), 0.5, headroom=0.0), 0.0, np.random.default_rng(1))

    open_runs = [run for run in made.trial.runs[FIRST] if run.lost is None]
    assert 0 < len(open_runs) < 200
    assert {run.held for run in open_runs} == {100.0}
    assert all(run.lost <= 100.0 for run in made.trial.runs[FIRST] if run.lost is not None)


def test_made_up_attempts_are_half_held_at_the_truth() -> None:
    made = make_trial(Scenario("tries", (4000, 4000), 0.5, tries=True), 1.0, np.random.default_rng(1))

    for name, truth in zip((FIRST, SECOND), made.truth, strict=True):
        near = min(made.trial.attempts[name], key=lambda each: abs(each.at - truth))
        chance = 1 / (1 + np.exp((near.at - truth) * np.pi / np.sqrt(3)))  # logistic of unit standard deviation
        assert near.held / 4000 == pytest.approx(chance, abs=5 * 0.5 / np.sqrt(4000))


def test_a_third_candidate_lends_its_scatter() -> None:
    bench = Scenario("single", (1, 1), 0.2, third=4)

    assert len(make_trial(bench, 0.0, np.random.default_rng(1)).trial.runs[THIRD]) == 4
    assert tally_scenario(bench, 0.0, None, 30, 1).differences == 30


def test_a_scenario_is_counted_as_often_as_asked() -> None:
    tally = tally_scenario(Scenario("plain", (3, 3), 1.0), 6.0, 2.0, 40, seed=1)

    assert (tally.comparisons, tally.limits, tally.differences) == (40, 80, 40)
    assert tally.right > 20 and tally.wrong == 0
