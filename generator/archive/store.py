"""Reading an archive: its builds, entries and files, and what ought to stand in it. Never writes."""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterator, Mapping, Set
from pathlib import Path

from generator.archive import disk, names
from generator.archive.manifests import Build, Entry, File, Line, Manifest, parse_entry, parse_head, parse_manifest
from generator.archive.manifests import read_or_say as _read
from generator.errors import SiteProblem, UsageError


class Archive:
    """A site's archive as it stands in one folder, or in several of which the first that has a file counts.

    Parameters
    ----------
    roots : Path
        Folders of the site: usually one; while a build is staged the stage and then the site.
    """

    def __init__(self, *roots: Path) -> None:
        self.roots = roots

    def read(self, path: str) -> bytes:
        """Content of a file of the site; OSError if it cannot be read or is no regular file."""
        for root in self.roots:
            if _find_size(f"{root}/{path}") is not None:
                return (root / path).read_bytes()
        raise FileNotFoundError(f"{path} is not there")

    def read_or_say(self, path: str) -> bytes:
        """Content of a file of the site that ought to be there; SiteProblem if it cannot be read."""
        try:
            return self.read(path)
        except OSError as error:
            raise _say_unread(path, error) from error

    def find_size(self, path: str) -> int | None:
        """Size of a regular file of the site [byte], None if there is none."""
        sizes = (_find_size(f"{root}/{path}") for root in self.roots)
        return next((size for size in sizes if size is not None), None)

    def holds(self, path: str, content: bytes) -> bool:
        """Whether a regular file of the site has this content."""
        return self.find_size(path) == len(content) and self.read(path) == content

    def list_ids(self) -> list[str]:
        """Ids of all builds that have a manifest, oldest first; SiteProblem if they cannot be listed."""
        try:
            found = {Path(path).stem for root in self.roots for path in disk.walk_files(root / names.BUILDS)}
        except OSError as error:
            raise _say_unread(names.BUILDS, error) from error
        ids = [name for name in found if names.BUILD_ID.fullmatch(name) and self._has_manifest(name)]
        return sorted(ids, key=lambda name: (int(name.partition("-")[0]), name))

    def read_newest(self) -> Manifest | None:
        """Manifest of the newest build, None before the first."""
        ids = self.list_ids()
        return self.read_manifest(ids[-1]) if ids else None

    def read_manifest(self, build_id: str) -> Manifest:
        """Manifest of one build; SiteProblem if damaged."""
        path = names.find_build_file(build_id)
        return _read(parse_manifest, self._read_text(path), path)

    def read_entry(self, digest: str) -> Entry:
        """Manifest of one entry; SiteProblem if damaged or missing."""
        path = names.find_entry_file(digest)
        text = self._read_text(path)
        if names.find_digest(text.encode()) != digest:
            text = ""
        return _read(parse_entry, text, path)

    def find_changed(self, line: Line, newer: Archive, newer_line: Line) -> tuple[Entry, Entry] | None:
        """Both manifests of an entry that changed between two builds, each in its archive; None if it did not.

        Only lines that differ are followed.
        """
        if line == newer_line:
            return None
        before, after = self.read_entry(line.entry), newer.read_entry(newer_line.entry)
        return None if after.says_the_same_as(before) else (before, after)

    def list_builds(self) -> tuple[Build, ...]:
        """Heads of all builds, oldest first; only the first line of each manifest is read."""
        return tuple(self._read_head(build_id) for build_id in self.list_ids())

    def find_build(self, text: str) -> str:
        """The id of the build that a person means: an id, the start of one, a sequence number, or ``newest``."""
        ids = self.list_ids()
        if text == "newest" and ids:
            return ids[-1]
        meant = [name for name in ids if name.startswith(text) or (text.isdigit() and int(name[:-9]) == int(text))]
        exact = [name for name in meant if text.isdigit() and int(name[:-9]) == int(text)] or meant
        if len(exact) == 1:
            return exact[0]
        what = f"{len(exact)} builds are called {text}" if exact else f"there is no build {text!r}"
        raise UsageError(what, f"one of: {', '.join(ids[-5:]) or 'none yet'}; `stallmark builds` lists all")

    def read_history(self, page_path: str) -> tuple[tuple[str, str], ...]:
        """All versions of a page, oldest first: digest of its marked text, and the date it was first published."""
        try:
            rows = json.loads(self.read(names.find_history_file(page_path)))
            return tuple((str(version), str(date)) for version, date in rows)
        except FileNotFoundError:
            has_copies = any(True for root in self.roots for _ in disk.walk_files(root / names.PAGES / page_path))
            return self._trace_history(page_path) if has_copies else ()
        except (ValueError, TypeError):
            return self._trace_history(page_path)

    def find_expected(self, faults: list[SiteProblem] | None = None) -> dict[str, File]:
        """All files that ought to stand under archive/, by path, from every manifest in turn.

        What cannot be read goes into ``faults`` and the rest is still told; without that list, it raises.
        """
        expected: dict[str, File] = {}
        before: dict[str, Line] = {}
        for build_id in self.list_ids():
            path = names.find_build_file(build_id)
            expected[path] = self._find_file(path)
            try:
                manifest = self.read_manifest(build_id)
            except SiteProblem as fault:
                _note_or_raise(fault, faults)
                continue
            self._expect_build(expected, manifest, before, faults)
            before = dict(manifest.entries)
        return expected

    def find_live(self, manifest: Manifest, faults: list[SiteProblem] | None = None) -> Iterator[File]:
        """All files outside archive/ that a build put in place; faults as in ``find_expected``."""
        for line in manifest.entries.values():
            try:
                yield from self.read_entry(line.entry).find_live()
            except SiteProblem as fault:
                _note_or_raise(fault, faults)

    def list_ours(self, newest: Manifest | None) -> set[str]:
        """Paths of all files outside archive/ that the newest build, if there is one, put in place."""
        return {file.path for file in self.find_live(newest)} if newest else set()

    def _expect_build(
        self,
        expected: dict[str, File],
        manifest: Manifest,
        before: Mapping[str, Line],
        faults: list[SiteProblem] | None,
    ) -> None:
        if manifest.build.page:
            expected[manifest.build.page.path] = manifest.build.page
        for name, line in manifest.entries.items():
            if before.get(name) == line:
                continue
            own = names.find_entry_file(line.entry)
            expected[own] = File(own, line.entry, self.find_size(own) or 0)
            try:
                expected.update((file.path, file) for file in self.read_entry(line.entry).find_kept())
            except SiteProblem as fault:
                _note_or_raise(fault, faults)
        stones = (gone for stone in manifest.withdrawn if stone.build == manifest.build.id for gone in stone.gone)
        for gone in (*manifest.dropped, *stones):
            expected.pop(gone.path, None)
            if gone.instead:
                expected[gone.path] = gone.instead

    def _trace_history(self, page_path: str) -> tuple[tuple[str, str], ...]:
        """A page's versions from every manifest, where its own list is lost."""
        found: dict[str, str] = {}
        seen: set[str] = set()
        for build_id in self.list_ids():
            fresh = {line.entry for line in self.read_manifest(build_id).entries.values()} - seen
            seen |= fresh
            pages = (page for digest in sorted(fresh) for page in self.read_entry(digest).pages)
            for page in pages:
                if page.path == page_path:
                    found.setdefault(page.version, page.published)
        return tuple(found.items())

    def _find_file(self, path: str) -> File:
        """A file as it stands; one that cannot be read has no digest."""
        try:
            return File.of(path, self.read(path))
        except OSError:
            return File(path, "", self.find_size(path) or 0)

    def _read_head(self, build_id: str) -> Build:
        path = names.find_build_file(build_id)
        return _read(parse_head, self._read_text(path).partition("\n")[0], path)

    def _read_text(self, path: str) -> str:
        try:
            return self.read_or_say(path).decode()
        except ValueError as error:
            raise _say_unread(path, error) from error

    def _has_manifest(self, build_id: str) -> bool:
        return self.find_size(names.find_build_file(build_id)) is not None


def list_foreign(site: Path, ours: Set[str]) -> tuple[str, ...]:
    """What stands in a site beside our files: files, links, and folders that hold nothing of ours as one each.

    ``ours`` are paths of files; where none of them is under archive/, that folder is left out.
    """
    enter = ours | names.find_folders(ours)
    known = enter | {"archive"}
    return tuple(
        path
        for path, is_folder in disk.walk(site, enter=enter.__contains__)
        if path not in (known if is_folder else ours)
    )


def _find_size(place: str) -> int | None:
    """Size of a regular file [byte], None for anything else."""
    try:
        facts = os.lstat(place)
    except (FileNotFoundError, NotADirectoryError):
        return None
    return facts.st_size if stat.S_ISREG(facts.st_mode) else None


def _say_unread(path: str, error: Exception) -> SiteProblem:
    return SiteProblem(f"{path} cannot be read: {error}", "`stallmark builds audit` names all damage")


def _note_or_raise(fault: SiteProblem, faults: list[SiteProblem] | None) -> None:
    if faults is None:
        raise fault
    faults.append(fault)
