"""Every operation that changes the disk, one small function each; nothing else in the archive changes it
(the lock of a work folder aside).

Operations go through the module's own ``os`` and ``swap``, so that a test can record, count or interrupt each one.
"""

from __future__ import annotations

import ctypes
import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path

RENAME_EXCHANGE = 2
CURRENT_FOLDER = -100
BLOCK = 1 << 20
NO_EXCHANGE = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP}
NO_LINK = {errno.EXDEV, errno.EMLINK, errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS}


def make_folder(path: Path | str) -> None:
    """Make a folder and its parents; one that is there is fine, and so is one that another process removes at once."""
    try:
        os.mkdir(path)
    except FileNotFoundError:
        make_folder(os.path.dirname(path))
        make_folder(path)
    except FileExistsError:
        if _is_no_folder(path):
            raise


def _is_no_folder(path: Path | str) -> bool:
    """Whether something other than a folder is there."""
    try:
        return not stat.S_ISDIR(os.stat(path).st_mode)
    except FileNotFoundError:
        return False


def write_file(path: Path | str, content: bytes) -> None:
    """Write a new file; an older one of this name loses the name first, so that its other hard links keep theirs."""
    make_folder(os.path.dirname(path))
    remove_file(path)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o644)
    try:
        view = memoryview(content)
        while view:
            view = view[os.write(handle, view[:BLOCK]) :]
    finally:
        os.close(handle)


def remove_file(path: Path | str) -> None:
    """Remove a file; none there is fine."""
    try:
        os.unlink(path)
    except (FileNotFoundError, NotADirectoryError):
        return


def link_file(source: Path | str, target: Path | str) -> None:
    """Give a file a second name, or copy it where the file system has no hard links.

    Raises FileExistsError when the target is there. A symbolic link stays one and is never followed.
    """
    try:
        os.link(source, target, follow_symlinks=False)
    except OSError as error:
        if error.errno not in NO_LINK:
            raise
        copy_file(source, target)


def copy_file(source: Path | str, target: Path | str) -> None:
    """Copy content and mode of a file, or a symbolic link as a link; the target must not be there."""
    if os.path.islink(source):
        os.symlink(os.readlink(source), target)
        return
    with open(source, "rb") as reader:
        handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o644)
        try:
            while block := reader.read(BLOCK):
                view = memoryview(block)
                while view:
                    view = view[os.write(handle, view) :]
        finally:
            os.close(handle)


def walk_files(root: Path | str, below: str = "") -> Iterator[str]:
    """All files and links under a folder, as paths from it with forward slashes, in sorted order; none if no folder."""
    try:
        with os.scandir(f"{root}/{below}") as found:
            items = sorted(found, key=lambda item: item.name)
    except (FileNotFoundError, NotADirectoryError):
        return
    for item in items:
        path = f"{below}/{item.name}" if below else item.name
        if item.is_dir(follow_symlinks=False):
            yield from walk_files(root, path)
        else:
            yield path


def remove_tree(path: Path | str) -> None:
    """Remove a folder with all that is in it; none there is fine. Links are removed, not followed."""
    try:
        with os.scandir(path) as found:
            items = list(found)
    except FileNotFoundError:
        return
    for item in items:
        if item.is_dir(follow_symlinks=False):
            remove_tree(item.path)
        else:
            os.unlink(item.path)
    os.rmdir(path)


def remove_empty(path: Path | str) -> None:
    """Remove a folder if nothing is in it; OSError otherwise."""
    os.rmdir(path)


def rename(source: Path | str, target: Path | str) -> None:
    """Rename within one file system."""
    os.rename(source, target)


def sync_folder(path: Path | str) -> None:
    """Wait until the names in a folder are on the disk."""
    handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_all() -> None:
    """Wait until everything written so far is on the disk."""
    os.sync()


def swap(first: Path | str, second: Path | str) -> int:
    """Let two names change places in one step by renameat2; returns the error number, 0 for success."""
    function = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if function is None:
        return errno.ENOSYS
    names = (CURRENT_FOLDER, os.fsencode(first), CURRENT_FOLDER, os.fsencode(second))
    return 0 if function(*names, RENAME_EXCHANGE) == 0 else ctypes.get_errno()


def exchange(first: Path | str, second: Path | str) -> bool:
    """Let two folders change places in one step; False where the system cannot."""
    number = swap(first, second)
    if number in NO_EXCHANGE:
        return False
    if number:
        raise OSError(number, os.strerror(number), os.fspath(second))
    return True
