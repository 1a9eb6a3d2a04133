"""A two-phase hybrid stepping motor as a permanent-magnet synchronous machine: constants and pull-out torque.

Every function broadcasts over floats and arrays of draws. Owns no machine, no move and no uncertainty.
Assumed throughout: no saliency, no saturation, no iron loss in the current loop, an inductance that holds at small
signals (1 kHz), a detent torque that averages out while turning, and a drive that regulates current ideally.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.records.hardware import ROOM_TEMPERATURE, Drive, Motor, Supply, Value

COPPER_COEFFICIENT = 0.00393
"""Temperature coefficient of the resistance of copper at 20 °C [1/K] (IEC 60028)."""

SQUARE_WAVE_FACTOR = 4 / math.pi
"""Fundamental of a square wave over its peak [1]: what a saturated bridge gives beyond a sine."""

_CHUNK = 1 << 14  # elements: a dozen arrays of them stay inside a core's cache
_SMALL_VOLTAGE = 1e-12  # V: keeps the circle intersection finite at standstill, where another case decides


def flux_linkage(motor: Motor) -> Value:
    """Magnet flux linkage of one phase, λ = T_h/(√2·N_r·I_r) [Wb].

    The √2: with both phases at rated current the current vector is √2·I_r long.
    """
    return motor.holding_torque / (math.sqrt(2) * motor.rotor_teeth * motor.rated_current)


def torque_constant(motor: Motor) -> Value:
    """Torque per ampere of quadrature current, N_r·λ [N·m/A]; as many volts per rad/s of back-EMF."""
    return motor.rotor_teeth * flux_linkage(motor)


def static_torque(motor: Motor, current_peak: Value) -> Value:
    """Peak static torque T_0 = N_r·λ·Î [N·m] at a sine drive's peak current [A]."""
    return torque_constant(motor) * current_peak


def hot_resistance(motor: Motor) -> Value:
    """Phase resistance at the winding temperature, R_20·(1 + 0.00393·(T − 20 °C)) [ohm].

    Source: IEC 60028 (copper). Valid for: −50 to 150 °C.
    """
    return motor.resistance * (1 + COPPER_COEFFICIENT * (motor.winding_temperature - ROOM_TEMPERATURE))


def time_constant(motor: Motor) -> Value:
    """Electrical time constant L/R of the cold winding, as its sheet states it [s]."""
    return motor.inductance / motor.resistance


def torque_stiffness(motor: Motor, current_peak: Value) -> Value:
    """Slope of torque over shaft angle at rest, N_r·T_0 [N·m/rad]."""
    return motor.rotor_teeth * static_torque(motor, current_peak)


def natural_frequency(motor: Motor, current_peak: Value, inertia: Value, load_share: Value = 0.0) -> Value:
    """Frequency of small oscillations about the commanded position [Hz].

    Parameters
    ----------
    motor : Motor
    current_peak : float or array [A]
    inertia : float or array [kg·m²]
        All that turns with the shaft: rotor alone, or with the load reflected.
    load_share : float or array [1]
        Steady load torque over static torque; it softens the spring by (1 − p²)^½.

    Source: Acarnley, Stepping Motors, chapter 4; checked in tests/models/test_motor.py.
    """
    stiffness = torque_stiffness(motor, current_peak) * np.sqrt(1 - np.square(load_share))
    return np.sqrt(stiffness / inertia) / (2 * math.pi)


def back_emf(motor: Motor, speed_mech: Value) -> Value:
    """Amplitude of the voltage that a turning shaft induces in one phase, N_r·λ·ω_m [V]; speed_mech [rad/s]."""
    return torque_constant(motor) * np.abs(speed_mech)


def available_voltage(supply: Supply, drive: Drive) -> Value:
    """Peak phase voltage of the fundamental that the drive can make, k_v·(V_s − Î·R_s − V_drop) [V], not below 0.

    Assumes: one phase current through the source; several turning motors sag more.
    """
    left = supply.voltage - drive.current_peak * supply.source_resistance - drive.voltage_drop
    return drive.sine_factor * np.maximum(left, 0.0)


