"""Views of a comparison: strips, trials, specification, verdict, reasons, recordings, report, bench, cautions."""

from __future__ import annotations

from typing import Any

import pytest

from generator.pages.bench_sheet import view_bench
from generator.pages.computed_cautions import view_cautions
from generator.pages.context import NO_MEDIA, Media, Picture
from generator.pages.figures import format_tolerance, number
from generator.pages.labels import call_words, counted, input_label, listed, short_label
from generator.pages.recordings import view_panel, view_sound, view_surfaces, view_vibration
from generator.pages.report import view_report
from generator.pages.sentences import corridor_heading, corridor_prose, trials_prose, verdict_counts
from generator.pages.specification import view_specification
from generator.pages.strips import WIDTH, find_strip, find_top
from generator.pages.trials import view_trials
from generator.pages.verdict import view_verdict
from generator.pages.why import view_why

# --- figures and words ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ({"tolerance": 0.05, "unit": "H"}, "± 5 %"),
        ({"tolerance": 0.03, "tolerance_relative": False, "unit": "1"}, "± 0.03"),
        ({"tolerance": 5.0, "tolerance_relative": False, "unit": "K"}, "± 5 K"),
        ({"tolerance": 0.02, "distribution": "normal", "unit": "V"}, "± 2 % (standard)"),
        ({"tolerance": 0.2732, "distribution": "one-sided", "value": 1.0, "unit": "1"}, "up to 1.27"),
        ({"tolerance": None, "unit": "H"}, ""),
    ],
)
def test_tolerances_are_told_by_their_kind(row: dict[str, Any], expected: str) -> None:
    assert format_tolerance(row) == expected


def test_bare_numbers_keep_their_digits() -> None:
    assert [number(0.0), number(0.8036, 2), number(1.2e-9), number(-3.0e9)] == [
        "0", "0.80", "1.20 × 10⁻⁹", "−3.00 × 10⁹",
    ]  # fmt: skip


def test_words_for_people() -> None:
    assert input_label("machine.axes.x.moving_mass") == "Moving mass, x"
    assert input_label("machine.motors.y.transmission.drag_torque") == "Drag torque at a turning shaft, motor y"
    assert input_label("machine.gizmo_size") == "Gizmo size"
    assert short_label("machine.axes.x.moving_mass") == "Moving mass of x"
    assert short_label("machine.motors.y.transmission.drag_torque") == "Drag torque at a turning shaft of motor y"
    assert short_label("motor.holding_torque") == "Holding torque"
    assert short_label("drive.sine_factor") == "Wave shape of the drive’s voltage (k_v)"
    assert call_words({"call": "too few runs", "ahead": None}, {}) == "Too few runs"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert counted(1, "run") == "1 run"


# --- strips ---------------------------------------------------------------------------------------------------------


def test_a_strip_is_to_scale() -> None:
    prediction = {
        "static": {"nominal": 50.0, "high": 60.0},
        "start": {"nominal": 36.0},
        "any_timing": {"nominal": 20.0, "low": 15.0},
    }  # fmt: skip
    measured = {"kind": "bracketed", "count": 3, "low": 30.0, "high": 40.0, "estimate": 35.0}

    strip = find_strip(prediction, measured, 100.0)

    assert strip.band is not None and strip.pale is not None and strip.measured is not None
    assert (strip.band.x, strip.band.width) == (0.2 * WIDTH, 0.3 * WIDTH)
    assert (strip.pale.x, strip.pale.width) == (0.15 * WIDTH, 0.45 * WIDTH)
    assert strip.start == pytest.approx(0.36 * WIDTH)
    assert (strip.measured.x, strip.measured.width, strip.estimate) == (0.3 * WIDTH, 0.1 * WIDTH, 0.35 * WIDTH)


def test_a_strip_shows_bounds_and_single_brackets_as_such() -> None:
    bound = find_strip(None, {"kind": "lower bound", "count": 2, "at_least": 50.0}, 100.0)
    single = find_strip(None, {"kind": "bracketed", "count": 1, "low": 31.0, "high": 32.0}, 100.0)
    nothing = find_strip(None, None, 100.0)

    assert (bound.at_least, bound.measured) == (0.5 * WIDTH, None)
    assert single.bracket
    assert (nothing.band, nothing.measured, nothing.at_least) == (None, None, None)


