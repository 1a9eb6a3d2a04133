"""The page's own corridor in a real browser: its numbers against Python's, its fields, link and keyboard."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from generator.charts.palette import css_properties, render_swatch, style_of
from generator.evaluation.numbers import to_json
from generator.evaluation.your_machine import describe_machines, describe_setup
from generator.models.envelope import LINES, limit_lines, predict_speed_limit
from generator.models.motor import COPPER_COEFFICIENT, pull_out_torque
from generator.models.transient_limits import ANY_TIMING, START
from generator.pages.assets import collect_assets
from generator.pages.context import Context, Look
from generator.pages.templates import environment, template_dirs
from generator.records.candidate import Candidate
from generator.records.comparison import Comparison, Site
from generator.records.hardware import ROOM_TEMPERATURE, Drive, Motor, Setup, Supply, Transmission
from generator.records.trial import Trial

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'"
COPPER = {"coefficient": COPPER_COEFFICIENT, "room_temperature": ROOM_TEMPERATURE}
DIAGONAL = (math.sqrt(0.5), math.sqrt(0.5))
SERIES = Motor(50, math.radians(1.8), 0.46, 1.4, 3.0, 6e-3, 70e-7)
PARALLEL = replace(SERIES, rated_current=2.8, resistance=0.75, inductance=1.5e-3)
BELT = Transmission("belt", 0.048, 0.95, 0.95, 3e-7, 0.02, None, 24.0)
SCREW = Transmission("screw", 0.008, 0.6, max(0.0, 2 - 1 / 0.6), 8e-7, 0.01)


def crossed(candidate: str = "series", motor: Motor = SERIES, current: float = 1.4, **changes: Any) -> Setup:
    """Two motors on crossed belts, with friction; changes replace fields."""
    setup = Setup(
        candidate, ("x", "y"), ((1.0, 1.0), (1.0, -1.0)), (0.28, 0.54), (2.0, 3.0), (0.0, 4.0), (0.0, 0.0),
        (None, None), (motor, motor), (BELT, BELT), (1, 1), Supply(36.0, 0.1), Drive(current, 0.8),
    )  # fmt: skip
    return replace(setup, **changes)


def upright(force: float) -> Setup:
    """One screw axis with a weight on it."""
    return Setup(
        "upright", ("z",), ((1.0,),), (1.2,), (4.0,), (10.0,), (force,), (None,), (PARALLEL,), (SCREW,), (1,),
        Supply(24.0), Drive(2.0),
    )  # fmt: skip


def portal() -> Setup:
    """Three straight axes, two motors on one of them, each axis its own drive train."""
    kinds = (BELT, replace(BELT, travel_per_turn=0.04, drag_torque=0.0, efficiency=1.0, back_efficiency=1.0), SCREW)
    return Setup(
        "portal", ("x", "y", "z"), ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), (1.0, 3.0, 0.8),
        (2.0, 0.0, 5.0), (1.0, 0.0, 0.0), (0.0, 0.0, -7.8), (None,) * 3, (SERIES, PARALLEL, SERIES), kinds, (1, 2, 1),
        Supply(48.0, 0.2), Drive(1.9, 0.5, sine_factor=4 / math.pi),
    )  # fmt: skip


SETUPS = {
    "series": crossed(),
    "parallel": crossed("parallel", PARALLEL, 2.8),
    "hot": crossed("hot", replace(SERIES, winding_temperature=353.15, iron_drag=2e-5)),
    "no friction": crossed("plain", PARALLEL, 2.8, friction=(0.0, 0.0), viscous=(0.0, 0.0), supply=Supply(24.0)),
    "pushed": crossed("pushed", PARALLEL, 2.8, steady_force=(4.0, -6.0)),
    "unlike": crossed("unlike", motors=(SERIES, replace(SERIES, holding_torque=0.3, inductance=3e-3))),
    "hanging": upright(-11.8),
    "lifted": upright(11.8),
    "portal": portal(),
    "skewed": crossed("skewed", motor_map=((0.8, 0.6), (-0.5, 1.1))),
    "too heavy": upright(-2000.0),
}
DIRECTIONS = {
    1: [(1.0,), (-1.0,)],
    2: [(1.0, 0.0), (0.0, -1.0), DIAGONAL, (math.sqrt(0.5), -math.sqrt(0.5)), (0.6, 0.8)],
    3: [(1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (2 / 3, 1 / 3, 2 / 3)],
}
SPEEDS = [0.0, 0.01, 0.05, 0.2, 0.5, 0.8, 1.1, 1.6, 2.5, 6.0]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The section on a page of its own, with the site's style sheet, script and policy, read from a file."""
    folder = tmp_path_factory.mktemp("machine")
    made = environment(template_dirs())
    assets = collect_assets(made, css_properties())
    view = to_json(describe_machines(comparison(), {"series": SETUPS["series"], "parallel": SETUPS["parallel"]}))
    frame = '{% import "macros.html" as m with context %}{% include "sections/your_machine.html" %}'
    context = Context(Site(), made, {}, look=lambda index: Look(style_of(index).slot, render_swatch(style_of(index))))
    section = made.from_string(frame).render(view=view, context=context)
    style, script = assets["style"], assets["your-machine"]
    for asset in (style, script):
        (folder / asset.name).write_bytes(asset.content)
    head = (
        '<meta charset="utf-8"><title>Machine</title><meta name="viewport" content="width=device-width">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        f'<link rel="stylesheet" href="{style.name}"><script defer src="{script.name}"></script>'
    )
    body = f'<main><h1>Machine</h1><section id="your-machine">{section}</section></main>'
    page = f'<!doctype html><html lang="en"><head>{head}</head><body>{body}</body></html>'
    (folder / "index.html").write_text(page, encoding="utf-8")
    return (folder / "index.html").as_uri()


