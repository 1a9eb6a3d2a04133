"""Whatever cuts a build off, the old site or the new one stands, and the next command finds a valid archive."""

from __future__ import annotations

import os
import random
import shutil
import signal
from collections.abc import Callable
from pathlib import Path

import pytest
from crashes import count_operations, kill_often, record, replay, run_apart, run_killed, survive
from made_up import DATE, LATER, build, list_beside, look, make_makers

from generator.archive.auditing import audit_site
from generator.archive.slimming import slim_site
from generator.archive.withdrawing import withdraw_content
from generator.archive.workfolder import open_archive
from generator.errors import SiteProblem

OLD = {"plotter": "one"}
NEW = {"plotter": "two"}


def rebuild(site: Path) -> None:
    build(site, NEW, LATER)


def slim(site: Path) -> None:
    slim_site(site, 1, LATER, make_makers())


def withdraw(site: Path) -> None:
    source = next((site / "archive/sources").glob("*.csv"))
    withdraw_content(site, source.stem, "a name in it", LATER, make_makers())


def make_pair(folder: Path, work: Callable[[Path], None]) -> tuple[Path, dict[str, str], dict[str, str]]:
    """A site before some work, and how all its files look before and after."""
    old = folder / "old" / "site"
    build(old, {"plotter": "zero"})
    build(old, OLD)
    shutil.copytree(old.parent, folder / "new")
    work(folder / "new" / "site")
    return old, look(old), look(folder / "new" / "site")


@pytest.mark.parametrize("exchange", [True, False], ids=["exchange", "two renames"])
@pytest.mark.parametrize("work", [rebuild, slim, withdraw])
def test_killed_at_every_operation(memory_path: Path, work: Callable[[Path], None], exchange: bool) -> None:
    """Every operation of a build, every fourth of the rarer commands."""
    old, before, after = make_pair(memory_path, work)
    shutil.copytree(old.parent, memory_path / "count")
    operations = count_operations(lambda: work(memory_path / "count/site"), exchange)
    ends = []
    for at in [*range(0, len(operations) - 1, 1 if work is rebuild else 4), len(operations) - 1]:
        site = memory_path / str(at) / "site"
        shutil.copytree(old.parent, site.parent)

        assert run_killed(lambda site=site: work(site), at, exchange) == -signal.SIGKILL  # type: ignore[misc]
        if exchange:
            assert look(site) in (before, after), f"before operation {at}, {operations[at]}"
        open_archive(site)
        standing = look(site)

        assert standing in (before, after), f"before operation {at}, {operations[at]}"
        assert audit_site(site).findings == ()
        assert list_beside(site) == []
        ends.append(standing == after)
        shutil.rmtree(site.parent)

    assert len(ends) > 30
    assert ends == sorted(ends), "once the new site stands, it stays"
    assert not ends[0]
    assert ends[-1]


def test_killed_first_build_leaves_nothing_or_all(memory_path: Path) -> None:
    build(memory_path / "whole/site", OLD)
    whole = look(memory_path / "whole/site")
    operations = count_operations(lambda: build(memory_path / "count/site", OLD))
    for at in range(0, len(operations), 3):
        site = memory_path / str(at) / "site"

        assert run_killed(lambda site=site: build(site, OLD), at) == -signal.SIGKILL  # type: ignore[misc]
        assert look(site) in ({}, whole)
        build(site, OLD)

        assert look(site) == whole
        assert list_beside(site) == []


@pytest.mark.parametrize("exchange", [True, False], ids=["exchange", "two renames"])
@pytest.mark.parametrize("mode", ["none", "names", "chance"])
def test_power_lost_at_every_operation(memory_path: Path, mode: str, exchange: bool) -> None:
    old, before, after = make_pair(memory_path, rebuild)
    shutil.copytree(old.parent, memory_path / "record")
    steps = record(lambda: rebuild(memory_path / "record/site"), exchange)
    chance = random.Random(11)
    first_sync = next(place for place, step in enumerate(steps) if step[0] == "sync")
    ends = []
    for length in [*range(0, first_sync - 3, 9), *range(first_sync - 3, len(steps) + 1)]:
        site = memory_path / str(length) / "site"
        shutil.copytree(old.parent, site.parent)
        replay(survive(steps[:length], mode, chance), str(memory_path / "record"), str(site.parent))

        open_archive(site)

        standing = look(site)
        assert standing in (before, after), f"after {length} steps, last {steps[length - 1][0]}"
        assert audit_site(site).findings == ()
        ends.append(standing == after)
        shutil.rmtree(site.parent)

    assert not ends[0]
    assert ends[-1]


def test_power_loss_is_seen_where_nothing_is_synced(memory_path: Path) -> None:
    """The replay itself can fail: without the sync before the switch-over, lost contents break the new site."""
    old, before, after = make_pair(memory_path, rebuild)
    shutil.copytree(old.parent, memory_path / "record")
    steps = [step for step in record(lambda: rebuild(memory_path / "record/site")) if step[0] != "sync"]
    replay(survive(steps, "names", random.Random(1)), str(memory_path / "record"), str(old.parent))

    assert look(old) not in (before, after)
    assert audit_site(old).findings


def test_killed_at_random_moments(memory_path: Path) -> None:
    ends = kill_often(memory_path, 500, seed=3)

    print(*(f"{count:6d}  {end}" for end, count in ends.most_common()), sep="\n")
    assert not [end for end in ends if end.startswith("broken")]
    assert ends["old site"] + ends["new site"] >= 500
    assert min(ends["old site"], ends["new site"]) >= 5


def test_a_reader_sees_the_old_site_or_the_new_one(memory_path: Path) -> None:
    site = memory_path / "site"
    build(site, {"plotter": "0"})
    reader, writer = os.pipe()

    def read() -> None:
        os.close(writer)
        os.set_blocking(reader, False)
        while True:
            page = (site / "comparisons/plotter/index.html").read_bytes()
            assert page.startswith(b"<p>") and page.endswith(b"</a></p>")
            assert (site / "index.html").read_bytes()
            try:
                if os.read(reader, 1) == b"":
                    return
            except BlockingIOError:
                continue

    child = os.fork()
    if child == 0:
        try:
            read()
            os._exit(0)
        except BaseException:
            os._exit(1)
    os.close(reader)
    for number in range(1, 25):
        build(site, {"plotter": str(number)}, DATE)
    os.close(writer)

    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def test_many_builders_take_turns(memory_path: Path) -> None:
    site = memory_path / "site"
    build(site, {"plotter": "start"})

    def insist(number: int) -> None:
        for turn in range(3):
            while True:
                try:
                    build(site, {"plotter": f"{number} {turn}"})
                    break
                except SiteProblem as problem:
                    assert "another command is writing" in problem.message

    children = []
    for number in range(5):
        child = os.fork()
        if child == 0:
            os._exit(run_apart(lambda number=number: insist(number)))  # type: ignore[misc]
        children.append(child)

    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0] * 5
    assert len(open_archive(site).list_ids()) == 16
    assert audit_site(site).findings == ()
    assert list_beside(site) == []
