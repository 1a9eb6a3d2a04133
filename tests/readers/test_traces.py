"""Traces and spectra in CSV: units, time stamps, and a real accelerometer record."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from generator.errors import FileProblems
from generator.readers.traces import read_band_levels, read_density, read_trace

COLUMNS = {"time": "t [s]", "acceleration": "ax [m/s²]"}


def csv(time: np.ndarray, values: np.ndarray, head: str = "t [s],ax [m/s²]") -> bytes:
    rows = "".join(f"{t!r},{a!r}\n" for t, a in zip(time.tolist(), values.tolist(), strict=True))
    return f"{head}\n{rows}".encode()


def problem_of(content: bytes, columns: dict[str, str] = COLUMNS) -> tuple[str, int]:
    with pytest.raises(FileProblems) as caught:
        read_trace(content, "a.csv", columns)
    problem = caught.value.problems[0]
    assert problem.file == "a.csv" and problem.fix
    return problem.code, problem.line


TIME = np.arange(400) / 500
WAVE = np.sin(40 * TIME)


def test_any_names_and_units() -> None:
    content = csv(1000 * TIME, WAVE, "stamp [ms],side [g]")

    found = read_trace(content, "a.csv", {"time": "stamp [ms]", "acceleration": "side [g]"})

    assert found.rate == pytest.approx(500)
    # standard acceleration of free fall, exact by definition (ISO 80000-3)
    np.testing.assert_allclose(found.samples, 9.80665 * WAVE, rtol=1e-12)
    assert found.notes == ()


def test_real_accelerometer_record() -> None:
    # strong-motion record that obspy's wheel ships; its own header says: Max. Acc. (gal) 4.383, scale 2000/8388608
    spec = importlib.util.find_spec("obspy")
    assert spec is not None and spec.submodule_search_locations
    path = Path(spec.submodule_search_locations[0], "io", "nied", "tests", "data", "test.knet")
    lines = path.read_text().splitlines()[17:]
    counts = np.array([int(cell) for line in lines for cell in line.split()])
    gal = counts * 2000 / 8388608
    content = csv(np.arange(len(gal)) / 100, gal, "time [s],east [cm/s²]")

    found = read_trace(content, "knet.csv", {"time": "time [s]", "acceleration": "east [cm/s²]"})

    assert found.rate == pytest.approx(100) and len(found.samples) == 5900
    assert np.max(np.abs(found.samples - found.samples.mean())) == pytest.approx(0.04383276, rel=1e-6)


def test_gap_is_an_error_with_its_row() -> None:
    keep = np.delete(np.arange(400), 200)

    assert problem_of(csv(TIME[keep], WAVE[keep])) == ("time-gap", 202)


def test_repeated_stamp_is_an_error() -> None:
    time = TIME.copy()
    time[100] = time[99]

    assert problem_of(csv(time, WAVE)) == ("time-order", 102)


def test_stamps_that_run_back_are_an_error() -> None:
    time = TIME.copy()
    time[100:] -= 0.5

    assert problem_of(csv(time, WAVE)) == ("time-order", 102)


def test_short_and_constant_traces_are_errors() -> None:
    assert problem_of(csv(TIME[:20], WAVE[:20]))[0] == "trace-short"
    assert problem_of(csv(TIME, np.zeros(400)))[0] == "trace-constant"


@pytest.mark.parametrize("cell", ["", "nan", "inf", "3,5", "x"])
def test_bad_cell_is_an_error(cell: str) -> None:
    lines = csv(TIME, WAVE).decode().splitlines()
    lines[50] = f"{TIME[49]},{cell}"

    assert problem_of("\n".join(lines).encode())[1] == 51


def test_missing_column_is_an_error() -> None:
    assert problem_of(csv(TIME, WAVE), {**COLUMNS, "acceleration": "az [m/s²]"})[0] == "csv-column-missing"


def test_jitter_is_resampled_and_noted() -> None:
    rng = np.random.default_rng(4)
    time = TIME + rng.uniform(-0.12, 0.12, 400) / 500
    found = read_trace(csv(time, np.sin(40 * time)), "a.csv", COLUMNS)

    assert 0.05 < found.jitter < 0.15 and "jitter" in found.notes[0]
    even = time[0] + np.arange(400) / found.rate
    np.testing.assert_allclose(found.samples[5:-5], np.sin(40 * even)[5:-5], atol=2e-4)


def test_small_jitter_is_resampled_without_a_note() -> None:
    rng = np.random.default_rng(4)
    time = TIME + rng.uniform(-0.01, 0.01, 400) / 500

    found = read_trace(csv(time, np.sin(40 * time)), "a.csv", COLUMNS)

    assert found.notes == () and 0.001 < found.jitter < 0.02


def test_density_in_both_units() -> None:
    lines = np.arange(1, 40) * 0.5
    plain = read_density(
        csv(lines, lines**2, "f [Hz],d [(m/s²)²/Hz]"), "a.csv", {"frequency": "f [Hz]", "density": "d [(m/s²)²/Hz]"}
    )
    falls = read_density(
        csv(lines, lines**2, "f [Hz],d [g²/Hz]"), "a.csv", {"frequency": "f [Hz]", "density": "d [g²/Hz]"}
    )

    np.testing.assert_allclose(plain.density, lines**2)
    np.testing.assert_allclose(falls.density, 9.80665**2 * lines**2)
    assert plain.resolution == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("change", "code"),
    [((20, 0, 10.1), "frequency-order"), ((20, 0, 10.8), "spectrum-uneven"), ((20, 1, -1.0), "spectrum-negative")],
)
def test_bad_density(change: tuple[int, int, float], code: str) -> None:
    cells = np.stack([np.arange(1, 40) * 0.5, np.ones(39)], axis=1)
    row, column, value = change
    cells[row, column] = value
    if code == "frequency-order":
        cells[row, 0] = cells[row - 1, 0]

    with pytest.raises(FileProblems) as caught:
        read_density(
            csv(cells[:, 0], cells[:, 1], "f [Hz],d [g²/Hz]"), "a.csv", {"frequency": "f [Hz]", "density": "d [g²/Hz]"}
        )

    assert caught.value.problems[0].code == code


@pytest.mark.parametrize(("unit", "weighted"), [("dB", False), ("dB(A)", True)])
def test_band_levels(unit: str, weighted: bool) -> None:
    found = read_band_levels(f"frequency [Hz],level [{unit}]\n1000,40\n1250,41.5\n".encode(), "s.csv")

    assert found.weighted is weighted
    np.testing.assert_allclose(found.level, [40, 41.5])


@pytest.mark.parametrize("first", [0, -31.5])
def test_a_level_at_no_frequency_is_an_error(first: float) -> None:
    with pytest.raises(FileProblems) as caught:
        read_band_levels(f"frequency [Hz],level [dB]\n{first},40\n1000,41.5\n".encode(), "s.csv")

    (problem,) = caught.value.problems
    assert (problem.code, problem.line) == ("spectrum-frequency", 2)


def test_band_levels_must_rise() -> None:
    with pytest.raises(FileProblems):
        read_band_levels(b"frequency [Hz],level [dB]\n1000,40\n1000,41.5\n", "s.csv")
