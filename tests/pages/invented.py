"""Invented results objects for the tests of the pages: a full comparison, three supplies, and a bench sheet.

Every figure is made up by simple arithmetic; nothing here claims to be physics.
"""

from __future__ import annotations

from typing import Any

from invented_parts import bench_plan, panel, reasons, sound, surfaces, vibration

from generator.records.presentation import Chart, Drawing, Table

SVG = (
    b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d">'
    b'<rect width="100%%" height="100%%" fill="#888" fill-opacity=".12"/>'
    b'<path d="M40 %d L%d 40" stroke="#3a26c4" fill="none" stroke-width="2"/></svg>'
)


def chart(identifier: str, title: str) -> Chart:
    """A chart with a plain drawing of either size."""
    table = Table(
        "Data of the chart", ("speed [mm/s]", "limit [m/s²]"), (("0", "64.2"), ("500", "40.1"), ("1000", "15.7"))
    )
    return Chart(
        identifier,
        title,
        "Bars show what was measured; bands show what was predicted.",
        f"{title}. Parallel stays above 60 m/s² up to 0.9 m/s.",
        table,
        Drawing(SVG % (720, 400, 720, 400, 360, 680), 720, 400),
        Drawing(SVG % (340, 320, 340, 320, 280, 300), 340, 320),
    )


def spread(nominal: float) -> dict[str, float]:
    """A spread about a nominal figure."""
    return {"nominal": nominal, "low": 0.87 * nominal, "median": 1.04 * nominal, "high": 1.21 * nominal}


def prediction(trial: str, candidate: str, static: float, quantity: str = "acceleration") -> dict[str, Any]:
    """A prediction whose lines stand in a fixed proportion."""
    unit = "m/s^2" if quantity == "acceleration" else "m/s"
    lines = {"static": spread(static), "start": spread(0.72 * static), "any_timing": spread(0.44 * static)}
    found = {"trial": trial, "candidate": candidate, "quantity": quantity, "unit": unit} | lines
    return found | {"bound_by": "torque", "simulated": {"first_lost": None, "last_held": None, "phase": None}}


def measurement(item: str, candidate: str, estimate: float | None, half: float = 1.2, **more: Any) -> dict[str, Any]:
    """A measurement with a symmetric interval."""
    found: dict[str, Any] = {
        "item": item,
        "candidate": candidate,
        "quantity": "acceleration",
        "unit": "m/s^2",
        "kind": "bracketed",
        "count": 3,
        "estimate": estimate,
        "standard_uncertainty": None if estimate is None else half / 4.3,
        "degrees_of_freedom": None if estimate is None else 2,
        "low": None if estimate is None else estimate - half,
        "high": None if estimate is None else estimate + half,
        "at_least": None,
        "at_most": None,
        "bound_count": 0,
        "rung": 1.0,
        "scatter": 0.5,
        "basis": "95 % interval from 3 runs",
        "reason": "",
        "runs": [],
    }
    return found | more


def runs(*middles: float) -> list[dict[str, Any]]:
    """Runs with a rung of 1 m/s² about the given middles."""
    return [
        {"held": m - 0.5, "lost": m + 0.5, "stopped": None, "order": k + 1, "time": None, "note": None}
        for k, m in enumerate(middles)
    ]


def contrast(item: str, difference: float | None, call: str, reason: str, **more: Any) -> dict[str, Any]:
    """A contrast of series minus parallel."""
    found: dict[str, Any] = {
        "item": item,
        "kind": "acceleration",
        "quantity": "acceleration",
        "unit": "m/s^2",
        "between": ["series", "parallel"],
        "difference": difference,
        "low": None if difference is None else difference - 1.6,
        "high": None if difference is None else difference + 1.6,
        "matters": 2.6,
        "call": call,
        "ahead": call.removesuffix(" ahead") if call.endswith(" ahead") else None,
        "reason": reason,
        "runs_to_decide": None,
    }
    return found | more


