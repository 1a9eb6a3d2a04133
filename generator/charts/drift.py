"""Drift: each run's bracket in the order in which the runs were made.

Reads results ``trials``, ``measurements`` (runs with ``order``) and ``drift``, entries {item, candidate,
count, correlation, probability, found, statement}.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from generator.charts.brackets import draw_bracket
from generator.charts.cast import Cast, cast_of
from generator.charts.evidence import of_item
from generator.charts.layout import Layout, draw_legend, legend_height, make_chart
from generator.charts.scale import find_range, linear_scale
from generator.charts.sheet import Frame, Sheet
from generator.charts.wording import heading, plain, shortened
from generator.phrases import listed, sentence_case
from generator.records.presentation import Chart, Table
from generator.units import format_stated

CAPTION = (
    "Each bar is one run, in the order in which the runs were made, measured from its candidate's own mean: hollow "
    "mark the last rung held, filled mark the first rung lost, an arrow where steps were never lost. A bench that "
    "drifts would tilt the row."
)
FEWEST = 5
"""Fewest runs of a candidate for which a drift can be tested."""


@dataclass(frozen=True)
class Run:
    """One run as drawn."""

    candidate: str
    order: int
    held: float | None
    lost: float | None

    @property
    def reading(self) -> float:
        """The middle of the bracket, or its one end."""
        ends = [end for end in (self.held, self.lost) if end is not None]
        return sum(ends) / len(ends)

    def shifted(self, away: float) -> Run:
        """The run with its figures taken from another zero."""
        held, lost = (None if end is None else end - away for end in (self.held, self.lost))
        return Run(self.candidate, self.order, held, lost)


def draw_drifts(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per trial in which a candidate has at least five runs with an order: ``drift-<trial>``."""
    cast = cast_of(results)
    charts = []
    for trial in results.get("trials") or ():
        runs = _runs(results, trial, cast)
        if runs:
            charts.append(_chart(results, trial, runs, cast))
    return tuple(charts)


def _runs(results: Mapping[str, Any], trial: Mapping[str, Any], cast: Cast) -> tuple[Run, ...]:
    measured = of_item(results.get("measurements"), trial["id"])
    runs = [
        Run(candidate, run["order"], run.get("held"), run.get("lost"))
        for candidate in cast.ids
        for run in measured.get(candidate, {}).get("runs") or ()
        if run.get("order") is not None and "at" not in run and (run.get("held"), run.get("lost")) != (None, None)
    ]
    most = max((sum(run.candidate == candidate for run in runs) for candidate in cast.ids), default=0)
    return tuple(sorted(runs, key=lambda run: run.order)) if most >= FEWEST else ()


def _chart(results: Mapping[str, Any], trial: Mapping[str, Any], runs: tuple[Run, ...], cast: Cast) -> Chart:
    unit = "m/s" if trial.get("measures") == "speed" else "m/s^2"
    title = _title(results, trial, cast)
    words = [f"run {run.order}, {cast.name(run.candidate)}, {_run_words(run, unit)}" for run in runs]
    words = shortened(words, 12)
    rows = tuple(
        (
            str(run.order),
            cast.name(run.candidate),
            *(format_stated(end, unit, bare=True) for end in (run.held, run.lost)),
        )
        for run in runs
    )
    table = Table(
        f"Runs in order: {cast.item(trial['id'])}",
        ("order", "candidate", heading("held", unit), heading("lost", unit)),
        rows,
    )
    return make_chart(
        f"drift-{trial['id']}",
        title,
        CAPTION,
        f"{title}. {'; '.join(words)}.",
        table,
        lambda layout: _draw(runs, trial, cast, layout, unit),
    )


def _run_words(run: Run, unit: str) -> str:
    if run.lost is None:
        return f"held {format_stated(run.held, unit)} and never lost"
    return f"lost at {format_stated(run.lost, unit)}" + (
        f", held {format_stated(run.held, unit, bare=True)}" if run.held is not None else ""
    )


def _title(results: Mapping[str, Any], trial: Mapping[str, Any], cast: Cast) -> str:
    """What the test says per candidate, joined where it says the same."""
    found: dict[str, list[str]] = {}
    for entry in results.get("drift") or ():
        if entry["item"] == trial["id"]:
            statement = plain(entry.get("statement") or "")
            found.setdefault(statement, []).append(cast.name(entry["candidate"]))
    where = cast.item(trial["id"])
    if not any(found):
        return f"Runs in the order in which they were made: {where}"
    if len(found) == 1:
        return f"{sentence_case(next(iter(found)))}: {where}"
    return f"{'; '.join(f'{listed(names)}: {statement}' for statement, names in found.items())} ({where})"


def _draw(runs: tuple[Run, ...], trial: Mapping[str, Any], cast: Cast, layout: Layout, unit: str) -> Sheet:
    candidates = [candidate for candidate in cast.ids if any(run.candidate == candidate for run in runs)]
    sheet = Sheet(layout.width, 260)
    top = sheet.height - 26 - legend_height(layout, [cast.name(candidate) for candidate in candidates])
    centred = {candidate: _from_mean(runs, candidate) for candidate in candidates}
    shifted = [run for group in centred.values() for run in group]
    low, high = find_range((run.held for run in shifted), (run.lost for run in shifted)) or (-1.0, 1.0)
    reach = 1.2 * max(abs(low), abs(high))
    last = max(run.order for run in runs)
    x = linear_scale(0.5, last + 0.5, min(last, 10 if layout.is_wide else 6), exact=True)
    ticks = tuple(tick for tick in x.ticks if tick == round(tick))
    x = type(x)(x.low, x.high, ticks)
    frame = Frame(sheet, layout.box(42, top), x, linear_scale(-reach, reach, 4, unit=unit))
    frame.draw_axes("run, in order", heading(f"{trial.get('measures', 'limit')} from own mean", unit))
    shared = len({run.order for run in runs}) < len(runs)
    for place, (candidate, group) in enumerate(centred.items()):
        aside = 0.14 * (place - (len(centred) - 1) / 2) if shared else 0.0
        for run in group:
            held, lost = (None if end is None else frame.point(run.order + aside, end) for end in (run.held, run.lost))
            draw_bracket(frame, held, lost, cast.style(candidate))
    draw_legend(sheet, layout, cast, candidates)
    return sheet


def _from_mean(runs: tuple[Run, ...], candidate: str) -> list[Run]:
    """A candidate's runs, taken from the mean of their readings."""
    own = [run for run in runs if run.candidate == candidate]
    mean = sum(run.reading for run in own) / len(own)
    return [run.shifted(mean) for run in own]
