"""Gets things back: a build's inputs from the archive, and a whole site published earlier."""

from __future__ import annotations

import os
from collections.abc import Set
from dataclasses import dataclass
from pathlib import Path

from generator.archive import disk, names
from generator.archive.auditing import audit_archive
from generator.archive.manifests import Build, Entry, Input
from generator.archive.sources import find_vault_file
from generator.archive.stage import Stage
from generator.archive.store import Archive, list_foreign
from generator.archive.workfolder import WorkFolder, open_archive, say_problems
from generator.errors import SiteProblem

FEW = 5


@dataclass(frozen=True)
class Absent:
    """An input that could not be recovered: its path under the target folder, and why."""

    path: str
    why: str


@dataclass(frozen=True)
class Recovery:
    """What was recovered: the build, the paths written, and what is not there."""

    build: Build
    written: tuple[str, ...]
    absent: tuple[Absent, ...]


@dataclass(frozen=True)
class Adoption:
    """A site that was taken over: its newest build, how many builds and files, and those that are not ours.

    ``leftover`` says what could not be removed of the old site, empty if all went.
    """

    newest: str
    builds: int
    files: int
    kept: tuple[str, ...]
    leftover: str


def recover_build(site: Path, build: str, target: Path, vault: Path | None = None) -> Recovery:
    """Write the inputs of a build as folders to build from again.

    Parameters
    ----------
    site : Path
        The site's folder.
    build : str
        The build as ``Archive.find_build`` takes it.
    target : Path
        A folder that is absent or empty: comparisons/<slug>/… and made-with.json, which states the build's date and
        the versions to build with.
    vault : Path, optional
        Where unpublished inputs are kept.

    Raises
    ------
    SiteProblem
        The target holds something, or the disk refuses.
    UsageError
        There is no such build.
    """
    archive = open_archive(site)
    manifest = archive.read_manifest(archive.find_build(build))
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise SiteProblem(f"{target} holds something already", "give a folder that is absent or empty")
    written: list[str] = []
    absent: list[Absent] = []
    with say_problems(target):
        for line in manifest.entries.values():
            entry = archive.read_entry(line.entry)
            for item in entry.inputs:
                path = find_input_path(entry, item)
                content = _read_input(archive, item, vault)
                if isinstance(content, bytes):
                    disk.write_file(target / path, content)
                    written.append(path)
                else:
                    absent.append(Absent(path, content))
        made_with = {"build": manifest.build.id, "date": manifest.build.date, "made_with": manifest.build.made_with}
        disk.write_file(target / "made-with.json", f"{names.render_json(made_with)}\n".encode())
    return Recovery(manifest.build, tuple(written), tuple(absent))


def find_input_path(entry: Entry, item: Input) -> str:
    """Where an input stood below the folder that holds comparisons/."""
    path = f"comparisons/{entry.name}/{item.path}" if names.is_comparison(entry.name) else item.path
    return names.check_address(path)


def _read_input(archive: Archive, item: Input, vault: Path | None) -> bytes | str:
    """The content of an input, or why there is none."""
    places = [root / item.file.path for root in archive.roots]
    places += [find_vault_file(vault, item.digest)] if vault else []
    for place in places:
        if place.is_file() and not place.is_symlink():
            content = place.read_bytes()
            if names.find_digest(content) == item.digest:
                return content
            return "what is kept of it is damaged"
    newest = archive.read_newest()
    stones = {stone.digest: stone for stone in newest.withdrawn} if newest else {}
    if item.digest in stones:
        return f"withdrawn on {stones[item.digest].date}: {stones[item.digest].reason}"
    return "is missing from the archive" if item.published else "was not published"


def adopt_site(site: Path, source: Path) -> Adoption:
    """Go on from a site published earlier: check it, copy it, and make it the site in one step.

    What in the site is not ours stays as it is; what in the copy is not ours comes along where the site has none of
    that name.

    Parameters
    ----------
    site : Path
        The site's folder: absent, empty, or holding an earlier state of the same site.
    source : Path
        A folder with a whole copy of the published site.

    Raises
    ------
    SiteProblem
        The copy is damaged or not whole, the site has builds that the copy does not know, or something in the site
        that is not ours stands where the copy has a page.
    """
    copy = Archive(source)
    if not copy.list_ids():
        raise SiteProblem(f"{source} holds no build", "give a copy of the whole site, archive/ included")
    report = audit_archive(copy, source)
    if report.findings:
        worst = sorted(report.findings, key=lambda finding: finding.kind == "foreign")
        some = "; ".join(f"{finding.path} {finding.message}" for finding in worst[:FEW])
        what = f"{source} is not as it was published, {len(report.findings)} faults: {some}"
        raise SiteProblem(what, "bring these files from where the site is hosted")
    with WorkFolder(site) as work, work.say_problems():
        own, stage = Archive(work.site), Stage(work.stage, work.site, {})
        _check_earlier(own, copy)
        ours = own.list_ours(own.read_newest())
        _copy_site(source, work.stage, {*report.kept} & {*list_foreign(work.site, ours)})
        if audit_archive(Archive(work.stage), work.stage).findings:
            raise SiteProblem(f"{source} changed while it was copied", "try again")
        stage.link_foreign(ours)
        stage.take_rights()
        leftover = work.switch()
    return Adoption(copy.list_ids()[-1], report.builds, report.files, report.kept, leftover)


def _check_earlier(own: Archive, copy: Archive) -> None:
    """SiteProblem unless every build of the site is one of the copy, to the byte."""
    for build_id in own.list_ids():
        path = names.find_build_file(build_id)
        if copy.find_size(path) is None or copy.read(path) != own.read(path):
            raise SiteProblem(
                f"the site has a build {build_id} that the copy does not have", "adopt it into another folder"
            )


def _copy_site(source: Path, target: Path, absent: Set[str]) -> None:
    """Copy all of a site, folders with their permissions, but the absent files and folders."""
    folders = []
    for path, is_folder in disk.walk(source, enter=lambda path: path not in absent):
        if path in absent:
            continue
        if is_folder:
            disk.make_folder(target / path)
            folders.append(path)
        else:
            disk.copy_file(source / path, target / path)
    for path in reversed(folders):
        disk.set_rights(target / path, os.lstat(source / path))