def inputs(candidate: str, inductance: float, resistance: float, current: float) -> list[dict[str, Any]]:
    """The figures that one candidate states."""
    rows = [
        ("machine.axes.x.moving_mass", 0.28, "kg", 0.02, None, True),
        ("machine.axes.y.moving_mass", 0.54, "kg", 0.02, None, True),
        ("supply.voltage", 36.0, "V", 0.02, None, True),
        ("drive.peak_current", current, "A", 0.05, None, False),
        ("motor.step_angle", 0.0314159265, "rad", None, None, False),
        ("motor.holding_torque", 0.46, "N*m", 0.10, "maker's sheet (invented)", False),
        ("motor.resistance", resistance, "ohm", 0.03, "bridge meter", False),
        ("motor.inductance", inductance, "H", 0.05, "bridge meter, 1 kHz", False),
        ("motor.rotor_inertia", 7e-6, "kg*m^2", 0.10, None, False),
        ("motor.winding_temperature", 333.15, "K", None, None, False),
    ]
    return [
        {
            "candidate": candidate,
            "path": path,
            "value": value,
            "unit": unit,
            "tolerance": tolerance,
            "tolerance_relative": True,
            "distribution": "rectangular",
            "tolerance_origin": "file" if source else "assumed",
            "source": source,
            "origin": "file",
            "shared": shared,
        }
        for path, value, unit, tolerance, source, shared in rows
    ]


def derived(candidate: str, name: str, current: float, differs: str) -> dict[str, Any]:
    """A candidate's row with derived figures."""
    return {
        "id": candidate,
        "name": name,
        "differs": differs,
        "rotor_teeth": 50,
        "flux_linkage": 0.00650538 / current,
        "static_torque": 0.3253,
        "time_constant": 0.002,
        "travel_per_turn": 0.048,
    }


def trial(identifier: str, direction: dict[str, float], **more: Any) -> dict[str, Any]:
    """A trial's conditions."""
    found: dict[str, Any] = {
        "id": identifier,
        "measures": "acceleration",
        "unit": "m/s^2",
        "direction": direction,
        "speed": 0.5,
        "acceleration": None,
        "stroke": 0.12,
        "hold_time": 0.0,
        "ladder": {"start": 20.0, "rung": 1.0, "stop": 100.0},
        "note": None,
    }
    return found | more


def item(identity: str, what: str, kind: str = "trial", weight: float | None = 1.0) -> dict[str, Any]:
    """One item of the comparison."""
    return {"id": identity, "kind": kind, "what": what, "weight": weight}


