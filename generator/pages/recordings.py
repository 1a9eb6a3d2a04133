"""Sound, vibration, surfaces and panel as the page shows them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.pages.context import Media

Row = Mapping[str, Any]


def view_sound(results: Row, media: Media) -> Any:
    """The sound items."""
    return results.get("sound") or None


def view_vibration(results: Row, media: Media) -> Any:
    """The vibration items."""
    return results.get("vibration") or None


def view_surfaces(results: Row, media: Media) -> Any:
    """The surface items."""
    return results.get("surfaces") or None


def view_panel(results: Row, media: Media) -> Any:
    """The panels."""
    return results.get("panel") or None