def test_the_scale_ends_at_a_round_figure_beyond_everything() -> None:
    assert find_top([{"static": {"high": 91.0}}], []) == 100.0
    assert find_top([{"static": {"high": 1.4}}], [{"at_least": 1.8}]) == 2.0
    assert find_top([], []) == 1.2


# --- trials ---------------------------------------------------------------------------------------------------------


def test_a_trial_gives_a_lane_per_candidate_and_its_calls(results: dict[str, Any]) -> None:
    first, _, speed = view_trials(results)

    assert [lane["measured"] for lane in first["lanes"]] == ["37.50 ± 0.90 m/s²", "67.0 ± 1.2 m/s²"]
    assert [lane["ratio"] for lane in first["lanes"]] == ["0.85", "0.89"]
    assert first["calls"][0]["words"] == "Alder 42-8, parallel ahead"
    assert first["calls"][0]["lead"] == " by 29.5 ± 1.6 m/s²"
    assert first["calls"][0]["slot"] == 1
    assert first["runs"][0]["rows"][0] == ("36.5 m/s²", "37.5 m/s²", "1")
    assert "too few runs to test for drift" in first["drift"]
    assert speed["lanes"][1]["measured"] == "at least 1750 mm/s"
    assert speed["runs"][0]["rows"][0] == ("1750 mm/s", "never", "stroke")


def test_a_simulated_ladder_far_from_the_measured_limit_is_said_to_be(results: dict[str, Any]) -> None:
    # measured 37.5 and 67.0 m/s²; top speeds 1.175 m/s and at least 1.75 m/s
    climbs = {
        ("diagonal-500", "series"): {"first_lost": 47.0, "last_held": 46.0, "phase": "start"},
        ("diagonal-500", "parallel"): {"first_lost": 53.0, "last_held": 52.0, "phase": "start"},
        ("top-speed", "series"): {"first_lost": None, "last_held": 1.4, "phase": None},
        ("top-speed", "parallel"): {"first_lost": 3.0, "last_held": 2.95, "phase": "cruise"},
    }
    for row in results["predictions"]:
        row["simulated"] = climbs.get((row["trial"], row["candidate"]))
    first, second, speed = view_trials(results)

    assert first["apart"] == (
        "That is more than a quarter above the measured limit of Alder 42-8, series and "
        "more than a quarter below the measured limit of Alder 42-8, parallel."
    )
    assert (second["apart"], speed["apart"]) == ("", "")  # 1.4 is within a quarter, a bound leaves room above
    results["predictions"][0]["simulated"]["first_lost"] = 46.8
    results["predictions"][4]["simulated"]["last_held"] = 1.5
    first, _, speed = view_trials(results)
    assert first["apart"].startswith("That is more than a quarter below")
    assert speed["apart"] == "That is more than a quarter above the measured limit of Alder 42-8, series."


def test_attempts_are_listed_as_attempts(results: dict[str, Any]) -> None:
    attempts = view_trials(results)[1]["runs"][0]

    assert attempts["head"] == ("Tried at", "Held", "Lost")
    assert attempts["rows"] == [("14 m/s²", "5", "0")]
    names = "Alder 42-8, series and Alder 42-8, parallel"
    assert view_trials(results)[1]["drift"] == f"{names}: attempts carry no order, so no room is made for a drift"


def test_no_share_of_a_limit_that_is_only_the_stroke(results: dict[str, Any]) -> None:
    results["predictions"][4]["bound_by"] = "stroke"
    lane = view_trials(results)[2]["lanes"][0]

    assert (lane["ratio"], lane["place"], lane["bound_by"]) == ("", "inside corridor", "stroke")


def test_runs_that_would_decide_are_said(three: dict[str, Any]) -> None:
    calls = view_trials(three)[0]["calls"]

    assert calls[1]["more"] == "9 runs of each would be expected to decide it"
    assert calls[1]["pair"] == "Alder 42-8, parallel against 48 V supply"


