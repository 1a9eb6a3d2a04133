"""The notation of equations: structure after MathML Core (W3C), read back with a general XML parser."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from generator.pages.mathml import MathError, equation, math


def outline(source: str) -> str:
    """Element names and texts of an equation, nested."""

    def walk(node: ElementTree.Element) -> str:
        inside = " ".join(walk(child) for child in node)
        return f"{node.tag}({inside or node.text or ''})"

    return walk(ElementTree.fromstring(str(math(source))))


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("T_0 = 2", "math(msub(mi(T) mn(0)) mo(=) mn(2))"),
        ("x_i^2", "math(msubsup(mi(x) mi(i) mn(2)))"),
        ("x^2_i", "math(msubsup(mi(x) mi(i) mn(2)))"),
        ("frac{a}{b}", "math(mfrac(mrow(mi(a)) mrow(mi(b))))"),
        ("sqrt{2}", "math(msqrt(mrow(mn(2))))"),
        ("sin δ", "math(mi(sin) mi(δ))"),
        ("a b", "math(mi(a) mi(b))"),
        ("0.7246", "math(mn(0.7246))"),
        ("-1", "math(mo(−) mn(1))"),
        ("(a)", "math(mrow(mo(() mrow(mi(a)) mo())))"),
        ("Σ_i x", "math(munder(mo(∑) mi(i)) mi(x))"),
        ("bold{K}", "math(mi(𝐊))"),
        ("bold{ω}", "math(mi(𝛚))"),
        ("binom{n}{k}", "math(mrow(mo(() mfrac(mrow(mi(n)) mrow(mi(k))) mo())))"),
        ("text{so it is}", "math(mtext(so\u00a0it\u00a0is))"),
        ("a < b", "math(mi(a) mo(<) mi(b))"),
    ],
)
def test_notation_becomes_presentational_elements(source: str, expected: str) -> None:
    assert outline(source) == expected


@pytest.mark.parametrize("source", ["frac{a}", "(a", "{a", "a_", "a)}"])
def test_a_broken_equation_is_an_error(source: str) -> None:
    with pytest.raises(MathError):
        equation(source)


def test_an_equation_of_its_own_can_be_scrolled_by_keyboard() -> None:
    root = ElementTree.fromstring(str(equation("a = b")))

    assert root.get("tabindex") == "0"
    assert root.get("role") == "group"
    assert root.find("math") is not None
