"""Run the validation and keep its table: ``python -m generator.validation``."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from generator import __version__
from generator.validation.table import run_validation


def main() -> None:
    """Simulate every row (four to five minutes on one core) and write results.json beside this file."""
    date = datetime.now(UTC).date().isoformat()
    table = run_validation(__version__, date, tell=lambda text: print(text, file=sys.stderr))
    place = Path(__file__).with_name("results.json")
    place.write_text(json.dumps(table, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    for miss in table["misses"]:
        print(miss)


if __name__ == "__main__":
    main()
