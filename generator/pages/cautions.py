"""The cautions page: what to mind on a fast machine, with figures from standards and where they come from."""

from __future__ import annotations

from generator.pages.context import Context, Head, render_page
from generator.records.presentation import Page


def render_cautions(context: Context) -> Page:
    """Render the cautions page."""
    head = Head("Cautions", "Voltage, stored energy, heat, moving parts and noise on a bench for fast machines.")
    return render_page(context, "cautions.html", "cautions", head)
