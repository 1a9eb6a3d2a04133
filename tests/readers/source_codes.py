"""The codes that problems can carry, taken from the source of whatever makes problems."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "generator"
CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)+")
NO_CODES = {"2026-09-18", "crossed-belts", "one-sided", "s-curve", "utf-8", "utf-8-sig"}
"""Constants of these modules that look like codes and are none."""
PUT_TOGETHER = {"-unknown": {"value-unknown", "figure-unknown"}}
"""Codes that the source puts together, by the end that stands there."""


def list_makers() -> list[Path]:
    """Modules that make problems: readers, what they read figures with, and all others that call ``Problem``."""
    calls = [path for path in PACKAGE.rglob("*.py") if re.search(r"\bProblem\(", path.read_text(encoding="utf-8"))]
    read = [*(PACKAGE / "readers").glob("*.py"), PACKAGE / "units.py", PACKAGE / "unit_grammar.py"]
    return sorted({*calls, *read} - {PACKAGE / "errors.py"})


def list_codes(files: Iterable[Path]) -> set[str]:
    """Every code in these modules."""
    nodes = [node for file in files for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))]
    ends = {end for node in nodes if isinstance(node, ast.JoinedStr) for end in _ends(node)}
    assert ends <= set(PUT_TOGETHER), "list the codes that are put together"
    texts = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    return {text for text in texts if CODE.fullmatch(text)}.union(*(PUT_TOGETHER[end] for end in ends)) - NO_CODES


def _ends(node: ast.JoinedStr) -> list[str]:
    """What stands behind the only other part of a text that is put together of two, if it looks like a code's end."""
    texts = [part.value for part in node.values[1:] if isinstance(part, ast.Constant)]
    return [text for text in texts if len(node.values) == 2 and re.fullmatch(r"(-[a-z]+)+", str(text))]
