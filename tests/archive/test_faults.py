"""What the system refuses is said in words, with the site that stands, and an interruption tells it too."""

from __future__ import annotations

import errno
import os
import resource
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from crashes import Watch, count_operations, run_apart, run_unprivileged, watch_disk
from made_up import DATE, LATER, build, list_beside, look, make_asset

from generator.archive import disk, workfolder
from generator.archive.auditing import audit_site
from generator.archive.entries import Contents
from generator.archive.publisher import open_site
from generator.archive.workfolder import WorkFolder, hold_still, open_archive
from generator.errors import SiteProblem

OLD, NEW = {"plotter": "one"}, {"plotter": "two"}


def find_told(said: str) -> str:
    """Which site stands by what was said."""
    told = [name for name, words in (("old", "the site is as it was"), ("new", "the new site stands")) if words in said]
    assert len(told) == 1, said
    return told[0]


@pytest.mark.parametrize("operation", ["mkdir", "open", "write", "link", "unlink", "rmdir", "fsync", "swap", "sync"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES, errno.EROFS, errno.EIO])
def test_a_refused_operation_leaves_the_old_site_or_the_new_one(memory_path: Path, operation: str, number: int) -> None:
    old, new = memory_path / "old/site", memory_path / "new/site"
    build(old, OLD)
    shutil.copytree(old, new)
    build(new, NEW, LATER)
    refused = 0
    for turn in (0, 3, 10):
        site = memory_path / str(turn) / "site"
        shutil.copytree(old, site)
        seen: list[str] = []

        def refuse(name: str, args: tuple[Any, ...], turn: int = turn, seen: list[str] = seen) -> None:
            if name == operation and not str(args[:1]).endswith("lock"):
                seen.append(name)
                if len(seen) == turn + 1:
                    raise OSError(number, os.strerror(number), str(args[0]) if args else None)

        said = ""
        try:
            with watch_disk(refuse):
                said = build(site, NEW, LATER).leftover
        except SiteProblem as problem:
            said = str(problem)
            assert "fix:" in said
            assert find_told(said) == ("old" if look(site) == look(old) else "new")
        assert look(site) in (look(old), look(new))
        assert (os.strerror(number) in said) == (len(seen) > turn)
        refused += bool(said)
        assert audit_site(site).findings == ()
        assert list_beside(site) == []
    assert refused


@pytest.mark.parametrize("exchange", [True, False], ids=["exchange", "two renames"])
def test_interrupted_before_any_operation_it_is_told_which_site_stands(memory_path: Path, exchange: bool) -> None:
    old = memory_path / "old/site"
    build(old, OLD)
    shutil.copytree(old, memory_path / "new/site")
    operations = count_operations(lambda: build(memory_path / "new/site", NEW, LATER), exchange)
    before, after = look(old), look(memory_path / "new/site")
    ends = []
    for at in range(len(operations)):
        site = memory_path / "now/site"
        shutil.copytree(old, site)
        left = iter(range(at))

        def stop(name: str, _: tuple[Any, ...], left: Iterator[int] = left) -> None:
            if name != "opened" and next(left, None) is None:
                raise KeyboardInterrupt

        with watch_disk(stop_once(stop), exchange), pytest.raises(KeyboardInterrupt) as caught:
            build(site, NEW, LATER)
        notes = getattr(caught.value, "__notes__", ["the site is as it was"])  # the latter before the site is held

        standing = look(site)
        assert standing in (before, after), f"before operation {at}, {operations[at]}"
        assert find_told("".join(notes)) == ("old" if standing == before else "new")
        build(site, NEW, LATER)
        assert look(site) == after
        assert list_beside(site) == []
        shutil.rmtree(site.parent)
        ends.append(standing == after)

    assert ends == sorted(ends)
    assert {*ends} == {True, False}


def stop_once(watch: Watch) -> Watch:
    """A watch that is deaf once it has raised something."""
    raised = []

    def listen(name: str, args: tuple[Any, ...]) -> None:
        if raised:
            return
        try:
            watch(name, args)
        except BaseException:
            raised.append(name)
            raise

    return listen


