"""Collects the problems of one comparison, over all its files. Never raises for what the user wrote."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

from generator.errors import Problem
from generator.readers.folder import FolderError
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.nodes import Node
from generator.unit_grammar import QuantityError

HARDWARE_MISSING = "hardware-missing"
"""Code of a figure that is nowhere given; it is said once for each figure."""


class Report:
    """The problems found so far; each is said at a node or at a line of a file."""

    def __init__(self, file: str, limits: Limits = DEFAULT_LIMITS) -> None:
        self.file = file
        self.limits = limits
        self._problems: list[Problem] = []

    def add(
        self, code: str, node: Node | None, path: str, message: str, fix: str = "", severity: str = "error"
    ) -> None:
        """Note a problem at a node of this report's file; None stands for the whole file."""
        line, column = (node.line, node.column) if node is not None else (0, 0)
        self._problems.append(Problem(self.file, line, column, path, code, message, fix, severity))

    def add_all(self, problems: Iterable[Problem]) -> None:
        """Take over problems that another reader found."""
        self._problems.extend(problems)

    def warn(self, code: str, node: Node | None, path: str, message: str, fix: str = "") -> None:
        """Note something that does not hinder reading."""
        self.add(code, node, path, message, fix, "warning")

    def add_error(self, error: QuantityError | FolderError, node: Node | None, path: str) -> None:
        """Note an error that was raised without a place."""
        self.add(error.code, node, path, error.message, error.fix)

    def add_unknown(self, code: str, node: Node, path: str, what: str, name: str, known: Iterable[str]) -> None:
        """Note an unknown name, with the nearest known one as its fix."""
        self.add(code, node, path, f'unknown {what} "{shorten(name)}"', nearest(name, known))

    @property
    def failed(self) -> bool:
        """Whether an error, not only a warning, was found."""
        return bool(find_errors(self._problems))

    def has_fault_at(self, path: str) -> bool:
        """Whether an error was noted at a step of a figure's path or at an owner of hardware, such as a misspelt key.

        What follows from it need not be said.
        """
        steps = {*re.split(r"[^a-z0-9_]+", path), "common", "candidates"}
        faults = (p for p in find_errors(self._problems) if p.code != HARDWARE_MISSING)
        return not steps.isdisjoint(re.sub(r"\[\d+\]$", "", p.path).rpartition(".")[2] for p in faults)

    def problems(self) -> tuple[Problem, ...]:
        """All problems in the order of their places, once each; beyond the limit only counted."""
        found = sorted(set(self._problems))
        if len(found) <= self.limits.problems:
            return tuple(found)
        severity = "error" if self.failed else "warning"
        kept = (find_errors(found) or found)[: self.limits.problems]
        more = f"and {len(found) - len(kept)} more problems"
        return (*kept, Problem(self.file, 0, 0, "", "more-problems", more, "mend these first", severity))


def find_errors(problems: Iterable[Problem]) -> list[Problem]:
    """Those problems that hinder reading; the others are warnings."""
    return [problem for problem in problems if problem.severity == "error"]


def nearest(name: str, known: Iterable[str]) -> str:
    """A fix that names the nearest known name, or all of them."""
    names = sorted(set(known))
    near = difflib.get_close_matches(name[:60], names, n=1, cutoff=0.5)
    if near:
        return f"did you mean {near[0]}?"
    return f"known here: {', '.join(names)}" if names else "nothing is known here yet"


def shorten(text: str, most: int = 60) -> str:
    """The text as it can stand in a message."""
    flat = " ".join(text.split())
    return flat if len(flat) <= most else flat[: most - 1] + "…"
