"""Recordings: sound, vibration, surfaces, panel. Files are named by their path inside the comparison's folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Calibration:
    """Either a calibrator recording (file, level [dB]) or the level of digital full scale (full_scale [dB])."""

    file: str | None = None
    level: float | None = None
    full_scale: float | None = None


@dataclass(frozen=True)
class Microphone:
    """distance [m], the instrument's id, and its calibration."""

    distance: float | None = None
    instrument: str | None = None
    calibration: Calibration | None = None
    placed_anew: bool | None = None


@dataclass(frozen=True)
class SoundRecording:
    """One file; start and stop [s] of the part to use, channel counted from 1, speed [m/s] in a series."""

    file: str
    start: float | None = None
    stop: float | None = None
    channel: int | None = None
    speed: float | None = None
    constant_speed: bool = False
    line: int = 0


@dataclass(frozen=True)
class Sound:
    """A sound item. levels [dB(A) or dB], background_level [same]; spectra map a candidate to CSV files."""

    id: str
    direction: tuple[float, ...] | None = None
    speed: float | None = None
    microphone: Microphone = Microphone()
    background: SoundRecording | None = None
    recordings: Mapping[str, tuple[SoundRecording, ...]] = field(default_factory=dict)
    levels: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    levels_weighted: bool = True
    background_level: float | None = None
    spectra: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Vibration:
    """A vibration item. axis name, excitation (run, stop, tap, sweep, broadband), current in force [A, peak].

    columns map time, acceleration, frequency, density to the CSV's own header; traces and spectra map a candidate
    to CSV files.
    """

    id: str
    axis: str
    excitation: str
    current: float | None = None
    speed: float | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    traces: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    spectra: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Scale:
    """pixels that show length [m] on the sample."""

    pixels: float
    length: float

    @property
    def pixels_per_metre(self) -> float:
        """Resolution of the photo [1/m]."""
        return self.pixels / self.length


@dataclass(frozen=True)
class Photo:
    """One photo; origin is the corner of the first band in pixels, scale overrides the item's."""

    file: str
    origin: tuple[float, float] | None = None
    scale: Scale | None = None


@dataclass(frozen=True)
class Bands:
    """first_speed and speed_step [m/s], height [m], count; first is ``bottom`` or ``top`` (``left``, ``right``)."""

    first_speed: float
    speed_step: float
    height: float
    count: int
    first: str = "bottom"

    def speeds(self) -> tuple[float, ...]:
        """Speed of each band, in order [m/s]."""
        return tuple(self.first_speed + k * self.speed_step for k in range(self.count))


@dataclass(frozen=True)
class Surface:
    """Photos of a sample made in bands, each band one speed; along is ``horizontal`` or ``vertical``."""

    id: str
    direction: tuple[float, ...] | None
    scale: Scale | None
    bands: Bands
    along: str
    photos: Mapping[str, Photo] = field(default_factory=dict)
    alt: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Vote:
    """One person's choice between two candidates; chosen is a candidate's id or None for no preference."""

    voter: str
    left: str
    right: str
    chosen: str | None


@dataclass(frozen=True)
class PairCount:
    """Persons who chose the first, the second and neither of two candidates."""

    between: tuple[str, str]
    votes: tuple[int, int]
    no_preference: int = 0


@dataclass(frozen=True)
class Panel:
    """Persons judging photos blind: counts per pair, or single votes."""

    id: str
    surface: str | None = None
    pairs: tuple[PairCount, ...] = ()
    votes: tuple[Vote, ...] = ()
