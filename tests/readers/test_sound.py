"""Sound files: every usual encoding against scipy's decoder, and each way in which a file can be wrong."""

from __future__ import annotations

import importlib.util
import io
import struct
import warnings
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.io import wavfile

from generator.archive.cleaning import clean_content
from generator.errors import FileProblems
from generator.readers.sound import decode_sound, read_sound
from generator.records.recordings import SoundRecording

RATE = 8000


def installed(package: str, *parts: str) -> Path:
    """A file that a test dependency ships; found without importing the package."""
    found = importlib.util.find_spec(package)
    assert found is not None and found.submodule_search_locations
    return Path(found.submodule_search_locations[0], *parts)


def wav(samples: np.ndarray, subtype: str = "PCM_16", rate: int = RATE, kind: str = "WAV") -> bytes:
    buffer = io.BytesIO()
    soundfile.write(buffer, samples, rate, subtype=subtype, format=kind)
    return buffer.getvalue()


def sine(seconds: float = 1.0, frequency: float = 440.0, amplitude: float = 0.5, rate: int = RATE) -> np.ndarray:
    return amplitude * np.sin(2 * np.pi * frequency * np.arange(round(seconds * rate)) / rate)


def code_of(content: bytes, **part: float) -> str:
    with pytest.raises(FileProblems) as caught:
        read_sound(content, SoundRecording("a.wav", **part))
    problem = caught.value.problems[0]
    assert problem.file == "a.wav" and problem.message and problem.fix
    return problem.code


# --- encodings ----------------------------------------------------------------------------------------------------

SCALES = {"uint8": 128.0, "int16": 2.0**15, "int32": 2.0**31}
READABLE = [
    "test-44100Hz-2ch-32bit-float-le.wav",
    "test-44100Hz-le-1ch-4bytes-rf64.wav",
    "test-44100Hz-le-1ch-4bytes.wav",
    "test-48000Hz-2ch-64bit-float-le-wavex.wav",
    "test-8000Hz-le-2ch-1byteu.wav",
    "test-8000Hz-le-3ch-5S-24bit-rf64.wav",
    "test-8000Hz-le-3ch-5S-24bit.wav",
]


@pytest.mark.parametrize("name", READABLE)
def test_decodes_as_scipy_does(name: str) -> None:
    # files of scipy's own tests: PCM 8 to 32, float 32 and 64, extensible, RF64
    path = installed("scipy", "io", "tests", "data", name)
    with warnings.catch_warnings():
        # scipy warns of chunks that it passes over
        warnings.simplefilter("ignore", wavfile.WavFileWarning)
        rate, expected = wavfile.read(path)
    kind = expected.dtype.newbyteorder("=")
    if kind == np.uint8:
        expected = expected.astype(float) - 128
    scaled = expected.astype(float) / SCALES.get(kind.name, 1.0)

    samples, found_rate, _ = decode_sound(path.read_bytes(), name)

    assert found_rate == rate
    np.testing.assert_allclose(samples, scaled.reshape(samples.shape), atol=1e-7)


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
@pytest.mark.parametrize("kind", ["WAV", "WAVEX", "RF64"])
def test_reads_usual_encodings(subtype: str, kind: str) -> None:
    found = read_sound(wav(sine(), subtype, kind=kind), SoundRecording("a.wav"))

    assert found.rate == RATE and found.duration == pytest.approx(1.0)
    np.testing.assert_allclose(found.samples, sine(), atol=2.0**-15)
    assert found.notes == ()


def test_real_recordings_of_pygame_are_read() -> None:
    # pygame's wheel: 8-bit effects and 7.1 s of music (lengths from the files' own headers)
    expected = {"boom.wav": 12432, "house_lo.wav": 78331, "car_door.wav": 3735, "punch.wav": 4041, "whiff.wav": 5791}
    for name, count in expected.items():
        found = read_sound(installed("pygame", "examples", "data", name).read_bytes(), SoundRecording(name))

        assert len(found.samples) == count and found.rate == 11025
        assert any("8-bit" in note for note in found.notes)
        assert 0.05 < np.max(np.abs(found.samples)) <= 1.0


def test_seismogram_as_sound_is_read() -> None:
    path = installed("obspy", "io", "wav", "tests", "data", "3cssan.reg.8.1.RNON.wav")

    found = read_sound(path.read_bytes(), SoundRecording("s.wav"))

    assert len(found.samples) == 10599 and found.rate == 7000


def test_lossy_encoding_is_noted() -> None:
    path = installed("pygame", "examples", "data", "secosmic_lo.wav")

    assert any("lossy" in note for note in read_sound(path.read_bytes(), SoundRecording("s.wav")).notes)


# --- channel and part ---------------------------------------------------------------------------------------------