def comparison() -> Comparison:
    """What the section needs of a comparison: names and the move of its trials."""
    candidates = tuple(
        Candidate(name, f"Alder, {name}", ("x", "y"), ((1.0, 1.0), (1.0, -1.0)), "crossed-belts", ("x", "y"), {})
        for name in ("series", "parallel")
    )
    trials = (
        Trial("top", "speed", (1.0, 0.0), {"x": 1}, acceleration=11.0, stroke=0.3),
        Trial("diagonal", "acceleration", DIAGONAL, {"x": 1, "y": 1}, speed=0.5, stroke=0.12),
    )
    return Comparison("plate", "Plate", "2026-09-18", "invented", candidates, trials=trials)


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    faults: list[str] = []
    opened = browser.new_page(viewport={"width": 1000, "height": 900})
    opened.on("console", lambda message: faults.append(message.text) if message.type in ("error", "warning") else None)
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.goto(address)
    yield opened
    opened.close()
    assert faults == []


def described(setup: Setup) -> dict[str, Any]:
    """A set-up as the script takes it, unrounded."""
    machine = describe_setup(setup, setup.candidate) | {"motor_map": setup.motor_map, "copper": COPPER}
    return json.loads(json.dumps(machine))


def agree(found: Any, expected: Any) -> None:
    """Equal to 1e-9 relative; zeros and infinities exactly."""
    found, expected = np.array(found, dtype=float), np.array(expected, dtype=float)
    plain = np.isfinite(expected) & (expected != 0)
    assert found.shape == expected.shape
    assert np.array_equal(found[~plain], expected[~plain])
    assert np.max(np.abs(found[plain] / expected[plain] - 1), initial=0.0) < 1e-9


# --- numbers --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(SETUPS))
def test_lines_equal_pythons(page: Page, name: str) -> None:
    setup = SETUPS[name]
    cases = [(direction, speed) for direction in DIRECTIONS[len(setup.axes)] for speed in SPEEDS]
    script = "([machine, cases]) => cases.map(([d, v]) => Object.values(yourMachine.limitLines(machine, d, v)))"
    found = page.evaluate(script, [described(setup), cases])
    expected = [[float(getattr(limit_lines(setup, d, v), line)) for line in LINES] for d, v in cases]

    agree(found, expected)
    assert np.any(np.array(expected) > 0) or name == "too heavy"


@pytest.mark.parametrize("name", sorted(set(SETUPS) - {"too heavy"}))
@pytest.mark.parametrize("stroke", [0.05, 0.4])
def test_top_speeds_equal_pythons(page: Page, name: str, stroke: float) -> None:
    setup = SETUPS[name]
    direction = DIRECTIONS[len(setup.axes)][-1]
    script = "([machine, d, s, lines]) => lines.map((line) => yourMachine.topSpeed(machine, d, s, line))"
    found = page.evaluate(script, [described(setup), direction, stroke, list(LINES)])
    limits = predict_speed_limit(setup, direction, None, stroke)

    agree(found, [float(limits[line].limit) for line in LINES])


def test_pull_out_torque_equals_pythons(page: Page) -> None:
    motors = [SERIES, PARALLEL, replace(PARALLEL, winding_temperature=373.15)]
    speeds, voltages = np.geomspace(1.0, 30000.0, 60), [1.0, 5.0, 24.0, 48.0]
    cases = [(k, v, float(w)) for k in range(len(motors)) for v in voltages for w in [0.0, *speeds]]
    script = (
        "([motors, copper, cases]) => cases.map(([k, v, w]) => yourMachine.pullOutTorque(motors[k], copper, 2.5, v, w))"
    )
    found = page.evaluate(script, [[vars(motor) for motor in motors], COPPER, cases])

    agree(found, [float(pull_out_torque(motors[k], 2.5, v, w)) for k, v, w in cases])


