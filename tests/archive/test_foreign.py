"""What people keep in a site beside ours is carried over as it is: folders, permissions, links, whole repositories."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import socket
import stat
import subprocess
from pathlib import Path
from typing import Any

import pytest
from crashes import run_apart, run_unprivileged, watch_disk
from made_up import DATE, LATER, build, list_beside, look, make_asset

from generator.archive.auditing import audit_site
from generator.archive.recovering import adopt_site
from generator.archive.withdrawing import withdraw_content
from generator.errors import SiteProblem

OLD, NEW = {"plotter": "one"}, {"plotter": "two"}


@pytest.fixture
def site(tmp_path: Path) -> Path:
    build(tmp_path / "site", OLD)
    return tmp_path / "site"


def run_git(folder: Path, *words: str) -> str:
    """The system's git in a folder, deaf to anyone's settings."""
    nobody = {"NAME": "Nobody", "EMAIL": "nobody@tests.example"}
    who = {f"GIT_{role}_{key}": value for role in ("AUTHOR", "COMMITTER") for key, value in nobody.items()}
    environment = {**os.environ, **who, "HOME": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"}
    done = subprocess.run(["git", *words], cwd=folder, env=environment, capture_output=True, text=True, check=True)
    return done.stdout


def keep_repository(site: Path) -> Path:
    """Make a site a packed repository of its own, with a hook; returns the repository's folder."""
    run_git(site, "init", "--quiet")
    hook = site / ".git/hooks/post-commit"
    hook.write_text("#!/bin/sh\n")
    hook.chmod(0o755)
    run_git(site, "add", ".")
    run_git(site, "commit", "--quiet", "--message", "first")
    run_git(site, "gc", "--quiet")
    return site / ".git"


def look_at_rights(folder: Path) -> dict[str, tuple[int, str]]:
    """Kind and permissions of everything under a folder, empty folders too, with the target of each link."""
    found = {}
    for path in sorted(folder.rglob("*")):
        found[path.relative_to(folder).as_posix()] = (
            path.lstat().st_mode, os.readlink(path) if path.is_symlink() else "")  # fmt: skip
    return found


def refuse_links(name: str, _: tuple[Any, ...]) -> None:
    """As on a file system without hard links."""
    if name == "link":
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))


def test_a_repository_may_be_there_before_the_first_build(tmp_path: Path) -> None:
    (tmp_path / "site").mkdir()
    run_git(tmp_path / "site", "init", "--quiet")

    assert build(tmp_path / "site", OLD).kept == (".git",)
    run_git(tmp_path / "site", "add", ".")


@pytest.mark.parametrize("linked", [True, False], ids=["hard links", "copies"])
def test_a_repository_of_its_own_lives_on(site: Path, linked: bool) -> None:
    """Outside check: git finds its packed repository whole and its history as it was."""
    repository = keep_repository(site)
    before, rights = look(repository), look_at_rights(repository)
    head = run_git(site, "rev-parse", "HEAD")
    assert not list((repository / "refs/heads").iterdir()), "git keeps folders that are empty"

    with watch_disk(lambda *_: None if linked else refuse_links(*_)):
        result = build(site, NEW, LATER)

    assert result.kept == (".git",)
    assert (look(repository), look_at_rights(repository)) == (before, rights)
    assert run_git(site, "rev-parse", "HEAD") == head
    run_git(site, "fsck", "--strict")
    run_git(site, "add", ".")
    run_git(site, "commit", "--quiet", "--message", "second")
    assert audit_site(site).kept == (".git",)


def test_adopting_brings_a_copys_repository_along(site: Path, tmp_path: Path) -> None:
    keep_repository(site)
    before = look_at_rights(site)

    adopt_site(tmp_path / "other/site", site)

    assert look_at_rights(tmp_path / "other/site") == before
    run_git(tmp_path / "other/site", "fsck", "--strict")


def test_adopting_never_mixes_two_folders_that_are_not_ours(site: Path, tmp_path: Path) -> None:
    shutil.copytree(site, tmp_path / "other")
    build(tmp_path / "other", NEW, LATER)
    for place, names in ((site, ("a", "b")), (tmp_path / "other", ("b", "c"))):
        (place / "mine").mkdir()
        for name in names:
            (place / "mine" / name).write_text(f"{name} of {place.name}")
    (tmp_path / "other/robots.txt").write_text("x")
    before = look(site / "mine")

    adopt_site(site, tmp_path / "other")

    assert look(site / "mine") == before
    assert (site / "robots.txt").exists()
    assert "two" in (site / "comparisons/plotter/index.html").read_text()


def test_permissions_of_all_folders_stay(site: Path) -> None:
    (site / "private/empty").mkdir(parents=True)
    modes = {"": 0o2775, "comparisons/plotter": 0o750, "private": 0o700, "private/empty": 0o1777}
    for path, mode in modes.items():
        (site / path).chmod(mode)

    build(site, NEW, LATER)

    assert {path: stat.S_IMODE((site / path).stat().st_mode) for path in modes} == modes


def test_the_owner_of_a_folder_stays(site: Path) -> None:
    owner = (65534, 65534) if os.geteuid() == 0 else (os.geteuid(), os.getegid())  # who else may give a folder away
    (site / "theirs").mkdir()
    os.chown(site / "theirs", *owner)

    build(site, NEW, LATER)

    assert ((site / "theirs").stat().st_uid, (site / "theirs").stat().st_gid) == owner


