"""Keeps on one line what belongs together: a figure and its unit by no-break spaces, a hyphened name by a span."""

from __future__ import annotations

import re
from typing import Any

from markupsafe import Markup, escape

NO_BREAK = "\u00a0"
_UNITS = (
    "m/s²", "m/s³", "m/s", "m", "s", "min", "h", "g", "g·cm²", "N", "N·m", "N·m/rad", "N·s/m", "N/mm", "V", "A", "W",
    "J", "H", "Ω", "F", "Hz", "Pa", "Wb", "K", "rad", "B", "dB", "dB(A)", "px", "%", "°C", "EUR",
)  # fmt: skip
_UNIT = "|".join(re.escape(unit) for unit in sorted(_UNITS, key=len, reverse=True))
_GAP = re.compile(rf"(?<=\d) (?=[kMmcµn]?(?:{_UNIT})(?![\w²³(/·]))| (?=± )|(?<=±) (?=\d)")
_HYPHENED = re.compile(r"\S*\w-\w\S*")
_LONGEST = 14
"""Characters of a hyphened word from which it may break after all, since it could be wider than its place."""
_MARKUP = re.compile(r"(<(pre|code)\b.*?</\2>|<[^>]*>)", re.DOTALL)


def bind_units(text: str) -> str:
    """The text with no-break spaces before units and about ±."""
    return _GAP.sub(NO_BREAK, text)


def bind_printed(value: Any) -> Any:
    """What a template prints: plain text with its units bound, markup and all else as it is."""
    return bind_units(value) if type(value) is str else value


def keep_whole(value: Any) -> Any:
    """Plain text as HTML in which short words do not break at their hyphens: ``Alder 42-8, series``."""
    if type(value) is not str:
        return value

    def wrap(word: re.Match[str]) -> str:
        return f'<span class="nowrap">{word[0]}</span>' if len(word[0]) <= _LONGEST else word[0]

    return Markup(_HYPHENED.sub(wrap, str(escape(bind_units(value)))))


def bind_markup(made: str) -> Markup:
    """HTML with the units in its text bound, but not in tags and code."""
    parts = _MARKUP.split(made)
    # two groups: every third part is text, the one behind it a tag or code, then that tag's name
    kept = [bind_units(text) + tag for text, tag in zip(parts[::3], [*parts[1::3], ""], strict=True)]
    return Markup("".join(kept))
