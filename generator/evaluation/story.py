"""The verdict: every item's call under the stated weights, and the one answer sentence."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from generator.analysis import verdict
from generator.evaluation.wording import describe_items
from generator.records.comparison import Comparison
from generator.records.findings import Contrast, Verdict


def find_story(comparison: Comparison, contrasts: Sequence[Contrast], measured: Collection[str]) -> Verdict:
    """The verdict over all items of the comparison, in file order."""
    names = {candidate.id: candidate.name for candidate in comparison.candidates}
    descriptions = describe_items(comparison)
    return verdict.find_verdict(names, list(descriptions), contrasts, comparison.weights, descriptions, measured)