def pull_out_torque(motor: Motor, current_peak: Value, voltage: Value, speed_elec: Value) -> Any:
    """Largest torque that a steadily turning motor gives within its current and voltage limits.

    Maximises N_r·λ·i_q over the currents i = (i_d, i_q) with |i| ≤ Î and |(R + jωL)·i + jωλ| ≤ V: the highest point
    of the lens in which two discs overlap, in closed form. Braking pull-out is larger.

    Parameters
    ----------
    motor : Motor
    current_peak : float or array [A]
    voltage : float or array [V]
        Peak of the phase voltage's fundamental; 0 gives no torque.
    speed_elec : float or array [rad/s]
        Electrical speed, N_r times the shaft's.

    Returns
    -------
    float or array [N·m]
        Over the broadcast shape; 0 where the discs do not meet.

    Assumes: as the module says. Valid for: any speed from 0.
    Source: Acarnley, Stepping Motors, chapter 5, with the drive's current limit added; checked in
    tests/models/test_motor.py against a scan of the current plane and a machine-drive library.
    """
    parts = (hot_resistance(motor), motor.inductance, flux_linkage(motor), current_peak, voltage, speed_elec)
    arrays = [np.asarray(part, dtype=np.float64) for part in parts]
    shape = np.broadcast_shapes(*(array.shape for array in arrays))
    if len(shape) < 2 or math.prod(shape) <= _CHUNK:
        return motor.rotor_teeth * arrays[2] * _quadrature_current(*arrays)
    torque = np.empty(shape)
    rows = max(1, _CHUNK // math.prod(shape[1:]))
    for first in range(0, shape[0], rows):
        some = slice(first, first + rows)
        part = [_rows(array, some, len(shape)) for array in arrays]
        np.multiply(motor.rotor_teeth * part[2], _quadrature_current(*part), out=torque[some])
    return torque


def corner_speed(motor: Motor, current_peak: Value, voltage: Value) -> Any:
    """Electrical speed from which the voltage no longer drives the full current in quadrature [rad/s].

    Solves (R·Î + ω·λ)² + (ω·L·Î)² = V²; 0 where even the standing winding does not get its current.
    """
    resistance, flux = hot_resistance(motor), flux_linkage(motor)
    square = flux**2 + (motor.inductance * current_peak) ** 2
    half = resistance * current_peak * flux
    left = np.maximum(np.square(voltage) - np.square(resistance * current_peak), 0.0)
    return left / (half + np.sqrt(half**2 + square * left))


def _rows(array: NDArray[np.float64], some: slice, dimensions: int) -> NDArray[np.float64]:
    """The rows of an array that spans the leading dimension; the array itself where it broadcasts over it."""
    return array[some] if array.ndim == dimensions and array.shape[0] > 1 else array


def _quadrature_current(
    resistance: NDArray[np.float64],
    inductance: NDArray[np.float64],
    flux: NDArray[np.float64],
    current: NDArray[np.float64],
    voltage: NDArray[np.float64],
    speed: NDArray[np.float64],
) -> Any:
    """Largest i_q [A] in the overlap of the current disc (about 0) and the voltage disc (about c)."""
    # R resistance, X = ωL, Z impedance, E = ωλ back-EMF, I and V the limits; c = −E·(X, R)/Z², radius V/Z
    reactance = speed * inductance
    emf = speed * flux
    impedance = np.sqrt(reactance * reactance + resistance * resistance)
    full = np.square(emf + resistance * current) + np.square(reactance * current) <= voltage * voltage
    pull = emf / impedance
    top = (voltage - pull * resistance) / impedance
    inside = np.square(pull * reactance / impedance) + top * top <= current * current
    # the upper point where the circles cross: `along` from 0 towards c, then square to it
    radius = voltage / impedance
    along = (pull * pull + current * current - radius * radius) / (2 * np.maximum(pull, _SMALL_VOLTAGE / impedance))
    along = np.clip(along, -current, current)
    across = np.sqrt(current * current - along * along)
    crossing = (across * reactance - along * resistance) / impedance
    apart = pull > current + radius
    chosen = np.where(full, current, np.where(inside, top, np.where(apart, 0.0, crossing)))
    return np.maximum(chosen, 0.0)
