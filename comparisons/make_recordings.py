"""Make the invented recordings of the braille-plate plotter from a physical picture. Nothing here was measured.

Run it from anywhere: ``python comparisons/make_recordings.py``. The same seed gives the same files. It stands apart
from the generator on purpose and repeats the few formulas that it needs, so that the analysis is not tried on its own
ideas.

The picture: two belts carry a carriage. A motor's unevenness comes once per electrical turn (offset), twice (unequal
phases) and four times (detent); the belt's teeth come besides. What comes near the carriage's resonance is enlarged.
The microphone hears these rates over bearing noise and a workshop's background; the accelerometer sees the resonance
under a sweep; the scribed plate shows each rate as a ripple, and the camera adds shading, noise and compression.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from PIL import Image
from scipy.signal import bilinear, chirp, lfilter

SEED = 20260918
FOLDER = Path(__file__).parent / "braille-plate-plotter" / "recordings"
Array = NDArray[np.float64]

TRAVEL_PER_TURN, TEETH, STEPS, DIVISION = 0.048, 24, 200, 16
CARRIAGE, ROTOR, BELT, HOLDING = 0.280, 7.3e-6, 60e3, 0.46
SOUND_RATE, SOUND_TIME = 24_000, 3.0
TRACE_RATE, TRACE_TIME = 800, 6.0
PIXELS_PER_METRE, BAND_HEIGHT, SAMPLE_LENGTH = 930 / 0.020, 0.005, 0.040
BAND_SPEEDS = 0.020 * np.arange(1, 7)


@dataclass(frozen=True)
class Variant:
    """What differs between the candidates, all invented: unevenness [1, scale], bearing noise [dB(A)], damping [1],
    acceleration in the sweep [m/s², rms]."""

    name: str
    unevenness: float
    noise: float
    damping: float
    shaking: float


VARIANTS = (Variant("series", 1.0, 41.0, 0.030, 1.00), Variant("parallel", 0.42, 42.0, 0.036, 1.22))


def rates(belt_speed: float) -> dict[str, float]:
    """Rates [Hz] that a motor and its belt give at a belt speed [m/s]."""
    turn = belt_speed / TRAVEL_PER_TURN
    step = turn * STEPS
    return {
        "offset": step / 4, "phases": step / 2, "detent": step, "microsteps": step * DIVISION, "teeth": turn * TEETH
    }  # fmt: skip


def resonance() -> float:
    """Lower natural frequency along x [Hz]: the carriage on two belts whose far ends hang on the motors' torque."""
    radius = TRAVEL_PER_TURN / (2 * np.pi)
    end, belt = 2 * ROTOR / radius**2, 2 * BELT
    grip = 2 * 50 * (HOLDING / np.sqrt(2)) / radius**2
    matrix = np.array([[belt / CARRIAGE, -belt / CARRIAGE], [-belt / end, (belt + grip) / end]])
    return float(np.sqrt(np.min(np.linalg.eigvals(matrix).real)) / (2 * np.pi))


def gain(frequency: float, natural: float, damping: float) -> float:
    """How much the carriage enlarges a force at a frequency [1]."""
    ratio = frequency / natural
    return float(1 / abs(1 - ratio**2 + 2j * damping * ratio))


# --- sound --------------------------------------------------------------------------------------------------------


def a_weight(frequency: Array) -> Array:
    """A-weighting as an amplitude factor [1] (IEC 61672-1)."""
    f2 = np.maximum(frequency, 1e-3) ** 2
    shape = 12194.217**2 * f2**2 / ((f2 + 20.598997**2) * (f2 + 12194.217**2))
    return 1.2589 * shape / np.sqrt((f2 + 107.65265**2) * (f2 + 737.86223**2))


def coloured(rng: np.random.Generator, level: float, slope: float) -> Array:
    """Noise [Pa] whose density falls by ``slope`` decades per decade, at a level [dB(A)]."""
    count = int(SOUND_RATE * SOUND_TIME)
    frequency = np.fft.rfftfreq(count, 1 / SOUND_RATE)
    lines = np.fft.rfft(rng.normal(size=count)) * np.maximum(frequency, 30.0) ** (-slope / 2)
    lines[frequency < 20] = 0
    heard = np.fft.irfft(lines * a_weight(frequency), count)
    return np.fft.irfft(lines, count) * 20e-6 * 10 ** (level / 20) / np.sqrt(np.mean(heard**2))


def tone(rng: np.random.Generator, frequency: float, level: float) -> Array:
    """A steady tone [Pa] at a level [dB]."""
    time = np.arange(int(SOUND_RATE * SOUND_TIME)) / SOUND_RATE
    return np.sqrt(2) * 20e-6 * 10 ** (level / 20) * np.sin(2 * np.pi * (frequency * time + rng.random()))


def background(rng: np.random.Generator) -> Array:
    """A quiet workshop: 29 dB(A) of noise and a little mains hum [Pa]."""
    return coloured(rng, 29.0, 1.2) + tone(rng, 100.0, 34.0)


def traverse(rng: np.random.Generator, variant: Variant) -> Array:
    """The carriage crossing at 100 mm/s, microphone placed anew each time [Pa]."""
    place = rng.normal(0.0, 0.35)
    trim = 20 * np.log10(variant.unevenness)
    heard = coloured(rng, variant.noise + place, 0.8)
    levels = {"offset": 40.0, "phases": 44.0, "detent": 46.0, "microsteps": 30.0, "teeth": 47.0}
    for name, rate in rates(0.100).items():
        softer = trim if name in ("offset", "phases", "detent") else 0.0
        heard = heard + tone(rng, rate, levels[name] + softer + place + rng.normal(0, 0.3))
    return heard + tone(rng, 2 * rates(0.100)["detent"], 36.0 + trim + place) + background(rng)


