"""Whole builds read nothing outside a comparison's folder, wait on no pipe, and write nothing outside the site."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hostile import FEW, FILES, write_folder
from places_of_trust import PLAIN, run_limited

from generator.archive.sources import pack_sources
from generator.build import Settings, build
from generator.errors import FileProblems, SiteProblem, StallmarkError

SECRET = "held [m/s²],lost [m/s²]\n77,78\n"


def prepare(tmp_path: Path) -> tuple[Path, Settings]:
    """A comparison that names runs.csv, beside a secret that no build may read."""
    root = tmp_path / "comparisons"
    folder = root / "plain"
    folder.mkdir(parents=True)
    (folder / "comparison.yaml").write_text(PLAIN, encoding="utf-8")
    (folder / "runs.csv").write_text("held [m/s²],lost [m/s²]\n42,43\n43,44\n", encoding="utf-8")
    (tmp_path / "secret.csv").write_text(SECRET, encoding="utf-8")
    return folder, Settings(root, tmp_path / "site", "2026-10-01", cache=tmp_path / "cache", limits=FEW)


def link_file(folder: Path) -> None:
    (folder / "runs.csv").symlink_to("../../secret.csv")


def link_absolute(folder: Path) -> None:
    (folder / "runs.csv").symlink_to(folder.parents[1] / "secret.csv")


def make_pipe(folder: Path) -> None:
    os.mkfifo(folder / "runs.csv")


def link_device(folder: Path) -> None:
    (folder / "runs.csv").symlink_to("/dev/zero")


def make_folder(folder: Path) -> None:
    (folder / "runs.csv").mkdir()


def change_case(folder: Path) -> None:
    (folder / "Runs.csv").write_text(SECRET, encoding="utf-8")


TRICKS: dict[str, tuple[Callable[[Path], None], str]] = {
    "a link out": (link_file, "path-link"),
    "an absolute link": (link_absolute, "path-link"),
    "a pipe": (make_pipe, "path-kind"),
    "a link to a device": (link_device, "path-link"),
    "a folder": (make_folder, "path-kind"),
    "another case": (change_case, "file-missing"),
}


@pytest.mark.parametrize("built_before", [False, True], ids=["first build", "second build"])
@pytest.mark.parametrize("trick", TRICKS)
def test_what_stands_in_the_place_of_a_file_is_refused_at_once(trick: str, built_before: bool, tmp_path: Path) -> None:
    folder, settings = prepare(tmp_path)
    if built_before:
        build(settings)
    (folder / "runs.csv").unlink()
    act, code = TRICKS[trick]
    act(folder)

    error = run_limited(lambda: build(settings), 60)

    assert isinstance(error, FileProblems)
    assert [problem.code for problem in error.problems] == [code]
    assert error.problems[0].line and error.problems[0].fix


NAMES = ["/etc/passwd", "../secret.csv", "runs/../../secret.csv", "~/x.csv", "C:\\x.csv", "\\\\host\\x", "CON", "a/./b",
         "file:///etc/passwd", "a//b", "..%2fsecret.csv/..", ".git/config", "runs.csv."]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_names_that_lead_elsewhere_are_refused(name: str, tmp_path: Path) -> None:
    folder, settings = prepare(tmp_path)
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    (folder / "comparison.yaml").write_text(PLAIN.replace("runs.csv", f'"{quoted}"'), encoding="utf-8")

    with pytest.raises(FileProblems) as caught:
        build(settings)

    assert {problem.code for problem in caught.value.problems} <= {"path-leaves", "path-name", "file-missing"}
    assert not (tmp_path / "site").exists() or not any((tmp_path / "site").iterdir())


@pytest.mark.parametrize("where", ["folder", "comparison.yaml", "site.yaml"])
def test_links_in_the_place_of_folder_or_first_file(where: str, tmp_path: Path) -> None:
    folder, settings = prepare(tmp_path)
    elsewhere = tmp_path / "elsewhere"
    if where == "folder":
        folder.rename(elsewhere)
        folder.symlink_to(elsewhere)
    else:
        place = folder / "comparison.yaml" if where == "comparison.yaml" else settings.comparisons / "site.yaml"
        elsewhere.write_text(PLAIN if where == "comparison.yaml" else "name: elsewhere\n", encoding="utf-8")
        place.unlink(missing_ok=True)
        place.symlink_to(elsewhere)

    with pytest.raises(FileProblems) as caught:
        build(settings)

    assert {problem.code for problem in caught.value.problems} == {"path-link"}


def test_a_site_folder_full_of_links_is_not_written_through(tmp_path: Path) -> None:
    _, settings = prepare(tmp_path)
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "index.html").write_text("mine")
    settings.site.mkdir()
    for name in ("index.html", "archive", "comparisons", "builds"):
        (settings.site / name).symlink_to(outside / ("index.html" if name == "index.html" else ""))

    error = run_limited(lambda: build(settings), 60)

    assert error is None or isinstance(error, StallmarkError)
    assert sorted(path.name for path in outside.iterdir()) == ["index.html"]
    assert (outside / "index.html").read_text() == "mine"


@pytest.mark.parametrize("path", ["../x", "/etc/x", "a/../../x", "a\\..\\x", "C:x", "a\x00", "a/", "."])
def test_no_zip_member_leaves_its_folder(path: str) -> None:
    with pytest.raises(SiteProblem):
        pack_sources("plain", {path: b"x"})


def test_the_sources_zip_unpacks_below_one_folder(tmp_path: Path) -> None:
    root = tmp_path / "comparisons"
    root.mkdir()
    write_folder(root)
    build(Settings(root, tmp_path / "site", "2026-10-01", cache=tmp_path / "cache", limits=FEW))
    with zipfile.ZipFile(tmp_path / "site/comparisons/evil/sources.zip") as archive:
        archive.extractall(tmp_path / "unpacked")

    assert [path.name for path in (tmp_path / "unpacked").iterdir()] == ["evil"]
    assert (tmp_path / "unpacked" / "evil" / FILES["{photo}"]).read_bytes().startswith(b"\x89PNG")
