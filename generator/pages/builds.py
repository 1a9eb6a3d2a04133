"""The builds page: what was published when, and what changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Context, Head, render_page
from generator.pages.labels import counted, listed
from generator.records.presentation import Page

Row = Mapping[str, Any]


def render_builds(builds: Sequence[Row], context: Context) -> Page:
    """Render the list of builds, newest first.

    builds: mappings with id, date and manifest (address from the root); optionally kind, added, changed and removed
    (slugs), note, made_with (by name) and page (address of what changed, from the root).
    """
    head = Head("Builds", "Every build of this site that changed something, with its manifest.")
    return render_page(context, "builds.html", "builds", head, frozen=False, builds=[_row(build) for build in builds])


def _row(build: Row) -> dict[str, Any]:
    made = build.get("made_with") or {}
    return {
        "id": build["id"],
        "date": build["date"],
        "manifest": build["manifest"],
        "page": _address(build.get("page")),
        "changed": "; ".join(_changes(build)),
        "made_with": ", ".join(f"{key} {value}" for key, value in made.items()),
    }


def _changes(build: Row) -> list[str]:
    kind = str(build.get("kind") or "build")
    words = [] if kind == "build" else [kind]
    for key in ("added", "changed", "removed"):
        slugs = list(build.get(key) or ())
        if slugs:
            few = listed(slugs) if len(slugs) <= 4 else counted(len(slugs), "comparison")
            words.append(f"{key}: {few}")
    return words + ([str(build["note"])] if build.get("note") else [])


def _address(page: Any) -> str:
    """An address that is given as text, or as a file with a path."""
    return str(getattr(page, "path", page) or "")
