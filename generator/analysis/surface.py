"""Photos of a sample made in bands: brightness profiles along the travel, straightened, and the ripples in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from generator.analysis.ripple import LEAST_CYCLES, LEAST_PIXELS, RippleSpectrum, find_ripples
from generator.errors import Problem
from generator.records.recordings import Photo, Scale, Surface
from generator.records.signals import Picture

LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Shares of linear red, green and blue in luminance (IEC 61966-2-1, ITU-R BT.709)."""
TRIM = 0.1
"""Share of a band's height left out at either edge [1]."""
STRIPS = 16
STEEPEST = 0.18
"""Largest turn of the photo that is straightened, as a tangent [1] (10°)."""
STRAIGHT_LINES = 48
STRAIGHT = 0.1
"""Shift between middle and edge of a band under which nothing is moved [px]."""
ROWS = 64
EXPOSURE_DIFFERENCE = 0.10
"""Relative difference of mean luminance from which two photos are exposed differently [1]."""
OVEREXPOSED = 0.01
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
    """One band: speed [m/s], its strip [px], mean luminance [1], and its ripple spectrum."""

    speed: float
    strip: Strip
    luminance: float
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


# --- light --------------------------------------------------------------------------------------------------------


def decode_srgb(encoded: NDArray[np.floating]) -> NDArray[np.floating]:
    """Linear light [1] from sRGB-encoded values 0 … 1. Source: IEC 61966-2-1; checked against its printed values."""
    low = encoded <= 0.04045
    return np.where(low, encoded / 12.92, ((np.maximum(encoded, 0.04045) + 0.055) / 1.055) ** 2.4)


def find_luminance(pixels: NDArray[np.integer]) -> NDArray[np.float32]:
    """Linear luminance (height, width) [1] of sRGB pixels, grey or colour, 8 or 16 bit."""
    top = np.iinfo(pixels.dtype).max
    table = decode_srgb(np.arange(top + 1) / top)
    if pixels.ndim == 2:
        return table.astype(np.float32)[pixels]
    tables = [(share * table).astype(np.float32) for share in LUMINANCE]
    found = np.empty(pixels.shape[:2], np.float32)
    for first in range(0, len(pixels), ROWS):
        rows = pixels[first : first + ROWS]
        found[first : first + ROWS] = tables[0][rows[..., 0]] + tables[1][rows[..., 1]] + tables[2][rows[..., 2]]
    return found


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
    luminance = find_luminance(pixels)
    strips = cut_strips(surface, photo, luminance.shape[1], luminance.shape[0])
    turn = find_turn([strip_means(luminance, strip, 0.0) for strip in strips], _strip_height(strips[0]))
    bands = tuple(
        _band(luminance, strip, speed, turn) for strip, speed in zip(strips, surface.bands.speeds(), strict=True)
    )
    # Bands are cut along the turned travel, but columns are counted along the picture's edge.
    pixels_per_metre = scale.pixels_per_metre / float(np.hypot(1.0, turn))
    return SurfaceFigures(
        pixels_per_metre=pixels_per_metre,
        turn=turn,
        length=(strips[0].right - strips[0].left) / pixels_per_metre,
        luminance=float(np.mean([band.luminance for band in bands])),
        overexposed=_overexposed(luminance, strips),
        bands=bands,
    )


def _band(luminance: NDArray[np.float32], strip: Strip, speed: float, turn: float) -> BandFigures:
    means = strip_means(luminance, strip, turn)
    profile = straighten(means, turn / (1 + turn**2) * _strip_height(strip))
    return BandFigures(speed, strip, float(np.mean(profile)), find_ripples(profile))


def _strip_height(strip: Strip) -> float:
    return (1 - 2 * TRIM) * (strip.bottom - strip.top) / _strip_count(strip)


def _strip_count(strip: Strip) -> int:
    return int(np.clip((1 - 2 * TRIM) * (strip.bottom - strip.top), 1, STRIPS))


def strip_means(luminance: NDArray[np.float32], strip: Strip, turn: float) -> Array:
    """Mean rows (strips, columns) of equal parts of a band, cut along the turned travel [1]."""
    count, height = _strip_count(strip), len(luminance)
    first = strip.top + TRIM * (strip.bottom - strip.top)
    edges = first + _strip_height(strip) * np.arange(count + 1)
    means = np.empty((count, strip.right - strip.left))
    for left, right, drop in _blocks(strip, turn):
        rows = np.clip(np.round(edges + drop).astype(int), 0, height)
        for k in range(count):
            top = min(rows[k], height - 1)
            block = luminance[top : max(rows[k + 1], top + 1), left:right]
            means[k, left - strip.left : right - strip.left] = block.mean(axis=0, dtype=np.float64)
    return means


