"""Keeps the archive's marks out of what people wrote: only pages themselves may carry them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.records.presentation import PUBLISHED, ROOT, VERSION

_NOTHING = dict.fromkeys(map(ord, (ROOT, VERSION, PUBLISHED)))


def drop_marks(thing: Any) -> Any:
    """The same JSON-ready value with the marks removed from every text in it."""
    if isinstance(thing, str):
        return thing.translate(_NOTHING)
    if isinstance(thing, Mapping):
        return {key: drop_marks(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple) and not (thing and isinstance(thing[0], int | float)):
        return [drop_marks(value) for value in thing]
    return thing
