"""Quantities: what is read, what is refused, and how figures are written on pages."""

from __future__ import annotations

import math
import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from generator.units import (
    KINDS,
    QuantityError,
    find_display,
    format_number,
    format_quantity,
    format_share,
    format_span,
    format_stated,
    format_with_interval,
    parse_level,
    parse_quantity,
    parse_unit,
)

# Factors from scipy.constants (CODATA and NIST SP 811), composed here from its base factors.
OUNCE_FORCE = constants.oz * constants.g
POUND_FORCE = constants.lbf

AGAINST_SCIPY = [
    ("1 oz·in", "torque", OUNCE_FORCE * constants.inch),
    ("1 ozf·in", "torque", OUNCE_FORCE * constants.inch),
    ("65 oz-in", "torque", 65 * OUNCE_FORCE * constants.inch),
    ("1 lb·in", "torque", POUND_FORCE * constants.inch),
    ("1 lbf·ft", "torque", POUND_FORCE * constants.foot),
    ("1 kgf·cm", "torque", constants.kgf * constants.centi),
    ("1 gf·cm", "torque", constants.kgf * constants.milli * constants.centi),
    ("1 oz·in²", "inertia", constants.oz * constants.inch**2),
    ("1 lb·in²", "inertia", constants.lb * constants.inch**2),
    ("1 g", "acceleration", constants.g),
    ("1 in", "length", constants.inch),
    ("1 ft/s", "speed", constants.foot),
    ("1 lb", "mass", constants.lb),
    ("1 kgf", "force", constants.kgf),
    ("1.8 deg", "angle", 1.8 * constants.degree),
    ("60 degC", "temperature", constants.convert_temperature(60, "Celsius", "Kelvin")),
    ("10 min", "time", 10 * constants.minute),
]

# NIST SP 811 (2008), appendix B.8: factors for pound-force inch and others, as printed there; values from memory.
AGAINST_NIST = [
    ("1 ozf·in", "torque", 7.061552e-3),
    ("1 lbf·in", "torque", 1.129848e-1),
    ("1 kgf·m", "torque", 9.80665),
    ("1 lbf", "force", 4.448222),
    ("1 rpm", "frequency", 1 / 60),
]

PLAIN = [
    ("3.2 mH", "inductance", 3.2e-3),
    ("3.2mH", "inductance", 3.2e-3),
    ("1e-3 H", "inductance", 1e-3),
    ("+5 V", "voltage", 5.0),
    ("−5 N", "force", -5.0),
    (".5 m", "length", 0.5),
    ("5. m", "length", 5.0),
    ("0.46 N·m", "torque", 0.46),
    ("0.46 Nm", "torque", 0.46),
    ("0.46 N*m", "torque", 0.46),
    ("0.46 N m", "torque", 0.46),
    ("0.46 N.m", "torque", 0.46),
    ("46 Ncm", "torque", 0.46),
    ("46 N·cm", "torque", 0.46),
    ("18 mN·m", "torque", 0.018),
    ("18 mNm", "torque", 0.018),
    ("70 g·cm²", "inertia", 7e-6),
    ("70 gcm²", "inertia", 7e-6),
    ("70 g·cm^2", "inertia", 7e-6),
    ("70 g cm2", "inertia", 7e-6),
    ("31 m/s²", "acceleration", 31.0),
    ("31 m/s2", "acceleration", 31.0),
    ("31 m/s^2", "acceleration", 31.0),
    ("31 m/s**2", "acceleration", 31.0),
    ("31 m s-2", "acceleration", 31.0),
    ("31 m·s⁻²", "acceleration", 31.0),
    ("31 m/s/s", "acceleration", 31.0),
    ("500 mm/s", "speed", 0.5),
    ("6 m/min", "speed", 0.1),
    ("2000 m/s³", "jerk", 2000.0),
    ("4 N·s/m", "viscous friction", 4.0),
    ("4 N/(m/s)", "viscous friction", 4.0),
    ("1e-5 N·m·s", "rotary drag", 1e-5),
    ("1e-5 N·m·s/rad", "rotary drag", 1e-5),
    ("60 N/mm", "stiffness", 6e4),
    ("2200 uF", "capacitance", 2.2e-3),
    ("2200 µF", "capacitance", 2.2e-3),
    ("2200 μF", "capacitance", 2.2e-3),
    ("0.1 ohm", "resistance", 0.1),
    ("0.1 Ω", "resistance", 0.1),
    ("100 mohm", "resistance", 0.1),
    ("1.4 A", "current", 1.4),
    ("95 Hz", "frequency", 95.0),
    ("600 rpm", "frequency", 10.0),
    ("10 rev/s", "frequency", 10.0),
    ("40 mm/rev", "travel", 0.04),
    ("40 mm/turn", "travel", 0.04),
    ("40 mm", "travel", 0.04),
    ("22 degC", "temperature", 295.15),
    ("22 °C", "temperature", 295.15),
    ("295.15 K", "temperature", 295.15),
    ("5 K", "temperature difference", 5.0),
    ("5 degC", "temperature difference", 5.0),
    ("1.8°", "angle", math.radians(1.8)),
    ("95 %", "ratio", 0.95),
    ("0.95", "ratio", 0.95),
    ("5 %", "share", 0.05),
    ("24", "number", 24.0),
    ("94 dB", "level", 94.0),
    ("52.1 dB(A)", "level", 52.1),
    ("0.02 (m/s²)²/Hz", "acceleration density", 0.02),
    ("0.02 m²/s⁴/Hz", "acceleration density", 0.02),
    ("1013 hPa", "pressure", 101300.0),
]

