"""Read comparisons without building: for ``check``, and for commands that need one comparison's results."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from generator.errors import FileProblems, Problem, UsageError
from generator.evaluation.recall import Recall
from generator.opening import open_comparison
from generator.readers.comparison import find_comparisons
from generator.readers.folder import DiskFolder
from generator.readers.limits import Limits
from generator.readers.report import find_errors
from generator.readers.site import read_site


@dataclass(frozen=True)
class Findings:
    """Problems of all files, what each comparison's report lacks, and the slugs that were read."""

    problems: tuple[Problem, ...]
    missing: dict[str, list[str]]
    slugs: tuple[str, ...]


def check_folder(root: Path, limits: Limits, only: str | None = None) -> Findings:
    """Read everything below ``root``, decode every recording and photo, and collect what is wrong and what is missing.

    ``only`` names the one comparison to read, without the others and the site's facts. Nothing is written and nothing
    is kept for later.
    """
    if not root.is_dir():
        raise UsageError(f"there is no folder {root}", "name one with --comparisons, or run stallmark begin NAME")
    problems: list[Problem] = []
    missing: dict[str, list[str]] = {}
    if only is None:
        problems += read_site(DiskFolder(root), limits)[1]
        slugs = find_comparisons(root)
    else:
        slugs = (find_comparison(root, only),)
    for slug in slugs:
        opened = open_comparison(DiskFolder(root / slug), slug, limits, Recall())
        problems += opened.problems
        if opened.comparison is not None:
            missing[slug] = list(opened.comparison.missing)
    return Findings(tuple(problems), missing, slugs)


def find_comparison(root: Path, slug: str) -> str:
    """The slug, if there is a comparison of this name below ``root``."""
    slugs = find_comparisons(root)
    if slug not in slugs:
        fix = f"there are: {', '.join(slugs)}" if slugs else f"run stallmark begin {slug}"
        raise UsageError(f"there is no comparison {slug} in {root}", fix)
    return slug


def evaluate_one(root: Path, slug: str, limits: Limits, cache: Path) -> dict[str, Any]:
    """The results object of one comparison, from its cleaned files as they are on disk."""
    from generator.evaluation.comparison import evaluate
    from generator.inputs import Inputs, make_recall

    inputs = Inputs(root, cache, limits)
    comparison, problems = inputs.check(find_comparison(root, slug))
    if comparison is None:
        raise FileProblems(find_errors(problems))
    return evaluate(comparison, inputs.read(slug), make_recall(cache), limits.draws, limits)
