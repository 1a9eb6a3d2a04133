"""The censored normal fit against a published example and SciPy's own censored fit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import fmin
from scipy.stats import CensoredData, norm
from scipy.stats import t as student

from generator.analysis.censored import Bracket, fit_censored


def test_published_example() -> None:
    # SciPy 1.17.1, scipy/stats/tests/test_continuous_fit_censored.py, test_norm, values there from R's fitdistrplus
    pairs = [(0.10, 0.20), (0.50, 0.55), (0.75, 0.90), (0.80, 0.95)]

    fit = fit_censored([Bracket(low, high) for low, high in pairs])

    assert fit.mean == pytest.approx(0.5919990, abs=5e-7)
    assert fit.scatter == pytest.approx(0.2868042, abs=5e-7)


def fit_of_scipy(brackets: list[Bracket]) -> tuple[float, float]:
    """Mean and scatter by SciPy's general fit, with its optimiser's tolerance tightened."""
    closed = [(b.held, b.lost) for b in brackets if b.finite]
    data = CensoredData(
        interval=closed,
        right=[b.held for b in brackets if b.lost is None],
        left=[b.lost for b in brackets if b.held is None],
    )

    def tight(function: object, start: object, args: object = (), disp: int = 0) -> object:
        return fmin(function, start, args=args, disp=disp, xtol=1e-11, ftol=1e-11, maxiter=4000, maxfun=4000)

    mean, scatter = norm.fit(data, optimizer=tight)
    return float(mean), float(scatter)


OPEN_ENDS = [
    [Bracket(31, 32), Bracket(33, 34), Bracket(32, 33), Bracket(30, 31), Bracket(34, None)],
    [Bracket(31, 32), Bracket(33, 34), Bracket(32, 33), Bracket(30, 31), Bracket(34, None), Bracket(34, None)],
    [Bracket(1.1, 1.15), Bracket(1.2, 1.25), Bracket(1.3, 1.35), Bracket(1.2, 1.25), Bracket(None, 1.1)],
    [Bracket(10, 12), Bracket(14, 16), Bracket(18, 20), Bracket(12, 14), Bracket(None, 10), Bracket(20, None)],
]


@pytest.mark.parametrize("brackets", OPEN_ENDS, ids=range(len(OPEN_ENDS)))
def test_open_ends_as_scipy(brackets: list[Bracket]) -> None:
    fit = fit_censored(brackets)

    mean, scatter = fit_of_scipy(brackets)
    assert fit.mean == pytest.approx(mean, rel=1e-5)
    assert fit.scatter == pytest.approx(scatter, rel=1e-4)
    assert fit.low < fit.mean < fit.high


def test_fine_closed_brackets_give_the_t_interval() -> None:
    # the threshold of the likelihood is chosen so that it is Student's interval where nothing is censored
    values = np.array([31.2, 33.1, 32.4, 30.8, 31.9])
    fit = fit_censored([Bracket(value - 5e-5, value + 5e-5) for value in values.tolist()])

    low, high = student.interval(0.95, 4, values.mean(), values.std(ddof=1) / np.sqrt(5))
    assert fit.mean == pytest.approx(values.mean(), rel=1e-6)
    assert fit.scatter == pytest.approx(values.std(), rel=1e-5)
    assert (fit.low, fit.high) == pytest.approx((low, high), rel=1e-6)


def test_mirrored_brackets_mirror_the_fit() -> None:
    brackets = OPEN_ENDS[1]
    mirrored = [Bracket(None if b.lost is None else -b.lost, None if b.held is None else -b.held) for b in brackets]

    fit, mirror = fit_censored(brackets), fit_censored(mirrored)

    assert mirror.mean == pytest.approx(-fit.mean, rel=1e-7)
    assert (mirror.low, mirror.high) == pytest.approx((-fit.high, -fit.low), rel=1e-6)
