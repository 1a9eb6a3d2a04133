"""Short listening excerpts of a sound item: as recorded, all turned up alike, and matched in loudness."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.analysis.sound import find_sound_spectrum
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.sound import read_sound
from generator.records.recordings import Sound
from generator.records.signals import Waveform

LONGEST = 6.0
"""Length of an excerpt [s]."""
FADE = 0.02
PEAK = 10 ** (-1 / 20)
"""Highest sample of the loudest excerpt [digital full scale]."""
MEDIA_TYPE, EXTENSION = "audio/flac", "flac"
Array = NDArray[np.float64]


@dataclass(frozen=True)
class PreparedExcerpt:
    """One excerpt of a candidate: FLAC bytes without metadata, gain [dB] on the recording, and whether the loudness
    was matched (else all candidates have the same gain)."""

    candidate: str
    content: bytes
    gain: float
    matched: bool
    duration: float


def make_excerpts(
    item: Sound, order: Sequence[str], files: Mapping[str, bytes], limits: Limits = DEFAULT_LIMITS
) -> list[PreparedExcerpt]:
    """Excerpts of each candidate's first recording, once as recorded and once matched in A-weighted level.

    Parameters
    ----------
    item : Sound
    order : sequence of str
        Candidates in file order.
    files : mapping of str to bytes
        By path in the comparison's folder.
    limits : Limits
        Largest recording that is read.

    Returns
    -------
    list of PreparedExcerpt
        At most 6 s from the middle of the part used, one channel, 16 bit, faded in and out.
    """
    waves = {
        c: read_sound(files[item.recordings[c][0].file], item.recordings[c][0], limits)
        for c in order
        if c in item.recordings
    }
    pieces = {candidate: _middle(wave) for candidate, wave in waves.items()}
    levels = {candidate: find_sound_spectrum(piece, 1.0).level for candidate, piece in pieces.items()}
    found = []
    for matched in (False, True):
        gains = {candidate: -levels[candidate] if matched else 0.0 for candidate in pieces}
        peaks = [float(np.max(np.abs(piece.samples))) * 10 ** (gains[c] / 20) for c, piece in pieces.items()]
        common = 20 * float(np.log10(PEAK / max(peaks, default=PEAK)))
        found += [_prepare(c, piece, gains[c] + common, matched) for c, piece in pieces.items()]
    return found


def _middle(wave: Waveform) -> Waveform:
    count = min(len(wave.samples), round(LONGEST * wave.rate))
    first = (len(wave.samples) - count) // 2
    return Waveform(wave.name, wave.rate, wave.samples[first : first + count])


def _prepare(candidate: str, piece: Waveform, gain: float, matched: bool) -> PreparedExcerpt:
    samples = np.asarray(piece.samples, dtype=float) * 10 ** (gain / 20)
    edge = round(FADE * piece.rate)
    ramp = np.sin(np.linspace(0, np.pi / 2, edge)) ** 2
    samples[:edge] *= ramp
    samples[-edge:] *= ramp[::-1]
    return PreparedExcerpt(candidate, _encode(samples, round(piece.rate)), gain, matched, piece.duration)


def _encode(samples: Array, rate: int) -> bytes:
    import soundfile

    buffer = io.BytesIO()
    soundfile.write(buffer, samples, rate, format="FLAC", subtype="PCM_16")
    return buffer.getvalue()
