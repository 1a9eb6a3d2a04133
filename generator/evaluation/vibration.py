"""One vibration item: traces or ready spectra of every candidate to what the page shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.analysis.density import density_interval
from generator.analysis.repeats import find_repeated
from generator.analysis.resonance_fit import ResonanceFit, response
from generator.analysis.vibration import (
    NOT_WHITE,
    SEARCH,
    VibrationFigures,
    find_spectrum,
    find_trace,
)
from generator.evaluation.numbers import drop_noise
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.traces import read_density, read_trace
from generator.records.findings import Measurement
from generator.records.recordings import Vibration
from generator.records.signals import Acceleration, Density

UNITS = {"rms": "m/s^2", "peak_frequency": "Hz", "damping": "1"}
SHOWN_LINES = 400
CURVE_POINTS = 160
Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Seen:
    """One file with its figures; trace is None for a ready spectrum."""

    candidate: str
    file: str
    trace: Acceleration | None
    figures: VibrationFigures


def evaluate_vibration(
    item: Vibration,
    order: Sequence[str],
    files: Mapping[str, bytes],
    tones: Mapping[str, Sequence[float]],
    band: tuple[float, float] | None,
    limits: Limits = DEFAULT_LIMITS,
) -> dict[str, Any]:
    """Everything that the page shows of one vibration item, the model's part apart.

    Parameters
    ----------
    item : Vibration
    order : sequence of str
        Candidates in file order.
    files : mapping of str to bytes
        By path in the comparison's folder.
    tones : mapping of str to floats [Hz]
        Step and tooth tones by candidate; their lines take no part in the peak.
    band : (low, high) [Hz] or None
        Where rms and peak are taken.
    limits : Limits
        What the readers accept.

    Returns
    -------
    dict
        As ``generator.evaluation.recordings`` describes, with ``values`` (quantity to candidate to figures per file).
    """
    seen = [each for c in order for each in _candidate(item, c, files, tones.get(c, ()), band, limits)]
    present = [c for c in order if any(each.candidate == c for each in seen)]
    means = {c: _mean([each.figures.density for each in seen if each.candidate == c]) for c in present}
    whole = {c: find_spectrum(means[c], tones.get(c, ()), band) for c in present}
    values = {quantity: _values(seen, present, quantity) for quantity in UNITS}
    return {
        "id": item.id,
        "axis": item.axis,
        "excitation": item.excitation,
        "speed": item.speed,
        "current": item.current,
        "band": band or SEARCH,
        "densities": [_density(c, whole[c]) for c in present],
        "fits": [_fit(item.id, c, whole[c], values) for c in present],
        "recordings": [_recording(each) for each in seen],
        "values": values,
        "notes": _notes(item, seen),
    }


def find_figures(
    item: str, values: Mapping[str, Mapping[str, Sequence[float]]], quantity: str
) -> dict[str, Measurement]:
    """Measurements of one quantity by candidate, from figures per recording [UNITS of the quantity]."""
    return {
        candidate: find_repeated(item, candidate, quantity, UNITS[quantity], found)
        for candidate, found in values[quantity].items()
        if found
    }


def _candidate(
    item: Vibration,
    candidate: str,
    files: Mapping[str, bytes],
    tones: Sequence[float],
    band: tuple[float, float] | None,
    limits: Limits,
) -> list[_Seen]:
    columns = item.columns
    traces = [read_trace(files[f], f, columns, limits) for f in item.traces.get(candidate, ())]
    spectra = [(f, read_density(files[f], f, columns, limits)) for f in item.spectra.get(candidate, ())]
    return [_Seen(candidate, trace.name, trace, find_trace(trace, tones, band)) for trace in traces] + [
        _Seen(candidate, file, None, find_spectrum(density, tones, band)) for file, density in spectra
    ]


def _values(seen: Sequence[_Seen], present: Sequence[str], quantity: str) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {candidate: [] for candidate in present}
    for each in seen:
        figure = _figure(each.figures, quantity)
        if figure is not None:
            found[each.candidate].append(figure)
    return found


def _figure(figures: VibrationFigures, quantity: str) -> float | None:
    if quantity == "rms":
        return figures.rms
    if figures.fit is None:
        return None
    return figures.fit.frequency if quantity == "peak_frequency" else figures.fit.damping


def _mean(densities: Sequence[Density]) -> Density:
    """Mean of the densities that share the first one's lines."""
    first = densities[0]
    alike = [d for d in densities if len(d.frequency) == len(first.frequency) and d.resolution == first.resolution]
    return Density(
        first.frequency,
        np.mean([d.density for d in alike], axis=0),
        sum(d.averages for d in alike),
        sum(d.duration for d in alike),
    )


