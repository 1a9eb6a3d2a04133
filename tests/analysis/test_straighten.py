"""Strips laid on one another: shifts by fractions, and bands that leave the picture."""

from __future__ import annotations

import numpy as np
import pytest

from generator.analysis.straighten import Strips, find_turn, straighten

CENTRES = np.arange(16) * 5.0 + 2.5
COLUMNS = np.arange(1000)


def wave(turn: float, wavelength: float) -> np.ndarray:
    """Strips of a grating that moves right by ``turn`` per pixel down."""
    return 1 + 0.1 * np.sin(2 * np.pi * (COLUMNS[None, :] - turn * CENTRES[:, None]) / wavelength)


@pytest.mark.parametrize("wavelength", [5.0, 8.3, 40.0])
@pytest.mark.parametrize("turn", [0.0, 0.004, -0.05, 0.17])
def test_straightened_grating_keeps_its_contrast(wavelength: float, turn: float) -> None:
    profile = straighten(Strips(wave(turn, wavelength), CENTRES), turn)

    inner = profile[20:-20] - 1
    assert np.sqrt(2 * np.mean(inner**2)) == pytest.approx(0.1, rel=0.02)


@pytest.mark.parametrize("wavelength", [5.0, 8.3, 40.0])
@pytest.mark.parametrize("turn", [0.0, 0.004, -0.05, 0.17])
def test_turn_is_found(wavelength: float, turn: float) -> None:
    assert find_turn([Strips(wave(turn, wavelength), CENTRES)], 4.0, 6) == pytest.approx(turn, abs=1e-3)


def test_single_row_has_no_turn() -> None:
    assert find_turn([Strips(wave(0.1, 20.0)[:1], CENTRES[:1])], 4.0, 6) == 0.0


def test_columns_that_no_strip_covers_are_left_out() -> None:
    means = wave(0.0, 20.0)
    means[:, 800:] = np.nan
    means[3:, :100] = np.nan

    profile = straighten(Strips(means, CENTRES), 0.0)

    np.testing.assert_allclose(profile, wave(0.0, 20.0)[0, :800])
