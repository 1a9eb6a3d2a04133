"""What was measured, in the form that charts draw: one bracket per measurement, each run, each kind of bound."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Bracket:
    """Where a limit lies [unit]: held below (None: not even the first rung), lost above (None: never lost)."""

    held: float | None
    lost: float | None

    @property
    def is_open(self) -> bool:
        """Whether steps were never lost."""
        return self.lost is None


def run_brackets(measurement: Mapping[str, Any]) -> list[Bracket]:
    """One bracket a run, in order; tries on single rungs and runs without any figure are left out."""
    climbs = [run for run in measurement.get("runs") or () if "at" not in run]
    runs = [Bracket(run.get("held"), run.get("lost")) for run in climbs]
    return [run for run in runs if run.held is not None or run.lost is not None]


def whole_bracket(measurement: Mapping[str, Any]) -> Bracket | None:
    """From the lowest rung held to the highest rung lost over all runs; the interval where there are no runs."""
    runs = run_brackets(measurement)
    if not runs:
        return _bracket_without_runs(measurement)
    held = None if any(run.held is None for run in runs) else min(run.held for run in runs if run.held is not None)
    lost = None if any(run.lost is None for run in runs) else max(run.lost for run in runs if run.lost is not None)
    if held is None and lost is None:
        return None
    return Bracket(held, lost)


def _bracket_without_runs(measurement: Mapping[str, Any]) -> Bracket | None:
    low, high = measurement.get("low"), measurement.get("high")
    if low is None and high is None:
        low, high = measurement.get("at_least"), measurement.get("at_most")
    return None if low is None and high is None else Bracket(low, high)


def figures_of(bracket: Bracket | None) -> list[float]:
    """The finite ends of a bracket."""
    return [] if bracket is None else [end for end in (bracket.held, bracket.lost) if end is not None]


def of_item(entries: Sequence[Mapping[str, Any]] | None, item: str, key: str = "item") -> dict[str, Mapping[str, Any]]:
    """The entries of one item by candidate."""
    return {entry["candidate"]: entry for entry in entries or () if entry.get(key) == item}


def rung_tries(measurement: Mapping[str, Any]) -> list[tuple[float, int, int]]:
    """Tries by rung: where, how many held, how many lost."""
    return [(run["at"], run["held"], run["lost"]) for run in measurement.get("runs") or () if "at" in run]
