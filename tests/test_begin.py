"""The starter comparison is complete, builds as it stands, and never overwrites anything."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from places import Place

from generator.cli import main


def test_a_starter_builds_as_it_stands(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["begin", "two-pulleys", "--comparisons", str(place.comparisons)]) == 0
    assert "comparison.yaml" in capsys.readouterr().out

    assert main(["check", "--comparisons", str(place.comparisons)]) == 0
    assert "1 comparison, nothing wrong" in capsys.readouterr().out
    assert place.build() == 0
    page = (place.site / "comparisons" / "two-pulleys" / "index.html").read_text(encoding="utf-8")
    assert "Two pulleys" in page and "21 September 2026" in page


def test_a_starter_has_measurements_a_call_and_a_bare_trial(place: Place) -> None:
    place.begin("first")
    assert place.build() == 0

    results = json.loads((place.site / "comparisons" / "first" / "results.json").read_bytes())
    assert {m["item"] for m in results["measurements"]} == {"start-300"}
    assert {p["trial"] for p in results["predictions"]} == {"start-300", "top-speed"}
    assert results["contrasts"][0]["call"]
    assert results["data"] == "invented"


def test_no_mark_of_the_starter_is_left(place: Place) -> None:
    place.begin("first")

    for file in (place.comparisons / "first").iterdir():
        assert "{{" not in file.read_text(encoding="utf-8")


def test_what_is_there_stays(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    file = place.begin("first")
    before = file.read_bytes()
    capsys.readouterr()

    assert main(["begin", "first", "--comparisons", str(place.comparisons)]) == 1
    assert "is there already" in capsys.readouterr().err
    assert file.read_bytes() == before


@pytest.mark.parametrize("name", ["", "Two", "2-pulleys", "a/b", "../a", "a b", "a" * 41, "é", "a_b"])
def test_a_bad_name_is_wrong_use(tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["begin", name, "--comparisons", str(tmp_path / "c")]) == 2

    assert "two-pulleys" in capsys.readouterr().err
    assert not (tmp_path / "c").exists()


def test_a_file_in_the_way_is_said_plainly(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "c").write_text("not a folder")

    assert main(["begin", "first", "--comparisons", str(tmp_path / "c")]) == 1
    assert str(tmp_path / "c") in capsys.readouterr().err
