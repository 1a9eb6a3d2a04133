"""The results object: its shape against the schema, its figures against their own rules, all demos and variants."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from decimal import Decimal
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from reading import REFERENCE, RUNS, change, measured, read_text, reference

from generator import __version__
from generator.analysis.agreement import BELOW, INSIDE
from generator.analysis.contrast import NO_DIFFERENCE, NOT_COMPARABLE, ONLY_LOWER, ONLY_UPPER, TOO_FEW, UNDECIDED
from generator.evaluation.comparison import evaluate
from generator.evaluation.numbers import canonical_bytes

SCHEMA = json.loads(files("generator.evaluation").joinpath("results.schema.json").read_text(encoding="utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA)
SLUGS = ("braille-plate-plotter", "herbarium-gantry", "tile-engraver")


def faults(results: Any) -> list[str]:
    """Where a results object leaves its schema."""
    return [f"{'/'.join(map(str, e.absolute_path))}: {e.message[:200]}" for e in VALIDATOR.iter_errors(results)]


def figures(thing: Any) -> Iterator[float]:
    """Every float anywhere in a JSON value."""
    if isinstance(thing, float):
        yield thing
    elif isinstance(thing, dict):
        for value in thing.values():
            yield from figures(value)
    elif isinstance(thing, list):
        for value in thing:
            yield from figures(value)


def objects(schema: Any, place: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every object schema with the place where it stands."""
    if isinstance(schema, dict):
        if "properties" in schema and isinstance(schema["properties"], dict):
            yield place, schema
        for key, value in schema.items():
            yield from objects(value, f"{place}/{key}")
    elif isinstance(schema, list):
        for number, value in enumerate(schema):
            yield from objects(value, f"{place}/{number}")


# --- the schema itself ------------------------------------------------------------------------------------------------


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)


def test_every_key_is_described_in_a_sentence_and_nothing_else_may_stand() -> None:
    found = list(objects(SCHEMA))

    assert len(found) > 80
    for place, schema in found:
        assert schema["additionalProperties"] is False, place
        for key, value in schema["properties"].items():
            if key != "schema":
                assert value.get("description", "").endswith("."), f"{place}: {key}"


def test_every_number_has_its_unit() -> None:
    # in square brackets, or in words that say there is none: a seed, an index, a version, a unit of its own key
    bare = {"seed", "schema", "motor", "channel", "order", "nominal", "low", "median", "high"}
    for place, schema in objects(SCHEMA):
        for key, value in schema["properties"].items():
            kinds = value.get("type", "")
            if ("number" in kinds or "integer" in kinds) and key not in bare:
                assert "[" in value["description"], f"{place}: {key}"


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("data",), "guessed"),
        (("measurements", 0, "kind"), "bracket"),
        (("measurements", 0, "unit"), "mm/s"),
        (("contrasts", 0, "call"), "p wins"),
        (("contrasts", 0, "between"), ["p", "p"]),
        (("agreement", 0, "place"), "inside"),
        (("predictions", 0, "bound_by"), "voltage"),
        (("inputs", 0, "unit"), "mm"),
        (("curves", 0, "direction"), [1.0, 0.0]),
        (("candidates", 0, "rotor_teeth"), 50.5),
        (("date",), "18 September"),
        (("surplus",), 1),
    ],
)
def test_the_schema_refuses(results: dict[str, Any], path: tuple[Any, ...], wrong: Any) -> None:
    changed = copy.deepcopy(results)
    holder = changed
    for step in path[:-1]:
        holder = holder[step]
    assert faults(changed) == []
    holder[path[-1]] = wrong  # type: ignore[index]

    assert faults(changed)


@given(data=st.data())
def test_no_required_key_may_be_missing(results: dict[str, Any], data: st.DataObject) -> None:
    key = data.draw(st.sampled_from(sorted(results)))

    assert faults({name: value for name, value in results.items() if name != key})


# --- results against the schema ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("slug", SLUGS)
def test_demos_fit_the_schema(demos: dict[str, dict[str, Any]], slug: str) -> None:
    assert faults(demos[slug]) == []


