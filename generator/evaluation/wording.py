"""What an item is, in words that follow "in" or stand in a heading; figures as the reader sees them."""

from __future__ import annotations

from collections.abc import Sequence

from generator.records.candidate import Candidate, Leaf
from generator.records.comparison import Comparison
from generator.records.recordings import Panel, Sound, Surface
from generator.records.trial import ACCELERATION, Trial
from generator.units import format_direction, format_stated


def describe_items(comparison: Comparison) -> dict[str, str]:
    """Every item by id, in file order: trials, sound, vibration, surfaces, panel."""
    axes = comparison.axes
    found = {trial.id: describe_trial(trial) for trial in comparison.trials}
    found |= {sound.id: _sound(sound, axes) for sound in comparison.sound}
    found |= {vibration.id: f"vibration along {vibration.axis}" for vibration in comparison.vibration}
    found |= {surface.id: _surface(surface, axes) for surface in comparison.surfaces}
    return found | {panel.id: _panel(panel) for panel in comparison.panel}


def describe_trial(trial: Trial) -> str:
    """``acceleration at 500 mm/s along the diagonal of x and y``, ``top speed along x at 11 m/s²``."""
    path = format_direction(trial.direction_written)
    if trial.measures == ACCELERATION:
        assert trial.speed is not None
        return f"acceleration at {format_stated(trial.speed, 'm/s')} {path}"
    stated = f" at {format_stated(trial.acceleration, 'm/s^2')}" if trial.acceleration is not None else ""
    return f"top speed {path}{stated}"


def _sound(sound: Sound, axes: tuple[str, ...]) -> str:
    at = f" at {format_stated(sound.speed, 'm/s')}" if sound.speed is not None else ""
    return f"sound level{at}" + _along(sound.direction, axes)


def _surface(surface: Surface, axes: tuple[str, ...]) -> str:
    return "surface ripple" + _along(surface.direction, axes)


def _panel(panel: Panel) -> str:
    return "the blind panel" + (f" on {panel.surface}" if panel.surface else "")


def _along(direction: tuple[float, ...] | None, axes: tuple[str, ...]) -> str:
    if direction is None:
        return ""
    return " " + format_direction(dict(zip(axes, direction, strict=True)))


_KIND = {
    "belt_stiffness": " belt",
    "efficiency": " efficient",
    "holding_torque": " holding",
    "peak_current": " peak",
    "pulley_teeth": " teeth",
    "rated_current": " rated",
    "rms_current": " RMS",
    "rotor_inertia": " rotor",
    "screw_lead": " lead",
    "travel_per_turn": " per turn",
    "voltage": " supply",
    "source_resistance": " source",
}
"""What a figure is, in a label where its unit does not tell."""


def describe_difference(candidate: Candidate, candidates: Sequence[Candidate]) -> str:
    """The stated figures in which a candidate differs from the others: ``1.4 A peak, 3 Ω, 6 mH``."""
    return ", ".join(
        _stated(leaf) + _KIND.get(path.rpartition(".")[2], "")
        for path, leaf in candidate.leaves.items()
        if leaf.origin == "file" and any(_value(other, path) != leaf.value for other in candidates)
    )


def _stated(leaf: Leaf) -> str:
    """A figure as stated; an efficiency reads better in per cent."""
    if leaf.path.endswith("efficiency"):
        return f"{100 * leaf.value:g} %"
    return format_stated(leaf.value, leaf.unit)


def _value(candidate: Candidate, path: str) -> float | None:
    leaf = candidate.leaves.get(path)
    return None if leaf is None else leaf.value