TRAPS = [
    ("1,5 mH", "inductance", "decimal-comma"),
    ("1 000 mm", "length", "thousands-gap"),
    ("1\u202f000 mm", "length", "thousands-gap"),
    ("1'000 mm", "length", "thousands-gap"),
    ("1_000 mm", "length", "thousands-gap"),
    ("1,000 mm", "length", "decimal-comma"),
    ("2 mm × 20", "length", "times-sign"),
    ("2 mm x 20", "length", "times-sign"),
    ("2 mm * 20", "length", "times-sign"),
    ("2 × 20 mm", "length", "times-sign"),
    ("9**9**9 m", "length", "times-sign"),
    ("9^9 m", "length", "times-sign"),
    ("1 m**9**9**9", "length", "unit-exponent"),
    ("1 m^22", "length", "second-number"),
    ("5 ± 2 V", "voltage", "plus-minus"),
    ("5 +/- 2 V", "voltage", "plus-minus"),
    ("5 V +- 2 V", "voltage", "plus-minus"),
    ("3-5 V", "voltage", "second-number"),
    ("3 to 5 V", "voltage", "second-number"),
    ("3 A 4 V", "voltage", "second-number"),
    ("1:30", "time", "second-number"),
    ("1/2 m", "length", "second-number"),
    ("nan V", "voltage", "number-missing"),
    ("inf V", "voltage", "number-missing"),
    ("-inf V", "voltage", "number-missing"),
    ("V", "voltage", "number-missing"),
    ("", "voltage", "number-missing"),
    ("１２ V", "voltage", "number-missing"),
    ("~5 V", "voltage", "number-missing"),
    ("1e9999 V", "voltage", "number-exponent"),
    ("1e999 V", "voltage", "number-size"),
    ("1e-999 V", "voltage", "number-size"),
    ("1e13 V", "voltage", "number-size"),
    ("1e-19 V", "voltage", "number-size"),
    ("0x10 V", "voltage", "times-sign"),
    ("5", "voltage", "unit-missing"),
    ("5 ", "level", "unit-missing"),
    ("1.8 %", "angle", "unit-wrong"),
    ("1.8 m", "angle", "unit-wrong"),
    ("3.2 ohm", "inductance", "unit-wrong"),
    ("5 kg·cm", "torque", "unit-wrong"),
    ("22 C", "temperature", "unit-wrong"),
    ("22 degF", "temperature", "unit-wrong"),
    ("40 mm/rev", "length", "unit-wrong"),
    ("2 N·m/rev", "torque", "unit-wrong"),
    ("10 rad/s", "frequency", "unit-wrong"),
    ("5 mm", "ratio", "unit-wrong"),
    ("5", "share", "unit-missing"),
    ("52 dBA", "level", "unit-wrong"),
    ("3.2 MH", "inductance", "unit-unknown"),
    ("0.5 c", "speed", "unit-unknown"),
    ("1.4 Arms", "current", "unit-unknown"),
    ("24 VDC", "voltage", "unit-unknown"),
    ("5 V;import os", "voltage", "unit-unknown"),
    ("5 __import__('os')", "voltage", "unit-unknown"),
    ("5 mm /", "length", "unit-unknown"),
    ("5 /mm", "length", "unit-unknown"),
    ("5 mm//s", "speed", "unit-unknown"),
    ("5 ((mm)", "length", "unit-unknown"),
    ("5 ()mm", "length", "unit-unknown"),
    ("5 mm)", "length", "unit-unknown"),
    ("1 m·m·m·m·m·m·m", "length", "unit-long"),
    ("1 " + "m/" * 20 + "m", "length", "unit-long"),
    ("1." + "0" * 90 + " m", "length", "quantity-long"),
]


