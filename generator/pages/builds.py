"""The builds page: what was published when, and what changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Context, Head, render_page
from generator.records.presentation import Page


def render_builds(builds: Sequence[Mapping[str, Any]], context: Context) -> Page:
    """Render the list of builds, newest first.

    builds: mappings with id, date, manifest (address from the root), and optionally made_with and comparisons
    (slugs that changed in it).
    """
    head = Head("Builds", "Every build of this site that changed something, with its manifest.")
    rows = [
        {
            "id": build["id"],
            "date": build["date"],
            "manifest": build["manifest"],
            "changed": ", ".join(build.get("comparisons") or ()),
            "made_with": build.get("made_with") or "",
        }
        for build in builds
    ]
    return render_page(context, "builds.html", "builds", head, builds=rows)
