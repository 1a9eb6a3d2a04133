"""Reads a comparison's folder into one record, or into all the problems of all its files at once."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from generator.errors import FileProblems, Problem
from generator.readers.candidates import read_candidates
from generator.readers.context import FILE, Context
from generator.readers.folder import Folder, FolderError
from generator.readers.judging import read_calibrate, read_decides, read_matters, read_weights
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.missing import list_missing
from generator.readers.nodes import parse_nodes
from generator.readers.panel import read_panel
from generator.readers.recordings import read_sound_item, read_surface, read_vibration
from generator.readers.report import Report
from generator.readers.schema import COMPARISON, SECTIONS
from generator.readers.shapes import IDENTIFIER, Block, Entry
from generator.readers.trials import read_trial
from generator.readers.walk import walk
from generator.records.candidate import Candidate
from generator.records.comparison import Comparison, Correction, Instrument, Publish, SourceFile
from generator.records.trial import Trial
from generator.units import format_stated


@dataclass(frozen=True)
class ReadResult:
    """What reading gave: comparison is None exactly where a problem is an error; warnings may stand beside it."""

    comparison: Comparison | None
    problems: tuple[Problem, ...]


def find_comparisons(root: str | Path) -> tuple[str, ...]:
    """Names of the folders that hold, or were meant to hold, a comparison; in alphabetical order.

    FileProblems where the folder that holds them cannot be listed.
    """
    place = Path(root)
    if not place.is_dir():
        return ()
    try:
        return tuple(sorted(path.name for path in place.iterdir() if _is_comparison(path)))
    except OSError as error:
        message, fix = f"cannot list this folder: {error.strerror}", "check that it may be read"
        raise FileProblems([Problem(place.as_posix(), 0, 0, "", "file-unreadable", message, fix)]) from error


def _is_comparison(path: Path) -> bool:
    """Also true for a link, a misnamed file or a folder that cannot be listed, so that reading says what is wrong."""
    if path.name.startswith(".") or not path.is_dir():
        return False
    try:
        return not {FILE, "comparison.yml"}.isdisjoint(os.listdir(path))
    except OSError:
        return True


def read_comparison(folder: Folder, slug: str, limits: Limits = DEFAULT_LIMITS) -> ReadResult:
    """Everything that one comparison's folder states.

    Parameters
    ----------
    folder
        Where its files are.
    slug
        The folder's name, which becomes part of addresses.
    limits
        Sizes and counts that are accepted.

    Returns
    -------
    ReadResult
        The comparison in SI, or None; with problems by file, line and column.
    """
    file = f"{folder.label}/{FILE}"
    report = Report(file, limits)
    if not IDENTIFIER.fullmatch(slug):
        fix = "name the folder with small letters, digits and -, a letter first, 40 at most"
        report.add("folder-name", None, "", f'"{slug[:60]}" cannot be the name of a comparison', fix)
    root = _read_root(folder, FILE, COMPARISON, "comparison", report, limits)
    if root is None:
        return ReadResult(None, report.problems())
    comparison = _ComparisonReader(root, Context(folder, limits, report), slug).read()
    return ReadResult(None if report.failed else comparison, report.problems())


def _read_root(folder: Folder, name: str, shape: Block, role: str, report: Report, limits: Limits) -> Entry | None:
    """Checked tree of a YAML file; None, with its problems noted, where there is none."""
    try:
        node = parse_nodes(folder.read(name, limits.bytes_for(role)), report.file, limits)
    except FolderError as error:
        report.add_error(error, None, "")
        return None
    except FileProblems as error:
        report.add_all(error.problems)
        return None
    return walk(node, shape, "", report)


class _ComparisonReader:
    """Reads the sections in the order in which they need one another."""

    def __init__(self, root: Entry, context: Context, slug: str) -> None:
        self.root = root
        self.context = context
        self.report = context.report
        self.slug = slug
        context.sources[FILE] = SourceFile(FILE, "comparison")

    def each(self, section: str) -> list[Entry]:
        found = self.root.get(section)
        return [] if found is None else list(found.value)

    def read(self) -> Comparison | None:
        self.check_counts()
        self.check_ids()
        candidates, self.context.axes = read_candidates(self.root, self.report)
        trials = [(entry, trial) for entry in self.each("trials") if (trial := read_trial(entry, self.context))]
        for entry, trial in trials:
            self.check_stroke(entry, trial, candidates)
        surfaces = tuple(entry.plain("id", "?") for entry in self.each("surfaces"))
        instruments = self.instruments()
        fields: dict[str, Any] = {
            "candidates": candidates,
            "trials": tuple(trial for _, trial in trials),
            "sound": tuple(read_sound_item(entry, self.context) for entry in self.each("sound")),
            "vibration": tuple(read_vibration(entry, self.context) for entry in self.each("vibration")),
            "surfaces": tuple(found for e in self.each("surfaces") if (found := read_surface(e, self.context))),
            "panel": tuple(read_panel(entry, self.context, surfaces) for entry in self.each("panel")),
            "instruments": instruments,
            "decides": read_decides(self.root, self.report),
            "matters": read_matters(self.root, self.report),
            "weights": read_weights(self.root, self.report),
            "calibrate": read_calibrate(self.root, self.report),
            **self.plain_fields(),
        }
        if self.report.failed:
            return None
        comparison = Comparison(slug=self.slug, sources=tuple(self.context.sources.values()), **fields)
        return dataclasses.replace(comparison, missing=list_missing(comparison))

    def check_counts(self) -> None:
        limits = self.context.limits
        items = [entry for section in SECTIONS for entry in self.each(section)]
        for entries, most, what in (
            (self.each("candidates"), limits.candidates, "candidates"),
            (items, limits.items, "items"),
        ):
            if len(entries) > most:
                entry = entries[most]
                message = f"more than {most} {what}"
                self.report.add("too-many", entry.node, entry.path, message, "split the comparison")

    def check_ids(self) -> None:
        """ids are unique among candidates, among instruments, and among all items together."""
        candidates = self.each("candidates")
        self.check_unique(candidates)
        self.check_unique([entry for section in SECTIONS for entry in self.each(section)])
        self.check_unique(self.each("instruments"))
        ids = tuple(entry.plain("id") for entry in candidates)
        listed = self.root.node.get("candidates")
        whole = listed is not None and len(listed.values) == len(set(ids)) and None not in ids
        self.context.candidates = ids if whole else None

    def check_unique(self, entries: list[Entry]) -> None:
        seen: dict[str, int] = {}
        for entry in entries:
            found = entry.get("id")
            if found is None:
                continue
            if found.value in seen:
                message = f'the id "{found.value}" is taken in line {seen[found.value]}'
                self.report.add("id-doubled", found.node, found.path, message, "give it an id of its own")
            seen.setdefault(found.value, found.node.line)

    def instruments(self) -> tuple[Instrument, ...]:
        entries = self.each("instruments")
        known = [entry.plain("id") for entry in entries]
        for entry in self.each("sound"):
            microphone = entry.get("microphone")
            named = microphone.get("instrument") if microphone is not None else None
            if named is not None and named.value and named.value not in known and None not in known:
                self.report.add_unknown("unknown-instrument", named.node, named.path, "instrument", named.value, known)
        keys = ("id", "what", "serial", "checked_on", "uncertainty")
        return tuple(Instrument(**{key: entry.plain(key) for key in keys}) for entry in entries)

    def check_stroke(self, entry: Entry, trial: Trial, candidates: tuple[Candidate, ...]) -> None:
        """A stroke must fit into the travel of the axes that it moves."""
        room = min((_room(trial, candidate) for candidate in candidates), default=float("inf"))
        found = entry.get("stroke")
        if found is not None and found.value > room * (1 + 1e-9):
            lengths = [format_stated(length, "m", 4) for length in (found.value, room)]
            message = f"the stroke of {lengths[0]} is longer than the travel there, {lengths[1]}"
            self.report.add("stroke-beyond-travel", found.node, found.path, message, "check stroke and travel")

    def plain_fields(self) -> dict[str, Any]:
        root = self.root
        fields = {key: root.plain(key) for key in ("title", "date", "data", "question", "author", "interests")}
        prose = root.get("write_up")
        corrections = [
            Correction(entry.plain("date", ""), entry.plain("text", "")) for entry in self.each("corrections")
        ]
        bench, publish = root.get("bench"), root.get("publish")
        return fields | {
            "language": root.plain("language", "en"),
            "write_up": None if prose is None else self.context.text_file(prose),
            "corrections": tuple(corrections),
            "publish": Publish(**{key: found.value for key, found in (publish.items() if publish else ())}),
            "stall_map": root.plain("stall_map", True),
            "bench": {key: found.value for key, found in (bench.items() if bench else ()) if found.value != ""},
        }


def _room(trial: Trial, candidate: Candidate) -> float:
    """Longest straight way that the axes leave in a trial's direction [m]."""

    def ways() -> Iterator[float]:
        for axis, part in zip(candidate.axes, trial.direction, strict=True):
            travel = candidate.leaves.get(f"machine.axes.{axis}.travel")
            if travel is not None and part:
                yield travel.value / abs(part)

    return min(ways(), default=float("inf"))