@pytest.mark.parametrize(("text", "kind", "expected"), AGAINST_SCIPY)
def test_factors_agree_with_scipy_constants(text: str, kind: str, expected: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("text", "kind", "expected"), AGAINST_NIST)
def test_factors_agree_with_the_printed_tables(text: str, kind: str, expected: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("text", "kind", "expected"), PLAIN)
def test_quantities_are_the_nearest_float_in_si(text: str, kind: str, expected: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(("text", "kind", "code"), TRAPS)
def test_traps_are_refused_with_a_fix(text: str, kind: str, code: str) -> None:
    with pytest.raises(QuantityError) as raised:
        parse_quantity(text, kind)

    assert raised.value.code == code, raised.value.message
    assert raised.value.fix


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_example_is_understood(kind: str) -> None:
    for example in KINDS[kind].example.split(" or "):
        assert math.isfinite(parse_quantity(example, kind))


def test_what_an_error_says_can_be_followed() -> None:
    with pytest.raises(QuantityError) as raised:
        parse_quantity("3.2 ohm", "inductance")

    assert raised.value.message == 'expected a unit of H, got "3.2 ohm"'
    assert raised.value.fix == "write it like 3.2 mH"


def test_a_decimal_comma_is_mended_by_its_own_fix() -> None:
    with pytest.raises(QuantityError) as raised:
        parse_quantity("1,5 mH", "inductance")

    assert parse_quantity(raised.value.fix.removeprefix("write "), "inductance") == 1.5e-3


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("1,000 mm", [1.0, 0.001]),
        ("-1,200 mm", [-1.2, -0.0012]),
        ("12,5 mm", [0.0125]),
        ("0,125 mm", [0.000125]),
        ("1234,567 mm", [1.234567]),
        ("1,0005 mm", [0.0010005]),
        ("1,000,000 mm", [1000.0]),
        ("1,234.5 mm", [1.2345]),
        ("1.234,5 mm", [1.2345]),
    ],
)
def test_a_comma_that_may_group_thousands_gets_both_readings(text: str, meant: list[float]) -> None:
    with pytest.raises(QuantityError) as raised:
        parse_quantity(text, "length")

    assert raised.value.code == "decimal-comma"
    offered = re.findall(r"-?[0-9.]+ mm", raised.value.fix)
    assert [parse_quantity(figure, "length") for figure in offered] == pytest.approx(meant, rel=1e-15)


def test_the_readings_of_a_comma_are_told_apart() -> None:
    with pytest.raises(QuantityError) as raised:
        parse_quantity("1,000 uF", "capacitance")

    assert raised.value.message == 'a comma inside the number "1,000 uF"'
    assert raised.value.fix == "write 1000 uF if the comma groups thousands, 1.000 uF if it is a decimal comma"


