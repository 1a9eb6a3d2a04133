"""Student's t, mean and scatter against the GUM and NIST's reference sets."""

from __future__ import annotations

import math

import numpy as np
import pytest

from generator.analysis.tinterval import (
    LEAST_SCATTER,
    find_half_width,
    find_mean,
    find_resolved_scatter,
    find_scatter,
    find_t_factor,
    find_welch,
)

# JCGM 100:2008, Table G.2: degrees of freedom, then t for 68.27, 90, 95, 95.45, 99 and 99.73 %
TABLE_G2 = [
    (1, 1.84, 6.31, 12.71, 13.97, 63.66, 235.78),
    (2, 1.32, 2.92, 4.30, 4.53, 9.92, 19.21),
    (3, 1.20, 2.35, 3.18, 3.31, 5.84, 9.22),
    (4, 1.14, 2.13, 2.78, 2.87, 4.60, 6.62),
    (5, 1.11, 2.02, 2.57, 2.65, 4.03, 5.51),
    (9, 1.06, 1.83, 2.26, 2.32, 3.25, 4.09),
    (10, 1.05, 1.81, 2.23, 2.28, 3.17, 3.96),
    (20, 1.03, 1.72, 2.09, 2.13, 2.85, 3.42),
    (math.inf, 1.000, 1.645, 1.960, 2.000, 2.576, 3.000),
]
SHARES = (0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973)


@pytest.mark.parametrize("row", TABLE_G2, ids=lambda row: str(row[0]))
def test_t_factors_of_the_gum(row: tuple[float, ...]) -> None:
    freedom, printed = row[0], row[1:]
    half_digit = 0.0005 if math.isinf(freedom) else 0.005

    for share, value in zip(SHARES, printed, strict=True):
        assert find_t_factor(freedom, share) == pytest.approx(value, abs=half_digit * 1.001)


def test_welch_satterthwaite_of_the_gum() -> None:
    # JCGM 100:2008, G.4.1: 0.25, 0.57, 0.82 % with 9, 4, 14 degrees of freedom; prints 1.03 % and 19.0
    uncertainty, freedom = find_welch([(0.25, 9), (0.57, 4), (0.82, 14)])

    assert uncertainty == pytest.approx(1.03, abs=0.005)
    assert freedom == pytest.approx(19.0, abs=0.05)
    assert find_t_factor(round(freedom)) == pytest.approx(2.09, abs=0.005)


def test_end_gauge_of_the_gum() -> None:
    # JCGM 100:2008, H.1: components in nm with their degrees of freedom; prints u(d) 9.7, 25.6, u_c 32 nm, nu 16
    comparison = find_welch([(5.8, 24), (3.9, 5), (6.7, 8)])
    combined = find_welch([(25, 18), comparison, (2.88679, 50), (16.599, 2)])

    assert comparison[0] == pytest.approx(9.7, abs=0.05)
    assert round(combined[0]) == 32
    assert int(combined[1]) == 16
    assert find_t_factor(16, 0.99) * combined[0] == pytest.approx(93, abs=0.7)


MAVRO = """
2.0018 2.0017 2.0018 2.0019 2.0018 2.0017 2.0015 2.0014 2.0015 2.0015 2.0017 2.0018 2.0018 2.0019 2.0019 2.0021 2.0020
2.0016 2.0014 2.0013 2.0013 2.0015 2.0015 2.0016 2.0015 2.0014 2.0013 2.0014 2.0015 2.0014 2.0015 2.0016 2.0015 2.0016
2.0019 2.0020 2.0020 2.0021 2.0022 2.0023 2.0024 2.0025 2.0027 2.0026 2.0026 2.0026 2.0027 2.0026 2.0025 2.0024
"""

# NIST Statistical Reference Datasets, univariate: values, certified mean, certified standard deviation, digits of it
STRD = [
    ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, 1e-14),
    ([1.2] + [1.1, 1.3] * 500, 1.2, 0.1, 1e-14),
    ([1000000.2] + [1000000.1, 1000000.3] * 500, 1000000.2, 0.1, 1e-8),
    ([10000000.2] + [10000000.1, 10000000.3] * 500, 10000000.2, 0.1, 1e-7),
    ([float(text) for text in MAVRO.split()], 2.00185600000000, 0.000429123454003053, 1e-11),
]


@pytest.mark.parametrize(("values", "mean", "scatter", "digits"), STRD, ids=["acc1", "acc2", "acc3", "acc4", "mavro"])
def test_mean_and_scatter_of_nist(values: list[float], mean: float, scatter: float, digits: float) -> None:
    assert find_mean(values) == pytest.approx(mean, rel=1e-15)
    assert find_scatter(values) == pytest.approx(scatter, rel=digits)


def test_no_scatter_of_one() -> None:
    assert find_scatter([3.0]) is None


def test_resolution_is_a_rectangle() -> None:
    assert find_resolved_scatter(0.0, 1.0) == pytest.approx(np.std(np.linspace(-0.5, 0.5, 100001)), rel=1e-4)
    assert find_resolved_scatter(2.0, 1.0) == 2.0


def test_half_width_and_its_floors() -> None:
    # by hand: t 4.3027 for two degrees of freedom; a scatter of 1 over the root of 3 runs
    assert find_half_width(1.0, 0.0, 3) == pytest.approx(4.3027 / math.sqrt(3), rel=1e-4)
    assert find_half_width(0.0, 1.0, 2) == pytest.approx(12.7062 * LEAST_SCATTER / math.sqrt(2), rel=1e-4)
    assert find_half_width(0.0, 1.0, 10) == 0.5
