"""The grammar of units: symbols, powers, products and brackets, one symbol at a time.

Only single symbols reach the units library, which is loaded when the first of them is asked for; nothing typed is
evaluated. Factors are decimals, so that 70 g·cm² becomes the float nearest to 7e-6 kg·m². Angles (radian) and turns
are kept as dimensions of their own: to a units library both are plain numbers.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from typing import Any

MAX_UNIT = 40
MAX_SYMBOLS = 6

_TOKEN = re.compile(
    r"\s*(?:(?P<symbol>[A-Za-zµΩ°%]+)|(?P<open>\()|(?P<close>\))|(?P<divide>/)"
    r"|(?P<times>[·×.-](?=\s*[A-Za-zµΩ°%(])|\*(?!\*)))"
)
_SYMBOL = re.compile(r"[A-Za-zµΩ°%]+")
_EXPONENT = re.compile(r"(?:\^|\*\*)?([+-]?[0-9])(?![0-9.])")
_SPELLINGS = str.maketrans({
    "²": "^2", "³": "^3", "⁴": "^4", "⁻": "^-", "¹": "1", "⋅": "·", "•": "·", "∙": "·", "−": "-",
    "μ": "µ", "Ω": "Ω", "º": "°", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
})  # fmt: skip

_WITH_COMMAS = re.compile(r"[+-]?[0-9.,]*[0-9]")
_COMMAS_GROUP = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?")
"""A number whose commas can group thousands: 1,000 can, 0,125 and 1,5 cannot."""
_POINTS_GROUP = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]+")

_OWN_SYMBOLS = {
    "Nm": "N·m", "Ncm": "N·cm", "Nmm": "N·mm", "mNm": "mN·m", "µNm": "µN·m", "gcm": "g·cm", "kgcm": "kg·cm",
    "kgfcm": "kgf·cm",
    "Ohm": "ohm", "Ohms": "ohm", "°": "degree",
}  # fmt: skip
_WEIGHTS = {"kg": "kgf", "g": "gf"}
_TURNS = {"rev", "turn", "revs", "turns"}
_UNIT_NAMES = {
    "meter", "inch", "foot", "gram", "pound", "ounce", "second", "minute", "hour", "newton", "force_gram",
    "force_kilogram", "force_pound", "force_ounce", "ampere", "volt", "ohm", "henry", "farad", "hertz", "kelvin",
    "pascal", "watt", "joule", "weber", "tesla", "degree", "radian", "arcminute", "standard_gravity",
}  # fmt: skip
_PREFIXES = {"", "pico", "nano", "micro", "milli", "centi", "deci", "hecto", "kilo", "mega"}
_MEGA_UNITS = {"hertz", "ohm", "pascal"}
"""Units that large prefixes are used with; MH is a slip for mH."""


class QuantityError(Exception):
    """A text that is no quantity of the wanted kind: stable code, message and fix."""

    def __init__(self, code: str, message: str, fix: str) -> None:
        super().__init__(code, message, fix)
        self.code = code
        self.message = message
        self.fix = fix


def respell(text: str) -> str:
    """The text with raised digits, minus signs, dots and odd spaces in their one spelling."""
    return text.translate(_SPELLINGS).replace("^-^", "^-")


def comma_error(text: str) -> QuantityError:
    """The error of a figure with a comma in its number, with what to write for each meaning that it can have."""
    found = _WITH_COMMAS.match(text)
    number, rest = (found.group(), text[found.end() :]) if found else (text, "")
    together, decimal = number.replace(",", ""), number.replace(",", ".", 1)
    if _POINTS_GROUP.fullmatch(number):
        decimal = number.replace(".", "").replace(",", ".")
    if not _COMMAS_GROUP.fullmatch(number):
        return QuantityError("decimal-comma", f'a decimal comma in "{text}"', f"write {decimal}{rest}")
    fix = f"write {together}{rest}"
    if number.count(",") == 1 and "." not in number:
        fix += f" if the comma groups thousands, {decimal}{rest} if it is a decimal comma"
    return QuantityError("decimal-comma", f'a comma inside the number "{text}"', fix)


def name_weights(text: str) -> str:
    """The unit with the weight of a kilogram or gram in place of its mass: kg·cm becomes kgf·cm."""
    whole = _SYMBOL.sub(lambda found: _OWN_SYMBOLS.get(found.group(), found.group()), respell(text).strip())
    return _SYMBOL.sub(lambda found: _WEIGHTS.get(found.group(), found.group()), whole)


def read_unit(text: str, symbols: Mapping[str, str], example: str) -> tuple[Decimal, Counter[str]]:
    """Factor to SI base units and powers of the base dimensions.

    Parameters
    ----------
    text
        Such as ``N·m·s/rad`` or ``(m/s²)²/Hz``.
    symbols
        What single symbols mean here instead of what they mean elsewhere.
    example
        A quantity written well, for the fix of an error.
    """
    plain = respell(text).strip()
    if len(plain) > MAX_UNIT:
        raise QuantityError("unit-long", f"a unit of {len(plain)} characters", f"write it like {example}")
    whole = _SYMBOL.sub(lambda found: _OWN_SYMBOLS.get(found.group(), found.group()), plain)
    return _UnitReader(whole, symbols, example).read()


class _UnitReader:
    """Reads a unit into a factor and a count of base dimensions, one symbol at a time."""

    def __init__(self, text: str, meanings: Mapping[str, str], example: str) -> None:
        self.text = text
        self.meanings = meanings
        self.example = example
        self.place = 0
        self.symbols = 0

    def read(self) -> tuple[Decimal, Counter[str]]:
        result = self.product()
        if self.place < len(self.text):
            raise self.stray()
        return result

    def fault(self, code: str, message: str) -> QuantityError:
        return QuantityError(code, message, f"write it like {self.example}")

    def stray(self) -> QuantityError:
        left = self.text[self.place :].strip() or self.text
        code = "unit-exponent" if re.match(r"\^|\*\*|[+-]?\d", left) else "unit-unknown"
        return self.fault(code, f'cannot read "{left[:20]}" in the unit "{self.text}"')

    def product(self) -> tuple[Decimal, Counter[str]]:
        """factor ((· | / | space) factor)*, up to a closing bracket or the end."""
        total, dimensions = Decimal(1), Counter[str]()
        operator = "times"
        while match := _TOKEN.match(self.text, self.place):
            if match.lastgroup == "close":
                break
            self.place = match.end()
            if match.lastgroup in ("divide", "times"):
                if operator or (not dimensions and total == 1):
                    raise self.stray()
                operator = match.lastgroup
                continue
            part, powers = self.factor(match)
            sign = -1 if operator == "divide" else 1
            total = total * part if sign > 0 else total / part
            dimensions.update({name: sign * power for name, power in powers.items()})
            operator = ""
        if operator:
            raise self.stray()
        return total, dimensions

    def factor(self, match: re.Match[str]) -> tuple[Decimal, Counter[str]]:
        """A symbol or a bracket, with its power."""
        if match.lastgroup == "open":
            base, powers = self.product()
            self.close()
        else:
            base, powers = self.symbol(match["symbol"])
        raised = _EXPONENT.match(self.text, self.place)
        if raised is None:
            return base, powers
        self.place = raised.end()
        power = int(raised[1])
        return base**power, Counter({name: power * count for name, count in powers.items()})

    def close(self) -> None:
        closing = _TOKEN.match(self.text, self.place)
        if closing is None:
            raise self.fault("unit-unknown", f'an open bracket in the unit "{self.text}"')
        self.place = closing.end()

    def symbol(self, name: str) -> tuple[Decimal, Counter[str]]:
        self.symbols += 1
        if self.symbols > MAX_SYMBOLS:
            raise self.fault("unit-long", f'more than {MAX_SYMBOLS} symbols in the unit "{self.text}"')
        if name == "rpm":
            return 1 / Decimal(60), Counter({"turn": 1, "second": -1})
        if name in _TURNS:
            return Decimal(1), Counter({"turn": 1})
        return self.look_up(self.meanings.get(name, name))

    def look_up(self, name: str) -> tuple[Decimal, Counter[str]]:
        found = _unit_of(name)
        if found is None:
            raise self.fault("unit-unknown", f'unknown unit "{name}"')
        factor, prefix, unit, powers = found
        if prefix in ("mega", "hecto") and unit not in _MEGA_UNITS:
            raise self.fault("unit-unknown", f'"{name}" is {prefix}{unit}; a thousandth is written with a small m')
        return factor, Counter(powers)


@cache
def _unit_of(name: str) -> tuple[Decimal, str, str, dict[str, int]] | None:
    """Factor to base units, prefix, own name and base dimensions of one symbol; None if it is none that we take."""
    registry = _registry()
    for prefix, unit, _ in registry.parse_unit_name(name):
        if unit in _UNIT_NAMES and prefix in _PREFIXES:
            factor, base = registry.get_base_units(prefix + unit)
            return Decimal(factor), prefix, unit, {str(key): int(power) for key, power in base._units.items()}
    return None


@cache
def _registry() -> Any:
    """The units library, loaded when the first unit is read."""
    import pint

    return pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)
