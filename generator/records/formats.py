"""Which photos and recordings are taken: what readers open and the archive cleans, neither more nor less."""

from __future__ import annotations

from collections.abc import Iterable

PHOTO_FORMATS = {"JPEG": (".jpg", ".jpeg"), "PNG": (".png",), "WebP": (".webp",)}
SOUND_FORMATS = {"WAV": (".wav",)}
"""Each format by its name, with the suffixes that say it."""


def list_formats(formats: Iterable[str]) -> str:
    """Names of formats in words: ``JPEG, PNG or WebP``."""
    *others, last = formats
    return f"{', '.join(others)} or {last}" if others else last
