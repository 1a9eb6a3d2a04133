"""A plain good comparison to change, and its reading; ``source_codes.py`` stands beside for its helpers."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from generator.readers.comparison import ReadResult, read_comparison
from generator.readers.folder import MemoryFolder

PLAIN = Path(__file__).parents[1] / "data" / "good" / "plain.yaml"


@pytest.fixture
def plain() -> str:
    """Text of the good comparison."""
    return PLAIN.read_text(encoding="utf-8")


@pytest.fixture
def read(plain: str) -> Callable[..., ReadResult]:
    """Read the good comparison with replacements (old, new), an end and further files."""

    def reading(*changes: tuple[str, str], end: str = "", **files: str | bytes) -> ReadResult:
        text = plain
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        contents = {name.replace("__", "."): file for name, file in files.items()}
        contents = {name: file.encode() if isinstance(file, str) else file for name, file in contents.items()}
        return read_comparison(MemoryFolder({"comparison.yaml": (text + end).encode(), **contents}), "plain")

    return reading