@pytest.mark.parametrize("times", [1, 2, 5])
@pytest.mark.parametrize("turn", [0, 1])
def test_a_refused_rename_of_two_loses_no_site(memory_path: Path, turn: int, times: int) -> None:
    old, new, site = (memory_path / name / "site" for name in ("old", "new", "now"))
    build(old, OLD)
    for copy in (new, site):
        shutil.copytree(old, copy)
    build(new, NEW, LATER)
    seen: list[str] = []

    def refuse(name: str, args: tuple[Any, ...]) -> None:
        if name == "rename":
            seen.append(name)
            if turn < len(seen) <= turn + times:
                raise OSError(errno.EIO, os.strerror(errno.EIO), str(args[0]))

    with watch_disk(refuse, exchange=False), pytest.raises(SiteProblem) as caught:
        build(site, NEW, LATER)

    if not site.exists():
        assert "the next build puts the site back" in str(caught.value)
        open_archive(site)
    else:
        assert find_told(str(caught.value)) == ("old" if look(site) == look(old) else "new")
    assert look(site) in (look(old), look(new))
    assert build(site, NEW, LATER).build or look(site) == look(new)
    assert list_beside(site) == []


def test_what_cannot_be_removed_of_the_old_site_fails_no_build(memory_path: Path) -> None:
    site = memory_path / "site"
    build(site, OLD)
    (site / "theirs").mkdir()
    (site / "theirs/file").write_text("x")

    def refuse(name: str, args: tuple[Any, ...]) -> None:
        if name == "unlink" and str(args[0]).endswith("stage/theirs/file"):
            raise PermissionError(errno.EPERM, os.strerror(errno.EPERM), str(args[0]))

    with watch_disk(refuse):
        result = build(site, NEW, LATER)

    work = memory_path / ".site.work"
    assert result.build
    assert result.leftover == (
        f"part of the old site is left in {work} until the next build: "
        f"Operation not permitted ({work}/stage/theirs/file)"
    )
    assert [path.relative_to(work).as_posix() for path in work.rglob("*")] == [
        "stage", "stage/theirs", "stage/theirs/file"]  # fmt: skip
    assert build(site, OLD, LATER).leftover == ""
    assert list_beside(site) == []
    assert (site / "theirs/file").read_text() == "x"


def test_a_refused_switch_over_is_said(memory_path: Path) -> None:
    site = memory_path / "site"
    build(site, OLD)
    before = look(site)

    def refuse(name: str, _: tuple[Any, ...]) -> None:
        if name == "swap":
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY), str(site))

    with watch_disk(refuse), pytest.raises(SiteProblem, match=r"busy.*\n.*inside the mounted one"):
        build(site, NEW, LATER)
    assert look(site) == before


def test_a_limit_on_file_size_is_met_like_a_full_disk(memory_path: Path) -> None:
    """The kernel itself refuses: RLIMIT_FSIZE of 20 kB against an asset of 100 kB."""
    site = memory_path / "site"
    build(site, OLD)
    before = look(site)

    def work() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
        with pytest.raises(SiteProblem, match="File too large"), open_site(site, DATE) as publisher:
            publisher.add("large", "k", None, Contents(assets=[make_asset(b"x" * 100_000)]))

    assert run_apart(work) == 0
    assert look(site) == before
    assert list_beside(site) == []


def test_a_read_only_folder_is_said_and_still_audits(open_folder: Path) -> None:
    site = open_folder / "site"
    build(site, OLD)
    before = look(site)
    open_folder.chmod(0o555)

    def work() -> None:
        with pytest.raises(SiteProblem, match="Permission denied"):
            build(site, NEW, LATER)
        assert audit_site(site).findings == ()

    assert run_unprivileged(work) == 0
    open_folder.chmod(0o755)
    assert look(site) == before
    assert list_beside(site) == []


def test_without_hard_links_files_are_copied(memory_path: Path) -> None:
    site, other = memory_path / "a/site", memory_path / "b/site"
    for state in (OLD, NEW):
        build(other, state)

    def refuse(name: str, _: tuple[Any, ...]) -> None:
        if name == "link":
            raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    build(site, OLD)
    with watch_disk(refuse):
        build(site, NEW)

    assert look(site) == look(other)
    assert audit_site(site).findings == ()


def test_two_builds_at_once(tmp_path: Path) -> None:
    site = tmp_path / "site"
    with open_site(site, DATE) as publisher:
        with pytest.raises(SiteProblem, match=rf"another command is writing .*\(process {os.getpid()} on .*\)"):
            build(site, OLD)
        publisher.add("a", "k", None, Contents(files={"a.txt": b"x"}))
        publisher.publish({})
    assert build(site, OLD).build


