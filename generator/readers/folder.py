"""Opens files inside one comparison's folder and nowhere else; never follows a link, never waits on a pipe.

Three kinds with one interface: DiskFolder for a real folder, SteadyFolder for one that must stay as it is while it is
used, and MemoryFolder for bytes held in a mapping. Each step of a path is opened from the step before it, so nothing
can be exchanged between the check and the opening.
"""

from __future__ import annotations

import difflib
import hashlib
import os
import re
import stat
from collections.abc import Iterable, Mapping
from contextlib import suppress
from typing import Protocol

from generator.errors import FileProblems, Problem

MAX_PATH = 200

_UNSAFE = re.compile(r'[\\:*?"<>|\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ue000-\uf8ff]')
_RESERVED = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\..*)?", re.IGNORECASE)


class FolderError(Exception):
    """A path that may not or cannot be opened: stable code, message and fix."""

    def __init__(self, code: str, message: str, fix: str) -> None:
        super().__init__(code, message, fix)
        self.code = code
        self.message = message
        self.fix = fix

    def at(self, name: str) -> FileProblems:
        """The same as the problem of a whole file, by the name that it has in messages."""
        return FileProblems([Problem(name, 0, 0, "", self.code, self.message, self.fix)])


class Folder(Protocol):
    """A place that holds one comparison; label stands before the file's name in messages."""

    label: str

    def read(self, path: str, limit: int) -> bytes:
        """Whole content of a file of at most ``limit`` bytes."""

    def check(self, path: str, limit: int) -> int:
        """Size of a file [bytes], after the same refusals as read."""


def split_path(path: str) -> tuple[str, ...]:
    """Steps of a relative path with forward slashes; FolderError for a path that could mean another place."""
    if not path or len(path) > MAX_PATH:
        raise FolderError("path-name", f"a path of {len(path)} characters", "name a file, like runs.csv")
    if path.startswith(("/", "~")) or re.match(r"[A-Za-z]:", path):
        raise FolderError("path-leaves", f'"{path}" is an absolute path', "name it relative to the comparison's folder")
    steps = tuple(path.split("/"))
    if ".." in steps:
        raise FolderError("path-leaves", f'"{path}" leaves the folder', "keep the file inside the comparison's folder")
    for step in steps:
        bad = _UNSAFE.search(step) or _RESERVED.fullmatch(step)
        if bad or not step or step.startswith(".") or step != step.strip() or step.endswith("."):
            fix = "use letters, digits, - and _, and / between folders"
            raise FolderError("path-name", f"{path!r} is no safe file name", fix)
    return steps


class DiskFolder:
    """A folder on disk."""

    def __init__(self, path: str | os.PathLike[str], label: str | None = None) -> None:
        self.path = os.fspath(path).rstrip("/") or "/"
        self.label = self.path.replace(os.sep, "/") if label is None else label

    def read(self, path: str, limit: int) -> bytes:
        """Whole content of a file of at most ``limit`` bytes."""
        descriptor, size = self._open(path, limit)
        with os.fdopen(descriptor, "rb") as file:
            content = file.read(size + 1)
        if len(content) > size:
            raise FolderError("file-changed", f'"{path}" grew while it was read', "read it again once it is written")
        return content

    def check(self, path: str, limit: int) -> int:
        """Size of a file [bytes], after the same refusals as read."""
        descriptor, size = self._open(path, limit)
        os.close(descriptor)
        return size

    def _open(self, path: str, limit: int) -> tuple[int, int]:
        *folders, name = split_path(path)
        here = self._root()
        try:
            for step in folders:
                below = _open_step(here, step, path, os.O_DIRECTORY)
                os.close(here)
                here = below
            descriptor = _open_step(here, name, path, 0)
        finally:
            os.close(here)
        try:
            size = os.fstat(descriptor).st_size
            _check_size(path, size, limit)
        except BaseException:
            os.close(descriptor)
            raise
        return descriptor, size

    def _root(self) -> int:
        try:
            return os.open(self.path, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC)
        except OSError as error:
            if os.path.islink(self.path):
                raise _link(self.label) from error
            raise FolderError(
                "file-unreadable", f"cannot open the folder {self.label}", "check that it is there and may be read"
            ) from error


