"""Files for the bench: CSVs that read back, move lists through a template that can only place and calculate."""

from __future__ import annotations

import csv
import io
from argparse import Namespace
from pathlib import Path

import pytest
from jinja2 import TemplateRuntimeError

from generator import sheets
from generator.commands import shared_pages
from generator.errors import UsageError

LADDER = {"start": 2.0, "coarse": 1.0, "fine": 0.25, "stop": 4.0}
RESULTS = {
    "report": {"bench": {"moves_per_rung": 4}},
    "trials": [{"id": "rise", "measures": "acceleration", "unit": "m/s^2", "speed": 0.25, "acceleration": None,
                "stroke": 0.1, "direction": {"x": 1, "y": 1}}],
    "measurements": [],
    "bench_sheet": [{
        "trial": "rise", "unit": "m/s^2", "order": ["a", "b", "b", "a"],
        "candidates": {
            "a": {"ladder": LADDER, "stroke_needed": 0.03, "stroke_enough": True, "reachable": 0.625},
            "b": {"ladder": None, "stroke_needed": None, "stroke_enough": None, "reachable": None},
        },
    }],
}  # fmt: skip


def test_csvs_carry_the_contract_heads_and_the_order() -> None:
    files = sheets.write_csvs(RESULTS)

    assert set(files) == {"rise-a.csv", "rise-b.csv"}
    rows = list(csv.reader(io.StringIO(files["rise-b.csv"])))
    assert rows[0] == ["held [m/s²]", "lost [m/s²]", "stopped", "order", "time", "note"]
    assert [row[3] for row in rows[1:]] == ["2", "3"]


def test_csvs_go_on_from_the_runs_that_there_are() -> None:
    runs = [{"held": 1.0, "lost": 2.0, "order": place} for place in (1, 6, None)]
    files = sheets.write_csvs(RESULTS | {"measurements": [{"item": "rise", "candidate": "a", "runs": runs}]})

    assert [row[3] for row in list(csv.reader(io.StringIO(files["rise-b.csv"])))[1:]] == ["8", "9"]


def test_csvs_without_a_plan_of_runs_still_number_them_through() -> None:
    files = sheets.write_csvs(RESULTS | {"bench_sheet": [RESULTS["bench_sheet"][0] | {"order": None}]})  # type: ignore[index]

    rows = [list(csv.reader(io.StringIO(text)))[1:] for text in files.values()]
    assert [[row[3] for row in each] for each in rows] == [["1"], ["2"]]


def test_moves_go_out_and_back_on_every_coarse_rung() -> None:
    text = sheets.write_moves(RESULTS, "{{ number }} x{{ x }} y{{ y }} v{{ speed }} a{{ acceleration }}")[
        "rise-a-moves.txt"
    ]
    lines = text.splitlines()

    assert len(lines) == 3 * 4
    # 100 mm at 45°: 70.7107 mm on each axis
    assert lines[0] == "1 x70.7107 y70.7107 v250.0 a2000.0"
    assert lines[1].startswith("2 x-70.7107 y-70.7107")
    assert lines[-1].endswith("a4000.0")


@pytest.mark.parametrize(("measures", "way"), [("acceleration", "above"), ("speed", "below")])
def test_moves_that_the_stroke_cuts_short_are_refused(measures: str, way: str) -> None:
    plan = {"ladder": LADDER, "stroke_needed": 0.2, "stroke_enough": False, "reachable": 0.625}
    results = RESULTS | {
        "trials": [RESULTS["trials"][0] | {"measures": measures}],  # type: ignore[index]
        "bench_sheet": [RESULTS["bench_sheet"][0] | {"candidates": {"a": plan}}],  # type: ignore[index]
    }
    with pytest.raises(UsageError) as caught:
        sheets.write_moves(results, "{{ number }}")

    assert "rise: its ladder needs a stroke of 200 mm, the file gives 100 mm" in str(caught.value)
    assert f"keep the ladder {way} 0.625 m/s²" in str(caught.value)


def test_moves_stop_where_the_ladder_stops() -> None:
    plan = {"ladder": LADDER | {"stop": 3.75}, "stroke_needed": 0.03}

    moves = list(sheets.list_moves(RESULTS["trials"][0], "a", plan, RESULTS))

    assert [move["acceleration"] for move in moves[::4]] == [2000.0, 3000.0, 3750.0]


def test_a_template_may_calculate() -> None:
    line = sheets.compile_line("{{ (speed * 60)|round(1) }}")

    assert line.render(speed=250.0) == "15000.0"


@pytest.mark.parametrize(
    "template",
    [
        "{% for k in range(9999999) %}x{% endfor %}",
        "{{ ''.__class__.__mro__ }}",
        "{{ speed.real }}",
        "{{ speed['real'] }}",
        "{{ range(3) }}",
        "{{ speed ** 99999 }}",
        "{{ trial * 999999999 }}",
        "{{ 'x' * 999999999 }}",
        "{{ 1e300 * speed }}",
        "{{ nothing }}",
        "{{ speed|attr('real') }}",
        "{% include 'x' %}",
        "{% set a = 1 %}",
        "{{ speed",
        "{{ speed }}\n{{ x }}",
        "{{ [speed]|join }}",
        "{{ lipsum }}",
        "{{ self }}",
    ],
)
def test_a_template_that_does_more_is_refused(template: str) -> None:
    with pytest.raises(UsageError):
        sheets.compile_line(template)


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("mine")

    with pytest.raises(UsageError, match="there already"):
        sheets.write_files(tmp_path, {"b.csv": "new", "a.csv": "new"})
    assert (tmp_path / "a.csv").read_text() == "mine"
    assert not (tmp_path / "b.csv").exists()


def test_the_limit_of_templates_holds_for_the_sheet_too(tmp_path: Path) -> None:
    given = Namespace(comparisons=tmp_path, templates=None, limit=["template_steps=7"])
    shared = shared_pages(given)

    assert len(shared.context.environment.globals["range"](7)) == 7
    with pytest.raises(TemplateRuntimeError, match="at most 7"):
        shared.context.environment.globals["range"](8)


@pytest.mark.parametrize("line", ["{{ 1 / 0 }}", "{{ speed / z }}"])
def test_a_line_that_cannot_be_worked_out_is_wrong_use(line: str) -> None:
    with pytest.raises(UsageError, match="--line cannot be worked out") as caught:
        sheets.write_moves(RESULTS, line)

    assert "speed = 250" in caught.value.fix
