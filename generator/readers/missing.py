"""What a test report should carry and this comparison does not say, in words that help.

Source: ISO/IEC 17025:2017, 7.8.2 and 7.8.3 for what a report of tests names; the list is from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from generator.records.comparison import Comparison

_BENCH = {
    "operator": "who ran the bench",
    "place": "where it was measured",
    "date_from": "on which day measuring began",
    "date_to": "on which day measuring ended",
    "warm_up": "how long the motors were warmed up",
    "lost_when": "from what error on steps count as lost",
    "moves_per_rung": "how many moves each rung was given",
    "method_of_detection": "how lost steps were found",
    "position": "where on the machine the moves were made",
}


def list_missing(comparison: Comparison) -> tuple[str, ...]:
    """Sentences on what the file could still say; empty where it says all that a report needs."""
    return tuple(_sentences(comparison))


def _sentences(comparison: Comparison) -> Iterator[str]:
    if not comparison.author:
        yield "The file does not say who wrote this report."
    measured = bool(comparison.trials or comparison.sound or comparison.vibration or comparison.surfaces)
    if measured:
        for key, words in _BENCH.items():
            if key not in comparison.bench:
                yield f"The file does not say {words}."
        if not comparison.instruments:
            yield "The file names no measuring instruments."
    yield from _about_instruments(comparison)
    yield from _about_items(comparison)
    yield from _about_sources(comparison)
    yield from _about_runs(comparison)
    if not comparison.interests:
        yield "The file does not say who paid for the parts and the work."


def _about_instruments(comparison: Comparison) -> Iterator[str]:
    for instrument in comparison.instruments:
        if not instrument.checked_on:
            yield f"The file does not say when the instrument {instrument.id} was last checked."
        if not instrument.uncertainty:
            yield f"The file gives no uncertainty for the instrument {instrument.id}."


def _about_items(comparison: Comparison) -> Iterator[str]:
    for candidate in comparison.candidates:
        if "ambient" not in candidate.leaves:
            yield f"The file does not say how warm the room was for {candidate.name}."
        if not candidate.item.obtained:
            yield f"The file does not say how {candidate.name} was obtained."
        if not candidate.item.condition:
            yield f"The file does not say in what condition {candidate.name} was."


def _about_sources(comparison: Comparison) -> Iterator[str]:
    for candidate in comparison.candidates:
        bare = [
            leaf.path.rpartition(".")[2].replace("_", " ")
            for leaf in candidate.leaves.values()
            if leaf.path.startswith("motor.") and leaf.source is None
        ]
        if bare:
            yield f"The file does not say where these figures of {candidate.name} come from: {', '.join(bare)}."


def _about_runs(comparison: Comparison) -> Iterator[str]:
    for trial in comparison.trials:
        silent = [name for name, runs in trial.runs.items() if any(r.lost is None and not r.stopped for r in runs)]
        if silent:
            names = ", ".join(silent)
            yield f"In {trial.id} the file does not say what stopped the runs of {names} that lost no steps."
        runs = [run for own in trial.runs.values() for run in own]
        if len(trial.runs) > 1 and any(run.order is None for run in runs) and any(not run.time for run in runs):
            yield f"In {trial.id} the file does not say in which order all runs were made, so a drift may hide there."
