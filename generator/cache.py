"""Keeps results that are costly to make, outside the site and the project; safe to delete at any time."""

from __future__ import annotations

import hashlib
import json
import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

MARK = b"stallmark-1\n"
DIGEST_SIZE = 32
SPARE = 8
STALE = 2_000_000_000


class Cache:
    """A bounded store of bytes by key, safe with many processes; one that lost or damaged entries just knows less.

    Every entry carries a digest over its key and content: a damaged one is removed and counts as absent. Entries
    appear whole or not at all. The least recently used go first. Between two clearings several processes together may
    exceed the limit by an eighth each; ``trim`` brings it back.

    Parameters
    ----------
    folder : Path
        Where entries are kept; made when the first one is.
    limit : int
        Most that all entries may take [byte].
    """

    def __init__(self, folder: Path, limit: int) -> None:
        self.folder = folder
        self.limit = limit
        self._written = limit

    def get(self, key: str) -> bytes | None:
        """The content kept under a key, None if there is none that is whole."""
        path = self._find_path(key)
        try:
            entry = path.read_bytes()
        except OSError:
            return None
        content = entry[len(MARK) + DIGEST_SIZE :]
        if entry != _pack(key, content):
            with suppress(OSError):
                path.unlink()
            return None
        with suppress(OSError):
            os.utime(path)
        return content

    def put(self, key: str, content: bytes) -> None:
        """Keep a content under a key; one too large for the limit, or a disk that refuses, is let be."""
        entry = _pack(key, content)
        if len(entry) > self.limit:
            return
        with suppress(OSError):
            write_whole(self._find_path(key), entry)
        self._written += len(entry)
        if self._written > self.limit // SPARE:
            self.trim()

    def trim(self) -> None:
        """Remove the least recently used entries until a little less than the limit is taken."""
        self._written = 0
        entries = sorted(self._list_entries())
        excess = sum(size for _, size, _ in entries) - (self.limit - self.limit // SPARE)
        for _, size, path in entries:
            if excess <= 0:
                return
            with suppress(OSError):
                os.unlink(path)
            excess -= size

    def _find_path(self, key: str) -> Path:
        name = hashlib.sha256(key.encode()).hexdigest()
        return self.folder / name[:2] / name[2:]

    def _list_entries(self) -> Iterator[tuple[int, int, str]]:
        """Time of last use [ns], size [byte] and path of every entry; half-written ones of dead processes too."""
        for folder in _scan(self.folder):
            if len(folder.name) == 2 and folder.is_dir(follow_symlinks=False):
                for item in _scan(folder):
                    with suppress(OSError):
                        facts = item.stat(follow_symlinks=False)
                        yield facts.st_mtime_ns, facts.st_size, item.path


class FileIndex:
    """Knows the digests of files that have not changed since they were last read.

    A file counts as unchanged while size, modification and change time and inode are as they were. One that was
    changed within two seconds before the index was saved is read again: a later change may bear the same time.

    Parameters
    ----------
    path : Path
        Where the index is kept.
    recheck : bool
        Read every file, whatever the index knows.
    """

    def __init__(self, path: Path, recheck: bool = False) -> None:
        self.path = path
        self._known = {} if recheck else _read_index(path)
        self._used: dict[str, list[int | str]] = {}

    def find_digest(self, file: Path) -> str:
        """SHA-256 of a file's content; OSError if it cannot be read."""
        place = os.path.abspath(file)
        facts = _find_facts(place)
        known = self._known.get(place)
        if known is None or known[:-1] != facts:
            with open(place, "rb", opener=_open_plain) as reader:
                known = [*facts, hashlib.file_digest(reader, "sha256").hexdigest()]
        self._used[place] = known
        return str(known[-1])

    def save(self) -> None:
        """Keep what is known of files that are still there; a disk that refuses is let be."""
        others = {place: known for place, known in self._known.items() if os.path.exists(place)}
        with suppress(OSError):
            write_whole(self.path, json.dumps({**others, **self._used}).encode())


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that readers see the old content or the new, never a part."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, half = tempfile.mkstemp(dir=path.parent, prefix=".")
    try:
        with os.fdopen(handle, "wb") as writer:
            writer.write(content)
        os.replace(half, path)
    except BaseException:
        os.unlink(half)
        raise


def _pack(key: str, content: bytes) -> bytes:
    """An entry: a mark, the digest over key and content, the content."""
    return MARK + hashlib.sha256(hashlib.sha256(key.encode()).digest() + content).digest() + content


def _scan(folder: Path | os.DirEntry[str]) -> Iterator[os.DirEntry[str]]:
    with suppress(OSError), os.scandir(folder) as found:
        yield from found


def _open_plain(place: str, flags: int) -> int:
    """Open a plain file; OSError for a link, a pipe or a device, which could lead elsewhere or never end."""
    descriptor = os.open(place, flags | os.O_NOFOLLOW | os.O_NONBLOCK)
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise OSError(f"{place} is no plain file")
    return descriptor


def _find_facts(place: str) -> list[int | str]:
    facts = os.stat(place)
    return [facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino]


def _read_index(path: Path) -> dict[str, list[int | str]]:
    """The saved index without files that changed shortly before it was saved; empty if there is none to be read."""
    try:
        latest = os.stat(path).st_mtime_ns - STALE
        data = json.loads(path.read_bytes())
        return {str(place): facts for place, facts in data.items() if len(facts) == 5 and facts[1] < latest > facts[2]}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}
