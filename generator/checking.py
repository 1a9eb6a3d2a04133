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


def check_folder(root: Path, limits: Limits) -> Findings:
    """Read everything below ``root``, decode every recording and photo, and collect what is wrong and what is missing.

    Nothing is written and nothing is kept for later.
    """
    if not root.is_dir():
        raise UsageError(f"there is no folder {root}", "name one with --comparisons, or run stallmark begin NAME")
    problems = list(read_site(DiskFolder(root), limits)[1])
    missing: dict[str, list[str]] = {}
    slugs = find_comparisons(root)
    for slug in slugs:
        opened = open_comparison(DiskFolder(root / slug), slug, limits, Recall())
        problems += opened.problems
        if opened.comparison is not None:
            missing[slug] = list(opened.comparison.missing)
    return Findings(tuple(problems), missing, slugs)


def evaluate_one(root: Path, slug: str, limits: Limits, cache: Path) -> dict[str, Any]:
    """The results object of one comparison, from its cleaned files as they are on disk."""
    from generator.evaluation.comparison import evaluate
    from generator.inputs import Inputs, make_recall

    if slug not in find_comparisons(root):
        raise UsageError(f"there is no comparison {slug} in {root}", f"there are: {', '.join(find_comparisons(root))}")
    inputs = Inputs(root, cache, limits)
    comparison, problems = inputs.check(slug)
    if comparison is None:
        raise FileProblems(find_errors(problems))
    return evaluate(comparison, inputs.read(slug), make_recall(cache), limits.draws, limits)
