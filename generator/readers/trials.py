"""Trials: ladders, runs and attempts, written out or in CSV, checked against ladder, stroke and one another."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from generator.errors import FileProblems, Problem
from generator.readers import plausible
from generator.readers.context import FILE, Context
from generator.readers.schema import STOPPED
from generator.readers.shapes import Entry
from generator.readers.tables import Column, Table, read_table
from generator.records.trial import ACCELERATION, UNITS, Attempts, Ladder, Run, Trial
from generator.units import format_stated

CLOSE = 1e-6
"""Share of a rung by which a figure may miss its rung and still be on it."""


@dataclass(frozen=True)
class Place:
    """Where a run or an attempt is written: in the comparison's file or in a table."""

    file: str
    line: int
    column: int
    path: str

    @classmethod
    def of(cls, entry: Entry, file: str) -> Place:
        """The place of an entry."""
        return cls(file, entry.node.line, entry.node.column, entry.path)


def read_trial(entry: Entry, context: Context) -> Trial | None:
    """One trial as a record; None where too little of it is right."""
    return _TrialReader(entry, context).read()


class _TrialReader:
    """Reads one trial's entry."""

    def __init__(self, entry: Entry, context: Context) -> None:
        self.entry = entry
        self.context = context
        self.report = context.report
        self.measures = str(entry.plain("measures", ACCELERATION))
        self.speed: float | None = entry.plain("speed")
        self.acceleration: float | None = entry.plain("acceleration")
        self.stroke: float | None = entry.plain("stroke")
        self.hold_time = float(entry.plain("hold_time", 0.0))
        self.orders: dict[int, list[tuple[str, Place]]] = {}
        self.ladder = self.read_ladder()

    def read(self) -> Trial | None:
        direction = self.context.direction(self.entry.get("direction"))
        self.check_hold()
        self.check_speed()
        runs = {name: self.read_runs(name, found) for name, found in self.each("runs")}
        self.check_orders()
        attempts = {name: self.read_attempts(name, found) for name, found in self.each("attempts")}
        for name in sorted(set(runs) & set(attempts)):
            found = self.entry.get("attempts") or self.entry
            message = f'"{name}" has both runs and attempts in this trial; they are never pooled'
            self.report.add(
                "runs-and-attempts", found.node, found.path, message, "make two trials of them, or keep one"
            )
        if direction is None:
            return None
        return Trial(
            id=str(self.entry.plain("id", "?")),
            measures=self.measures,
            direction=direction[0],
            direction_written=direction[1],
            speed=self.speed if self.measures == ACCELERATION else None,
            acceleration=self.acceleration,
            stroke=self.stroke,
            hold_time=self.hold_time,
            ladder=self.ladder,
            runs=runs,
            attempts=attempts,
            note=self.entry.plain("note"),
        )

    def each(self, key: str) -> Iterable[tuple[str, Entry]]:
        return self.context.per_candidate(self.entry.get(key))

    def add(self, code: str, place: Place, message: str, fix: str, severity: str = "error") -> None:
        problem = Problem(place.file, place.line, place.column, place.path, code, message, fix, severity)
        self.report.add_all([problem])

    def show(self, figure: float) -> str:
        """A figure as people read it, for a message."""
        return format_stated(figure, UNITS[self.measures])

    def read_ladder(self) -> Ladder | None:
        found = self.entry.get("ladder")
        if found is None or found.get("start") is None or found.get("rung") is None:
            return None
        ladder = Ladder(found.plain("start"), found.plain("rung"), found.plain("stop"))
        if ladder.stop is not None and ladder.stop <= ladder.start:
            self.report.add(
                "ladder-order", found.node, found.path, "the ladder stops before it starts", "give stop above start"
            )
            return None
        self.check_ladder_reach(ladder, found)
        return ladder

    def read_runs(self, name: str, entry: Entry) -> tuple[Run, ...]:
        placed = self.table_runs(entry) if isinstance(entry.value, str) else self.listed_runs(entry)
        if len(placed) > self.context.limits.runs:
            self.add_too_many(entry)
        for run, place in placed:
            self.check_run(name, run, place)
            if run.order is not None:
                self.orders.setdefault(run.order, []).append((name, place))
        return tuple(run for run, _ in placed)

    def add_too_many(self, entry: Entry) -> None:
        message = f"more than {self.context.limits.runs} runs or attempts of one candidate"
        self.report.add("too-many", entry.node, entry.path, message, "split the trial")

    def listed_runs(self, entry: Entry) -> list[tuple[Run, Place]]:
        keys = ("held", "lost", "stopped", "order", "time", "note")
        placed = []
        for found in entry.value:
            place = Place.of(found, self.report.file)
            values = {key: found.plain(key) for key in keys}
            if all(found.node.get(key) is None or found.get(key) is not None for key in keys):
                placed.append((Run(file=FILE, line=place.line, **values), place))
        return placed

    def table_runs(self, entry: Entry) -> list[tuple[Run, Place]]:
        columns = (
            Column("held", self.measures, blank=True),
            Column("lost", self.measures, blank=True),
            Column("stopped", required=False),
            Column("order", "number", required=False, blank=True, whole=True),
            Column("time", required=False),
            Column("note", required=False),
        )
        table = self.read_table(entry, columns)
        places = [] if table is None else [Place(table.file, line, 1, "") for line in table.lines]
        return [
            (_run(table, k, str(entry.value)), place)
            for k, place in enumerate(places)
            if table is not None and self.is_row_right(table, k, place)
        ]

    def read_table(self, entry: Entry, columns: Sequence[Column]) -> Table | None:
        content = self.context.read(entry)
        if content is None:
            return None
        try:
            return read_table(content, self.context.name_in_folder(entry.value), columns, self.context.limits)
        except FileProblems as error:
            self.report.add_all(error.problems)
            return None

    def is_row_right(self, table: Table, k: int, place: Place) -> bool:
        """Whether the words and numbers of a row are such as a run has."""
        word, order = table.texts("stopped")[k], table.numbers("order")[k]
        if word and word not in STOPPED:
            fix = f"write one of {', '.join(STOPPED)}; leave the cell empty where steps were lost"
            self.add("unknown-word", place, f'"{word}" in the column stopped', fix)
            return False
        if not math.isnan(order) and (order != int(order) or order < 1):
            self.add("whole-number", place, f"the order {order:g} is no whole number from 1 on", "write it like 4")
            return False
        wrong = [name for name in ("held", "lost") if table.numbers(name)[k] <= 0]
        for name in wrong:
            self.add(
                "out-of-range", place, f"{name} must be above zero", "correct the number; leave the cell empty for none"
            )
        return not wrong

    def check_run(self, name: str, run: Run, place: Place) -> None:
        if run.held is None and run.lost is None:
            self.add(
                "run-empty", place, f"a run of {name} with neither held nor lost", "give what was seen, or remove it"
            )
        if run.held is not None and run.lost is not None and run.held >= run.lost:
            message = f"{name}: held {self.show(run.held)} is not below lost {self.show(run.lost)}"
            self.add("held-not-below-lost", place, message, "held is the last rung held, lost the first rung lost")
            return
        if run.lost is not None and run.stopped:
            message = f"{name}: steps were lost and the run is said to have been stopped by {run.stopped}"
            self.add("run-contradicts", place, message, "remove lost or stopped")
        for word, figure in (("held", run.held), ("lost", run.lost)):
            if figure is not None:
                self.check_rung(f"{name}: {word}", figure, place)
                self.check_reach(f"{name}: {word}", figure, place)
        if run.held is not None and run.lost is not None:
            self.check_one_rung(name, run.held, run.lost, place)
        if run.held is None and run.lost is not None and self.ladder and run.lost > self.ladder.start * (1 + CLOSE):
            start = self.show(self.ladder.start)
            message = f"{name}: lost at {self.show(run.lost)} without a rung held, though the ladder starts at {start}"
            self.add("rung-off-ladder", place, message, "give the last rung held")
        if run.stopped == "stroke" and run.held is not None:
            self.check_stopped(name, run.held, place)

    def check_one_rung(self, name: str, held: float, lost: float, place: Place) -> None:
        """Object where rungs lie between the last one held and the first one lost: the climb was another ladder's."""
        if self.ladder is None or lost - held <= self.ladder.rung * (1 + CLOSE):
            return
        between = f"held {self.show(held)} and lost {self.show(lost)} are {self.show(lost - held)} apart"
        message = f"{name}: {between}, the ladder's rung is {self.show(self.ladder.rung)}"
        fix = "give the last rung held before that loss, or the ladder that was climbed"
        self.add("rungs-skipped", place, message, fix)

    def check_hold(self) -> None:
        """Object where the time at top speed alone takes the whole stroke."""
        found = self.entry.get("hold_time")
        if found is None or self.measures != ACCELERATION or self.speed is None or self.stroke is None:
            return
        held = self.speed * self.hold_time
        if held >= self.stroke:
            message = f"{_length(held)} are run at top speed, and the stroke is {_length(self.stroke)}: no ramp is left"
            self.report.add(
                "hold-beyond-stroke", found.node, found.path, message, "shorten hold_time, or lengthen the stroke"
            )

    def check_speed(self) -> None:
        """Warn of a speed that no such machine has: of the trial, or of its ladder's first rung."""
        ladder = self.entry.get("ladder")
        start = ladder.get("start") if ladder is not None else None
        found = self.entry.get("speed") if self.measures == ACCELERATION else start
        message = "" if found is None else plausible.say_unusual("speed", found.value, "m/s")
        if found is not None and message:
            self.report.warn(plausible.FIGURE, found.node, found.path, message, plausible.CHECK)

    def check_ladder_reach(self, ladder: Ladder, entry: Entry) -> None:
        """Warn where the stroke ends a move of the ladder before it reaches its speed."""
        for name, figure in (("start", ladder.start), ("stop", ladder.stop)):
            needed = None if figure is None else self.needed_stroke(figure)
            if figure is None or needed is None or self.stroke is None or needed <= self.stroke * (1 + CLOSE):
                continue
            message = f"the ladder's {name} {self.show(figure)} needs a stroke of {_length(needed)}"
            message += f", the trial has {_length(self.stroke)}"
            fix = "a rung that never reaches its speed tests nothing: change the ladder, or lengthen the stroke"
            place = entry.get(name) or entry
            self.report.warn("ladder-beyond-stroke", place.node, place.path, message, fix)
            return

    def check_orders(self) -> None:
        """Warn where runs of a trial share a number of their order; drift is judged by the order of all its runs."""
        shared = sorted(order for order, runs in self.orders.items() if len(runs) > 1)
        if not shared:
            return
        runs = self.orders[shared[0]]
        names = " and in ".join(dict.fromkeys(name for name, _ in runs))
        message = f"the order {shared[0]} stands {_times(len(runs))} in this trial, in {names}"
        if len(shared) > 1:
            message += f"; {len(shared)} numbers are shared in all"
        fix = "number all runs of a trial through, whosever they are, as they were made"
        self.add("order-doubled", runs[1][1], message, fix, "warning")

    def check_rung(self, what: str, figure: float, place: Place) -> None:
        ladder = self.ladder
        if ladder is None:
            return
        step = (figure - ladder.start) / ladder.rung
        if step < -CLOSE or abs(step - round(step)) > CLOSE:
            steps = f"from {self.show(ladder.start)} in steps of {self.show(ladder.rung)}"
            message = f"{what} {self.show(figure)} is no rung of the ladder {steps}"
            self.add("rung-off-ladder", place, message, "correct the figure or the ladder")
        elif ladder.stop is not None and figure > ladder.stop + CLOSE * ladder.rung:
            message = f"{what} {self.show(figure)} is beyond the ladder's stop {self.show(ladder.stop)}"
            self.add("rung-off-ladder", place, message, "correct one of them")

    def needed_stroke(self, figure: float) -> float | None:
        """Way that a move at this rung needs: v²/a + v·t_h [m]; None where speed or acceleration is not stated."""
        speed, acceleration = (self.speed, figure) if self.measures == ACCELERATION else (figure, self.acceleration)
        if speed is None or acceleration is None:
            return None
        return speed * speed / acceleration + speed * self.hold_time

    def check_reach(self, what: str, figure: float, place: Place) -> None:
        needed = self.needed_stroke(figure)
        if self.stroke is None or needed is None or needed <= self.stroke * (1 + CLOSE):
            return
        message = (
            f"{what} {self.show(figure)} needs a stroke of {_length(needed)}, the trial has {_length(self.stroke)}"
        )
        self.add(
            "beyond-stroke", place, message, "at that rung the speed was never reached; check stroke, speed and figure"
        )

    def check_stopped(self, name: str, held: float, place: Place) -> None:
        if self.ladder is None or self.stroke is None:
            return
        following = held + self.ladder.rung
        needed = self.needed_stroke(following)
        if needed is not None and needed <= self.stroke * (1 - CLOSE):
            following_needs = f"the next rung {self.show(following)} needs {_length(needed)} only"
            message = f"{name}: stopped by the stroke, though {following_needs}"
            fix = "the run counts as a lower bound; if something else stopped it, say so"
            self.add("stopped-early", place, message, fix, "warning")

    def read_attempts(self, name: str, entry: Entry) -> tuple[Attempts, ...]:
        placed = self.table_attempts(entry) if isinstance(entry.value, str) else self.listed_attempts(entry)
        if len(placed) > self.context.limits.runs:
            self.add_too_many(entry)
        for found, place in placed:
            if found.held + found.lost == 0:
                self.add(
                    "run-empty",
                    place,
                    f"{name}: no attempt at {self.show(found.at)}",
                    "count them, or remove the entry",
                )
            self.check_rung(f"{name}: at", found.at, place)
            self.check_reach(f"{name}: at", found.at, place)
        return tuple(found for found, _ in placed)

    def listed_attempts(self, entry: Entry) -> list[tuple[Attempts, Place]]:
        placed = []
        for one in entry.value:
            place = Place.of(one, self.report.file)
            at, held, lost = (one.plain(key) for key in ("at", "held", "lost"))
            if at is not None and held is not None and lost is not None:
                placed.append((Attempts(at, held, lost, FILE, place.line), place))
        return placed

    def table_attempts(self, entry: Entry) -> list[tuple[Attempts, Place]]:
        counts = (Column(name, "number", whole=True) for name in ("held", "lost"))
        table = self.read_table(entry, (Column("at", self.measures), *counts))
        placed = []
        for k, line in enumerate(table.lines if table is not None else ()):
            at, held, lost = (float(table.numbers(name)[k]) for name in ("at", "held", "lost"))  # type: ignore[union-attr]
            place = Place(self.context.name_in_folder(entry.value), line, 1, "")
            if at <= 0:
                self.add("out-of-range", place, "at must be above zero", "correct the number")
            elif any(count < 0 or count != int(count) or count > 1e6 for count in (held, lost)):
                self.add("whole-number", place, f"held {held:g} and lost {lost:g} are counts", "write whole numbers")
            else:
                placed.append((Attempts(at, int(held), int(lost), str(entry.value), line), place))
        return placed


def _times(count: int) -> str:
    return "twice" if count == 2 else f"{count} times"


def _length(value: float) -> str:
    """A length for a message, to four digits."""
    return format_stated(value, "m", 4)


def _run(table: Table, k: int, path: str) -> Run:
    """The run in one row of a table."""
    figures = {name: float(table.numbers(name)[k]) for name in ("held", "lost")}
    order = float(table.numbers("order")[k])
    return Run(
        held=None if math.isnan(figures["held"]) else figures["held"],
        lost=None if math.isnan(figures["lost"]) else figures["lost"],
        stopped=table.texts("stopped")[k] or None,
        order=None if math.isnan(order) else int(order),
        time=table.texts("time")[k] or None,
        note=table.texts("note")[k] or None,
        file=path,
        line=table.lines[k],
    )
