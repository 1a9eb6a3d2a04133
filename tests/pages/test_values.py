"""Every value that prose can quote."""

from __future__ import annotations

from typing import Any

from generator.pages.values import list_values


def test_references_cover_what_a_page_states(results: dict[str, Any]) -> None:
    values = list_values(results)

    assert values["parallel diagonal-500 measured"] == "67.0 ± 1.2 m/s²"
    assert values["parallel top-speed measured"] == "at least 1750 mm/s"
    assert values["series parallel diagonal-500 difference"] == "−29.5 ± 1.6 m/s²"
    assert values["series parallel diagonal-500 call"] == "Alder 42-8, parallel ahead"
    assert values["series diagonal-500 predicted"] == "44.1 (38.4 to 53.4) m/s²"
    assert values["series diagonal-500 ratio"] == "0.85"
    assert values["series motor.inductance"] == "6 mH"
    assert values["series flux-linkage"] == "4.65 mWb"
    assert values["verdict parallel won"] == "71.4 %"
    assert values["series caution supply-peak"] == "41.2 V"
    assert values["draws"] == "4000"


def test_what_is_not_there_is_no_reference(unmeasured: dict[str, Any]) -> None:
    values = list_values(unmeasured)

    assert not any(reference.endswith(" measured") for reference in values)
    assert all(text and text != "–" for text in values.values())


def test_the_order_is_that_of_the_page(results: dict[str, Any]) -> None:
    references = list(list_values(results))

    assert references.index("answer") < references.index("series diagonal-500 measured")
    assert references.index("series diagonal-500 measured") < references.index("verdict parallel won")


def test_a_simulated_climb_gives_the_rung_held_and_the_rung_lost(results: dict[str, Any]) -> None:
    results["predictions"][0]["simulated"] = {"last_held": 30.0, "first_lost": 31.0, "phase": "start"}
    values = list_values(results)

    assert values["series diagonal-500 simulated-held"] == "30.0 m/s²"
    assert values["series diagonal-500 simulated-lost"] == "31.0 m/s²"
    assert "series diagonal-500 simulated" not in values
