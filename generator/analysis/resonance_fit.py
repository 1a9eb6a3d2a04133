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
NORMAL_95 = 1.959964
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
        self.middle = density.frequency[lines]
        self.around = (np.maximum(self.middle - step, step / 2), self.middle, self.middle + step)
        self.form = form

    def log_model(self, logs: Array) -> Array:
        """Logarithm of the expected density from the logarithms of peak, frequency, damping, floor."""
        peak, natural, damping, floor = np.exp(logs)
        before, at, after = (response(f, natural, damping, self.form) for f in self.around)
        return np.log(peak * 4 * damping**2 * (before + 4 * at + after) / 6 + floor)


def _maximise(measured: Array, grid: _Grid, weight: float, near: float) -> tuple[Array, float]:
    """Logarithms of the likeliest parameters, and their negative log-likelihood."""
    from scipy.optimize import minimize

    def cost(logs: Array) -> float:
        model = grid.log_model(logs)
        return weight * float(np.sum(model + measured * np.exp(-model)))

    top, low = float(np.max(measured)), float(np.quantile(measured, 0.1))
    bounds = [
        (np.log(top) - 5, np.log(top) + 4),
        (np.log(near / REACH), np.log(near * REACH)),
        (np.log(5e-4), np.log(0.9)),
        (np.log(low) - 8, np.log(top) + 1),
    ]
    starts = [np.log([top / 2, near, damping, low]) for damping in (0.01, 0.04, 0.15)]
    runs = [minimize(cost, start, method="L-BFGS-B", bounds=bounds) for start in starts]
    best = min(runs, key=lambda run: float(run.fun))
    return best.x, float(best.fun)


def _spread(logs: Array, grid: _Grid, weight: float) -> Array:
    """Standard uncertainties of the logarithms, from the expected information of Whittle's likelihood."""
    step = 1e-5
    slopes = [
        (grid.log_model(logs + step * unit) - grid.log_model(logs - step * unit)) / (2 * step) for unit in np.eye(4)
    ]
    information = weight * np.array([[np.sum(a * b) for b in slopes] for a in slopes])
    return np.sqrt(np.clip(np.diag(np.linalg.pinv(information)), 0, None))