class SteadyFolder(DiskFolder):
    """A folder on disk whose files read alike each time: one that was changed after its first reading is refused."""

    def __init__(self, path: str | os.PathLike[str], label: str | None = None) -> None:
        super().__init__(path, label)
        self._digests: dict[str, str | None] = {}

    def read(self, path: str, limit: int) -> bytes:
        """Whole content of a file of at most ``limit`` bytes."""
        try:
            content = super().read(path, limit)
        except FolderError as error:
            if error.code == "file-missing":
                self.compare(path, None)
            raise
        self.compare(path, hashlib.sha256(content).hexdigest())
        return content

    def compare(self, path: str, digest: str | None) -> None:
        """FolderError where a file was first read with another SHA-256; None stands for a file that is not there."""
        if self._digests.setdefault(path, digest) != digest:
            message = f'"{path}" was changed while the site was being built'
            raise FolderError("file-changed", message, "the site is as it was; build again")


def _open_step(here: int, step: str, path: str, flags: int) -> int:
    """Open one name in an open folder, refusing all but plain files and folders before and after the opening."""
    try:
        _check_kind(os.stat(step, dir_fd=here, follow_symlinks=False).st_mode, path, flags)
        _check_case(here, step, path)
        descriptor = os.open(step, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC | flags, dir_fd=here)
    except FileNotFoundError:
        raise _missing(path, step, os.listdir(here)) from None
    except OSError as error:
        message = f'cannot open "{path}": {error.strerror}'
        raise FolderError("file-unreadable", message, "check that the file is there and may be read") from error
    try:
        _check_kind(os.fstat(descriptor).st_mode, path, flags)
    except FolderError:
        os.close(descriptor)
        raise
    return descriptor


def _check_kind(mode: int, path: str, flags: int) -> None:
    if stat.S_ISLNK(mode):
        raise _link(path)
    if flags & os.O_DIRECTORY:
        if not stat.S_ISDIR(mode):
            raise FolderError("file-missing", f'"{path}" goes through a file', "check the path")
    elif stat.S_ISDIR(mode):
        raise FolderError("path-kind", f'"{path}" is a folder', "name a file in it")
    elif not stat.S_ISREG(mode):
        raise FolderError("path-kind", f'"{path}" is no plain file', "put a plain file in its place")


def _check_case(here: int, step: str, path: str) -> None:
    """Some disks open Cal.wav when asked for cal.wav; elsewhere the same comparison would then fail."""
    with suppress(OSError):
        if step not in os.listdir(here):
            raise _missing(path, step, os.listdir(here))


def _check_size(path: str, size: int, limit: int) -> None:
    if size > limit:
        message = f'"{path}" has {size} bytes; at most {limit} are read here'
        raise FolderError("file-large", message, "shorten it, or raise the limit if you trust it")


def _link(path: str) -> FolderError:
    return FolderError("path-link", f'"{path}" is or goes through a symbolic link', "copy the file into the folder")


def _missing(path: str, step: str, names: Iterable[str]) -> FolderError:
    lowered = {name.lower(): name for name in names}
    near = difflib.get_close_matches(step.lower(), lowered, n=1, cutoff=0.6)
    fix = f'there is "{lowered[near[0]]}"' if near else "put the file there or correct its name"
    return FolderError("file-missing", f'there is no file "{path}"', fix)


class MemoryFolder:
    """Files held in memory, by their path."""

    def __init__(self, files: Mapping[str, bytes], label: str = "memory") -> None:
        self.files = files
        self.label = label

    def read(self, path: str, limit: int) -> bytes:
        """Whole content of a file of at most ``limit`` bytes."""
        self.check(path, limit)
        return self.files[path]

    def check(self, path: str, limit: int) -> int:
        """Size of a file [bytes], after the same refusals as read."""
        split_path(path)
        if path not in self.files:
            raise _missing(path, path, self.files)
        _check_size(path, len(self.files[path]), limit)
        return len(self.files[path])
