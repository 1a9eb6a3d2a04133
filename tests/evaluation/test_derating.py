"""The torque that earlier comparisons of the same machine showed: when it counts, and what a sheet makes of it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from places import Place

from generator.cli import main
from generator.evaluation.derating import Derating, find_derating

MASS = {"path": "machine.axes.x.moving_mass", "unit": "kg", "value": 0.4, "shared": True}


def results(slug: str, date: str, *factors: float, mass: float = 0.4, data: str = "measured") -> dict[str, Any]:
    """As much of a results object as counts here."""
    return {
        "comparison": slug,
        "date": date,
        "data": data,
        "machine": {"motor_map": "straight", "axes": ["x"]},
        "inputs": [MASS | {"value": mass}],
        "calibration": [{"unknown": "torque derating", "factor": factor} for factor in factors],
    }


def test_factors_of_earlier_comparisons_are_averaged() -> None:
    earlier = [results("one", "2026-01-01", 0.8, 0.9), results("two", "2026-02-01", 1.0)]

    assert find_derating(results("new", "2026-03-01"), earlier) == Derating(pytest.approx(0.9), 3, ("one", "two"))


@pytest.mark.parametrize(
    "other",
    [
        results("new", "2026-01-01", 0.8),
        results("later", "2026-04-01", 0.8),
        results("heavier", "2026-01-01", 0.8, mass=0.5),
        results("invented", "2026-01-01", 0.8, data="invented"),
        results("silent", "2026-01-01"),
        results("other", "2026-01-01", 0.8) | {"calibration": [{"unknown": "moving mass", "factor": 0.8}]},
        results("crossed", "2026-01-01", 0.8) | {"machine": {"motor_map": "crossed-belts", "axes": ["x"]}},
    ],
    ids=lambda other: other["comparison"],
)
def test_what_does_not_count(other: dict[str, Any]) -> None:
    assert find_derating(results("new", "2026-03-01"), [other]) is None


def test_the_next_bench_sheet_uses_it_and_says_so(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    done = place.begin("done")
    before, _, rest = done.read_text(encoding="utf-8").partition("  - id: start-300")
    first, _, after = rest.partition("  - id: top-speed")
    second = first.replace("speed: 300", "speed: 250")  # a second trial, which the first one can be calibrated for
    done.write_text(
        f"{before}  - id: start-300{first}  - id: start-250{second}  - id: top-speed{after}", encoding="utf-8"
    )
    runs = first.partition("    runs:")[2]
    place.begin("next", (f"    runs:{runs}", ""), ("\ndate: ", "\ndate: 2031-01-01 # "))
    lead = ["--comparisons", str(place.comparisons), "--site", str(place.site), "--quiet"]
    sheets = place.root / "sheets"
    assert main(["bench-sheet", "next", *lead, "--to", str(sheets / "before")]) == 0
    assert "torque taken" not in capsys.readouterr().out
    assert place.build() == 0
    capsys.readouterr()

    assert main(["bench-sheet", "next", *lead, "--to", str(sheets / "after")]) == 0

    found = re.search(r"torque taken as ([\d.]+) of the stated one, as done showed", capsys.readouterr().out)
    assert found
    before, after = (
        (sheets / name / "next-bench-sheet.html").read_text(encoding="utf-8") for name in ("before", "after")
    )
    assert f"taken as {found[1]} of the stated one" in after
    assert "of the stated one" not in before
    tables = [re.findall(r"[\d.]+\s*m/s²", re.sub(r"&nbsp;|\xa0", " ", text)) for text in (before, after)]
    assert tables[0] != tables[1], "another torque, another ladder"
