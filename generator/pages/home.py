"""The home page: comparisons, newest first, with question, answer, candidates and date."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Context, Head, render_page
from generator.pages.structured import describe_site
from generator.records.presentation import Page

Summary = Mapping[str, Any]


def newest_first(summaries: Sequence[Summary]) -> list[Summary]:
    """By date, newest first; equal dates by slug."""
    return sorted(sorted(summaries, key=lambda each: each["slug"]), key=lambda each: each["date"], reverse=True)


def render_home(summaries: Sequence[Summary], context: Context) -> Page:
    """Render the home page."""
    about = context.site.about or "Comparisons of motion hardware, each with a prediction beside the measurement."
    head = Head(context.site.name, about, structured=tuple(describe_site(context)), scripts=("filter",))
    invented = any(summary["data"] == "invented" for summary in summaries)
    return render_page(context, "home.html", "", head, invented, False, summaries=newest_first(summaries), about=about)
