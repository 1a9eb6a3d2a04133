"""Found tones and wavelengths and the causes that they are matched to."""

from __future__ import annotations

from generator.analysis.matching import match_tone, match_wavelength
from generator.records.signals import Cause

CAUSES = [
    Cause("full steps", 400.0, "electrical"),
    Cause("half turns", 200.0, "electrical"),
    Cause("turns", 100.0, "electrical"),
    Cause("teeth", 80.0, "tooth"),
    Cause("ringing", 61.0, "ringing", 1),
]


def names(frequency: float, resolution: float = 1.0) -> list[tuple[str, int]]:
    return [(match.name, match.harmonic) for match in match_tone(frequency, CAUSES, resolution)]


def test_simplest_of_a_family_speaks_for_it() -> None:
    assert names(200.4) == [("half turns", 1)]
    assert names(400.0) == [("full steps", 1), ("teeth", 5)]
    assert names(300.0) == [("turns", 3)]


def test_tolerance_is_resolution_or_speed() -> None:
    assert names(81.5) == [] and names(81.5, 2.0) == [("teeth", 1)]
    # half a per cent of 1600 Hz is 8 Hz
    assert ("full steps", 4) in names(1607.0) and names(1609.0) == []


def test_ringing_has_no_harmonics() -> None:
    assert names(61.0) == [("ringing", 1)] and names(122.0) == []


def test_four_full_steps_are_the_fifth_harmonic_of_a_tooth() -> None:
    # 0.9° steps on 20 teeth of 2 mm: 400 steps in 40 mm; four of them are 0.4 mm, a fifth of a tooth
    speed = 0.1
    causes = [Cause("electrical turns", speed / 0.0004, "electrical"), Cause("teeth", speed / 0.002, "tooth")]

    found = match_wavelength(0.0004, causes, speed, 2e-6)

    assert [(match.name, match.harmonic) for match in found] == [("electrical turns", 1), ("teeth", 5)]
    assert found[1].words == "teeth, 5× its rate"


def test_wavelength_outside_the_resolution_has_no_cause() -> None:
    assert match_wavelength(0.00042, [Cause("teeth", 50.0)], 0.1, 2e-6) == []
