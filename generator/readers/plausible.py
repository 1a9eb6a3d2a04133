"""Figures far from what hardware of this trade has: most are slips of a thousand in a unit. Only warns, never refuses.

All ranges are common practice, no source. They reach well beyond stepping motors with flanges from 20 to 110 mm and
what drives, feeds and carries them, so that a figure outside deserves a second look at its unit, and no more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from generator.records.candidate import Leaf
from generator.units import format_stated

Range: TypeAlias = tuple[float, float]


@dataclass(frozen=True)
class Ratio:
    """Two figures of a motor whose ratio hardly varies between motors: how it is called, its unit and usual range."""

    code: str
    over: str
    under: str
    name: str
    unit: str
    usual: Range


@dataclass(frozen=True)
class Unusual:
    """A figure or a ratio out of its range: stable code, path of the leaf where it is said, message and fix."""

    code: str
    path: str
    message: str
    fix: str


USUAL: Mapping[str, Range] = {
    "moving_mass": (0.005, 200.0),
    "travel": (0.5e-3, 60.0),
    "voltage": (1.0, 400.0),
    "voltage_limit": (1.0, 400.0),
    "capacitance": (1e-6, 1.0),
    "peak_current": (0.02, 50.0),
    "rms_current": (0.02, 50.0),
    "rated_current": (0.02, 50.0),
    "mass": (0.005, 100.0),
    "belt_pitch": (0.5e-3, 50e-3),
    "screw_lead": (0.05e-3, 0.5),
    "travel_per_turn": (0.05e-3, 2.0),
    "speed": (1e-5, 30.0),
    "ambient": (223.15, 373.15),
    "winding_temperature": (223.15, 523.15),
}
"""Lowest and highest usual value [SI] by the last step of a figure's path; common practice, no source."""

FIGURE, CHECK = "figure-unusual", "check the unit; a figure that is right may stay"
"""Code and fix of a figure out of its range."""
RATIOS = (
    Ratio("time-constant-unusual", "inductance", "resistance", "an electrical time constant", "s", (0.05e-3, 50e-3)),
    Ratio("torque-inertia-unusual", "holding_torque", "rotor_inertia", "an acceleration", "rad/s²", (2e3, 1e6)),
)
"""Torque over inertia is about 200 000 rad/s² for the smallest of these motors and 10 000 rad/s² for the largest."""


def say_unusual(key: str, value: float, unit: str) -> str:
    """What is unusual about a figure [unit, SI] under this key, with the range that is usual; nothing if it is not."""
    low, high = USUAL.get(key, (value, value))
    if low <= value <= high:
        return ""
    return f"{format_stated(value, unit)} is unusual here; usual is {_range((low, high), unit)}"


def find_unusual(
    leaves: Mapping[str, Leaf], motors: Iterable[str], nested: Callable[[str, str], str | None]
) -> Iterator[Unusual]:
    """Every figure of a candidate, and every ratio of a motor's figures, that lies outside its usual range.

    Parameters
    ----------
    leaves
        The candidate's figures [SI] by path.
    motors
        Names of the machine's motors.
    nested
        Path of the figure that holds for a motor: of ``motor.inductance`` for ``y``; None where there is none.
    """
    for path, leaf in leaves.items():
        message = say_unusual(path.rpartition(".")[2], leaf.value, leaf.unit)
        if message:
            yield Unusual(FIGURE, path, message, CHECK)
    for motor in motors:
        for ratio in RATIOS:
            over, under = (leaves.get(nested(motor, f"motor.{key}") or "") for key in (ratio.over, ratio.under))
            if over is not None and under is not None:
                yield from _judge(ratio, over, under)


def _judge(ratio: Ratio, over: Leaf, under: Leaf) -> Iterator[Unusual]:
    """Whatever is unusual about the ratio of two figures."""
    value = over.value / under.value
    if not ratio.usual[0] <= value <= ratio.usual[1]:
        words = [key.replace("_", " ") for key in (ratio.over, ratio.under)]
        given = " over ".join(f"{word} {_show(leaf)}" for word, leaf in zip(words, (over, under), strict=True))
        made = f"{ratio.name} of {format_stated(value, ratio.unit, 3)}"
        message = f"{given} makes {made}; usual is {_range(ratio.usual, ratio.unit)}"
        fix = f"check the unit of {words[0]} and of {words[1]}; figures that are right may stay"
        yield Unusual(ratio.code, over.path, message, fix)


def _show(leaf: Leaf) -> str:
    """A figure as people read it, to six digits."""
    return format_stated(leaf.value, leaf.unit)


def _range(usual: Range, unit: str) -> str:
    """``0.05 ms to 50 ms``."""
    return " to ".join(format_stated(end, unit, 3) for end in usual)
