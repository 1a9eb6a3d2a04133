"""Spectral density against scipy, Parseval, and the densities of sines and white noise."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import welch

from generator.analysis.density import band_power, density_interval, effective_averages, find_density, find_floor


@pytest.mark.parametrize("count", [1000, 1499, 1500, 20_000])
@pytest.mark.parametrize("segment", [256, 1000])
def test_equals_scipy(count: int, segment: int) -> None:
    samples = np.random.default_rng(1).normal(size=count) + 0.3

    found = find_density(samples, 500.0, segment)

    frequency, expected = welch(samples, 500.0, nperseg=segment)
    np.testing.assert_allclose(found.frequency, frequency)
    np.testing.assert_allclose(found.density, expected, rtol=1e-9, atol=1e-15)


def test_single_precision_equals_double() -> None:
    samples = np.random.default_rng(2).normal(size=200_000)

    double, single = (find_density(samples.astype(kind), 48e3, 4800).density for kind in (np.float64, np.float32))

    np.testing.assert_allclose(single[1:], double[1:], rtol=1e-4)


@pytest.mark.parametrize("frequency", [100.0, 100.3])
def test_sine_has_half_its_squared_amplitude(frequency: float) -> None:
    # A = 3: A²/2 = 4.5; on a line the Hann density is 4.5 over 1.5 lines = 3.000, between lines 2.669 (scipy)
    time = np.arange(100_000) / 1000

    found = find_density(3 * np.sin(2 * np.pi * frequency * time), 1000.0, 1000)

    assert np.sum(found.density) * found.resolution == pytest.approx(4.5, rel=1e-4)
    assert np.max(found.density) == pytest.approx(3.0 if frequency == 100.0 else 2.669387, rel=1e-4)


def test_white_noise_density() -> None:
    # one-sided density 2σ²/rate: σ = 2, rate = 1000: 0.008
    samples = 2 * np.random.default_rng(12345).normal(size=1_000_000)

    found = find_density(samples, 1000.0, 1000)

    assert np.mean(found.density[2:-2]) == pytest.approx(0.008, rel=0.003)


def test_segment_powers_average_to_the_whole() -> None:
    samples = np.random.default_rng(3).normal(size=9000)
    weights = np.linspace(0, 1, 501) ** 2

    found = find_density(samples, 1000.0, 1000, weights)

    assert found.powers is not None and len(found.powers) == 17
    assert np.mean(found.powers) == pytest.approx(np.sum(weights * found.density) * found.resolution, rel=1e-9)


def test_hundred_half_overlapping_segments_act_as_95() -> None:
    # squared correlation of neighbours 1/36: 100/1.055 = 94.787
    assert effective_averages(100) == pytest.approx(94.787, abs=1e-3)
    assert effective_averages(1) == 1


@pytest.mark.parametrize(
    ("averages", "low", "high"),
    [(1, 0.271085, 39.4979), (10, 0.585315, 2.085337), (100, 0.829676, 1.229045), (400, 0.908807, 1.105717)],
)
def test_interval_factors(averages: float, low: float, high: float) -> None:
    # χ² quantiles by scipy.stats.chi2, 2·averages degrees of freedom
    assert density_interval(averages) == pytest.approx((low, high), rel=1e-5)


def test_density_interval_covers() -> None:
    rng = np.random.default_rng(6)
    inside = []
    for _ in range(60):
        found = find_density(rng.normal(size=4500), 1000.0, 1000)
        low, high = density_interval(found.averages)
        lines = found.density[5:-5:7]
        inside.append(np.mean((lines * low < 0.002) & (lines * high > 0.002)))

    assert np.mean(inside) == pytest.approx(0.95, abs=0.015)


def test_band_power_splits_lines_at_its_edges() -> None:
    found = find_density(np.random.default_rng(7).normal(size=5000), 1000.0, 1000)
    whole = np.sum(found.density) * found.resolution
    edges = np.array([0.0, 10.25, 77.1, 300.9, 500.5])

    parts = band_power(found, edges[:-1], edges[1:])

    # the line at zero counts by its upper half alone, and holds nothing
    assert np.sum(parts) == pytest.approx(whole, rel=1e-9)
    assert band_power(found, 100.0, 100.25) == pytest.approx(0.25 * found.density[100], rel=1e-9)


def test_floor_passes_under_tones() -> None:
    time = np.arange(20_000) / 2000
    samples = np.random.default_rng(8).normal(size=20_000) + 5 * np.sin(2 * np.pi * 300 * time)
    found = find_density(samples, 2000.0, 2000)

    floor = find_floor(found.frequency, found.density)

    np.testing.assert_allclose(floor[20:], 0.001, rtol=0.2)
