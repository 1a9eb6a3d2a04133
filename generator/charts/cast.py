"""The candidates of one comparison as charts show them: name and style per id, in file order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from generator.charts.palette import NEUTRAL, Style, assign_styles
from generator.charts.wording import plain

_STRANGER = Style(NEUTRAL.name, NEUTRAL.light, (14, 5), "bar", "")


@dataclass(frozen=True)
class Cast:
    """names and styles by candidate id; items says what each item is."""

    names: Mapping[str, str]
    styles: Mapping[str, Style]
    items: Mapping[str, str] = field(default_factory=dict)

    @property
    def ids(self) -> tuple[str, ...]:
        """Candidate ids in file order."""
        return tuple(self.names)

    def name(self, candidate: str) -> str:
        """The candidate's name, safe to draw."""
        return self.names.get(candidate, plain(candidate))

    def short(self, candidate: str) -> str:
        """The name without the words that all names begin with, for tight places."""
        name = self.name(candidate)
        shared = shared_start(list(self.names.values()))
        return name[len(shared) :] if candidate in self.names else name

    def style(self, candidate: str) -> Style:
        """The candidate's style; neutral for an id that the comparison does not know."""
        return self.styles.get(candidate, _STRANGER)

    def item(self, item: str) -> str:
        """What an item is, in words; its id where the results do not say."""
        return self.items.get(item) or plain(item)

    def place(self, candidate: str) -> int:
        """Place in file order; unknown ids come last."""
        return self.ids.index(candidate) if candidate in self.names else len(self.names)


def shared_start(names: Sequence[str]) -> str:
    """The whole words, with the space behind them, that all names begin with; every name keeps a rest."""
    if len(names) < 2:
        return ""
    first, last = min(names), max(names)
    same = next((place for place, pair in enumerate(zip(first, last, strict=False)) if pair[0] != pair[1]), len(first))
    return first[: first.rfind(" ", 0, same) + 1]


def cast_of(results: Mapping[str, Any]) -> Cast:
    """The cast of a results object."""
    entries = results.get("candidates") or ()
    names = {entry["id"]: plain(entry.get("name") or entry["id"]) for entry in entries}
    items = {entry["id"]: plain(entry.get("what") or "") for entry in results.get("items") or ()}
    return Cast(names, assign_styles(tuple(names)), items)
