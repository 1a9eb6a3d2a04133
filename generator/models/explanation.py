"""Owns what would explain a measurement outside its corridor: each cause searched only in its plausible range.

A measurement above the corridor asks what would raise the static line to its near end, one below what would lower
the any-timing line to it. One cause at a time, everything else as stated.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from generator.models.calibration import scale_current, scale_mass, scale_torque, solve_nearest
from generator.models.envelope import predict_lines
from generator.records.findings import Measurement
from generator.records.hardware import Setup, Value
from generator.records.simulation import Explanation
from generator.records.trial import Trial

HOTTEST_WINDING = 393.15
"""120 °C [K]: near the limit of the usual insulation (class B, 130 °C; IEC 60085)."""
LARGEST_SAG = 0.2
"""Share of the supply's voltage that may be missing under load [1]; common practice, no source."""

_NO_EFFECT = 1e-9
_POINTS = 9


@dataclass(frozen=True)
class Cause:
    """One way in which an input may differ from what is stated.

    name as pages print it; unit; read gives the stated value; apply puts another one in; low and high are the ends
    of the plausible range, as factors on the stated value or, where absolute, as values.
    """

    name: str
    unit: str
    read: Callable[[Setup], float]
    apply: Callable[[Setup, Any], Setup]
    low: float
    high: float
    absolute: bool = False

    def range(self, setup: Setup) -> tuple[float, float, float]:
        """Stated value, lower and upper end of the range [unit]."""
        stated = self.read(setup)
        if self.absolute:
            return stated, min(self.low, stated), max(self.high, stated)
        return stated, stated * self.low, stated * self.high


def _set_current(setup: Setup, value: Value) -> Setup:
    return scale_current(setup, value / float(setup.drive.current_peak))


def _set_mass_factor(setup: Setup, value: Value) -> Setup:
    return scale_mass(setup, value)


def _heat_winding(setup: Setup, value: Value) -> Setup:
    motors = tuple(dataclasses.replace(motor, winding_temperature=value) for motor in setup.motors)
    return dataclasses.replace(setup, motors=motors)


def _set_sine_factor(setup: Setup, value: Value) -> Setup:
    return dataclasses.replace(setup, drive=dataclasses.replace(setup.drive, sine_factor=value))


def _set_voltage(setup: Setup, value: Value) -> Setup:
    return dataclasses.replace(setup, supply=dataclasses.replace(setup.supply, voltage=value))


def _current(setup: Setup) -> float:
    return float(setup.drive.current_peak)


def _temperature(setup: Setup) -> float:
    return float(setup.motors[0].winding_temperature)


CAUSES = (
    Cause("RMS current taken for peak", "A", _current, _set_current, 1.0, math.sqrt(2)),
    Cause("peak current taken for RMS", "A", _current, _set_current, math.sqrt(0.5), 1.0),
    Cause("hot winding", "K", _temperature, _heat_winding, HOTTEST_WINDING, HOTTEST_WINDING, absolute=True),
    Cause("moving mass", "1", lambda _: 1.0, _set_mass_factor, 0.7, 1.3),
    Cause("wave shape (k_v)", "1", lambda s: float(s.drive.sine_factor), _set_sine_factor, 1.0, 4 / math.pi, True),
    Cause("motor torque", "1", lambda _: 1.0, scale_torque, 0.5, 1.5),
    Cause("supply sag", "V", lambda s: float(s.supply.voltage), _set_voltage, 1 - LARGEST_SAG, 1.0),
)
"""What may be wrong, with its plausible range; ties in plausibility keep this order."""


def find_target(lines: Mapping[str, Any], measurement: Measurement) -> tuple[str, float] | None:
    """The line that a measurement lies beyond and the near end of what was measured; None inside the corridor."""
    low = measurement.low if measurement.low is not None else measurement.at_least
    high = measurement.high if measurement.high is not None else measurement.at_most
    if low is not None and low > lines["static"]:
        return "static", low
    if high is not None and high < lines["any_timing"]:
        return "any_timing", high
    return None


def explain_measurement(
    setup: Setup, trial: Trial, measurement: Measurement, causes: Sequence[Cause] = CAUSES
) -> tuple[Explanation, ...]:
    """Each candidate cause of a measurement outside its corridor, the most plausible first.

    Parameters
    ----------
    setup : Setup
        The candidate at its nominal values.
    trial : Trial
        Its trial.
    measurement : Measurement
        Its measured limit [m/s² or m/s].
    causes : sequence of Cause
        Each with its range.

    Returns
    -------
    tuple of Explanation
        Empty inside the corridor of the nominal lines. Those that explain come first, ordered by how much of their
        range the needed value takes; then those that do not within their range; last those without effect there.

    Assumes: one cause at a time.
    Checked in tests/models/test_explanation.py.
    """
    target = find_target(predict_lines(setup, trial).limits, measurement)
    if target is None:
        return ()
    found = [_try_cause(setup, trial, cause, *target) for cause in causes]
    return tuple(sorted(found, key=_plausibility))


def _try_cause(setup: Setup, trial: Trial, cause: Cause, line: str, wanted: float) -> Explanation:
    """Search one cause in its range, from the stated value to either end."""
    stated, low, high = cause.range(setup)

    def missing(values: Any) -> Any:
        return np.asarray(predict_lines(cause.apply(setup, values), trial, (line,)).limits[line]) - wanted

    ends = [end for end in (low, high) if end != stated]
    found = [(end, solve_nearest(missing, stated, end)) for end in ends]
    shares = [(abs(value - stated) / abs(end - stated), value) for end, value in found if value is not None]
    share, needed = min(shares, default=(None, None))
    return Explanation(
        trial=trial.id,
        candidate=setup.candidate,
        line=line,
        cause=cause.name,
        unit=cause.unit,
        stated=stated,
        low=low,
        high=high,
        needed=needed,
        has_effect=any(_moves(missing, stated, end, wanted) for end in ends),
        share=share,
    )


def _moves(missing: Callable[[Any], Any], stated: float, end: float, wanted: float) -> bool:
    """Whether a line moves at all on the way to an end of the range."""
    values = missing(np.linspace(stated, end, _POINTS))
    return bool(np.max(np.abs(values - missing(stated))) > _NO_EFFECT * abs(wanted))


def _plausibility(explanation: Explanation) -> tuple[int, float]:
    """Sort key: explaining causes by their share of the range, then the insufficient, then those without effect."""
    if explanation.share is not None:
        return 0, explanation.share
    return (1, 0.0) if explanation.has_effect else (2, 0.0)