def _blocks(strip: Strip, turn: float) -> Iterator[tuple[int, int, float]]:
    """Column ranges over which a turned band drops by at most a pixel, with the drop of each [px]."""
    width = strip.right - strip.left
    count = int(min(abs(turn) * width, width / 4)) + 1
    edges = np.linspace(strip.left, strip.right, count + 1).round().astype(int)
    for left, right in pairwise(edges):
        yield int(left), int(right), -turn * ((left + right) / 2 - strip.left)


def find_turn(bands: list[Array], height: float) -> float:
    """Turn of the photo as a tangent [1]: the shift per pixel down that best joins the strips of all bands.

    Parameters
    ----------
    bands : list of array (strips, columns)
        Mean rows of each band's strips.
    height : float [px]
        Distance of neighbouring strips.

    Returns
    -------
    float
        Columns that the pattern moves right per pixel down; 0 where no turn lays them on one another clearly better.
    """
    span = height * max(1, len(bands[0]) - 1)
    slopes = np.linspace(-STEEPEST, STEEPEST, 2 * int(np.ceil(STEEPEST * span)) + 1)
    fits = np.sum([_fits(band, height, slopes) for band in bands], axis=0)
    best = int(np.argmax(fits))
    if fits[best] < 1.1 * fits[len(slopes) // 2] or best in (0, len(slopes) - 1):
        return _finer(bands, height, 0.0, 0.5 * (slopes[1] - slopes[0])) if len(slopes) > 1 else 0.0
    return _finer(bands, height, float(slopes[best]), float(slopes[1] - slopes[0]))


def _finer(bands: list[Array], height: float, middle: float, reach: float) -> float:
    """The best turn within ``reach`` of one, from a parabola through its finer fits."""
    slopes = middle + reach * np.linspace(-1, 1, 17)
    fits = np.sum([_fits(band, height, slopes) for band in bands], axis=0)
    k = int(np.clip(np.argmax(fits), 1, len(slopes) - 2))
    left, top, right = fits[k - 1 : k + 2]
    bend = left - 2 * top + right
    return float(slopes[k] + (0.5 * (left - right) / bend if bend < 0 else 0.0) * (slopes[1] - slopes[0]))


def _fits(strips: Array, height: float, slopes: Array) -> Array:
    """How well each slope lays the strips on one another (slopes,): squared power of their strongest common lines."""
    from scipy import fft

    level = strips - strips.mean(axis=1, keepdims=True)
    lines = fft.rfft(level * np.hanning(level.shape[1]), axis=1)
    frequency = np.arange(lines.shape[1]) / level.shape[1]
    power = np.sum(np.abs(lines) ** 2, axis=0)
    power[frequency > 1 / LEAST_PIXELS] = 0.0
    power[:LEAST_CYCLES] = 0.0
    chosen = np.argsort(power)[-STRAIGHT_LINES:]
    place = height * (np.arange(len(strips)) - (len(strips) - 1) / 2)
    shift = np.exp(2j * np.pi * slopes[:, None, None] * place[None, :, None] * frequency[None, None, chosen])
    joined = np.abs(np.sum(shift * lines[None][:, :, chosen], axis=1)) ** 2
    return np.sum(joined**2, axis=1) / max(float(np.sum(power[chosen] ** 2)), 1e-300)


def straighten(strips: Array, shift: float) -> Array:
    """Mean profile (columns,) of the strips, each moved back by ``shift`` columns per strip."""
    from scipy.ndimage import shift as move

    middle = (len(strips) - 1) / 2
    if abs(shift * middle) < STRAIGHT:
        return np.mean(strips, axis=0)
    moved = [move(strip, -shift * (k - middle), mode="nearest") for k, strip in enumerate(strips)]
    return np.mean(moved, axis=0)


def _overexposed(luminance: NDArray[np.float32], strips: list[Strip]) -> float:
    top = max(0, int(min(strip.top for strip in strips)))
    bottom = int(max(strip.bottom for strip in strips))
    part = luminance[top:bottom, strips[0].left :]
    return float(np.count_nonzero(part >= 0.999) / part.size)
