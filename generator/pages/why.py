"""The reasons: what decides a prediction, tones, resonance, what would explain a mismatch, what was calibrated."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.sentences import influence_sentences

Row = Mapping[str, Any]


def view_why(results: Row) -> dict[str, Any] | None:
    """Everything that the section prints, or None where there is nothing."""
    view = {"influences": influence_sentences(results)}
    return view if any(view.values()) else None
