"""The computed cautions of one comparison: a figure, what it is, what it stands against, under what assumption."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.figures import NOTHING, format_quantity
from generator.pages.labels import candidate_names, listed

Row = Mapping[str, Any]


def view_cautions(results: Row) -> dict[str, Any] | None:
    """Cautions with equal figures joined over candidates; None where there are none."""
    names = candidate_names(results)
    found: dict[tuple[str, str, str, str], list[str]] = {}
    for row in results.get("cautions") or ():
        unit = row.get("unit") or "1"
        limit = format_quantity(row["limit"], unit) if row.get("limit") is not None else ""
        key = (format_quantity(row.get("value"), unit), row["kind"], limit, _sentence(row.get("assumes") or ""))
        found.setdefault(key, []).append(names.get(str(row.get("candidate")), ""))
    rows = [
        {"value": "not computed" if value == NOTHING else value, "kind": kind[:1].upper() + kind[1:], "limit": limit,
         "assumes": assumes, "who": _who(who, names)}
        for (value, kind, limit, assumes), who in found.items()
    ]  # fmt: skip
    return {"rows": rows} if rows else None


def _who(candidates: list[str], names: Mapping[str, str]) -> str:
    named = list(dict.fromkeys(name for name in candidates if name))
    return "all candidates" if len(named) == len(names) > 1 else listed(named)


def _sentence(text: str) -> str:
    text = text.strip()
    return text if not text else text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
