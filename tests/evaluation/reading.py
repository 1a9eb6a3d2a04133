"""Reads comparisons for the tests of evaluation: the reference machine with changes, and the demos."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from generator.readers.comparison import read_comparison
from generator.readers.folder import DiskFolder, MemoryFolder
from generator.records.comparison import Comparison

HERE = Path(__file__).parent
COMPARISONS = HERE.parents[1] / "comparisons"
REFERENCE = (HERE / "reference.yaml").read_text(encoding="utf-8")
RUNS = """
    runs:
      p:
        - {held: 31 m/s², lost: 32 m/s², order: 1}
        - {held: 33 m/s², lost: 34 m/s², order: 4}
        - {held: 32 m/s², lost: 33 m/s², order: 5}
      q:
        - {held: 25 m/s², lost: 26 m/s², order: 2}
        - {held: 26 m/s², lost: 27 m/s², order: 3}
        - {held: 24 m/s², lost: 25 m/s², order: 6}
"""
"""Three interleaved runs each of trial ``diagonal``, to stand at its end."""
LADDER = "ladder: {start: 20 m/s², rung: 1 m/s²}\n"


def read_text(text: str) -> Comparison:
    """The comparison of a text without problems."""
    found = read_comparison(MemoryFolder({"comparison.yaml": text.encode()}), "reference")
    assert found.comparison is not None, "\n".join(map(str, found.problems))
    return found.comparison


def change(text: str, *changes: tuple[str, str]) -> str:
    """The text with pieces replaced once each, all of which must be there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def reference(*changes: tuple[str, str], end: str = "") -> Comparison:
    """The reference comparison, changed, with more at its end."""
    return read_text(change(REFERENCE, *changes) + end)


def measured(*changes: tuple[str, str], end: str = "") -> Comparison:
    """The reference comparison with three runs each in trial ``diagonal``."""
    return reference((LADDER, LADDER.rstrip() + RUNS), *changes, end=end)


def read_demo(slug: str) -> tuple[Comparison, Mapping[str, bytes]]:
    """A demo and its files."""
    folder = DiskFolder(COMPARISONS / slug)
    found = read_comparison(folder, slug)
    assert found.comparison is not None, "\n".join(map(str, found.problems))
    return found.comparison, {source.path: folder.read(source.path, 10**9) for source in found.comparison.sources}
