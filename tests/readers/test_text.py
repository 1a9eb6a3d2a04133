"""Bytes to text: one way for every file that people write."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from generator.errors import FileProblems
from generator.readers.comparison import ReadResult
from generator.readers.text import decode_text, read_text


def test_a_byte_order_mark_and_windows_line_ends_go() -> None:
    assert decode_text("\ufeffa\r\nä\n".encode(), "f") == "a\nä\n"


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"a\nb\xff\n", ("not-utf-8", 2)),
        (b"a\nb\n\x07\n\x08", ("character-refused", 3)),
        (b"a\rb\r", ("character-refused", 1)),
        ("a\u202eb".encode(), ("character-refused", 1)),
    ],
)
def test_what_is_no_text_is_told_with_its_line(content: bytes, expected: tuple[str, int]) -> None:
    with pytest.raises(FileProblems) as raised:
        read_text(content, "f")

    (problem,) = raised.value.problems
    assert (problem.code, problem.line) == expected
    assert problem.file == "f" and problem.message and problem.fix


def test_tabs_may_stand_in_a_text() -> None:
    assert read_text(b"a\tb\n", "f") == "a\tb\n"


@pytest.mark.parametrize("name", ["write-up.md", "runs.csv", "comparison.yaml"])
def test_every_text_that_is_not_utf_8_is_told_in_the_same_words(name: str, read: Callable[..., ReadResult]) -> None:
    spoilt = b"a\nb: \xe4\n"
    if name == "comparison.yaml":
        result = read(**{"comparison__yaml": spoilt})
    elif name == "runs.csv":
        runs = "[{held: 31 m/s², lost: 32 m/s²}]"
        result = read((runs, "runs.csv"), runs__csv=spoilt)
    else:
        result = read(end="write_up: write-up.md\n", **{"write-up__md": spoilt})

    (problem,) = result.problems
    assert (problem.file.rpartition("/")[2], problem.line, problem.code) == (name, 2, "not-utf-8")
    assert (problem.message, problem.fix) == ("byte 0xe4 is no UTF-8", "save the file as UTF-8")
