"""From a checked hardware block to flat figures, facts, tolerances and sources by dotted path, and how two such join.

common and every candidate give one Flat each; a candidate's entries replace common's, and groups that exclude one
another replace each other as a whole.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from generator.readers.report import Report
from generator.readers.schema_hardware import HARDWARE, SIDE_KEYS
from generator.readers.shapes import Entry, Quantity
from generator.records.candidate import COMMON
from generator.units import KINDS

_TRAVEL = (("belt_pitch", "pulley_teeth"), ("screw_lead",), ("travel_per_turn",))
_EFFICIENCY = (("efficiency",), ("friction_coefficient", "lead_angle"))
_CURRENT = (("peak_current",), ("rms_current",))
GROUPS: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...] = (
    ("drive", _CURRENT),
    ("transmission", _TRAVEL),
    ("transmission", _EFFICIENCY),
)
"""Keys of a block that stand for one another: one member of a group counts, and all its keys are needed."""


@dataclass
class Flat:
    """One owner's entries by dotted path, motors and axes by their own names."""

    owner: str
    values: dict[str, Entry] = field(default_factory=dict)
    tolerances: dict[str, Entry] = field(default_factory=dict)
    sources: dict[str, Entry] = field(default_factory=dict)

    def blocks(self, name: str) -> set[str]:
        """Paths of the blocks of this name that hold a value: machine.transmission, machine.motors.y.transmission."""
        found = (re.fullmatch(rf"((?:.+\.)?{name})\.[a-z_]+", path) for path in self.values)
        return {match[1] for match in found if match}


def flatten(entry: Entry | None, owner: str, rename: Callable[[str], str]) -> Flat:
    """Flat figures of a hardware block; ``rename`` gives each path its canonical form."""
    flat = Flat(owner)
    if entry is None:
        return flat
    for path, found in _scalars(entry, ""):
        steps = path.split(".")
        if steps[0] in HARDWARE or steps[0] in SIDE_KEYS:
            side = next((step for step in steps if step in SIDE_KEYS), None)
            bare = ".".join(step for step in steps if step not in SIDE_KEYS)
            target = {None: flat.values, "tolerance": flat.tolerances, "sources": flat.sources}[side]
            if bare != "machine.motor_map":
                target.setdefault(rename(bare), found)
    return flat


def _scalars(entry: Entry, path: str) -> Iterator[tuple[str, Entry]]:
    """Every single value with its path; a {standard: …} tolerance counts as one."""
    for key, inner in entry.items():
        place = f"{path}.{key}" if path else key
        if isinstance(inner.value, dict) and "standard" not in inner.value:
            yield from _scalars(inner, place)
        elif not isinstance(inner.value, list):
            yield place, inner


def check_groups(flat: Flat, report: Report) -> None:
    """Two members of one group in one block exclude each other."""
    for name, members in GROUPS:
        for block in sorted(flat.blocks(name)):
            given = [keys for keys in members if any(f"{block}.{key}" in flat.values for key in keys)]
            if len(given) > 1:
                words = " or ".join(" + ".join(keys) for keys in given)
                second = next(f"{block}.{key}" for key in given[1] if f"{block}.{key}" in flat.values)
                entry = flat.values[second]
                report.add("group-doubled", entry.node, entry.path, f"either {words}, not both", "remove one of them")


def join(common: Flat, own: Flat) -> tuple[Flat, dict[str, str]]:
    """Common and own entries together, and the owner of every value."""
    replaced = _replaced(own)
    values = {path: entry for path, entry in common.values.items() if path not in replaced} | own.values
    owners = {path: (own.owner if path in own.values else COMMON) for path in values}
    tolerances = {path: entry for path, entry in common.tolerances.items() if path not in replaced} | own.tolerances
    sources = {path: entry for path, entry in common.sources.items() if path not in replaced} | own.sources
    return Flat(own.owner, values, tolerances, sources), owners


def _replaced(own: Flat) -> set[str]:
    """Paths of common that a candidate's other member of a group puts out of force."""
    gone = set()
    for name, members in GROUPS:
        for block in own.blocks(name):
            given = {keys for keys in members if any(f"{block}.{key}" in own.values for key in keys)}
            if given:
                gone |= {f"{block}.{key}" for keys in members if keys not in given for key in keys}
    return gone


def unit_of(entry: Entry) -> str | None:
    """SI unit of a figure; None for a fact."""
    return KINDS[entry.shape.kind].unit if isinstance(entry.shape, Quantity) else None


def check_tolerances(flat: Flat, values: Mapping[str, Entry], report: Report) -> None:
    """A tolerance or a source needs its value, a tolerance one that the models let vary; values are all that count."""
    sides = (("tolerance", "tolerance-alone", flat.tolerances), ("source", "source-alone", flat.sources))
    for what, code, entries in sides:
        for path, entry in entries.items():
            value = values.get(path)
            if value is None:
                if report.has_fault_at(path):
                    continue
                message = f"a {what} for {path}, which is not given here"
                report.add(code, entry.node, entry.path, message, "put it beside the value")
            elif what == "tolerance" and isinstance(value.shape, Quantity) and value.shape.exact:
                message = f"{path} is taken as exact"
                report.add("tolerance-exact", entry.node, entry.path, message, "remove its tolerance")