def write_sound(name: str, pressure: Array) -> None:
    """Write as 16-bit WAV; full scale is a sine of 104 dB."""
    samples = pressure / (np.sqrt(2) * 20e-6 * 10 ** (104 / 20))
    soundfile.write(FOLDER / name, samples, SOUND_RATE, subtype="PCM_16", format="WAV")


def make_sounds(rng: np.random.Generator) -> None:
    """Calibrator, background and three crossings of each candidate."""
    write_sound("calibrator.wav", tone(rng, 1000.0, 94.0) + coloured(rng, 30.0, 1.0))
    write_sound("background.wav", background(rng))
    for variant in VARIANTS:
        for k in (1, 2, 3):
            write_sound(f"traverse-100-{variant.name}-{k}.wav", traverse(rng, variant))


# --- vibration ----------------------------------------------------------------------------------------------------


def shake(rng: np.random.Generator, variant: Variant) -> Array:
    """Acceleration along x [m/s²] while a force sweeps from 15 Hz to 250 Hz over bearing noise."""
    count = int(TRACE_RATE * TRACE_TIME)
    time = np.arange(count) / TRACE_RATE
    natural = resonance() * (1 + rng.normal(0, 0.006))
    force = chirp(time, 15.0, TRACE_TIME, 250.0, phi=360 * rng.random()) + 0.5 * rng.normal(size=count)
    speed = 2 * np.pi * natural
    rate = speed / np.tan(speed / (2 * TRACE_RATE)) / 2  # the pole lands on its frequency
    above, below = bilinear([1, 0, 0], [1, 2 * variant.damping * speed, speed**2], fs=rate)
    moved = lfilter(above, below, force)
    moved *= variant.shaking * (1 + rng.normal(0, 0.03)) / np.sqrt(np.mean(moved**2))
    return moved + rng.normal(0, 0.02, count)


def make_traces(rng: np.random.Generator) -> None:
    """Three traces of each candidate."""
    time = np.arange(int(TRACE_RATE * TRACE_TIME)) / TRACE_RATE
    for variant in VARIANTS:
        for k in (1, 2, 3):
            rows = "".join(f"{t:.5f},{a:.4f}\n" for t, a in zip(time, shake(rng, variant), strict=True))
            (FOLDER / f"along-x-{variant.name}-{k}.csv").write_text("t [s],ax [m/s²]\n" + rows, encoding="utf-8")


# --- surfaces -----------------------------------------------------------------------------------------------------


def band_profile(rng: np.random.Generator, variant: Variant, speed: float, along: Array) -> Array:
    """Relative brightness along one band, scribed on the diagonal: only one belt moves, √2 times as fast [1]."""
    pushes = {"offset": 0.00024, "phases": 0.00034, "detent": 0.00034, "teeth": 0.00042}
    brightness = np.ones_like(along)
    for name, rate in rates(np.sqrt(2) * speed).items():
        if name in pushes:
            trim = variant.unevenness if name != "teeth" else 0.05 + 0.95 * variant.unevenness
            contrast = pushes[name] * trim * gain(rate, resonance(), variant.damping)
            brightness += contrast * np.sin(2 * np.pi * (along * rate / speed + rng.random()))
    return brightness


def photograph(rng: np.random.Generator, variant: Variant, exposure: float, turn: float) -> bytes:
    """A plate of six bands, slowest at the bottom, as a slightly turned camera sees it: JPEG bytes."""
    width, height = round(SAMPLE_LENGTH * PIXELS_PER_METRE), round(6 * BAND_HEIGHT * PIXELS_PER_METRE)
    down, across = np.mgrid[:height, :width] / PIXELS_PER_METRE
    along = across * np.cos(turn) - (down - down.max() / 2) * np.sin(turn)
    up = down.max() - down - (across - across.max() / 2) * np.sin(turn)
    band = np.clip((up / BAND_HEIGHT).astype(int), 0, 5)
    grid = np.arange(-0.002, SAMPLE_LENGTH + 0.002, 5e-6)
    light = np.empty_like(along)
    for k, speed in enumerate(BAND_SPEEDS):
        light[band == k] = np.interp(along[band == k], grid, band_profile(rng, variant, float(speed), grid))
    seam = np.abs(up / BAND_HEIGHT - np.round(up / BAND_HEIGHT)) < 0.015
    light[seam] *= 0.8
    shading = 1 - 0.15 * ((across / across.max() - 0.55) ** 2 + (down / down.max() - 0.4) ** 2)
    seen = exposure * light * shading + rng.normal(0, 0.012, light.shape)
    seen = np.clip(seen, 0, 1)
    encoded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    buffer = io.BytesIO()
    Image.fromarray(np.round(255 * encoded).astype(np.uint8)).save(buffer, "JPEG", quality=85)
    return buffer.getvalue()


def make_photos(rng: np.random.Generator) -> None:
    """One photo of each candidate's plate, under one light."""
    for variant, exposure, turn in zip(VARIANTS, (0.340, 0.352), (0.004, -0.003), strict=True):
        (FOLDER / f"plate-{variant.name}.jpg").write_bytes(photograph(rng, variant, exposure, turn))


def main() -> None:
    """Write all files."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(SEED)
    make_sounds(rng)
    make_traces(rng)
    make_photos(rng)


if __name__ == "__main__":
    main()