def test_shares_of_the_pull_out_torque_equal_pythons(page: Page) -> None:
    assert page.evaluate("[yourMachine.START, yourMachine.ANY_TIMING]") == pytest.approx([START, ANY_TIMING], rel=1e-14)


def test_choices_equal_a_changed_set_up(page: Page) -> None:
    choices = {"voltage": 24.0, "current": 2.1, "teeth": 20, "mass": [0.5, 0.9]}
    script = """([candidate, choices, d]) =>
        Object.values(yourMachine.limitLines(yourMachine.applyChoices(candidate, choices), d, 0.7))"""
    found = page.evaluate(script, [described(SETUPS["parallel"]), choices, DIAGONAL])
    belt = replace(BELT, travel_per_turn=0.04)
    changed = crossed(
        "parallel", PARALLEL, 2.1, moving_mass=(0.5, 0.9), supply=Supply(24.0, 0.1), transmissions=(belt, belt)
    )

    agree(found, [float(getattr(limit_lines(changed, DIAGONAL, 0.7), line)) for line in LINES])


def test_the_page_holds_what_it_needs(page: Page) -> None:
    data = json.loads(page.locator("#your-machine-data").text_content() or "")
    machine = data["candidates"][0] | {"motor_map": data["motor_map"], "copper": data["copper"]}
    found = page.evaluate("([m, d]) => Object.values(yourMachine.limitLines(m, d, 0.5))", [machine, DIAGONAL])

    assert data["direction"] == [1.0, 1.0]
    assert data["stroke"] == 0.12  # of the acceleration trial, though a speed trial stands before it
    expected = [float(getattr(limit_lines(SETUPS["series"], DIAGONAL, 0.5), line)) for line in LINES]
    assert found == pytest.approx(expected, rel=1e-8)  # the island is rounded to nine digits


# --- the section ----------------------------------------------------------------------------------------------------


def span(setup: Setup, direction: tuple[float, ...], speed: float) -> str:
    """A cell of the table, from Python's numbers."""
    lines = limit_lines(setup, direction, speed)
    ends = [f"{float(f'{float(value):.2e}'):g}" for value in (lines.any_timing, lines.static)]
    return " to ".join(dict.fromkeys(ends))


def cells(page: Page) -> list[list[str]]:
    return [row.locator("td").all_text_contents() for row in page.locator("[data-your-machine] tbody tr").all()]


def column_speed(page: Page, number: int) -> float:
    """Speed of a column [m/s], from its head."""
    text = page.locator("[data-your-machine] thead th").nth(number + 1).text_content() or ""
    return float(text.split()[1]) / 1000


def test_the_table_prints_pythons_numbers(page: Page) -> None:
    for number in range(3):
        speed = column_speed(page, number)
        expected = [span(SETUPS[name], DIAGONAL, speed) for name in ("series", "parallel")]
        assert [row[number] for row in cells(page)] == expected
    assert "Alder, series" in page.locator("[data-your-machine] tbody th").first.inner_text()


def test_a_field_changes_every_candidate(page: Page) -> None:
    before = cells(page)
    page.get_by_label("Supply voltage [V]").fill("24")
    slower = [replace(SETUPS[name], supply=Supply(24.0, 0.1)) for name in ("series", "parallel")]

    assert cells(page) != before
    speed = column_speed(page, 1)
    assert [row[1] for row in cells(page)] == [span(setup, DIAGONAL, speed) for setup in slower]
    status = page.get_by_role("status").text_content() or ""
    assert "Alder, series" in status and "Alder, parallel" in status and "m/s²" in status


def test_an_empty_field_keeps_each_candidates_own(page: Page) -> None:
    current = page.get_by_label("Drive current, peak of the sine [A]")

    assert current.input_value() == ""  # 1.4 A and 2.8 A
    assert "series 1.4" in page.locator(f"#{current.get_attribute('aria-describedby')}").inner_text()
    assert page.get_by_label("Moving mass, x [g]").input_value() == "280"
    assert page.get_by_label("Pulley, teeth per motor turn").input_value() == "24"


def test_the_drawing_follows(page: Page) -> None:
    line = page.locator('[data-line="series static"]')
    before = line.get_attribute("points")
    page.get_by_label("Supply voltage [V]").fill("24")

    assert line.get_attribute("points") != before
    assert page.locator(".machine-drawing polyline").count() == 7  # three lines a candidate, and the stroke
    assert "NaN" not in page.locator(".machine-drawing").inner_html()
    dashes = [
        page.locator(f'[data-line="{name} static"]').get_attribute("stroke-dasharray")
        for name in ("series", "parallel")
    ]
    assert dashes[0] != dashes[1]
    drawn = page.locator(".machine-drawing text").all_text_contents()
    assert {"Alder, series", "Alder, parallel", "speed [mm/s]", "acceleration [m/s²]"} <= set(drawn)
    strokes = [
        page.locator(f'[data-line="{n} static"]').evaluate("e => getComputedStyle(e).stroke")
        for n in ("series", "parallel")
    ]
    assert strokes[0] != strokes[1]
    assert "none" not in strokes


