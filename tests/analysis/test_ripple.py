"""Ripples in profiles: sines recovered, noise left alone."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from generator.analysis.light import decode_srgb
from generator.analysis.ripple import amplitude_spectrum, find_ripples, refine_sine, remove_shading

COUNT = 1024
PLACE = np.arange(COUNT)


def profile(*sines: tuple[float, float], noise: float = 0.0, seed: int = 1, count: int = COUNT) -> np.ndarray:
    """Brightness about 0.3 with sines (wavelength in pixels, contrast)."""
    place = np.arange(count)
    wave = sum(contrast * np.sin(2 * np.pi * place / wavelength + 0.4) for wavelength, contrast in sines)
    return 0.3 * (1 + wave + noise * np.random.default_rng(seed).normal(size=count))


@pytest.mark.parametrize("wavelength", [4.3, 8.7, 40.0, 63.21, 150.0])
def test_sine_is_recovered(wavelength: float) -> None:
    found = find_ripples(profile((wavelength, 0.05), noise=0.004)).ripples

    assert 1 / found[0].frequency == pytest.approx(wavelength, rel=2e-3)
    assert found[0].contrast == pytest.approx(0.05, rel=0.03)


def test_least_squares_beats_the_line() -> None:
    # between two lines a Hann spectrum reads 15 % low (scalloping 1.42 dB); the fit does not
    frequency = 30.5 / COUNT
    signal = remove_shading(1 + 0.05 * np.sin(2 * np.pi * frequency * PLACE))

    found, amplitude, wave = refine_sine(signal, 30 / COUNT)

    assert np.max(amplitude_spectrum(signal)) == pytest.approx(0.05 * 10 ** (-1.4236 / 20), rel=5e-3)
    # a little of the sine went into the shading that the profile was divided by
    assert found == pytest.approx(frequency, rel=1e-4)
    assert amplitude == pytest.approx(0.05, rel=2e-3)
    np.testing.assert_allclose(wave, signal, atol=1e-3)


def test_two_ripples_and_no_side_lobes() -> None:
    found = find_ripples(profile((40.0, 0.08), (15.2, 0.01), noise=0.004)).ripples

    assert [1 / r.frequency for r in found] == pytest.approx([40.0, 15.2], rel=2e-3)
    assert [r.contrast for r in found] == pytest.approx([0.08, 0.01], rel=0.05)


def test_noise_alone_has_no_ripple() -> None:
    found = [find_ripples(profile(noise=0.01, seed=seed, count=1500)).ripples for seed in range(300)]

    # one in a hundred bands may have one by chance
    assert sum(bool(ripples) for ripples in found) <= 9


def test_shading_is_no_ripple() -> None:
    shading = 1 - 0.3 * (PLACE / COUNT - 0.4) ** 2 + 0.1 * PLACE / COUNT

    found = find_ripples(profile((40.0, 0.05), noise=0.005) * shading).ripples

    assert len(found) == 1 and found[0].contrast == pytest.approx(0.05, rel=0.03)


def test_shading_is_divided_out() -> None:
    shading = 2 + np.sin(PLACE / COUNT)

    assert np.max(np.abs(remove_shading(shading))) < 1e-4


def test_under_four_pixels_a_cycle_is_refused() -> None:
    assert find_ripples(profile((3.7, 0.05), noise=0.005)).ripples == ()


def test_ratio_is_amplitude_over_the_floor() -> None:
    # Hann amplitude spectrum of white noise: mean square 4·σ²·Σw²/(Σw)² = 4·σ²·1.5/N
    noise = 0.01
    found = find_ripples(profile((40.0, 0.05), noise=noise)).ripples[0]

    assert found.ratio == pytest.approx(0.05 / np.sqrt(6 * noise**2 / COUNT), rel=0.25)


def light_of(name: str) -> np.ndarray:
    """Linear light of a photo that scikit-image's wheel ships (CC0)."""
    spec = importlib.util.find_spec("skimage")
    assert spec is not None and spec.submodule_search_locations
    pixels = np.asarray(Image.open(Path(spec.submodule_search_locations[0], "data", name)))
    return np.asarray(decode_srgb(pixels / 255))


def test_real_wall_has_its_courses_and_gravel_has_none() -> None:
    brick, gravel = (find_ripples(light_of(name).mean(axis=0)) for name in ("brick.png", "gravel.png"))

    # the strongest line of the wall by a plain periodogram of its linear light
    columns = light_of("brick.png").mean(axis=0)
    lines = np.abs(np.fft.rfft((columns - columns.mean()) * np.hanning(512)))
    assert abs(int(np.argmax(brick.amplitude[6:])) - int(np.argmax(lines[6:]))) <= 2
    assert gravel.ripples == ()
