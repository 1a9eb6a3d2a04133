"""The comparisons' files on their way into a build: which there are, cleaned, and whether they changed.

Nothing is kept in memory but names and digests; contents are read when a comparison's turn comes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from generator.archive.cleaning import clean_content
from generator.archive.manifests import Entry
from generator.cache import Cache, FileIndex
from generator.errors import FileProblems, Problem
from generator.evaluation.numbers import digest
from generator.evaluation.recall import Recall
from generator.readers.comparison import read_comparison
from generator.readers.folder import DiskFolder, FolderError
from generator.readers.limits import Limits
from generator.records.comparison import Comparison
from generator.versions import find_code_digest

CACHE_LIMIT = 1 << 30
"""Most that kept results may take [byte]."""
CLEANED_ALIKE = (".yaml", ".csv", ".md")
"""Text is published as it is, so its digest is that of the file."""


@dataclass(frozen=True)
class _Named:
    """A file that a comparison names, and whether it may stand in the site."""

    path: str
    limit: int
    published: bool


class Inputs:
    """The files below ``root``, one folder per comparison."""

    def __init__(self, root: Path, cache: Path, limits: Limits, recheck: bool = False) -> None:
        self.root = root
        self.limits = limits
        self.cache = Cache(cache, CACHE_LIMIT)
        self.index = FileIndex(cache / "files.json", recheck)
        self._named: dict[str, list[_Named]] = {}

    def check(self, slug: str) -> tuple[Comparison | None, tuple[Problem, ...]]:
        """Read a comparison and clean its files; returns it with its problems, and remembers which files it names."""
        read = read_comparison(self._folder(slug), slug, self.limits)
        if read.comparison is None:
            return None, read.problems
        self._named[slug] = [
            _Named(source.path, self.limits.bytes_for(source.role), may_publish(read.comparison, source.role))
            for source in read.comparison.sources
        ]
        try:
            self._clean_all(slug)
        except FileProblems as error:
            return None, (*read.problems, *error.problems)
        return read.comparison, read.problems

    def read(self, slug: str) -> dict[str, bytes]:
        """Cleaned contents by path."""
        return {named.path: self._clean(slug, named) for named in self._named[slug]}

    def list_files(self, slug: str) -> Iterator[tuple[str, bytes, bool]]:
        """Path, cleaned content and whether it may be published, of every file."""
        for named in self._named[slug]:
            yield named.path, self._clean(slug, named), named.published

    def read_site_file(self) -> bytes | None:
        """The site's own facts as written; None where there are none."""
        path = self.root / "site.yaml"
        return path.read_bytes() if path.is_file() and not path.is_symlink() else None

    def find_key(self, slug: str, around: Any) -> str:
        """Digest of all that the comparison's output depends on: its cleaned files, and what stands around them."""
        facts = [[named.path, self._cleaned_digest(slug, named.path), named.published] for named in self._named[slug]]
        return digest([slug, sorted(facts), around])

    def find_known_key(self, slug: str, entry: Entry, around: Any) -> str | None:
        """The same, taken from the files that the last build read, without reading what has not changed."""
        try:
            facts = [[item.path, self._cleaned_digest(slug, item.path), item.published] for item in entry.inputs]
        except (OSError, FolderError, FileProblems):
            return None
        return digest([slug, sorted(facts), around])

    def save(self) -> None:
        """Keep what is known of the files for the next build, and bring the kept results back under their limit."""
        self.index.save()
        self.cache.trim()

    def _folder(self, slug: str) -> DiskFolder:
        return DiskFolder(self.root / slug, f"{self.root.as_posix()}/{slug}")

    def _clean_all(self, slug: str) -> None:
        problems: list[Problem] = []
        for named in self._named[slug]:
            try:
                self._clean(slug, named)
            except FileProblems as error:
                problems += error.problems
        if problems:
            raise FileProblems(problems)

    def _clean(self, slug: str, named: _Named) -> bytes:
        raw = self._folder(slug).read(named.path, named.limit)
        cleaned = clean_content(f"{self.root.as_posix()}/{slug}/{named.path}", raw)
        if not named.path.endswith(CLEANED_ALIKE):
            key = f"cleaned {hashlib.sha256(raw).hexdigest()}"
            self.cache.put(key, hashlib.sha256(cleaned).hexdigest().encode())
        return cleaned

    def _cleaned_digest(self, slug: str, path: str) -> str:
        """Digest of the cleaned file, known from its raw digest where it was cleaned before."""
        raw = self.index.find_digest(self.root / slug / path)
        if path.endswith(CLEANED_ALIKE):
            return raw
        kept = self.cache.get(f"cleaned {raw}")
        if kept is not None:
            return kept.decode()
        limit = max(self.limits.sound_bytes, self.limits.photo_bytes)
        return hashlib.sha256(self._clean(slug, _Named(path, limit, False))).hexdigest()


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
