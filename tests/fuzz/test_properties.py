"""Any bytes, and any damage to a good file, give a result or problems, whichever reader gets them."""

from __future__ import annotations

import warnings

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from kept import make_seeds
from targets import TARGETS

EASY = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
PIECES = st.sampled_from(
    [b"", b"\x00", b"\xff\xfe", b"\n", b'"', b",", b"'", b"{", b"}]", b": ", b"- ", b"|", b"`", b"<", b"1e999", b"nan",
     "²".encode(), "\u202e".encode(), "\ue000".encode(), b"\xed\xa0\x80", b"&#xf0000;", b"9" * 30, b"\xff" * 4]
)  # fmt: skip


@st.composite
def damaged(draw: st.DrawFn, target: str) -> bytes:
    """A seed with up to four places cut out, doubled or overwritten."""
    content = draw(st.sampled_from(make_seeds(target)))
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(content)))
        stop = draw(st.integers(start, min(len(content), start + 40)))
        content = content[:start] + draw(PIECES) + content[start if draw(st.booleans()) else stop :]
    return content


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_damage_to_a_good_file_is_answered(target: str) -> None:
    @EASY
    @given(damaged(target))
    def answered(content: bytes) -> None:
        warnings.simplefilter("error")
        TARGETS[target](content)

    answered()


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_any_bytes_are_answered(target: str) -> None:
    @EASY
    @given(st.binary(max_size=300) | st.text(max_size=120).map(str.encode))
    def answered(content: bytes) -> None:
        warnings.simplefilter("error")
        TARGETS[target](content)

    answered()
