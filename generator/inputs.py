"""The comparisons' files on their way into a build: which there are, cleaned, and whether they changed.

Nothing is kept in memory but names and digests; contents are read when a comparison's turn comes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from generator.archive.manifests import Entry
from generator.cache import Cache, FileIndex
from generator.errors import FileProblems, Problem
from generator.evaluation.numbers import digest
from generator.evaluation.recall import Recall
from generator.opening import open_comparison, read_clean
from generator.readers.folder import FolderError, SteadyFolder
from generator.readers.limits import Limits
from generator.readers.site import FILE as SITE_FILE
from generator.records.comparison import Comparison
from generator.versions import find_code_digest

CACHE_LIMIT = 1 << 30
"""Most that kept results may take [byte]."""
CLEANED_ALIKE = (".yaml", ".csv", ".md")
"""Text is published as it is, so its digest is that of the file."""


@dataclass(frozen=True)
class _Named:
    """A file that a comparison names: most that may be read of it [byte], whether it may stand in the site, and the
    SHA-256 of its cleaned content."""

    path: str
    limit: int
    published: bool
    digest: str


@dataclass(frozen=True)
class _Checked:
    """A comparison that may be built: its folder, which notices changes, and its files."""

    folder: SteadyFolder
    files: tuple[_Named, ...]


class Inputs:
    """The files below ``root``, one folder per comparison.

    A comparison's files count as they were when it was checked: for the models and again for the archive they are read
    when its turn comes, and FileProblems says so where one is no longer the same. So what a build archives is what its
    figures come from.
    """

    def __init__(self, root: Path, cache: Path, limits: Limits, recheck: bool = False) -> None:
        self.root = root
        self.folder = SteadyFolder(root)
        self.limits = limits
        self.cache = Cache(cache, CACHE_LIMIT)
        self.index = FileIndex(cache / "files.json", recheck)
        self._checked: dict[str, _Checked] = {}

    def check(self, slug: str) -> tuple[Comparison | None, tuple[Problem, ...]]:
        """Read a comparison and open its files; returns it with its problems, and remembers which files it names."""
        folder = SteadyFolder(self.root / slug)
        opened = open_comparison(folder, slug, self.limits, Recall(self.cache, find_code_digest))
        comparison = opened.comparison
        if comparison is not None:
            files = (
                _Named(
                    path=source.path,
                    limit=self.limits.bytes_for(source.role),
                    published=may_publish(comparison, source.role),
                    digest=opened.digests[source.path],
                )
                for source in comparison.sources
            )
            self._checked[slug] = _Checked(folder, tuple(files))
        return comparison, opened.problems

    def read(self, slug: str) -> dict[str, bytes]:
        """Cleaned contents by path."""
        return {path: content for path, content, _ in self.list_files(slug)}

    def list_files(self, slug: str) -> Iterator[tuple[str, bytes, bool]]:
        """Path, cleaned content and whether it may be published, of every file."""
        checked = self._checked[slug]
        for named in checked.files:
            yield named.path, read_clean(checked.folder, named.path, named.limit), named.published

    def read_site_file(self) -> bytes | None:
        """The site's own facts as written; None where there are none."""
        try:
            return self.folder.read(SITE_FILE, self.limits.bytes_for("site"))
        except FolderError as error:
            if error.code == "file-missing":
                return None
            raise error.at(f"{self.folder.label}/{SITE_FILE}") from error

    def find_key(self, slug: str, around: Any) -> str:
        """Digest of all that the comparison's output depends on: its cleaned files, and what stands around them."""
        checked = self._checked[slug]
        for named in checked.files:
            self._note(slug, checked.folder, named)
        return _find_key(slug, [[named.path, named.digest, named.published] for named in checked.files], around)

    def find_known_key(self, slug: str, entry: Entry, around: Any) -> str | None:
        """The same, taken from the files that the last build read, without reading what has not changed."""
        try:
            facts = [[item.path, self._cleaned_digest(slug, item.path), item.published] for item in entry.inputs]
        except FileProblems:
            return None
        return _find_key(slug, facts, around)

    def save(self) -> None:
        """Keep what is known of the files for the next build, and bring the kept results back under their limit."""
        self.index.save()
        self.cache.trim()

    def _note(self, slug: str, folder: SteadyFolder, named: _Named) -> None:
        """Let the next build know a file without reading it; FileProblems where it changed since it was checked."""
        raw = self._raw_digest(slug, named.path)
        try:
            folder.compare(named.path, raw)
        except FolderError as error:
            raise error.at(f"{folder.label}/{named.path}") from error
        if raw is not None and not named.path.endswith(CLEANED_ALIKE):
            self.cache.put(f"cleaned {raw}", named.digest.encode())

    def _cleaned_digest(self, slug: str, path: str) -> str | None:
        """Digest of the cleaned file, known from its raw digest where it was cleaned before; None where it is gone."""
        raw = self._raw_digest(slug, path)
        if raw is None or path.endswith(CLEANED_ALIKE):
            return raw
        kept = self.cache.get(f"cleaned {raw}")
        if kept is not None:
            return kept.decode()
        folder, limit = SteadyFolder(self.root / slug), max(self.limits.sound_bytes, self.limits.photo_bytes)
        folder.compare(path, raw)
        found = hashlib.sha256(read_clean(folder, path, limit)).hexdigest()
        self.cache.put(f"cleaned {raw}", found.encode())
        return found

    def _raw_digest(self, slug: str, path: str) -> str | None:
        """Digest of a file as it is on disk, without reading it where it is known; None where it is gone."""
        try:
            return self.index.find_digest(self.root / slug / path)
        except OSError:
            return None


def _find_key(slug: str, facts: list[list[Any]], around: Any) -> str:
    """The digest of a comparison's files, each by path, digest and whether it is published, and of what is around."""
    return digest([slug, sorted(facts), around])


def make_recall(cache: Path | None) -> Recall:
    """Keeps expensive results in a cache folder; None keeps nothing."""
    return Recall(None if cache is None else Cache(cache, CACHE_LIMIT), find_code_digest)


def may_publish(comparison: Comparison, role: str) -> bool:
    """Whether a file in that role may stand in the site, by the comparison's ``publish``."""
    publish = comparison.publish
    if role == "photo":
        return publish.sources and publish.photos
    if role == "sound":
        return publish.sources and publish.audio
    return publish.sources
