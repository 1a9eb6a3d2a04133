"""An audit names every fault. Outside check: digests by the system's sha256sum."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from crashes import run_unprivileged
from made_up import LATER, build

from generator.archive.auditing import audit_site
from generator.archive.store import Archive
from generator.archive.workfolder import WorkFolder, open_archive
from generator.errors import SiteProblem


@pytest.fixture
def site(tmp_path: Path) -> Path:
    site = tmp_path / "site"
    for words in ("one", "two", "three"):
        build(site, {"plotter": words, "feeder": "same"}, LATER)
    return site


def find(site: Path, pattern: str) -> Path:
    return sorted(site.glob(pattern))[0]


def test_a_sound_site_has_no_findings(site: Path) -> None:
    report = audit_site(site)

    assert report.findings == ()
    assert report.builds == 3
    files = [path for path in site.rglob("*") if path.is_file()]
    assert report.files == len(files)
    assert report.size == sum(path.stat().st_size for path in files)


def test_every_expected_digest_is_the_systems(site: Path) -> None:
    archive = Archive(site)
    manifest = archive.read_newest()
    assert manifest
    expected = {**archive.find_expected(), **{file.path: file for file in archive.find_live(manifest)}}

    output = subprocess.run(["sha256sum", *expected], cwd=site, capture_output=True, text=True, check=True).stdout

    assert {path: file.digest for path, file in expected.items()} == {
        line.split(maxsplit=1)[1]: line.split()[0] for line in output.splitlines()
    }


ANY = ["index.html", "comparisons/plotter/results.json", "archive/assets/*.svg", "archive/sources/*.csv",
       "archive/pages/comparisons/*/*.html", "archive/pages/comparisons/*/versions.json", "archive/entries/*.json",
       "archive/builds/*.html", "archive/builds/0001*.json", "archive/builds/0002*.json", "archive/builds/0003*.json",
       "comparisons/*/sources.zip", "builds/index.html"]  # fmt: skip


@pytest.mark.parametrize("pattern", ANY)
def test_one_changed_byte_is_found(site: Path, pattern: str) -> None:
    path = find(site, pattern)
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)

    findings = audit_site(site).findings

    assert path.relative_to(site).as_posix() in {finding.path for finding in findings}


@pytest.mark.parametrize("pattern", ANY)
def test_a_missing_file_is_found(site: Path, pattern: str) -> None:
    path = find(site, pattern)
    path.unlink()

    findings = audit_site(site).findings

    if "builds/000" in pattern:
        assert "broken chain" in {finding.kind for finding in findings} or pattern.startswith("archive/builds/0003")
        assert findings
    else:
        assert ("missing", path.relative_to(site).as_posix()) in {(found.kind, found.path) for found in findings}


def test_a_removed_newest_manifest_shows_by_what_it_left(site: Path) -> None:
    find(site, "archive/builds/0003*.json").unlink()

    kinds = {finding.kind for finding in audit_site(site).findings}

    assert {"foreign", "changed"} <= kinds


@pytest.mark.parametrize("where", ["archive/assets/stray.svg", "archive/stray", "archive/builds/0001-00000000.html"])
def test_a_stray_file_in_the_archive_is_found(site: Path, where: str) -> None:
    (site / where).write_text("x")

    assert [(found.kind, found.path) for found in audit_site(site).findings] == [("foreign", where)]


def test_a_rewritten_build_breaks_the_chain(site: Path) -> None:
    """Who changes a manifest and makes its checksum fit again is given away by the next one."""
    path = find(site, "archive/builds/0002*.json")
    text = path.read_text().replace(LATER, "2001-01-01")
    body = text[: text.rindex('"checksum":')]
    path.write_text(f'{body}"checksum":"{hashlib.sha256(body.encode()).hexdigest()}"}}\n')

    findings = audit_site(site).findings

    assert [(found.kind, Path(found.path).name[:4]) for found in findings] == [("broken chain", "0003")]


def test_other_inputs_give_another_number(site: Path) -> None:
    path = find(site, "archive/builds/0003*.json")
    text = re.sub(r'("made_with":\{"numpy":")2.0', r"\g<1>9.9", path.read_text())
    body = text[: text.rindex('"checksum":')]
    path.write_text(f'{body}"checksum":"{hashlib.sha256(body.encode()).hexdigest()}"}}\n')

    findings = audit_site(site).findings

    assert [found.kind for found in findings] == ["broken chain"]
    assert "does not bear the number" in findings[0].message


def _make_link(path: Path) -> None:
    os.symlink("/etc/hostname", path)


def _make_folder(path: Path) -> None:
    path.mkdir()


@pytest.mark.parametrize("make", [_make_link, os.mkfifo, _make_folder])
def test_what_is_no_plain_file_is_found_and_not_waited_for(site: Path, make: Callable[[Path], None]) -> None:
    path = find(site, "archive/assets/*.svg")
    path.unlink()
    make(path)

    findings = audit_site(site).findings

    assert [found.path for found in findings] == [path.relative_to(site).as_posix()]


@pytest.mark.parametrize(
    "pattern", ["archive/builds/0001*.json", "archive/builds/0003*.json", "archive/entries/*.json"]
)
def test_a_record_that_cannot_be_read_is_named_once(open_folder: Path, pattern: str) -> None:
    site = open_folder / "site"
    for words in ("one", "two", "three"):
        build(site, {"plotter": words}, LATER)
    path = find(site, pattern)
    path.chmod(0)

    def work() -> None:
        findings = [finding for finding in audit_site(site).findings if finding.path.endswith(path.name)]
        assert [(found.kind, found.message) for found in findings] == [("changed", "cannot be read: Permission denied")]

    assert run_unprivileged(work) == 0


@pytest.mark.parametrize("pattern", ["archive/assets", "comparisons/plotter"])
def test_a_folder_that_cannot_be_looked_into_is_named(open_folder: Path, pattern: str) -> None:
    site = open_folder / "site"
    build(site, {"plotter": "one"}, LATER)
    (site / pattern).chmod(0)

    def work() -> None:
        with pytest.raises(SiteProblem, match=rf"Permission denied \(.*{pattern}.*\)"):
            audit_site(site)

    assert run_unprivileged(work) == 0


def test_manifests_that_cannot_be_listed_are_said(open_folder: Path) -> None:
    site = open_folder / "site"
    build(site, {"plotter": "one"}, LATER)
    (site / "archive/builds").chmod(0o600)

    def work() -> None:
        for read in (audit_site, open_archive):
            with pytest.raises(SiteProblem, match=r"archive/builds cannot be read: .*Permission denied"):
                read(site)

    assert run_unprivileged(work) == 0


def test_a_folder_of_ones_own_need_not_be_looked_into(open_folder: Path) -> None:
    site = open_folder / "site"
    build(site, {"plotter": "one"}, LATER)
    (site / "mine").mkdir(mode=0)

    def work() -> None:
        report = audit_site(site)
        assert (report.findings, report.kept) == ((), ("mine",))

    assert run_unprivileged(work) == 0


def test_a_folder_without_builds_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(SiteProblem, match="holds no build"):
        audit_site(tmp_path / "nothing")


def test_an_audit_waits_for_nobody_and_says_so(site: Path) -> None:
    with WorkFolder(site), pytest.raises(SiteProblem, match=f"another command is writing .*process {os.getpid()} on"):
        audit_site(site)


def test_a_copy_of_a_site_audits_clean(site: Path, tmp_path: Path) -> None:
    shutil.copytree(site, tmp_path / "copy")

    assert audit_site(tmp_path / "copy").findings == ()
