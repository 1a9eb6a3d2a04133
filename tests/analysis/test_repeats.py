"""Repeated figures and their interval."""

from __future__ import annotations

import pytest

from generator.analysis.repeats import find_repeated


def test_mean_and_interval() -> None:
    # t(2) = 4.302653 (JCGM 100:2008, Table G.2): half-width 4.302653·1/√3
    found = find_repeated("i", "c", "level", "dB", [50.0, 51.0, 52.0])

    assert (found.estimate, found.scatter, found.count) == pytest.approx((51.0, 1.0, 3))
    assert (found.low, found.high) == pytest.approx((51 - 2.484138, 51 + 2.484138), abs=1e-6)
    assert found.method == "recorded" and found.standard_uncertainty == pytest.approx(1 / 3**0.5)


def test_single_recording_has_no_interval() -> None:
    found = find_repeated("i", "c", "level", "dB", [50.0])

    assert found.estimate == 50.0 and found.low is None and found.scatter is None and "single" in found.basis