def plotter() -> dict[str, Any]:
    """The full comparison: two windings, all kinds of evidence."""
    measured = [
        measurement("diagonal-500", "series", 37.5, 0.9, runs=runs(37.0, 38.0, 37.5)),
        measurement("diagonal-500", "parallel", 67.0, 1.2, runs=runs(66.0, 67.5, 67.5)),
        measurement("diagonal-900", "series", 15.2, 1.1, kind="attempts", runs=[{"at": 14.0, "held": 5, "lost": 0}]),
        measurement("diagonal-900", "parallel", 44.1, 2.0, kind="attempts", runs=[{"at": 44.0, "held": 3, "lost": 2}]),
        measurement("top-speed", "series", 1.175, 0.03, quantity="speed", unit="m/s", runs=[]),
        measurement(
            "top-speed",
            "parallel",
            None,
            quantity="speed",
            unit="m/s",
            kind="lower bound",
            at_least=1.75,
            bound_count=3,
            count=3,
            basis="3 runs never lost",
            reason="stroke",
            runs=[{"held": 1.75, "lost": None, "stopped": "stroke", "order": None, "time": None, "note": None}] * 3,
        ),
        measurement("traverse-100", "series", 52.2, 0.6, quantity="level", unit="dB(A)", kind="recorded"),
        measurement("traverse-100", "parallel", 51.4, 0.7, quantity="level", unit="dB(A)", kind="recorded"),
    ]
    return {
        "schema": 1,
        "comparison": "braille-plate-plotter",
        "data": "invented",
        "title": "Series or parallel winding for the braille-plate plotter",
        "question": "Which wiring lets the plotter scribe faster without visible ripple?",
        "answer": "Parallel sustains 29.5 m/s² more than series at 500 mm/s on the diagonal; the sound recordings show "
        "no difference that matters.",
        "date": "2026-09-18",
        "author": "Plate workshop bench",
        "language": "en",
        "interests": "Nobody paid for this comparison. Everything is invented.",
        "corrections": [{"date": "2026-10-02", "text": "The stroke of top-speed was 300 mm, not 200 mm."}],
        "publish": {"sources": True, "audio": False, "photos": True},
        "made_with": {"stallmark": "1.0.0", "models": "1", "draws": 4000, "seed": 1234567},
        "machine": {"motor_map": "crossed-belts", "axes": ["x", "y"]},
        "candidates": [
            derived("series", "Alder 42-8, series", 1.4, "6 mH, 3 Ω, 1.4 A peak"),
            derived("parallel", "Alder 42-8, parallel", 2.8, "1.5 mH, 0.75 Ω, 2.8 A peak"),
        ],
        "inputs": inputs("series", 6e-3, 3.0, 1.4) + inputs("parallel", 1.5e-3, 0.75, 2.8),
        "trials": [
            trial("diagonal-500", {"x": 0.70710678, "y": 0.70710678}),
            trial("diagonal-900", {"x": 0.70710678, "y": 0.70710678}, speed=0.9),
            trial(
                "top-speed",
                {"x": 1.0},
                measures="speed",
                unit="m/s",
                speed=None,
                acceleration=11.0,
                stroke=0.3,
                ladder={"start": 0.8, "rung": 0.05, "stop": None},
            ),
        ],
        "curves": [],
        "predictions": [
            prediction("diagonal-500", "series", 44.1),
            prediction("diagonal-500", "parallel", 75.2),
            prediction("diagonal-900", "series", 17.4),
            prediction("diagonal-900", "parallel", 40.0),
            prediction("top-speed", "series", 1.31, "speed"),
            prediction("top-speed", "parallel", 2.31, "speed"),
        ],
        "measurements": measured,
        "agreement": [
            {"trial": "diagonal-500", "candidate": "series", "ratio": 0.85, "place": "inside corridor"},
            {"trial": "diagonal-500", "candidate": "parallel", "ratio": 0.89, "place": "inside corridor"},
            {"trial": "diagonal-900", "candidate": "series", "ratio": 0.87, "place": "inside corridor"},
            {"trial": "diagonal-900", "candidate": "parallel", "ratio": 1.10, "place": "above static limit"},
            {"trial": "top-speed", "candidate": "series", "ratio": 0.90, "place": "inside corridor"},
            {"trial": "top-speed", "candidate": "parallel", "ratio": 0.76, "place": "only a lower bound"},
        ],
        "contrasts": [
            contrast("diagonal-500", -29.5, "parallel ahead", "the interval excludes zero and exceeds what matters"),
            contrast("diagonal-900", -28.9, "parallel ahead", "the interval excludes zero and exceeds what matters"),
            contrast(
                "top-speed",
                None,
                "only a lower bound",
                "parallel never lost steps",
                low=None,
                high=None,
                kind="speed",
                quantity="speed",
                unit="m/s",
            ),
            contrast(
                "traverse-100",
                0.8,
                "no difference that matters",
                "the interval lies inside ±2 dB",
                kind="sound",
                quantity="level",
                unit="dB(A)",
                matters=2.0,
                low=-0.3,
                high=1.9,
            ),
        ],
        "cautions": [
            {
                "kind": "supply peak",
                "candidate": "series",
                "value": 41.2,
                "unit": "V",
                "limit": 60.0,
                "assumes": "one stop gives all moving energy back to 2200 µF, no loss",
                "at": {"speed": 1.2},
                "axis": None,
                "trial": "diagonal-500",
                "rung": None,
            },
            {
                "kind": "moving energy",
                "candidate": "series",
                "value": 1.9,
                "unit": "J",
                "limit": None,
                "assumes": "both axes at the fastest speed",
                "at": {"speed": 1.2},
                "axis": None,
                "trial": "diagonal-500",
                "rung": None,
            },
        ],
        "missing": ["item.condition of parallel"],
        "report": {
            "title": "Series or parallel winding for the braille-plate plotter",
            "author": "Plate workshop bench",
            "date_of_issue": "2026-09-18",
            "bench": {
                "operator": "the invented bench tester",
                "date_from": "2026-09-15",
                "date_to": "2026-09-17",
                "warm_up": 600.0,
                "humidity": 0.45,
                "lost_when": 1e-4,
                "moves_per_rung": 4,
            },
            "instruments": [
                {
                    "id": "gauge",
                    "what": "dial gauge",
                    "serial": None,
                    "checked_on": "2026-08-01",
                    "uncertainty": "0.01 mm",
                }
            ],
            "items": [
                {
                    "candidate": "series",
                    "name": "Alder 42-8, series",
                    "obtained": "bought",
                    "condition": "new",
                    "units_tested": 1,
                    "hours_run": 12.0,
                    "price": 31.5,
                    "currency": "EUR",
                    "price_date": "2026-08-20",
                }
            ],
            "interests": "Nobody paid for this comparison.",
            "missing": ["the condition of the item parallel"],
        },
        "verdict": {
            "sentence": "Parallel wins 83 % of the stated weight outright.",
            "won": {"series": 0.0, "parallel": 0.714},
            "ties": 0.286,
            "undecided": 0.0,
            "not_measured": 0.0,
            "leader": "parallel",
            "calls": 4,
            "items": [
                {"item": "diagonal-500", "weight": 3.0, "outcome": "won", "winner": "parallel", "reason": ""},
                {"item": "diagonal-900", "weight": 2.0, "outcome": "won", "winner": "parallel", "reason": ""},
                {"item": "top-speed", "weight": 0.0, "outcome": "undecided", "winner": None, "reason": "only a bound"},
                {"item": "traverse-100", "weight": 2.0, "outcome": "tie", "winner": None, "reason": ""},
            ],
            "turns_when": [],
        },
        "sound": sound(),
        "vibration": vibration(),
        "surfaces": surfaces(),
        "panel": panel(),
        "bench_sheet": [bench_plan("diagonal-500", ["series", "parallel"])],
        "items": [
            item("diagonal-500", "acceleration at 500 mm/s along the diagonal of x and y"),
            item("diagonal-900", "acceleration at 900 mm/s along the diagonal of x and y"),
            item("top-speed", "top speed along x at 11 m/s²"),
            item("smoother-plate", "the blind panel on plate", kind="panel", weight=None),
        ],
    } | reasons()


