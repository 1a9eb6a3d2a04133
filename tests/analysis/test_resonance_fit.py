"""A resonance recovered from the density of a simulated oscillator, and what its intervals are worth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import bilinear, lfilter, welch

from generator.analysis.density import find_density
from generator.analysis.resonance_fit import (
    DISPLACEMENT,
    find_half_power,
    fit_resonance,
    response,
)
from generator.analysis.vibration import find_peak, find_spectrum, find_trace, near_tones
from generator.records.signals import Acceleration, Density

RATE = 1000.0


def oscillator(seconds: float, natural: float, damping: float, seed: int, noise: float = 0.05) -> np.ndarray:
    """Acceleration of a mass on a spring under white force, by bilinear transform with its pole on its frequency."""
    rng = np.random.default_rng(seed)
    speed = 2 * np.pi * natural
    above, below = bilinear([1, 0, 0], [1, 2 * damping * speed, speed**2], fs=speed / np.tan(speed / 2 / RATE) / 2)
    force = rng.normal(size=round((seconds + 2) * RATE))
    return lfilter(above, below, force)[round(2 * RATE) :] + noise * rng.normal(size=round(seconds * RATE))


def trace(*arguments: float, **more: float) -> Acceleration:
    return Acceleration("a.csv", RATE, oscillator(*arguments, **more))  # type: ignore[arg-type]


# --- the response itself --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("damping", "low", "high"),
    [(0.01, 0.989848978, 1.009850979), (0.05, 0.946110500, 1.046362710), (0.1, 0.883743465, 1.085816507)],
)
def test_displacement_form_has_the_textbook_half_power_points(damping: float, low: float, high: float) -> None:
    # r² = 1 − 2ζ² ∓ 2ζ√(1 − ζ²), relative to the true peak 1/(4ζ²(1 − ζ²))
    points = response(np.array([low, high]), 1.0, damping, DISPLACEMENT)

    np.testing.assert_allclose(points, 0.5 / (4 * damping**2 * (1 - damping**2)), rtol=1e-7)


def test_forms_agree_at_the_natural_frequency_and_part_beside_it() -> None:
    assert response(np.array([50.0]), 50.0, 0.02) == pytest.approx(1 / (4 * 0.02**2))
    ratio = response(np.array([40.0, 60.0]), 50.0, 0.02) / response(np.array([40.0, 60.0]), 50.0, 0.02, DISPLACEMENT)
    np.testing.assert_allclose(ratio, [0.8**4, 1.2**4])


# --- recovery -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("natural", "damping"), [(40.0, 0.02), (62.0, 0.03), (85.0, 0.06), (130.0, 0.015)])
def test_long_trace_gives_frequency_and_damping(natural: float, damping: float) -> None:
    fit = find_trace(trace(120, natural, damping, seed=1)).fit

    assert fit is not None
    assert fit.frequency == pytest.approx(natural, rel=0.005)
    assert fit.damping == pytest.approx(damping, rel=0.12)


def test_smooth_density_gives_its_own_parameters() -> None:
    # no randomness: the model, smeared by the Hann window as computed from its transform on a fine grid
    step, fine = 0.5, 0.01
    grid = np.arange(0.01, 400, fine)
    exact = 0.7 * response(grid, 60.0, 0.03) * 4 * 0.03**2 + 0.002
    offset = np.arange(-8, 8, fine / step)
    window = (np.sinc(offset) / (1 - np.where(np.abs(np.abs(offset) - 1) < 1e-9, 0.999999, offset) ** 2)) ** 2
    smeared = np.convolve(exact, window / window.sum(), mode="same")
    lines = np.arange(1, 700) * step
    density = Density(lines, np.interp(lines, grid, smeared), 50.0, 100.0)

    fit = fit_resonance(density, 60.0)

    assert fit is not None
    assert (fit.frequency, fit.damping, fit.peak, fit.floor) == pytest.approx((60.0, 0.03, 0.7, 0.002), rel=0.01)


def test_intervals_cover() -> None:
    inside_frequency = inside_damping = 0
    for seed in range(120):
        fit = find_trace(trace(8, 62.0, 0.03, seed=100 + seed)).fit
        assert fit is not None
        low, high = fit.frequency_interval()
        inside_frequency += low < 62.0 < high
        low, high = fit.damping_interval()
        inside_damping += low < 0.03 < high

    # 95 % wanted; 120 draws scatter by 2 %
    assert inside_frequency / 120 > 0.88
    assert inside_damping / 120 > 0.88


def test_wrong_form_shifts_frequency_up_and_damping_down() -> None:
    found = [find_trace(trace(60, 60.0, 0.05, seed=s)) for s in range(4)]

    shifts = [f.displacement.frequency / f.fit.frequency - 1 for f in found if f.fit and f.displacement]
    ratios = [f.displacement.damping / f.fit.damping - 1 for f in found if f.fit and f.displacement]
    assert len(shifts) == 4
    assert 0.005 < np.mean(shifts) < 0.06 and -0.4 < np.mean(ratios) < -0.02


def test_white_noise_has_no_peak() -> None:
    rng = np.random.default_rng(5)

    found = [find_trace(Acceleration("a", RATE, rng.normal(size=6000))).fit for _ in range(30)]

    assert sum(fit is not None for fit in found) <= 2


# --- beside the fit -------------------------------------------------------------------------------------------------


def test_half_power_width_is_a_cross_check() -> None:
    found = find_trace(trace(200, 60.0, 0.05, seed=3))

    assert found.half_power is not None and not found.half_power.at_most
    assert found.half_power.damping == pytest.approx(0.05, rel=0.35)


def test_narrow_peak_is_at_most() -> None:
    found = find_density(oscillator(4, 60.0, 0.005, 3), RATE, 500)
    fit = fit_resonance(found, 60.0)
    assert fit is not None

    half = find_half_power(found, fit)

    assert half is not None and half.at_most and half.damping > 0.005


def test_predicted_tones_take_no_part() -> None:
    time = np.arange(20_000) / RATE
    samples = oscillator(20, 62.0, 0.03, 9) + 3 * np.sin(2 * np.pi * 75 * time)

    fooled = find_trace(Acceleration("a", RATE, samples))
    told = find_trace(Acceleration("a", RATE, samples), tones=[75.0])

    assert told.fit is not None and told.fit.frequency == pytest.approx(62.0, abs=1.0)
    assert told.left_out == (75.0,)
    assert fooled.fit is None or abs(fooled.fit.frequency - 75) < abs(told.fit.frequency - 75)


def test_lines_near_a_tone() -> None:
    density = Density(np.arange(100.0), np.ones(100), 10, 10)

    assert np.flatnonzero(near_tones(density, [50.2])).tolist() == [47, 48, 49, 50, 51, 52, 53]
    assert find_peak(density, 200, 300, np.zeros(100, dtype=bool)) is None


def test_rms_in_a_band_equals_the_sine_in_it() -> None:
    time = np.arange(10_000) / RATE
    samples = 3 * np.sin(2 * np.pi * 60 * time) + 5 * np.sin(2 * np.pi * 250 * time)

    found = find_trace(Acceleration("a", RATE, samples), band=(10.0, 200.0))

    assert found.rms == pytest.approx(3 / np.sqrt(2), rel=1e-4)
    assert found.band == (10.0, 200.0)


def test_ready_spectrum_gives_the_same_peak_without_an_interval() -> None:
    samples = oscillator(60, 62.0, 0.03, 11)
    frequency, density = welch(samples, RATE, nperseg=2000)

    found = find_spectrum(Density(frequency, density, float("nan"), float("nan")))

    assert found.interval is None and found.fit is not None
    assert found.fit.frequency == pytest.approx(62.0, rel=0.01)


@pytest.mark.parametrize(("damping", "lines"), [(0.05, None), (0.01, 3.0), (0.002, None)])
def test_a_narrow_peak_is_looked_at_with_finer_lines(damping: float, lines: float | None) -> None:
    """First segments of 2 s, then three lines over the width 2ζf, or as many as a third of the trace allows."""
    found = find_trace(trace(24, 60.0, damping, seed=5))
    first = find_spectrum(find_density(trace(24, 60.0, damping, seed=5).samples, RATE, int(2 * RATE)))

    assert first.fit is not None
    width = 2 * first.fit.damping * first.fit.frequency
    if damping == 0.05:
        assert found.density.resolution == pytest.approx(first.density.resolution)
    elif lines:
        assert found.density.resolution / first.density.resolution == pytest.approx(2 * width / lines, rel=0.01)
    else:
        assert found.density.resolution / first.density.resolution == pytest.approx(2 / 8)
