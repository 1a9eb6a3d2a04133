"""Cuts builds off: at every operation on files, at random moments, and by losing power with the disk's cache.

Run as a script it kills many builds at random moments and prints how they ended:
.venv/bin/python tests/archive/crashes.py --kills 500
"""

from __future__ import annotations

import argparse
import errno
import os
import random
import shutil
import signal
import sys
import tempfile
import time
import types
from collections import Counter
from collections.abc import Callable, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from made_up import build

from generator.archive import disk
from generator.archive.auditing import audit_site
from generator.archive.store import Archive

CHANGING = ("mkdir", "open", "write", "unlink", "rmdir", "link", "symlink", "rename", "fsync", "sync")
Watch = Callable[[str, tuple[Any, ...]], None]


@contextmanager
def watch_disk(watch: Watch, exchange: bool = True) -> Any:
    """Call ``watch(name, arguments)`` before each operation that changes the disk, and let opened files be known.

    Without ``exchange`` the system acts as one that cannot let two folders change places.
    """
    real_os, real_swap = disk.os, disk.swap
    proxy = types.SimpleNamespace(**{name: getattr(os, name) for name in dir(os) if not name.startswith("__")})

    def wrap(name: str) -> Callable[..., Any]:
        def call(*args: Any, **options: Any) -> Any:
            watch(name, args)
            result = getattr(os, name)(*args, **options)
            if name == "open":
                watch("opened", (*args, result))
            return result

        return call

    def swap(first: Any, second: Any) -> int:
        watch("swap", (first, second))
        return real_swap(first, second) if exchange else errno.ENOSYS

    for name in CHANGING:
        setattr(proxy, name, wrap(name))
    disk.os, disk.swap = proxy, swap  # type: ignore[assignment]
    try:
        yield
    finally:
        disk.os, disk.swap = real_os, real_swap


def run_apart(work: Callable[[], Any]) -> int:
    """Run in a forked process; returns 0, 1 after an exception, or minus the signal that killed it."""
    child = os.fork()
    if child == 0:
        try:
            work()
            os._exit(0)
        except BaseException:
            os._exit(1)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def run_unprivileged(work: Callable[[], Any]) -> int:
    """The same without the rights of the superuser, whom no permission stops."""

    def as_anybody() -> None:
        if os.geteuid() == 0:
            os.seteuid(65534)
        work()

    return run_apart(as_anybody)


def count_operations(work: Callable[[], Any], exchange: bool = True) -> list[str]:
    """Names of the operations that some work does."""
    seen: list[str] = []
    with watch_disk(lambda name, _: seen.append(name) if name != "opened" else None, exchange):
        work()
    return seen


def run_killed(work: Callable[[], Any], at: int, exchange: bool = True) -> int:
    """Run in a process of its own that is killed before its operation number ``at``."""

    def killed() -> None:
        left = at

        def watch(name: str, _: tuple[Any, ...]) -> None:
            nonlocal left
            if name != "opened":
                if left == 0:
                    os.kill(os.getpid(), signal.SIGKILL)
                left -= 1

        with watch_disk(watch, exchange):
            work()

    return run_apart(killed)


def record(work: Callable[[], Any], exchange: bool = True) -> list[tuple[Any, ...]]:
    """What some work does to the disk, as steps that ``replay`` can repeat elsewhere."""
    steps: list[tuple[Any, ...]] = []
    handles: dict[int, tuple[Any, ...]] = {}

    def watch(name: str, args: tuple[Any, ...]) -> None:
        if name == "opened":
            path, flags, handle = str(args[0]), args[1], args[-1]
            handles[handle] = ("folder", path) if flags & os.O_DIRECTORY else ("file", path)
            if flags & os.O_CREAT:
                steps.append(("create", path))
        elif name == "write":
            steps.append(("write", handles[args[0]][1], bytes(args[1])))
        elif name == "fsync":
            steps.append(("sync names", handles[args[0]][1]))
        elif name == "swap" and not exchange:
            return
        elif name in ("mkdir", "unlink", "rmdir", "link", "rename", "swap", "sync"):
            steps.append((name, *map(str, args[:2] if name != "mkdir" else args[:1])))

    with watch_disk(watch, exchange):
        work()
    return steps


