"""Invented results objects for the tests of the pages: a full comparison, three supplies, and a bench sheet.

Every figure is made up by simple arithmetic; nothing here claims to be physics.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from generator.pages.assets import addresses, collect_assets, name_asset
from generator.pages.builds import render_builds
from generator.pages.cautions import render_cautions
from generator.pages.comparison import render_comparison
from generator.pages.context import Context, Look, file_of
from generator.pages.feed import render_feed
from generator.pages.home import render_home
from generator.pages.methods import render_methods
from generator.pages.notfound import render_notfound
from generator.pages.parts import render_parts
from generator.pages.summary import summarise
from generator.pages.templates import environment, template_dirs
from generator.pages.versions import render_versions
from generator.records.comparison import Site
from generator.records.presentation import PUBLISHED, ROOT, VERSION, Asset, Chart, Drawing, Page, Table

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
        "influences": [],
        "explanations": [],
        "resonance": [],
        "tones": [],
        "cautions": [
            {
                "kind": "supply peak",
                "candidate": "series",
                "value": 41.2,
                "unit": "V",
                "limit": 60.0,
                "assumes": "one stop from 1.2 m/s gives all moving energy back to 2200 µF, no loss",
            },
            {
                "kind": "moving energy",
                "candidate": "series",
                "value": 1.9,
                "unit": "J",
                "limit": None,
                "assumes": "both axes at the top rung",
            },
        ],
        "sound": [],
        "vibration": [],
        "surfaces": [],
        "panel": [],
        "drift": [],
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
                    "hours_run": 43200.0,
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
        "bench_sheet": None,
    }


def make_context(address: str | None = None) -> tuple[Context, dict[str, Asset]]:
    """A context over the project's own templates, with colours in place of the charts' palette."""
    made = environment(template_dirs())
    assets = collect_assets(made, PALETTE)
    site = Site(
        "Plate workshop bench",
        "Comparisons, each with a prediction beside the measurement.",
        "The bench",
        "bench@example.org",
        address,
        "en",
        "CC BY 4.0",
        "CC0 1.0",
    )
    return Context(site, made, addresses(assets), "Stallmark 1.0.0", look=look), assets


PALETTE = """
:root{--iris:#3a26c4;--moss:#736c03;--lagoon:#217776;--mulberry:#a80a55;--neutral:#262f2b;--accent:#622b00;
--page:#fbfaf7;--card:#f1efe9;--muted:#59605b;--rule:#dedbd2}
@media (prefers-color-scheme:dark){:root{--iris:#8496ff;--moss:#9b8d13;--lagoon:#55e2f1;--mulberry:#f045a6;
--neutral:#f3f2e7;--accent:#ffb28c;--page:#15181d;--card:#1e232a;--muted:#a7adb3;--rule:#343b44}}
.slot-iris{color:var(--iris)}.slot-moss{color:var(--moss)}.slot-lagoon{color:var(--lagoon)}
.slot-mulberry{color:var(--mulberry)}.slot-neutral{color:var(--neutral)}.slot-accent{color:var(--accent)}
"""
SHAPES = ("M13 8a5 5 0 1 0 10 0a5 5 0 1 0-10 0Z", "M14 4h8v8h-8Z", "M18 2l6 6l-6 6l-6-6Z", "M18 2l6 11h-12Z")


def look(index: int) -> Look:
    """A look like the charts' own."""
    slot = ("iris", "moss", "lagoon", "mulberry")[index % 4]
    dash = ("", ' stroke-dasharray="9 4"', ' stroke-dasharray="2 3"', ' stroke-dasharray="10 3 2 3"')[index % 4]
    swatch = (
        '<svg class="swatch" width="36" height="16" viewBox="0 0 36 16" aria-hidden="true">'
        f'<path d="M1 8H35" fill="none" stroke="currentColor" stroke-width="2"{dash}/>'
        f'<path d="{SHAPES[index % 4]}" fill="currentColor"/></svg>'
    )
    return Look(slot, swatch)


CHARTS = (("corridor-x-y", "All four brackets lie in the predicted corridor"), ("torque", "Torque falls from 0.31 m/s"))


def make_pages(context: Context) -> tuple[list[Page], dict[str, bytes]]:
    """Every page of a small site, and the charts by address."""
    charts = [chart(identifier, title) for identifier, title in CHARTS]
    drawn = {c.id: (name_asset(c.wide.svg, "svg"), name_asset(c.narrow.svg, "svg")) for c in charts}
    files = {asset.address: asset.content for pair in drawn.values() for asset in pair}
    where = {identifier: (wide.address, narrow.address) for identifier, (wide, narrow) in drawn.items()}
    prose = {"write-up.md": "Two windings, one motor.\n\n{figure: torque}\n"}
    found = plotter()
    pages = [render_comparison(found, charts, where, prose, context)]
    summaries = [summarise(found)]
    for results in (found,):
        files[f"comparisons/{results['comparison']}/results.json"] = json.dumps(results).encode()
    pages += [render_home(summaries, context), *render_parts(summaries, context), *render_methods(context)]
    pages += [render_cautions(context), render_builds(BUILDS, context), render_notfound(context)]
    pages += [render_feed(summaries, context)]
    files["archive/builds/0001-0a1b2c3d.json"] = b"{}"
    pages += [render_versions(page.path, "Page", VERSIONS, context) for page in pages if is_folder(page.path)]
    return pages, files


BUILDS = [{"id": "0001-0a1b2c3d", "date": "2026-09-18", "manifest": "archive/builds/0001-0a1b2c3d.json"}]
VERSIONS = [{"version": "0123456789ab", "published": "2026-09-18", "address": None, "current": True}]


def is_folder(path: str) -> bool:
    """Whether a page stands in a folder of its own, and so has versions."""
    return "." not in path.rsplit("/", 1)[-1]


def write_site(folder: Path, address: str | None = None) -> list[Page]:
    """Write the small site as the archive would, marks replaced."""
    context, assets = make_context(address)
    pages, files = make_pages(context)
    for asset in assets.values():
        files[asset.address] = asset.content
    for page in pages:
        file = file_of(page.path)
        root = "../" * file.count("/") or "./"
        text = page.text.replace(ROOT, root).replace(VERSION, "0123456789ab").replace(PUBLISHED, "2026-09-18")
        files[file] = text.encode()
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return pages