def gantry() -> dict[str, Any]:
    """Three candidates with measured data, so without a banner, and little else than trials."""
    found = plotter()
    third = derived("v48", "48 V supply", 2.8, "48 V")
    extra = contrast("diagonal-500", 1.0, "undecided", "the interval includes zero", runs_to_decide=9)
    for key in ("sound", "vibration", "surfaces", "panel", "influences", "explanations", "calibration", "resonance"):
        found[key] = []
    return found | {
        "comparison": "herbarium-gantry",
        "title": "24, 36 or 48 V for the herbarium camera gantry",
        "question": None,
        "data": "measured",
        "date": "2026-10-06",
        "corrections": [],
        "candidates": [*found["candidates"], third],
        "measurements": [*found["measurements"], measurement("diagonal-500", "v48", 66.0, 0.5, count=1)],
        "contrasts": [*found["contrasts"], extra | {"between": ["parallel", "v48"]}],
        "bench_sheet": [bench_plan("diagonal-900", ["series"], enough=False, others=("parallel", "v48"))],
        "stall_maps": [],
    }


def engraver() -> dict[str, Any]:
    """Nothing measured yet: a bench sheet."""
    found = plotter()
    empty = ("measurements", "agreement", "contrasts", "sound", "vibration", "surfaces", "panel", "explanations",
             "calibration", "resonance", "drift", "corrections")  # fmt: skip
    verdict = found["verdict"] | {
        "leader": None, "not_measured": 1.0, "ties": 0.0, "won": {"series": 0.0, "parallel": 0.0}, "calls": 0,
        "items": [{"item": "diagonal-500", "weight": 1.0, "outcome": "not measured", "winner": None, "reason": "none"}],
    }  # fmt: skip
    return (
        found
        | {key: [] for key in empty}
        | {
            "comparison": "tile-engraver",
            "title": "4 mm or 10 mm lead for the tile engraver",
            "question": "Which screw lead moves the head faster?",
            "answer": "Nothing has been measured yet: this is a bench sheet, with predictions only.",
            "date": "2026-11-12",
            "verdict": verdict,
            "bench_sheet": [bench_plan("diagonal-500", []), bench_plan("top-speed", [], enough=False)],
        }
    )