def test_a_link_carries_the_settings(page: Page, browser: Browser, address: str) -> None:
    page.get_by_label("Supply voltage [V]").fill("30")
    page.get_by_label("Direction, y part").fill("-0.5")
    page.get_by_label("Stroke [mm]").fill("80")
    target = page.get_by_role("link", name="Link that carries this machine").get_attribute("href") or ""
    other = browser.new_page()
    other.goto(address + target)

    assert target.startswith("#machine=")
    assert other.get_by_label("Supply voltage [V]").input_value() == "30"
    assert other.get_by_label("Direction, y part").input_value() == "-0.5"
    assert cells(other) == cells(page)
    other.close()


def test_a_foreign_fragment_changes_nothing(browser: Browser, page: Page, address: str) -> None:
    other = browser.new_page()
    other.goto(address + "#machine=voltage:abc,unknown:3,__proto__:1")

    assert other.get_by_label("Supply voltage [V]").input_value() == ""
    assert cells(other)[0] != []
    other.goto("about:blank")
    other.goto(address + "#weights=a:1")
    assert cells(other) == cells(page)
    other.close()


@pytest.mark.parametrize(
    ("label", "text", "words"),
    [
        ("Supply voltage [V]", "0", "Supply voltage must be above zero"),
        ("Moving mass, x [g]", "-5", "Moving mass, x must be above zero"),
        ("Supply voltage [V]", "0.5", "no voltage"),
    ],
)
def test_a_wrong_value_is_said_and_keeps_the_drawing(page: Page, label: str, text: str, words: str) -> None:
    before = page.locator(".machine-drawing").inner_html()
    page.get_by_label(label).fill(text)

    assert words in (page.get_by_role("status").text_content() or "")
    assert page.locator(".machine-drawing").inner_html() == before


def test_a_direction_of_nothing_is_said(page: Page) -> None:
    for axis in ("x", "y"):
        page.get_by_label(f"Direction, {axis} part").fill("0")

    assert "at least one part" in (page.get_by_role("status").text_content() or "")


def test_it_works_from_the_keyboard_alone(page: Page) -> None:
    before = cells(page)
    visited = []
    for _ in range(14):
        page.keyboard.press("Tab")
        visited.append(page.evaluate("document.activeElement.id || document.activeElement.textContent"))
        if visited[-1] == "machine-voltage":
            page.keyboard.press("Control+A")
            page.keyboard.type("20")
            changed = cells(page)
        if visited[-1] == "Back to the tested machine":
            page.keyboard.press("Enter")
            break

    fields = ["voltage", "current", "mass-x", "mass-y", "teeth", "direction-x", "direction-y", "stroke"]
    assert [name for name in visited if name.startswith("machine-")] == [f"machine-{name}" for name in fields]
    assert changed != before
    assert cells(page) == before


def test_it_fits_a_phone(page: Page) -> None:
    page.set_viewport_size({"width": 360, "height": 740})
    drawing = page.locator(".machine-drawing svg")
    for _ in range(100):  # it is drawn anew once the window has its new width
        if float(drawing.get_attribute("width") or 1e9) < 345:
            break
        page.wait_for_timeout(50)

    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    lines = page.locator(".machine-drawing polyline")
    highest = lines.evaluate_all("all => all.map(line => line.getBoundingClientRect().top)")
    data = json.loads(page.locator("#your-machine-data").text_content() or "")
    for name in [candidate["name"] for candidate in data["candidates"]]:  # above all curves, where none can cross it
        box = page.locator(".machine-drawing text", has_text=name).bounding_box()
        assert box is not None and box["y"] + box["height"] <= min(highest)
    smallest = page.locator(".machine-drawing text").first.evaluate("e => e.getBoundingClientRect().height")
    assert smallest >= 10


def test_without_scripts_it_says_what_it_would_do(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    opened = context.new_page()
    opened.goto(address)

    assert "This needs scripts, which are off here." in opened.locator("#your-machine").inner_text()
    assert not opened.locator("[data-your-machine]").is_visible()
    context.close()


def test_the_script_asks_nobody(tmp_path: Path) -> None:
    text = (template_dirs()[0] / "scripts" / "your-machine.js").read_text(encoding="utf-8")

    assert not [
        word
        for word in ("http://", "https://", "fetch(", "import(", "eval(", "innerHTML")
        if word in text.replace("http://www.w3.org/2000/svg", "")
    ]
