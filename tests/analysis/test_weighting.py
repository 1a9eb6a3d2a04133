"""A-weighting and one-third-octave bands against the tables of IEC 61672-1 and IEC 61260-1."""

from __future__ import annotations

import numpy as np
import pytest

from generator.analysis.bands import band_powers, third_octave_bands
from generator.analysis.density import find_density
from generator.analysis.weighting import a_weighting, a_weighting_power

# nominal frequency, exact mid-band, A-weighting in dB: IEC 61672-1 (nominal A, as mosqito's table credits it) and
# IEC 61260-1 base 10 (exact mid-bands computed from 10^(x/10))
TABLE = [
    (20, 19.953, -50.5), (25, 25.119, -44.7), (31.5, 31.623, -39.4), (40, 39.811, -34.6), (50, 50.119, -30.2),
    (63, 63.096, -26.2), (80, 79.433, -22.5), (100, 100.000, -19.1), (125, 125.893, -16.1), (160, 158.489, -13.4),
    (200, 199.526, -10.9), (250, 251.189, -8.6), (315, 316.228, -6.6), (400, 398.107, -4.8), (500, 501.187, -3.2),
    (630, 630.957, -1.9), (800, 794.328, -0.8), (1000, 1000.000, 0.0), (1250, 1258.925, 0.6), (1600, 1584.893, 1.0),
    (2000, 1995.262, 1.2), (2500, 2511.886, 1.3), (3150, 3162.278, 1.2), (4000, 3981.072, 1.0), (5000, 5011.872, 0.5),
    (6300, 6309.573, -0.1), (8000, 7943.282, -1.1), (10000, 10000.000, -2.5), (12500, 12589.254, -4.3),
    (16000, 15848.932, -6.6), (20000, 19952.623, -9.3),
]  # fmt: skip


def test_nominal_weights_and_mid_bands() -> None:
    nominal, middle, weight = np.array(TABLE).T

    bands = third_octave_bands()

    np.testing.assert_allclose(bands.nominal, nominal, rtol=1e-9)
    np.testing.assert_allclose(bands.middle, middle, atol=5e-4)
    np.testing.assert_array_equal(np.round(a_weighting(bands.middle), 1) + 0.0, weight)


@pytest.mark.parametrize(("frequency", "weight"), [(10.0, -70.4), (12.589254, -63.4), (15.848932, -56.7)])
def test_weights_below_the_reported_bands(frequency: float, weight: float) -> None:
    assert round(float(a_weighting(frequency)), 1) == weight


def test_weight_of_still_air_is_zero() -> None:
    assert a_weighting_power(0.0) == 0.0
    assert a_weighting_power(1000.0) == pytest.approx(1.0)


def test_bands_join_and_ten_make_a_decade() -> None:
    bands = third_octave_bands()

    np.testing.assert_allclose(bands.high[:-1], bands.low[1:], rtol=1e-12)
    np.testing.assert_allclose(bands.middle[10:] / bands.middle[:-10], 10, rtol=1e-12)
    np.testing.assert_allclose(bands.high / bands.low, 1.258925, rtol=1e-6)


def test_bands_end_below_half_the_sample_rate() -> None:
    assert third_octave_bands(12_000).nominal[-1] == 10_000


def test_sine_lies_in_its_band_alone() -> None:
    time = np.arange(10 * 48_000) / 48_000
    bands = third_octave_bands(24_000)
    density = find_density(np.sin(2 * np.pi * 1000 * time), 48_000, 48_000)

    powers = band_powers(density, bands)

    place = list(bands.nominal).index(1000)
    assert powers[place] == pytest.approx(0.5, rel=1e-6)
    assert np.max(np.delete(powers, place)) < 1e-9


def test_white_noise_rises_by_a_tenth_of_a_decade_per_band() -> None:
    density = find_density(np.random.default_rng(5).normal(size=60 * 24_000), 24_000, 24_000)
    bands = third_octave_bands(11_000)

    powers = band_powers(density, bands)

    widths = bands.high - bands.low
    np.testing.assert_allclose(powers[10:] / widths[10:], 2 / 24_000, rtol=0.03)


def test_band_levels_equal_another_library() -> None:
    from mosqito.sound_level_meter import noct_spectrum

    rng = np.random.default_rng(9)
    samples = rng.normal(size=5 * 48_000) * 0.02

    found, centres = noct_spectrum(samples, 48_000, 100, 10_000)

    bands = third_octave_bands(24_000)
    powers = band_powers(find_density(samples, 48_000, 48_000), bands)
    chosen = [list(bands.nominal).index(c) for c in centres]
    # mosqito filters in time with base-2 edges (0.5 % wider): agreement to the randomness of 5 s
    ours = 10 * np.log10(powers[chosen])
    theirs = 20 * np.log10(np.asarray(found).ravel())
    np.testing.assert_allclose(ours, theirs, atol=0.35)
