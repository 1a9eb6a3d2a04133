"""Calibration: a clean tone gives pascals, and everything that is not one is said."""

from __future__ import annotations

import numpy as np
import pytest

from generator.analysis.calibration import scale_from_calibrator, scale_from_full_scale
from generator.analysis.levels import power_to_level
from generator.records.signals import Waveform

RATE = 24_000
TIME = np.arange(3 * RATE) / RATE


def recording(frequency: float = 1000.0, amplitude: float = 0.1, more: np.ndarray | float = 0.0) -> Waveform:
    return Waveform("cal.wav", RATE, amplitude * np.sin(2 * np.pi * frequency * TIME + 0.3) + more)


@pytest.mark.parametrize("level", [94.0, 114.0])
@pytest.mark.parametrize("frequency", [250.0, 251.19, 1000.0, 1003.7])
def test_tone_gives_its_level(level: float, frequency: float) -> None:
    found = scale_from_calibrator(recording(frequency), level)

    # a sine of amplitude 0.1 has the mean square 0.005; 94 dB is 1.002374 Pa, 114 dB ten times that
    assert float(power_to_level(0.005 * found.square)) == pytest.approx(level, abs=1e-3)
    assert found.tone == pytest.approx(frequency, abs=0.01)
    assert found.notes == ()


def test_full_scale_is_that_of_a_sine() -> None:
    # a sine whose peaks reach full scale has the mean square 1/2 (0 dBFS as AES17 has it, from memory)
    assert float(power_to_level(0.5 * scale_from_full_scale(118.0).square)) == pytest.approx(118.0)


def test_hum_below_the_tone_does_no_harm_but_is_said() -> None:
    hum = 0.03 * np.sin(2 * np.pi * 50 * TIME)

    found = scale_from_calibrator(recording(more=hum), 94.0)

    assert float(power_to_level(0.005 * found.square)) == pytest.approx(94.0, abs=1e-2)
    assert any("not a clean tone" in note for note in found.notes)


def test_noise_is_no_clean_tone() -> None:
    noise = np.random.default_rng(1).normal(size=TIME.size) * 0.1

    assert any("clean" in note for note in scale_from_calibrator(recording(amplitude=0.02, more=noise), 94.0).notes)


def test_distorted_tone_is_said() -> None:
    clipped = Waveform("cal.wav", RATE, np.clip(recording(amplitude=1.0).samples, -0.5, 0.5))

    assert any("clean" in note for note in scale_from_calibrator(clipped, 94.0).notes)


def test_unsteady_tone_is_said() -> None:
    swelling = Waveform("cal.wav", RATE, recording().samples * np.linspace(0.9, 1.1, TIME.size))

    assert any("steady" in note for note in scale_from_calibrator(swelling, 94.0).notes)


def test_wrong_sample_rate_shows_in_the_tone() -> None:
    # recorded at 48 kHz, labelled 44.1 kHz: 1000 Hz seems 918.75 Hz
    found = scale_from_calibrator(recording(1000 * 44.1 / 48), 94.0)

    assert found.tone == pytest.approx(918.75, abs=0.01)
    assert any("sample rate" in note for note in found.notes)
