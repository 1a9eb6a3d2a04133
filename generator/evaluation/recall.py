"""Keep and recall expensive results, each keyed by the content of exactly what it depends on.

``Recall`` is how evaluation asks for a result without knowing where results are kept: it hands over a name, what the
result depends on, and the function that makes it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Protocol

from generator.evaluation.numbers import canonical_bytes, digest, to_json


class Store(Protocol):
    """A place that keeps bytes by key; ``get`` returns None where there is nothing sound."""

    def get(self, key: str) -> bytes | None:
        """The bytes kept under ``key``, or None."""

    def put(self, key: str, content: bytes) -> None:
        """Keep ``content`` under ``key``."""


_DRAWING = ("records", "units.py", "unit_grammar.py", "phrases.py", "charts")
LAYERS: Mapping[str, tuple[str, ...]] = {
    "climb": ("records", "models", "evaluation/simulation.py", "evaluation/predictions.py", "evaluation/numbers.py"),
    "stall map": (
        "records", "models", "evaluation/simulation.py", "evaluation/predictions.py", "evaluation/numbers.py",
    ),
    "influences": ("records", "models", "evaluation/influences.py", "evaluation/numbers.py"),
    "charts": (*_DRAWING, "making.py", "evaluation/numbers.py"),
    "preview picture": (*_DRAWING, "presenting.py"),
    "photo sizes": ("records", "readers", "presenting.py", "evaluation/numbers.py"),
}  # fmt: skip
"""Code that a kind of result depends on, by what it is below generator/; anything else depends on all of it."""


class Recall:
    """Results kept in ``store`` under the digest of name, version of the code that makes them, and dependencies.

    ``find_code`` gives the digest of the code in some layers, of all code for none named.
    """

    def __init__(self, store: Store | None = None, find_code: Callable[[tuple[str, ...]], str] = ",".join) -> None:
        self.store = store
        self.find_code = find_code

    def json(self, name: str, depends_on: Any, make: Callable[[], Any]) -> Any:
        """A JSON-ready result: kept, or made now, rounded and kept."""
        kept = self.bytes(name, depends_on, lambda: canonical_bytes(make()))
        return json.loads(kept)

    def each(self, name: str, depends_on: Sequence[Any], make: Callable[[list[int]], Sequence[Any]]) -> list[Any]:
        """JSON-ready results of several like things; ``make`` gets the places of those not kept, all in one call.

        What is made for one must not depend on which others are made with it.
        """
        keys = [self._find_key(name, one) for one in depends_on]
        found = [self.store.get(key) if self.store else None for key in keys]
        missing = [place for place, content in enumerate(found) if content is None]
        for place, made in zip(missing, make(missing) if missing else (), strict=True):
            content = found[place] = canonical_bytes(made)
            if self.store:
                self.store.put(keys[place], content)
        return [json.loads(content) for content in found if content is not None]

    def bytes(self, name: str, depends_on: Any, make: Callable[[], bytes]) -> bytes:
        """Bytes: kept, or made now and kept."""
        if self.store is None:
            return make()
        key = self._find_key(name, depends_on)
        kept = self.store.get(key)
        if kept is None:
            kept = make()
            self.store.put(key, kept)
        return kept

    def _find_key(self, name: str, depends_on: Any) -> str:
        return digest([name, self.find_code(LAYERS.get(name, ())), to_json(depends_on)])
