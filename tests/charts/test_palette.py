"""The palette against published formulas: contrast by WCAG 2.2, distances under simulated colour-vision deficiency."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
from numpy.typing import NDArray

from generator.charts.palette import (
    CANDIDATE_SLOTS,
    CARD,
    MARKER_CORNERS,
    MUTED,
    PAGE,
    SLOTS,
    TONES,
    Slot,
    Style,
    assign_styles,
    css_properties,
    render_swatch,
    style_of,
)

# Machado, Oliveira & Fernandes, IEEE TVCG 15 (2009) 1291, severity 1.0, for linear RGB. Values from memory.
MATRICES = {
    "normal": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
THEMES = ("light", "dark")


def linear(color: str) -> NDArray[np.float64]:
    """sRGB hex to linear RGB (IEC 61966-2-1)."""
    values = np.array([int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, relative luminance and contrast ratio; formula from memory)."""
    light, dark = sorted((float(linear(color) @ [0.2126, 0.7152, 0.0722]) for color in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lab(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear sRGB to CIE L*a*b* with the D65 white (CIE 15)."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = to_xyz @ np.clip(rgb, 0, 1) / to_xyz.sum(axis=1)
    root = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def test_contrast_formula_gives_the_known_ratios() -> None:
    # The guideline's own extremes, and the grey that just misses 4.5:1 on white (values from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("slot", [*SLOTS, MUTED], ids=lambda slot: slot.name)
@pytest.mark.parametrize("ground", [PAGE, CARD], ids=lambda slot: slot.name)
def test_text_colours_reach_the_contrast_of_level_aa(slot: Slot, ground: Slot, theme: str) -> None:
    assert contrast(getattr(slot, theme), getattr(ground, theme)) >= 4.5


def test_deficiency_matrices_keep_white_white() -> None:
    for matrix in MATRICES.values():
        assert matrix.sum(axis=1) == pytest.approx([1, 1, 1], abs=2e-6)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("vision", MATRICES)
def test_candidate_colours_stay_apart(vision: str, theme: str) -> None:
    # ΔE*ab of 2.3 is just noticeable (Mahy, Van Eycken & Oosterlinck 1994, value from memory): at least six times that.
    seen = {slot.name: lab(MATRICES[vision] @ linear(getattr(slot, theme))) for slot in CANDIDATE_SLOTS}
    distances = {pair: float(np.linalg.norm(seen[pair[0]] - seen[pair[1]])) for pair in combinations(seen, 2)}
    assert min(distances.values()) >= 6 * 2.3, distances


def test_the_first_four_take_the_four_slots_in_file_order() -> None:
    styles = assign_styles(["d", "c", "b", "a"])

    assert [styles[key].slot for key in "dcba"] == ["iris", "moss", "lagoon", "mulberry"]
    assert [styles[key].dash for key in "dcba"] == [(), (9, 4), (10, 3, 2, 3), (4, 4)]
    assert [styles[key].marker for key in "dcba"] == ["circle", "square", "diamond", "triangle"]


def test_no_two_of_32_candidates_look_alike_and_neighbours_differ_without_colour() -> None:
    styles = [style_of(index) for index in range(32)]

    assert len({(style.color, style.dash, style.marker) for style in styles}) == 32
    for first in range(0, 32, 8):
        lap = styles[first : first + 8]
        assert len({style.dash for style in lap}) == len({style.marker for style in lap}) == 8
        assert len({style.hatch for style in lap}) == 8


def test_markers_are_of_one_size() -> None:
    for name, corners in MARKER_CORNERS.items():
        reach = np.hypot(*np.array(corners).T).max()
        assert 0.95 <= reach <= 1.4, name


def test_css_declares_every_colour_once_per_theme() -> None:
    text = css_properties()

    light, dark = text.split("@media (prefers-color-scheme:dark)")
    for slot in (*SLOTS, *TONES):
        assert light.count(f"--{slot.name}:{slot.light};") == 1
        assert dark.count(f"--{slot.name}:{slot.dark};") == 1
    assert text.count("{") == text.count("}")


def test_swatch_has_plain_attributes_and_escapes_its_label() -> None:
    element = ElementTree.fromstring(render_swatch(style_of(1), '"><script>'))

    assert element.get("aria-label") == '"><script>'
    assert element.get("class") == "swatch slot-moss"
    assert not [part for part in element.iter() if part.get("style")]
    assert element[0].get("stroke-dasharray") == "9 4"


def test_swatch_without_a_label_is_hidden_from_readers() -> None:
    style = Style("iris", "#3a26c4", (), "circle", "/")

    assert ElementTree.fromstring(render_swatch(style)).get("aria-hidden") == "true"
