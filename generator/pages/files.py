"""The files that a comparison's page offers: results, tables, sources."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.context import Download, Media

_WHAT = {
    "results.json": "every number on this page, in SI units",
    "predictions.csv": "predicted limits of each trial and candidate",
    "measurements.csv": "measured figures with their intervals",
    "contrasts.csv": "differences and calls",
    "curves.csv": "predicted corridors over speed",
}


def view_files(results: Mapping[str, Any], media: Media) -> dict[str, Any]:
    """Files of this version of the page, named by content; the live results.json where nothing else is given."""
    live = Download("results.json", f"comparisons/{results['comparison']}/results.json")
    publish = results.get("publish") or {}
    zipped = f"comparisons/{results['comparison']}/sources.zip"
    return {
        "files": [_file(download) for download in media.downloads or (live,)],
        "sources": zipped if publish.get("sources") else "",
    }


def _file(download: Download) -> dict[str, str]:
    size = download.size
    return {
        "name": download.what,
        "address": download.address,
        "what": _WHAT.get(download.what, ""),
        "size": "" if size is None else _size(size),
    }


def _size(count: int) -> str:
    return f"{count} bytes" if count < 1000 else f"{count / 1000:.0f} kB" if count < 1e6 else f"{count / 1e6:.1f} MB"
