"""Every problem code has a bad file, and each bad file gives that code, at its line, and nothing else."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from source_codes import PACKAGE, list_codes

from generator.errors import Problem
from generator.readers.comparison import read_comparison
from generator.readers.folder import DiskFolder, FolderError, MemoryFolder
from generator.readers.limits import Limits

ROOT = Path(__file__).parents[2]
BAD = ROOT / "tests" / "data" / "bad"
GOOD = (ROOT / "tests" / "data" / "good" / "plain.yaml").read_bytes()

OTHERS = {"photos", "sound", "traces"}
"""Readers of recordings, which have bad files of their own in their tests."""
IN_TESTS = {
    "file-changed",
    "file-large",
    "file-unreadable",
    "folder-name",
    "more-problems",
    "path-case",
    "path-kind",
    "path-link",
}
"""Codes whose fault no file can hold: links, pipes, names, races. Tests below and in test_folder.py make them."""
ENTRIES = sorted(path.name for path in BAD.iterdir())


def codes_of_source() -> set[str]:
    files = [file for file in (PACKAGE / "readers").glob("*.py") if file.stem not in OTHERS]
    return list_codes([*files, PACKAGE / "units.py", PACKAGE / "unit_grammar.py"])


def problems_of(entry: str) -> tuple[Problem, ...]:
    path = BAD / entry
    if path.is_dir():
        return read_comparison(DiskFolder(path, "bad"), "bad").problems
    folder = MemoryFolder({"comparison.yaml": path.read_bytes()}, "bad")
    return read_comparison(folder, "bad").problems


def expected_place(entry: str) -> tuple[str, int]:
    """File and line of the fault: the line marked # fault, the place said in a comment, or the whole file."""
    path = BAD / entry
    text = (path / "comparison.yaml" if path.is_dir() else path).read_text(encoding="utf-8", errors="replace")
    said = re.search(r"# expected: (\S+):(\d+)", text)
    if said:
        return f"bad/{said[1]}", int(said[2])
    lines = [number for number, line in enumerate(text.split("\n"), 1) if line.endswith("# fault")]
    return "bad/comparison.yaml", lines[0] if lines else 0


def test_the_file_that_the_bad_ones_are_made_from_is_good() -> None:
    result = read_comparison(MemoryFolder({"comparison.yaml": GOOD}), "good")

    assert result.problems == ()
    assert result.comparison is not None


def test_every_code_of_recordings_is_in_a_test_of_its_reader() -> None:
    for name in OTHERS:
        codes = list_codes([PACKAGE / "readers" / f"{name}.py"])
        files = (ROOT / "tests" / "readers" / f"test_{name}.py", ROOT / "tests" / "trust" / "test_limits.py")
        tests = "".join(file.read_text(encoding="utf-8") for file in files)
        assert codes
        assert {code for code in codes if f'"{code}"' not in tests} == set(), name


def test_every_code_has_its_bad_file() -> None:
    assert codes_of_source() == {Path(entry).stem for entry in ENTRIES} | IN_TESTS


@pytest.mark.parametrize("entry", ENTRIES)
def test_a_bad_file_gives_its_code_at_its_line_and_nothing_else(entry: str) -> None:
    problems = problems_of(entry)

    assert {Path(entry).stem} == {problem.code for problem in problems}, "\n".join(map(str, problems))
    assert len(problems) == 1, "\n".join(map(str, problems))
    assert expected_place(entry) == (problems[0].file, problems[0].line), str(problems[0])
    assert problems[0].message and problems[0].fix


def test_a_line_in_the_middle_of_text_is_not_utf_8() -> None:
    (problem,) = problems_of("not-utf-8.yaml")

    assert (problem.line, problem.code) == (2, "not-utf-8")


def test_a_folder_needs_a_name_for_addresses() -> None:
    (problem,) = read_comparison(MemoryFolder({"comparison.yaml": GOOD}), "My Comparison").problems

    assert problem.code == "folder-name"


def test_names_that_differ_only_in_capitals_are_refused() -> None:
    text = GOOD.decode() + ("sound:\n  - id: hum\n    recordings:\n      first: [Hum.wav]\n      second: [hum.wav]\n")
    files = {"comparison.yaml": text.encode(), "Hum.wav": b"", "hum.wav": b""}

    (problem,) = read_comparison(MemoryFolder(files), "good").problems

    assert ("path-case", text.split("\n").index("      second: [hum.wav]") + 1) == (problem.code, problem.line)


def test_problems_beyond_the_limit_are_counted() -> None:
    text = "schema: 1\n" + "".join(f"key{k}: 1\n" for k in range(300))

    problems = read_comparison(MemoryFolder({"comparison.yaml": text.encode()}), "good", Limits(problems=50)).problems

    assert len(problems) == 51
    assert problems[-1].code == "more-problems"
    assert problems[-1].message == "and 254 more problems"


@pytest.mark.parametrize(
    ("kind", "code"), [("link", "path-link"), ("pipe", "path-kind"), ("folder", "path-kind"), ("large", "file-large")]
)
def test_the_file_itself_may_be_none(tmp_path: Path, kind: str, code: str) -> None:
    file = tmp_path / "comparison.yaml"
    if kind == "link":
        (tmp_path / "other.yaml").write_bytes(GOOD)
        file.symlink_to(tmp_path / "other.yaml")
    elif kind == "pipe":
        os.mkfifo(file)
    elif kind == "folder":
        file.mkdir()
    else:
        file.write_bytes(b"#" * 50_000_000)

    (problem,) = read_comparison(DiskFolder(tmp_path, "made"), "made").problems

    assert (code, "made/comparison.yaml", 0) == (problem.code, problem.file, problem.line)


def test_a_missing_folder_cannot_be_read(tmp_path: Path) -> None:
    (problem,) = read_comparison(DiskFolder(tmp_path / "none", "none"), "none").problems

    assert problem.code == "file-unreadable"


def test_a_file_that_grows_while_it_is_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "runs.csv").write_bytes(b"held\n")
    real = os.fstat

    def smaller(descriptor: int) -> os.stat_result:
        found = list(real(descriptor))
        found[6] = 2
        return os.stat_result(found)

    monkeypatch.setattr("generator.readers.folder.os.fstat", smaller)

    with pytest.raises(FolderError) as raised:
        DiskFolder(tmp_path).read("runs.csv", 100)

    assert raised.value.code == "file-changed"
