"""What recordings cost, against the general library that does the unavoidable part: ratios within one run.

Run: .venv/bin/python tests/bench/bench_recordings.py
A minute of sound at 48 kHz: at most 3 times scipy's Welch alone. A photo of 24 megapixels, turned a little: at most 4
times the time that Pillow needs to decode it. Memory: at most 6 times the decoded size (of what Python allocates).
"""

from __future__ import annotations

import io
import time
import tracemalloc
from collections.abc import Callable

import numpy as np
import soundfile
from PIL import Image
from scipy.signal import welch

from generator.analysis.sound import find_sound, find_sound_spectrum
from generator.analysis.surface import find_surface
from generator.readers.photos import make_sizes, read_photo
from generator.readers.sound import read_sound
from generator.records.recordings import Bands, Photo, Scale, SoundRecording, Surface

ROUNDS = 9


def main() -> None:
    print("what | ours [s] | library [s] | ratio | limit | memory over decoded size | limit")
    for row in (bench_sound(), bench_photo()):
        print(" | ".join(f"{cell:.3g}" if isinstance(cell, float) else str(cell) for cell in row))
    content = make_photo()
    print(f"published sizes of that photo, counted apart: {find_time(lambda: make_sizes(content, 'p.jpg')):.3g} s")


def find_time(work: Callable[[], object]) -> float:
    """Processor time of one run [s], all threads together, which other work on the machine hardly touches."""
    start = time.process_time()
    work()
    return time.process_time() - start


def find_times(ours: Callable[[], object], theirs: Callable[[], object]) -> tuple[float, float, float]:
    """Medians [s] of rounds in turn, and the median of their ratios, so that what changes meanwhile meets both."""
    rounds = np.array([(find_time(ours), find_time(theirs)) for _ in range(ROUNDS)])
    first, second = np.median(rounds, axis=0).tolist()
    return first, second, float(np.median(rounds[:, 0] / rounds[:, 1]))


def find_memory(work: Callable[[], object]) -> int:
    """Most that Python held at once [bytes]."""
    tracemalloc.start()
    work()
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most


def bench_sound() -> tuple[object, ...]:
    rng = np.random.default_rng(1)
    buffer = io.BytesIO()
    soundfile.write(buffer, 0.1 * rng.normal(size=60 * 48_000), 48_000, subtype="PCM_16", format="WAV")
    content, recording = buffer.getvalue(), SoundRecording("a.wav")
    wave = read_sound(content, recording)

    def analyse() -> object:
        return find_sound(find_sound_spectrum(read_sound(content, recording), 1.0), None)

    ours, theirs, ratio = find_times(analyse, lambda: welch(wave.samples, 48_000, nperseg=48_000))
    return "60 s at 48 kHz", ours, theirs, ratio, 3, find_memory(analyse) / wave.samples.nbytes, 6


def make_photo() -> bytes:
    """A JPEG of 6000 by 4000 pixels with ripples and noise."""
    rng = np.random.default_rng(2)
    down, across = np.arange(4000)[:, None], np.arange(6000)[None, :]
    ripple = 130 + 12 * np.sin(2 * np.pi * (across - 0.005 * down) / 40)
    grey = np.clip(ripple + rng.normal(scale=4, size=ripple.shape), 0, 255).astype(np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(np.repeat(grey[:, :, None], 3, axis=2)).save(buffer, "JPEG", quality=90)
    return buffer.getvalue()


def bench_photo() -> tuple[object, ...]:
    content = make_photo()
    item = Surface("p", None, Scale(100, 0.001), Bands(0.02, 0.02, 0.006, 6), "horizontal", {})

    def analyse() -> object:
        return find_surface(item, Photo("p.jpg"), read_photo(content, "p.jpg"))

    ours, theirs, ratio = find_times(analyse, lambda: Image.open(io.BytesIO(content)).load())
    return "24 megapixels", ours, theirs, ratio, 4, find_memory(analyse) / (6000 * 4000 * 3), 6


if __name__ == "__main__":
    main()
