"""The pages that belong to no single comparison, and the pages that only the archive can fill."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from generator import __version__
from generator.archive.comparing import BuildDifference
from generator.archive.entries import Contents, InputFile, PageMakers, VersionRow
from generator.archive.manifests import Build
from generator.archive.names import SHARED, find_build_file
from generator.archive.publisher import Publisher
from generator.looks import make_context
from generator.pages.builds import render_builds
from generator.pages.cautions import render_cautions
from generator.pages.changes import render_changes
from generator.pages.context import Context
from generator.pages.feed import render_feed
from generator.pages.home import render_home
from generator.pages.methods import METHODS, render_methods
from generator.pages.notfound import render_notfound
from generator.pages.parts import render_parts
from generator.pages.sitemap import render_sitemap
from generator.pages.templates import STEPS
from generator.pages.versions import render_versions
from generator.records.comparison import Site
from generator.records.presentation import Page
from generator.validation.table import read_validation
from generator.versions import find_code_digest

MADE_WITH = f"Stallmark {__version__}"


class SharedPages:
    """Everything of one site that is rendered from the comparisons' summaries."""

    def __init__(self, site: Site, folders: Sequence[Path], digest: str, steps: int = STEPS) -> None:
        self.site = site
        self.look = digest
        self.folders = tuple(str(folder) for folder in folders)
        self.context: Context
        self.context, self.assets = make_context(site, self.folders, digest, MADE_WITH, steps)
        self.titles = {"cautions": "Cautions", "methods": "Methods", "parts": "Parts", "": site.name}
        self.titles |= {f"methods/{method.slug}": method.title for method in METHODS}
        self.invented: set[str] = set()

    def makers(self) -> PageMakers:
        """How the archive's own pages look."""
        return PageMakers(self._versions, self._builds, self._changes)

    def add(self, publisher: Publisher, summaries: Sequence[Mapping[str, Any]], site_file: bytes | None) -> None:
        """Add all shared pages, rendered from the comparisons' summaries, or carried where these are as they were."""
        self.learn(summaries)
        around = [find_code_digest(), self.look, asdict(self.site), summaries, (site_file or b"").decode()]
        key = hashlib.sha256(json.dumps(around, sort_keys=True).encode()).hexdigest()
        entry = publisher.entry(SHARED)
        if entry is not None and entry.key == key:
            publisher.carry(SHARED)
            return
        parts_index, *parts = render_parts(summaries, self.context)
        pages = [*render_methods(self.context, read_validation()), render_cautions(self.context), parts_index]
        unfrozen = [
            render_home(summaries, self.context),
            render_feed(summaries, self.context),
            render_notfound(self.context),
        ]
        changed = {f"comparisons/{summary['slug']}": summary["updated"] for summary in summaries}
        paths = ["", *changed, *(page.path for page in (*pages, *parts))]
        sitemap = render_sitemap(paths, self.context, changed)
        inputs = [InputFile("comparisons/site.yaml", site_file)] if site_file is not None else []
        unfrozen += [sitemap] if sitemap else []
        contents = Contents(inputs, [*pages, *parts], self.assets, unfrozen=unfrozen)
        publisher.add_shared(contents, key)

    def learn(self, summaries: Sequence[Mapping[str, Any]]) -> None:
        """Take the titles of the pages whose versions will be listed, and which of them hold invented data."""
        for summary in summaries:
            titles = {f"comparisons/{summary['slug']}": summary["title"]}
            titles |= {f"parts/{part['slug']}": part["name"] for part in summary["parts"]}
            self.titles |= titles
            if summary["data"] == "invented":
                self.invented |= set(titles)

    def _versions(self, path: str, rows: tuple[VersionRow, ...], removed: str | None) -> Page:
        listed = [vars(row) for row in reversed(rows)]
        return render_versions(path, self.titles.get(path, path), listed, self.context, removed, path in self.invented)

    def _builds(self, builds: tuple[Build, ...]) -> Page:
        rows = [vars(build) | {"manifest": find_build_file(build.id)} for build in reversed(builds)]
        return render_builds(rows, self.context)

    def _changes(self, difference: BuildDifference) -> Page:
        before = difference.before.id if difference.before else None
        after, invented = difference.after, bool(self.invented)
        return render_changes(after.id, after.date, before, vars(difference), self.context, invented)
