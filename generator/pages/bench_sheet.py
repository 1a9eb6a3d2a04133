"""The bench sheet: a page made for print, with the ladder to climb and blanks to fill in by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.context import Context, Head, render_page
from generator.records.presentation import Page


def render_bench_sheet(results: Mapping[str, Any], context: Context) -> Page:
    """Render the bench sheet of a comparison from ``results["bench_sheet"]``."""
    title = f"Bench sheet: {results.get('title') or results['comparison']}"
    head = Head(title, "Ladders to climb, runs to make, what to mind, and room for the results.")
    path = f"comparisons/{results['comparison']}/bench-sheet"
    return render_page(
        context, "bench_sheet.html", path, head, results.get("data") == "invented", results=results,
        sheet=results.get("bench_sheet") or {},
    )  # fmt: skip
