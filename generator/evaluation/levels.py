"""Measured levels of a sound item as measurements, and candidates paired speed by speed where there is a series."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

from generator.analysis.levels import UPPER_BOUND
from generator.analysis.repeats import find_repeated
from generator.analysis.tinterval import find_mean, find_scatter
from generator.records.findings import Measurement


def find_level(
    item: str, candidate: str, values: Sequence[float], grades: Sequence[str | None], unit: str
) -> Measurement:
    """Mean of the levels per recording [dB]; an upper bound where the background hides any of them."""
    found = find_repeated(item, candidate, "level", unit, values)
    if UPPER_BOUND not in grades:
        return found
    return replace(
        found,
        kind="upper bound",
        at_most=found.high if found.high is not None else max(values),
        bound_count=len(values),
        estimate=None,
        low=None,
        high=None,
        basis="the background is less than 3 dB below: only an upper bound",
    )


def find_levels(section: Mapping[str, Any], order: Sequence[str]) -> dict[str, Measurement]:
    """Measurements of a sound section by candidate, in the given order [dB]."""
    grades = {level["candidate"]: level["grades"] for level in section["levels"]}
    values = section["values"]
    return {c: find_level(section["id"], c, values[c], grades[c], section["unit"]) for c in order if c in values}


def average_energetically(measured: Mapping[str, Measurement], section: Mapping[str, Any]) -> list[Measurement]:
    """Measurements as the page prints them: levels are averaged energetically, only their differences are not."""
    levels = {level["candidate"]: level for level in section["levels"]}
    return [
        found
        if found.estimate is None
        else replace(
            found,
            **{"estimate": levels[candidate]["level"], **{end: levels[candidate][end] for end in ("low", "high")}},
            basis=found.basis.replace("the mean", "the energetic mean"),
        )
        for candidate, found in measured.items()
    ]


def pair_speeds(section: Mapping[str, Any], order: Sequence[str]) -> list[dict[str, Measurement]]:
    """Every two candidates of a series, compared at the speeds that both have.

    Parameters
    ----------
    section : mapping
        A sound section with ``series``.
    order : sequence of str
        Candidates in file order.

    Returns
    -------
    list of dict
        Two measurements each, whose pooled scatter and degrees of freedom are those of the paired differences: the
        rise of the level with speed is in both and drops out.

    Source: paired comparison, JCGM 100:2008, H.5 in its simplest form.
    """
    curves = {s["candidate"]: dict(zip(s["speed"], s["level"], strict=True)) for s in section["series"]}
    present = [candidate for candidate in order if candidate in curves]
    return [_pair(section, curves, first, second) for first, second in combinations(present, 2)]


def _pair(
    section: Mapping[str, Any], curves: Mapping[str, Mapping[float, float]], first: str, second: str
) -> dict[str, Measurement]:
    common = [speed for speed in curves[first] if speed in curves[second]]
    if not common:
        return {}
    scatter = find_scatter([curves[first][speed] - curves[second][speed] for speed in common])
    names = [Measurement(section["id"], c, "level", section["unit"], "recorded", len(common)) for c in (first, second)]
    return {
        each.candidate: replace(
            each,
            estimate=find_mean([curves[each.candidate][speed] for speed in common]),
            # two sides of equal scatter s/√2 and half the freedom pool to the paired difference's own
            scatter=None if scatter is None else scatter / math.sqrt(2),
            degrees_of_freedom=None if scatter is None else (len(common) - 1) / 2,
            method="recorded",
        )
        for each in names
    }
