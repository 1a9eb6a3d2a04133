"""Every operation that changes the disk, one small function each; nothing else in the archive changes it
(the lock of a work folder aside).

Operations go through the module's own ``os`` and ``swap``, so that a test can record, count or interrupt each one.
"""

from __future__ import annotations

import ctypes
import errno
import os
import secrets
import stat
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from generator.errors import SiteProblem

RENAME_EXCHANGE = 2
CURRENT_FOLDER = -100
BLOCK = 1 << 20
LOOK = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
"""How a file is opened for reading that may be a link, which is not followed, or a pipe, which is not waited for."""
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


def write_whole(path: Path | str, content: bytes) -> None:
    """Write a file that is on the disk when this returns; whatever happens, its name never leads to a part of it."""
    half = f"{path}.{secrets.token_hex(8)}.part"
    try:
        write_file(half, content)
        sync_file(half)
        rename(half, path)
    except BaseException:
        remove_file(half)
        raise
    sync_folder(os.path.dirname(path))


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
    """Copy content and permissions of a file, or a symbolic link as a link; the target must not be there."""
    if os.path.islink(source):
        os.symlink(os.readlink(source), target)
        return
    with open(os.open(source, LOOK), "rb") as reader:
        facts = os.fstat(reader.fileno())
        if not stat.S_ISREG(facts.st_mode):
            raise SiteProblem(f"{source} is neither a file, a folder nor a link", "move it out of the site")
        handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o644)
        try:
            set_rights(handle, facts)
            while block := reader.read(BLOCK):
                view = memoryview(block)
                while view:
                    view = view[os.write(handle, view) :]
        finally:
            os.close(handle)


def set_rights(target: Path | str | int, facts: os.stat_result) -> None:
    """Give a file or folder the owner and the permissions of another, as far as the system lets us."""
    with suppress(PermissionError):
        os.chown(target, facts.st_uid, facts.st_gid)
    with suppress(PermissionError):
        os.chmod(target, stat.S_IMODE(facts.st_mode))


def is_folder(path: Path | str) -> bool:
    """Whether a folder is there, and no link to one."""
    try:
        return stat.S_ISDIR(os.lstat(path).st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False


def walk(
    root: Path | str, below: str = "", enter: Callable[[str], bool] = lambda path: True
) -> Iterator[tuple[str, bool]]:
    """All that is under a folder in sorted order: paths from it with forward slashes, and whether each is a folder.

    A folder comes before what is in it, which is told where ``enter`` says so. Links are not followed. Nothing if
    there is no folder.
    """
    try:
        with os.scandir(f"{root}/{below}") as found:
            items = sorted(found, key=lambda item: item.name)
    except (FileNotFoundError, NotADirectoryError):
        return
    for item in items:
        path = f"{below}/{item.name}" if below else item.name
        inside = item.is_dir(follow_symlinks=False)
        yield path, inside
        if inside and enter(path):
            yield from walk(root, path, enter)


def walk_from(root: Path | str, top: str) -> Iterator[tuple[str, bool]]:
    """One thing that is under a folder and, if it is a folder itself, all that is in it, as ``walk`` finds it."""
    inside = is_folder(f"{root}/{top}")
    yield top, inside
    if inside:
        yield from walk(root, top)


def walk_files(root: Path | str) -> Iterator[str]:
    """All files and links under a folder, as ``walk`` finds them."""
    return (path for path, inside in walk(root) if not inside)


def remove_tree(path: Path | str) -> None:
    """Remove a folder with all that is in it, be it closed to us; none there is fine. Links are not followed.

    What the system refuses to remove is left, and the first refusal raised once all else is gone.
    """
    try:
        _open_up(path)
        with os.scandir(path) as found:
            items = list(found)
    except FileNotFoundError:
        return
    refusals = []
    for item in items:
        try:
            if item.is_dir(follow_symlinks=False):
                remove_tree(item.path)
            else:
                os.unlink(item.path)
        except OSError as error:
            refusals.append(error)
    if refusals:
        raise refusals[0]
    os.rmdir(path)


def _open_up(folder: Path | str) -> None:
    """Give ourselves the rights to see and change what is in a folder."""
    mode = stat.S_IMODE(os.lstat(folder).st_mode)
    if ~mode & stat.S_IRWXU:
        os.chmod(folder, mode | stat.S_IRWXU)


def remove_empty(path: Path | str) -> None:
    """Remove a folder if nothing is in it; OSError otherwise."""
    os.rmdir(path)


def rename(source: Path | str, target: Path | str) -> None:
    """Rename within one file system."""
    os.rename(source, target)


def sync_folder(path: Path | str) -> None:
    """Wait until the names in a folder are on the disk."""
    sync_file(path, os.O_DIRECTORY)


def sync_file(path: Path | str, kind: int = 0) -> None:
    """Wait until the content of a file is on the disk."""
    handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC | kind)
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
