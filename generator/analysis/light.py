"""From sRGB pixels to linear light, averaged over rows at once so that a large photo costs little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Shares of linear red, green and blue in luminance (IEC 61966-2-1, ITU-R BT.709)."""
BLOCK = 1 << 20
Array = NDArray[np.float64]
Pixels = NDArray[np.integer]


@dataclass(frozen=True)
class Rows:
    """Mean rows of linear luminance (groups, width) [1]: each of ``height`` picture rows, from the top [px]."""

    means: Array
    height: int

    @property
    def centres(self) -> Array:
        """Middle of each group from the picture's top edge (groups,) [px]."""
        return np.asarray((np.arange(len(self.means)) + 0.5) * self.height, dtype=float)


def decode_srgb(encoded: NDArray[np.floating]) -> Array:
    """Linear light [1] from sRGB-encoded values 0 … 1. Source: IEC 61966-2-1; checked against its printed values."""
    low = encoded <= 0.04045
    power = ((np.maximum(encoded, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.asarray(np.where(low, encoded / 12.92, power), dtype=float)


def find_rows(pixels: Pixels, height: int) -> Rows:
    """Mean rows of linear luminance.

    Parameters
    ----------
    pixels : array (rows, width) or (rows, width, 3)
        sRGB, 8 or 16 bit.
    height : int
        Picture rows per group; rows at the bottom that fill no group are left out.

    Source: IEC 61966-2-1. The mean is taken of linear light, never of encoded values.
    """
    top = np.iinfo(pixels.dtype).max
    table = decode_srgb(np.arange(top + 1) / top).astype(np.float32)
    groups = len(pixels) // height
    means = np.empty((groups, *pixels.shape[1:]), np.float32)
    at_once = max(1, BLOCK // (height * int(np.prod(pixels.shape[1:]))))
    for first in range(0, groups, at_once):
        last = min(first + at_once, groups)
        light = np.take(table, pixels[first * height : last * height])
        means[first:last] = light.reshape(last - first, height, *pixels.shape[1:]).mean(axis=1)
    colours = means if pixels.ndim == 2 else means @ np.array(LUMINANCE, np.float32)
    return Rows(colours.astype(float), height)


def find_overexposed(pixels: Pixels, step: int) -> float:
    """Share of pixels [1] whose brightest colour is at full scale, counted on every ``step``-th row and column."""
    part = pixels[::step, ::step]
    full = part == np.iinfo(pixels.dtype).max
    return float(np.mean(full if part.ndim == 2 else full[..., 0] | full[..., 1] | full[..., 2]))
