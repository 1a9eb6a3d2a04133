"""Measurement beside prediction: where the measured limit lies among the three predicted lines."""

from __future__ import annotations

from generator.records.findings import Agreement, Measurement, Prediction, Spread

INSIDE = "inside corridor"
BETWEEN = "between any-timing and start"
ABOVE = "above static limit"
BELOW = "below any-timing limit"
ONLY_LOWER = "only a lower bound"
ONLY_UPPER = "only an upper bound"
TOO_WIDE = "too wide to place"


def find_agreement(prediction: Prediction, measurement: Measurement) -> Agreement | None:
    """Find the place of a measured limit in its predicted corridor, judged by both intervals.

    Parameters
    ----------
    prediction : Prediction
        Static, start and any-timing limits with the interval of their draws [unit].
    measurement : Measurement
        Of the same trial and candidate [unit].

    Returns
    -------
    Agreement or None
        ratio is estimate over nominal static limit [1], for reading only. None where nothing is predicted or the
        runs settle on nothing.

    Assumes: the nominal figure stands for a line that has no draws.
    """
    nominal = prediction.static.nominal
    if nominal is None:
        return None
    low, high = _ends(measurement)
    if low is None and high is None:
        return None
    place, reason = _place(prediction, measurement, low, high)
    ratio = None if measurement.estimate is None or nominal == 0 else measurement.estimate / nominal
    return Agreement(prediction.trial, prediction.candidate, ratio, place, reason)


def _ends(measurement: Measurement) -> tuple[float | None, float | None]:
    """Lowest and highest value that the measurement allows [unit]; None where open."""
    if measurement.kind == "lower bound":
        return measurement.at_least, None
    if measurement.kind == "upper bound":
        return None, measurement.at_most
    return measurement.low, measurement.high


def _low(line: Spread) -> float | None:
    return line.nominal if line.low is None else line.low


def _high(line: Spread) -> float | None:
    return line.nominal if line.high is None else line.high


def _place(prediction: Prediction, measurement: Measurement, low: float | None, high: float | None) -> tuple[str, str]:
    static_high, any_low, start_low = _high(prediction.static), _low(prediction.any_timing), _low(prediction.start)
    what = "bracket of the one run" if measurement.count == 1 else "measured interval"
    if low is not None and static_high is not None and low > static_high:
        return ABOVE, f"the {what} lies wholly above what the static limit allows"
    if high is not None and any_low is not None and high < any_low:
        return BELOW, f"the {what} lies wholly below what the any-timing limit allows"
    if measurement.kind == "lower bound":
        return ONLY_LOWER, "steps were never lost, so the limit may lie anywhere above"
    if measurement.kind == "upper bound":
        return ONLY_UPPER, "steps were lost at once, so the limit may lie anywhere below"
    if None not in (low, high, any_low, static_high) and low <= any_low and high >= static_high:  # type: ignore[operator]
        return TOO_WIDE, f"the {what} spans the whole corridor, so it agrees with anything"
    if high is not None and start_low is not None and high < start_low:
        return BETWEEN, f"the {what} lies wholly below what the start limit allows, not below the any-timing limit"
    return INSIDE, f"the {what} reaches into the corridor from start to static limit"
