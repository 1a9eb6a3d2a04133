"""Figures and findings as words: numbers, units, lists, directions, and text that is safe to draw."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
UNITS = {"m/s^2": "m/s²", "N*m": "N·m", "(m/s^2)^2/Hz": "(m/s²)²/Hz", "kg*m^2": "kg·m²"}
_BIDI = {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}
MINUS = "\u2212"
ABSENT = "–"


def plain(text: object) -> str:
    """Text as it may be drawn: one line, no control, private-use or direction-override characters."""
    kept = (
        character
        for character in str(text)
        if character.isspace() or (unicodedata.category(character) not in _UNFIT and ord(character) not in _BIDI)
    )
    return re.sub(r"\s+", " ", "".join(kept)).strip()


_UNFIT = {"Cc", "Cs", "Co", "Cn"}


def unit_text(unit: str | None) -> str:
    """A unit as people print it."""
    return UNITS.get(unit or "", plain(unit or ""))


def number(value: float | None, digits: int = 3) -> str:
    """A figure with that many significant digits, without trailing zeros; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return ABSENT
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(decimals, 9)}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "0") else text.replace("-", MINUS)


def quantity(value: float | None, unit: str | None, digits: int = 3) -> str:
    """A figure with its unit."""
    return number(value, digits) if value is None else f"{number(value, digits)} {unit_text(unit)}".strip()


def span(low: float | None, high: float | None, unit: str | None = None, digits: int = 3) -> str:
    """``low to high unit``; a dash where both are missing."""
    if low is None and high is None:
        return ABSENT
    return f"{number(low, digits)} to {number(high, digits)} {unit_text(unit)}".strip()


def count_word(count: int) -> str:
    """Small numbers in words."""
    return SMALL[count] if 0 <= count < len(SMALL) else str(count)


def counted(count: int, noun: str) -> str:
    """``one run``, ``three runs``."""
    return f"{count_word(count)} {noun}{'' if count == 1 else 's'}"


def sentence(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]


def listed(parts: Sequence[str]) -> str:
    """``a, b and c``."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"


def direction_key(direction: Any) -> tuple[tuple[str, float], ...]:
    """A direction's unit vector by axis, rounded, without resting axes: equal for equal directions."""
    parts = direction if isinstance(direction, Mapping) else dict(zip("xyz", direction or (), strict=False))
    length = math.sqrt(sum(float(part) ** 2 for part in parts.values())) or 1.0
    return tuple((axis, round(float(part) / length, 6)) for axis, part in sorted(parts.items()) if part)


def direction_text(direction: Any) -> str:
    """``along x``, ``along the x–y diagonal``, ``along x : y = 1 : 2``."""
    key = direction_key(direction)
    axes = [axis for axis, _ in key]
    sizes = [part for _, part in key]
    if len(key) == 1:
        return f"along {axes[0] if sizes[0] > 0 else MINUS + axes[0]}"
    if sizes and max(sizes) - min(sizes) < 1e-5:
        return f"along the {'–'.join(axes)} diagonal"
    smallest = min((abs(size) for size in sizes), default=1.0)
    return f"along {' : '.join(axes)} = {' : '.join(number(size / smallest) for size in sizes)}"


def direction_slug(direction: Any) -> str:
    """A direction as part of an id: ``x``, ``x-y``, ``x1-y2``."""
    key = direction_key(direction)
    if len({part for _, part in key}) <= 1:
        return "-".join(axis if part > 0 else f"minus-{axis}" for axis, part in key)
    smallest = min(abs(part) for _, part in key)
    return "-".join(
        f"{axis}{round(part / smallest, 2):g}".replace("-", "minus").replace(".", "p") for axis, part in key
    )
