"""The feed of the site: Atom (RFC 4287). Ids come from slugs, so they outlive the site's address."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Context
from generator.pages.home import newest_first
from generator.pages.templates import render_template
from generator.records.presentation import Page

Summary = Mapping[str, Any]
PATH = "feed.xml"
_SPACE = uuid.UUID("7ad3f1c2-5f0e-5b0b-9c39-2f7d1d1f6a11")
"""Our own name space for ids (RFC 4122, version 5 below it)."""


def entry_id(*names: str) -> str:
    """An id that depends on the names alone."""
    return uuid.uuid5(_SPACE, "\n".join(names)).urn


def timestamp(date: str) -> str:
    """A date as RFC 3339 wants it; a date without a time is taken as midnight UTC."""
    return date if "T" in date else f"{date}T00:00:00Z"


def render_feed(summaries: Sequence[Summary], context: Context) -> Page:
    """Render the feed: an entry per comparison and one per correction, newest first.

    Links are absolute where the site has an address, else relative to the feed. Without any comparison the feed
    carries the date on which the format was published (RFC 4287, December 2005), since it must carry one.
    """
    entries = sorted((entry for summary in newest_first(summaries) for entry in _entries(summary, context)),
                     key=lambda entry: entry["updated"], reverse=True)  # fmt: skip
    view = {
        "site": context.site,
        "id": entry_id("site", context.site.name),
        "updated": entries[0]["updated"] if entries else timestamp("2005-12-01"),
        "home": context.absolute("") or "index.html",
        "own": context.absolute(PATH) or PATH,
        "author": context.site.owner or context.site.name,
        "entries": entries,
    }
    return Page(PATH, render_template(context.environment, "feed.xml", view))


def _entries(summary: Summary, context: Context) -> list[dict[str, str]]:
    path = f"comparisons/{summary['slug']}/"
    address = context.absolute(path) or f"{path}index.html"
    note = "Invented data. " if summary["data"] == "invented" else ""
    shared = {"link": address, "published": timestamp(summary["date"]), "author": summary["author"]}
    first = shared | {
        "id": entry_id("comparison", summary["slug"]),
        "title": summary["title"],
        "updated": timestamp(summary["updated"]),
        "summary": note + (summary["answer"] or summary["question"] or summary["title"]),
    }
    return [first, *(_correction(summary, entry, shared, note) for entry in summary["corrections"])]


def _correction(summary: Summary, entry: Mapping[str, str], shared: dict[str, str], note: str) -> dict[str, str]:
    return shared | {
        "id": entry_id("correction", summary["slug"], entry["date"], entry["text"]),
        "title": f"Corrected: {summary['title']}",
        "published": timestamp(entry["date"]),
        "updated": timestamp(entry["date"]),
        "summary": note + entry["text"],
    }
