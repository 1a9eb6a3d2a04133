"""Photos of a sample made in bands: brightness profiles along the travel, straightened, and the ripples in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.analysis.light import Rows, find_overexposed, find_rows
from generator.analysis.ripple import LEAST_CYCLES, LEAST_PIXELS, RippleSpectrum, find_ripples
from generator.analysis.straighten import Strips, find_turn, straighten
from generator.errors import Problem
from generator.records.recordings import Photo, Scale, Surface
from generator.records.signals import Picture

TRIM = 0.1
"""Share of a band's height left out at either edge [1]."""
STRIPS, MOST_ROWS = 16, 16
"""Parts that a band is cut into at least, where it has the rows, and picture rows in a part at most."""
EXPOSURE_DIFFERENCE = 0.10
"""Relative difference of mean luminance from which two photos are exposed differently [1]."""
OVEREXPOSED, OVEREXPOSED_STEP = 0.01, 4
"""Share of pixels at full scale that is worth a note [1], counted on every fourth row and column."""
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Strip:
    """Where a band lies in the picture [px]: first and last of its rows along the stack, and of its columns."""

    top: float
    bottom: float
    left: int
    right: int


@dataclass(frozen=True)
class BandFigures:
    """One band: speed [m/s], its strip [px], mean luminance [1], columns read [px], and its ripple spectrum."""

    speed: float
    strip: Strip
    luminance: float
    columns: int
    spectrum: RippleSpectrum


@dataclass(frozen=True)
class SurfaceFigures:
    """One photo: pixels per metre along the travel, its turn as a tangent [1], length of a band [m], mean luminance
    [1], share of pixels at full white [1], and its bands in file order."""

    pixels_per_metre: float
    turn: float
    length: float
    luminance: float
    overexposed: float
    bands: tuple[BandFigures, ...]


# --- geometry -----------------------------------------------------------------------------------------------------


def find_scale(surface: Surface, photo: Photo) -> Scale | None:
    """The photo's own scale, else the item's."""
    return photo.scale or surface.scale


def check_geometry(surface: Surface, photo: Photo, picture: Picture) -> list[Problem]:
    """Problems of a photo whose bands do not lie within it, are too thin or too short."""
    scale = find_scale(surface, photo)
    if scale is None:
        return [_problem(picture.name, "photo-scale", "no scale is given", "add scale: {pixels: 930, length: 20 mm}")]
    width, height = _upright_size(surface, picture)
    strips = cut_strips(surface, photo, width, height)
    low, high = min(s.top for s in strips), max(s.bottom for s in strips)
    if low < -0.5 or high > height + 0.5:
        message = f"the bands reach from {low:.0f} to {high:.0f} px, but the picture from 0 to {height} px"
        return [_problem(picture.name, "photo-bands", message, "check bands, scale and origin")]
    if strips[0].bottom - strips[0].top < 4:
        return [_problem(picture.name, "photo-bands", "a band is less than 4 px high", "take the photo from nearer")]
    if strips[0].right - strips[0].left < LEAST_CYCLES * LEAST_PIXELS * 4:
        return [_problem(picture.name, "photo-bands", "the bands are too short to find ripples", "check the origin")]
    return []


def _problem(file: str, code: str, message: str, fix: str) -> Problem:
    return Problem(file, 0, 0, "", code, message, fix)


def _upright_size(surface: Surface, picture: Picture) -> tuple[int, int]:
    """Width and height [px] with the travel lying horizontal."""
    size = (picture.width, picture.height)
    return size if surface.along == "horizontal" else size[::-1]


def cut_strips(surface: Surface, photo: Photo, width: int, height: int) -> list[Strip]:
    """Where each band lies, in file order, in a picture of that size whose travel lies horizontal [px]."""
    scale = find_scale(surface, photo)
    assert scale is not None
    thick = surface.bands.height * scale.pixels_per_metre
    along, across = _origin(surface, photo)
    forward = surface.bands.first in ("top", "left")
    edge = across if across is not None else (0.0 if forward else float(height))
    tops = [edge + k * thick if forward else edge - (k + 1) * thick for k in range(surface.bands.count)]
    return [Strip(top, top + thick, int(along or 0), width) for top in tops]


