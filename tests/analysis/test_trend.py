"""A trend over the order of runs, taken out of a difference, against a general regression."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm

from generator.analysis.contrast import compare
from generator.analysis.difference import Difference
from generator.analysis.limits import find_limits
from generator.analysis.trend import Order, find_order, remove_trend, tell_cause
from generator.records.trial import Run, Trial

TRIAL = Trial("diagonal", "acceleration", (1.0, 0.0), {"x": 1.0}, speed=0.5)


def runs_at(places: list[int], middles: list[float], rung: float = 0.2) -> tuple[Run, ...]:
    return tuple(
        Run(middle - rung / 2, middle + rung / 2, order=place) for place, middle in zip(places, middles, strict=True)
    )


def trend_of(first: tuple[Run, ...], second: tuple[Run, ...], rung: float = 0.2) -> Difference | None:
    return remove_trend(first, second, order_of(first, second), rung)


def order_of(first: tuple[Run, ...], second: tuple[Run, ...], **others: tuple[Run, ...]) -> Order:
    return find_order({"a": first, **others, "b": second}, "a", "b")


def unnoted(runs: tuple[Run, ...]) -> tuple[Run, ...]:
    return tuple(replace(run, order=None) for run in runs)


FIRST = runs_at([1, 2, 3, 4, 5], [30.1, 30.9, 31.6, 32.9, 33.2])
SECOND = runs_at([6, 7, 8, 9, 10], [34.2, 34.8, 36.1, 36.6, 37.5])


def test_blocks_as_a_general_regression() -> None:
    found = trend_of(FIRST, SECOND)

    assert found is not None
    middles = [(run.held + run.lost) / 2 for run in (*FIRST, *SECOND)]  # type: ignore[operator]
    design = np.column_stack([np.ones(10), [1.0] * 5 + [0.0] * 5, np.arange(10.0)])
    fit = sm.OLS(middles, design).fit()
    uncertainty, freedom = found.widest(0.95)
    assert found.value == pytest.approx(fit.params[1], rel=1e-9)
    assert uncertainty == pytest.approx(fit.bse[1], rel=1e-9)
    assert freedom == fit.df_resid == 7
    assert float(np.sqrt(fit.scale)) > 0.75 * 0.2 and not found.hidden, "wider than what a rung hides"
    assert found.interval() == pytest.approx(tuple(fit.conf_int()[1]), rel=1e-9)


def test_a_drift_in_blocks_does_not_pass_for_a_difference() -> None:
    trial = replace(TRIAL, runs={"a": FIRST, "b": SECOND})
    (noted,) = compare(trial, find_limits(trial, ["a", "b"]), None)

    assert (noted.call, noted.drift_removed, noted.drift_allowed) == ("undecided", True, None)
    assert noted.low is not None and noted.high is not None
    assert noted.low < 0 < noted.high


def test_an_order_that_is_not_noted_leaves_room_for_a_drift() -> None:
    # by hand: 31.74 less 35.84 is -4.1, s_p^2 = (6.892 + 7.172)/8 = 1.758: t(8)·s_p·sqrt(2/5) = 1.9338; a drift in
    # blocks of five: b^2 = 9·(s_p^2 + 0.01)/20, and 5 places apart 5·0.8920 = 4.4598
    silent = replace(TRIAL, runs={"a": unnoted(FIRST), "b": unnoted(SECOND)})
    (found,) = compare(silent, find_limits(silent, ["a", "b"]), None)

    assert found.drift_allowed == pytest.approx(4.4598, abs=2e-4)
    assert (found.low, found.high) == pytest.approx((-4.1 - 6.3936, -4.1 + 6.3936), abs=3e-4)
    assert found.call == "undecided"
    assert found.reason.endswith("; the order of the runs is not noted, so a drift is allowed for")
    # interleaved and noted, fewer would do: t(6, 99 %) = 3.7074 times s_p·sqrt(2/4) is 3.48, under 4.1
    assert found.runs_to_decide == 4


def test_a_difference_beyond_any_hidden_drift_is_called_without_an_order() -> None:
    far = unnoted(runs_at([1, 2, 3, 4, 5], [60.1, 60.9, 61.6, 62.9, 63.2]))
    silent = replace(TRIAL, runs={"a": unnoted(FIRST), "b": far})
    (found,) = compare(silent, find_limits(silent, ["a", "b"]), None)

    assert found.call == "b ahead"
    assert found.drift_allowed is not None and found.drift_allowed > 4


def test_a_third_candidate_may_have_run_in_between() -> None:
    third = unnoted(FIRST)
    two = order_of(unnoted(FIRST), unnoted(SECOND))
    three = order_of(unnoted(FIRST), unnoted(SECOND), c=third)

    assert (two.places, two.apart, two.interleaved) == (None, 5.0, False)
    assert (three.places, three.apart, three.interleaved) == (None, 10.0, False)


def test_places_count_the_runs_of_every_candidate() -> None:
    # A A A C C C B B B, and a limit that only climbs: two thirds of the way lie where the third candidate ran
    first, third, second = (
        runs_at([3 * block + 1, 3 * block + 2, 3 * block + 3], [30.0 + 3 * block + k + 0.01 * k**2 for k in range(3)])
        for block in range(3)
    )
    trial = replace(TRIAL, runs={"a": first, "b": second, "c": third})
    found = {row.between: row for row in compare(trial, find_limits(trial, ["a", "b", "c"]), None)}
    ends = found["a", "b"]

    assert order_of(first, second, c=third).apart == -6.0
    assert order_of(first, second, c=unnoted(third)).apart == -3.0, "among the two alone where no more is noted"
    assert ends.drift_removed and ends.difference == pytest.approx(0.0, abs=0.2)


def test_blocks_of_many_candidates_are_no_rounds() -> None:
    # four candidates, three runs each in one go: neighbours stand three places apart, no more than a round of four
    blocks = {
        name: runs_at([3 * block + k for k in (1, 2, 3)], [30.0 + block, 30.2 + block, 30.1 + block])
        for block, name in enumerate("abcd")
    }
    rounds = {name: runs_at([k, 9 - k], [30.0, 30.1]) for k, name in enumerate("abcd", start=1)}

    assert find_order(blocks, "a", "b").apart == -3.0
    assert not find_order(blocks, "a", "b").interleaved
    assert find_order(rounds, "a", "d").interleaved
    singles = {name: runs_at([k], [30.0]) for k, name in enumerate("abcd", start=1)}
    assert find_order(singles, "a", "b").interleaved, "next to one another"
    assert not find_order(singles, "a", "c").interleaved


@pytest.mark.parametrize(
    ("first", "second", "cause"),
    [
        (unnoted(FIRST), unnoted(SECOND), "the order of the runs is not noted"),
        (FIRST, unnoted(SECOND), "the order of the runs is not noted"),
        (FIRST, FIRST, "the order noted does not tell the runs apart"),
        (FIRST[:2], SECOND, "the candidates were not interleaved, with too few runs to take a trend out"),
        (
            (*FIRST[:4], Run(34.0, None, "supply", 5)),
            SECOND,
            "the candidates were not interleaved, and a run that ended at a bound leaves no trend to take out",
        ),
    ],
)
def test_the_cause_of_a_drift_allowed_for_is_told(first: tuple[Run, ...], second: tuple[Run, ...], cause: str) -> None:
    assert tell_cause(first, second, order_of(first, second)) == cause


def test_single_runs_need_two_degrees_of_freedom_where_a_drift_may_hide() -> None:
    def call(third: tuple[Run, ...], noted: bool) -> str:
        runs = {"a": runs_at([1], [30.1]), "b": runs_at([2], [90.1]), "c": third}
        shown = runs if noted else {name: unnoted(own) for name, own in runs.items()}
        trial = replace(TRIAL, runs=shown)
        return compare(trial, find_limits(trial, ["a", "b", "c"]), None)[0].call

    two, three = runs_at([3, 4], [40.1, 40.3]), runs_at([3, 4, 5], [40.1, 40.3, 40.1])
    assert [call(two, False), call(three, False)] == ["too few runs", "b ahead"]
    assert call(two, True) == "b ahead", "next to one another, so no drift may hide"


def test_interleaved_runs_are_left_alone_unless_they_drift() -> None:
    steady = [32.0, 32.4, 31.8, 32.2, 31.9]
    places = [1, 4, 5, 8, 9], [2, 3, 6, 7, 10]
    drifting = [[30 + place + 0.1 * (place % 3) for place in row] for row in places]

    assert trend_of(runs_at(places[0], steady), runs_at(places[1], steady)) is None
    found = trend_of(runs_at(places[0], drifting[0]), runs_at(places[1], drifting[1]))
    assert found is not None
    low, high = found.interval()
    assert low < 0 < high and high - low < 1


def test_two_blocks_too_short_for_a_trend_leave_room_for_a_drift() -> None:
    # by hand: s_p = 0.0707 with 2 degrees of freedom, b^2 = 3·(0.005 + 0.01)/1, 2 places apart: 0.4243
    trial = replace(TRIAL, runs={"a": runs_at([1, 2], [30.1, 30.2]), "b": runs_at([3, 4], [44.1, 44.2])})
    (blocks,) = compare(trial, find_limits(trial, ["a", "b"]), None)
    mixed = replace(TRIAL, runs={"a": runs_at([1, 4], [30.1, 30.2]), "b": runs_at([2, 3], [44.1, 44.2])})
    (interleaved,) = compare(mixed, find_limits(mixed, ["a", "b"]), None)
    close = replace(TRIAL, runs={"a": runs_at([1, 2], [30.1, 30.2]), "b": runs_at([3, 4], [31.1, 31.2])})
    (open_,) = compare(close, find_limits(close, ["a", "b"]), None)

    assert (blocks.call, blocks.difference) == ("b ahead", pytest.approx(-14.0))
    assert blocks.drift_allowed == pytest.approx(0.4243, abs=1e-4)
    assert blocks.low == pytest.approx((interleaved.low or 0.0) - blocks.drift_allowed)
    assert "too few runs to take a trend out, so a drift is allowed for" in blocks.reason
    assert (interleaved.call, interleaved.drift_allowed) == ("b ahead", None)
    assert open_.call == "undecided"


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("least", "ahead"), [(33.7, None), (34.0, "a")])
def test_a_bound_clears_the_other_side_only_beyond_a_hidden_drift(
    least: float, ahead: str | None, turned: bool
) -> None:
    # the other's 99 % end is 30.15 + 63.657·0.0707/sqrt(2) = 33.33; a drift may hide 2·sqrt(2·0.015/0.5) = 0.49
    runs = {"a": (Run(least, None, "stroke"),) * 2, "b": unnoted(runs_at([1, 2], [30.1, 30.2]))}
    names = ["b", "a"] if turned else ["a", "b"]
    trial = replace(TRIAL, runs={name: runs[name] for name in names})
    (found,) = compare(trial, find_limits(trial, names), None)

    assert found.ahead == ahead
    assert found.drift_allowed == (None if ahead is None else pytest.approx(0.4899, abs=1e-4))


def test_runs_exactly_on_a_trend_show_the_least_scatter() -> None:
    trial = replace(TRIAL, runs={"a": runs_at([1, 2, 3], [30.0, 31, 32]), "b": runs_at([4, 5, 6], [33.0, 34, 35])})
    (found,) = compare(trial, find_limits(trial, ["a", "b"]), None)

    # 0.13 of a rung of 0.2, times sqrt(1/3 + 1/3 + 3^2/4)
    assert found.standard_uncertainty == pytest.approx(0.026 * (2 / 3 + 9 / 4) ** 0.5)


@pytest.mark.parametrize("places", [([1, 2, 3, 4, 5], [6, 7, 8, 9, 10]), ([1, 3, 4, 6, 9], [2, 5, 7, 8])])
def test_unlike_scatters_about_a_trend_widen_the_interval(places: tuple[list[int], list[int]]) -> None:
    noise = [0.0, 0.1, -0.1, 0.05, -0.05], [2.0, -1.0, 3.0, -2.0, 1.0]
    first, second = (
        runs_at(row, [30 + 3 * place + n for place, n in zip(row, ns, strict=False)])
        for row, ns in zip(places, noise, strict=True)
    )
    found = trend_of(first, second)

    # residuals of a general regression with one slope, each side's share of the one degree of freedom that it costs
    counts = np.array([len(row) for row in places])
    middles = [(run.held + run.lost) / 2 for run in (*first, *second)]  # type: ignore[operator]
    at, side = np.concatenate(places) - 1.0, np.repeat([1.0, 0.0], counts)
    squares = sm.OLS(middles, np.column_stack([side, 1 - side, at])).fit().resid ** 2
    kept = (counts.sum() - 3) / (counts.sum() - 2)
    variances = np.array([squares[side == 1].sum(), squares[side == 0].sum()]) / (counts - 1) / kept
    variances = np.maximum(variances, 0.2**2 / 12)
    means = [at[side == which].mean() for which in (1, 0)]
    along = sum(((at[side == which] - mean) ** 2).sum() for which, mean in zip((1, 0), means, strict=True))
    plain = (variances / counts).sum()
    welch = plain**2 / ((variances / counts) ** 2 / (counts - 1)).sum()
    expected = np.sqrt(plain * (1 + (means[0] - means[1]) ** 2 / along / (1 / counts).sum()))

    assert found is not None and len(found.parts) == 2
    assert found.parts[1] == pytest.approx((expected, kept * min(welch, 2 * (counts.min() - 1))), rel=1e-9)
    assert found.widest(0.95) == found.parts[1]


@pytest.mark.parametrize(
    ("places", "interleaved"),
    [(([1, 4], [2, 3]), True), (([1, 3], [2, 4]), True), (([1, 2], [3, 4]), False), (([1], [2]), True),
     (([1, 2, 6], [3, 4, 5]), True), (([10, 20, 30], [40, 50, 60]), False)],
)  # fmt: skip
def test_one_after_the_other_is_more_than_one_place_apart(
    places: tuple[list[int], list[int]], interleaved: bool
) -> None:
    first, second = (runs_at(own, [30.0] * len(own)) for own in places)
    assert order_of(first, second).interleaved is interleaved
    assert order_of(first, unnoted(second)).places is None


@pytest.mark.parametrize(
    "second",
    [unnoted(SECOND), tuple(replace(run, order=1) for run in SECOND), SECOND[:2],
     (*SECOND[:4], Run(38.0, None, "stroke", 10))],
    ids=["no order", "order not of one session", "too few", "a bound"],
)  # fmt: skip
def test_nothing_to_take_out(second: tuple[Run, ...]) -> None:
    assert trend_of(FIRST, second) is None