# --- what is drawn ------------------------------------------------------------------------------------------------


def _density(candidate: str, figures: VibrationFigures) -> dict[str, Any]:
    density = figures.density
    inside = (density.frequency >= figures.band[0] * 0.8) & (density.frequency <= figures.band[1])
    shown = np.flatnonzero(inside)[:: max(1, int(np.ceil(np.count_nonzero(inside) / SHOWN_LINES)))]
    found = {"candidate": candidate, "frequency": density.frequency[shown], "density": density.density[shown]}
    if np.isfinite(density.averages):
        low, high = density_interval(density.averages)
        found |= {"low": low * density.density[shown], "high": high * density.density[shown]}
    return found | {"resolution": density.resolution, "averages": density.averages}


def _fit(item: str, candidate: str, figures: VibrationFigures, values: Mapping[str, Any]) -> dict[str, Any]:
    """The peak of a candidate: mean of its repeats with their interval, else the fit of the single recording."""
    found: dict[str, Any] = {"candidate": candidate, "peak_frequency": None, "damping_ratio": None}
    peaks = find_figures(item, values, "peak_frequency").get(candidate)
    dampings = find_figures(item, values, "damping").get(candidate)
    if peaks is None or dampings is None:
        return found
    fit = figures.fit
    found |= {"peak_frequency": peaks.estimate, "peak_low": peaks.low, "peak_high": peaks.high, "count": peaks.count}
    found |= {"damping_ratio": dampings.estimate, "damping_low": dampings.low, "damping_high": dampings.high}
    found |= {"repeatability": peaks.scatter}
    if fit is None:
        return found
    if peaks.low is None:
        (found["peak_low"], found["peak_high"]) = fit.frequency_interval()
        (found["damping_low"], found["damping_high"]) = fit.damping_interval()
    return found | _curve(fit)


def _curve(fit: ResonanceFit) -> dict[str, Any]:
    """The fitted density over the lines that it was fitted to."""
    frequency = np.geomspace(fit.frequency / 1.6, fit.frequency * 1.6, CURVE_POINTS)
    shape = response(frequency, fit.frequency, fit.damping) * 4 * fit.damping**2
    return {"frequency": frequency, "density": fit.peak * shape + fit.floor}


def _recording(seen: _Seen) -> dict[str, Any]:
    figures, density, trace = seen.figures, seen.figures.density, seen.trace
    return {
        "candidate": seen.candidate,
        "file": seen.file,
        "rate": None if trace is None else trace.rate,
        "duration": density.duration,
        "jitter": None if trace is None else drop_noise(trace.jitter, 1.0),
        "resolution": density.resolution,
        "averages": density.averages,
        "interval": figures.interval,
        "rms": figures.rms,
        "left_out": figures.left_out,
        **_peak(figures),
        "notes": [] if trace is None else list(trace.notes),
    }


def _peak(figures: VibrationFigures) -> dict[str, Any]:
    """The fitted peak with its intervals, the displacement form's difference, and the half-power width."""
    fit, other, half = figures.fit, figures.displacement, figures.half_power
    if fit is None:
        return {"peak_frequency": None, "damping_ratio": None}
    (peak_low, peak_high), (low, high) = fit.frequency_interval(), fit.damping_interval()
    return {
        "peak_frequency": fit.frequency,
        "peak_low": peak_low,
        "peak_high": peak_high,
        "damping_ratio": fit.damping,
        "damping_low": low,
        "damping_high": high,
        "displacement_form": None
        if other is None
        else {"peak_frequency": other.frequency, "damping_ratio": other.damping},
        "half_power": None
        if half is None
        else {"damping_ratio": half.damping, "lines": half.lines, "at_most": half.at_most},
    }


def _notes(item: Vibration, seen: Sequence[_Seen]) -> list[str]:
    notes = [f"{each.file}: {note}." for each in seen if each.trace for note in each.trace.notes]
    notes += [f"{each.file}: no peak stands out." for each in seen if each.figures.fit is None]
    if item.excitation == "run":
        notes.append(f"{NOT_WHITE[:1].upper()}{NOT_WHITE[1:]}.")
    left_out = sorted({round(tone, 1) for each in seen for tone in each.figures.left_out})
    if left_out:
        rates = ", ".join(f"{tone:g}" for tone in left_out)
        notes.append(f"Left out of the peaks: three lines on either side of {rates} Hz (step and tooth tones).")
    return notes