def test_a_folder_that_nobody_may_write_to_is_carried_and_the_old_one_removed(open_folder: Path) -> None:
    open_folder.chmod(0o777)
    site = open_folder / "site"

    def work() -> None:
        build(site, OLD)
        (site / "closed/inner").mkdir(parents=True)
        (site / "closed/inner/mine").write_text("x")
        for path in ("closed/inner", "closed"):
            (site / path).chmod(0o555)
        assert build(site, NEW, LATER).kept == ("closed",)

    assert run_unprivileged(work) == 0
    assert (site / "closed/inner/mine").read_text() == "x"
    assert [stat.S_IMODE((site / path).stat().st_mode) for path in ("closed/inner", "closed")] == [0o555] * 2
    assert list_beside(site) == []


def test_links_are_carried_as_links_and_never_followed(site: Path, tmp_path: Path) -> None:
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside/secret").write_text("x")
    (site / "mine").mkdir()
    for place in ("out", "mine/out"):
        (site / place).symlink_to(tmp_path / "outside")
    (site / "mine/nowhere").symlink_to("gone")

    result = build(site, NEW, LATER)
    adopt_site(tmp_path / "other/site", site)

    assert result.kept == ("mine", "out")
    for place in (site, tmp_path / "other/site"):
        assert os.readlink(place / "out") == os.readlink(place / "mine/out") == str(tmp_path / "outside")
        assert os.readlink(place / "mine/nowhere") == "gone"
    assert look(tmp_path / "outside").keys() == {"secret"}


def test_a_copy_behind_a_link_is_not_called_part_of_the_site(site: Path, tmp_path: Path) -> None:
    chart = make_asset(b"<svg>plotter one</svg>")
    (tmp_path / "outside").mkdir()
    (site / "mine").mkdir()
    for folder in (tmp_path / "outside", site / "mine"):
        (folder / "chart.svg").write_bytes(chart.content)
    (site / "out").symlink_to(tmp_path / "outside")

    withdrawal = withdraw_content(site, chart.name[:16], "a name in it", LATER)

    assert withdrawal.copies == ("mine/chart.svg",)


def test_pipes_and_sockets_are_carried_where_links_can_be_made(site: Path) -> None:
    os.mkfifo(site / "pipe")
    with socket.socket(socket.AF_UNIX) as end:
        end.bind(os.path.relpath(site / "socket"))

    assert build(site, NEW, LATER).kept == ("pipe", "socket")
    assert [stat.S_IFMT((site / name).lstat().st_mode) for name in ("pipe", "socket")] == [stat.S_IFIFO, stat.S_IFSOCK]


def test_a_pipe_that_cannot_be_copied_is_named_and_not_waited_for(site: Path, tmp_path: Path) -> None:
    before = look(site)
    os.mkfifo(site / "pipe")

    def work() -> None:
        signal.alarm(20)
        with watch_disk(refuse_links), pytest.raises(SiteProblem, match="pipe is neither a file, a folder nor a link"):
            build(site, NEW, LATER)
        with pytest.raises(SiteProblem, match="pipe is neither a file, a folder nor a link"):
            adopt_site(tmp_path / "other/site", site)

    assert run_apart(work) == 0
    assert look(site) == before


@pytest.mark.parametrize(
    "place", ["comparisons/feeder/index.html", "comparisons/feeder", "comparisons/feeder/index.html/x"]
)
def test_what_stands_where_a_page_is_wanted_is_not_overwritten(site: Path, place: str) -> None:
    (site / place).parent.mkdir(parents=True, exist_ok=True)
    (site / place).write_text("mine")
    (site / "comparisons/notes").mkdir()
    before = look(site)

    with pytest.raises(SiteProblem, match=r"comparisons/feeder.* in the site is not ours, and a page wants that place"):
        build(site, {**OLD, "feeder": "two"}, LATER)

    assert look(site) == before


def test_a_page_comes_into_a_folder_that_holds_other_things(site: Path) -> None:
    (site / "comparisons/feeder/empty").mkdir(parents=True)
    (site / "comparisons/feeder/notes.txt").write_text("mine")
    (site / "comparisons/plotter/notes.txt").write_text("mine")

    first = build(site, {**OLD, "feeder": "two"}, LATER)
    second = build(site, {**OLD, "feeder": "three"}, LATER)

    assert first.kept == ("comparisons/feeder", "comparisons/plotter/notes.txt")
    inside = ("comparisons/feeder/empty", "comparisons/feeder/notes.txt", "comparisons/plotter/notes.txt")
    assert second.kept == inside
    assert audit_site(site).kept == inside


def test_a_folder_of_ours_that_is_gone_from_a_build_does_not_stay_as_an_empty_one(site: Path) -> None:
    (site / "index.html").unlink()
    (site / "index.html").mkdir()

    result = build(site, OLD)

    assert result.mended == ("index.html",)
    assert result.kept == ()
    assert audit_site(site).findings == ()


def test_an_empty_folder_in_the_archive_is_named_and_goes(site: Path) -> None:
    (site / "archive/new").mkdir()

    assert [(finding.kind, finding.path) for finding in audit_site(site).findings] == [("foreign", "archive/new")]
    build(site, NEW, LATER)
    assert not (site / "archive/new").exists()


@pytest.mark.parametrize("place", ["mine", "archive"])
def test_a_mount_point_in_the_site_is_refused_before_anything_is_removed(
    site: Path, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (site / "mine").mkdir()
    (site / "mine/file").write_text("x")
    before, real = look(site), os.lstat

    def lstat(path: Any, **options: Any) -> os.stat_result:
        facts = real(path, **options)
        moved = facts.st_dev + (str(path) == f"{site}/{place}")
        return os.stat_result((*facts[:2], moved, *facts[3:10]))

    monkeypatch.setattr(os, "lstat", lstat)
    with pytest.raises(SiteProblem, match=rf"{place} in the site is a mount point"):
        build(site, NEW, LATER)
    assert look(site) == before
    assert DATE in (site / "comparisons/plotter/index.html").read_text()
