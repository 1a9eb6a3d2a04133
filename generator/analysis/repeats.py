"""One figure from repeated recordings: mean, scatter and interval, or what a single one allows."""

from __future__ import annotations

import math
from collections.abc import Sequence

from generator.analysis.tinterval import find_mean, find_scatter, find_t_factor
from generator.records.findings import Measurement

RECORDED = "recorded"


def find_repeated(item: str, candidate: str, quantity: str, unit: str, values: Sequence[float]) -> Measurement:
    """Mean of a figure over recordings with its 95 % interval; a single recording has none.

    Parameters
    ----------
    item, candidate, quantity, unit : str
        Names for the measurement.
    values : sequence of float [unit]
        One per recording, at least one.

    Source: Student's interval of a mean, JCGM 100:2008, 4.2 and G.3.
    """
    mean, scatter, count = find_mean(values), find_scatter(values), len(values)
    if scatter is None:
        return Measurement(
            item, candidate, quantity, unit, RECORDED, 1, mean, method=RECORDED,
            basis="a single recording: how repeats scatter is unknown",
        )  # fmt: skip
    uncertainty = scatter / math.sqrt(count)
    half = find_t_factor(count - 1) * uncertainty
    return Measurement(
        item=item,
        candidate=candidate,
        quantity=quantity,
        unit=unit,
        kind=RECORDED,
        count=count,
        estimate=mean,
        standard_uncertainty=uncertainty,
        degrees_of_freedom=count - 1,
        low=mean - half,
        high=mean + half,
        scatter=scatter,
        basis=f"95 % interval of the mean of {count} recordings",
        method=RECORDED,
    )
