"""Part pages: a motor's figures and results gathered over all comparisons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Context, Head, render_page
from generator.pages.home import newest_first
from generator.records.presentation import Page

Summary = Mapping[str, Any]


def render_parts(summaries: Sequence[Summary], context: Context) -> list[Page]:
    """The index of parts and a page for each."""
    gathered = gather_parts(summaries)
    head = Head("Parts", "Every part that was compared, with its stated figures and what was measured.")
    invented = any(part["invented"] for part in gathered)
    index = render_page(context, "parts.html", "parts", head, invented, parts=gathered)
    return [index, *(_part(part, context) for part in gathered)]


def gather_parts(summaries: Sequence[Summary]) -> list[dict[str, Any]]:
    """Parts by name, each with its uses in comparisons, newest first."""
    found: dict[str, dict[str, Any]] = {}
    for summary in newest_first(summaries):
        for part in summary["parts"]:
            entry = found.setdefault(part["slug"], {"slug": part["slug"], "name": part["name"], "uses": []})
            entry["uses"].append({"part": part, "summary": summary})
    for entry in found.values():
        entry["invented"] = any(use["summary"]["data"] == "invented" for use in entry["uses"])
        entry["figures"] = _figures(entry["uses"])
        entry["comparisons"] = _by_comparison(entry["uses"])
    return sorted(found.values(), key=lambda entry: entry["name"].lower())


def _by_comparison(uses: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Uses grouped by comparison, in order."""
    found: dict[str, dict[str, Any]] = {}
    for use in uses:
        entry = found.setdefault(use["summary"]["slug"], {"summary": use["summary"], "parts": []})
        entry["parts"].append(use["part"])
    return list(found.values())


def _figures(uses: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Each figure with every value stated for it, and where; uses in one comparison stand side by side."""
    rows: dict[str, dict[str, Any]] = {}
    for use in uses:
        for figure in use["part"]["figures"]:
            row = rows.setdefault(figure["path"], {"label": figure["label"], "values": []})
            known = [value for value in row["values"] if value["figure"] == figure]
            if known:
                if known[0]["summaries"][-1] is not use["summary"]:
                    known[0]["summaries"].append(use["summary"])
            else:
                row["values"].append({"figure": figure, "summaries": [use["summary"]]})
    return list(rows.values())


def _part(part: Mapping[str, Any], context: Context) -> Page:
    head = Head(part["name"], f"Stated figures and measured results of {part['name']} over all comparisons.")
    return render_page(context, "part.html", f"parts/{part['slug']}", head, part["invented"], part=part)
