"""Checks a site against its archive: every file by its digest, every build by the chain. Changes nothing."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from generator.archive import disk, names
from generator.archive.manifests import File, Manifest, Tombstone, find_build_id, find_inputs_digest
from generator.archive.store import Archive, list_foreign
from generator.archive.workfolder import hold_still, say_error
from generator.errors import SiteProblem

READERS = min(8, os.cpu_count() or 1)
BATCH = 64


@dataclass(frozen=True, order=True)
class Finding:
    """One fault: ``kind`` is changed, missing, foreign or broken chain; ``path`` is where, ``message`` says it."""

    kind: str
    path: str
    message: str


@dataclass(frozen=True)
class AuditReport:
    """What an audit saw.

    ``findings`` are faults, none if the site is as its builds recorded it; ``kept`` are files and whole folders outside
    archive/ that are not ours, which is no fault; ``withdrawn`` are contents withdrawn by a command; ``files`` and
    ``size`` [byte] say how much was read.
    """

    findings: tuple[Finding, ...]
    builds: int
    files: int
    size: int
    kept: tuple[str, ...] = ()
    withdrawn: tuple[Tombstone, ...] = ()


def audit_site(site: Path) -> AuditReport:
    """Read every file of a site and compare it with what its builds recorded.

    Parameters
    ----------
    site : Path
        The site's folder.

    Returns
    -------
    AuditReport
        With every changed, missing and foreign file and every break of the chain named.

    Raises
    ------
    SiteProblem
        There is no build at all, another command is writing, or a folder cannot be looked into.

    Valid for: damage and careless change. Who rewrites every manifest from the one that he changes to the newest goes
    unnoticed, unless the digest of a later one was noted elsewhere.
    Checked in: tests/archive/test_auditing.py, digests against the system's sha256sum.
    """
    try:
        with hold_still(site) as archive:
            return audit_archive(archive, site)
    except OSError as error:
        what = f"auditing {site} stopped: {say_error(error)}"
        raise SiteProblem(what, "see to it that this can be read, then try again") from error


def audit_archive(archive: Archive, site: Path) -> AuditReport:
    """Audit a site that is held already; see ``audit_site``."""
    faults: list[SiteProblem] = []
    manifests = _read_manifests(archive, faults)
    wanted = archive.find_expected(faults)
    if manifests:
        wanted.update((file.path, file) for file in archive.find_live(manifests[-1], faults))
    folders = names.find_folders(wanted)
    present = {path for path, is_folder in disk.walk(site, enter=folders.__contains__) if not is_folder}
    seen = [file for path, file in wanted.items() if path in present]
    foreign = list_foreign(site, set(wanted))
    findings = [
        *_check_chain(archive, manifests),
        *(Finding("missing", path, "is not there") for path in wanted if path not in present),
        *(Finding("foreign", path, "no build put it there") for path in foreign if path.startswith("archive/")),
        *_check_files(site, seen),
    ]
    return AuditReport(
        findings=tuple(sorted({*findings, *_tell_faults(faults, findings)})),
        builds=len(archive.list_ids()),
        files=len(seen),
        size=sum(file.size for file in seen),
        kept=tuple(path for path in foreign if not path.startswith("archive/")),
        withdrawn=manifests[-1].withdrawn if manifests else (),
    )


def _read_manifests(archive: Archive, faults: list[SiteProblem]) -> list[Manifest]:
    """All manifests that can be read, oldest first."""
    manifests = []
    for build_id in archive.list_ids():
        try:
            manifests.append(archive.read_manifest(build_id))
        except SiteProblem as fault:
            faults.append(fault)
    return manifests


def _tell_faults(faults: list[SiteProblem], findings: list[Finding]) -> Iterator[Finding]:
    """Manifests that cannot be read, unless a finding names them already."""
    named = {finding.path for finding in findings}
    for fault in faults:
        path, _, words = fault.message.partition(" ")
        if path not in named:
            yield Finding("changed", path, words)


def _check_chain(archive: Archive, manifests: list[Manifest]) -> Iterator[Finding]:
    """Whether each manifest is called as its content says, and each continues the one before."""
    ids = archive.list_ids()
    numbers = [int(name.partition("-")[0]) for name in ids]
    for (before, after), name in zip(pairwise([0, *numbers]), ids, strict=True):
        if after != before + 1:
            yield _break_chain(name, f"follows number {before}, so a build is missing or doubled")
    for place, manifest in enumerate(manifests):
        yield from _check_link(archive, manifests[place - 1] if place else None, manifest)


def _check_link(archive: Archive, before: Manifest | None, after: Manifest) -> Iterator[Finding]:
    build = after.build
    inputs = find_inputs_digest(after.entries)
    if build.inputs != inputs or build.id != find_build_id(build.sequence, build.previous, build.made_with, inputs):
        yield _break_chain(build.id, "does not bear the number that its content gives")
    if before is not None and before.build.sequence + 1 == build.sequence:
        previous = names.find_digest(archive.read(names.find_build_file(before.build.id)))
        if build.previous != previous:
            yield _break_chain(build.id, f"continues another build than {before.build.id} as it stands")
    elif before is None and (build.previous is not None) != (build.sequence > 1):
        yield _break_chain(build.id, "is not the first build, and what it continues is not there")


def _break_chain(build_id: str, words: str) -> Finding:
    return Finding("broken chain", names.find_build_file(build_id), words)


def _check_files(site: Path, files: list[File]) -> Iterator[Finding]:
    """Findings on files that are there, read by several threads, which share the work outside the interpreter."""
    batches = [files[start : start + BATCH] for start in range(0, len(files), BATCH)]
    with ThreadPoolExecutor(READERS) as readers:
        for findings in readers.map(
            lambda batch: [_check_file(f"{site}/{file.path}", file) for file in batch], batches
        ):
            yield from (finding for finding in findings if finding)


def _check_file(place: str, file: File) -> Finding | None:
    try:
        digest = _read_digest(place)
    except OSError as error:
        return Finding("changed", file.path, f"cannot be read: {error.strerror or error}")
    if digest is None:
        return Finding("changed", file.path, "is no plain file")
    return None if digest == file.digest else Finding("changed", file.path, "holds another content than was published")


def _read_digest(place: str) -> str | None:
    """SHA-256 of a file that is neither followed, if it is a link, nor waited for, if it is a pipe; None for those."""
    if not stat.S_ISREG(os.lstat(place).st_mode):
        return None
    with open(os.open(place, disk.LOOK), "rb", buffering=0) as reader:
        return hashlib.file_digest(reader, "sha256").hexdigest()
