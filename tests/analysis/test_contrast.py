"""Contrasts and calls: hand-worked cases, every call of the contract, and laws that hold for all figures."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t as student
from scipy.stats import ttest_ind

from generator.analysis.contrast import (
    CALL_CONFIDENCE,
    NO_DIFFERENCE,
    NOT_COMPARABLE,
    ONLY_LOWER,
    ONLY_UPPER,
    TOO_FEW,
    UNDECIDED,
    compare,
    compare_figures,
    find_matters,
    find_relative_scatter,
)
from generator.analysis.difference import Scatter, are_alike, pool_scatter
from generator.analysis.limits import find_limits
from generator.records.comparison import Matters
from generator.records.findings import Contrast, Measurement
from generator.records.trial import Attempts, Run, Trial

TRIAL = Trial("diagonal", "acceleration", (1.0, 0.0), {"x": 1.0}, speed=0.5)
FIVE_PERCENT = (0.05, True)


def brackets(*held: float, rung: float = 1.0) -> tuple[Run, ...]:
    return tuple(Run(at, at + rung) for at in held)


def in_turns(**runs: tuple[Run, ...]) -> dict[str, tuple[Run, ...]]:
    """The same runs with their order noted, spread evenly over one session."""
    spread = [((index + 0.5) / len(own), name, index) for name, own in runs.items() for index in range(len(own))]
    places = {(name, index): place for place, (_, name, index) in enumerate(sorted(spread), start=1)}
    return {
        name: tuple(replace(run, order=places[name, index]) for index, run in enumerate(own))
        for name, own in runs.items()
    }


def contrast_of(
    first: tuple[Run, ...],
    second: tuple[Run, ...],
    matters: tuple[float, bool] | None = FIVE_PERCENT,
    relative: Scatter | None = None,
) -> Contrast:
    trial = replace(TRIAL, runs=in_turns(a=first, b=second))
    (contrast,) = compare(trial, find_limits(trial, ["a", "b"]), matters, relative)
    return contrast


def figure(candidate: str, values: list[float]) -> Measurement:
    """A recorded figure from repeated recordings, as sound and vibration hand it over."""
    count, scatter = len(values), float(np.std(values, ddof=1))
    return Measurement(
        "hum",
        candidate,
        "level",
        "dB",
        "recorded",
        count,
        estimate=float(np.mean(values)),
        standard_uncertainty=scatter / math.sqrt(count),
        degrees_of_freedom=count - 1.0,
        scatter=scatter,
        method="recorded",
    )


def test_three_against_three_by_hand() -> None:
    # interleaved, so that no drift is allowed for;
    # mid-points 31.5 33.5 32.5 and 77.5 79.5 77.5: D = −45.667, s_p² = (2·1 + 2·4/3)/4 = 7/6,
    # u = √(7/6·2/3) = 0.8819, t(4) = 2.7764: ± 2.4486; 5 % of the mean 55.33 is 2.7667
    found = contrast_of(brackets(31, 33, 32), brackets(77, 79, 77))

    assert found.between == ("a", "b")
    assert found.difference == pytest.approx(-45.6667, abs=1e-4)
    assert found.standard_uncertainty == pytest.approx(0.8819, abs=1e-4)
    assert found.degrees_of_freedom == 4
    assert (found.low, found.high) == pytest.approx((-45.6667 - 2.4486, -45.6667 + 2.4486), abs=2e-4)
    assert found.matters == pytest.approx(2.7667, abs=1e-4)
    assert (found.call, found.ahead) == ("b ahead", "b")


# Student's sleep data (1908, Biometrika 6:1), extra hours of sleep with two drugs, ten persons each, taken as two
# samples: the textbook result is t = −1.8608 with 18 degrees of freedom (p = 0.0792), Welch's 17.776 (p = 0.0794)
SLEEP = (
    [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
    [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
)


@pytest.mark.parametrize(
    ("matters", "reason"),
    [
        (None, "the 99 % interval excludes zero; nobody said how much would matter"),
        ((2.0, False), "the whole 99 % interval lies beyond what matters"),
        ((44.0, False), "the estimate exceeds what matters; the true difference may be smaller"),
    ],
)
def test_a_lead_says_whether_it_surely_matters(matters: tuple[float, bool] | None, reason: str) -> None:
    # by hand as above: −45.667 ± 0.8819 · t(4, 99 %) = 4.6041: from −49.73 to −41.61
    found = contrast_of(brackets(31, 33, 32), brackets(77, 79, 77), matters)

    assert found.ahead == "b"
    assert found.reason.endswith(reason)


def test_student_s_sleep_data() -> None:
    (found,) = compare_figures("sleep", "sleep", {"a": figure("a", SLEEP[0]), "b": figure("b", SLEEP[1])}, None)

    assert found.difference is not None and found.standard_uncertainty is not None
    assert found.difference / found.standard_uncertainty == pytest.approx(-1.8608, abs=5e-5)
    assert found.degrees_of_freedom == 18
    interval = ttest_ind(*SLEEP).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high), rel=1e-9)
    assert found.call == UNDECIDED


def test_unequal_scatter_gives_the_wider_of_both_intervals() -> None:
    first, second = [1.0, 1.1, 0.9, 1.05, 0.95], [3.0, 9.0, 5.0, 1.0, 7.0]

    (found,) = compare_figures("x", "x", {"a": figure("a", first), "b": figure("b", second)}, None)

    welch = ttest_ind(first, second, equal_var=False).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((welch.low, welch.high), rel=1e-9)


def test_lower_is_better_where_it_is_said() -> None:
    quiet, loud = figure("a", [50.0, 50.1, 49.9]), figure("b", [60.0, 60.1, 59.9])

    (found,) = compare_figures("hum", "sound", {"a": quiet, "b": loud}, (2.0, False), better="lower")

    assert (found.ahead, found.call, found.matters) == ("a", "a ahead", 2.0)
    assert found.difference == pytest.approx(-10.0)


def test_no_difference_that_matters() -> None:
    found = contrast_of(brackets(*[40, 41] * 5), brackets(*[41, 40] * 5), (3.0, False))

    assert (found.call, found.ahead, found.runs_to_decide) == (NO_DIFFERENCE, None, None)


def test_without_matters_there_is_never_no_difference() -> None:
    assert contrast_of(brackets(*[40, 41] * 5), brackets(*[41, 40] * 5), None).call == UNDECIDED


def test_a_clear_difference_below_what_matters_is_not_ahead() -> None:
    first, second = brackets(*[41, 42, 40] * 3), brackets(*[43, 44, 42] * 3)

    found = contrast_of(first, second, (2.5, False))

    assert found.call == UNDECIDED
    assert found.high is not None and found.high < 0


def test_undecided_names_runs_that_decide() -> None:
    found = contrast_of(brackets(42, 40, 44), brackets(45, 47, 43), (1.0, False))

    assert found.call == UNDECIDED and found.runs_to_decide is not None
    n = found.runs_to_decide
    # by hand: scatter 2, difference 3: the interval of a call must stay under 3
    half = [student.ppf(0.5 + CALL_CONFIDENCE / 2, 2 * (k - 1)) * 2 * math.sqrt(2 / k) for k in (n - 1, n)]
    assert half[0] >= 3 > half[1]


def test_undecided_names_runs_that_would_show_that_nothing_matters() -> None:
    found = contrast_of(brackets(42, 40, 44), brackets(43, 45, 41), (5.0, False))

    assert found.call == UNDECIDED and found.runs_to_decide is not None
    n = found.runs_to_decide
    # by hand: scatter 2, difference 1: the interval of a call must stay within 5, so its half under 4
    half = [student.ppf(0.5 + CALL_CONFIDENCE / 2, 2 * (k - 1)) * 2 * math.sqrt(2 / k) for k in (n - 1, n)]
    assert half[0] >= 4 > half[1]


def test_a_coarse_rung_decides_never() -> None:
    found = contrast_of(brackets(40, 40, 40, rung=4.0), brackets(40, 40, 40, rung=4.0), (1.0, False))

    assert (found.call, found.runs_to_decide) == (UNDECIDED, None)


def test_runs_that_all_end_in_one_bracket_show_the_least_scatter() -> None:
    found = contrast_of(brackets(40, 40, 40), brackets(60, 60, 60))

    assert found.standard_uncertainty == pytest.approx(0.13 * math.sqrt(2 / 3))


@pytest.mark.parametrize(
    ("matters", "reason"),
    [
        (None, "the 99 % interval includes zero"),
        ((1.0, False), "the 99 % interval includes zero and also differences that matter"),
    ],
)
def test_undecided_says_what_the_interval_includes(matters: tuple[float, bool] | None, reason: str) -> None:
    assert contrast_of(brackets(42, 40, 44), brackets(43, 45, 41), matters).reason == reason


def test_a_bound_counts_what_matters_from_the_mean_of_both_ends() -> None:
    # the second's 99 % end: 41.5 + t(2, 99 %) 9.9248·1/sqrt(3) = 47.23; the bound clears it by 42.77, the mean is 68.61
    first, second = (Run(90, None, "stroke"),) * 2, brackets(41, 40, 42)

    assert contrast_of(first, second, (0.62, True)).call == "a ahead"  # 42.54
    assert contrast_of(first, second, (0.63, True)).call == ONLY_LOWER  # 43.23


def test_a_single_run_beside_a_fit_with_bounds_is_too_few() -> None:
    fitted = (*brackets(40, 41, 42, 43), Run(44, None, "stroke"))

    assert contrast_of(brackets(60), fitted).call == TOO_FEW
    assert contrast_of(brackets(60, 61, 62), fitted).call == "a ahead"


def test_single_runs_are_described_not_called() -> None:
    found = contrast_of(brackets(41), brackets(77))

    assert (found.call, found.difference, found.low) == (TOO_FEW, -36.0, None)
    assert found.matters == pytest.approx(0.05 * 59.5)


def test_single_runs_borrow_scatter() -> None:
    # relative scatter 2 % with 4 degrees of freedom: s = 0.02·59.5 = 1.19, hidden by no rung; t·s·√2
    found = contrast_of(brackets(41), brackets(77), relative=Scatter(0.02, 4.0, 8.0))

    assert found.call == "b ahead"
    assert found.high == pytest.approx(-36.0 + 2.7764 * 1.19 * math.sqrt(2), abs=1e-3)


def test_single_runs_on_a_coarse_ladder_add_their_brackets() -> None:
    # scatter 1 % of 59.5 under three quarters of the rung: h_A − l_B counts, not the mid-points
    found = contrast_of(brackets(41), brackets(77), relative=Scatter(0.01, 4.0, 8.0))

    assert found.high == pytest.approx(-35.0 + 2.7764 * 0.595 * math.sqrt(2), abs=1e-3)


def test_scatter_is_pooled_over_the_trial() -> None:
    trial = replace(TRIAL, runs=in_turns(a=brackets(41), b=brackets(77), c=brackets(50, 52, 51)))

    first = compare(trial, find_limits(trial, ["a", "b", "c"]), FIVE_PERCENT)[0]

    assert (first.between, first.call, first.degrees_of_freedom) == (("a", "b"), "b ahead", 2)


def test_relative_scatter_of_other_trials() -> None:
    trial = replace(TRIAL, runs={"a": brackets(39, 40, 41), "b": brackets(77, 79, 81), "c": brackets(3)})
    found = find_limits(trial, ["a", "b", "c"])
    limits = [limit for limit in found.values() if limit is not None]

    # s/mean: 1/40.5 and 2/79.5, two degrees of freedom each
    scatter = find_relative_scatter(limits)

    assert scatter is not None and scatter.degrees_of_freedom == 4
    assert scatter.value == pytest.approx(math.sqrt(((1 / 40.5) ** 2 + (2 / 79.5) ** 2) / 2))
    assert find_relative_scatter(limits[2:]) is None


def test_different_rungs_are_not_comparable() -> None:
    assert contrast_of(brackets(30, 31), brackets(30, 32, rung=2.0)).call == NOT_COMPARABLE


def test_runs_and_attempts_are_not_comparable() -> None:
    attempts = (Attempts(40, 5, 0), Attempts(44, 3, 2), Attempts(48, 1, 4))
    trial = replace(TRIAL, runs={"a": brackets(30, 31)}, attempts={"b": attempts})

    (found,) = compare(trial, find_limits(trial, ["a", "b"]), FIVE_PERCENT)

    assert found.call == NOT_COMPARABLE


@pytest.mark.parametrize(
    ("first", "second", "call"),
    [
        ((Run(80, None, "stroke"),) * 2, brackets(40, 41, 42), "a ahead"),
        (brackets(40, 41, 42), (Run(80, None, "stroke"),) * 2, "b ahead"),
        ((Run(80, None, "stroke"),), brackets(40, 41, 42), ONLY_LOWER),  # one run is not enough
        ((Run(80, None, "stroke"),) * 2, brackets(40), ONLY_LOWER),  # a bracket is no interval
        ((Run(43, None, "stroke"),) * 2, brackets(40, 41, 42), ONLY_LOWER),  # does not clear it
        ((Run(80, None, "heat"),) * 2, (Run(90, None, "heat"),) * 2, ONLY_LOWER),
        ((Run(None, 20),) * 2, brackets(40, 41, 42), "b ahead"),
        ((Run(None, 20),) * 2, (Run(None, 20),) * 3, ONLY_UPPER),
        ((Run(None, 20),) * 2, (Run(80, None),) * 2, "b ahead"),
        ((Run(None, 20), Run(80, None)), brackets(40, 41, 42), TOO_FEW),
    ],
)
def test_bounds(first: tuple[Run, ...], second: tuple[Run, ...], call: str) -> None:
    found = contrast_of(first, second)

    assert found.call == call
    assert found.difference is None


def test_a_bound_must_clear_what_matters() -> None:
    runs = (Run(60, None, "stroke"),) * 2, brackets(*[40, 41, 42] * 3)

    assert contrast_of(*runs, (10.0, False)).call == "a ahead"
    assert contrast_of(*runs, (18.0, False)).call == ONLY_LOWER


def test_attempts_are_told_apart() -> None:
    low = tuple(Attempts(at, held, 10 - held) for at, held in ((40, 10), (44, 7), (48, 2), (52, 0)))
    high = tuple(replace(each, at=each.at + 30) for each in low)
    trial = replace(TRIAL, attempts={"a": low, "b": high})

    (found,) = compare(trial, find_limits(trial, ["a", "b"]), FIVE_PERCENT)

    assert (found.call, found.difference) == ("b ahead", pytest.approx(-30.0))
    assert found.low is not None and found.low < -30 < (found.high or 0)


def test_three_candidates_give_three_calls_in_file_order() -> None:
    trial = replace(TRIAL, runs={"c": brackets(30, 31), "a": brackets(50, 51), "b": brackets(70, 71)})

    found = compare(trial, find_limits(trial, ["a", "b", "c", "d"]), FIVE_PERCENT)

    assert [each.between for each in found] == [("a", "b"), ("a", "c"), ("b", "c")]


def test_matters_of_the_item_come_before_its_kind() -> None:
    matters = Matters({"acceleration": (0.05, True)}, {"diagonal": (3.0, False)})

    assert find_matters(matters, "diagonal", "acceleration") == (3.0, False)
    assert find_matters(matters, "other", "acceleration") == (0.05, True)
    assert find_matters(matters, "other", "speed") is None


def test_scatters_are_alike_as_an_f_test_says() -> None:
    def sides(ratio: float) -> list[Measurement]:
        blank = Measurement("x", "a", "q", "m", "recorded", 3, 1.0, degrees_of_freedom=2.0, method="recorded")
        return [replace(blank, scatter=1.0), replace(blank, scatter=ratio)]

    # F table, 25 % point for 2 and 2 degrees of freedom is 3.00: a ratio of scatters of 1.732
    assert are_alike(sides(1.72)) and not are_alike(sides(1.74))
    assert not are_alike(sides(math.sqrt(3.0)))  # of three brackets each, one or two rungs apart
    assert not are_alike([sides(1.0)[0], replace(sides(1.0)[1], count=4)])
    assert pool_scatter([]) is None


LISTS = st.lists(st.integers(10, 60), min_size=1, max_size=6)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(first=LISTS, second=LISTS, factor=st.sampled_from([1e-3, 2.0, 1e3]))
def test_scaling_scales_the_contrast(first: list[int], second: list[int], factor: float) -> None:
    plain = contrast_of(brackets(*first), brackets(*second))
    scaled = contrast_of(
        *(tuple(Run(at * factor, (at + 1) * factor) for at in held) for held in (first, second))  # type: ignore[arg-type]
    )

    assert (scaled.call, scaled.runs_to_decide) == (plain.call, plain.runs_to_decide)
    for name in ("difference", "low", "high", "matters"):
        value = getattr(plain, name)
        assert getattr(scaled, name) == (None if value is None else pytest.approx(factor * value, rel=1e-9, abs=1e-12))


@settings(derandomize=True, deadline=None, max_examples=150)
@given(first=LISTS, second=LISTS)
def test_swapping_flips_the_sign(first: list[int], second: list[int]) -> None:
    trial = replace(TRIAL, runs=in_turns(a=brackets(*first), b=brackets(*second)))
    (plain,) = compare(trial, find_limits(trial, ["a", "b"]), FIVE_PERCENT)
    turned = replace(trial, runs={name: trial.runs[name] for name in ("b", "a")})
    (swapped,) = compare(turned, find_limits(turned, ["b", "a"]), FIVE_PERCENT)

    assert plain.difference is not None
    assert swapped.difference == pytest.approx(-plain.difference)
    if plain.low is not None and plain.high is not None:
        assert (swapped.low, swapped.high) == pytest.approx((-plain.high, -plain.low))
    assert swapped.ahead == plain.ahead


@settings(derandomize=True, deadline=None, max_examples=300)
@given(first=LISTS, second=LISTS, matters=st.one_of(st.none(), st.floats(0.5, 20.0)))
def test_calls_agree_with_their_figures(first: list[int], second: list[int], matters: float | None) -> None:
    found = contrast_of(brackets(*first), brackets(*second), None if matters is None else (matters, False))

    assert found.difference is not None and found.reason
    if found.ahead:
        assert found.low is not None and found.high is not None
        assert found.low > 0 or found.high < 0
        assert found.ahead == ("a" if found.difference > 0 else "b")
        assert matters is None or abs(found.difference) > matters
    if found.call == NO_DIFFERENCE:
        assert matters is not None and found.low is not None and found.high is not None
        assert -matters < found.low <= found.high < matters
    if found.call == TOO_FEW:
        assert found.low is None and 1 in (len(first), len(second))
