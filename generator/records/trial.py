"""Trials: limits found by climbing a ladder until steps are lost, in SI along the path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

ACCELERATION = "acceleration"
SPEED = "speed"
UNITS = {ACCELERATION: "m/s^2", SPEED: "m/s"}


@dataclass(frozen=True)
class Ladder:
    """start, rung and stop [m/s² or m/s]; stop is None where open."""

    start: float
    rung: float
    stop: float | None = None


@dataclass(frozen=True)
class Run:
    """One climb: the last rung held and the first rung lost [m/s² or m/s].

    lost is None when steps were never lost (stopped says why: stroke, supply, heat, operator);
    held is None when the first rung was lost. order and time serve the drift test. line: where it was read.
    """

    held: float | None
    lost: float | None
    stopped: str | None = None
    order: int | None = None
    time: str | None = None
    note: str | None = None
    file: str = ""
    line: int = 0


@dataclass(frozen=True)
class Attempts:
    """Tries on one rung: at [m/s² or m/s], how many held and how many lost."""

    at: float
    held: int
    lost: int
    file: str = ""
    line: int = 0


@dataclass(frozen=True)
class Trial:
    """One ladder for all candidates.

    measures is ``acceleration`` (speed is then given) or ``speed`` (acceleration may be given). direction is the
    unit vector over the machine's axes; direction_written keeps the author's own numbers. stroke [m] or None,
    hold_time [s] at top speed. runs and attempts map a candidate's id to what was recorded.
    """

    id: str
    measures: str
    direction: tuple[float, ...]
    direction_written: Mapping[str, float]
    speed: float | None = None
    acceleration: float | None = None
    stroke: float | None = None
    hold_time: float = 0.0
    ladder: Ladder | None = None
    runs: Mapping[str, tuple[Run, ...]] = field(default_factory=dict)
    attempts: Mapping[str, tuple[Attempts, ...]] = field(default_factory=dict)
    note: str | None = None

    @property
    def unit(self) -> str:
        """SI unit of the measured quantity."""
        return UNITS[self.measures]