@pytest.mark.parametrize(
    ("text", "kind", "meant", "expected"),
    [
        ("2.6 kg·cm", "torque", "2.6 kgf·cm", 2.6 * constants.kgf * constants.centi),
        ("2.6 kg⋅cm", "torque", "2.6 kgf·cm", 2.6 * constants.kgf * constants.centi),
        ("2.6 kgcm", "torque", "2.6 kgf·cm", 2.6 * constants.kgf * constants.centi),
        ("260 g·cm", "torque", "260 gf·cm", 260 * constants.kgf * constants.milli * constants.centi),
        ("0.2 kg", "force", "0.2 kgf", 0.2 * constants.kgf),
    ],
)
def test_kilograms_of_weight_are_named_as_a_force(text: str, kind: str, meant: str, expected: float) -> None:
    with pytest.raises(QuantityError) as raised:
        parse_quantity(text, kind)

    assert raised.value.code == "unit-wrong"
    assert raised.value.fix.endswith(f": write {meant}")
    assert parse_quantity(meant, kind) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("text", ["2.6 kg", "2.6 kg·cm²", "3 V", "2.6 N"])
def test_what_is_no_weight_on_an_arm_gets_no_such_advice(text: str) -> None:
    with pytest.raises(QuantityError) as raised:
        parse_quantity(text, "torque")

    assert raised.value.fix == "write it like 0.46 N·m"


def test_levels_say_whether_they_are_weighted() -> None:
    assert parse_level("52.1 dB(A)") == (52.1, True)
    assert parse_level("94 dB") == (94.0, False)


def test_a_unit_alone_gives_its_factor() -> None:
    assert float(parse_unit("mm/s", "speed")) == 1e-3
    assert float(parse_unit("g", "acceleration")) == constants.g
    with pytest.raises(QuantityError):
        parse_unit("", "speed")


@given(st.text(max_size=100), st.sampled_from(sorted(KINDS)))
def test_any_text_gives_a_finite_number_or_an_error_with_a_fix(text: str, kind: str) -> None:
    try:
        assert math.isfinite(parse_quantity(text, kind))
    except QuantityError as error:
        assert error.code and error.message and error.fix


UNIT_CHARACTERS = st.text("mNgskAVHFK·/*^²³()- 0123456789.eradpturnoz%", max_size=50)


@given(st.floats(-1e6, 1e6).map(lambda x: f"{x:.6g}"), UNIT_CHARACTERS, st.sampled_from(sorted(KINDS)))
def test_any_unit_gives_a_finite_number_or_an_error(number: str, unit: str, kind: str) -> None:
    try:
        assert math.isfinite(parse_quantity(f"{number} {unit}", kind))
    except QuantityError as error:
        assert error.code and error.fix


SAME = [
    ("inertia", ("g·cm²", 1e-7), ("kg·m²", 1.0)),
    ("torque", ("mN·m", 1e-3), ("N·cm", 1e-2)),
    ("speed", ("mm/s", 1e-3), ("m/min", 1 / 60)),
    ("inductance", ("uH", 1e-6), ("mH", 1e-3)),
]


@given(st.floats(1e-3, 1e3), st.sampled_from(SAME))
def test_the_same_figure_in_another_unit_is_the_same(value: float, same: tuple) -> None:
    kind, *units = same

    first, second = (parse_quantity(f"{value / factor:.17g} {unit}", kind) for unit, factor in units)

    assert first == pytest.approx(second, rel=1e-14)
    assert first == pytest.approx(value, rel=1e-14)


