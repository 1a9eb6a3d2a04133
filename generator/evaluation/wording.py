"""What an item is, in words that follow "in" or stand in a heading; figures as the reader sees them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from generator.records.candidate import Candidate
from generator.records.comparison import Comparison
from generator.records.recordings import Panel, Sound, Surface
from generator.records.trial import ACCELERATION, Trial
from generator.units import format_stated


def describe_items(comparison: Comparison) -> dict[str, str]:
    """Every item by id, in file order: trials, sound, vibration, surfaces, panel."""
    axes = comparison.axes
    found = {trial.id: describe_trial(trial) for trial in comparison.trials}
    found |= {sound.id: _sound(sound, axes) for sound in comparison.sound}
    found |= {vibration.id: f"vibration along {vibration.axis}" for vibration in comparison.vibration}
    found |= {surface.id: _surface(surface, axes) for surface in comparison.surfaces}
    return found | {panel.id: _panel(panel) for panel in comparison.panel}


def describe_trial(trial: Trial) -> str:
    """``acceleration at 500 mm/s along x and y``, ``top speed along x at 11 m/s²``."""
    path = describe_direction(trial.direction_written)
    if trial.measures == ACCELERATION:
        assert trial.speed is not None
        return f"acceleration at {format_stated(trial.speed, 'm/s')} {path}"
    stated = f" at {format_stated(trial.acceleration, 'm/s^2')}" if trial.acceleration is not None else ""
    return f"top speed {path}{stated}"


def describe_direction(written: Mapping[str, float]) -> str:
    """``along x``, ``at 45° between x and y``, or the shares of the axes."""
    moved = {axis: share for axis, share in written.items() if share}
    names = list(moved)
    if len(names) == 1:
        return f"along {'−' if moved[names[0]] < 0 else ''}{names[0]}"
    if len(names) == 2 and len({abs(share) for share in moved.values()}) == 1:
        signed = [f"{'−' if share < 0 else ''}{axis}" for axis, share in moved.items()]
        return f"at 45° between {signed[0]} and {signed[1]}"
    shares = ", ".join(f"{axis} {share:g}".replace("-", "−") for axis, share in moved.items())
    return f"along the direction {shares}"


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
    largest = max(abs(share) for share in direction)
    named = dict(zip(axes, (round(share / largest, 6) for share in direction), strict=True))
    return " " + describe_direction(named)


_KIND = {"drive.peak_current": " peak", "drive.rms_current": " RMS", "supply.voltage": " supply"}


def describe_difference(candidate: Candidate, candidates: Sequence[Candidate]) -> str:
    """The stated figures in which a candidate differs from the others: ``1.4 A peak, 3 Ω, 6 mH``."""
    return ", ".join(
        format_stated(leaf.value, leaf.unit) + _KIND.get(path, "")
        for path, leaf in candidate.leaves.items()
        if leaf.origin == "file" and any(_value(other, path) != leaf.value for other in candidates)
    )


def _value(candidate: Candidate, path: str) -> float | None:
    leaf = candidate.leaves.get(path)
    return None if leaf is None else leaf.value
