"""The root finder, against functions whose roots are known and against a library's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from generator.models.roots import find_falling_root


def counted(function):
    """The function, and a list that grows with every call."""
    calls = []

    def wrapped(x):
        calls.append(1)
        return function(x)

    return wrapped, calls


def test_many_roots_at_once():
    target = np.linspace(1.01, 7.99, 500)
    function, calls = counted(lambda x: target**3 - x**3)
    found = find_falling_root(function, np.ones(500), np.full(500, 8.0))
    assert found == pytest.approx(target, rel=2e-13)
    assert len(calls) < 30  # halving alone takes 48


def test_against_a_library_on_kinked_functions():
    def one(x, knee):
        return np.minimum(3.0, knee / x) - 0.1 * x

    knees = np.linspace(0.2, 20.0, 40)
    found = find_falling_root(lambda x: one(x, knees), np.full(40, 0.5), np.full(40, 40.0))
    expected = [brentq(one, 0.5, 40.0, args=(knee,), xtol=1e-14, rtol=1e-14) for knee in knees]
    assert found == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("shape", [(), (3,), (3, 1)])
def test_a_jump_costs_few_steps_more_than_halving(shape):
    function, calls = counted(lambda x: np.where(x <= 1.7, 1e-9, -1e6))
    found = find_falling_root(function, np.ones(shape), np.full(shape, 2.0))
    assert np.shape(found) == shape
    assert np.all(np.abs(found - 1.7) <= 2e-13)
    assert len(calls) <= 43 + 8 + 3  # halving, slack, both ends and the last step


def test_root_at_the_lower_end():
    assert find_falling_root(lambda x: 1.0 - x, np.array(1.0), np.array(2.0)) == pytest.approx(1.0, abs=1e-12)
