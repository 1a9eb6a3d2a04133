"""One resonance in a measured density: frequency and damping by likelihood, the half-power width beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.records.signals import Density

REACH = 1.6
"""The fit takes lines from peak/REACH to peak·REACH [1]."""
LEAST_LINES = 12
LEAST_GAIN = 10.0
"""How far the log-likelihood must rise over a flat density before a peak is one [1]."""
MOST_DAMPING = 0.5
LARGEST_DAMPING = 0.9
MOST_STEPS = 100
NORMAL_95 = 1.959964
SMEAR = np.array([1, 4, 1]) / 6
"""What the Hann window does to neighbouring lines of a smooth density [1]."""
ACCELERATION, DISPLACEMENT = "acceleration", "displacement"
Array = NDArray[np.float64]


@dataclass(frozen=True)
class ResonanceFit:
    """frequency [Hz] and damping [1] with standard uncertainties, peak and floor [signal²/Hz] of the fitted response.

    damping's uncertainty is that of its logarithm. lines is the number of lines fitted.
    """

    frequency: float
    damping: float
    frequency_uncertainty: float
    damping_log_uncertainty: float
    peak: float
    floor: float
    gain: float
    lines: int

    def frequency_interval(self) -> tuple[float, float]:
        """95 % interval of the frequency [Hz]."""
        reach = NORMAL_95 * self.frequency_uncertainty
        return self.frequency - reach, self.frequency + reach

    def damping_interval(self) -> tuple[float, float]:
        """95 % interval of the damping ratio [1]."""
        factor = float(np.exp(NORMAL_95 * self.damping_log_uncertainty))
        return self.damping / factor, self.damping * factor


@dataclass(frozen=True)
class HalfPower:
    """Width of a peak at half its height: damping [1] from it, lines inside, and whether it is only an upper bound."""

    damping: float
    lines: int
    at_most: bool


def response(frequency: Array, natural: float, damping: float, form: str = ACCELERATION) -> Array:
    """Squared response of a second-order system, 1/(2·damping)² at its natural frequency [1].

    Parameters
    ----------
    frequency : array [Hz]
    natural : float [Hz]
    damping : float [1]
    form : str
        ``acceleration`` f⁴/((f0² − f²)² + (2ζ·f0·f)²), or ``displacement`` with f0⁴ above the line.

    Source: Inman, Engineering Vibration, base excitation and force response (section from memory).
    """
    above = frequency**4 if form == ACCELERATION else natural**4
    return above / ((natural**2 - frequency**2) ** 2 + (2 * damping * natural * frequency) ** 2)


def fit_resonance(
    density: Density, near: float, left_out: NDArray[np.bool_] | None = None, form: str = ACCELERATION
) -> ResonanceFit | None:
    """Fit a resonance and a flat floor around a peak.

    Parameters
    ----------
    density : Density
        Measured density by Hann segments [signal²/Hz].
    near : float [Hz]
        Where the peak was seen.
    left_out : array of bool (k,) or None
        Lines that take no part (step and tooth tones).
    form : str
        As in ``response``.

    Returns
    -------
    ResonanceFit or None
        None where there are too few lines or no peak stands out.

    Assumes: random excitation, flat around the peak. Each line weighs as much as there are non-overlapping segments
    (duration·resolution). The smearing by the Hann window, of variance 1/3 line², is in the model as (1, 4, 1)/6.
    Source: Whittle 1953, Arkiv för Matematik 2:423 (from memory). Its intervals' coverage is simulated in the tests.
    """
    lines = _lines(density, near, left_out)
    if len(lines) < LEAST_LINES:
        return None
    measured, grid = density.density[lines], _Grid(density, lines, form)
    weight = density.duration * density.resolution
    weight = weight if np.isfinite(weight) else 1.0
    best = _maximise(measured, grid, weight, near)
    flat = weight * float(np.sum(np.log(np.mean(measured)) + measured / np.mean(measured)))
    gain = flat - best[1]
    peak, natural, damping, floor = np.exp(best[0])
    if gain < LEAST_GAIN or damping > MOST_DAMPING or not near / REACH < natural < near * REACH:
        return None
    spread = _spread(best[0], grid, weight)
    return ResonanceFit(
        float(natural), float(damping), float(natural * spread[1]), float(spread[2]), float(peak), float(floor),
        float(gain), len(lines),
    )  # fmt: skip


def find_half_power(density: Density, fit: ResonanceFit) -> HalfPower | None:
    """Damping from the width of the strongest line's peak at half its height; under four lines it is an upper bound."""
    f, p = density.frequency, density.density
    around = np.flatnonzero(np.abs(f - fit.frequency) <= max(3 * fit.damping * fit.frequency, 2 * density.resolution))
    if around.size == 0:
        return None
    top = int(around[np.argmax(p[around])])
    below = np.flatnonzero(p[:top] < p[top] / 2)
    above = np.flatnonzero(p[top:] < p[top] / 2)
    if below.size == 0 or above.size == 0:
        return None
    first, last = int(below[-1]), top + int(above[0])
    width = _crossing(f, p, last, last - 1, p[top] / 2) - _crossing(f, p, first, first + 1, p[top] / 2)
    inside = last - first - 1
    return HalfPower(float(width / (2 * f[top])), inside, inside < 4)


