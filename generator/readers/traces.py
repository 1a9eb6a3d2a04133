"""CSV traces of acceleration and ready spectra to signals in SI, with their time stamps checked. Never analyses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from generator.errors import FileProblems, Problem
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.tables import Column, Table, read_table
from generator.records.signals import Acceleration, BandLevels, Density

FEWEST_SAMPLES = 64
FEWEST_LINES = 8
GAP = 1.5
"""Time steps over the usual one from which samples are missing [1]."""
JITTER_NOTED = 0.02
"""Standard deviation of the time steps over the usual one from which it is noted [1]."""
JITTER_IGNORED = 1e-3
Array = NDArray[np.float64]


def read_trace(content: bytes, file: str, columns: Mapping[str, str], limits: Limits = DEFAULT_LIMITS) -> Acceleration:
    """Read a trace of acceleration over time.

    Parameters
    ----------
    content : bytes
        The CSV file.
    file : str
        Name for problems.
    columns : mapping of str to str
        ``time`` and ``acceleration`` to the file's own header cells, units in brackets; other columns are passed over.
    limits : Limits
        Rows and columns that are accepted.

    Returns
    -------
    Acceleration
        Even samples [m/s²]. Uneven time stamps are resampled with a cubic spline; over 2 % jitter that is noted.

    Raises
    ------
    FileProblems
        Unreadable cells, time stamps that repeat or run back, gaps, or too few samples.
    """
    table = read_table(content, file, _columns(columns, ("time", "acceleration")), limits, extra=True)
    time, values = table.numbers("time"), table.numbers("acceleration")
    _check_count(table, FEWEST_SAMPLES, "samples")
    step, jitter = _check_times(table, time)
    if np.ptp(values) == 0:
        raise _fail(table, 0, "trace-constant", "every sample is the same", "check the sensor and the column")
    notes: tuple[str, ...] = ()
    if jitter > JITTER_IGNORED:
        values = _resample(time, values, step)
    if jitter > JITTER_NOTED:
        notes = (f"uneven time stamps (jitter {100 * jitter:.2g} %): resampled evenly",)
    return Acceleration(file, 1 / step, values, jitter, notes)


def read_density(content: bytes, file: str, columns: Mapping[str, str], limits: Limits = DEFAULT_LIMITS) -> Density:
    """Read a ready spectral density of acceleration.

    Parameters
    ----------
    content, file, columns, limits
        As ``read_trace``, with ``frequency`` and ``density`` as columns.

    Returns
    -------
    Density
        [(m/s²)²/Hz] on even lines; averages and duration are nan, as the file does not tell them.
    """
    table = read_table(content, file, _columns(columns, ("frequency", "density")), limits, extra=True)
    frequency, density = table.numbers("frequency"), table.numbers("density")
    _check_count(table, FEWEST_LINES, "lines")
    _check_rising(table, frequency, "frequency", "frequency-order")
    steps = np.diff(frequency)
    odd = np.flatnonzero(np.abs(steps / np.median(steps) - 1) > 0.01)
    if odd.size:
        fix = "export the spectrum with lines at one spacing"
        raise _fail(table, int(odd[0]) + 1, "spectrum-uneven", "the lines are not evenly spaced", fix)
    if np.any(density < 0):
        worst = int(np.argmin(density))
        raise _fail(table, worst, "spectrum-negative", "a density below zero", "check the column")
    return Density(frequency, density, float("nan"), float("nan"))


def read_band_levels(content: bytes, file: str, limits: Limits = DEFAULT_LIMITS) -> BandLevels:
    """Read a ready sound spectrum with the columns frequency and level; ``level [dB(A)]`` is A-weighted already.

    Parameters
    ----------
    content, file, limits
        As ``read_trace``.
    """
    wanted = (Column("frequency", "frequency"), Column("level", "level"))
    table = read_table(content, file, wanted, limits, extra=True)
    _check_rising(table, table.numbers("frequency"), "frequency", "frequency-order")
    if table.numbers("frequency")[0] <= 0:
        raise _fail(table, 0, "spectrum-frequency", "a frequency of zero or less", "leave that line out")
    header = content.decode("utf-8-sig").split("\n", 1)[0].replace(" ", "")
    return BandLevels(file, table.numbers("frequency"), table.numbers("level"), "dB(A)" in header)


def _columns(columns: Mapping[str, str], names: Sequence[str]) -> tuple[Column, ...]:
    kinds = {"density": "acceleration density"}
    return tuple(Column(name, kinds.get(name, name), header=columns.get(name)) for name in names)


def _fail(table: Table, row: int, code: str, message: str, fix: str) -> FileProblems:
    return FileProblems([Problem(table.file, table.lines[row], 1, "", code, message, fix)])


def _check_count(table: Table, fewest: int, what: str) -> None:
    if len(table) < fewest:
        message = f"only {len(table)} {what}: too few for a spectrum"
        raise _fail(table, len(table) - 1, "trace-short", message, f"give at least {fewest}")


def _check_rising(table: Table, values: Array, what: str, code: str) -> None:
    falls = np.flatnonzero(np.diff(values) <= 0)
    if falls.size:
        row = int(falls[0]) + 1
        verb = "repeats" if values[row] == values[row - 1] else "runs back"
        message = f"the {what} {verb}: {values[row]:.9g} after {values[row - 1]:.9g}"
        raise _fail(table, row, code, message, "remove doubled rows, or write more digits")


def _check_times(table: Table, time: Array) -> tuple[float, float]:
    """Mean time step [s] and jitter [1]; raises on stamps that repeat, run back or leave a gap."""
    _check_rising(table, time, "time", "time-order")
    steps = np.diff(time)
    usual = float(np.median(steps))
    gaps = np.flatnonzero(steps > GAP * usual)
    if gaps.size:
        row = int(gaps[0]) + 1
        message = f"a gap of {steps[row - 1]:.4g} s, where samples come every {usual:.4g} s"
        raise _fail(table, row, "time-gap", message, "record again, or cut the file to the longest part without gaps")
    mean = float((time[-1] - time[0]) / (len(time) - 1))
    return mean, float(np.std(steps) / mean)


def _resample(time: Array, values: Array, step: float) -> Array:
    from scipy.interpolate import CubicSpline

    even = time[0] + step * np.arange(len(time))
    return np.asarray(CubicSpline(time, values)(np.minimum(even, time[-1])), dtype=float)
