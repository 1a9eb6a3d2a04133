"""One comparison from its cleaned files to pages and assets: bytes in, bytes out, wherever it runs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import Any

from generator.charts.index import draw_charts
from generator.errors import FileProblems
from generator.evaluation.comparison import evaluate
from generator.evaluation.numbers import canonical_bytes
from generator.evaluation.recall import Recall
from generator.inputs import make_recall
from generator.looks import make_context
from generator.pages.comparison import render_comparison
from generator.pages.summary import summarise
from generator.presenting import place_charts, place_downloads, place_media, place_preview
from generator.readers.comparison import read_comparison
from generator.readers.folder import MemoryFolder
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.text import decode_text
from generator.records.comparison import Comparison, Site
from generator.records.presentation import Asset, Chart, Drawing, Page, Table

NOT_DRAWN = (
    "answer", "author", "bench_sheet", "corrections", "made_with", "missing", "publish", "question", "report", "title",
)  # fmt: skip
"""Parts of the results object that no chart shows, so that an edit to them redraws nothing."""


@dataclass(frozen=True)
class Task:
    """All that making one comparison needs.

    templates are folders searched in order, look the digest of their files; cache is a folder or None.
    """

    slug: str
    files: Mapping[str, bytes]
    site: Site
    templates: tuple[str, ...]
    look: str
    made_with: str
    cache: str | None = None
    limits: Limits = DEFAULT_LIMITS


@dataclass(frozen=True)
class Made:
    """One comparison ready for the archive.

    files are live files by their path in the site; shown are addresses of assets by the input that they show.
    """

    slug: str
    summary: dict[str, Any]
    pages: tuple[Page, ...]
    assets: tuple[Asset, ...]
    files: Mapping[str, bytes] = field(default_factory=dict)
    shown: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def make_comparison(task: Task) -> Made:
    """Read, evaluate, draw and render one comparison; FileProblems where its files do not allow it."""
    comparison = _read(task)
    recall = make_recall(Path(task.cache) if task.cache else None)
    results = _results(task, comparison, recall)
    charts = _charts(results, recall)
    context, shared_assets = make_context(
        task.site, task.templates, task.look, task.made_with, task.limits.template_steps
    )
    drawings, chart_assets = place_charts(charts)
    downloads, download_assets, tables = place_downloads(results)
    media, shown = place_media(comparison, task.files, recall, task.limits)
    preview = place_preview(results, task.site, recall)
    media = replace(media, downloads=tuple(downloads), social_image=preview.address if preview else None)
    page = render_comparison(results, charts, drawings, _prose(comparison, task.files), context, media)
    return Made(
        task.slug,
        summarise(results),
        (page,),
        (*shared_assets, *chart_assets, *download_assets, *chain(*shown.values()), *([preview] if preview else [])),
        {f"comparisons/{task.slug}/{name}": content for name, content in tables.items()},
        {file: tuple(dict.fromkeys(asset.address for asset in own)) for file, own in shown.items()},
    )


def _prose(comparison: Comparison, files: Mapping[str, bytes]) -> dict[str, str]:
    """The write-up's text by the name that its problems bear."""
    if comparison.write_up is None:
        return {}
    name = f"comparisons/{comparison.slug}/{comparison.write_up}"
    return {name: decode_text(files[comparison.write_up], name)}


def _read(task: Task) -> Comparison:
    read = read_comparison(MemoryFolder(task.files, f"comparisons/{task.slug}"), task.slug, task.limits)
    if read.comparison is None:
        raise FileProblems(read.problems)
    return read.comparison


def _results(task: Task, comparison: Comparison, recall: Recall) -> dict[str, Any]:
    """The results object, kept under everything but the prose."""
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in task.files.items()}
    digests.pop(comparison.write_up or "", None)
    digests.pop("comparison.yaml")  # what it states is in the record
    needs = [replace(comparison, sources=(), write_up=None), digests, task.limits]
    return recall.json(
        "results", needs, lambda: evaluate(comparison, task.files, recall, task.limits.draws, task.limits)
    )


def _charts(results: Mapping[str, Any], recall: Recall) -> tuple[Chart, ...]:
    """All charts, kept under the part of the results that they show."""
    drawn = {key: value for key, value in results.items() if key not in NOT_DRAWN}
    packed = recall.bytes("charts", drawn, lambda: canonical_bytes([_pack(chart) for chart in draw_charts(results)]))
    return tuple(_unpack(chart) for chart in json.loads(packed))


def _pack(chart: Chart) -> dict[str, Any]:
    def drawing(one: Drawing) -> dict[str, Any]:
        return {"svg": one.svg.decode(), "width": one.width, "height": one.height}

    return {
        "id": chart.id,
        "title": chart.title,
        "caption": chart.caption,
        "alt": chart.alt,
        "table": chart.table,
        "wide": drawing(chart.wide),
        "narrow": drawing(chart.narrow),
    }


def _unpack(kept: Mapping[str, Any]) -> Chart:
    def drawing(one: Mapping[str, Any]) -> Drawing:
        return Drawing(one["svg"].encode(), one["width"], one["height"])

    table = kept["table"]
    rows = tuple(tuple(row) for row in table["rows"])
    return Chart(
        kept["id"], kept["title"], kept["caption"], kept["alt"], Table(table["caption"], tuple(table["columns"]), rows),
        drawing(kept["wide"]), drawing(kept["narrow"]),
    )  # fmt: skip
