"""The bench sheet as its readers see it, in the section of a page and on the sheet for print."""

from __future__ import annotations

from typing import Any

import pytest

from generator.pages.bench_sheet import view_bench


@pytest.mark.parametrize("key", ["unit", "measured", "candidates", "what", "runs", "order", "matters", "power"])
def test_a_plan_that_lacks_a_key_is_no_plan(unmeasured: dict[str, Any], key: str) -> None:
    del unmeasured["bench_sheet"][0][key]

    with pytest.raises(KeyError, match=key):
        view_bench(unmeasured)


def test_a_difference_that_nobody_knows_is_not_printed(unmeasured: dict[str, Any]) -> None:
    unmeasured["bench_sheet"][0] |= {"matters": None, "runs": None, "scatter": None, "called_from": None}
    plans = view_bench(unmeasured)

    assert plans is not None
    assert plans[0]["runs"] == (
        "No number of runs can be given, as no limit is predicted from which to take what matters."
    )


def test_a_ladder_that_the_jerk_ends_says_so(unmeasured: dict[str, Any]) -> None:
    own = unmeasured["bench_sheet"][0]["candidates"]["series"]
    # to 0.5 m/s with 200 m/s³: √100 = 10 m/s²; the next rung after 9.75 m/s² lies at 10 m/s² and is reached
    own["expected_high"], own["cautions"] = 14.62, ()
    for peak, why in ((10.0, "as stated"), (9.9, "as a ramp to this speed with this jerk reaches 9.90 m/s² at most")):
        own["ramp_peak"] = peak
        plans = view_bench(unmeasured)

        assert plans is not None
        assert plans[0]["notes"][0] == (
            f"Alder 42-8, series: the ladder ends at 9.75 m/s², {why}; the limit may lie beyond it, up to 14.6 m/s²."
        )
