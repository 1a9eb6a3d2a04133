"""Every chart of a results object, in the order of its page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.charts.corridor import draw_corridors
from generator.records.presentation import Chart

_DRAWERS = (draw_corridors,)


def draw_charts(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """Draw what the results hold; a part that is missing gives no chart."""
    return tuple(chart for draw in _DRAWERS for chart in draw(results))
