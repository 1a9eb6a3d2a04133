"""The method pages: one per model and analysis, and the index that leads to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from generator.pages.context import Context, Head, render_page
from generator.pages.validation import view_validation
from generator.records.presentation import Page


@dataclass(frozen=True)
class Method:
    """A method page: folder name, title, one sentence on what it does, the group it stands in."""

    slug: str
    title: str
    summary: str
    group: str


PREDICTION, CAUSE, MEASUREMENT, RECORDING, PRACTICE = (
    "Prediction", "Causes", "Measurement and calls", "Recordings and panels", "Practice",
)  # fmt: skip

METHODS: Sequence[Method] = (
    Method(
        "motor",
        "Pull-out torque of the motor",
        "from holding torque, current, resistance, inductance and supply",
        PREDICTION,
    ),
    Method("machine", "From torque to acceleration", "kinematics, moving mass, friction and transmission", PREDICTION),
    Method(
        "envelope",
        "Static, start and any-timing limits",
        "why a machine loses steps below the static limit",
        PREDICTION,
    ),
    Method(
        "uncertainty",
        "Uncertainty of a prediction",
        "every toleranced input drawn at random, shared where it is shared",
        PREDICTION,
    ),
    Method("energy", "Energy, stopping and supply", "the computed cautions", PREDICTION),
    Method("stall-map", "Stall map", "the move simulated in time, motor by motor", CAUSE),
    Method("resonance", "Resonance of belt and carriage", "two natural frequencies per axis", CAUSE),
    Method("tones", "Tones and wavelengths", "what step rates and belt teeth sound and look like", CAUSE),
    Method(
        "agreement", "Prediction beside measurement", "where a measured limit lies, and what would explain it", CAUSE
    ),
    Method("limits", "Limits by ladder", "runs, brackets and their interval", MEASUREMENT),
    Method("attempts", "Limits by attempts", "several tries on each rung", MEASUREMENT),
    Method("contrast", "Calls between candidates", "ahead, no difference that matters, undecided", MEASUREMENT),
    Method("drift", "Drift over the runs", "whether limits rise or fall with their order", MEASUREMENT),
    Method("verdict", "Verdict and weights", "shares of weight won outright, no score", MEASUREMENT),
    Method("sound", "Sound", "levels, background, prominent tones", RECORDING),
    Method("vibration", "Vibration", "spectra, peaks and damping", RECORDING),
    Method("surfaces", "Surfaces", "ripples found in photos of a sample", RECORDING),
    Method("panel", "Blind panel", "persons counted, not votes", RECORDING),
    Method("bench-sheet", "Planning the bench", "where to start the ladder and how many runs to make", PRACTICE),
    Method("archive", "Archive and versions", "how every published page is kept", PRACTICE),
)


def render_methods(context: Context, validation: Mapping[str, Any] | None = None) -> list[Page]:
    """The index and every method page.

    validation: the table of simulated benches as the validation ships it (version, date, targets, rows, misses); the
    pages on statistics show their part of it.
    """
    return [_index(context), *(_method(context, method, validation) for method in METHODS)]


def _index(context: Context) -> Page:
    groups = list(dict.fromkeys(method.group for method in METHODS))
    view = [(group, [method for method in METHODS if method.group == group]) for group in groups]
    head = Head("Methods", "How the predictions are made and how the calls follow: equations, assumptions, checks.")
    return render_page(context, "methods.html", "methods", head, groups=view)


def _method(context: Context, method: Method, table: Mapping[str, Any] | None) -> Page:
    head = Head(method.title, f"{method.title}: {method.summary}.", "article")
    place = METHODS.index(method)
    view: dict[str, Any] = {
        "method": method,
        "validation": view_validation(table, method.slug),
        "before": METHODS[place - 1] if place else None,
        "after": METHODS[place + 1] if place + 1 < len(METHODS) else None,
    }
    return render_page(context, f"methods/{method.slug}.html", f"methods/{method.slug}", head, **view)
