"""Owns natural frequencies: the carriage on its belts, the rotors on their torque stiffness, both coupled.

Belt displacement q of the motors and axis positions x share the energy
½ẋᵀMẋ + ½q̇ᵀdiag(J/ρ²)q̇ + ½(Kx − q)ᵀdiag(k_b)(Kx − q) + ½qᵀdiag(k_m)q with k_m = N_r·T_0/ρ² at the current in force.
Every figure may be a float or an array of draws. Knows nothing of how a peak was measured.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.models.machine import shaft_inertia, shaft_radius
from generator.models.motor import natural_frequency, torque_stiffness
from generator.records.hardware import Setup, Value
from generator.records.simulation import Resonance

SENSITIVE = 5.0
"""Relative change of a solved stiffness over that of its peak from which the page warns."""

_HALVINGS = 80
_STIFFNESS_RANGE = (1e-3, 1e15)


def natural_frequencies(setup: Setup, axis: str, current: Value | None = None, detent: Value = 0.0) -> Any:
    """Both natural frequencies of an axis, ascending [Hz].

    Parameters
    ----------
    setup : Setup
        With a stiffness for every belt; figures may be draws of one common shape.
    axis : str
        Name of the axis.
    current : float, array or None
        In force while the peak is seen [A, peak]; None for the drive's.
    detent : float or array
        Where the rotor stands on its detent torque, −1 … 1 [1]: adds detent·4·N_r·T_d to the torque stiffness.

    Returns
    -------
    array (…, 2) [Hz]
        The two modes in which this axis takes the largest share; with equal motors they are the axis alone.

    Assumes: small amplitudes, no damping, belts as springs without mass.
    Source: Lagrange's equations; two-mass systems as in Inman, Engineering Vibration, section 4.1.
    Checked in tests/models/test_resonance.py.
    """
    squares, shapes = _solve_modes(*_matrices(setup, current, detent))
    motors = len(setup.motors)
    carriage = np.square(shapes[..., motors:, :])
    share = carriage[..., setup.axes.index(axis), :] / np.maximum(carriage.sum(axis=-2), 1e-300)
    best = np.sort(np.argsort(share, axis=-1, kind="stable")[..., -2:], axis=-1)
    chosen = np.take_along_axis(squares, best, axis=-1)
    return np.sqrt(np.maximum(chosen, 0.0)) / math.tau


def rotor_clamped_frequency(setup: Setup, axis: str) -> Any:
    """Carriage on its belts with the rotors held [Hz], √(Σ K_ij²·k_b,i/m_j)/2π: an upper bound of the lower mode.

    Assumes: the other axes stand still. Checked in tests/models/test_resonance.py.
    """
    column = setup.axes.index(axis)
    parts = zip(setup.motor_map, setup.counts, setup.transmissions, strict=True)
    stiffness = sum(row[column] ** 2 * count * _stiffness_of(t.belt_stiffness) for row, count, t in parts)
    return np.sqrt(stiffness / setup.moving_mass[column]) / math.tau


def solve_belt_stiffness(
    setup: Setup, axis: str, frequency: Value, current: Value | None = None, detent: Value = 0.0
) -> Any:
    """Belt stiffness with which one natural frequency of an axis meets a measured peak [N/m].

    Parameters
    ----------
    setup : Setup
        Its own belt stiffness is not used; figures may be draws of one common shape.
    axis : str
        Name of the axis.
    frequency : float or array
        Measured peak [Hz].
    current, detent
        As in ``natural_frequencies``.

    Returns
    -------
    float or array [N/m]
        NaN where no belt stiffness explains the peak: between the lower mode of an endless stiff belt and the upper
        mode of an endless soft one. With equal motors k = m·w(k_m − μ·w)/(k_m − (μ + m)·w)/K_j, w = (2πf)²; else
        found by halving, as both modes rise with the stiffness.

    Assumes: equal belts. Checked in tests/models/test_resonance.py against the eigenproblem.
    """
    if _motors_are_equal(setup):
        return _stiffness_equal(setup, axis, frequency, current, detent)
    return _stiffness_by_halving(setup, axis, frequency, current, detent)


def stiffness_sensitivity(setup: Setup, axis: str, frequency: float, current: float | None = None) -> float:
    """Relative change of the solved stiffness over that of the measured peak, (dk/k)/(df/f) [1]; frequency [Hz]."""
    step = 1e-5
    lower, upper = (
        float(solve_belt_stiffness(setup, axis, frequency * math.exp(sign * step), current)) for sign in (-1, 1)
    )
    return abs(math.log(upper / lower)) / (2 * step) if lower > 0 and upper > 0 else math.inf


def with_belt_stiffness(setup: Setup, stiffness: Value) -> Setup:
    """The set-up with one stiffness [N/m] for all its belts."""
    belts = tuple(dataclasses.replace(t, belt_stiffness=stiffness) for t in setup.transmissions)
    return dataclasses.replace(setup, transmissions=belts)


def predict_resonance(
    setup: Setup, axis: str, current: float | None = None, measured: float | None = None
) -> Resonance:
    """Natural frequencies of an axis at nominal figures, from the belt stiffness given or solved from a peak.

    Parameters
    ----------
    setup : Setup
        At its nominal values.
    axis : str
        Name of the axis.
    current : float or None
        In force while the peak is seen [A, peak]; None for the drive's.
    measured : float or None
        Measured peak [Hz]; where given, the stiffness is solved from it and the set-up's own is checked by it.

    Returns
    -------
    Resonance
        With a message where the stiffness given contradicts the peak, no stiffness explains it, or the solved one
        hangs on it too much. Checked in tests/models/test_resonance.py.
    """
    in_force = float(setup.drive.current_peak if current is None else current)
    alone = tuple(
        float(natural_frequency(motor, in_force, shaft_inertia(setup, number)))
        for number, motor in enumerate(setup.motors)
    )
    bare = Resonance(axis, setup.candidate, in_force, alone)
    if measured is not None:
        return _resonance_from_peak(setup, bare, measured)
    if any(t.belt_stiffness is None for t in setup.transmissions):
        return dataclasses.replace(bare, message="No belt stiffness is given and none was solved from a peak.")
    return _filled(bare, setup)


def predict_by_stiffness(
    setup: Setup, axis: str, current: float | None, peak: Resonance | None
) -> tuple[Resonance, str | None]:
    """Natural frequencies of an axis from its stated belt stiffness, else from that which a measured peak asks for.

    Parameters
    ----------
    setup, axis, current
        As in ``predict_resonance``.
    peak : Resonance or None
        Of a candidate on the same belts, with the stiffness solved from its peak.

    Returns
    -------
    tuple
        The resonance, and where its stiffness comes from: ``stated``, ``peak``, or None where there is none.
    """
    found = predict_resonance(setup, axis, current)
    if found.frequencies is not None:
        return found, "stated"
    if peak is None or peak.belt_stiffness is None:
        return found, None
    found = predict_resonance(with_belt_stiffness(setup, peak.belt_stiffness), axis, current)
    return found, "peak" if found.frequencies else None


def predict_shift(
    reference: Setup,
    other: Setup,
    axis: str,
    frequency: Value,
    currents: tuple[Value | None, Value | None] = (None, None),
    detents: tuple[Value, Value] = (0.0, 0.0),
) -> Any:
    """Shift of an axis' peak from one candidate to another that hangs on the same belts [Hz].

    Parameters
    ----------
    reference, other : Setup
        Nominal, or draws of one common shape that share what the candidates share.
    axis : str
        Name of the axis.
    frequency : float or array
        Peak measured on the reference [Hz].
    currents, detents : pair
        Of the reference and the other, as in ``natural_frequencies``.

    Returns
    -------
    float or array [Hz]
        Other minus reference on the mode that the peak belongs to; NaN where no belt stiffness explains the peak.

    Checked in tests/models/test_resonance.py.
    """
    stiffness = np.asarray(solve_belt_stiffness(reference, axis, frequency, currents[0], detents[0]))
    solved = np.where(np.isnan(stiffness), 1.0, stiffness)
    known = natural_frequencies(with_belt_stiffness(reference, solved), axis, currents[0], detents[0])
    moved = natural_frequencies(with_belt_stiffness(other, solved), axis, currents[1], detents[1])
    known, moved = np.broadcast_arrays(known, moved)
    mode = np.argmin(np.abs(known - np.asarray(frequency)[..., None]), axis=-1)[..., None]
    shift = np.take_along_axis(moved, mode, axis=-1)[..., 0] - frequency
    return np.where(np.isnan(stiffness), np.nan, shift)


def _resonance_from_peak(setup: Setup, bare: Resonance, measured: float) -> Resonance:
    """The resonance with its stiffness solved from a measured peak [Hz]."""
    stiffness = float(solve_belt_stiffness(setup, bare.axis, measured, bare.current))
    if math.isnan(stiffness):
        return dataclasses.replace(bare, message=f"No belt stiffness explains a peak at {measured:.4g} Hz.")
    sensitivity = stiffness_sensitivity(setup, bare.axis, measured, bare.current)
    message = None
    if sensitivity > SENSITIVE:
        message = f"1 % in the peak moves the belt stiffness by {sensitivity:.2g} %: too sensitive to rely on."
    given = [float(t.belt_stiffness) for t in setup.transmissions if t.belt_stiffness is not None]
    if given and not all(0.5 < value / stiffness < 2 for value in given):
        message = f"The belt stiffness given contradicts the peak, which asks for {stiffness / 1000:.4g} N/mm."
    solved = _filled(bare, with_belt_stiffness(setup, stiffness))
    return dataclasses.replace(solved, sensitivity=sensitivity, message=message)


def _filled(bare: Resonance, setup: Setup) -> Resonance:
    """A resonance with the frequencies of a set-up whose belts are known."""
    lower, upper = natural_frequencies(setup, bare.axis, bare.current).tolist()
    return dataclasses.replace(
        bare,
        frequencies=(lower, upper),
        rotor_clamped=float(rotor_clamped_frequency(setup, bare.axis)),
        belt_stiffness=float(_stiffness_of(setup.transmissions[0].belt_stiffness)),
    )


def _stiffness_of(stiffness: Value | None) -> Value:
    """A belt's stiffness, which must be known here."""
    if stiffness is None:
        raise ValueError("natural frequencies need the stiffness of every belt")
    return stiffness