def survive(steps: list[tuple[Any, ...]], mode: str, chance: random.Random) -> list[tuple[Any, ...]]:
    """The steps that are on the disk after power was lost at their end.

    All before the last full sync are. Of later ones, names are where their folder was synced; the rest is lost
    (``none``), or names stay and contents are lost (``names``), or it is up to chance (``chance``).
    """
    last = max((place for place, step in enumerate(steps) if step[0] == "sync"), default=-1)
    kept = list(steps[: last + 1])
    for place, step in enumerate(steps[last + 1 :], start=last + 1):
        synced = any(
            later[0] == "sync names"
            and later[1] in {os.path.dirname(path) for path in step[1:3] if isinstance(path, str)}
            for later in steps[place + 1 :]
        )
        if step[0] == "write":
            survives = mode == "chance" and chance.random() < 0.5
        else:
            survives = synced or mode == "names" or (mode == "chance" and chance.random() < 0.5)
        if survives:
            kept.append(step)
    return kept


def replay(steps: list[tuple[Any, ...]], source: str, target: str) -> None:
    """Do steps again under another folder; one whose ground was lost is lost too."""
    for step in steps:
        name, *args = step
        moved = [arg.replace(source, target, 1) if isinstance(arg, str) else arg for arg in args]
        try:
            _repeat(name, moved)
        except OSError:
            continue


def _repeat(name: str, args: list[Any]) -> None:
    if name == "create":
        os.close(os.open(args[0], os.O_WRONLY | os.O_CREAT | os.O_EXCL))
    elif name == "write":
        with open(args[0], "r+b") as file:
            file.seek(0, os.SEEK_END)
            file.write(args[1])
    elif name == "swap":
        number = disk.swap(*args)
        if number:
            raise OSError(number, "not swapped")
    elif name in ("mkdir", "unlink", "rmdir", "link", "rename"):
        getattr(os, name)(*args)


def kill_often(folder: Path, kills: int, seed: int, versions: Mapping[str, str] | None = None) -> Counter[str]:
    """Kill builds at random moments; returns how often the old site stood, the new one, or something was broken."""
    chance = random.Random(seed)
    site = folder / "site"
    ends: Counter[str] = Counter()
    state = {"plotter": "0", "feeder": "0"}
    start = time.perf_counter()
    build(site, state)
    reach = 1.3 * (time.perf_counter() - start)
    while sum(ends.values()) - ends["finished before the kill"] < kills:
        newer = {"plotter": str(int(state["plotter"]) + 1), "feeder": "0"}
        code = _run_and_kill(lambda newer=newer: build(site, newer), chance.uniform(0, reach))  # type: ignore[misc]
        standing = _find_standing(site)
        words = {state["plotter"]: "old site", newer["plotter"]: "new site"}
        end = words.get(standing, f"broken: {standing}")
        ends["finished before the kill" if code == 0 else end] += 1
        reach *= 1.05 if end == "old site" else 0.8  # so that kills fall everywhere, however busy the machine is
        if standing == newer["plotter"]:
            state = newer
    return ends


def _run_and_kill(work: Callable[[], Any], after: float) -> int:
    child = os.fork()
    if child == 0:
        try:
            work()
            os._exit(0)
        except BaseException:
            os._exit(1)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _find_standing(site: Path) -> str:
    """Words of the comparison that stands, if the site is whole; else what is wrong."""
    report = audit_site(site)
    if report.findings:
        return str(report.findings[0])
    archive = Archive(site)
    manifest = archive.read_newest()
    return archive.read_entry(manifest.entries["plotter"].entry).key if manifest else "nothing"


def main() -> None:
    parser = argparse.ArgumentParser(description="Kill many builds at random moments and print how they ended.")
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    folder = Path(tempfile.mkdtemp())
    try:
        ends = kill_often(folder, options.kills, options.seed)
    finally:
        shutil.rmtree(folder)
    for end, count in ends.most_common():
        print(f"{count:6d}  {end}")
    sys.exit(any(end.startswith("broken") for end in ends))


if __name__ == "__main__":
    main()
