"""The one place where text becomes SI and SI becomes text.

Reading is strict. A number is taken by our own expression, a unit by a small grammar of our own; only single unit
names reach the units library (see unit_grammar). Nothing typed is ever evaluated.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Context, Decimal

from generator.unit_grammar import QuantityError, comma_error, name_weights, read_unit, respell

MAX_TEXT = 80
LEAST, MOST = 1e-18, 1e12
"""Sizes in SI between which a figure other than zero must lie."""

SAME_SHARE = 1e-6
"""Axes whose shares of a direction differ by less lie on its diagonal."""

NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3}(?!\d))?", re.ASCII)
"""A number as this project writes it: decimal point, at most three exponent digits."""

_ONE, _NONE = Decimal(1), Decimal(0)
_PERCENT = (Decimal("0.01"), _NONE)
_ICE_POINT = Decimal("273.15")
_SPECIAL: Mapping[str, Mapping[str, tuple[Decimal, Decimal]]] = {
    "temperature": {"degC": (_ONE, _ICE_POINT), "°C": (_ONE, _ICE_POINT), "K": (_ONE, _NONE)},
    "temperature difference": {"K": (_ONE, _NONE), "degC": (_ONE, _NONE), "°C": (_ONE, _NONE)},
    "ratio": {"": (_ONE, _NONE), "%": _PERCENT},
    "share": {"%": _PERCENT},
    "level": {"dB": (_ONE, _NONE), "dB(A)": (_ONE, _NONE)},
    "number": {"": (_ONE, _NONE)},
}


@dataclass(frozen=True)
class Kind:
    """What a quantity must be: SI unit, an example of how people write it, and what it takes besides.

    symbols replaces single symbols that mean something else here (``oz`` in a torque is a force); spare names the
    dimensions that may be left over (``turn: -1`` after a length), with their power.
    """

    unit: str
    example: str
    symbols: Mapping[str, str] = field(default_factory=dict)
    spare: Mapping[str, int] = field(default_factory=dict)

    @property
    def written_unit(self) -> str:
        """The unit as people write it, mm/s for a speed; empty for a plain number."""
        return "" if self.unit == "1" else self.example.partition(" ")[2]


KINDS: Mapping[str, Kind] = {
    "length": Kind("m", "320 mm"),
    "travel": Kind("m", "40 mm", spare={"turn": -1}),
    "mass": Kind("kg", "280 g"),
    "inertia": Kind("kg·m^2", "70 g·cm²"),
    "force": Kind("N", "2 N"),
    "viscous friction": Kind("N·s/m", "4 N·s/m"),
    "torque": Kind("N·m", "0.46 N·m", symbols={"oz": "ozf", "lb": "lbf"}),
    "rotary drag": Kind("N·m·s/rad", "1e-5 N·m·s", spare={"radian": 1}),
    "stiffness": Kind("N/m", "60 N/mm"),
    "speed": Kind("m/s", "500 mm/s"),
    "acceleration": Kind("m/s^2", "31 m/s²", symbols={"g": "g_0"}),
    "jerk": Kind("m/s^3", "2000 m/s³"),
    "time": Kind("s", "1.5 s"),
    "temperature": Kind("K", "60 degC"),
    "temperature difference": Kind("K", "5 K"),
    "current": Kind("A", "1.4 A"),
    "voltage": Kind("V", "36 V"),
    "resistance": Kind("ohm", "3.0 ohm"),
    "inductance": Kind("H", "3.2 mH"),
    "capacitance": Kind("F", "2200 uF"),
    "frequency": Kind("Hz", "95 Hz", spare={"turn": 1}),
    "angle": Kind("rad", "1.8 deg"),
    "pressure": Kind("Pa", "1013 hPa"),
    "ratio": Kind("1", "0.95 or 95 %"),
    "share": Kind("1", "5 %"),
    "level": Kind("dB", "52.1 dB(A)"),
    "acceleration density": Kind("(m/s^2)^2/Hz", "0.02 (m/s²)²/Hz", symbols={"g": "g_0"}),
    "number": Kind("1", "24"),
}
"""Every kind of quantity by name."""


def parse_quantity(text: str, kind: str) -> float:
    """Read NUMBER SPACE? UNIT as a float in the SI unit of its kind.

    Parameters
    ----------
    text
        As written by a person, such as ``3.2 mH``.
    kind
        A key of KINDS.

    Returns
    -------
    float
        Value in ``KINDS[kind].unit``: temperatures in K, levels in dB, ratios as a plain fraction.

    Raises
    ------
    QuantityError
        With a stable code, what was found and what to write instead.
    """
    number, unit = _split(text, KINDS[kind])
    special = _SPECIAL.get(kind)
    if special is not None:
        if unit not in special:
            raise _wrong_unit(unit, kind, text)
        factor, offset = special[unit]
        return _finite(number * factor + offset, text, kind)
    if not unit:
        raise QuantityError("unit-missing", f'the unit is missing in "{text.strip()}"', _like(kind))
    return _finite(number * parse_unit(unit, kind, text), text, kind)


def parse_level(text: str) -> tuple[float, bool]:
    """Read a level in dB; the flag says whether it is A-weighted, dB(A)."""
    return parse_quantity(text, "level"), text.replace(" ", "").endswith("dB(A)")


def parse_unit(text: str, kind: str, shown: str = "") -> Decimal:
    """Factor that turns a figure in this unit into the SI unit of its kind; the unit must have its dimension.

    Parameters
    ----------
    text
        A unit, such as ``mm/s``.
    kind
        A key of KINDS.
    shown
        What an error shows as found, where it is more than the unit.
    """
    shown = shown or text
    if kind in _SPECIAL:
        if text.strip() not in _SPECIAL[kind]:
            raise _wrong_unit(text.strip(), kind, shown)
        return _SPECIAL[kind][text.strip()][0]
    wanted = KINDS[kind]
    if "%" in text or not text.strip():
        raise _wrong_unit(text.strip(), kind, shown)
    factor, dimensions = read_unit(text, wanted.symbols, wanted.example)
    if not _fits(dimensions, wanted):
        raise _wrong_unit(text.strip(), kind, shown)
    return factor


def _fits(dimensions: Counter[str], wanted: Kind) -> bool:
    """Whether these powers of the base dimensions are the wanted ones, but for what may be left over."""
    _, needed = read_unit(wanted.unit, {}, wanted.example)
    dimensions.subtract(needed)
    return all(wanted.spare.get(name) == power for name, power in dimensions.items() if power)


def _like(kind: str) -> str:
    return f"write it like {KINDS[kind].example}"


def _wrong_unit(unit: str, kind: str, text: str) -> QuantityError:
    if not unit:
        return QuantityError("unit-missing", f'the unit is missing in "{text.strip()}"', _like(kind))
    wanted = "a ratio or %" if KINDS[kind].unit == "1" else f"a unit of {_raised(KINDS[kind].unit)}"
    fix = _as_weight(unit, kind, text) if kind in ("force", "torque") else _like(kind)
    return QuantityError("unit-wrong", f'expected {wanted}, got "{text.strip()}"', fix)


def _as_weight(unit: str, kind: str, text: str) -> str:
    """What to write for a force or torque whose kilograms are meant as weight, as data sheets do."""
    weight = name_weights(unit)
    if weight == unit or not _fits(read_unit(weight, {}, KINDS[kind].example)[1], KINDS[kind]):
        return _like(kind)
    return f"in a {kind}, {unit} is {weight}: write {respell(text).strip().removesuffix(unit).strip()} {weight}"


def _split(text: str, wanted: Kind) -> tuple[Decimal, str]:
    """Number and unit text, after every trap of number writing has been looked for."""
    plain = respell(text).strip()
    example = f"write it like {wanted.example}"
    if len(plain) > MAX_TEXT:
        raise QuantityError("quantity-long", f"a quantity of {len(plain)} characters", example)
    found = NUMBER.match(plain)
    if found is None:
        raise QuantityError("number-missing", f'expected a number, got "{text.strip()}"', example)
    number, rest = found.group(), plain[found.end() :]
    if re.match(r"[eE][+-]?\d{4}", rest):
        raise QuantityError("number-exponent", f'an exponent of more than three digits in "{plain}"', example)
    _check_traps(plain, number, rest, example)
    return Decimal(number), rest.strip()


def _check_traps(plain: str, number: str, rest: str, example: str) -> None:
    """Refuse what other readers would silently take for something else."""
    if re.match(r",\d", rest):
        raise comma_error(plain)
    if re.match(r"[\s'’_]\d{3}(?!\d)", rest):
        joined = re.sub(r"(?<=\d)[\s'’_](?=\d{3})", "", plain)
        raise QuantityError("thousands-gap", f'a gap inside the number "{plain}"', f"write {joined}")
    if re.search(r"±|\+\s*/?\s*-", rest):
        fix = f'write {number} with its unit here, and what follows the sign under "tolerance" in the same block'
        raise QuantityError("plus-minus", f'a tolerance inside "{plain}"', fix)
    if re.search(r"(?:^|\s)x\s*\d|×\s*\d|(?<!\*)\*\s*\d|^\s*(?:\*\*|\^)", rest):
        raise QuantityError("times-sign", f'a calculation in "{plain}"', f"work it out and {example}")
    if re.search(r"(?<![A-Za-zµΩ°%)^*+-])\d|(?<![A-Za-zµΩ°%)^*])[+-]\d", rest):
        raise QuantityError("second-number", f'a second number in "{plain}"', f"one number and its unit: {example}")


def _finite(value: Decimal, text: str, kind: str) -> float:
    """A float within what machines are made of, so that no formula overflows."""
    number = float(value)
    if value and not LEAST <= abs(number) <= MOST:
        raise QuantityError("number-size", f'"{text.strip()}" is out of range', _like(kind))
    return number


@dataclass(frozen=True)
class Display:
    """How pages and charts show an SI value: shown = value * factor + offset, in the unit ``text``."""

    text: str
    factor: float = 1.0
    offset: float = 0.0

    def show(self, value: float) -> float:
        """An SI value in this unit."""
        return value * self.factor + self.offset


_DISPLAYS: Mapping[str, tuple[tuple[float, Display], ...]] = {
    "m": ((0.0, Display("mm", 1e3)), (1.0, Display("m"))),
    "kg": ((0.0, Display("g", 1e3)), (1.0, Display("kg"))),
    "kg·m^2": ((0.0, Display("g·cm²", 1e7)),),
    "N·m": ((0.0, Display("N·m")),),
    "m/s": ((0.0, Display("mm/s", 1e3)),),
    "m/s^2": ((0.0, Display("m/s²")),),
    "m/s^3": ((0.0, Display("m/s³")),),
    "H": ((0.0, Display("mH", 1e3)),),
    "F": ((0.0, Display("µF", 1e6)),),
    "ohm": ((0.0, Display("Ω")),),
    "N/m": ((0.0, Display("N/mm", 1e-3)),),
    "s": ((0.0, Display("ms", 1e3)), (0.1, Display("s"))),
    "Wb": ((0.0, Display("mWb", 1e3)),),
    "K": ((0.0, Display("°C", 1.0, -273.15)),),
    "rad": ((0.0, Display("°", 180.0 / math.pi)),),
    "1": ((0.0, Display("")),),
    "%": ((0.0, Display("%", 100.0)),),
}
"""By SI unit: displays with the size from which each of them serves."""


def find_display(unit: str, size: float = 0.0) -> Display:
    """The unit that people read for a value of this size in the SI unit, such as mm/s for m/s."""
    steps = _DISPLAYS.get(unit.replace("²", "^2").replace("³", "^3").replace("*", "·"))
    if steps is None:
        return Display(_raised(unit))
    return next((display for start, display in reversed(steps) if abs(size) >= start), steps[0][1])


def _raised(unit: str) -> str:
    """The unit with its powers raised."""
    return unit.replace("^2", "²").replace("^3", "³")


NOTHING = "–"
"""What stands where there is no figure."""


def format_quantity(value: float | None, unit: str, digits: int = 3, *, bare: bool = False) -> str:
    """Text of an SI value in the unit that people read, to so many significant digits: ``32.0 m/s²``.

    Here and below, bare leaves out the unit and keeps to the one that the head of a table's column names.
    """
    if value is None:
        return NOTHING
    display = find_display(unit, 0.0 if bare else value)
    return _joined(_significant(display.show(value), digits), display, bare)


def format_stated(value: float | None, unit: str, digits: int = 6, *, bare: bool = False) -> str:
    """Text of a stated figure, without zeros that nobody wrote: ``6 mH``, ``1.8°``; at most so many digits."""
    if value is None:
        return NOTHING
    display = find_display(unit, 0.0 if bare else value)
    return _joined(_stated(display.show(value), digits), display, bare)


def format_number(value: float | None, digits: int = 3) -> str:
    """A plain number with that many significant digits; very large and small ones by powers of ten."""
    if value is None:
        return NOTHING
    exponent = digits - 1 - _decimals(value, digits)
    if value == 0 or -4 <= exponent <= 6:
        return _significant(value, digits)
    return f"{_significant(value / 10.0**exponent, digits)} × 10{str(exponent).translate(_RAISED)}"


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def format_share(share: float | None, *, bare: bool = False) -> str:
    """A share in whole per cent: ``0.714`` → ``71 %``."""
    return NOTHING if share is None else _joined(_fixed(100 * share, 0), find_display("%"), bare)


def format_direction(parts: Mapping[str, float]) -> str:
    """Text of a direction by its share on each axis [1]: ``along x``, ``along the diagonal of x and −y``."""
    moved = {axis: share for axis, share in parts.items() if share}
    signed = [f"{'−' if share < 0 else ''}{axis}" for axis, share in moved.items()]
    if len(moved) < 2:
        return f"along {signed[0]}" if moved else ""
    least = min(abs(share) for share in moved.values())
    if max(abs(share) for share in moved.values()) < least * (1 + SAME_SHARE):
        return f"along the diagonal of {', '.join(signed[:-1])} and {signed[-1]}"
    shares = " : ".join(f"{share / least:.3g}".replace("-", "−") for share in moved.values())
    return f"along {' : '.join(moved)} = {shares}"


def format_with_interval(
    value: float | None, low: float | None, high: float | None, unit: str, *, bare: bool = False
) -> str:
    """A figure with its interval: ``32.0 ± 1.2 m/s²`` where it is symmetric, else ``32.0 (30.9 to 35.2) m/s²``.

    Figure and interval end where two significant digits of the half-width end.

    Source: JCGM 100:2008 (GUM), 7.2.6.
    """
    if value is None or low is None or high is None or low == high:
        return format_quantity(value, unit, bare=bare)
    display = find_display(unit, 0.0 if bare else value)
    centre, below, above = (display.show(figure) for figure in (value, low, high))
    half = (above - below) / 2
    decimals = _decimals(half, 2)
    figure = _fixed(centre, decimals)
    if abs((above + below) / 2 - centre) <= 0.02 * half:
        return _joined(f"{figure} ± {_fixed(half, decimals)}", display, bare)
    return _joined(f"{figure} ({_fixed(below, decimals)} to {_fixed(above, decimals)})", display, bare)


def format_span(low: float | None, high: float | None, unit: str, *, stated: bool = False, bare: bool = False) -> str:
    """``31.3 to 74.0 m/s²``: each end as it stands alone, and one figure where both read alike.

    stated keeps the digits that somebody wrote, as of rungs: ``31 to 32 m/s²``.
    """
    if low is None or high is None:
        return NOTHING
    display = find_display(unit, 0.0 if bare else max(abs(low), abs(high)))
    write = _stated if stated else _significant
    ends = dict.fromkeys(write(display.show(end)) for end in (low, high))
    return _joined(" to ".join(ends), display, bare)


def _significant(number: float, digits: int = 3) -> str:
    return _fixed(number, _decimals(number, digits))


def _stated(number: float, digits: int = 6) -> str:
    """Decimal text of so many significant digits without the zeros at its end."""
    text = _fixed(number, _decimals(number, digits))
    return text.rstrip("0").rstrip(".") if "." in text else text


def _decimals(number: float, digits: int) -> int:
    """Decimal places that leave so many significant digits; negative above the point."""
    if number == 0.0 or not math.isfinite(number):
        return 0
    return digits - 1 - _exact(number, digits).adjusted()


def _fixed(number: float, decimals: int) -> str:
    """Decimal text rounded to so many places, halves away from zero, with a true minus sign and no negative zero."""
    if not math.isfinite(number):
        return NOTHING if math.isnan(number) else "∞" if number > 0 else "−∞"
    rounded = _exact(number).quantize(Decimal(1).scaleb(-decimals), context=_WIDE)
    return f"{rounded:f}".replace("-", "−" if rounded else "")


def _exact(number: float, digits: int = 12) -> Decimal:
    """A figure without what its last bits add to it, to so many significant digits."""
    return Context(digits, ROUND_HALF_UP).plus(Decimal(f"{number:.12g}"))


_WIDE = Context(60, ROUND_HALF_UP)


def _joined(number: str, display: Display, bare: bool) -> str:
    """Number and unit, with a space but before the degree sign of an angle; a dash has none."""
    if bare or number == NOTHING:
        return number
    return number + ("" if display.text in ("", "°") else " ") + display.text