def _origin(surface: Surface, photo: Photo) -> tuple[float | None, float | None]:
    if photo.origin is None:
        return None, None
    return photo.origin if surface.along == "horizontal" else photo.origin[::-1]


# --- figures ------------------------------------------------------------------------------------------------------


def find_surface(surface: Surface, photo: Photo, picture: Picture) -> SurfaceFigures:
    """Ripples of every band of one photo.

    Parameters
    ----------
    surface : Surface
        Bands, direction and scale; ``along`` says how the travel lies.
    photo : Photo
        Origin and own scale.
    picture : Picture
        Decoded, upright; its geometry has been checked.

    Returns
    -------
    SurfaceFigures
        All bands share one turn, found from all of them together.

    Assumes: ripples stand across the travel, so a slant is the photo's turn; the camera looks square at the sample
    (a tilt by θ shortens lengths by cos θ). Source: IEC 61966-2-1 for light. Checked by rendered gratings.
    """
    scale = find_scale(surface, photo)
    assert scale is not None
    pixels = picture.pixels if surface.along == "horizontal" else picture.pixels.swapaxes(0, 1)
    strips = cut_strips(surface, photo, pixels.shape[1], pixels.shape[0])
    rows = find_rows(pixels, int(np.clip(_kept_height(strips[0]) / STRIPS, 1, MOST_ROWS)))
    turn = find_turn([take_strips(rows, strip, 0.0) for strip in strips], LEAST_PIXELS, LEAST_CYCLES)
    bands = tuple(_band(rows, strip, speed, turn) for strip, speed in zip(strips, surface.bands.speeds(), strict=True))
    # rows run along the picture's edge, so they cross a turned sample aslant and a length along them is longer
    pixels_per_metre = scale.pixels_per_metre * float(np.hypot(1.0, turn))
    top, bottom = (round(edge) for edge in (min(s.top for s in strips), max(s.bottom for s in strips)))
    return SurfaceFigures(
        pixels_per_metre=pixels_per_metre,
        turn=turn,
        length=(strips[0].right - strips[0].left) / pixels_per_metre,
        luminance=float(np.mean([band.luminance for band in bands])),
        overexposed=find_overexposed(pixels[max(top, 0) : bottom, strips[0].left :], OVEREXPOSED_STEP),
        bands=bands,
    )


def _band(rows: Rows, strip: Strip, speed: float, turn: float) -> BandFigures:
    profile = straighten(take_strips(rows, strip, turn), turn)
    return BandFigures(speed, strip, float(np.mean(profile)), len(profile), find_ripples(profile))


def _kept_height(strip: Strip) -> float:
    return (1 - 2 * TRIM) * (strip.bottom - strip.top)


def take_strips(rows: Rows, strip: Strip, turn: float) -> Strips:
    """The mean rows of a band without its edges, cut along the travel, turned by a slope [1]; NaN beyond its reach."""
    first = strip.top + TRIM * (strip.bottom - strip.top)
    last = first + _kept_height(strip)
    drop = -turn * np.arange(strip.right - strip.left)
    centres = rows.centres
    near = (centres >= first + min(drop[-1], 0.0)) & (centres < last + max(drop[-1], 0.0))
    if not np.any(near):
        near[np.argmin(np.abs(centres - (first + last) / 2))] = True
        return Strips(rows.means[near, strip.left : strip.right], centres[near])
    place = centres[near, None] - drop[None, :]
    inside = (place >= first) & (place < last)
    return Strips(np.where(inside, rows.means[near, strip.left : strip.right], np.nan), centres[near])
