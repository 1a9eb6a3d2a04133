"""Invented parts of a results object: recordings, reasons and bench plans, in the shape that evaluation gives them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

Rows = list[dict[str, Any]]


def sound() -> Rows:
    """One sound item with a prominent tone and a lesser one."""
    tone = {
        "candidate": "series", "frequency": 416.7, "level": 41.6, "cause": "full steps (detent)", "tone_to_noise": 14.2,
        "tone_to_noise_limit": 11.2, "prominence": 13.0, "prominence_limit": 12.8, "prominent": True,
    }  # fmt: skip
    recording = {
        "candidate": "series", "file": "recordings/a.wav", "measured": 52.3, "excess": 17.0, "level": 52.2,
        "grade": "none needed", "duration": 7.5,
    }  # fmt: skip
    return [{
        "id": "traverse-100", "unit": "dB(A)", "distance": 0.5, "calibrated": True, "speed": 0.1,
        "calibration": {"how": "calibrator", "level": 94.0}, "background": {"level": 35.0}, "tones": [tone],
        "minor_tones": [tone | {"frequency": 100.0, "cause": None, "prominent": False, "prominence": -2.0}],
        "recordings": [recording], "notes": ["The microphone was placed anew for each recording."],
    }]  # fmt: skip


def vibration() -> Rows:
    """One vibration item with a fit and one trace."""
    fit = {
        "candidate": "series", "peak_frequency": 92.6, "peak_low": 91.4, "peak_high": 93.8, "damping_ratio": 0.03,
        "damping_low": 0.022, "damping_high": 0.038,
    }  # fmt: skip
    trace = fit | {
        "file": "recordings/x.csv", "half_power": {"damping_ratio": 0.037, "at_most": True}, "rms": 1.0,
        "displacement_form": {"peak_frequency": 94.2}, "resolution": 1.33, "averages": 14.3,
    }  # fmt: skip
    return [{
        "id": "along-x", "axis": "x", "excitation": "sweep", "fits": [fit, fit | {"candidate": "parallel"}],
        "predicted": [{"candidate": "series", "frequency": 93.0}], "recordings": [trace], "notes": [],
    }]  # fmt: skip


def surfaces() -> Rows:
    """One surface item with photos of two candidates, two bands each."""
    bands = [
        {"speed": 0.02, "top": 0.0, "bottom": 60.0, "left": 0, "right": 200, "clean": False},
        {"speed": 0.04, "top": 60.0, "bottom": 120.0, "left": 0, "right": 200, "clean": True},
    ]
    ripple = {
        "candidate": "series", "speed": 0.02, "wavelength": 1.41e-3, "resolution": 5e-5, "contrast": 0.0028,
        "ratio": 15.0, "causes": ["belt teeth"],
    }  # fmt: skip
    return [{
        "id": "plate", "along": "horizontal", "alt": {}, "ripples": [ripple],
        "photos": [{"candidate": c, "width": 200, "height": 120, "bands": bands} for c in ("series", "parallel")],
        "clean": [
            {"candidate": "series", "all_clean": False, "fastest_clean_band": 0.04, "fastest": 0.04, "speeds": [0.04],
             "rippled_below": [0.02]},
            {"candidate": "parallel", "all_clean": True, "fastest_clean_band": 0.04, "fastest": 0.04, "speeds": []},
        ],
        "notes": [],
    }]  # fmt: skip


def panel() -> Rows:
    """One panel of twenty persons."""
    pair = {
        "between": ["series", "parallel"], "votes": [7, 9], "no_preference": 4, "share": 0.4375, "low": 0.1975,
        "high": 0.7012, "probability": 0.8036, "needed": 13,
    }  # fmt: skip
    return [{"id": "smoother-plate", "surface": "plate", "pairs": [pair], "strengths": None, "notes": []}]


def reasons() -> dict[str, Any]:
    """The sections that answer why."""
    explanation = {
        "trial": "diagonal-900", "candidate": "parallel", "line": "static", "unit": "1", "stated": 1.0, "low": 0.7,
        "high": 1.3, "needed": None, "has_effect": True, "share": None,
    }  # fmt: skip
    calibrated = {
        "trial": "diagonal-900", "quantity": "acceleration", "unit": "m/s^2", "static": 32.0, "start": 19.5,
        "any_timing": 19.3, "measured": 15.2, "error": 0.28,
    }  # fmt: skip
    tone = {
        "trial": "diagonal-500", "motor": 0, "full_step": 2946.0, "electrical": 736.6, "tooth": 353.6,
        "wavelengths": {"full_step": 1.7e-4, "electrical": 6.8e-4, "tooth": 1.41e-3, "turn": 3.4e-2},
    }  # fmt: skip
    return {
        "influences": [
            {"trial": "diagonal-500", "candidate": "series", "path": "motor.inductance", "share": 0.5,
             "change_low": 0.26, "change_high": -0.18},
            {"trial": "top-speed", "candidate": "series", "path": "drive.peak_current", "share": 0.0,
             "change_low": 0.0, "change_high": 0.0},
        ],
        "explanations": [
            explanation | {"cause": "motor torque", "needed": 1.2, "share": 0.4},
            explanation | {"cause": "moving mass"},
            explanation | {"cause": "supply sag", "unit": "V", "stated": 36.0, "low": 28.8, "high": 36.0,
                           "has_effect": False},
        ],
        "calibration": [
            {"candidate": "series", "unknown": "torque derating", "line": "start", "trial": "diagonal-500",
             "range": [0.2, 2.5], "factor": 1.14, "predicted": [calibrated], "message": None},
            {"candidate": "parallel", "unknown": "torque derating", "line": "start", "trial": "diagonal-500",
             "range": [0.2, 2.5], "factor": None, "predicted": [], "message": "No factor does it."},
        ],
        "resonance": [
            {"axis": "x", "candidate": "series", "frequencies": [92.6, 266.0], "rotor_clamped": 104.0,
             "measured": 92.6, "expected_shift": None, "measured_shift": None, "message": "Too sensitive.",
             "reference": "series", "belt_stiffness": 59239.9, "stiffness_from": "peak", "stiffness_of_peak": 59239.9},
            {"axis": "x", "candidate": "parallel", "frequencies": None, "rotor_clamped": 104.0, "measured": 93.0,
             "reference": "series", "belt_stiffness": 59239.9, "stiffness_from": "peak", "stiffness_of_peak": None,
             "expected_shift": 0.0, "expected_shift_interval": {"nominal": 0.0, "low": -1.8, "high": 2.0},
             "measured_shift": 0.4, "message": None},
        ],
        "tones": [tone | {"candidate": candidate} for candidate in ("series", "parallel")],
        "stall_maps": [{"note": "24 × 24 cells.", "message": None}],
        "drift": [
            {"item": "diagonal-500", "candidate": c, "statement": "too few runs to test for drift"}
            for c in ("series", "parallel")
        ],
    }  # fmt: skip


def bench_plan(
    trial: str, measured: list[str], enough: bool = True, others: Sequence[str] = ("parallel",)
) -> dict[str, Any]:
    """The plan of one trial: a ladder for one candidate, none for the others."""
    ladder = {
        "start": 2.25, "coarse": 1.25, "fine": 0.25, "stop": 9.75, "expected_rungs": 7.3, "most_rungs": 11,
        "expected_moves": 7.3, "most_moves": 11,
    }  # fmt: skip
    caution = {
        "candidate": "series",
        "kind": "supply peak",
        "value": 61.2,
        "unit": "V",
        "limit": 60.0,
        "assumes": "one stop",
        "at": {"speed": 0.5},
        "axis": None,
    }
    plan = {
        "ladder": ladder, "why": None, "expected_low": 2.4, "expected_high": 9.6, "stroke_needed": 0.304,
        "stroke_enough": enough, "stroke_beyond": None, "reachable": 0.775, "ramp_peak": None, "duration": 54.5,
        "rail_rung": 0.7,
        "cautions": [caution, caution | {"kind": "touchable supply peak"}],
    }  # fmt: skip
    none = dict.fromkeys(plan) | {"why": "no limit is predicted here, so no ladder can be proposed", "cautions": ()}
    return {
        "trial": trial, "what": "acceleration at 500 mm/s along x", "measured": measured, "unit": "m/s^2",
        "candidates": {"series": plan} | dict.fromkeys(others, none),
        "runs": 2, "scatter": 0.33, "scatter_origin": "assumed",
        "matters": 1.09, "matters_origin": "file", "power": 0.9, "called_from": 1.63,
        "order": ["series", "parallel", "parallel", "series"],
    }  # fmt: skip
