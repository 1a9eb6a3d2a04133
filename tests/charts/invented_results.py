"""An invented results object with every part that charts draw; no such motors exist."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from typing import Any

DIAGONAL = {"x": math.sqrt(0.5), "y": math.sqrt(0.5)}
NAMES = {"series": "Alder 42-8, series", "parallel": "Alder 42-8, parallel"}
Row = dict[str, Any]


def invent_results() -> Row:
    """Two candidates, four trials of every kind, stall maps and all recordings."""
    return {
        "schema": 1,
        "title": "Series or parallel winding for the braille-plate plotter?",
        "candidates": [{"id": key, "name": name} for key, name in NAMES.items()],
        "items": [
            {"id": "diagonal-500", "what": "acceleration at 500 mm/s along the diagonal of x and y"},
            {"id": "top-speed", "what": "top speed along x at 11 m/s²"},
        ],
        "trials": _trials(),
        "curves": [
            _curve("series", DIAGONAL, 64.0, 0.33, 1.6),
            _curve("parallel", DIAGONAL, 74.0, 0.92, 1.6),
            _curve("series", {"x": 1.0}, 100.0, 0.45, 2.4),
            _curve("parallel", {"x": 1.0}, 115.0, 1.3, 2.4),
        ],
        "predictions": _predictions(),
        "measurements": _measurements(),
        "agreement": _agreement(),
        "contrasts": _contrasts(),
        "drift": [_drift("diagonal-500", key, "no drift found") for key in NAMES],
        "stall_maps": [_stall_map("series", 64.0, 0.33), _stall_map("parallel", 74.0, 0.92)],
        "sound": [_sound()],
        "vibration": [_vibration()],
        "surfaces": [_surface()],
        "panel": [_panel()],
    }


def _trials() -> list[Row]:
    return [
        {"id": "diagonal-500", "measures": "acceleration", "direction": {"x": 1, "y": 1}, "speed": 0.5},
        {"id": "diagonal-900", "measures": "acceleration", "direction": {"x": 1, "y": 1}, "speed": 0.9},
        {"id": "top-speed", "measures": "speed", "direction": {"x": 1}, "acceleration": 11.0},
        {"id": "along-x-300", "measures": "acceleration", "direction": {"x": 1}, "speed": 0.3},
    ]


def static_limit(top: float, corner: float, speed: float) -> float:
    """Level up to the corner, then falling."""
    return top if speed <= corner else top * (corner / speed) ** 1.35


def _curve(candidate: str, direction: Row, top: float, corner: float, fastest: float) -> Row:
    speeds = [round(fastest * step / 80, 9) for step in range(81)]
    static = [static_limit(top, corner, speed) for speed in speeds]

    def line(factor: float) -> Row:
        kinds = {"nominal": 1.0, "low": 0.82, "median": 1.05, "high": 1.22}
        return {kind: [round(value * factor * share, 6) for value in static] for kind, share in kinds.items()}

    return {
        "candidate": candidate,
        "direction": direction,
        "speed": speeds,
        "torque": [round(value / 200, 6) for value in static],
        "corner_speed": corner,
        "static": line(1.0),
        "start": line(0.7246),
        "any_timing": line(0.4223),
        "square_wave_static": [round(min(top, 1.27 * value), 6) for value in static],
    }


_LIMITS = {
    ("diagonal-500", "series"): 36.5,
    ("diagonal-500", "parallel"): 74.0,
    ("diagonal-900", "series"): 16.5,
    ("diagonal-900", "parallel"): 74.0,
    ("top-speed", "series"): 2.2,
    ("top-speed", "parallel"): 2.4,
    ("along-x-300", "series"): 100.0,
    ("along-x-300", "parallel"): 115.0,
}


def _predictions() -> list[Row]:
    rows = []
    for (trial, candidate), limit in _LIMITS.items():
        quantity, unit = ("speed", "m/s") if trial == "top-speed" else ("acceleration", "m/s^2")
        lines = {"static": 1.0, "start": 0.7246, "any_timing": 0.4223}
        spreads = {
            name: {
                "nominal": limit * part,
                "low": 0.85 * limit * part,
                "median": limit * part,
                "high": 1.2 * limit * part,
            }
            for name, part in lines.items()
        }
        rows.append({"trial": trial, "candidate": candidate, "quantity": quantity, "unit": unit} | spreads)
    return rows


def measurement(item: str, candidate: str, runs: Sequence[Row] = (), **figures: Any) -> Row:
    """One measured limit; figures replace the empty ones."""
    quantity, unit = ("speed", "m/s") if item == "top-speed" else ("acceleration", "m/s^2")
    empty = dict.fromkeys(("estimate", "standard_uncertainty", "low", "high", "at_least", "at_most"))
    return (
        {"item": item, "candidate": candidate, "quantity": quantity, "unit": unit, "kind": "bracketed"}
        | {"runs": list(runs), "count": len(runs)}
        | empty
        | figures
    )


def runs(*brackets: tuple[float | None, float | None], first: int = 1, step: int = 2) -> list[Row]:
    """Runs in the order in which two candidates take turns."""
    return [{"held": held, "lost": lost, "order": first + step * k} for k, (held, lost) in enumerate(brackets)]


def _measurements() -> list[Row]:
    tries = [{"at": 40.0, "held": 5, "lost": 0}, {"at": 44.0, "held": 4, "lost": 1}, {"at": 48.0, "held": 1, "lost": 4}]
    five = runs((31, 32), (33, 34), (32, 33), (31, 32), (33, 34))
    other = runs((61, 62), (63, 64), (60, 61), (62, 63), (61, 62), first=2)
    return [
        measurement("diagonal-500", "series", five, estimate=32.5, low=31.3, high=33.7),
        measurement("diagonal-500", "parallel", other, estimate=61.9, low=60.5, high=63.3),
        measurement("diagonal-900", "series", runs((15, 16)), estimate=15.5, low=15.0, high=16.0),
        measurement("diagonal-900", "parallel", tries, kind="attempts", estimate=45.1, low=42.0, high=49.0),
        measurement("top-speed", "series", runs((1.15, 1.2), (1.2, 1.25)), estimate=1.2, low=1.1, high=1.3),
        measurement("top-speed", "parallel", runs((1.8, None)), kind="lower bound", at_least=1.8),
        measurement("along-x-300", "series", runs((None, 20.0)), kind="upper bound", at_most=20.0),
    ]


def _agreement() -> list[Row]:
    places = {
        ("diagonal-500", "series"): "inside corridor",
        ("diagonal-500", "parallel"): "inside corridor",
        ("diagonal-900", "series"): "inside corridor",
        ("diagonal-900", "parallel"): "between any-timing and start",
        ("top-speed", "series"): "inside corridor",
        ("top-speed", "parallel"): "only a lower bound",
        ("along-x-300", "series"): "below any-timing limit",
    }
    return [{"trial": trial, "candidate": key, "ratio": 0.8, "place": place} for (trial, key), place in places.items()]


def contrast(item: str, unit: str, figures: tuple[Any, Any, Any, Any], call: str, **more: Any) -> Row:
    """A difference of series minus parallel: (difference, low, high, what matters)."""
    named = dict(zip(("difference", "low", "high", "matters"), figures, strict=True))
    ahead = call.removesuffix(" ahead") if call.endswith(" ahead") else None
    row = {"item": item, "unit": unit, "between": ["series", "parallel"], "call": call, "ahead": ahead, "reason": "…"}
    return row | {"quantity": _QUANTITIES[unit]} | named | more


_QUANTITIES = {"m/s^2": "acceleration", "m/s": "speed", "dB": "level"}


def _contrasts() -> list[Row]:
    return [
        contrast("diagonal-500", "m/s^2", (-29.4, -31.2, -27.6, 2.4), "parallel ahead"),
        contrast("diagonal-900", "m/s^2", (None, None, None, 1.5), "not comparable"),
        contrast("top-speed", "m/s", (-0.6, None, None, 0.07), "only a lower bound"),
        contrast("traverse-100", "dB", (1.3, -0.4, 3.0, 2.0), "undecided"),
        contrast("along-x", "m/s^2", (0.01, -0.03, 0.05, 0.1), "no difference that matters"),
    ]


def _drift(trial: str, candidate: str, statement: str) -> Row:
    found = {"count": 5, "correlation": 0.3, "probability": 0.6, "found": False, "statement": statement}
    return {"item": trial, "candidate": candidate} | found


def _stall_map(candidate: str, top: float, corner: float) -> Row:
    speeds = [1.6 * step / 48 for step in range(1, 49)]
    accelerations = [100.0 * step / 48 for step in range(1, 49)]
    chance = random.Random(f"stall {candidate}")

    def state(speed: float, acceleration: float) -> int:
        if speed**2 / acceleration > 0.12:
            return 5
        limit = static_limit(top, corner, speed) * (0.62 + 0.05 * math.sin(9 * speed) + chance.gauss(0, 0.02))
        if acceleration < limit:
            return 0
        return 1 if acceleration > 1.8 * limit else 4 if speed < 0.3 else 2 if acceleration > 1.35 * limit else 3

    states = [[state(speed, acceleration) for speed in speeds] for acceleration in accelerations]
    return {
        "candidate": candidate,
        "direction": DIAGONAL,
        "speed": speeds,
        "acceleration": accelerations,
        "state": states,
        "message": None,
    }


def _sound() -> Row:
    bands = [round(1000 * 10 ** (step / 10), 1) for step in range(-15, 13)]
    lines = [20.0 + 2.0 * step for step in range(4000)]
    chance = random.Random("sound")

    def hiss(start: float, slope: float, frequencies: Sequence[float]) -> list[float]:
        return [round(start - slope * math.log10(f / 100) + chance.gauss(0, 1.2), 3) for f in frequencies]

    def entries(make: Callable[[str], Row]) -> list[Row]:
        return [{"candidate": key} | make(key) for key in NAMES]

    louder = {"series": 3.0, "parallel": 0.0}
    return {
        "id": "traverse-100",
        "speed": 0.1,
        "unit": "dB(A)",
        "levels": entries(
            lambda key: {"level": 50.1 + louder[key], "low": 49.4 + louder[key], "high": 50.8 + louder[key]}
        ),
        "bands": entries(lambda key: {"frequency": bands, "level": hiss(38 + louder[key], 3, bands)}),
        "background": {"level": 35.2},
        "background_bands": {"frequency": bands, "level": hiss(28, 6, bands)},
        "series": entries(lambda key: {"speed": [0.05, 0.1, 0.2], "level": [46 + louder[key], 50 + louder[key], 57.0]}),
        "spectra": entries(lambda key: {"frequency": lines, "level": hiss(24 + louder[key], 8, lines)}),
        "tones": [
            {"candidate": "series", "frequency": 416.7, "level": 44.0, "cause": "full step"},
            {"candidate": "parallel", "frequency": 833.3, "level": 33.0, "cause": None},
        ],
    }


def _resonance(frequency: float, peak: float, damping: float) -> float:
    below = (peak**2 - frequency**2) ** 2 + (2 * damping * peak * frequency) ** 2
    return frequency**4 / below * 1e-3 + 2e-4


def _vibration() -> Row:
    lines = [5 + 0.5 * step for step in range(391)]
    near = [line for line in lines if 35 < line < 95]
    chance = random.Random("vibration")
    densities, fits = [], []
    for key, peak in (("series", 60.4), ("parallel", 58.2)):
        density = [_resonance(line, peak, 0.05) * chance.gammavariate(10, 0.1) for line in lines]
        low, high = [0.6 * value for value in density], [2.0 * value for value in density]
        densities.append({"candidate": key, "frequency": lines, "density": density, "low": low, "high": high})
        fit = {"frequency": near, "density": [_resonance(line, peak, 0.05) for line in near], "damping_ratio": 0.05}
        fits.append({"candidate": key, "peak_frequency": peak, "peak_low": peak - 0.4, "peak_high": peak + 0.4} | fit)
    predicted = [{"candidate": "series", "frequency": 61.2}, {"candidate": "parallel", "frequency": 59.1}]
    return {"id": "along-x", "axis": "x", "densities": densities, "fits": fits, "predicted": predicted}


def _surface() -> Row:
    waves = [1.5e-4 * 53 ** (step / 299) for step in range(300)]
    spectra, ripples = [], []
    for speed in (0.02, 0.04, 0.06):
        for key, height in (("series", 0.02 + speed / 4), ("parallel", 0.008)):
            contrast = [0.002 + height * math.exp(-((math.log(wave / 4.8e-4) / 0.05) ** 2)) for wave in waves]
            spectra.append(
                {"candidate": key, "speed": speed, "wavelength": waves, "contrast": contrast, "floor": [0.005] * 300}
            )
            causes = ["two full steps", "fifth harmonic of a belt tooth"]
            found = {"wavelength": 4.8e-4, "contrast": height + 0.002, "ratio": 6.0, "causes": causes}
            ripples.append({"candidate": key, "speed": speed} | found)
    return {"id": "plate", "spectra": spectra, "ripples": ripples}


def _panel() -> Row:
    pair = {"between": ["series", "parallel"], "votes": [7, 9], "no_preference": 4}
    return {
        "id": "smoother-plate",
        "pairs": [pair | {"share": 0.4375, "low": 0.1975, "high": 0.7012, "probability": 0.804}],
    }
