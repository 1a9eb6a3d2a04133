"""The computed cautions as their readers see them, on a page, on a bench sheet, and beside the general ones."""

from __future__ import annotations

from typing import Any

import pytest

from generator.pages.bench_sheet import render_bench_sheet, view_bench
from generator.pages.cautions import render_cautions
from generator.pages.computed_cautions import view_cautions
from generator.pages.context import Context

FALLING = "Block or lower an axis that can fall before you cut its power or reach under it"


def caution(kind: str, value: float | None, unit: str, **more: Any) -> dict[str, Any]:
    """A caution of the candidate ``series``."""
    plain = {"limit": None, "assumes": "words", "at": {}, "axis": None, "trial": None, "rung": None}
    return {"candidate": "series", "kind": kind, "value": value, "unit": unit} | plain | more


def rows(results: dict[str, Any], *cautions: dict[str, Any]) -> list[dict[str, Any]]:
    view = view_cautions(results | {"cautions": list(cautions)})
    assert view is not None
    return view["rows"]


@pytest.mark.parametrize(("volt", "way"), [(55.2, "above"), (42.39, "within")])
def test_an_induced_voltage_stands_beside_the_limit_of_alternating_voltage(
    results: dict[str, Any], volt: float, way: str
) -> None:
    (row,) = rows(results, caution("induced voltage", volt, "V", limit=42.4))

    assert row["kind"] == "Peak voltage of a motor that is turned"
    assert row["limits"] == f"{way} the 42.4 V peak up to which alternating voltage counts as safety extra-low"


def test_the_figures_of_an_assumption_are_said_as_elsewhere_on_the_page(results: dict[str, Any]) -> None:
    said = [
        ({"speed": 2**0.5}, "Words. Speed 1410 mm/s."),
        ({"speed": 0.04, "path": 0.06}, "Words. Speed 40.0 mm/s, path 60.0 mm."),
        ({"jerk": 1000.0, "deceleration": 300**0.5, "speed": 0.3},
         "Words. Speed 300 mm/s, deceleration 17.3 m/s², jerk 1000 m/s³."),
        ({"winding_temperature": 333.15, "current_share": 0.6}, "Words. 60 % of the full current, copper at 60 °C."),
        ({}, "Words."),
    ]  # fmt: skip
    for at, words in said:
        (row,) = rows(results, caution("moving energy", 1.0, "J", at=at))
        assert row["assumes"] == words


@pytest.mark.parametrize("key", ["value", "unit", "limit", "assumes", "at", "axis", "trial", "rung"])
def test_a_caution_that_lacks_a_key_is_no_caution(results: dict[str, Any], key: str) -> None:
    whole = caution("supply peak", 61.2, "V", limit=60.0, trial="diagonal-500")
    del whole[key]

    with pytest.raises(KeyError, match=key):
        rows(results, whole)


def test_an_axis_that_can_fall_is_named_on_the_page(results: dict[str, Any]) -> None:
    falling = caution("steady force", 13.7, "N", axis="z", at={"mass": 13.7 / 9.80665})
    (row,) = rows(results, falling, falling | {"candidate": "parallel"})

    assert (row["value"], row["kind"], row["who"]) == ("13.7 N", "Steady force on axis z", "all candidates")
    assert row["assumes"] == "Words. The weight of 1.40 kg."


def test_an_axis_that_can_fall_is_named_on_the_sheet(unmeasured: dict[str, Any], context: Context) -> None:
    before = "An axis that can fall is blocked or lowered before its power is cut or anybody reaches under it"
    falling = caution("steady force", 13.7, "N", axis="z", at={"mass": 13.7 / 9.80665})

    assert f"<li>{before}.</li>" in render_bench_sheet(unmeasured, context).text
    unmeasured["cautions"] = [falling, falling | {"candidate": "parallel"}, falling | {"axis": "y", "value": 9.81}]
    text = render_bench_sheet(unmeasured, context).text.replace("\u00a0", " ")
    assert f"<li>{before} (axis z: 13.7 N, the weight of 1.40 kg; axis y: 9.81 N, the weight of 1.40 kg).</li>" in text


def test_the_general_cautions_speak_of_an_axis_that_can_fall(context: Context) -> None:
    text = render_cautions(context).text

    assert FALLING in text.partition('id="after"')[2]


@pytest.mark.parametrize(
    ("drive", "cell"),
    [(55.0, "61.2 V (above 55 V and 60 V)"), (60.0, "61.2 V (above 60 V)"), (65.0, "61.2 V (above 60 V)")],
)
def test_a_table_says_which_limits_a_figure_exceeds(unmeasured: dict[str, Any], drive: float, cell: str) -> None:
    peak, touch = unmeasured["bench_sheet"][0]["candidates"]["series"]["cautions"]
    peak["limit"] = drive
    plans = view_bench(unmeasured)

    assert plans is not None
    assert plans[0]["cautions"][0][1] == cell
    peak["value"] = touch["value"] = 57.0
    plans = view_bench(unmeasured)
    assert plans is not None
    assert plans[0]["cautions"][0][1] == ("57.0 V (above 55 V)" if drive == 55.0 else "57.0 V")