def test_the_units_library_is_loaded_only_for_a_unit() -> None:
    code = "import sys, generator.units as u; u.format_quantity(1.0, 'm/s'); print('pint' in sys.modules)"

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (32.0, "m/s^2", "32.0 m/s²"),
        (0.5, "m/s", "500 mm/s"),
        (1.8166, "m/s", "1820 mm/s"),
        (7e-6, "kg·m^2", "70.0 g·cm²"),
        (3.2e-3, "H", "3.20 mH"),
        (0.46, "N·m", "0.460 N·m"),
        (0.28, "kg", "280 g"),
        (1.25, "kg", "1.25 kg"),
        (2.2e-3, "F", "2200 µF"),
        (6e4, "N/m", "60.0 N/mm"),
        (0.12, "m", "120 mm"),
        (1.2, "m", "1.20 m"),
        (0.002, "s", "2.00 ms"),
        (295.15, "K", "22.0 °C"),
        (math.radians(1.8), "rad", "1.80°"),
        (0.004647, "Wb", "4.65 mWb"),
        (52.14, "dB", "52.1 dB"),
        (0.0, "N", "0 N"),
        (-12.34, "N", "−12.3 N"),
        (9.996, "N", "10.0 N"),
        (0.95, "1", "0.950"),
        (1.0, "N·m·s/rad", "1.00 N·m·s/rad"),
        (math.inf, "m", "∞ m"),
        (-math.inf, "N", "−∞ N"),
        (math.nan, "m/s", "–"),
        (None, "m/s", "–"),
        (12.25, "N", "12.3 N"),
        (-1.005, "N", "−1.01 N"),
        (9.995, "N", "10.0 N"),
    ],
)
def test_figures_are_written_in_the_unit_that_people_read(value: float | None, unit: str, expected: str) -> None:
    assert format_quantity(value, unit) == expected


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (6e-3, "H", "6 mH"),
        (math.radians(1.8), "rad", "1.8°"),
        (0.02, "N·m", "0.02 N·m"),
        (36.0, "V", "36 V"),
        (1000.0, "N", "1000 N"),
        (295.15, "K", "22 °C"),
        (1.15, "m/s", "1150 mm/s"),
        (1.785, "m/s", "1785 mm/s"),
        (None, "m/s", "–"),
        (math.nan, "m/s", "–"),
        (math.inf, "m", "∞ m"),
    ],
)
def test_stated_figures_carry_no_zeros_that_nobody_wrote(value: float | None, unit: str, expected: str) -> None:
    assert format_stated(value, unit) == expected


@pytest.mark.parametrize(
    ("estimate", "half_width", "unit", "expected"),
    [
        (32.0, 1.2, "m/s^2", "32.0 ± 1.2 m/s²"),
        (32.456, 0.996, "m/s^2", "32.5 ± 1.0 m/s²"),
        (1.8166, 0.1234, "m/s", "1820 ± 120 mm/s"),
        (100.02147, 0.00035, "N", "100.02147 ± 0.00035 N"),
        (295.15, 2.0, "K", "22.0 ± 2.0 °C"),
        (-3.0, 0.25, "N", "−3.00 ± 0.25 N"),
    ],
)
def test_the_uncertainty_keeps_two_digits_and_the_estimate_ends_there(
    estimate: float, half_width: float, unit: str, expected: str
) -> None:
    # JCGM 100:2008, 7.2.2 and 7.2.6: m_s = 100.02147 g with u_c = 0.35 mg, at most two significant digits of u
    assert format_with_interval(estimate, estimate - half_width, estimate + half_width, unit) == expected


@pytest.mark.parametrize(
    ("figures", "unit", "expected"),
    [
        ((37.5, 36.6, 38.4), "m/s^2", "37.50 ± 0.90 m/s²"),
        ((37.5, 36.9, 40.5), "m/s^2", "37.5 (36.9 to 40.5) m/s²"),
        ((1.234, 1.06, 1.424), "m/s", "1230 (1060 to 1420) mm/s"),
        ((-12.2, -13.6945, -10.7055), "m/s^2", "−12.2 ± 1.5 m/s²"),
        ((32.0, None, 33.0), "m/s^2", "32.0 m/s²"),
        ((1.175, None, None), "m/s", "1180 mm/s"),
        ((1.4, 1.4, 1.4), "m/s", "1400 mm/s"),
        ((None, 31.0, 32.0), "m/s^2", "–"),
    ],
)
def test_intervals_are_written_by_their_shape(figures: tuple[float | None, ...], unit: str, expected: str) -> None:
    assert format_with_interval(*figures, unit) == expected


