"""Rounding and the one byte form: laws that hold for every value."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.evaluation.numbers import canonical_bytes, digest, drop_noise, round_figure, to_json

FINITE = st.floats(allow_nan=False, allow_infinity=False)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(FINITE)
def test_nine_significant_digits_as_decimal_arithmetic_rounds(number: float) -> None:
    rounded = round_figure(number)
    exact = Decimal(number).normalize(Context(prec=9, rounding=ROUND_HALF_EVEN))

    assert rounded == float(exact)
    assert round_figure(float(exact)) == rounded


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_nothing(number: float) -> None:
    assert round_figure(number) is None
    assert to_json({"a": [number, np.float64(number)]}) == {"a": [None, None]}


def test_there_is_one_zero() -> None:
    assert str(round_figure(-0.0)) == "0.0"


@pytest.mark.parametrize(
    ("difference", "size", "kept"),
    [(1e-14, 92.6, 0.0), (-1e-14, 92.6, 0.0), (1e-7, 92.6, 1e-7), (0.0, 0.0, 0.0), (1e-12, 0.0, 1e-12)],
)
def test_rounding_noise_is_dropped(difference: float, size: float, kept: float) -> None:
    assert drop_noise(difference, size) == kept


@dataclass(frozen=True)
class Pair:
    """A record in a record."""

    name: str
    parts: tuple[float, ...]


def test_records_and_arrays_become_plain_values() -> None:
    thing = {1: Pair("a", (1 / 3, 2.0)), "b": np.array([[1, 2], [3, 4]]), "c": np.bool_(True), "d": np.int8(-3)}

    assert to_json(thing) == {
        "1": {"name": "a", "parts": [0.333333333, 2.0]}, "b": [[1, 2], [3, 4]], "c": True, "d": -3,
    }  # fmt: skip
    assert type(to_json(thing)["c"]) is bool and type(to_json(thing)["d"]) is int


@given(VALUES)
def test_the_byte_form_is_read_back_and_repeats(value: object) -> None:
    text = canonical_bytes(value)

    assert json.loads(text) == to_json(value)
    assert canonical_bytes(json.loads(text)) == text


@given(st.dictionaries(st.text(), st.integers(), min_size=2, max_size=6))
def test_order_of_keys_does_not_matter(mapping: dict[str, int]) -> None:
    assert canonical_bytes(dict(reversed(mapping.items()))) == canonical_bytes(mapping)


def test_the_byte_form_is_compact_utf8() -> None:
    assert canonical_bytes({"b": "µ", "a": 1.0}) == '{"a":1.0,"b":"µ"}'.encode()
    assert digest([1]) == hashlib.sha256(b"[1]").hexdigest()
