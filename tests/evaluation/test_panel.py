"""The panel in the verdict: calls from exact tests by a general statistics library."""

from __future__ import annotations

from typing import Any

import pytest
from reading import reference
from scipy.stats import binomtest

from generator.evaluation.comparison import evaluate
from generator.evaluation.panel import call_panel, evaluate_panel
from generator.records.findings import Contrast
from generator.records.recordings import PairCount, Panel


def contrast(first: int, second: int, matters: float | None = None) -> Contrast:
    """The contrast of one pair of counts."""
    section = evaluate_panel(Panel("look", pairs=(PairCount(("a", "b"), (first, second), 3),)), ("a", "b"))
    (found,) = call_panel(section, None if matters is None else (matters, False))
    return found


@pytest.mark.parametrize(("first", "second"), [(7, 9), (14, 2), (2, 14), (30, 30), (9, 1)])
def test_interval_and_call_are_those_of_the_exact_test(first: int, second: int) -> None:
    exact = binomtest(first, first + second)
    interval = exact.proportion_ci(0.95, method="exact")
    found = contrast(first, second)

    assert found.difference == pytest.approx((first - second) / (first + second))
    assert (found.low, found.high) == pytest.approx((2 * interval.low - 1, 2 * interval.high - 1))
    ahead = ("a" if first > second else "b") if exact.pvalue <= 0.05 else None
    assert found.ahead == ahead
    assert found.call == (f"{ahead} ahead" if ahead else "undecided")


def test_few_persons_tell_only_when_they_agree() -> None:
    # five alike: 2/2⁵ = 6.25 %; six alike: 3.1 %
    assert (contrast(5, 0).call, contrast(6, 0).call) == ("undecided", "a ahead")


def test_a_pair_without_a_preference_is_not_compared() -> None:
    section = evaluate_panel(Panel("look", pairs=(PairCount(("a", "b"), (0, 0), 3),)), ("a", "b"))

    assert call_panel(section) == []


def test_what_matters_bounds_a_tie_and_a_win() -> None:
    # 300 to 290: 0.02 ± 0.08; 300 to 200: 0.20 ± 0.09
    assert contrast(300, 290, 0.2).call == "no difference that matters"
    assert contrast(300, 200, 0.22).call == "undecided"
    assert contrast(300, 200, 0.1).call == "a ahead"


def results(votes: str) -> dict[str, Any]:
    """Results of the reference comparison with a panel alone."""
    return evaluate(
        reference(end=f"panel:\n  - id: look\n    pairs: [{{between: [p, q], votes: {votes}}}]\n"), {}, draws=20
    )


def test_a_panel_takes_part_in_the_verdict() -> None:
    verdict = results("[14, 2]")["verdict"]
    (look,) = [item for item in verdict["items"] if item["item"] == "look"]

    assert (look["outcome"], look["winner"]) == ("won", "p")
    assert verdict["sentence"].startswith("Motor P is ahead in the blind panel")


def test_a_panel_that_cannot_tell_is_measured_nevertheless() -> None:
    verdict = results("[7, 9]")["verdict"]
    (look,) = [item for item in verdict["items"] if item["item"] == "look"]

    assert (look["outcome"], look["reason"]) == (
        "undecided",
        "the persons' choices could be chance, by the exact test at 5 %",
    )
