"""Equations of the method pages: a small notation, written by hand, to presentational MathML.

``T_0 = N_r λ hat{I}``: letters are variables, words of more than one letter are function names, ``_`` and ``^`` take
one symbol or a ``{group}``; ``frac{a}{b}``, ``sqrt{a}``, ``hat{a}``, ``dot{a}``, ``ddot{a}``, ``abs{a}``,
``binom{n}{k}``, ``bold{A}``, ``text{words}``. Everything else is an operator. ``quad`` parts equations on one line.

Where a reader has no font for mathematics, roots and brackets do not grow: write fractions within them with a slash.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape

from markupsafe import Markup

_TOKEN = re.compile(r"\s*(?:(?P<number>\d+(?:[.,]\d+)*)|(?P<word>[^\W\d_]+)|(?P<other>\S))")
_FENCES = {"(": ")", "[": "]"}
_OPERATORS = {"-": "\u2212", "*": "·", "'": "\u2032"}
_ACCENTS = {"hat": "ˆ", "dot": "˙", "ddot": "¨"}
_SUM = '<mo movablelimits="false">∑</mo>'


class MathError(ValueError):
    """An equation that does not follow the notation; a mistake in a template."""


def math(source: str) -> Markup:
    """An equation inside a line."""
    return Markup(f"<math>{_Reader(source).all()}</math>")


def equation(source: str) -> Markup:
    """Equations on a line of their own: below one another where the screen is narrow; one too wide for it scrolls."""
    body = "".join(f'<math display="block">{_Reader(part).all()}</math>' for part in source.split(" quad "))
    return Markup(f'<div class="equation" role="group" aria-label="Equation" tabindex="0">{body}</div>')


class _Reader:
    """Reads one equation, token by token."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.place = 0

    def all(self) -> str:
        body = self.row("")
        if self.place < len(self.source.rstrip()):
            raise MathError(f"something is left over in {self.source!r}")
        return body

    def peek(self) -> re.Match[str] | None:
        return _TOKEN.match(self.source, self.place)

    def row(self, end: str) -> str:
        """Items up to a closing mark, which is left for the caller."""
        parts: list[str] = []
        while (token := self.peek()) and not (end and token["other"] == end):
            parts.append(self.item())
        return "".join(parts)

    def item(self) -> str:
        """A symbol with its subscript and superscript."""
        base = self.symbol()
        low = high = ""
        while (token := self.peek()) and token["other"] in ("_", "^"):
            self.place = token.end()
            script = self.symbol()
            low, high = (script, high) if token["other"] == "_" else (low, script)
        if low and base == _SUM:
            return f"<munder>{base}{low}</munder>"
        if low and high:
            return f"<msubsup>{base}{low}{high}</msubsup>"
        return f"<msub>{base}{low}</msub>" if low else f"<msup>{base}{high}</msup>" if high else base

    def symbol(self) -> str:
        """One number, variable, function, group or operator."""
        token = self.peek()
        if token is None:
            raise MathError(f"something is missing at the end of {self.source!r}")
        self.place = token.end()
        if token["number"]:
            return f"<mn>{token['number']}</mn>"
        if token["word"]:
            return self.word(token["word"])
        mark = token["other"]
        if mark == "{":
            return self.group("}")
        if mark in _FENCES:
            return f"<mrow><mo>{mark}</mo>{self.group(_FENCES[mark])}<mo>{_FENCES[mark]}</mo></mrow>"
        if mark in ")]}":
            raise MathError(f"{mark!r} closes nothing in {self.source!r}")
        if mark == "/":
            return '<mo lspace="0" rspace="0">/</mo>'
        return f"<mo>{escape(_OPERATORS.get(mark, mark))}</mo>"

    def group(self, end: str) -> str:
        body = self.row(end)
        token = self.peek()
        if token is None or token["other"] != end:
            raise MathError(f"{end!r} is missing in {self.source!r}")
        self.place = token.end()
        return f"<mrow>{body}</mrow>"

    def word(self, word: str) -> str:
        if word == "Σ":
            return _SUM
        if word == "text":
            return f"<mtext>{escape(self.raw())}</mtext>"
        make = _MAKERS.get(word)
        return make(self) if make else f"<mi>{escape(word)}</mi>"

    def raw(self) -> str:
        """The text of a group as it stands."""
        end = self.source.index("}", self.place)
        start = self.source.index("{", self.place) + 1
        self.place = end + 1
        return self.source[start:end].replace(" ", "\u00a0")


def _accent(mark: str) -> Callable[[_Reader], str]:
    return lambda reader: f'<mover accent="true">{reader.symbol()}<mo>{mark}</mo></mover>'


def _bold(reader: _Reader) -> str:
    """A matrix or vector: an upright bold letter of the mathematical alphabet, since MathML has no other way."""
    text = reader.raw()
    return f"<mi>{''.join(_bold_letter(letter) for letter in text)}</mi>"


def _bold_letter(letter: str) -> str:
    if "A" <= letter <= "Z":
        return chr(0x1D400 + ord(letter) - ord("A"))
    if "a" <= letter <= "z":
        return chr(0x1D41A + ord(letter) - ord("a"))
    return chr(0x1D6C2 + ord(letter) - ord("α")) if "α" <= letter <= "ω" else letter


def _binomial(reader: _Reader) -> str:
    return f'<mrow><mo>(</mo><mfrac linethickness="0">{reader.symbol()}{reader.symbol()}</mfrac><mo>)</mo></mrow>'


_MAKERS: dict[str, Callable[[_Reader], str]] = {
    "frac": lambda reader: f"<mfrac>{reader.symbol()}{reader.symbol()}</mfrac>",
    "sqrt": lambda reader: f"<msqrt>{reader.symbol()}</msqrt>",
    "abs": lambda reader: f"<mrow><mo>|</mo>{reader.symbol()}<mo>|</mo></mrow>",
    "binom": _binomial,
    "bold": _bold,
    **{name: _accent(mark) for name, mark in _ACCENTS.items()},
}