def _motor_ends(setup: Setup, current: Value | None, detent: Value) -> list[tuple[Value, Value]]:
    """Mass [kg] and stiffness [N/m] of each motor, seen from its belt."""
    in_force = setup.drive.current_peak if current is None else current
    ends = []
    for number, (motor, transmission) in enumerate(zip(setup.motors, setup.transmissions, strict=True)):
        square = shaft_radius(transmission) ** 2 / setup.counts[number]
        stiffness = torque_stiffness(motor, in_force) + detent * 4 * motor.rotor_teeth * motor.detent_torque
        ends.append((shaft_inertia(setup, number) / square, stiffness / square))
    return ends


def _matrices(setup: Setup, current: Value | None, detent: Value) -> tuple[NDArray[Any], NDArray[Any]]:
    """Masses (…, 2n) and stiffness matrix (…, 2n, 2n), motors first, over the common shape of the draws."""
    ends = _motor_ends(setup, current, detent)
    belts = [
        count * _stiffness_of(t.belt_stiffness) for count, t in zip(setup.counts, setup.transmissions, strict=True)
    ]
    masses = np.stack(np.broadcast_arrays(*(mass for mass, _ in ends), *setup.moving_mass), axis=-1)
    springs = np.stack(np.broadcast_arrays(*(stiffness for _, stiffness in ends)), axis=-1)
    belt = np.stack(np.broadcast_arrays(*belts), axis=-1)
    motors = len(ends)
    stretch = np.hstack((-np.eye(motors), np.array(setup.motor_map, dtype=np.float64)))
    shape = np.broadcast_shapes(masses.shape[:-1], springs.shape[:-1], belt.shape[:-1])
    stiffness = np.zeros((*shape, *(masses.shape[-1],) * 2))
    stiffness += np.einsum("ij,...i,ik->...jk", stretch, belt, stretch)
    diagonal = np.arange(motors)
    stiffness[..., diagonal, diagonal] += springs
    return np.broadcast_to(masses, (*shape, masses.shape[-1])), stiffness


