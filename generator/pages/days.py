"""Dates as people write them."""

from __future__ import annotations

import datetime

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def day(date: object) -> str:
    """``2026-09-18`` → ``18 September 2026``; anything else stays as it is."""
    try:
        parsed = datetime.date.fromisoformat(str(date))
    except ValueError:
        return str(date)
    return f"{parsed.day} {_MONTHS[parsed.month - 1]} {parsed.year}"
