"""The shapes that values in a file can have, and the entries that a checked value becomes. Never checks anything."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from generator.readers.nodes import Node

IDENTIFIER = re.compile(r"[a-z][a-z0-9-]{0,39}")
_LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8}){0,3}")
_ADDRESS = re.compile(r"https?://[A-Za-z0-9.-]+(:\d{1,5})?(/[A-Za-z0-9._~/-]*)?")


@dataclass(frozen=True)
class Text:
    """Free text; pattern and example where it must look like something."""

    one_line: bool = True
    pattern: re.Pattern[str] | None = None
    example: str = ""


@dataclass(frozen=True)
class Word:
    """One of a few words."""

    choices: tuple[str, ...]


@dataclass(frozen=True)
class Date:
    """A day as year-month-day."""


@dataclass(frozen=True)
class Switch:
    """true or false."""


@dataclass(frozen=True)
class Whole:
    """A whole number from least to most."""

    least: int = 0
    most: int = 1_000_000


@dataclass(frozen=True)
class Quantity:
    """A number with its unit, by kind; above is a bound that the value must exceed, least one that it may touch.

    exact says that the models take it without a spread, so it carries no tolerance. example is a value that suits this
    place, where the kind's own does not.
    """

    kind: str
    above: float | None = None
    least: float | None = None
    most: float | None = None
    exact: bool = False
    example: str = ""


@dataclass(frozen=True)
class Level:
    """A level in dB or dB(A)."""


@dataclass(frozen=True)
class Amount:
    """A share in % or a quantity of this kind: (value, relative)."""

    kind: str


@dataclass(frozen=True)
class File:
    """The path of a file in this role."""

    role: str


@dataclass(frozen=True)
class Block:
    """A mapping with known keys."""

    keys: Mapping[str, Shape]
    required: tuple[str, ...] = ()


@dataclass(frozen=True)
class Each:
    """A mapping whose keys are names of ``what``; pattern where they are not checked later."""

    shape: Shape
    what: str
    extra: Mapping[str, Shape] = field(default_factory=dict)


@dataclass(frozen=True)
class Many:
    """A list with least to most entries."""

    shape: Shape
    least: int = 0
    most: int | None = None


@dataclass(frozen=True)
class Either:
    """A value whose form says which shape it has; fix is what helps where it has another form."""

    scalar: Shape | None = None
    sequence: Shape | None = None
    mapping: Shape | None = None
    fix: str = ""


@dataclass(frozen=True)
class ByWord:
    """A block whose shape depends on the word under one of its keys."""

    key: str
    blocks: Mapping[str, Block]


Shape: TypeAlias = (
    "Text | Word | Date | Switch | Whole | Quantity | Level | Amount | File | Block | Each | Many | Either | ByWord"
)


@dataclass(frozen=True)
class Entry:
    """A checked value with its place: a plain value, a mapping of entries or a list of entries."""

    node: Node
    path: str
    value: Any
    shape: Shape

    def get(self, key: str) -> Entry | None:
        """Entry under this key of a block."""
        found = self.value.get(key) if isinstance(self.value, dict) else None
        return found if isinstance(found, Entry) else None

    def plain(self, key: str, default: Any = None) -> Any:
        """Plain value under this key of a block; the default where it is absent or an empty text."""
        found = self.get(key)
        return default if found is None or found.value == "" else found.value

    def items(self) -> Iterator[tuple[str, Entry]]:
        """Keys and entries of a block."""
        return iter(self.value.items())


LANGUAGE = Text(pattern=_LANGUAGE, example="en")
ADDRESS = Text(pattern=_ADDRESS, example="https://bench.example/")
IDENTIFIER_TEXT = Text(
    pattern=IDENTIFIER, example="series (a small letter, then small letters, digits and -, 40 at most)"
)