@pytest.mark.parametrize("slug", SLUGS)
def test_figures_are_finite_with_nine_digits_and_read_back(demos: dict[str, dict[str, Any]], slug: str) -> None:
    content = canonical_bytes(demos[slug])
    every = list(figures(demos[slug]))

    assert len(every) > 1000
    for figure in every:
        assert math.isfinite(figure)
        assert len(Decimal(repr(figure)).normalize().as_tuple().digits) <= 9, figure
    assert json.loads(content, parse_constant=lambda name: pytest.fail(name)) == demos[slug]


def test_a_simulated_climb_and_map_fit_the_schema() -> None:
    # one slow trial, so that the map is small
    text = REFERENCE[: REFERENCE.index("  - id: fast")].replace("stall_map: false", "stall_map: true")
    text = change(text, ("speed: 500 mm/s", "speed: 100 mm/s"), ("stroke: 120 mm", "stroke: 10 mm"))
    results = evaluate(read_text(text), {}, draws=50)

    assert faults(results) == []
    assert len(results["stall_maps"]) == 2
    for prediction in results["predictions"]:
        climb = prediction["simulated"]
        assert climb["last_held"] is not None
        # undamped theory loses between any-timing and static; friction in the simulation may only help
        assert climb["first_lost"] is None or climb["first_lost"] > prediction["any_timing"]["nominal"]


ENDS = st.sampled_from(["", "matters: {kinds: {acceleration: 5 %}}\n", "weights: {diagonal: 2, fast: 1}\n"])
LEVELS = "sound:\n  - id: hum\n    levels: {p: [52.1 dB(A), 52.4 dB(A)], q: [49 dB(A)]}\n"
PANELS = "panel:\n  - id: look\n    pairs: [{between: [p, q], votes: [7, 2], no_preference: 1}]\n"


@st.composite
def variants(draw: st.DrawFn) -> str:
    """The reference comparison with other figures, runs, tries, bounds and sections."""
    speed, voltage = draw(st.integers(20, 3000)), draw(st.integers(12, 60))
    held = draw(st.integers(10, 90))
    tries = ", ".join(f"{{at: {at} m/s², held: {7 - at + held}, lost: {at - held + 1}}}" for at in (held, held + 1))
    kinds = ["", RUNS, f"\n    attempts: {{p: [{tries}]}}\n"]
    kinds.append(f"\n    runs: {{p: [{{held: {held} m/s², lost: {held + 1} m/s²}}]}}\n")
    kinds.append(f"\n    runs: {{p: [{{held: {held} m/s², stopped: operator}}], q: [{{lost: 10 m/s²}}]}}\n")
    runs = draw(st.sampled_from(kinds))
    text = change(
        REFERENCE,
        ("speed: 500 mm/s\n    stroke: 120 mm\n", f"speed: {speed} mm/s\n"),
        ("voltage: 48 V", f"voltage: {voltage} V"),
        ("ladder: {start: 20 m/s², rung: 1 m/s²}\n", f"ladder: {{start: 10 m/s², rung: 1 m/s²}}{runs or chr(10)}"),
    )
    return text + draw(ENDS) + "".join(draw(st.lists(st.sampled_from([LEVELS, PANELS]), unique=True)))


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(text=variants())
def test_variants_fit_the_schema(text: str) -> None:
    results = evaluate(read_text(text), {}, draws=20)

    assert faults(results) == []
    assert all(math.isfinite(figure) for figure in figures(results))


# --- what stands in it ------------------------------------------------------------------------------------------------


def test_head(results: dict[str, Any]) -> None:
    assert results["made_with"] == {
        "stallmark": __version__, "models": "2", "draws": 200, "seed": results["made_with"]["seed"],
    }  # fmt: skip
    assert results["comparison"] == "reference" and results["data"] == "invented"
    assert results["answer"] == results["verdict"]["sentence"]


