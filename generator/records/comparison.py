"""A whole comparison as its folder gives it, and the facts of the site that publishes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from generator.records.candidate import Candidate
from generator.records.recordings import Panel, Sound, Surface, Vibration
from generator.records.trial import Trial


@dataclass(frozen=True)
class Correction:
    """A dated note on what was wrong and is now right."""

    date: str
    text: str


@dataclass(frozen=True)
class Publish:
    """What may enter the site: source files, listening excerpts, photos."""

    sources: bool = True
    audio: bool = False
    photos: bool = True


@dataclass(frozen=True)
class Instrument:
    """A measuring instrument as the report names it."""

    id: str
    what: str | None = None
    serial: str | None = None
    checked_on: str | None = None
    uncertainty: str | None = None


@dataclass(frozen=True)
class Matters:
    """The smallest difference worth acting on, (value, relative) by kind and item; relative is a share of the mean."""

    kinds: Mapping[str, tuple[float, bool]] = field(default_factory=dict)
    items: Mapping[str, tuple[float, bool]] = field(default_factory=dict)


@dataclass(frozen=True)
class Decides:
    """Which figure of an item enters the verdict; better is ``lower`` or ``higher``."""

    figure: str
    better: str
    band: tuple[float, float] | None = None
    ripple_limit: float | None = None


@dataclass(frozen=True)
class Calibrate:
    """Which unknown is fitted (torque derating, moving mass, current) and to which trial; None for the first."""

    unknown: str = "torque derating"
    trial: str | None = None


@dataclass(frozen=True)
class SourceFile:
    """A file that the comparison names: path inside its folder and role (comparison, prose, runs, sound, …)."""

    path: str
    role: str


@dataclass(frozen=True)
class Comparison:
    """Everything one comparison folder states, in SI."""

    slug: str
    title: str
    date: str
    data: str
    candidates: tuple[Candidate, ...]
    question: str | None = None
    author: str | None = None
    language: str = "en"
    write_up: str | None = None
    interests: str | None = None
    corrections: tuple[Correction, ...] = ()
    publish: Publish = Publish()
    stall_map: bool = True
    bench: Mapping[str, Any] = field(default_factory=dict)
    instruments: tuple[Instrument, ...] = ()
    trials: tuple[Trial, ...] = ()
    sound: tuple[Sound, ...] = ()
    vibration: tuple[Vibration, ...] = ()
    surfaces: tuple[Surface, ...] = ()
    panel: tuple[Panel, ...] = ()
    decides: Mapping[str, Decides] = field(default_factory=dict)
    matters: Matters = Matters()
    weights: Mapping[str, float] = field(default_factory=dict)
    calibrate: Calibrate = Calibrate()
    sources: tuple[SourceFile, ...] = ()
    missing: tuple[str, ...] = ()

    def candidate(self, candidate_id: str) -> Candidate:
        """The candidate of that id; KeyError where there is none."""
        for candidate in self.candidates:
            if candidate.id == candidate_id:
                return candidate
        raise KeyError(candidate_id)

    @property
    def axes(self) -> tuple[str, ...]:
        """Axis names of the machine, which all candidates share."""
        return self.candidates[0].axes


@dataclass(frozen=True)
class Site:
    """Facts of the site, from comparisons/site.yaml."""

    name: str = "Comparisons"
    about: str | None = None
    owner: str | None = None
    contact: str | None = None
    address: str | None = None
    language: str = "en"
    licence: str | None = None
    data_licence: str | None = None
