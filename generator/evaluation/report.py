"""What a test report carries, as far as the file gives it, and which inputs the figures rest on.

Source: ISO/IEC 17025:2017 clause 7.8.2, value from memory: title, who and where, unique identification, dates,
method, condition of the items, environment, results with units and uncertainty, decision rule, deviations, the
statement that results concern only the items tested, and what came from others.
"""

from __future__ import annotations

from typing import Any

from generator.records.candidate import COMMON, Candidate, Leaf
from generator.records.comparison import Comparison


def report_facts(comparison: Comparison) -> dict[str, Any]:
    """The report's facts by group; what the file does not give is null, and ``missing`` names it in words."""
    return {
        "title": comparison.title,
        "author": comparison.author,
        "date_of_issue": comparison.date,
        "bench": dict(comparison.bench),
        "instruments": comparison.instruments,
        "items": [{"candidate": c.id, "name": c.name} | _item(c) for c in comparison.candidates],
        "interests": comparison.interests,
        "missing": list(comparison.missing),
    }


def _item(candidate: Candidate) -> dict[str, Any]:
    item = candidate.item
    return {
        "obtained": item.obtained,
        "condition": item.condition,
        "units_tested": item.units_tested,
        "hours_run": item.hours_run,
        "price": item.price,
        "currency": item.currency,
        "price_date": item.price_date,
    }


def list_inputs(comparison: Comparison) -> list[dict[str, Any]]:
    """Every figure that the predictions use, per candidate, with tolerance, source and who shares it."""
    return [_input(candidate, leaf) for candidate in comparison.candidates for leaf in candidate.leaves.values()]


def _input(candidate: Candidate, leaf: Leaf) -> dict[str, Any]:
    return {
        "candidate": candidate.id,
        "path": leaf.path,
        "value": leaf.value,
        "unit": leaf.unit,
        "tolerance": leaf.tolerance,
        "tolerance_relative": leaf.tolerance_relative,
        "distribution": leaf.distribution,
        "tolerance_origin": leaf.tolerance_origin,
        "source": leaf.source,
        "origin": leaf.origin,
        "shared": leaf.owner == COMMON,
    }
