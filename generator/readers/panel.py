"""Votes of persons who judged photos blind: counts per pair, or single votes in CSV."""

from __future__ import annotations

from generator.errors import FileProblems, Problem
from generator.readers.context import Context
from generator.readers.shapes import Entry
from generator.readers.tables import Column, Table, read_table
from generator.records.recordings import PairCount, Panel, Vote

CHOICES = ("left", "right", "none")

_COLUMNS = (Column("voter"), Column("left"), Column("right"), Column("chosen"))


def read_panel(entry: Entry, context: Context, surfaces: tuple[str, ...]) -> Panel:
    """One entry of ``panel``; surfaces are the ids that it may refer to."""
    surface = entry.get("surface")
    if surface is not None and surface.value and surface.value not in surfaces:
        context.report.add_unknown("unknown-item", surface.node, surface.path, "surface", surface.value, surfaces)
    pairs = entry.get("pairs")
    listed = pairs.value if pairs is not None and isinstance(pairs.value, list) else []
    counts = tuple(count for found in listed if (count := _pair(found, context)) is not None)
    votes = _votes(pairs, context) if pairs is not None and isinstance(pairs.value, str) else ()
    return Panel(str(entry.plain("id", "?")), entry.plain("surface"), counts, votes)


def _pair(entry: Entry, context: Context) -> PairCount | None:
    between, votes = entry.get("between"), entry.get("votes")
    if between is None or votes is None or len(between.value) != 2 or len(votes.value) != 2:
        return None
    names = [str(found.value) for found in between.value]
    known = [context.knows_candidate(name, found) for name, found in zip(names, between.value, strict=True)]
    if names[0] == names[1] and all(known):
        message = f'"{names[0]}" is set against itself'
        context.report.add("pair-same", between.node, between.path, message, "name two candidates")
    first, second = (int(found.value) for found in votes.value)
    return PairCount((names[0], names[1]), (first, second), int(entry.plain("no_preference", 0)))


def _votes(entry: Entry, context: Context) -> tuple[Vote, ...]:
    content = context.read(entry)
    if content is None:
        return ()
    try:
        table = read_table(content, context.name_in_folder(entry.value), _COLUMNS, context.limits)
    except FileProblems as error:
        context.report.add_all(error.problems)
        return ()
    rows = (_vote(table, k, context) for k in range(len(table)))
    return tuple(vote for vote in rows if vote is not None)


def _vote(table: Table, k: int, context: Context) -> Vote | None:
    voter, left, right, chosen = (table.texts(name)[k] for name in ("voter", "left", "right", "chosen"))
    known = context.candidates or (left, right)
    fault = None
    if not voter:
        fault = ("vote-form", "a vote without its voter", "give each person a number or a letter")
    elif left not in known or right not in known:
        odd = right if left in known else left
        fault = ("unknown-candidate", f'unknown candidate "{odd}"', f"known here: {', '.join(known)}")
    elif left == right:
        fault = ("pair-same", f'"{left}" is set against itself', "name two candidates")
    elif chosen not in CHOICES:
        fault = ("vote-form", f'"{chosen}" in the column chosen', f"write one of {', '.join(CHOICES)}")
    if fault is not None:
        context.report.add_all([Problem(table.file, table.lines[k], 1, "", *fault)])
        return None
    return Vote(voter, left, right, {"left": left, "right": right, "none": None}[chosen])
