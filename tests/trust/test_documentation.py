"""What DEVELOPERS.md names as proof is there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_row_names_tests_that_exist() -> None:
    tables = TEXT[TEXT.index("## Threat model") : TEXT.index("## Tests")]
    rows = [
        line for line in tables.split("\n") if line.startswith("| ") and not line.startswith(("| who |", "| fault |"))
    ]
    named = [re.findall(r"`(tests/[^`]+\.py)`", row.split(" | ")[-1]) for row in rows]

    assert len(rows) >= 20
    assert all(named), rows[[bool(each) for each in named].index(False)]
    assert [path for each in named for path in each if not (ROOT / path).is_file()] == []
