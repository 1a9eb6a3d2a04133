"""One surface item: the photos of every candidate to the ripples, their causes and the fastest clean band."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.analysis.matching import match_wavelength
from generator.analysis.ripple import LEAST_CYCLES, LEAST_PIXELS, Ripple
from generator.analysis.surface import (
    EXPOSURE_DIFFERENCE,
    OVEREXPOSED,
    BandFigures,
    SurfaceFigures,
    check_geometry,
    find_surface,
)
from generator.errors import FileProblems
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.photos import read_photo
from generator.records.findings import Measurement
from generator.records.recordings import Photo, Surface
from generator.records.signals import Cause, Picture
from generator.units import format_stated

RIPPLE_LIMIT = 3.0
"""Ratio to the noise floor up to which a band counts as clean unless the file says otherwise [1]."""
SHOWN_LINES = 240
BLOCK = 8
"""Pixels of a block of JPEG compression."""
TURNED = 0.01
Causes = Callable[[str, float], Sequence[Cause]]
Array = NDArray[np.float64]


def evaluate_surface(
    item: Surface,
    order: Sequence[str],
    files: Mapping[str, bytes],
    causes: Causes,
    limit: float | None,
    limits: Limits = DEFAULT_LIMITS,
) -> dict[str, Any]:
    """Everything that the page shows of one surface item.

    Parameters
    ----------
    item : Surface
    order : sequence of str
        Candidates in file order.
    files : mapping of str to bytes
        By path in the comparison's folder.
    causes : function of candidate and speed [m/s]
        Predicted rates [Hz].
    limit : float or None
        Ratio to the noise floor up to which a band counts as clean [1]; 3 by default.
    limits : Limits
        What the readers accept.

    Returns
    -------
    dict
        As ``generator.evaluation.recordings`` describes.
    """
    photos = [(c, item.photos[c]) for c in order if c in item.photos]
    seen = [(c, photo, *_photo(item, photo, files, limits)) for c, photo in photos]
    found = [_candidate(c, picture, figures, causes, limit or RIPPLE_LIMIT) for c, _, picture, figures in seen]
    return {
        "id": item.id,
        "direction": item.direction,
        "along": item.along,
        "ripple_limit": limit or RIPPLE_LIMIT,
        "spectra": [entry for each in found for entry in each["spectra"]],
        "ripples": [entry for each in found for entry in each["ripples"]],
        "unseen": [entry for each in found for entry in each["unseen"]],
        "photos": [each["photo"] for each in found],
        "clean": [each["clean"] for each in found],
        "alt": dict(item.alt),
        "notes": _notes([each["photo"] for each in found], [picture for _, _, picture, _ in seen]),
    }


def _photo(item: Surface, photo: Photo, files: Mapping[str, bytes], limits: Limits) -> tuple[Picture, SurfaceFigures]:
    picture = read_photo(files[photo.file], photo.file, limits)
    problems = check_geometry(item, photo, picture)
    if problems:
        raise FileProblems(problems)
    return picture, find_surface(item, photo, picture)


def _candidate(
    candidate: str, picture: Picture, figures: SurfaceFigures, causes: Causes, limit: float
) -> dict[str, Any]:
    ripples = [
        entry
        for band in figures.bands
        for entry in _ripples(candidate, picture, figures, band, causes(candidate, band.speed))
    ]
    strongest = {
        band.speed: max((r["ratio"] for r in ripples if r["speed"] == band.speed and r["of_sample"]), default=0.0)
        for band in figures.bands
    }
    return {
        "spectra": [_spectrum(candidate, figures, band) for band in figures.bands],
        "ripples": ripples,
        "unseen": [u for b in figures.bands for u in _unseen(candidate, figures, b, causes(candidate, b.speed))],
        "photo": _photo_facts(candidate, picture, figures, strongest, limit),
        "clean": _clean(candidate, strongest, limit),
    }


# --- ripples ------------------------------------------------------------------------------------------------------


def _ripples(
    candidate: str, picture: Picture, figures: SurfaceFigures, band: BandFigures, causes: Sequence[Cause]
) -> list[dict[str, Any]]:
    return [_ripple(candidate, picture, figures, band, causes, ripple) for ripple in band.spectrum.ripples]


def _ripple(
    candidate: str,
    picture: Picture,
    figures: SurfaceFigures,
    band: BandFigures,
    causes: Sequence[Cause],
    ripple: Ripple,
) -> dict[str, Any]:
    wavelength = 1 / (ripple.frequency * figures.pixels_per_metre)
    resolution = wavelength**2 * figures.pixels_per_metre / band.columns
    matches = match_wavelength(wavelength, causes, band.speed, resolution)
    blocks = _is_block(picture, ripple.frequency, len(band.spectrum.frequency))
    return {
        "candidate": candidate,
        "speed": band.speed,
        "wavelength": wavelength,
        "resolution": resolution,
        "pixels_per_cycle": 1 / ripple.frequency,
        "contrast": ripple.contrast,
        "ratio": ripple.ratio,
        "of_sample": not blocks,
        "causes": [match.words for match in matches] + (["blocks of the photo's compression"] if blocks else []),
        "matches": matches,
    }


def _is_block(picture: Picture, frequency: float, lines: int) -> bool:
    """Whether a ripple sits on the 8-pixel grid that JPEG compression leaves."""
    if not picture.name.lower().endswith((".jpg", ".jpeg")):
        return False
    return any(abs(frequency - k / BLOCK) < 0.5 / lines for k in range(1, BLOCK // 2 + 1))


def _unseen(
    candidate: str, figures: SurfaceFigures, band: BandFigures, causes: Sequence[Cause]
) -> list[dict[str, Any]]:
    """Predicted wavelengths that this photo cannot show: under four pixels, or over a sixth of the band."""
    shortest = LEAST_PIXELS / figures.pixels_per_metre
    longest = band.columns / figures.pixels_per_metre / LEAST_CYCLES
    hidden = [(cause, band.speed / cause.frequency) for cause in causes if cause.frequency > 0]
    return [
        {
            "candidate": candidate,
            "speed": band.speed,
            "cause": cause.name,
            "wavelength": length,
            "why": "under four pixels a cycle" if length < shortest else "too long to be told from shading",
        }
        for cause, length in hidden
        if not shortest <= length <= longest
    ]


def _spectrum(candidate: str, figures: SurfaceFigures, band: BandFigures) -> dict[str, Any]:
    """Contrast over wavelength as it is drawn: the strongest line of each of at most 240 cells."""
    spectrum = band.spectrum
    lines = np.flatnonzero(
        (spectrum.frequency <= 1 / LEAST_PIXELS) & (np.arange(len(spectrum.frequency)) >= LEAST_CYCLES)
    )
    cells = np.array_split(lines, min(SHOWN_LINES, len(lines)))
    strongest = np.array([cell[np.argmax(spectrum.amplitude[cell])] for cell in cells])
    return {
        "candidate": candidate,
        "speed": band.speed,
        "wavelength": 1 / (spectrum.frequency[strongest] * figures.pixels_per_metre),
        "contrast": spectrum.amplitude[strongest],
        "floor": spectrum.threshold * spectrum.floor[strongest],
    }


# --- clean bands --------------------------------------------------------------------------------------------------


def _clean(candidate: str, strongest: Mapping[float, float], limit: float) -> dict[str, Any]:
    clean = [speed for speed, ratio in strongest.items() if ratio <= limit]
    fastest = max(clean, default=None)
    return {
        "candidate": candidate,
        "speeds": clean,
        "fastest_clean_band": fastest,
        "rippled_below": [speed for speed in sorted(strongest) if fastest and speed < fastest and speed not in clean],
        "all_clean": len(clean) == len(strongest),
        "slowest": min(strongest),
        "fastest": max(strongest),
    }


def find_clean(item: Surface, clean: Mapping[str, Any]) -> Measurement:
    """The fastest clean band of one photo [m/s]: a bound where all bands are clean, or none."""
    candidate, fastest = clean["candidate"], clean["fastest_clean_band"]
    step = abs(item.bands.speed_step)
    names = (item.id, candidate, "fastest_clean_band", "m/s")
    if clean["all_clean"]:
        return Measurement(
            *names, "lower bound", 1, at_least=clean["fastest"], bound_count=1, rung=step, method="recorded",
            basis="every band is clean", reason="no faster band was made",
        )  # fmt: skip
    if fastest is None:
        return Measurement(
            *names, "upper bound", 1, at_most=clean["slowest"], bound_count=1, rung=step, method="recorded",
            basis="no band is clean", reason="no slower band was made",
        )  # fmt: skip
    slower = " and ".join(format_stated(speed, "m/s") for speed in clean["rippled_below"])
    basis = "one photo, in steps of one band" + (f"; ripple at {slower} below it" if slower else "")
    return Measurement(*names, "recorded", 1, estimate=fastest, rung=step, method="recorded", basis=basis)


def _photo_facts(
    candidate: str, picture: Picture, figures: SurfaceFigures, strongest: Mapping[float, float], limit: float
) -> dict[str, Any]:
    return {
        "candidate": candidate,
        "file": picture.name,
        "width": picture.width,
        "height": picture.height,
        "pixels_per_metre": figures.pixels_per_metre,
        "length": figures.length,
        "turn": float(np.arctan(figures.turn)),
        "luminance": figures.luminance,
        "overexposed": figures.overexposed,
        "bands": [
            {
                "speed": band.speed,
                "top": band.strip.top,
                "bottom": band.strip.bottom,
                "left": band.strip.left,
                "right": band.strip.right,
                "luminance": band.luminance,
                "strongest": strongest[band.speed],
                "clean": strongest[band.speed] <= limit,
            }
            for band in figures.bands
        ],
        "notes": list(picture.notes),
    }


def _notes(photos: Sequence[Mapping[str, Any]], pictures: Sequence[Picture]) -> list[str]:
    notes = [f"{picture.name}: {note}." for picture in pictures for note in picture.notes]
    for photo in photos:
        if photo["overexposed"] > OVEREXPOSED:
            notes.append(
                f"{photo['file']}: {100 * photo['overexposed']:.0f} % of it is at full white: ripples are lost there."
            )
        if abs(photo["turn"]) > TURNED:
            notes.append(
                f"{photo['file']}: turned by {abs(np.degrees(photo['turn'])):.1f}°; straightened before it was read."
            )
    light = [photo["luminance"] for photo in photos]
    if len(light) > 1 and max(light) > (1 + EXPOSURE_DIFFERENCE) * min(light):
        notes.append(
            f"The photos differ in exposure: mean luminance {min(light):.2g} to {max(light):.2g} of full white."
        )
    notes.append(
        "Contrast depends on the light, so a photo makes no claim about the depth of a ripple; "
        "a camera tilted by 10° shortens lengths by 1.5 %."
    )
    return notes