def test_one_channel_is_chosen_and_said() -> None:
    both = wav(np.stack([sine(), 0.1 * sine(frequency=100)], axis=1))

    first, second = (read_sound(both, SoundRecording("a.wav", channel=c)) for c in (None, 2))

    assert np.max(first.samples) == pytest.approx(0.5, abs=1e-3)
    assert np.max(second.samples) == pytest.approx(0.05, abs=1e-3)
    assert first.notes == ("channel 1 of 2 is used",) and second.channel == 2 and second.channels == 2


def test_part_is_cut_to_the_sample() -> None:
    found = read_sound(wav(sine(2.0)), SoundRecording("a.wav", start=0.5, stop=1.25))

    np.testing.assert_allclose(found.samples, sine(2.0)[4000:10000], atol=2.0**-15)


@pytest.mark.parametrize("part", [{"start": 3.0}, {"stop": 2.5}, {"start": 1.0, "stop": 0.5}, {"start": -1.0}])
def test_part_outside_the_recording_is_an_error(part: dict[str, float]) -> None:
    assert code_of(wav(sine(2.0)), **part) == "sound-part"


def test_missing_channel_is_an_error() -> None:
    assert code_of(wav(sine()), channel=2) == "sound-channel"


# --- what can be wrong --------------------------------------------------------------------------------------------


def test_every_truncation_is_an_error() -> None:
    content = wav(sine())
    for length in (1, 3, 11, 12, 20, 36, 43, 44, 45, 1000, len(content) - 1):
        assert code_of(content[:length]) in {"sound-truncated", "sound-unreadable", "sound-empty"}


def test_length_that_lies_is_an_error() -> None:
    content = bytearray(wav(sine()))
    place = content.index(b"data") + 4
    content[place : place + 4] = struct.pack("<I", 10_000_000)

    assert code_of(bytes(content)) == "sound-truncated"


@pytest.mark.parametrize("name", ["early-eof", "early-eof-no-data", "incomplete-chunk"])
def test_broken_files_of_scipy_are_errors(name: str) -> None:
    path = installed("scipy", "io", "tests", "data", f"test-44100Hz-le-1ch-4bytes-{name}.wav")

    assert code_of(path.read_bytes()) == "sound-truncated"


def test_zero_length_is_an_error() -> None:
    assert code_of(b"") == "sound-empty"
    assert code_of(wav(np.zeros(0))) == "sound-empty"


@pytest.mark.parametrize("rate", [0, 1, 1999, 900_000])
def test_absurd_rate_is_an_error(rate: int) -> None:
    content = bytearray(wav(sine()))
    struct.pack_into("<I", content, 24, rate)

    assert code_of(bytes(content)) in {"sound-rate", "sound-unreadable"}


def test_text_is_no_sound() -> None:
    assert code_of(b"time,level\n1,2\n" * 40) == "sound-unreadable"


@pytest.mark.parametrize("kind", ["FLAC", "OGG", "AIFF", "AU", "RAW"])
def test_what_is_no_wav_is_refused_as_cleaning_would(kind: str) -> None:
    content = wav(sine(), "VORBIS" if kind == "OGG" else "PCM_16", kind=kind)

    assert code_of(content) == "sound-unreadable"
    with pytest.raises(FileProblems) as caught:
        clean_content("a", content)
    assert caught.value.problems[0].code == "not-cleanable"


def test_a_big_endian_wav_is_refused_as_cleaning_would() -> None:
    content = installed("scipy", "io", "tests", "data", "test-44100Hz-be-1ch-4bytes.wav").read_bytes()

    assert content[:4] == b"RIFX" and code_of(content) == "sound-unreadable"
    with pytest.raises(FileProblems):
        clean_content("a.wav", content)


def test_unknown_encoding_is_an_error() -> None:
    path = installed("scipy", "io", "tests", "data", "test-8000Hz-le-3ch-5S-64bit.wav")

    assert code_of(path.read_bytes()) == "sound-unreadable"


def test_silence_is_an_error() -> None:
    assert code_of(wav(np.zeros(RATE))) == "sound-silent"
    assert code_of(wav(np.full(RATE, 0.25))) == "sound-silent"


def test_not_finite_samples_are_an_error() -> None:
    broken = sine()
    broken[17] = np.nan

    assert code_of(wav(broken, "FLOAT")) == "sound-not-finite"


def test_too_short_is_an_error() -> None:
    assert code_of(wav(sine(0.2))) == "sound-short"


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
@pytest.mark.parametrize("limit", [1.0, 0.3])
def test_clipping_is_noted(subtype: str, limit: float) -> None:
    clipped = np.clip(sine(amplitude=2.0, frequency=100), -limit, limit)

    assert any("clipped" in note for note in read_sound(wav(clipped, subtype), SoundRecording("a.wav")).notes)


def test_full_scale_sine_is_not_clipped() -> None:
    noise = 1e-3 * np.random.default_rng(3).normal(size=RATE)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = read_sound(wav(sine(amplitude=0.99) + noise, "PCM_24"), SoundRecording("a.wav"))

    assert found.notes == ()
