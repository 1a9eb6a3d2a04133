"""The list of a page's versions: the one page of a site that is not kept as a version itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Context, Head, render_page, versions_path
from generator.records.presentation import Page


def render_versions(
    path: str,
    title: str,
    versions: Sequence[Mapping[str, Any]],
    context: Context,
    removed: str | None = None,
    invented: bool = False,
) -> Page:
    """Render the versions of the page at ``path``, newest first.

    versions: mappings with version (12 digits), published (date), address (from the root; None where slimmed away),
    and current. removed: the date since which the page itself is gone from the site; the list then stands at its
    address too. invented: whether the page holds invented data.
    """
    head = Head(f"Versions of: {title}", f"Every published version of the page “{title}”.")
    return render_page(
        context, "versions.html", versions_path(path), head, invented, frozen=False,
        versions=versions, page_title=title, page_path=path, removed=removed,
    )  # fmt: skip
