"""The shipped validation table as the pages on statistics show it: each its own kinds of bench, with missed targets."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

Row = Mapping[str, Any]


def view_validation(table: Row | None, slug: str) -> dict[str, Any] | None:
    """The part of the table that belongs to a method's page; None where there is none.

    groups: (kind of bench, rows of text); misses: targets missed, each kind at its worst.
    """
    rows = [row for row in table["rows"] if find_page(row["group"]) == slug] if table else []
    if table is None or not rows:
        return None
    names = list(dict.fromkeys(row["group"] for row in rows))
    return {
        "version": table["version"],
        "date": table["date"],
        "targets": {name: share(value) for name, value in table["targets"].items()},
        "groups": [_group(name, [row for row in rows if row["group"] == name]) for name in names],
        "misses": _misses([miss for miss in table["misses"] if find_page(miss["group"]) == slug]),
    }


def find_page(group: str) -> str:
    """Slug of the method whose page shows a kind of bench."""
    if group.startswith("attempts"):
        return "attempts"
    if "drift" in group:
        return "drift"
    return "limits" if group.startswith(("equal scatter", "some runs never lost")) else "contrast"


def share(value: float | None) -> str:
    """A rate in per cent with one decimal, a dash for none."""
    return "–" if value is None else f"{100 * value:.1f} %"


def _group(name: str, rows: Sequence[Row]) -> tuple[str, list[tuple[str, ...]]]:
    """Title with the number of comparisons for each truth and what that leaves open, and the rows as text."""
    each = min(row["each"] for row in rows)
    doubt = share(2 * math.sqrt(0.02 * 0.98 / each))
    title = f"{_title(name)} ({each} comparisons for each true difference, so a rate of 2 % is uncertain by ± {doubt})"
    return title, [_row(row) for row in rows]


def _row(row: Row) -> tuple[str, ...]:
    wrong = [rate for rate in (row["wrong_equal"], row["wrong_equal_unstated"]) if rate is not None]
    return (
        " and ".join(str(count) for count in row["runs"]),
        _bench(row),
        share(row["limit_coverage"]),
        share(row["difference_coverage"]),
        f"{row['matters']:g}",
        share(max(wrong, default=None)),
        share(max((rate for rate in (row["wrong_edge"], row["wrong_half"]) if rate is not None), default=None)),
        share(row["overstated"]),
        share(row["right_equal"]),
        share(row["right_different"]),
    )


def _bench(row: Row) -> str:
    """What is special about a bench, in scatters of the better candidate."""
    words = [f"rung {row['rung']:g}"]
    if row["scatter_ratio"] != 1:
        words.append(f"one scatters {row['scatter_ratio']:g} times as much")
    if row["drift"]:
        words.append(f"drift {row['drift']:g}")
    if row["headroom"] is not None:
        words.append(f"stroke ends {row['headroom']:g} above the limit")
    if row["third"]:
        words.append(f"a third candidate with {row['third']} runs")
    if row["others"]:
        words.append(f"{row['others']} more candidates")
    return ", ".join(words)


def _misses(misses: Sequence[Row]) -> list[str]:
    """Each kind of miss once, with its worst figure."""
    worst: dict[tuple[str, str], float] = {}
    for miss in misses:
        words = f"{_FIGURES.get(miss['figure'], '')} {miss['words']}".strip()
        pick = min if miss["words"] == "covers too little" else max
        key = (miss["group"], words)
        worst[key] = pick(worst.get(key, miss["value"]), miss["value"])
    return [f"{_title(group)}: {words}, {share(value)} at worst" for (group, words), value in worst.items()]


_FIGURES = {"limit_coverage": "a limit’s interval", "difference_coverage": "a difference’s interval"}


def _title(group: str) -> str:
    return group[:1].upper() + group[1:]
