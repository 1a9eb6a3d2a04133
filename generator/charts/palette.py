"""The one place where colours, line styles, markers and hatches are chosen; charts and pages read them from here.

Chosen for distance under normal, deutan, protan and tritan vision and for a contrast of at least 4.5:1 on page and
card. Colour is never the only cue: every candidate also has a line style, a marker and a hatch. Draws nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape


@dataclass(frozen=True)
class Slot:
    """A named colour: its hex in the light and in the dark theme."""

    name: str
    light: str
    dark: str


@dataclass(frozen=True)
class Style:
    """How one candidate is drawn: slot, colour [light hex], dash [px on, off, …; empty is solid], marker, hatch."""

    slot: str
    color: str
    dash: tuple[float, ...]
    marker: str
    hatch: str


IRIS = Slot("iris", "#3a26c4", "#8496ff")
MOSS = Slot("moss", "#736c03", "#9b8d13")
LAGOON = Slot("lagoon", "#217776", "#55e2f1")
MULBERRY = Slot("mulberry", "#a80a55", "#f045a6")
NEUTRAL = Slot("neutral", "#262f2b", "#f3f2e7")
ACCENT = Slot("accent", "#622b00", "#ffb28c")
SLOTS = (IRIS, MOSS, LAGOON, MULBERRY, NEUTRAL, ACCENT)
CANDIDATE_SLOTS = SLOTS[:4]

PAGE = Slot("page", "#fbfaf7", "#15181d")
CARD = Slot("card", "#f1efe9", "#1e232a")
MUTED = Slot("muted", "#59605b", "#a7adb3")
RULE = Slot("rule", "#dedbd2", "#343b44")
TONES = (PAGE, CARD, MUTED, RULE)

DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (9, 4),
    (10, 3, 2, 3),
    (4, 4),
    (14, 5),
    (5, 2, 5, 6),
    (6, 3, 1, 3, 1, 3),
    (1, 2, 6, 2),
)
MARKERS = ("circle", "square", "diamond", "triangle", "inverted", "hexagon", "bar", "cross")
HATCHES = ("/", "\\", ".", "x", "-", "|", "+", "o")


def _polygon(count: int, turn: float) -> tuple[tuple[float, float], ...]:
    """Corners of a regular polygon of radius 1, y up, the first corner at ``turn`` [turns] from the right."""
    angles = [2 * math.pi * (turn + corner / count) for corner in range(count)]
    return tuple((round(math.cos(angle), 3), round(math.sin(angle), 3)) for angle in angles)


MARKER_CORNERS: dict[str, tuple[tuple[float, float], ...]] = {
    "circle": _polygon(20, 0),
    "square": ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)),
    "diamond": ((0, -1.15), (1.15, 0), (0, 1.15), (-1.15, 0)),
    "triangle": ((-1.1, -0.85), (1.1, -0.85), (0, 1.1)),
    "inverted": ((-1.1, 0.85), (1.1, 0.85), (0, -1.1)),
    "hexagon": _polygon(6, 0),
    "bar": ((-1.3, -0.45), (1.3, -0.45), (1.3, 0.45), (-1.3, 0.45)),
    "cross": (
        *((-0.4, -1.1), (0.4, -1.1), (0.4, -0.4), (1.1, -0.4), (1.1, 0.4), (0.4, 0.4)),
        *((0.4, 1.1), (-0.4, 1.1), (-0.4, 0.4), (-1.1, 0.4), (-1.1, -0.4), (-0.4, -0.4)),
    ),
}
"""Corners of each marker around 0, 0 with y up; about 1 in radius."""


def style_of(index: int) -> Style:
    """Style of the candidate at this place in its file; line style, marker and hatch go on varying past the fourth."""
    lap = index // len(DASHES)
    slot = CANDIDATE_SLOTS[index % len(CANDIDATE_SLOTS)]
    return Style(
        slot=slot.name,
        color=slot.light,
        dash=DASHES[(index + lap) % len(DASHES)],
        marker=MARKERS[(index + 3 * lap) % len(MARKERS)],
        hatch=HATCHES[index % len(HATCHES)],
    )


def assign_styles(candidates: Sequence[str]) -> dict[str, Style]:
    """Style per candidate id, by file order, so that a candidate looks the same on every page and chart."""
    return {candidate: style_of(index) for index, candidate in enumerate(candidates)}


def swatch_paths(style: Style) -> Mapping[str, str]:
    """Attributes that draw a candidate's swatch in a 36 × 16 view box: ``dash`` for its line, ``marker`` path data."""
    corners = MARKER_CORNERS[style.marker]
    points = " ".join(f"{18 + 5 * x:.1f},{8 - 5 * y:.1f}" for x, y in corners)
    return {"dash": " ".join(f"{length:g}" for length in style.dash), "marker": f"M{points}Z"}


def render_swatch(style: Style, label: str = "") -> str:
    """A candidate's line and marker as inline SVG with plain attributes (no style attribute, as the policy asks).

    Its colour is ``currentColor``: the page gives the element, or one around it, the class ``slot-<name>``.
    """
    paths = swatch_paths(style)
    dash = f' stroke-dasharray="{paths["dash"]}"' if paths["dash"] else ""
    access = f' role="img" aria-label="{escape(label)}"' if label else ' aria-hidden="true"'
    return (
        f'<svg class="swatch slot-{style.slot}" width="36" height="16" viewBox="0 0 36 16"{access}>'
        f'<path d="M1 8H35" fill="none" stroke="currentColor" stroke-width="2"{dash}/>'
        f'<path d="{paths["marker"]}" fill="currentColor"/></svg>'
    )


def _declarations(theme: str) -> str:
    return "".join(f"--{slot.name}:{getattr(slot, theme)};" for slot in (*SLOTS, *TONES))


def css_properties() -> str:
    """Style sheet text: each colour as a custom property in both themes, and a class ``slot-<name>`` per slot."""
    classes = "".join(f".slot-{slot.name}{{color:var(--{slot.name})}}\n" for slot in SLOTS)
    return (
        f":root{{{_declarations('light')}}}\n"
        f"@media (prefers-color-scheme:dark){{:root{{{_declarations('dark')}}}}}\n{classes}"
    )
