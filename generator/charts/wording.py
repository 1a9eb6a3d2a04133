"""Figures and findings as words: numbers, units, lists, directions, and text that is safe to draw."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

from generator.units import find_display, format_direction

SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_BIDI = {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}
MINUS = "\u2212"
ABSENT = "–"


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


def unit_text(unit: str | None) -> str:
    """The unit in which people read a figure of this SI unit: ``mm/s`` for m/s."""
    return plain(find_display(unit).text) if unit else ""


def shown(value: float | None, unit: str | None) -> float | None:
    """An SI figure in the unit in which people read it; None where there is none."""
    if value is None or not math.isfinite(value):
        return None
    if not unit:
        return value
    display = find_display(unit)
    return value * display.factor + display.offset


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


def quantity(value: float | None, unit: str | None, digits: int = 3, *, bare: bool = False) -> str:
    """An SI figure as people read it, with its unit unless ``bare``; a dash where there is none."""
    text = number(shown(value, unit), digits)
    return text if bare or text == ABSENT else f"{text} {unit_text(unit)}".strip()


def span(low: float | None, high: float | None, unit: str | None = None, digits: int = 3, *, bare: bool = False) -> str:
    """``low to high unit`` with equal decimals where they are of one size; a dash where both are missing."""
    ends = [shown(end, unit) for end in (low, high)]
    if ends == [None, None]:
        return ABSENT
    sizes = [abs(end) for end in ends if end is not None]
    decimals = _decimals(max(sizes), digits)
    alike = min(sizes) > 0.1 * max(sizes)
    below, above = (_rounded(end, decimals) if alike and end is not None else number(end, digits) for end in ends)
    return f"{below} to {above}" + ("" if bare else f" {unit_text(unit)}".rstrip())


def estimate(
    value: float | None, low: float | None, high: float | None, unit: str | None = None, *, bare: bool = False
) -> str:
    """``32.5 m/s² (31.3 to 33.7)``: figure and interval end where two digits of the uncertainty end (GUM 7.2.6)."""
    if value is None:
        return span(low, high, unit, bare=bare)
    ends = [shown(end, unit) for end in (value, low, high)]
    if ends[1] is None or ends[2] is None or not ends[2] > ends[1] or ends[0] is None:
        return quantity(value, unit, bare=bare)
    decimals = _decimals((ends[2] - ends[1]) / 2, 2)
    texts = [_fixed(end, decimals) for end in ends if end is not None]
    if decimals > 1 and all(text.endswith("0") for text in texts):
        texts = [text[:-1] for text in texts]
    return f"{texts[0]}{'' if bare else f' {unit_text(unit)}'.rstrip()} ({texts[1]} to {texts[2]})"


def _decimals(size: float, digits: int) -> int:
    """Decimals that leave so many significant digits of a figure of this size."""
    return 0 if size == 0 else max(0, min(9, digits - 1 - math.floor(math.log10(size) + 1e-12)))


def _fixed(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return (text.removeprefix("-") if float(text) == 0 else text).replace("-", MINUS)


def _rounded(value: float, decimals: int) -> str:
    """So many decimals without trailing zeros."""
    text = _fixed(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def heading(name: str, unit: str) -> str:
    """Title of an axis or a column: ``speed [mm/s]``."""
    return f"{name} [{unit_text(unit)}]"


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
