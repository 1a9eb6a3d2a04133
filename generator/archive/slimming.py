"""Drops what only older builds used, and lets their addresses answer with a page that says so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from generator.archive import names
from generator.archive.entries import PageMakers
from generator.archive.manifests import File, Gone, Manifest
from generator.archive.notices import render_dropped_page
from generator.archive.publisher import Publisher, PublishResult, open_site
from generator.archive.store import Archive
from generator.errors import SiteProblem, UsageError


@dataclass(frozen=True)
class Slimming:
    """What was dropped.

    ``build`` is the id of the new manifest, None if nothing was to drop; ``kept_from`` the oldest build kept whole;
    ``pages`` and ``assets`` count files; ``freed`` is the space they took less that of the notices [byte];
    ``leftover`` says what could not be removed of the old site, empty if all went.
    """

    build: str | None
    kept_from: str
    pages: int = 0
    assets: int = 0
    freed: int = 0
    leftover: str = ""


def slim_site(site: Path, last: int, date: str, makers: PageMakers | None = None) -> Slimming:
    """Drop page copies and assets that the last builds do not use.

    Manifests, the chain, sources and pages on what changed stay. The address of a dropped page copy answers with a
    page that says so. Assets of the build before the newest always stay: a reader may still have its pages open.

    Parameters
    ----------
    site : Path
        The site's folder.
    last : int
        How many of the newest builds to keep whole, at least 1.
    date : str
        Date of the manifest that records it.
    makers : PageMakers, optional
        As for a build, so that the page of builds lists this too.

    Raises
    ------
    SiteProblem
        There is no build, or the site is damaged or cannot be written.
    UsageError
        ``last`` is less than 1.
    """
    if last < 1:
        raise UsageError(f"slim keeps at least the newest build, not the last {last}", "give 1 or more")
    with open_site(site, date, makers=makers) as publisher:
        if publisher.newest is None:
            raise SiteProblem(f"{site} holds no build", "give the folder of a site that was built")
        kept = _find_kept(publisher.archive, last)
        dropped = list(_find_dropped(publisher, kept, _find_kept(publisher.archive, max(last, 2))))
        if not dropped:
            return Slimming(None, kept[0].build.id)
        publisher.draft.kind = "slim"
        publisher.draft.note = f"keeps the last {last} builds whole, from {kept[0].build.id}"
        publisher.draft.dropped = tuple(gone for gone, _ in dropped)
        for name in publisher.list_names():
            if name != names.BUILDS_PAGE:
                publisher.carry(name)
        result = publisher.publish(publisher.newest.build.made_with)
    return _count(result, kept[0].build.id, dropped)


def _count(result: PublishResult, kept_from: str, dropped: list[tuple[Gone, File]]) -> Slimming:
    pages = sum(gone.instead is not None for gone, _ in dropped)
    freed = sum(file.size - (gone.instead.size if gone.instead else 0) for gone, file in dropped)
    return Slimming(result.build, kept_from, pages, len(dropped) - pages, freed, result.leftover)


def _find_kept(archive: Archive, last: int) -> list[Manifest]:
    """Manifests of the last builds, and of all that came between and after."""
    builds = archive.list_builds()
    real = [build.sequence for build in builds if build.kind == "build"]
    first = real[-last:][0]
    return [archive.read_manifest(build.id) for build in builds if build.sequence >= first]


def _find_dropped(
    publisher: Publisher, kept: list[Manifest], with_assets: list[Manifest]
) -> Iterator[tuple[Gone, File]]:
    """What goes, with the notice for a page on the stage, and the file that stood there."""
    archive = publisher.archive
    pages, assets = _find_used(archive, kept), _find_used(archive, with_assets)
    withdrawn = {gone.path for stone in publisher.draft.withdrawn for gone in stone.gone}
    for path, file in archive.find_expected().items():
        if path in withdrawn:
            continue
        if path.startswith(f"{names.ASSETS}/") and path not in assets:
            yield Gone(path, None), file
        elif path.startswith(f"{names.PAGES}/") and path.endswith(".html") and path not in pages:
            notice = _render_notice(archive, path)
            if File.of(path, notice) != file:
                yield Gone(path, publisher.stage.place(path, notice)), file


def _find_used(archive: Archive, manifests: list[Manifest]) -> set[str]:
    """Paths under archive/ that some builds use."""
    digests = {line.entry for manifest in manifests for line in manifest.entries.values()}
    return {file.path for digest in digests for file in archive.read_entry(digest).find_kept()}


def _render_notice(archive: Archive, path: str) -> bytes:
    page_path, _, version = path.removeprefix(names.PAGES).removesuffix(".html").strip("/").rpartition("/")
    dates = {known[:12]: date for known, date in archive.read_history(page_path)}
    return render_dropped_page(page_path, version, dates.get(version, "an unknown date"))