def test_a_dead_holder_leaves_no_lock(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, OLD)

    assert run_apart(lambda: (WorkFolder(site).__enter__(), os._exit(9))) == 9
    assert list_beside(site) == [".site.work"]
    assert build(site, NEW).build
    assert list_beside(site) == []


def test_a_folder_that_is_not_ours_is_refused(tmp_path: Path) -> None:
    site = tmp_path / "site"
    site.mkdir()
    (site / "thesis.txt").write_text("years of work")

    with pytest.raises(SiteProblem, match="holds files but no site of ours"):
        build(site, OLD)
    assert look(site) == {"thesis.txt": look(site)["thesis.txt"]}
    assert list_beside(site) == []


def test_an_empty_folder_and_gits_own_marker_are_fine(tmp_path: Path) -> None:
    for name in ("empty", "marked"):
        (tmp_path / name).mkdir()
    (tmp_path / "marked/.gitkeep").write_text("")

    assert build(tmp_path / "empty", OLD).build
    assert build(tmp_path / "marked", OLD).kept == (".gitkeep",)
    assert build(tmp_path / "marked", NEW).kept == (".gitkeep",)


def test_links_files_and_mount_points_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    build(tmp_path / "real", OLD)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    (tmp_path / "file").write_text("x")

    with pytest.raises(SiteProblem, match="is a symbolic link"):
        build(tmp_path / "link", NEW)
    with pytest.raises(SiteProblem, match="is a file"):
        build(tmp_path / "file", NEW)
    with pytest.raises(SiteProblem, match="mount point"):
        build(Path("/proc"), NEW)
    monkeypatch.setattr(workfolder.os, "stat", _make_other_device(tmp_path / "real"))
    with pytest.raises(SiteProblem, match="another file system"):
        build(tmp_path / "real", NEW)


def _make_other_device(site: Path) -> Any:
    real = os.stat

    def stat(path: Any, *args: Any, **options: Any) -> os.stat_result:
        facts = real(path, *args, **options)
        if str(path) != str(site):
            return facts
        return os.stat_result((*facts[:2], facts.st_dev + 1, *facts[3:10]))

    return stat


def test_links_in_the_site_are_kept_and_never_followed(tmp_path: Path) -> None:
    site, outside = tmp_path / "site", tmp_path / "outside.txt"
    outside.write_text("outside")
    build(site, OLD)
    (site / "mine").symlink_to(outside)
    (site / "folder").symlink_to(tmp_path)

    result = build(site, NEW)

    assert result.kept == ("folder", "mine")
    assert os.readlink(site / "mine") == str(outside)
    assert outside.read_text() == "outside"


def test_an_error_of_the_caller_stays_its_own_and_the_site_stands(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, OLD)
    before = look(site)

    with pytest.raises(FileNotFoundError), open_site(site, DATE) as publisher:
        publisher.add("x", "k", None, Contents(files={"x.txt": b"x"}))
        (tmp_path / "not there").read_text()

    assert look(site) == before
    assert list_beside(site) == []


def test_a_damaged_newest_manifest_stops_the_build_in_words(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, OLD)
    manifest = next((site / "archive/builds").glob("*.json"))
    manifest.write_text(manifest.read_text().replace(DATE, LATER))

    with pytest.raises(SiteProblem, match=r"archive/builds/0001-\w+\.json is damaged: the checksum"):
        build(site, NEW)


def test_holding_still_lets_others_wait(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, OLD)
    with hold_still(site), pytest.raises(SiteProblem, match="another command"):
        build(site, NEW)


def test_an_unwatched_disk_is_the_systems_own() -> None:
    code = "import os, generator.archive.disk as d; print(d.os is os, d.exchange('/nowhere/a', '/nowhere/b'))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)

    assert disk.os is os
    assert "FileNotFoundError" in done.stderr


def test_exchange_is_one_step(tmp_path: Path) -> None:
    for name in "ab":
        (tmp_path / name).mkdir()
        (tmp_path / name / name).write_text(name)

    assert disk.exchange(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "a/b").exists() and (tmp_path / "b/a").exists()
