"""Tones: the prominence measures in closed form and against another library, and what is found in noise."""

from __future__ import annotations

import numpy as np
import pytest

from generator.analysis.density import find_density
from generator.analysis.levels import power_to_level
from generator.analysis.tones_found import (
    critical_band,
    find_tones,
    outer_edges,
    prominence_limit,
    prominence_ratio,
    proximity,
    tone_to_noise_limit,
    tone_to_noise_ratio,
)
from generator.records.signals import Density

REFERENCE = 20e-6
# tone f, its level, density of white noise [dB/Hz]: edges of the critical band, outer edges, TNR, limit, PR, limit.
# Closed form of the formulas of ECMA-418-1 as mosqito 1.2.1 implements them; the standard's text was not seen.
CLOSED = [
    (150, 60, 20, 99.189, 200.811, 20.000, 306.483, 19.930, 14.863, 19.922, 17.239),
    (250, 60, 30, 197.766, 302.234, 96.437, 413.062, 9.810, 13.015, 10.175, 15.021),
    (500, 60, 30, 444.798, 562.053, 333.750, 686.250, 9.309, 10.508, 9.777, 12.010),
    (1000, 60, 30, 922.176, 1084.392, 782.500, 1261.500, 7.899, 8.000, 8.656, 9.000),
    (1000, 60, 25, 922.176, 1084.392, 782.500, 1261.500, 12.899, 8.000, 13.220, 9.000),
    (2000, 60, 30, 1855.261, 2156.031, 1586.000, 2519.700, 5.218, 8.000, 6.139, 9.000),
    (4000, 50, 15, 3671.944, 4357.364, 3099.600, 5208.900, 6.640, 8.000, 7.328, 9.000),
]


@pytest.mark.parametrize("row", CLOSED)
def test_measures_in_closed_form(row: tuple[float, ...]) -> None:
    f, tone, noise, low, high, outer_low, outer_high, tnr, tnr_limit, pr, pr_limit = row
    step = 0.01
    frequency = np.arange(0, 12_000, step)
    density = np.full(len(frequency), REFERENCE**2 * 10 ** (noise / 10))
    power = REFERENCE**2 * 10 ** (tone / 10)
    is_tone = np.zeros(len(frequency), dtype=bool)
    is_tone[round(f / step)] = True
    found = Density(frequency, density + is_tone * power / step, 1000, 1)

    assert critical_band(f) == pytest.approx((low, high), abs=6e-4)
    assert outer_edges(f) == pytest.approx((outer_low, outer_high), abs=6e-4)
    assert tone_to_noise_ratio(found, f, power, is_tone) == pytest.approx(tnr, abs=2e-3)
    assert prominence_ratio(found, f) == pytest.approx(pr, abs=2e-3)
    assert float(tone_to_noise_limit(f)) == pytest.approx(tnr_limit, abs=1e-3)
    assert float(prominence_limit(f)) == pytest.approx(pr_limit, abs=1e-3)


@pytest.mark.parametrize(("frequency", "width"), [(250, 21.51), (1000, 81.58), (2000, 293.84)])
def test_proximity(frequency: float, width: float) -> None:
    assert proximity(frequency) == pytest.approx(width, abs=5e-3)


def signal(
    noise: float, *tones: tuple[float, float], seconds: float = 10, rate: int = 48_000, seed: int = 2024
) -> np.ndarray:
    """Pressure [Pa]: white noise of a density [dB/Hz] and tones (frequency, level)."""
    time = np.arange(round(seconds * rate)) / rate
    heard = np.random.default_rng(seed).normal(size=time.size) * REFERENCE * 10 ** (noise / 20) * np.sqrt(rate / 2)
    for frequency, level in tones:
        heard = heard + np.sqrt(2) * REFERENCE * 10 ** (level / 20) * np.sin(2 * np.pi * frequency * time)
    return heard


@pytest.mark.parametrize(("noise", "prominent"), [(30, False), (25, True)])
def test_tone_in_noise_as_another_library_weighs_it(noise: float, prominent: bool) -> None:
    from mosqito.sq_metrics import pr_ecma_st, tnr_ecma_st

    heard = signal(noise, (1000, 60))

    found = [tone for tone in find_tones(find_density(heard, 48_000, 48_000)) if abs(tone.frequency - 1000) < 2]

    assert len(found) == 1 and found[0].prominent is prominent
    _, tnr, tnr_prominent, _ = tnr_ecma_st(heard, 48_000, prominence=False)
    _, pr, _, _ = pr_ecma_st(heard, 48_000, prominence=False)
    assert found[0].tone_to_noise == pytest.approx(float(np.max(tnr)), abs=0.3)
    assert found[0].prominence == pytest.approx(float(np.max(pr)), abs=0.3)
    assert bool(np.any(tnr_prominent)) is prominent


def test_frequency_and_level_between_lines() -> None:
    found = find_tones(find_density(signal(10, (437.37, 50), (2210.5, 45)), 48_000, 48_000))

    assert [tone.frequency for tone in found] == pytest.approx([437.37, 2210.5], abs=0.03)
    assert [float(power_to_level(tone.power)) for tone in found] == pytest.approx([50, 45], abs=0.1)


def test_noise_alone_has_no_tone() -> None:
    found = [find_tones(find_density(signal(30, seconds=3, seed=seed), 48_000, 48_000)) for seed in range(40)]

    assert sum(len(tones) for tones in found) <= 2


def test_strong_tone_has_no_companions() -> None:
    assert len(find_tones(find_density(signal(-20, (1000.37, 80)), 48_000, 48_000))) == 1


def test_neighbours_are_kept_apart() -> None:
    found = find_tones(find_density(signal(10, (200, 40), (205, 46)), 48_000, 48_000))

    assert [tone.frequency for tone in found] == pytest.approx([200, 205], abs=0.1)
    # within proximity of one another both are weighed by their common level
    joined = 10 * np.log10(10**4 + 10**4.6)
    assert found[0].tone_to_noise == pytest.approx(joined - 10 - 10 * np.log10(np.ptp(critical_band(200))), abs=0.4)
