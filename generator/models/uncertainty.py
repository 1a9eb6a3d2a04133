"""Monte Carlo propagation of the inputs' tolerances (JCGM 101:2008): draws, their spread, and which input matters.

A leaf has one stream of draws, found from the seed, its owner and its path: what candidates share is drawn once for
all of them, and adding a leaf leaves the draws of all others as they were. Holds no machine formula.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.records.candidate import Candidate, Leaf
from generator.records.findings import Influence, Spread
from generator.records.hardware import Setup, Value

COVERAGE = 0.95
RECTANGULAR, NORMAL, ONE_SIDED = "rectangular", "normal", "one-sided"

_LEAST = 0.01
_SIGNED = ("steady_force",)
_AT_MOST_ONE = ("efficiency", "back_efficiency")
_EXACT = (
    "step_angle",
    "travel",
    "pulley_teeth",
    "ratio",
    "voltage_limit",
    "step_division",
    "standstill_current",
    "jerk",
)

SEED = 1
"""Of every comparison. Streams differ by leaf, so that an edit of one motor moves no figure of another."""

Array = NDArray[np.float64]


def draw_values(candidates: Sequence[Candidate], count: int, seed: int) -> dict[str, dict[str, Array]]:
    """Draws of every toleranced leaf, by candidate and path.

    Parameters
    ----------
    candidates : sequence of Candidate
    count : int
        Number of Monte Carlo draws.
    seed : int

    Returns
    -------
    dict of dict of array, shape (count,) [the leaf's unit]
        Leaves with the same owner and path are one array. Exact leaves are left out.
    """
    drawn: dict[tuple[str, str], Array] = {}
    values: dict[str, dict[str, Array]] = {}
    for candidate in candidates:
        values[candidate.id] = {}
        for path, leaf in candidate.leaves.items():
            if not is_drawn(leaf):
                continue
            key = (leaf.owner, path)
            if key not in drawn:
                drawn[key] = draw_leaf(leaf, _stream(seed, *key).random(count))
            values[candidate.id][path] = drawn[key]
    return values


def draw_setups(candidates: Sequence[Candidate], count: int, seed: int) -> dict[str, Setup]:
    """Set-ups whose toleranced figures are draws of shape (count, 1), by candidate."""
    values = draw_values(candidates, count, seed)
    return {candidate.id: candidate.setup(_columns(values[candidate.id])) for candidate in candidates}


def is_drawn(leaf: Leaf) -> bool:
    """Whether a leaf has a tolerance and is not a count or a setting, which hold exactly."""
    return leaf.half_width > 0 and leaf.path.rsplit(".", 1)[-1] not in _EXACT


def draw_leaf(leaf: Leaf, uniform: Array) -> Array:
    """Draws of one leaf [its own unit] from uniform numbers in [0, 1), by the inverse of its distribution function.

    What is known of a figure goes into its distribution (JCGM 101:2008, 6.4): one that is not a steady force keeps
    its sign, so its distribution ends at a hundredth of its value, and an efficiency ends at 1.
    """
    low, high = _range(leaf)
    if leaf.distribution != NORMAL:
        return low + (high - low) * uniform
    from scipy.special import ndtr, ndtri

    below, above = ndtr((low - leaf.value) / leaf.half_width), ndtr((high - leaf.value) / leaf.half_width)
    share = np.clip(below + (above - below) * uniform, np.finfo(float).tiny, 1 - np.finfo(float).epsneg)
    return leaf.value + leaf.half_width * ndtri(share)


def percentiles(draws: Any) -> Array:
    """2.5, 50 and 97.5 % points along the first axis, shape (3, …).

    Order statistics without interpolation (JCGM 101:2008, 7.7), so that an infinite draw spoils no other figure.
    """
    array = np.asarray(draws, dtype=np.float64)
    count = array.shape[0]
    inside = round(COVERAGE * count)
    first = max(0, (count - inside + 1) // 2 - 1)
    ranks = [first, (count - 1) // 2, min(count - 1, first + inside)]
    return np.partition(array, ranks, axis=0)[ranks]


def spread(nominal: float, draws: Any) -> Spread:
    """Nominal value with the percentiles of its draws [any unit]."""
    low, median, high = percentiles(np.ravel(draws))
    return Spread(float(nominal), float(low), float(median), float(high))


def find_influences(
    candidate: Candidate,
    values: Mapping[str, Array],
    predict: Callable[[Setup], Any],
    trial: str = "",
) -> tuple[Influence, ...]:
    """Which inputs matter for one predicted figure, the largest share first.

    Parameters
    ----------
    candidate : Candidate
    values : mapping of array, shape (draws,)
        The candidate's draws by path, as ``draw_values`` gives them.
    predict : callable
        The figure as a function of a set-up, over its draws.
    trial : str
        Copied into the records.

    Returns
    -------
    tuple of Influence
        share: by how much the variance falls when one input alone is held at its median; below 0 is called 0.
        The shares of inputs that act together need not add up to 1.
    """
    if not values:
        return ()
    variance, *held = (_variance(draws) for draws in _predict_rows(candidate, _hold_in_turn(values), predict))
    nominal, *ends = (float(row[0]) for row in _predict_rows(candidate, _end_in_turn(candidate, values), predict))
    found = []
    for number, path in enumerate(values):
        share = 1 - held[number] / variance if variance > 0 else 0.0
        low, high = (_relative(end, nominal) for end in ends[2 * number : 2 * number + 2])
        found.append(Influence(candidate.id, trial, path, max(0.0, share), low, high))
    return tuple(sorted(found, key=lambda influence: (-influence.share, influence.path)))


def _hold_in_turn(values: Mapping[str, Array]) -> dict[str, Array]:
    """Draws by path, shape (1 + paths, draws): all as they are, then each path in turn at its median."""
    held = {path: np.tile(draws, (1 + len(values), 1)) for path, draws in values.items()}
    for row, path in enumerate(held, 1):
        held[path][row] = np.median(values[path])
    return held


def _end_in_turn(candidate: Candidate, paths: Iterable[str]) -> dict[str, Array]:
    """Values by path, shape (1 + 2·paths, 1): all nominal, then each path in turn at both ends of its range."""
    leaves = {path: candidate.leaves[path] for path in paths}
    ends = {path: np.full((1 + 2 * len(leaves), 1), leaf.value) for path, leaf in leaves.items()}
    for number, (path, leaf) in enumerate(leaves.items()):
        ends[path][1 + 2 * number : 3 + 2 * number, 0] = _range(leaf, normal_span=1)
    return ends


def _predict_rows(candidate: Candidate, rows: Mapping[str, Array], predict: Callable[[Setup], Any]) -> Array:
    """The figure over the rows and columns (rows, columns) of every path's values, in one call."""
    shape = next(iter(rows.values())).shape
    flat = {path: values.reshape(-1, 1) for path, values in rows.items()}
    return np.broadcast_to(np.ravel(predict(candidate.setup(flat))), (shape[0] * shape[1],)).reshape(shape)


def _columns(values: Mapping[str, Array]) -> dict[str, Value]:
    """Draws shaped to broadcast against speeds."""
    return {path: draws[:, None] for path, draws in values.items()}


def _range(leaf: Leaf, normal_span: float = math.inf) -> tuple[float, float]:
    """Lower and upper end of a leaf's distribution; a normal one at ``normal_span`` standard deviations."""
    name = leaf.path.rsplit(".", 1)[-1]
    width = leaf.half_width * (normal_span if leaf.distribution == NORMAL else 1.0)
    low, high = (leaf.value if leaf.distribution == ONE_SIDED else leaf.value - width), leaf.value + width
    floor = _LEAST * leaf.value
    if name not in _SIGNED:
        low, high = (max(low, floor), high) if leaf.value >= 0 else (low, min(high, floor))
    return low, min(high, 1.0) if name in _AT_MOST_ONE else high


def draw_uniform(seed: int, owner: str, path: str, count: int) -> Array:
    """Draws (count,) from 0 to 1 of something that is no leaf, from a stream of its own."""
    return _stream(seed, owner, path).random(count)


def _stream(seed: int, owner: str, path: str) -> np.random.Generator:
    """The random numbers of one leaf: a counter-based generator keyed by the seed and the leaf's address."""
    address = hashlib.sha256(f"{owner}\n{path}".encode()).digest()[:16]
    return np.random.Generator(np.random.Philox(np.random.SeedSequence([seed, int.from_bytes(address, "big")])))


def _variance(draws: Any) -> float:
    """Variance of the finite draws; 0 where fewer than two are."""
    finite = np.ravel(draws)[np.isfinite(np.ravel(draws))]
    return float(np.var(finite)) if finite.size > 1 else 0.0


def _relative(value: float, nominal: float) -> float | None:
    """Change of a value relative to the nominal one; None where that is 0 or not finite."""
    if not (math.isfinite(value) and math.isfinite(nominal)) or nominal == 0:
        return None
    return value / nominal - 1
