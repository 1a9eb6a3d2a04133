"""Found tones and ripples matched to what a turning motor, a belt or a resonance would leave."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from generator.records.signals import Cause, Match

SPEED_TOLERANCE = 0.005
"""How far a machine's speed may lie from the stated one [1] (common practice, no source)."""
LENGTH_TOLERANCE = 0.01
"""How far a wavelength may lie from the predicted one besides the resolution [1]: scale and tilt of the photo
(common practice, no source)."""


def match_tone(frequency: float, causes: Sequence[Cause], resolution: float) -> list[Match]:
    """All causes, harmonics included, that lie within resolution or speed tolerance of a tone, simplest first.

    Parameters
    ----------
    frequency, resolution : float [Hz]
        The tone and the spacing of the spectrum's lines.
    causes : sequence of Cause
        Predicted tones [Hz]; of each family only the simplest match is kept.
    """
    tolerance = max(resolution, SPEED_TOLERANCE * frequency)
    near = (
        (cause, Match(cause.name, k, k * cause.frequency))
        for cause in causes
        for k in range(1, cause.harmonics + 1)
        if cause.frequency > 0 and abs(k * cause.frequency - frequency) <= tolerance
    )
    return _simplest(near, frequency)


def match_wavelength(wavelength: float, causes: Sequence[Cause], speed: float, resolution: float) -> list[Match]:
    """All causes, harmonics included, whose wavelength agrees with a found one, simplest first.

    Parameters
    ----------
    wavelength, resolution : float [m]
        Found, and the length that separates two neighbours there.
    causes : sequence of Cause
        Predicted rates [Hz]; of each family only the simplest match is kept.
    speed : float [m/s]
        Of the tool along the band.
    """
    tolerance = max(resolution, LENGTH_TOLERANCE * wavelength)
    near = (
        (cause, Match(cause.name, k, speed / cause.frequency / k))
        for cause in causes
        for k in range(1, cause.harmonics + 1)
        if cause.frequency > 0 and abs(speed / cause.frequency / k - wavelength) <= tolerance
    )
    return _simplest(near, wavelength)


def _simplest(near: Iterable[tuple[Cause, Match]], found: float) -> list[Match]:
    """The simplest match of each family, and all of those without one."""
    ordered = sorted(near, key=lambda pair: (pair[1].harmonic, abs(pair[1].expected - found)))
    kept: dict[str, Match] = {}
    for cause, match in ordered:
        kept.setdefault(cause.family or f"{cause.name} {match.harmonic}", match)
    return list(kept.values())
