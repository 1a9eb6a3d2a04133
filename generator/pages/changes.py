"""The page that tells what one build changed: which comparisons, which figures, and whether data or model did it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.context import Context, Head, render_page
from generator.pages.figures import NOTHING, format_quantity, number
from generator.records.presentation import Page

MOST_FIGURES = 200
"""Figures listed per comparison; beyond, the page says how many more there are."""


def render_changes(
    build: str, date: str, before: str | None, difference: Mapping[str, Any], context: Context, invented: bool = False
) -> Page:
    """Render what the build changed against the one before (None: nothing was before).

    difference: made_with, rows (name, before, after); comparisons, objects with slug, state, causes, inputs (path,
    state), figures (section, item, figure, unit, before, after, cause) and note.
    """
    head = Head(f"Build {build}", f"What the build {build} changed.")
    view: dict[str, Any] = {
        "build": build,
        "date": date,
        "before": before,
        "versions": [
            (name, _plain(old), _plain(new)) if before else (name, _plain(new))
            for name, old, new in difference.get("made_with") or ()
        ],
        "comparisons": [_comparison(each) for each in difference.get("comparisons") or ()],
    }
    return render_page(context, "changes.html", f"archive/builds/{build}.html", head, invented, frozen=False, **view)


def _comparison(difference: Any) -> dict[str, Any]:
    figures = list(difference.figures)
    return {
        "slug": difference.slug,
        "state": difference.state,
        "causes": " and ".join(difference.causes),
        "inputs": [f"{change.path} {change.state}" for change in difference.inputs],
        "figures": [_figure(change) for change in figures[:MOST_FIGURES]],
        "more": max(0, len(figures) - MOST_FIGURES),
        "note": difference.note,
    }


def _figure(change: Any) -> tuple[str, ...]:
    what = ", ".join(part for part in (change.section, change.item, change.figure.replace("_", " ")) if part)
    return what, _value(change.before, change.unit), _value(change.after, change.unit), change.cause


def _value(value: Any, unit: str) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _plain(value)
    return format_quantity(float(value), unit, 4) if unit else number(float(value), 4)


def _plain(value: Any) -> str:
    return NOTHING if value is None or value == "" else str(value)
