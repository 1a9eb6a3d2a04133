"""Publishes builds: takes pages and assets as they come, keeps versions, and switches the site over at the end.

with open_site(site, date, makers=makers) as publisher:
    for slug in slugs:
        entry = publisher.entry(slug)
        if entry and entry.key == key:
            publisher.carry(slug)
        else:
            publisher.add(slug, key, summary, Contents(inputs, pages, assets, files))
    publisher.add_shared(Contents(pages=pages, assets=assets, files=files))
    result = publisher.publish(made_with)
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from generator.archive import disk, names
from generator.archive.comparing import compare_manifests
from generator.archive.entries import Contents, EntryWriter, PageMakers, fill_marks
from generator.archive.manifests import (
    Build,
    Entry,
    File,
    Gone,
    Line,
    Manifest,
    Tombstone,
    find_build_id,
    find_inputs_digest,
    find_line,
    render_entry,
    render_manifest,
)
from generator.archive.removed import keep_addresses
from generator.archive.stage import Stage
from generator.archive.store import Archive
from generator.archive.workfolder import WorkFolder
from generator.errors import SiteProblem, UsageError


@dataclass(frozen=True)
class PublishResult:
    """What a publication did.

    ``build`` is its id, None if nothing had changed; ``added``, ``changed`` and ``removed`` are comparisons;
    ``new_files`` and ``new_bytes`` count what had to be written; ``kept`` are files and whole folders that are not
    ours; ``mended`` are files that were damaged and stand again; ``held_back`` are those whose content was withdrawn
    earlier; ``leftover`` says what could not be removed of the old site, empty if all went.
    """

    build: str | None
    added: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    new_files: int = 0
    new_bytes: int = 0
    kept: tuple[str, ...] = ()
    mended: tuple[str, ...] = ()
    held_back: tuple[str, ...] = ()
    leftover: str = ""


@dataclass
class Draft:
    """A build in the making: its kind and note, its entries, what was withdrawn so far, what it drops."""

    kind: str = "build"
    note: str = ""
    entries: dict[str, Line] = field(default_factory=dict)
    withdrawn: tuple[Tombstone, ...] = ()
    dropped: tuple[Gone, ...] = ()


@contextmanager
def open_site(
    site: Path, date: str, *, vault: Path | None = None, makers: PageMakers | None = None, compress: bool = False
) -> Iterator[Publisher]:
    """Hold a site for publishing; whatever happens inside, the old site stands until ``publish`` switches over.

    Parameters
    ----------
    site : Path
        The site's folder: absent, empty, or one of an earlier build.
    date : str
        Date of this build, as pages and manifests shall print it.
    vault : Path, optional
        A folder outside the site that keeps what is not published.
    makers : PageMakers, optional
        Makers of version lists, the builds page and the pages of changes.
    compress : bool
        Whether to lay compressed copies (.gz) beside pages and text assets.

    Raises
    ------
    SiteProblem
        The site cannot be held or written.
    UsageError
        The vault lies in the site.
    """
    if vault and vault.resolve().is_relative_to(site.resolve()):
        raise UsageError(f"the vault {vault} lies in the site, where all is published", "name a folder outside it")
    with WorkFolder(site) as work:
        yield Publisher(work, date, vault, makers or PageMakers(), compress)


class Publisher:
    """A publication under way; made by ``open_site``."""

    def __init__(self, work: WorkFolder, date: str, vault: Path | None, makers: PageMakers, compress: bool) -> None:
        self.archive = Archive(work.site)
        self.newest = self.archive.read_newest()
        self.date = date
        self.draft = Draft(withdrawn=self.newest.withdrawn if self.newest else ())
        self.stage = Stage(work.stage, work.site, {stone.digest: stone for stone in self.draft.withdrawn})
        self.writer = EntryWriter(self.stage, self.archive, date, makers, vault, compress)
        self._work = work
        self._taken: set[str] = set()

    def list_names(self) -> tuple[str, ...]:
        """Names of all entries of the newest build."""
        return tuple(self.newest.entries) if self.newest else ()

    def list_builds(self) -> tuple[Build, ...]:
        """Heads of all builds so far, oldest first."""
        return self.archive.list_builds()

    def entry(self, name: str) -> Entry | None:
        """The newest build's entry of this name.

        None if there is none, if a file of it is missing or cut short, or if compressed copies are wanted now and were
        not then, or the other way round.
        """
        entry = self._find_whole(name)
        return entry if entry and (not entry.pages or self._is_compressed(entry) == self.writer.compress) else None

    def carry(self, name: str) -> None:
        """Take over the newest build's entry as it is; SiteProblem if it is not there or damaged."""
        entry = self._find_whole(name)
        if entry is None or self.newest is None:
            raise SiteProblem(f"the newest build holds no undamaged {name} to take over", "build all comparisons")
        self._take(entry)
        self.draft.entries[name] = self.newest.entries[name]

    def add(self, name: str, key: str, summary: Any, contents: Contents) -> Entry:
        """Add what one unit was made from and came to; contents go to the disk at once and are not kept in memory.

        Parameters
        ----------
        name : str
            A comparison's slug, or another unit's name with a slash in it, like parts/alder-42-8.
        key : str
            Digest of everything that the output depends on.
        summary : JSON-ready value
            What pages that list this unit need to know.
        contents : Contents
            ``inputs``: cleaned; paths from the comparison's folder, or for other units from the folder that holds
            comparisons/; a comparison's published ones also become comparisons/<slug>/sources.zip.
            ``pages``: keep frozen copies, each with a list of its versions beside it. ``unfrozen``: pages that do not.
            ``assets``: files named by content. ``files``: live files by path; a results.json is kept by content too.

        Raises
        ------
        SiteProblem
            The disk refuses, a path is unsafe, or two units want the same one.
        """
        with self._work.say_problems():
            entry = self.writer.write_entry(name, key, summary, contents)
            self.put(entry)
        return entry

    def add_shared(self, contents: Contents, key: str = "", summary: Any = None) -> Entry:
        """Add what belongs to no single unit: home, methods, cautions, 404, feed, sitemap, styles."""
        return self.add(names.SHARED, key, summary, contents)

    def put(self, entry: Entry) -> None:
        """Note an entry whose files are on the stage or in the old site."""
        self._take(entry)
        text = render_entry(entry)
        line = find_line(entry, text)
        self.stage.place(names.find_entry_file(line.entry), text.encode())
        self.draft.entries[entry.name] = line

    def publish(self, made_with: Mapping[str, Any]) -> PublishResult:
        """Make the site of all that was added and carried; of entries that were neither only the addresses stay.

        Parameters
        ----------
        made_with : mapping
            Versions of the tool, the models and the libraries, JSON-ready.

        Returns
        -------
        PublishResult
            With build None, and the site as it was to the byte, if nothing had changed.
        """
        with self._work.say_problems():
            self._put_removed()
            if self.newest and self._is_unchanged(self.newest, made_with):
                return self._mend()
            manifest = self._make_manifest(made_with)
            path = names.find_build_file(manifest.build.id)
            self.stage.write(path, render_manifest(manifest).encode())
            kept, leftover = self._switch()
        build = manifest.build
        counts = (self.stage.new_files, self.stage.new_bytes)
        held_back = tuple(self.stage.held_back)
        return PublishResult(
            build.id, build.added, build.changed, build.removed, *counts, kept, (), held_back, leftover
        )

    def _find_whole(self, name: str) -> Entry | None:
        line = self.newest.entries.get(name) if self.newest else None
        entry = self.archive.read_entry(line.entry) if line else None
        if entry is None:
            return None
        files = (*entry.find_live(), *entry.find_kept())
        return entry if all(self.archive.find_size(file.path) == file.size for file in files) else None

    @staticmethod
    def _is_compressed(entry: Entry) -> bool:
        return any(file.path.endswith(".gz") for file in entry.files)

    def _take(self, entry: Entry) -> None:
        """Note the live paths of an entry; two entries must not want the same one."""
        for file in entry.find_live():
            if file.path in self._taken:
                raise SiteProblem(f"two pages or files want the place {file.path}", "rename one of them")
            self._taken.add(file.path)

    def _plan_builds_page(self, builds: tuple[Build, ...]) -> tuple[Entry, bytes] | None:
        """The entry and the content of the page that lists builds."""
        render = self.writer.makers.render_builds
        if not render:
            return None
        path = names.find_page_file("builds")
        content = fill_marks(render(builds).text, path, "", "")
        return Entry(names.BUILDS_PAGE, "", None, files=(File.of(path, content),)), content

    def _put_removed(self) -> None:
        """Keep the addresses of pages that are gone; kinds that carry all entries carry these too."""
        if self.newest and self.draft.kind == "build":
            after = Archive(self._work.stage, self._work.site)
            entry = keep_addresses(self.writer, self.newest, self.draft.entries, after, self.date)
            if entry:
                self.put(entry)

    def _put_builds_page(self, builds: tuple[Build, ...]) -> None:
        planned = self._plan_builds_page(builds)
        if planned:
            entry, content = planned
            self.stage.place(entry.files[0].path, content)
            self.put(entry)
        elif self.draft.kind != "build" and names.BUILDS_PAGE in self.list_names():
            self.carry(names.BUILDS_PAGE)

    def _is_unchanged(self, newest: Manifest, made_with: Mapping[str, Any]) -> bool:
        """Whether a build would repeat the newest one; its own page of builds lists no more than there are."""
        planned = self._plan_builds_page(self.list_builds())
        page = {planned[0].name: find_line(planned[0], render_entry(planned[0]))} if planned else {}
        same = names.render_json(made_with) == names.render_json(newest.build.made_with)
        return self.draft.kind == "build" and same and {**self.draft.entries, **page} == newest.entries

    def _make_manifest(self, made_with: Mapping[str, Any]) -> Manifest:
        """The manifest of a new build, with the pages that tell of it laid on the stage."""
        build = self._make_build(made_with)
        stones = tuple(replace(stone, build=stone.build or build.id) for stone in self.draft.withdrawn)
        changes = self._write_changes(Manifest(build, self.draft.entries, stones, self.draft.dropped))
        build = replace(build, page=changes)
        self._put_builds_page((*self.list_builds(), build))
        return Manifest(build, self.draft.entries, stones, self.draft.dropped)

    def _make_build(self, made_with: Mapping[str, Any]) -> Build:
        last = self.newest.build if self.newest else None
        old = self.newest.entries if self.newest else {}
        new = self.draft.entries
        both = Archive(self._work.stage, self._work.site)
        slugs = sorted(name for name in {*old, *new} if names.is_comparison(name))
        kept = (slug for slug in slugs if slug in old and slug in new)
        sequence = last.sequence + 1 if last else 1
        previous = names.find_digest(self.archive.read(names.find_build_file(last.id))) if last else None
        inputs = find_inputs_digest(new)
        return Build(
            id=find_build_id(sequence, previous, made_with, inputs),
            sequence=sequence,
            date=self.date,
            kind=self.draft.kind,
            previous=previous,
            made_with=dict(sorted(made_with.items())),
            inputs=inputs,
            comparisons=sum(map(names.is_comparison, new)),
            added=tuple(slug for slug in slugs if slug not in old),
            changed=tuple(slug for slug in kept if self.archive.find_changed(old[slug], both, new[slug])),
            removed=tuple(slug for slug in slugs if slug not in new),
            note=self.draft.note,
        )

    def _write_changes(self, manifest: Manifest) -> File | None:
        render = self.writer.makers.render_changes
        if not render or self.draft.kind != "build":
            return None
        both = Archive(self._work.stage, self._work.site)
        difference = compare_manifests(self.archive, self.newest, both, manifest)
        return self.writer.write_text(f"{names.BUILDS}/{manifest.build.id}.html", render(difference).text)

    def _mend(self) -> PublishResult:
        """Nothing has changed: leave the site alone, unless files of it were damaged and stand on the stage again."""
        self._put_builds_page(self.list_builds())
        mended = tuple(disk.walk_files(self._work.stage))
        kept, leftover = self._switch() if mended else ((), "")
        counts = (self.stage.new_files, self.stage.new_bytes)
        return PublishResult(None, (), (), (), *counts, kept, mended, tuple(self.stage.held_back), leftover)

    def _switch(self) -> tuple[tuple[str, ...], str]:
        """Fill the stage with all that stays and make it the site; returns what in it is not ours, and what is left."""
        stones = (gone for stone in self.draft.withdrawn if not stone.build for gone in stone.gone)
        self.stage.link_archive({gone.path for gone in (*self.draft.dropped, *stones)})
        both = Archive(self._work.stage, self._work.site)
        for line in self.draft.entries.values():
            self.stage.link_live(both.read_entry(line.entry).find_live())
        kept = self.stage.link_foreign(self.archive.list_ours(self.newest))
        self.stage.take_rights()
        return kept, self._work.switch()
