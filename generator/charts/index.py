"""Every chart of a results object, in the order of its page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from generator.charts.contrasts import draw_contrasts
from generator.charts.corridor import draw_corridors
from generator.charts.drift import draw_drifts
from generator.charts.panel import draw_panels
from generator.charts.sound import draw_sounds
from generator.charts.stall import draw_stall_maps
from generator.charts.strips import draw_strips
from generator.charts.surfaces import draw_surfaces
from generator.charts.torque import draw_torques
from generator.charts.vibration import draw_vibrations
from generator.records.presentation import Chart

DRAWERS = (
    draw_corridors,
    draw_strips,
    draw_drifts,
    draw_torques,
    draw_stall_maps,
    draw_sounds,
    draw_vibrations,
    draw_surfaces,
    draw_panels,
    draw_contrasts,
)


def draw_charts(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """Draw what a results object holds; a part that is missing gives no chart."""
    return tuple(chart for draw in DRAWERS for chart in draw(results))
