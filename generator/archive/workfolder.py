"""The work folder beside a site: the lock, the stage, leftovers, and the switch-over from old site to new."""

from __future__ import annotations

import errno
import fcntl
import json
import os
import socket
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from generator.archive import disk
from generator.archive.store import Archive
from generator.errors import SiteProblem

MOUNTED = "make the site a folder inside the mounted one"
OLD, NEW = "the site is as it was", "the new site stands"
BARE = {".git", ".gitkeep", ".gitignore"}


@contextmanager
def say_problems(place: Path, tell: Callable[[], str] = str) -> Iterator[None]:
    """Turn what the system refuses into a SiteProblem that says what was refused and what ``tell`` then tells."""
    try:
        yield
    except OSError as error:
        words = "; ".join(filter(None, [f"writing {place} stopped: {say_error(error)}", tell()]))
        advice = MOUNTED if error.errno == errno.EBUSY else "free space or rights there, then try again"
        raise SiteProblem(words, advice) from error


def say_error(error: OSError) -> str:
    """What the system refused, and where."""
    place = f" ({os.fspath(error.filename)})" if error.filename else ""
    return f"{error.strerror or error}{place}"


class WorkFolder:
    """Holds a site for one writer; use as a context manager.

    It locks ``.<site>.work`` beside the site (the kernel frees the lock at death), recovers a switch-over that was cut
    off, removes leftovers, and offers ``stage``, an empty folder that ``switch`` makes the site. Whatever is raised
    inside bears a note of which site stands.

    Raises
    ------
    SiteProblem
        Another writer is at work; the site is a link, a mount point, not ours, or on a file system of its own.
    """

    def __init__(self, site: Path) -> None:
        self.site = Path(os.path.abspath(site))
        self.folder = self.site.with_name(f".{self.site.name}.work")
        self.stage = self.folder / "stage"
        self._old = self.folder / "old"
        self._journal = self.folder / "journal.json"
        self._lock_file = self.folder / "lock"
        self._handle: int | None = None
        self._made: os.stat_result | None = None

    def __enter__(self) -> WorkFolder:
        with self.say_problems():
            check_place(self.site)
            self._lock()
            try:
                self._check_file_system()
                self._recover()
                self._clear()
                check_ours(self.site)
                disk.make_folder(self.stage)
                self._made = os.stat(self.stage)
            except BaseException:
                self._unlock()
                raise
        return self

    def __exit__(self, _kind: object, error: BaseException | None, _trace: object) -> None:
        try:
            self._leave()
        except BaseException as own:
            error = own
            raise
        finally:
            if error is not None:
                error.add_note(self.tell())

    def _leave(self) -> None:
        try:
            if not self.is_switched() and not self.is_cut_off():
                with self.say_problems():
                    self._clear()
        finally:
            self._unlock()

    def say_problems(self) -> AbstractContextManager[None]:
        """Turn what the system refuses into a SiteProblem that says which site stands."""
        return say_problems(self.site, self.tell)

    def switch(self) -> str:
        """Make the stage the site, in one step where the system can, and remove the old one.

        Returns
        -------
        str
            What is left of the old site and why, empty if nothing is: the next writer tries again to remove it.
        """
        disk.sync_all()
        if not self.site.exists():
            disk.rename(self.stage, self.site)
        elif not disk.exchange(self.stage, self.site):
            self._switch_in_two()
        self._sync_names()
        try:
            self._clear()
        except OSError as error:
            return f"part of the old site is left in {self.folder} until the next build: {say_error(error)}"
        return ""

    def is_switched(self) -> bool:
        """Whether the site is the folder that was the stage."""
        try:
            return self._made is not None and os.path.samestat(os.stat(self.site), self._made)
        except FileNotFoundError:
            return False

    def tell(self) -> str:
        """Which site stands, in words."""
        if self.is_switched():
            left = self.stage.exists() or self._old.exists()
            return NEW + (f", and the next build removes what is left of the old one in {self.folder}" if left else "")
        return "the next build puts the site back" if self.is_cut_off() else OLD

    def is_cut_off(self) -> bool:
        """Whether a switch-over in two renames was begun and not finished, so that no site stands."""
        return self._journal.exists() and not self.site.exists()

    def _switch_in_two(self) -> None:
        """Two renames, with a journal so that the next writer can finish what was cut off."""
        disk.write_file(self._journal, json.dumps({"switching": True}).encode())
        disk.sync_all()
        try:
            disk.rename(self.site, self._old)
            self._sync_names()
            disk.rename(self.stage, self.site)
        finally:
            self._recover()
        self._sync_names()
        disk.remove_file(self._journal)

    def _recover(self) -> None:
        """Finish a switch-over that was cut off between its renames."""
        if self.is_cut_off():
            disk.rename(self.stage if self.stage.exists() else self._old, self.site)
            self._sync_names()

    def _sync_names(self) -> None:
        disk.sync_folder(self.folder)
        disk.sync_folder(self.site.parent)

    def _clear(self) -> None:
        """Remove all but the lock, the journal first: without it nobody takes half a tree for a whole one."""
        disk.remove_file(self._journal)
        disk.remove_tree(self.stage)
        disk.remove_tree(self._old)

    def _lock(self) -> None:
        while self._handle is None:
            disk.make_folder(self.folder)
            try:
                handle = os.open(self._lock_file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
            except FileNotFoundError:
                continue  # the last holder has just removed the folder
            self._handle = handle if self._take(handle) else None
        os.ftruncate(self._handle, 0)
        os.pwrite(self._handle, f"process {os.getpid()} on {socket.gethostname()}\n".encode(), 0)

    def _take(self, handle: int) -> bool:
        """Lock an opened lock file; False, and closed, if it is no longer the one that has the name."""
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            holder = os.read(handle, 200).decode(errors="replace").strip() or "just started"
            os.close(handle)
            what = f"another command is writing {self.site} ({holder})"
            raise SiteProblem(what, "wait until it is done") from error
        if not self._is_current(handle):
            os.close(handle)
            return False
        return True

    def _is_current(self, handle: int) -> bool:
        """Whether the locked file is still the one that has the name: its last holder may have removed it."""
        try:
            return os.path.samestat(os.fstat(handle), os.stat(self._lock_file))
        except FileNotFoundError:
            return False

    def _unlock(self) -> None:
        if self._handle is None:
            return
        try:
            disk.remove_file(self._lock_file)
            disk.remove_empty(self.folder)
        except OSError:
            pass  # the lock is freed by closing it; a folder that stays is used again
        finally:
            os.close(self._handle)
            self._handle = None

    def _check_file_system(self) -> None:
        if self.site.exists() and os.stat(self.site).st_dev != os.stat(self.folder).st_dev:
            raise SiteProblem(f"{self.site} is on another file system than the folder that holds it", MOUNTED)


def open_archive(site: Path) -> Archive:
    """The archive of a site for reading, after finishing a switch-over that was cut off; SiteProblem if no build."""
    if WorkFolder(site).is_cut_off():
        with WorkFolder(site):
            pass
    archive = Archive(site)
    if not archive.list_ids():
        raise SiteProblem(f"{site} holds no build", "give the folder of a site that was built")
    return archive


@contextmanager
def hold_still(site: Path) -> Iterator[Archive]:
    """The archive of a site that nobody writes meanwhile; where the disk lets nobody write, without a lock."""
    work = WorkFolder(site)
    try:
        work.__enter__()
    except SiteProblem as problem:
        if isinstance(problem.__cause__, BlockingIOError) or not isinstance(problem.__cause__, OSError):
            raise
        yield open_archive(site)
        return
    try:
        yield open_archive(site)
    finally:
        work.__exit__(None, None, None)


def check_place(site: Path) -> None:
    """SiteProblem if no site can be switched over at this place."""
    if site.is_symlink():
        raise SiteProblem(f"{site} is a symbolic link", "give the folder that it points to")
    if site.exists() and not site.is_dir():
        raise SiteProblem(f"{site} is a file", "give a folder")
    if os.path.ismount(site):
        raise SiteProblem(f"{site} is a mount point and cannot be switched over", MOUNTED)


def check_ours(site: Path) -> None:
    """SiteProblem if a folder holds something but no site of ours; git's own markers do not count."""
    if site.exists() and not Archive(site).list_ids() and not set(os.listdir(site)) <= BARE:
        raise SiteProblem(
            f"{site} holds files but no site of ours", "give an empty folder, or the one of an earlier build"
        )
