"""Counts, over many made-up trials, how often intervals hold the truth and calls agree with it."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from generator.analysis.contrast import NO_DIFFERENCE, compare
from generator.analysis.limits import find_limits
from generator.records.findings import Contrast, Measurement
from generator.validation.made_up import FIRST, OTHERS, SECOND, THIRD, Made, Scenario, make_trial


@dataclass
class Tally:
    """Numbers of cases [1]: limits and differences with an interval, those that hold the truth, and calls.

    A bound counts among limits as an interval that is open above, and once more among bounds.

    wrong: the candidate that is not truly better was put ahead, or a difference that matters was denied.
    right: the truly better candidate was put ahead by what matters, or a difference that matters was rightly denied.
    overstated: the truly better was put ahead although the true difference is below what matters.
    """

    comparisons: int = 0
    limits: int = 0
    limits_hold: int = 0
    bounds: int = 0
    bounds_hold: int = 0
    differences: int = 0
    differences_hold: int = 0
    right: int = 0
    wrong: int = 0
    overstated: int = 0

    def count_limit(self, measurement: Measurement | None, truth: float) -> None:
        """Add one candidate's limit."""
        if measurement is None:
            return
        if measurement.at_least is not None:
            self.bounds += 1
            self.bounds_hold += measurement.at_least <= truth
            self.limits += 1
            self.limits_hold += measurement.at_least <= truth
        elif measurement.degrees_of_freedom:
            low, high = measurement.low, measurement.high
            self.limits += 1
            self.limits_hold += (low is None or low <= truth) and (high is None or truth <= high)

    def count_contrast(self, contrast: Contrast, truth: float, matters: float | None) -> None:
        """Add the call of one pair, true difference first minus second."""
        self.comparisons += 1
        if contrast.low is not None and contrast.high is not None:
            self.differences += 1
            self.differences_hold += contrast.low <= truth <= contrast.high
        better = FIRST if truth > 0 else SECOND if truth < 0 else None
        if contrast.ahead is not None:
            self.wrong += contrast.ahead != better
            enough = matters is None or abs(truth) >= matters
            self.right += contrast.ahead == better and enough
            self.overstated += contrast.ahead == better and not enough
        elif contrast.call == NO_DIFFERENCE and matters is not None:
            self.wrong += abs(truth) >= matters
            self.right += abs(truth) < matters


def tally_scenario(scenario: Scenario, difference: float, matters: float | None, comparisons: int, seed: int) -> Tally:
    """Make trials of one scenario and one true difference, and count.

    Parameters
    ----------
    scenario : Scenario
        The bench.
    difference, matters : float
        True difference, and the smallest that matters or None [scatter].
    comparisons : int
        How many trials [1].
    seed : int
        Start of the random numbers, joined with the scenario's name, so that every row repeats by itself.
    """
    name = f"{scenario.id}, difference {difference:g}, matters {matters}"
    random = np.random.default_rng([seed, zlib.crc32(name.encode())])
    tally = Tally()
    for _ in range(comparisons):
        _count(tally, make_trial(scenario, difference, random), matters)
    return tally


def _count(tally: Tally, made: Made, matters: float | None) -> None:
    names = [name for name in (FIRST, SECOND, THIRD, *OTHERS) if name in made.trial.runs or name in made.trial.attempts]
    measurements = find_limits(made.trial, names)
    for name, truth in zip((FIRST, SECOND), made.truth, strict=True):
        tally.count_limit(measurements[name], truth)
    contrasts = compare(made.trial, measurements, None if matters is None else (matters, False))
    tally.count_contrast(contrasts[0], made.difference, matters)