def test_derived_figures_by_hand(results: dict[str, Any]) -> None:
    p, q = results["candidates"]

    assert p["rotor_teeth"] == 50 and q["rotor_teeth"] == 100
    assert p["flux_linkage"] == pytest.approx(0.5 / (math.sqrt(2) * 50 * 2.5), rel=1e-8)
    assert p["static_torque"] == pytest.approx(0.5 / math.sqrt(2), rel=1e-8)
    assert p["time_constant"] == pytest.approx(1.5e-3 / 1.2, rel=1e-8)
    assert p["torque_stiffness"] == pytest.approx(50 * 0.5 / math.sqrt(2), rel=1e-8)
    assert p["travel_per_turn"] == pytest.approx(0.04, rel=1e-8)
    assert p["available_voltage"] == 48.0


def test_measurements_carry_their_runs(results: dict[str, Any]) -> None:
    p, q = results["measurements"]

    assert [run["held"] for run in p["runs"]] == [31.0, 33.0, 32.0]
    assert (p["estimate"], q["estimate"]) == (32.5, 25.5)
    assert p["standard_uncertainty"] == pytest.approx(1 / math.sqrt(3), rel=1e-8)


def test_an_unmeasured_comparison_is_a_bench_sheet() -> None:
    results = evaluate(reference(), {}, draws=50)

    assert results["measurements"] == results["agreement"] == results["contrasts"] == []
    assert "bench sheet" in results["answer"]
    assert results["verdict"]["not_measured"] == 1.0


def test_sections_name_only_items_and_candidates_that_are_there(demos: dict[str, dict[str, Any]]) -> None:
    for results in demos.values():
        items = {item["id"] for item in results["items"]}
        names = {candidate["id"] for candidate in results["candidates"]}
        for section in ("measurements", "contrasts"):
            assert {row["item"] for row in results[section]} <= items
        for section in ("measurements", "predictions", "agreement", "cautions", "tones", "resonance", "influences"):
            assert {row["candidate"] for row in results[section]} <= names
        assert {turn["item"] for turn in results["verdict"]["turns_when"]} <= items


def test_every_pair_once_per_item_in_file_order(demos: dict[str, dict[str, Any]]) -> None:
    results = demos["herbarium-gantry"]
    order = [candidate["id"] for candidate in results["candidates"]]
    for item in {row["item"] for row in results["contrasts"]}:
        pairs = [tuple(row["between"]) for row in results["contrasts"] if row["item"] == item]
        assert pairs == [(a, b) for k, a in enumerate(order) for b in order[k + 1 :]]


def test_a_machine_that_nothing_can_move_has_no_stall_map() -> None:
    text = change(
        REFERENCE,
        ("stall_map: false", "stall_map: true"),
        ("moving_mass: 350 g", "moving_mass: 350 g, friction: 500 N"),
    )
    text = change(text, ("moving_mass: 650 g", "moving_mass: 650 g, friction: 500 N"))
    results = evaluate(read_text(text), {}, draws=50)

    assert results["stall_maps"] == []
    assert faults(results) == []


def test_the_demos_show_every_call_and_a_limit_that_the_model_misses(demos: dict[str, dict[str, Any]]) -> None:
    calls = {row["call"] if row["ahead"] is None else "ahead" for found in demos.values() for row in found["contrasts"]}
    places = {row["place"] for found in demos.values() for row in found["agreement"]}

    assert calls == {"ahead", NO_DIFFERENCE, UNDECIDED, TOO_FEW, NOT_COMPARABLE, ONLY_LOWER, ONLY_UPPER}
    assert places >= {INSIDE, BELOW}


def test_differences_are_those_of_the_estimates(demos: dict[str, dict[str, Any]]) -> None:
    for results in demos.values():
        estimates = {(m["item"], m["candidate"]): m["estimate"] for m in results["measurements"]}
        for item in results.get("sound") or ():  # levels are averaged energetically, their differences are not
            estimates |= {(item["id"], level["candidate"]): level["mean_of_levels"] for level in item["levels"]}
        for row in results["contrasts"]:
            first, second = (estimates.get((row["item"], name)) for name in row["between"])
            if row["difference"] is not None and not row["drift_removed"] and row["kind"] != "panel":
                assert row["difference"] == pytest.approx(first - second, rel=1e-6)


def test_the_same_file_gives_the_same_bytes(results: dict[str, Any]) -> None:
    assert canonical_bytes(evaluate(measured(), {}, draws=200)) == canonical_bytes(results)
