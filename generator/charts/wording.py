"""Words of charts: headings, counts, directions, and text that is safe to draw."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

from generator.units import find_display, format_direction

SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_BIDI = {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}


def plain(text: object) -> str:
    """Text as it may be drawn: one line, no control, private-use or direction-override characters."""
    written = str(text)
    if written.isascii() and written.isprintable():
        return " ".join(written.split())
    kept = (
        character
        for character in written
        if character.isspace() or (unicodedata.category(character) not in _UNFIT and ord(character) not in _BIDI)
    )
    return re.sub(r"\s+", " ", "".join(kept)).strip()


_UNFIT = {"Cc", "Cs", "Co", "Cn"}


def heading(name: str, unit: str) -> str:
    """Title of an axis or a column: ``speed [mm/s]``."""
    return f"{name} [{find_display(unit).text}]"


def count_word(count: int) -> str:
    """Small numbers in words."""
    return SMALL[count] if 0 <= count < len(SMALL) else str(count)


def counted(count: int, noun: str) -> str:
    """``one run``, ``three runs``."""
    return f"{count_word(count)} {noun}{'' if count == 1 else 's'}"


def shortened(parts: Sequence[str], most: int = 6) -> list[str]:
    """The first parts, and how many more the table holds."""
    rest = len(parts) - most
    return list(parts) if rest <= 1 else [*parts[:most], f"and {rest} more in the table"]


def direction_key(direction: Any) -> tuple[tuple[str, float], ...]:
    """A direction's unit vector by axis, rounded, without resting axes: equal for equal directions."""
    parts = direction if isinstance(direction, Mapping) else dict(zip("xyz", direction or (), strict=False))
    length = math.sqrt(sum(float(part) ** 2 for part in parts.values())) or 1.0
    return tuple((axis, round(float(part) / length, 6)) for axis, part in sorted(parts.items()) if part)


def direction_text(direction: Any) -> str:
    """``along x``, ``along the diagonal of x and y``, or the shares of the axes."""
    return plain(format_direction(dict(direction_key(direction))))


def direction_slug(direction: Any) -> str:
    """A direction as part of an id: ``x``, ``x-y``, ``x1-y2``."""
    key = direction_key(direction)
    if len({part for _, part in key}) <= 1:
        return "-".join(axis if part > 0 else f"minus-{axis}" for axis, part in key)
    smallest = min(abs(part) for _, part in key)
    return "-".join(
        f"{axis}{round(part / smallest, 2):g}".replace("-", "minus").replace(".", "p") for axis, part in key
    )
