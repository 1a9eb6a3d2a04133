"""Scales: a range of figures, its round ticks and where a figure lies in it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from generator.units import find_display, format_stated


@dataclass(frozen=True)
class Scale:
    """low and high [SI] at the two ends, the ticks [SI], whether it is logarithmic, and the unit that labels show."""

    low: float
    high: float
    ticks: tuple[float, ...] = ()
    logarithmic: bool = False
    unit: str = "1"

    def share(self, values: ArrayLike) -> NDArray[np.float64]:
        """Where values lie: 0 at low, 1 at high; NaN for what a logarithmic scale cannot hold."""
        figures = np.asarray(values, dtype=float)
        if not self.logarithmic:
            return (figures - self.low) / (self.high - self.low)
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = np.log(figures / self.low) / math.log(self.high / self.low)
        return np.where(np.isfinite(shares), shares, np.nan)

    def labels(self) -> tuple[str, ...]:
        """Text of each tick, with equal decimals on a linear scale."""
        ticks = [find_display(self.unit).show(tick) for tick in self.ticks]
        if self.logarithmic:
            return tuple(_power_text(tick) for tick in ticks)
        if len(ticks) < 2:
            return tuple(format_stated(tick, "1") for tick in ticks)
        step = abs(ticks[1] - ticks[0])
        decimals = max(0, -math.floor(math.log10(step) + 1e-9))
        decimals += round(step * 10**decimals, 6) % 1 != 0
        return tuple(f"{round(tick, 9) + 0.0:.{decimals}f}".replace("-", "\u2212") for tick in ticks)


def _power_text(value: float) -> str:
    """A tick of a logarithmic scale: a plain figure, or a power of ten where that would be long."""
    exponent = round(math.log10(value))
    if 1e-2 <= value < 1e5 or abs(value / 10.0**exponent - 1) > 1e-6:
        return format_stated(value, "1")
    return "10" + str(exponent).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def find_range(*groups: Iterable[float | None]) -> tuple[float, float] | None:
    """Smallest and largest finite figure of all groups; None where there is none."""
    figures = [float(value) for group in groups for value in group if value is not None and math.isfinite(value)]
    return (min(figures), max(figures)) if figures else None


def _round_step(raw: float) -> float:
    """The smallest of 1, 2, 2.5, 5 times a power of ten that is at least raw."""
    power = 10.0 ** math.floor(math.log10(raw))
    return next(factor * power for factor in (1, 2, 2.5, 5, 10) if factor * power >= raw * (1 - 1e-9))


def _widened(low: float, high: float) -> tuple[float, float]:
    """The range itself, or one around a single figure."""
    size = max(abs(low), abs(high))
    if size > 1e-30 and high - low > 1e-9 * size:
        return low, high
    reach = size / 2 if size > 1e-30 else 1.0
    return low - reach, high + reach


def linear_scale(low: float, high: float, count: int = 6, *, exact: bool = False, unit: str = "1") -> Scale:
    """A scale with at most about ``count`` round ticks; it ends on ticks, or at low and high where ``exact``."""
    low, high = _widened(low, high)
    step = _round_step((high - low) / count)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    ticks = tuple(float(f"{index * step:.12g}") for index in range(first, last + 1))
    if not exact:
        return Scale(ticks[0], ticks[-1], ticks, unit=unit)
    slack = (high - low) * 1e-9
    return Scale(low, high, tuple(tick for tick in ticks if low - slack <= tick <= high + slack), unit=unit)


def log_scale(
    low: float, high: float, factors: Sequence[float] = (1, 2, 5), *, exact: bool = False, unit: str = "1"
) -> Scale:
    """A logarithmic scale over positive figures with ticks at the factors times powers of ten."""
    low, high = (low, high) if high > low * 1.2 else (low / 2, high * 2)
    decades = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 2)
    marks = sorted(round(factor * 10.0**decade, 12) for decade in decades for factor in factors)
    if not exact:
        low = max(mark for mark in marks if mark <= low * (1 + 1e-9))
        high = min(mark for mark in marks if mark >= high * (1 - 1e-9))
    ticks = tuple(mark for mark in marks if low * (1 - 1e-9) <= mark <= high * (1 + 1e-9))
    return Scale(low, high, ticks, logarithmic=True, unit=unit)
