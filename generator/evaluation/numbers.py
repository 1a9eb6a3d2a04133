"""Records and arrays to JSON-ready values: plain Python, 9 significant digits, null instead of NaN.

NumPy's exp, log and power differ in the last bits between processors, so figures are rounded once, here, before
they are written, drawn or printed; charts and pages use the same rounded object.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

DIGITS = 9


def round_figure(number: float) -> float | None:
    """Round to 9 significant digits; None for NaN and infinities."""
    if not math.isfinite(number):
        return None
    rounded = float(f"{number:.{DIGITS - 1}e}")
    return 0.0 if rounded == 0.0 else rounded


def drop_noise(difference: float, size: float) -> float:
    """A difference, or 0 where it is only the rounding of two figures of this size that agree to 9 digits."""
    return 0.0 if abs(difference) < 10.0**-DIGITS * abs(size) else difference


def to_json(thing: Any) -> Any:
    """Turn records, arrays, mappings and sequences into JSON-ready values with rounded figures."""
    if thing is None or isinstance(thing, str | bool):
        return thing
    if isinstance(thing, int | np.integer):
        return int(thing)
    if isinstance(thing, float | np.floating):
        return round_figure(float(thing))
    if isinstance(thing, np.bool_):
        return bool(thing)
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        return {field.name: to_json(getattr(thing, field.name)) for field in dataclasses.fields(thing)}
    if isinstance(thing, Mapping):
        return {str(key): to_json(value) for key, value in thing.items()}
    if isinstance(thing, np.ndarray):
        return to_json(thing.tolist())
    return [to_json(value) for value in thing]


def canonical_bytes(thing: Any) -> bytes:
    """The one byte form of a JSON-ready value, for digests and for results.json."""
    text = json.dumps(to_json(thing), ensure_ascii=False, sort_keys=True, allow_nan=False, separators=(",", ":"))
    return text.encode()


def digest(thing: Any) -> str:
    """SHA-256 of the canonical form, in hexadecimal."""
    return hashlib.sha256(canonical_bytes(thing)).hexdigest()
