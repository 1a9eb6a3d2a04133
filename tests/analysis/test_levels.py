"""Arithmetic of levels and the background correction."""

from __future__ import annotations

import numpy as np
import pytest

from generator.analysis.levels import (
    add_levels,
    correct_background,
    mean_level,
    power_to_level,
    power_uncertainty,
)


@pytest.mark.parametrize(
    ("levels", "total"),
    [
        # 10·lg Σ10^(L/10), computed by hand calculator rules; 85 + 87 + 89 is printed as 92 by ecologycenter.us
        ([60, 60], 63.0103),
        ([60, 50], 60.4139),
        ([63, 66], 67.7643),
        ([85, 87, 89], 92.0730),
        ([80] * 10, 90.0),
    ],
)
def test_sums(levels: list[float], total: float) -> None:
    assert float(add_levels(levels)) == pytest.approx(total, abs=5e-5)


@pytest.mark.parametrize(
    ("levels", "mean"), [([60, 70], 67.4036), ([50, 51, 52], 51.0764), ([62, 64, 60, 66], 63.5592)]
)
def test_energetic_means(levels: list[float], mean: float) -> None:
    assert mean_level(levels) == pytest.approx(mean, abs=5e-5)


def test_exact_levels_have_exact_corrections() -> None:
    assert correct_background([60.0, 64.0, 80.0], 55.0).uncertainty == pytest.approx([0.0, 0.0, 0.0])


def test_pascals() -> None:
    # 1 Pa rms is 93.9794 dB, a sine of 1 Pa peak 90.9691 dB (re 20 µPa, ISO 1683)
    assert float(power_to_level(1.0)) == pytest.approx(93.9794, abs=5e-5)
    assert float(power_to_level(0.5)) == pytest.approx(90.9691, abs=5e-5)
    assert float(power_to_level(0.0)) == -np.inf


# ISO 3744 K1 = −10·lg(1 − 10^(−0.1·ΔL)); 1.26 dB at 6 dB and 0.46 dB at 10 dB are named by ECMA TR/107 as the
# limits of the usual correction
K1 = [
    (3, 3.0206),
    (4, 2.2048),
    (5, 1.6509),
    (6, 1.2563),
    (7, 0.9665),
    (8, 0.7494),
    (9, 0.5844),
    (10, 0.4576),
    (12, 0.2830),
]


@pytest.mark.parametrize(("excess", "correction"), K1)
def test_background_corrections(excess: float, correction: float) -> None:
    found = correct_background(50.0 + excess, 50.0)

    assert 50.0 + excess - found.level[0] == pytest.approx(correction, abs=5e-5)
    assert found.grade == ("engineering" if excess >= 6 else "survey",)


def test_correction_takes_off_what_was_added() -> None:
    assert correct_background(93.0, 89.0).level[0] == pytest.approx(90.795, abs=5e-4)
    for excess in (4.0, 8.0, 14.0):
        assert float(add_levels([correct_background(40 + excess, 40.0).level[0], 40.0])) == pytest.approx(40 + excess)


def test_far_and_near_background() -> None:
    found = correct_background([65.0, 64.99, 52.9, 49.0], 50.0)

    np.testing.assert_allclose(found.level[[0, 2, 3]], [65.0, 49.9, 46.0])
    assert found.level[1] < 64.99
    assert found.grade == ("none needed", "engineering", "upper bound", "upper bound")


def test_uncertainty_grows_near_the_background() -> None:
    # first-order propagation against finite differences of the corrected level itself
    level, noise, u_level, u_noise = 56.0, 50.0, 0.3, 0.5
    step = 1e-5
    by_level = (correct_background(level + step, noise).level[0] - correct_background(level - step, noise).level[0]) / (
        2 * step
    )
    by_noise = (correct_background(level, noise + step).level[0] - correct_background(level, noise - step).level[0]) / (
        2 * step
    )

    found = correct_background(level, noise, u_level, u_noise).uncertainty[0]

    assert found == pytest.approx(np.hypot(by_level * u_level, by_noise * u_noise), rel=1e-6)


def test_power_uncertainty_matches_repeats() -> None:
    rng = np.random.default_rng(11)
    powers = rng.chisquare(40, size=(2000, 25)) / 40

    claimed = np.mean([power_uncertainty(row, 25) for row in powers[:200]])
    seen = np.std(10 * np.log10(powers.mean(axis=1)))

    assert claimed == pytest.approx(seen, rel=0.1)
    assert np.isnan(power_uncertainty(np.ones(2), 2))
