"""From digital full scale to pascal: by a calibrator's tone or by the stated level of full scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from generator.analysis.density import band_power, find_density
from generator.analysis.levels import REFERENCE_PRESSURE
from generator.records.signals import Waveform

NOMINAL_TONES = (250.0, 1000.0)
"""Frequencies of sound calibrators [Hz] (IEC 60942; 251.19 Hz and 1000 Hz exact)."""
TONE_TOLERANCE = 0.02
IMPURE = 0.01
"""Power beside the tone over its own, from which it is no clean tone [1] (−20 dB; common practice, no source)."""
UNSTEADY = 0.1
"""Standard deviation of the tone's level [dB], from which it is not steady (common practice, no source)."""


@dataclass(frozen=True)
class Scale:
    """What one unit of full scale is worth: square [Pa²], how it was found, and what is doubtful about it.

    ``tone`` [Hz], ``impurity`` [dB re tone] and ``steadiness`` [dB] describe a calibrator's recording.
    """

    square: float
    how: str
    notes: tuple[str, ...] = ()
    tone: float | None = None
    impurity: float | None = None
    steadiness: float | None = None


def scale_from_full_scale(level: float) -> Scale:
    """Scale from the level of digital full scale [dB]: that of a sine whose peaks reach it (as AES17 has it)."""
    return Scale(2 * REFERENCE_PRESSURE**2 * 10 ** (level / 10), "stated full scale")


def scale_from_calibrator(recording: Waveform, level: float) -> Scale:
    """Scale from a recording of a calibrator of known level.

    Parameters
    ----------
    recording : Waveform
        The calibrator on the microphone [full scale].
    level : float [dB]
        The calibrator's sound pressure level.

    Returns
    -------
    Scale
        From the power within ±5 % of the strongest tone, so that hum beside it does no harm; with a note where the
        tone is not clean, not steady, or not at a calibrator's frequency (a wrong sample rate shows so).

    Source: IEC 60942 for the frequencies.
    """
    segment = 2 * int(min(recording.rate / 4, len(recording.samples) / 2) // 1)
    density = find_density(recording.samples, recording.rate, segment)
    audible = density.frequency > 40
    peak = float(density.frequency[audible][np.argmax(density.density[audible])])
    width = max(0.05 * peak, 4 * density.resolution)
    tone = float(band_power(density, peak - width, peak + width))
    beside = float(band_power(density, 40.0, recording.rate / 2)) - tone
    exact = _exact_frequency(recording, peak)
    steadiness = _steadiness(recording, exact)
    impurity = float(10 * np.log10(max(beside, 1e-30) / tone))
    notes = _notes(recording.name, exact, beside / tone, impurity, steadiness)
    return Scale(REFERENCE_PRESSURE**2 * 10 ** (level / 10) / tone, "calibrator", notes, exact, impurity, steadiness)


def _blocks(recording: Waveform, frequency: float) -> tuple[np.ndarray, float]:
    """Complex amplitude of the tone in blocks of about 0.1 s, and the blocks' exact length [s]."""
    length = min(int(recording.rate / 10), len(recording.samples) // 4)
    count = len(recording.samples) // length
    time = np.arange(length) / recording.rate
    window = np.hanning(length + 1)[:-1]
    kernel = window * np.exp(-2j * np.pi * frequency * time)
    pieces = np.asarray(recording.samples[: count * length], dtype=float).reshape(count, length)
    return pieces @ kernel, length / recording.rate


def _exact_frequency(recording: Waveform, near: float) -> float:
    """Frequency of a steady tone from the advance of its phase between blocks [Hz]."""
    amplitudes, block = _blocks(recording, near)
    advance = np.angle(np.sum(amplitudes[1:] * np.conj(amplitudes[:-1]) * np.exp(-2j * np.pi * near * block)))
    return float(near + advance / (2 * np.pi * block))


def _steadiness(recording: Waveform, frequency: float) -> float:
    amplitudes, _ = _blocks(recording, frequency)
    return float(np.std(20 * np.log10(np.abs(amplitudes))))


def _notes(name: str, tone: float, ratio: float, impurity: float, steadiness: float) -> tuple[str, ...]:
    notes = []
    if ratio > IMPURE:
        notes.append(f"{name}: not a clean tone (what is beside it stands at {impurity:.0f} dB)")
    if steadiness > UNSTEADY:
        notes.append(f"{name}: not a steady tone (its level varies by {steadiness:.2g} dB)")
    if min(abs(tone / nominal - 1) for nominal in NOMINAL_TONES) > TONE_TOLERANCE:
        notes.append(
            f"{name}: its tone is at {tone:.0f} Hz, but calibrators sound at 250 or 1000 Hz: is the sample rate right?"
        )
    return tuple(notes)
