"""Roots of many falling functions at once. Knows nothing of machines."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

_SAME = 1e-13  # relative width of a bracket that is a root
_SLACK = 8  # steps more than halving takes that the worst case may cost


def find_falling_root(function: Callable[[Any], Any], low: NDArray[np.float64], high: NDArray[np.float64]) -> Any:
    """Where each of many falling functions leaves the values that are not below 0.

    Parameters
    ----------
    function : callable
        Takes an array of the brackets' shape, returns one value for each; not below 0 at low, below 0 at high.
    low, high : array [the argument's own unit]
        Brackets, above 0.

    Returns
    -------
    array
        The lower end of each bracket, closed in to 1e-13 of its upper end.

    Interpolates, shifts towards the middle and projects, so that the worst case costs few steps more than halving.
    Source: Oliveira and Takahashi, ACM Transactions on Mathematical Software 47(1), 2020,
    doi 10.1145/3423597; checked in tests/models/test_roots.py.
    """
    above, below = np.asarray(function(low), dtype=np.float64), np.asarray(function(high), dtype=np.float64)
    width = _SAME * high / 2
    first = np.maximum(high - low, width)
    steps = math.ceil(float(np.max(np.log2(first / (2 * width)), initial=0.0))) + _SLACK
    for left in range(steps, -1, -1):
        if not np.any(high - low > 2 * width):
            break
        span = high - low
        shift = np.maximum(0.2 / first * span**2, width)
        guess = _next_guess(low, high, above, below, shift, width * 2.0**left - span / 2)
        value = np.asarray(function(guess))
        holds = value >= 0
        low, above = np.where(holds, guess, low), np.where(holds, value, above)
        high, below = np.where(holds, high, guess), np.where(holds, below, value)
    return low


def _next_guess(low: Any, high: Any, above: Any, below: Any, shift: Any, radius: Any) -> Any:
    """Interpolate, shift towards the middle (so that both ends close in), project into the allowed radius about it."""
    middle = (low + high) / 2
    drop = above - below
    line = np.where(drop > 0, (above * high - below * low) / np.where(drop > 0, drop, 1.0), middle)
    side = np.sign(middle - line)
    truncated = np.where(shift <= np.abs(middle - line), line + side * shift, middle)
    return np.where(np.abs(truncated - middle) <= radius, truncated, middle - side * np.maximum(radius, 0.0))