def _solve_modes(masses: NDArray[Any], stiffness: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:
    """Squared angular frequencies (…, modes), ascending, and mode shapes weighted by the roots of the masses."""
    root = np.sqrt(masses)
    return np.linalg.eigh(stiffness / root[..., :, None] / root[..., None, :])


def _motors_are_equal(setup: Setup) -> bool:
    """Whether all motors, counts and transmissions are the same apart from their belts' stiffness."""

    def figures(number: int) -> list[Any]:
        ends = (setup.motors[number], setup.transmissions[number])
        known = [value for end in ends for name, value in vars(end).items() if name != "belt_stiffness"]
        return [*known, setup.counts[number]]

    first = figures(0)
    others = (figures(number) for number in range(1, len(setup.motors)))
    return _is_orthogonal(setup) and all(
        np.array_equal(one, two) for other in others for one, two in zip(first, other, strict=True)
    )


def _is_orthogonal(setup: Setup) -> bool:
    """Whether the axes do not meet in the belts: the columns of the motor map are at right angles."""
    motor_map = np.array(setup.motor_map, dtype=np.float64)
    square = motor_map.T @ motor_map
    return bool(np.allclose(square, np.diag(np.diag(square)), atol=1e-12))


def _stiffness_equal(setup: Setup, axis: str, frequency: Value, current: Value | None, detent: Value) -> Any:
    """The stiffness in closed form, for equal motors."""
    column = setup.axes.index(axis)
    share = sum(row[column] ** 2 for row in setup.motor_map)
    end_mass, end_stiffness = (share * value for value in _motor_ends(setup, current, detent)[0])
    carriage, square = setup.moving_mass[column], np.square(math.tau * np.asarray(frequency))
    left = end_stiffness - (end_mass + carriage) * square
    stiffness = carriage * square * (end_stiffness - end_mass * square) / np.where(left == 0, np.nan, left)
    return np.where(stiffness > 0, stiffness / share / setup.counts[0], np.nan)[()]


def _stiffness_by_halving(setup: Setup, axis: str, frequency: Value, current: Value | None, detent: Value) -> Any:
    """The stiffness by halving on a logarithmic scale, for any machine."""

    def modes(stiffness: NDArray[Any]) -> NDArray[Any]:
        return np.asarray(natural_frequencies(with_belt_stiffness(setup, stiffness), axis, current, detent))

    low, high = (np.log(np.broadcast_to(end, np.shape(frequency))) for end in _STIFFNESS_RANGE)
    softest, stiffest = modes(np.exp(low)), modes(np.exp(high))
    shape = np.broadcast_shapes(softest.shape[:-1], np.shape(frequency))
    target = np.broadcast_to(frequency, shape)
    lower, upper = target < stiffest[..., 0], target > softest[..., 1]
    mode = np.where(lower, 0, 1)[..., None]
    low, high = np.broadcast_to(low, shape), np.broadcast_to(high, shape)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        below = np.take_along_axis(modes(np.exp(middle)), mode, axis=-1)[..., 0] < target
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.where(lower | upper, np.exp((low + high) / 2), np.nan)[()]