# --- sentences ------------------------------------------------------------------------------------------------------


def test_headings_and_default_prose_count_the_places(results: dict[str, Any]) -> None:
    assert corridor_heading(results) == (
        "4 of 5 limits found lie in the predicted corridor, 1 above it; 1 more is only bounded"
    )
    above, bound = corridor_prose(results)
    assert above.startswith("Above what the static limit allows: Alder 42-8, parallel in")
    assert bound.startswith("Only a lower bound, so its place is open")
    assert trials_prose(results) == ["3 pairs were compared: 2 with one candidate ahead and 1 “only a lower bound”."]


@pytest.mark.parametrize(
    ("places", "heading"),
    [
        (["between any-timing and start", "inside corridor"], "Both limits found lie in the predicted corridor"),
        (["inside corridor"] * 3, "All 3 limits found lie in the predicted corridor"),
        (["above static limit"] * 2, "Both limits found lie above the predicted corridor"),
        (["above static limit"] * 3, "All 3 limits found lie above the predicted corridor"),
        (["below any-timing limit"], "The limit found lies below the predicted corridor"),
        (["inside corridor", "above static limit"], "1 of 2 limits found lies in the predicted corridor, 1 above it"),
        (["below any-timing limit", "inside corridor", "inside corridor", "above static limit"],
         "2 of 4 limits found lie in the predicted corridor, 1 above it, 1 below it"),
        (["inside corridor", "too wide to place"],
         "The limit found lies in the predicted corridor; 1 more is too uncertain to place"),
        (["too wide to place"], "The corridor that the inputs predict"),
        (["inside corridor", "only an upper bound", "only a lower bound"],
         "The limit found lies in the predicted corridor; 2 more are only bounded"),
        (["only an upper bound"], "The corridor that the inputs predict"),
    ],
)  # fmt: skip
def test_the_heading_counts_what_was_found(places: list[str], heading: str) -> None:
    assert (
        corridor_heading({"agreement": [{"trial": "t", "candidate": "c", "place": place} for place in places]})
        == heading
    )


def test_without_measurements_nothing_is_claimed(unmeasured: dict[str, Any]) -> None:
    assert corridor_heading(unmeasured) == "The corridor that the inputs predict"
    assert corridor_prose(unmeasured) == []
    assert trials_prose(unmeasured) == []


@pytest.mark.parametrize(
    ("counts", "heading"),
    [
        ((1, 2, 2), "All 3 limits found lie in the predicted corridor; 1 of the 3 rests on a single run"),
        ((1, 1, 2), "All 3 limits found lie in the predicted corridor; 2 of the 3 rest on a single run"),
        ((1, 1, 1), "All 3 limits found lie in the predicted corridor; from single runs"),
    ],
)
def test_the_heading_says_what_rests_on_single_runs(counts: tuple[int, ...], heading: str) -> None:
    names = "abc"
    found = {
        "agreement": [{"trial": "t", "candidate": name, "place": "inside corridor"} for name in names],
        "measurements": [
            {"item": "t", "candidate": name, "kind": "bracketed", "count": count}
            for name, count in zip(names, counts, strict=True)
        ],
    }
    assert corridor_heading(found) == heading


def test_a_bound_is_never_a_limit_found() -> None:
    rows = [("a", "below any-timing limit", "upper bound"), ("b", "inside corridor", "bracketed")]
    found = {
        "agreement": [{"trial": "t", "candidate": name, "place": place} for name, place, _ in rows],
        "measurements": [{"item": "t", "candidate": name, "kind": kind, "count": 3} for name, _, kind in rows],
    }
    assert corridor_heading(found) == "The limit found lies in the predicted corridor; 1 more is only bounded"


# --- specification, verdict, report ---------------------------------------------------------------------------------