@pytest.mark.parametrize(
    ("figures", "unit", "expected"),
    [
        ((-0.125, -0.604931719, 0.402446202), "%", "−13 (−60 to 40) %"),  # a half goes away from zero
        ((60.5915687, 56.1938976, 82.0985942), "m/s^2", "61 (56 to 82) m/s²"),
        ((0.0359, -0.02, 0.0918), "m/s^2", "0.036 ± 0.056 m/s²"),
        ((0.003, -0.7, 0.69), "m/s^2", "0.00 ± 0.70 m/s²"),
        ((0.0, -1.8, 2.0), "Hz", "0.0 (−1.8 to 2.0) Hz"),
        ((12.125, 11.365, 12.885), "m/s^2", "12.13 ± 0.76 m/s²"),  # a half goes away from zero
        ((-12.125, -12.885, -11.365), "m/s^2", "−12.13 ± 0.76 m/s²"),
    ],
)
def test_figure_and_interval_end_where_two_digits_of_the_half_width_end(
    figures: tuple[float, ...], unit: str, expected: str
) -> None:
    assert format_with_interval(*figures, unit) == expected


@pytest.mark.parametrize(
    ("low", "high", "unit", "expected"),
    [
        (31.25, 74.0, "m/s^2", "31.3 to 74.0 m/s²"),
        (1.237, 2.237, "m/s", "1240 to 2240 mm/s"),
        (1.4138, 1.41421356, "m/s", "1410 mm/s"),
        (0.8, 1.2, "m", "0.800 to 1.20 m"),
        (-0.5, 0.5, "N", "−0.500 to 0.500 N"),
        (None, 1.0, "N", "–"),
    ],
)
def test_the_ends_of_a_span_are_written_as_each_alone(
    low: float | None, high: float | None, unit: str, expected: str
) -> None:
    assert format_span(low, high, unit) == expected


def test_a_span_of_stated_figures_keeps_their_digits() -> None:
    assert format_span(31.0, 32.0, "m/s^2", stated=True) == "31 to 32 m/s²"
    assert format_span(1.785, 1.8, "m/s", stated=True, bare=True) == "1785 to 1800"


def test_bare_figures_keep_to_the_unit_of_their_column() -> None:
    assert [format_quantity(length, "m", bare=True) for length in (0.5, 1.5)] == ["500", "1500"]
    assert format_quantity(1.5, "m") == "1.50 m"
    assert format_stated(1.5, "m", bare=True) == "1500"
    assert format_with_interval(1.5, 1.4, 1.6, "m", bare=True) == "1500 ± 100"
    assert format_share(0.4375, bare=True) == "44"


def test_plain_numbers_keep_their_digits_at_any_size() -> None:
    values = (0.0, 0.8036, 1.2e-9, -3.0e9, 9.999e-6, 1234567.0)

    assert [format_number(value, 2) for value in values] == [
        "0", "0.80", "1.2 × 10⁻⁹", "−3.0 × 10⁹", "1.0 × 10⁻⁵", "1200000",
    ]  # fmt: skip
    assert format_number(None) == "–"


def test_halves_of_a_per_cent_go_up() -> None:
    assert [format_share(share) for share in (0.714, 0.125, 0.145, None)] == ["71 %", "13 %", "15 %", "–"]


@given(st.floats(-1e12, 1e12), st.floats(0, 1e12), st.floats(0, 1e12))
def test_any_figures_can_be_written(value: float, below: float, above: float) -> None:
    text = format_with_interval(value, value - below, value + above, "m/s")

    assert re.fullmatch(r"[\d.,−±() to]+ mm/s", text)


def test_charts_take_the_same_unit_for_a_whole_axis() -> None:
    display = find_display("m/s")

    assert (display.text, display.factor, display.offset) == ("mm/s", 1e3, 0.0)
    assert find_display("J").text == "J"