def _crossing(f: Array, p: Array, under: int, over: int, half: float) -> float:
    share = (half - p[under]) / (p[over] - p[under])
    return float(f[under] + share * (f[over] - f[under]))


def _lines(density: Density, near: float, left_out: NDArray[np.bool_] | None) -> NDArray[np.intp]:
    f = density.frequency
    inside = (f >= near / REACH) & (f <= near * REACH) & (f > 0) & (density.density > 0)
    if left_out is not None:
        inside &= ~left_out
    return np.flatnonzero(inside)


class _Grid:
    """The model on the fitted lines, with its window's smearing."""

    def __init__(self, density: Density, lines: NDArray[np.intp], form: str) -> None:
        step = density.resolution
        middle = density.frequency[lines]
        self.around = np.stack([np.maximum(middle - step, step / 2), middle, middle + step])
        self.form = form

    def model(self, logs: Array) -> tuple[Array, Array]:
        """Expected density (lines,), and its slopes (4, lines) over the logarithms of the parameters."""
        peak, natural, damping, floor = np.exp(logs)
        f2, n2 = self.around**2, natural**2
        wide = 4 * damping**2 * n2 * f2
        below = (n2 - f2) ** 2 + wide
        shape = 4 * damping**2 * (f2**2 if self.form == ACCELERATION else n2**2) / below
        by_natural = -shape * (4 * n2 * (n2 - f2) + 2 * wide) / below
        if self.form == DISPLACEMENT:
            by_natural = by_natural + 4 * shape
        by_damping = 2 * shape * (1 - wide / below)
        smeared = [SMEAR @ part for part in (shape, by_natural, by_damping)]
        resonance, by_natural, by_damping = (peak * part for part in smeared)
        slopes = np.stack([resonance, by_natural, by_damping, np.full_like(resonance, floor)])
        return resonance + floor, slopes


def _maximise(measured: Array, grid: _Grid, weight: float, near: float) -> tuple[Array, float]:
    """Logarithms of the likeliest parameters, and their negative log-likelihood: the best of three climbs."""
    top, low = float(np.max(measured)), float(np.quantile(measured, 0.1))
    bounds = np.log([[top * 0.01, near / REACH, 5e-4, low * 1e-4], [top * 50, near * REACH, LARGEST_DAMPING, top * 3]])
    starts = [np.log([top / 2, near, damping, low]) for damping in (0.01, 0.04, 0.15)]
    climbs = [_climb(measured, grid, weight, start, bounds) for start in starts]
    logs, cost = min(climbs, key=lambda climb: climb[1])
    return _polish(measured, grid, logs, bounds), cost


def _polish(measured: Array, grid: _Grid, logs: Array, bounds: Array) -> Array:
    """Go on where the likelihood is too flat to tell, by its slope alone, so that every processor ends at one place."""
    best, moved = logs, 1e-3
    for _ in range(MOST_STEPS):
        model, slopes = grid.model(best)
        relative = slopes / model
        step = np.linalg.solve(relative @ relative.T, relative @ (measured / model - 1))
        tried, size = best + step, float(np.max(np.abs(step)))
        if not size < moved or np.any(tried <= bounds[0]) or np.any(tried >= bounds[1]):
            break
        best, moved = tried, size
    return best


def _climb(measured: Array, grid: _Grid, weight: float, logs: Array, bounds: Array) -> tuple[Array, float]:
    """Fisher scoring on Whittle's likelihood, damped as Levenberg and Marquardt do, within bounds (2, 4)."""
    model, slopes = grid.model(logs)
    cost, damping = _cost(measured, model, weight), 1e-3
    for _ in range(MOST_STEPS):
        relative = slopes / model
        information = relative @ relative.T
        information = information + np.diag(damping * np.diag(information) + 1e-12)
        step = np.linalg.solve(information, relative @ (measured / model - 1))
        tried = np.clip(logs + np.clip(step, -1, 1), bounds[0], bounds[1])
        next_model, next_slopes = grid.model(tried)
        next_cost = _cost(measured, next_model, weight)
        moved = float(np.max(np.abs(tried - logs)))
        if next_cost <= cost:
            logs, cost, model, slopes, damping = tried, next_cost, next_model, next_slopes, damping / 5
        else:
            damping *= 5
        if moved < 1e-7 or damping > 1e9:
            break
    return logs, cost


def _cost(measured: Array, model: Array, weight: float) -> float:
    return weight * float(np.sum(np.log(model) + measured / model))


def _spread(logs: Array, grid: _Grid, weight: float) -> Array:
    """Standard uncertainties of the logarithms, from the expected information of Whittle's likelihood."""
    model, slopes = grid.model(logs)
    relative = slopes / model
    return np.sqrt(np.clip(np.diag(np.linalg.pinv(weight * (relative @ relative.T))), 0, None))