def test_specification_tells_own_shared_and_derived_apart(results: dict[str, Any]) -> None:
    view = view_specification(results)

    differing, equal = (rows for _, rows in view["groups"])
    assert [row["label"] for row in differing] == [
        "Drive current, peak of the sine", "Phase resistance at 20 °C", "Phase inductance",
    ]  # fmt: skip
    assert differing[2]["cells"][0] == {"value": "6 mH", "tolerance": "± 5 %", "source": "bridge meter, 1 kHz"}
    assert "Step angle" in [row["label"] for row in equal]
    assert [row["label"] for row in view["shared"]] == ["Moving mass, x", "Moving mass, y", "Supply voltage"]
    assert view["shared"][0]["tolerance"] == "± 2 %, assumed"
    assert {"label": "Rotor teeth", "cells": ["50", "50"]} in view["derived"]


def test_the_verdict_gives_shares_and_the_data_for_own_weights(results: dict[str, Any]) -> None:
    results["verdict"]["turns_when"] = [
        {
            "item": "diagonal-500",
            "weight": 3.0,
            "below": 0.5,
            "above": None,
            "leader_below": None,
            "leader_above": None,
        },
        {"item": "traverse-100", "weight": 2.0, "below": None, "above": None},
    ]
    view = view_verdict(results)

    assert view is not None
    assert [share["share"] for share in view["shares"]] == ["0 %", "71.4 %", "28.6 %", "0 %", "0 %"]
    assert sum(share["width"] for share in view["shares"]) == pytest.approx(320, abs=0.5)
    assert view["sentence"] == "By the author’s weights Alder 42-8, parallel leads, winning 71.4 % outright."
    assert view["turns"] == [f"{view['entries'][0]['title']}: with a weight below 0.5, nobody leads"]
    assert view["data"]["items"][0] == {
        "id": "diagonal-500", "title": view["entries"][0]["title"], "weight": 3.0, "outcome": "won",
        "winner": "parallel",
    }  # fmt: skip
    intervals = "on 99 % intervals. Of a hundred such calls between equal candidates about one would come out wrong."
    assert view["counts"] == f"This page makes 4 calls {intervals}"
    results["contrasts"][3]["kind"] = "panel"
    assert verdict_counts(results) == (
        f"This page makes 3 calls {intervals} This page makes 1 call by a blind panel’s exact test at 5 %. "
        "Of twenty such calls by votes that are mere guesses at most one would come out wrong."
    )


def test_an_unmeasured_verdict_says_so(unmeasured: dict[str, Any]) -> None:
    view = view_verdict(unmeasured)

    assert view is not None
    assert view["sentence"] == "Nothing has been measured yet, so nothing is weighed."


def test_the_report_states_facts_and_lists_what_is_missing(results: dict[str, Any]) -> None:
    view = view_report(results)

    assert view is not None
    facts = dict(view["facts"])
    assert facts["Tested"] == "15 September 2026 to 17 September 2026"
    assert (facts["Warm-up"], facts["Relative humidity"], facts["Steps count as lost from"]) == (
        "10 min",
        "45 %",
        "0.1 mm",
    )
    assert "Place" not in facts
    assert view["things"][0][1] == (
        "how obtained: bought, condition: new, units tested: 1, run for 12 h, price: 31.50 EUR on 20 August 2026"
    )
    assert view["instruments"] == [("dial gauge", "checked on 1 August 2026, uncertainty 0.01 mm")]
    assert view["missing"] == ["the condition of the item parallel"]


# --- reasons --------------------------------------------------------------------------------------------------------


def test_reasons_name_what_decides_and_what_would_explain(results: dict[str, Any]) -> None:
    view = view_why(results)

    assert view is not None
    assert view["influences"]["words"] == "The phase inductance decides 1 of 1 prediction of the static limit."
    assert view["influences"]["rows"][0][3:] == ("50 %", "+26 % and −18 %")
    assert "Top speed" in view["influences"]["still"]
    (explained,) = view["explanations"]
    assert explained["place"] == "above static limit"
    assert explained["causes"] == [
        "Motor torque: 1.20 times the stated one would explain it.",
        "No value in its range explains it: moving mass (0.700 to 1.30 times).",
        "Without effect there: supply sag.",
    ]


