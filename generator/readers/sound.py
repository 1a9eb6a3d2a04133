"""Sound files to waveforms: WAV in its usual encodings, checked before they are believed. Never analyses.

Decoding is libsndfile's; it takes a file that ends early for a short one, so the chunks of a WAV are counted here.

Source: RIFF/WAVE, Multimedia Programming Interface and Data Specifications 1.0 (1991); EBU Tech 3306 (RF64),
both values from memory.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.errors import FileProblems, Problem
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.records.recordings import SoundRecording
from generator.records.signals import Waveform

LOWEST_RATE, HIGHEST_RATE = 2_000, 768_000
SHORTEST = 0.25
CLIP_RUN = 3
WHOLE_RF64 = 0xFFFFFFFF
SAVE_ANEW = "save it as PCM WAV"
HEADS = (b"RIFF", b"RF64")
"""How a WAV begins: in its plain and in its long form."""


def read_sound(content: bytes, recording: SoundRecording, limits: Limits = DEFAULT_LIMITS) -> Waveform:
    """Decode the stated part and channel of a sound file.

    Parameters
    ----------
    content : bytes
        The whole file.
    recording : SoundRecording
        Its name; start and stop [s]; channel counted from 1.
    limits : Limits
        Samples that are accepted.

    Returns
    -------
    Waveform
        Samples in parts of digital full scale, with notes on the chosen channel and on clipping.

    Raises
    ------
    FileProblems
        Empty, cut short, of false length, no sound file, silent, too short, or without that channel or part.
    """
    name = recording.file
    _check_container(content, name)
    samples, rate, encoding = decode_sound(content, name, limits)
    chosen, notes = _channel(samples, recording)
    part = _part(chosen, rate, recording)
    _check_values(part, name)
    notes += _coarse(encoding) + _clipping(part)
    return Waveform(name, float(rate), part, recording.channel or 1, samples.shape[1], encoding, tuple(notes))


def _fail(name: str, code: str, message: str, fix: str) -> FileProblems:
    return FileProblems([Problem(name, 0, 0, "", code, message, fix)])


# --- the container ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Chunk:
    kind: bytes
    start: int
    size: int


def _check_container(content: bytes, name: str) -> None:
    if not content:
        raise _fail(name, "sound-empty", "the file is empty", "record it again or leave it out")
    if content[:4] not in HEADS:
        raise _fail(name, "sound-unreadable", "not a WAV file", SAVE_ANEW)
    data = next((chunk for chunk in _chunks(content) if chunk.kind == b"data"), None)
    if data is None:
        raise _fail(name, "sound-truncated", "the file ends before its samples begin", "copy the file again")
    _check_length(content, name, data)


def _check_length(content: bytes, name: str, data: _Chunk) -> None:
    there = len(content) - data.start
    if data.size == 0:
        raise _fail(name, "sound-empty", "the file holds no samples (its data chunk has length 0)", "record it again")
    if data.size > there:
        raise _fail(
            name,
            "sound-truncated",
            f"the header promises {data.size} bytes of samples, but only {there} follow",
            "copy the file again, or save it anew from a sound editor if the recorder was cut off",
        )


def _chunks(content: bytes) -> list[_Chunk]:
    """Chunks of a RIFF or RF64 file in order, up to the samples."""
    found: list[_Chunk] = []
    place, long_size = 12, None
    while place + 8 <= len(content):
        kind, size = struct.unpack_from("<4sI", content, place)
        if kind == b"ds64" and place + 24 <= len(content):
            long_size = struct.unpack_from("<Q", content, place + 16)[0]
        if kind == b"data" and size == WHOLE_RF64 and long_size is not None:
            size = long_size
        found.append(_Chunk(kind, place + 8, size))
        if kind == b"data":
            break
        place += 8 + size + size % 2
    return found


def decode_sound(content: bytes, name: str, limits: Limits = DEFAULT_LIMITS) -> tuple[NDArray[np.floating], int, str]:
    """All channels as parts of full scale (frames, channels), the rate [Hz] and the encoding in words.

    Parameters
    ----------
    content : bytes
        The whole file.
    name : str
        For problems.
    limits : Limits
        Samples that are accepted.
    """
    import soundfile

    try:
        with soundfile.SoundFile(io.BytesIO(content)) as sound:
            _check_count(sound.frames * sound.channels, name, limits)
            precise = sound.subtype in ("DOUBLE", "PCM_32")
            samples = sound.read(dtype="float64" if precise else "float32", always_2d=True)
            rate, encoding = sound.samplerate, f"{sound.format_info}, {sound.subtype_info}"
    except (soundfile.LibsndfileError, ValueError) as error:
        said = getattr(error, "error_string", error)
        message = f"not a sound file that can be read ({said})"
        raise _fail(name, "sound-unreadable", message, SAVE_ANEW) from error
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise _fail(name, "sound-rate", f"the header gives a sample rate of {rate} Hz", "correct the header's rate")
    return samples, rate, encoding


def _check_count(count: int, name: str, limits: Limits) -> None:
    if count > limits.sound_samples:
        message = f"{count} samples: more than the {limits.sound_samples} that are read"
        raise _fail(name, "sound-long", message, "cut the recording, or raise the limit sound_samples")


# --- channel, part, values ----------------------------------------------------------------------------------------


def _channel(samples: NDArray[np.floating], recording: SoundRecording) -> tuple[NDArray[np.floating], list[str]]:
    channels = samples.shape[1]
    number = recording.channel or 1
    if not 1 <= number <= channels:
        raise _fail(
            recording.file,
            "sound-channel",
            f"channel {number} is wanted, but the file has {channels}",
            f"write a channel from 1 to {channels}",
        )
    notes = [f"channel {number} of {channels} is used"] if channels > 1 else []
    return np.ascontiguousarray(samples[:, number - 1]), notes


def _part(samples: NDArray[np.floating], rate: int, recording: SoundRecording) -> NDArray[np.floating]:
    duration = len(samples) / rate
    start = recording.start or 0.0
    stop = duration if recording.stop is None else recording.stop
    if not 0.0 <= start < stop or stop > duration + 0.5 / rate:
        raise _fail(
            recording.file,
            "sound-part",
            f"the part from {start:g} s to {stop:g} s is wanted, but the recording lasts {duration:.3g} s",
            f"choose from and to between 0 s and {duration:.3g} s, from before to",
        )
    part = samples[round(start * rate) : round(stop * rate)]
    if len(part) < SHORTEST * rate:
        raise _fail(
            recording.file,
            "sound-short",
            f"only {len(part) / rate:.3g} s of sound: too short for a level",
            f"use at least {SHORTEST:g} s, better 5 s",
        )
    return part


def _check_values(samples: NDArray[np.floating], name: str) -> None:
    top = float(np.max(samples)), float(np.min(samples))
    if not np.isfinite(top).all():
        raise _fail(name, "sound-not-finite", "some samples are not finite numbers", "export the recording again")
    if top[0] == top[1]:
        raise _fail(name, "sound-silent", "the part used is digital silence", "check the channel and the recorder")


def _coarse(encoding: str) -> list[str]:
    """A note where the encoding itself adds noise."""
    if "8 bit" in encoding:
        return ["8-bit samples: their own noise hides what is 45 dB below full scale"]
    if not ("PCM" in encoding and "ADPCM" not in encoding) and "float" not in encoding:
        return ["a lossy encoding: levels of quiet bands are not the machine's"]
    return []


def _clipping(samples: NDArray[np.floating]) -> list[str]:
    """A note where the extreme value stands at least three samples in a row: a wave cut off at its top."""
    for extreme in (float(np.max(samples)), float(np.min(samples))):
        at_top = np.flatnonzero(samples == extreme)
        runs = at_top[CLIP_RUN - 1 :] - at_top[: 1 - CLIP_RUN] == CLIP_RUN - 1
        if abs(extreme) > 0.01 and np.any(runs):
            return [f"clipped: its extreme value stands {CLIP_RUN} or more samples in a row ({at_top.size} samples)"]
    return []
