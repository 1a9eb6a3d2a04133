"""Sound: levels of sines and noise of known level, background taken off, and another library's level meter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import bilinear_zpk, lfilter, sosfilt, zpk2sos

from generator.analysis.levels import power_to_level
from generator.analysis.sound import band_uncertainty, find_sound, find_sound_spectrum, level_from_spectrum
from generator.analysis.weighting import a_weighting
from generator.records.signals import BandLevels, Waveform

RATE = 48_000


def wave(samples: np.ndarray, rate: int = RATE) -> Waveform:
    return Waveform("a.wav", rate, samples)


def tone(frequency: float, level: float, seconds: float = 4.0, rate: int = RATE) -> np.ndarray:
    time = np.arange(round(seconds * rate)) / rate
    return np.sqrt(2) * 20e-6 * 10 ** (level / 20) * np.sin(2 * np.pi * frequency * time)


def noise(level: float, seconds: float = 10.0, seed: int = 1, rate: int = RATE) -> np.ndarray:
    return 20e-6 * 10 ** (level / 20) * np.random.default_rng(seed).normal(size=round(seconds * rate))


@pytest.mark.parametrize("frequency", [31.623, 100.0, 437.3, 1000.0, 3981.07, 12589.25])
def test_sine_has_its_weighted_level(frequency: float) -> None:
    found = find_sound_spectrum(wave(tone(frequency, 70.0)), 1.0)

    assert found.level == pytest.approx(70.0 + float(a_weighting(frequency)), abs=0.02)
    assert float(np.max(found.plain)) == pytest.approx(70.0, abs=0.02)


@pytest.mark.parametrize("rate", [11_025, 24_000, 44_100, 48_000, 96_000])
def test_level_does_not_hang_on_the_rate(rate: int) -> None:
    found = find_sound_spectrum(wave(tone(1000.0, 60.0, rate=rate), rate), 1.0)

    assert found.level == pytest.approx(60.0, abs=0.01)
    assert found.bands.middle[-1] < rate / 2


@pytest.mark.parametrize("seconds", [0.3, 1.0, 2.5, 20.0])
def test_level_does_not_hang_on_the_length(seconds: float) -> None:
    assert find_sound_spectrum(wave(tone(1000.0, 60.0, seconds)), 1.0).level == pytest.approx(60.0, abs=0.05)


def test_weighted_level_equals_a_time_domain_filter() -> None:
    # A-weighting as scipy's analogue poles and zeros, by bilinear transform far below half the rate
    rate = 192_000
    samples = noise(60.0, 3.0, rate=rate)
    samples = lfilter([1 / 20] * 20, [1], samples)  # hardly anything left where the transform bends the curve
    poles = -2 * np.pi * np.array([20.598997, 20.598997, 107.65265, 737.86223, 12194.217, 12194.217])
    zeros, poles, gain = bilinear_zpk(np.zeros(4), poles, (2 * np.pi * 12194.217) ** 2 * 10 ** (1.999656 / 20), rate)
    heard = sosfilt(zpk2sos(zeros, poles, gain), samples)

    expected = float(power_to_level(np.mean(heard**2)))
    assert find_sound_spectrum(wave(samples, rate), 1.0).level == pytest.approx(expected, abs=0.1)


def test_square_scales_the_level() -> None:
    samples = tone(1000.0, 60.0)

    assert find_sound_spectrum(wave(samples), 100.0).level == pytest.approx(80.0, abs=0.01)


def test_weighted_bands_add_up_to_the_level() -> None:
    low = lfilter([1 / 16] * 16, [1], noise(60.0))  # hardly anything above the 20 kHz band
    found = find_sound_spectrum(wave(low), 1.0)

    assert 10 * np.log10(np.sum(10 ** (found.weighted / 10))) == pytest.approx(found.level, abs=0.005)


def test_uncertainty_within_a_recording_is_that_of_repeats() -> None:
    spectra = [find_sound_spectrum(wave(noise(60.0, 4.0, seed, 8000), 8000), 1.0) for seed in range(60)]

    seen = np.std([s.level for s in spectra])
    assert np.median([s.uncertainty for s in spectra]) == pytest.approx(seen, rel=0.35)


@pytest.mark.parametrize("excess", [4.0, 8.0, 12.0])
def test_background_is_taken_off(excess: float) -> None:
    background = find_sound_spectrum(wave(noise(50.0, 30.0, seed=3)), 1.0)
    machine = noise(50.0, 30.0, seed=4) * np.sqrt(10 ** (excess / 10) - 1)
    alone = find_sound_spectrum(wave(machine), 1.0)
    together = find_sound_spectrum(wave(machine + noise(50.0, 30.0, seed=5)), 1.0)

    found = find_sound(together, background)

    assert found.excess == pytest.approx(excess, abs=0.1)
    assert found.level == pytest.approx(alone.level, abs=0.25)
    assert found.grade == ("engineering" if excess >= 6 else "survey")


def test_machine_as_loud_as_its_background_is_bounded() -> None:
    background = find_sound_spectrum(wave(noise(50.0, seed=3)), 1.0)

    found = find_sound(find_sound_spectrum(wave(noise(50.0, seed=6)), 1.0), background)

    assert found.grade == "upper bound" and found.bounded_share == pytest.approx(1.0)
    assert found.level == pytest.approx(found.measured - 3.0, abs=0.05)


def test_tone_over_background_elsewhere_is_exact() -> None:
    # low-frequency background louder than the machine's tone: per band it does not matter
    hum = tone(63.1, 75.0)
    background = find_sound_spectrum(wave(hum + noise(20.0, 4.0)), 1.0)
    together = find_sound_spectrum(wave(hum + tone(1000.0, 60.0) + noise(20.0, 4.0, seed=8)), 1.0)

    found = find_sound(together, background)

    place = list(found.spectrum.bands.nominal).index(1000)
    assert found.weighted[place] == pytest.approx(60.0, abs=0.02)
    assert found.grades[place] == "none needed"


def test_background_of_a_lower_rate_serves_the_shared_bands() -> None:
    background = find_sound_spectrum(wave(noise(40.0, 4.0, rate=16_000), 16_000), 1.0)

    found = find_sound(find_sound_spectrum(wave(noise(60.0, 4.0)), 1.0), background)

    assert len(found.weighted) == len(found.spectrum.bands.middle)
    assert np.isfinite(found.level)


def test_share_of_bounded_bands_is_a_share_of_power() -> None:
    # a machine as loud as the hum in one band, and a tone far above it in another
    hum = tone(125.0, 60.0)
    background = find_sound_spectrum(wave(hum + noise(0.0, 4.0)), 1.0)
    found = find_sound(find_sound_spectrum(wave(hum + tone(1000.0, 50.0) + noise(0.0, 4.0, seed=8)), 1.0), background)

    bounded = [level for level, grade in zip(found.weighted, found.grades, strict=True) if grade == "upper bound"]
    share = sum(10 ** (level / 10) for level in bounded) / sum(10 ** (level / 10) for level in found.weighted)
    assert 0.05 < share < 0.95
    assert found.bounded_share == pytest.approx(share, rel=1e-9)


def test_band_uncertainty_is_that_of_steady_noise() -> None:
    spectra = [find_sound_spectrum(wave(noise(60.0, 4.0, seed, 8000), 8000), 1.0) for seed in range(80)]
    place = list(spectra[0].bands.nominal).index(500)

    seen = np.std([s.plain[place] for s in spectra])
    # Hann segments that overlap by half use a little less than the whole record
    assert band_uncertainty(spectra[0].bands, 4.0)[place] == pytest.approx(seen, rel=0.25)


def test_level_of_a_ready_spectrum() -> None:
    frequency = np.array([125.893, 1000.0])

    assert level_from_spectrum(BandLevels("s", frequency, np.array([76.098, 60.0]))) == pytest.approx(63.0103, abs=1e-3)
    assert level_from_spectrum(BandLevels("s", frequency, np.array([60.0, 60.0]), True)) == pytest.approx(
        63.0103, abs=1e-3
    )