def test_calibration_says_what_was_used_and_what_was_predicted(results: dict[str, Any]) -> None:
    view = view_why(results)

    assert view is not None
    fitted, failed = view["calibration"]
    assert "with 1.14 times the stated motor torque the start line meets" in fitted["sentence"]
    assert fitted["rows"][0][1:] == ("19.5 m/s²", "15.2 ± 1.1 m/s²", "+28 %")
    assert failed == {"sentence": "Alder 42-8, parallel: No factor does it.", "rows": []}


def test_calibrated_predictions_stand_beside_limits_as_the_trials_print_them(results: dict[str, Any]) -> None:
    speed = {"trial": "top-speed", "unit": "m/s", "start": 1.82, "measured": None, "error": None}
    results["calibration"][1] |= {"factor": 1.2, "predicted": [speed]}
    results["calibration"][0]["predicted"] = [speed | {"measured": 1.175, "error": 0.55}]
    view = view_why(results)

    assert view is not None
    fitted, other = view["calibration"]
    assert fitted["rows"][0][1:] == ("1820 mm/s", "1175 ± 30 mm/s", "+55 %")
    assert other["rows"][0][1:] == ("1820 mm/s", "at least 1750 mm/s", "–")


def test_the_inputs_that_decide_are_counted_by_short_names(results: dict[str, Any]) -> None:
    first = results["influences"][0]
    results["influences"] += [
        first | {"trial": "diagonal-900", "path": "motor.holding_torque"},
        first | {"candidate": "parallel", "path": "motor.holding_torque"},
        first | {"trial": "top-speed", "candidate": "parallel", "path": "drive.sine_factor"},
    ]
    view = view_why(results)

    assert view is not None
    assert view["influences"]["words"] == (
        "The holding torque decides 2 of 4 predictions of the static limit, the phase inductance 1, "
        "the wave shape of the drive’s voltage (k_v) 1."
    )


def test_resonance_and_tones_are_tables(results: dict[str, Any]) -> None:
    view = view_why(results)

    assert view is not None
    assert view["resonance"]["rows"][1][5:] == ("0.0 (−1.8 to 2.0) Hz", "0.40 Hz")
    assert view["resonance"]["messages"] == ["x, Alder 42-8, series: Too sensitive."]
    (row,) = view["tones"]["rows"]  # equal rows of both candidates are joined
    assert row[1] == "all"
    assert row[3:6] == ("2950 Hz", "737 Hz", "354 Hz")


def test_the_resonance_table_says_where_its_stiffness_comes_from(results: dict[str, Any]) -> None:
    stated = {"belt_stiffness": 60e3, "stiffness_from": "stated"}
    results["resonance"] += [
        results["resonance"][0] | stated, results["resonance"][1] | stated,
        results["resonance"][0] | {"belt_stiffness": None, "stiffness_from": None, "stiffness_of_peak": None},
    ]  # fmt: skip
    view = view_why(results)

    assert view is not None
    assert view["resonance"]["head"][1] == "Belt stiffness used"
    assert [row[1] for row in view["resonance"]["rows"]] == [
        "59.2 N/mm, from this peak", "59.2 N/mm, from the peak of Alder 42-8, series",
        "60 N/mm, stated; this peak asks for 59.2 N/mm", "60 N/mm, stated", "–",
    ]  # fmt: skip


def test_maps_that_could_not_be_simulated_are_named(results: dict[str, Any]) -> None:
    results["stall_maps"] = [
        {"candidate": "series", "direction": {"x": 1.0, "y": 1.0}, "note": None, "message": "No belt pitch."},
        {"candidate": "parallel", "direction": {"x": 1.0}, "note": "This map has 24 × 24 cells.", "message": None},
    ]
    view = view_why(results)

    assert view is not None
    assert view["maps"] == ["Alder 42-8, series along the diagonal of x and y: No belt pitch."]


# --- recordings -----------------------------------------------------------------------------------------------------


def test_sound_lists_tones_with_limits_and_causes(results: dict[str, Any]) -> None:
    found = view_sound(results, NO_MEDIA)

    assert found is not None
    (item,) = found
    assert item["tones"][0][3:] == (
        "14.2 dB (limit 11.2 dB)", "13.0 dB (limit 12.8 dB)", "full steps (detent)",
    )  # fmt: skip
    assert item["minor"][0][4:] == ("−2.0 dB (limit 12.8 dB)", "no predicted tone fits")
    assert {row["quantity"] for row in item["rows"]} == {"A-weighted level"}
    assert item["facts"] == "microphone at 500 mm, calibrated with 94 dB, background 35.0 dB(A)"
    assert item["recordings"][0][:4] == ("a.wav", "Alder 42-8, series", "52.3 dB(A)", "17.0 dB")


