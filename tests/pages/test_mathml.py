"""The notation of equations: structure after MathML Core (W3C), read back with a general XML parser."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from generator.pages.mathml import MathError, equation, math

TEMPLATES = Path(__file__).parents[2] / "templates" / "methods"


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


def test_equations_on_one_line_stand_apart_so_that_they_can_wrap() -> None:
    root = ElementTree.fromstring(str(equation("a = b quad c = d")))

    assert ["".join(part.itertext()) for part in root.findall("math")] == ["a=b", "c=d"]


@pytest.mark.parametrize("path", sorted(TEMPLATES.glob("*.html")), ids=lambda path: path.stem)
def test_no_built_up_fraction_stands_in_a_root_or_a_bracket(path: Path) -> None:
    # without a font for mathematics neither grows with what it holds; a binomial has brackets and no bar
    for source in re.findall(r'equation\("([^"]*)"\)', path.read_text(encoding="utf-8")):
        root = ElementTree.fromstring(str(equation(source)))
        holders = [row for row in root.iter("mrow") if len(row) and row[0].text in ("(", "[", "|")]
        inside = [part for holder in (*holders, *root.iter("msqrt")) for part in holder.iter("mfrac")]
        assert all(part.get("linethickness") == "0" for part in inside), source
