"""The tables as a spreadsheet would read them: RFC 4180 by the standard library's reader."""

from __future__ import annotations

import copy
import csv
import io
from typing import Any

import pytest

from generator.evaluation.tables import write_tables


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode(), newline="")))


def test_every_table_holds_the_figures_of_the_results(results: dict[str, Any]) -> None:
    tables = write_tables(results)

    assert set(tables) == {"predictions.csv", "measurements.csv", "contrasts.csv", "curves.csv"}
    for row, prediction in zip(rows(tables["predictions.csv"]), results["predictions"], strict=True):
        assert row["trial"] == prediction["trial"] and row["unit"] == prediction["unit"]
        assert float(row["any_timing_high"]) == prediction["any_timing"]["high"]
    for row, measurement in zip(rows(tables["measurements.csv"]), results["measurements"], strict=True):
        assert float(row["estimate"]) == measurement["estimate"]
        assert row["at_least"] == ""
    (contrast,) = rows(tables["contrasts.csv"])
    assert (contrast["first"], contrast["second"]) == ("p", "q")
    assert float(contrast["difference"]) == results["contrasts"][0]["difference"]


def test_curves_have_a_row_per_speed(results: dict[str, Any]) -> None:
    found = rows(write_tables(results)["curves.csv"])
    curve = results["curves"][0]

    assert len(found) == sum(len(each["speed"]) for each in results["curves"])
    assert [float(row["speed"]) for row in found[: len(curve["speed"])]] == curve["speed"]
    assert [float(row["static_nominal"]) for row in found[: len(curve["speed"])]] == curve["static"]["nominal"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_that_would_be_a_formula_gets_an_apostrophe(results: dict[str, Any], start: str) -> None:
    text = f'{start}HYPERLINK("x"),1'
    changed = copy.deepcopy(results)
    changed["contrasts"][0]["reason"] = text

    (contrast,) = rows(write_tables(changed)["contrasts.csv"])

    assert contrast["reason"] == f"'{text}"


def test_figures_below_zero_stay_figures(results: dict[str, Any]) -> None:
    changed = copy.deepcopy(results)
    changed["contrasts"][0]["low"] = -3.5

    (contrast,) = rows(write_tables(changed)["contrasts.csv"])

    assert contrast["low"] == "-3.5"


def test_lines_end_as_the_standard_says(results: dict[str, Any]) -> None:
    content = write_tables(results)["contrasts.csv"]

    assert content.endswith(b"\r\n")
    assert content.count(b"\n") == content.count(b"\r\n") == 2


def test_empty_tables_are_left_out(results: dict[str, Any]) -> None:
    assert set(write_tables(results | {"measurements": [], "contrasts": []})) == {"predictions.csv", "curves.csv"}