def test_vibration_names_an_operating_peak_as_such(results: dict[str, Any]) -> None:
    found = view_vibration(results, NO_MEDIA)
    results["vibration"][0]["excitation"] = "run"
    running = view_vibration(results, NO_MEDIA)

    assert found is not None and running is not None
    assert (found[0]["peak"], running[0]["peak"]) == ("Peak", "Operating peak")
    assert found[0]["fits"][0][1] == "92.6 ± 1.2 Hz"
    assert found[0]["recordings"][0][4] == "at most 0.037"


def test_surfaces_mark_bands_and_ripples_on_the_photo(results: dict[str, Any]) -> None:
    media = Media({("plate", "series"): Picture({"image/jpeg": (("archive/assets/a.jpg", 200),)}, 200, 120)})
    found = view_surfaces(results, media)

    assert found is not None
    (item,) = found
    (photo,) = item["photos"]
    assert [mark["text"] for mark in photo["overlay"]["marks"]] == ["20 mm/s: 1.4 mm", "40 mm/s: clean"]
    assert [mark["y"] for mark in photo["overlay"]["marks"]] == [0.0, 60.0]
    assert item["ripples"][0][2:4] == ("1.410 ± 0.050 mm", "0.28 %")
    assert item["clean"] == [
        "Alder 42-8, series: clean at 40 mm/s, though there is a ripple at 20 mm/s.",
        "Alder 42-8, parallel: every band is clean, up to 40 mm/s.",
    ]  # fmt: skip


def test_bands_that_stand_upright_are_turned(results: dict[str, Any]) -> None:
    results["surfaces"][0]["along"] = "vertical"
    media = Media({("plate", "series"): Picture({"image/jpeg": (("archive/assets/a.jpg", 200),)}, 200, 120)})
    found = view_surfaces(results, media)

    assert found is not None
    marks = found[0]["photos"][0]["overlay"]["marks"]
    assert [(mark["x"], mark["width"]) for mark in marks] == [(0.0, 60.0), (60.0, 60.0)]


def test_a_panel_counts_persons(results: dict[str, Any]) -> None:
    results["panel"][0]["strengths"] = {
        "candidates": ["series", "parallel"],
        "logs": [0.0, None],
        "uncertainties": [None, None],
        "state": ["finite", "without upper limit"],
    }
    found = view_panel(results, NO_MEDIA)

    assert found is not None
    assert found[0]["pairs"][0][1:] == ("7 to 9", "4", "44 %", "20 % to 70 %", "0.80", "13")
    assert found[0]["strengths"][1] == ("Alder 42-8, parallel", "never lost, so without an upper limit")


# --- bench sheet and cautions ---------------------------------------------------------------------------------------


def test_the_bench_sheet_plans_what_is_not_measured(results: dict[str, Any], unmeasured: dict[str, Any]) -> None:
    assert view_bench(results) is None
    plans = view_bench(unmeasured)

    assert plans is not None
    first, second = plans
    assert first["runs"] == (
        "2 runs of each candidate tell a difference of 1.1 m/s² from none with a chance of at least 90 %, if single "
        "runs scatter by 0.33 m/s² (assumed). A candidate is called ahead with that chance from about 1.6 m/s² on."
    )
    assert first["order"] == "A B B A, where A is Alder 42-8, series; B is Alder 42-8, parallel"
    assert first["rows"][0] == (
        "Alder 42-8, series", "2.25 m/s²", "1.25 m/s²", "0.25 m/s²", "9.75 m/s²", "7, at most 11", "54 s", "304 mm",
    )  # fmt: skip
    assert [place for place, _ in first["blanks"]] == [1, 2, 3, 4, 5, 6]
    assert "the stroke is too short" in second["notes"][0]
    assert first["notes"] == [
        "Alder 42-8, series: one stop from this trial’s speed may lift the supply to 61.2 V, above the drive’s limit "
        "of 60 V: do not run it before the rail can take it.",
        "Alder 42-8, parallel: no limit is predicted here, so no ladder can be proposed.",
    ]
    (peak,) = first["cautions"]
    assert peak[:3] == ("Supply peak of one stop", "61.2 V (above 60 V)", "–")


