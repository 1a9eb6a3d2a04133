"""Every value of a comparison that its prose can quote, by reference, as the text that a page shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from generator.pages.figures import (
    NOTHING,
    format_quantity,
    format_spread,
    format_stated,
    format_weight_share,
    number,
)
from generator.pages.labels import DERIVED, call_words, candidate_names
from generator.phrases import difference_text, measured_text

LINES = {"predicted": "static", "start": "start", "any-timing": "any_timing"}


def list_values(results: Mapping[str, Any]) -> dict[str, str]:
    """All references with their current text, in the order of the page; values that are not there are left out.

    A reference is what stands in ``{value: …}``: ``parallel diagonal-500 measured``,
    ``series parallel diagonal-500 difference``, ``series motor.inductance``, ``verdict parallel won``.
    """
    found: dict[str, str] = {}
    for make in (_page, _measured, _predicted, _agreement, _contrasts, _derived, _inputs, _verdict, _cautions):
        for reference, text in make(results):
            if text and text != NOTHING:
                found.setdefault(reference, text)
    return found


Pairs = Iterator[tuple[str, str]]


def _page(results: Mapping[str, Any]) -> Pairs:
    yield "answer", results.get("answer") or ""
    yield "date", results.get("date") or ""
    made = results.get("made_with") or {}
    yield "draws", str(made.get("draws") or "")
    yield "calls", str(len(results.get("contrasts") or ()) or "")


def _measured(results: Mapping[str, Any]) -> Pairs:
    for row in results.get("measurements") or ():
        name = f"{row['candidate']} {row['item']}"
        yield f"{name} measured", measured_text(row)
        yield f"{name} runs", str(row.get("count") or "")
        yield f"{name} scatter", format_quantity(row.get("scatter"), row["unit"])


def _predicted(results: Mapping[str, Any]) -> Pairs:
    for row in results.get("predictions") or ():
        name = f"{row['candidate']} {row['trial']}"
        for what, line in LINES.items():
            yield f"{name} {what}", format_spread(row.get(line) or {}, row["unit"])
        simulated = row.get("simulated") or {}
        yield f"{name} simulated-held", format_quantity(simulated.get("last_held"), row["unit"])
        yield f"{name} simulated-lost", format_quantity(simulated.get("first_lost"), row["unit"])


def _agreement(results: Mapping[str, Any]) -> Pairs:
    for row in results.get("agreement") or ():
        name = f"{row['candidate']} {row['trial']}"
        ratio = row.get("ratio")
        yield f"{name} ratio", "" if ratio is None else number(ratio, 2)
        yield f"{name} place", row.get("place") or ""


def _contrasts(results: Mapping[str, Any]) -> Pairs:
    names = candidate_names(results)
    for row in results.get("contrasts") or ():
        first, second = row["between"]
        name = f"{first} {second} {row['item']}"
        yield f"{name} difference", difference_text(row)
        yield f"{name} matters", format_quantity(row.get("matters"), row["unit"])
        yield f"{name} call", call_words(row, names)


def _derived(results: Mapping[str, Any]) -> Pairs:
    for candidate in results.get("candidates") or ():
        yield f"{candidate['id']} name", candidate.get("name") or ""
        for key, (_, unit) in DERIVED.items():
            value = candidate.get(key)
            if isinstance(value, int | float):
                yield f"{candidate['id']} {key.replace('_', '-')}", format_quantity(value, unit)


def _inputs(results: Mapping[str, Any]) -> Pairs:
    for row in results.get("inputs") or ():
        yield f"{row['candidate']} {row['path']}", format_stated(row.get("value"), row["unit"])


def _verdict(results: Mapping[str, Any]) -> Pairs:
    verdict = results.get("verdict") or {}
    for candidate, share in (verdict.get("won") or {}).items():
        yield f"verdict {candidate} won", format_weight_share(share)
    for key in ("ties", "undecided", "not_measured"):
        yield f"verdict {key.replace('_', '-')}", format_weight_share(verdict.get(key))
    yield "verdict sentence", verdict.get("sentence") or ""


def _cautions(results: Mapping[str, Any]) -> Pairs:
    for row in results.get("cautions") or ():
        name = f"{row.get('candidate') or 'all'} caution {row['kind'].replace(' ', '-')}"
        yield name, format_quantity(row.get("value"), row["unit"])
