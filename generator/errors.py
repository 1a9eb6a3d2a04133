"""The project's own errors. Imports nothing of the project.

    StallmarkError            anything we say to the user; exit code 1
    ├── FileProblems          one or more Problems in the user's files
    ├── SiteProblem           the site folder or its archive is not as it should be
    └── UsageError            the command was used wrongly; exit code 2

Each class gives ``super().__init__`` exactly its own arguments, so that an error survives pickling on its way
between processes. One place catches them: ``cli.main``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One fault in a user's file: where it is, what was found, what to write instead.

    ``code`` is a stable slug that tests and tools match on; people read ``message`` and ``fix``.
    ``line`` and ``column`` count from 1; 0 means the whole file. ``path`` is the dotted place in the tree.
    """

    file: str
    line: int
    column: int
    path: str
    code: str
    message: str
    fix: str = ""
    severity: str = "error"

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}: " if self.line else f"{self.file}: "
        where = f"{self.path}: " if self.path else ""
        label = "warning: " if self.severity == "warning" else ""
        return f"{place}{label}{where}{self.message}" + (f"\n  fix: {self.fix}" if self.fix else "")


class StallmarkError(Exception):
    """Anything the project says to its user; the command line prints it and exits with ``exit_code``."""

    exit_code = 1


class FileProblems(StallmarkError):
    """All problems found in the user's files, collected and raised once."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(problems)
        self.problems: tuple[Problem, ...] = tuple(problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class SiteProblem(StallmarkError):
    """The site folder, its archive or its lock is not as it should be."""

    def __init__(self, message: str, fix: str = "") -> None:
        super().__init__(message, fix)
        self.message = message
        self.fix = fix

    def __str__(self) -> str:
        return self.message + (f"\n  fix: {self.fix}" if self.fix else "")


class UsageError(StallmarkError):
    """The command was used wrongly."""

    exit_code = 2

    def __init__(self, message: str, fix: str = "") -> None:
        super().__init__(message, fix)
        self.message = message
        self.fix = fix

    def __str__(self) -> str:
        return self.message + (f"\n  fix: {self.fix}" if self.fix else "")