def test_the_bench_sheet_says_where_the_limit_may_lie_off_the_ladder(unmeasured: dict[str, Any]) -> None:
    plan = unmeasured["bench_sheet"][0]["candidates"]["series"]
    plan["expected_low"], plan["expected_high"], plan["cautions"] = 1.8, 14.62, ()
    plans = view_bench(unmeasured)

    assert plans is not None
    assert plans[0]["notes"][:2] == [
        "Alder 42-8, series: the ladder starts at 2.25 m/s², as stated; the limit may lie below it, down to 1.80 m/s².",
        "Alder 42-8, series: the ladder ends at 9.75 m/s², as stated; the limit may lie beyond it, up to 14.6 m/s².",
    ]


@pytest.mark.parametrize(
    ("unit", "rung", "words"),
    [
        ("m/s", 9.0, "one stop from the top rung may lift the supply to 61.2 V, above the drive’s limit of 60 V: "
                     "do not climb beyond 9000 mm/s before the rail can take it."),
        ("m/s", None, "one stop from any rung, the first one too, may lift the supply, from the top rung to 61.2 V, "
                      "above the drive’s limit of 60 V: do not climb before the rail can take it."),
        ("m/s^2", None, "one stop from this trial’s speed may lift the supply to 61.2 V, above the drive’s limit of "
                       "60 V: do not run it before the rail can take it."),
    ],
)  # fmt: skip
def test_a_climb_ends_before_the_supply_rises_above_the_drive_s_limit(
    unmeasured: dict[str, Any], unit: str, rung: float | None, words: str
) -> None:
    unmeasured["bench_sheet"][0]["unit"] = unit
    unmeasured["bench_sheet"][0]["candidates"]["series"]["rail_rung"] = rung
    plans = view_bench(unmeasured)

    assert plans is not None
    assert plans[0]["notes"][0] == f"Alder 42-8, series: {words}"
    assert plans[0]["cautions"][0][1] == "61.2 V (above 60 V)"


def test_a_caution_says_which_trial_or_rung_gives_it(results: dict[str, Any]) -> None:
    first = results["cautions"][0] | {"assumes": "one stop", "trial": "diagonal-500"}
    results["cautions"] = [
        first | {"rung": None}, first | {"kind": "moving energy", "rung": 9.75}, first | {"kind": "winding loss"},
        first | {"kind": "induced voltage", "value": None},
    ]  # fmt: skip
    view = view_cautions(results)
    what = "Acceleration at 500 mm/s along the diagonal of x and y"

    assert view is not None
    assert [row["assumes"] for row in view["rows"]] == [
        f"One stop. Speed 1200 mm/s. Trial: {what}.",
        f"One stop. Speed 1200 mm/s. Bench sheet, rung of 9.75 m/s²: {what}.",
        "One stop. Speed 1200 mm/s.",
        "One stop. Speed 1200 mm/s.",
    ]


def test_cautions_join_equal_figures_and_their_limits(results: dict[str, Any]) -> None:
    first = results["cautions"][0]
    results["cautions"] = [
        first, first | {"kind": "touchable supply peak"}, first | {"candidate": "parallel"},
        first | {"value": None, "candidate": "parallel", "assumes": "not computed: the capacitance is not given"},
        first | {"value": 70.0},
    ]  # fmt: skip
    view = view_cautions(results)

    assert view is not None
    joined, missing, above = view["rows"]
    assert joined["who"] == "all candidates"
    assert joined["limits"] == (
        "within the drive’s limit of 60 V and within the 60 V that commonly counts as safe to touch when dry"
    )
    assert (missing["value"], missing["limits"]) == ("not computed", "")
    assert above["limits"] == "above the drive’s limit of 60 V"
