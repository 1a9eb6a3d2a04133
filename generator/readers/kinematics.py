"""Axes, motor matrix and motor names, which all candidates share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from generator.readers.report import Report
from generator.readers.schema import AXES
from generator.readers.schema_hardware import SIDE_KEYS
from generator.readers.shapes import Entry

Matrix = tuple[tuple[float, ...], ...]

_ROTARY = ("a", "b", "c", "u", "v", "w", "r", "theta", "phi", "rotary", "turntable")
SINGULAR = 1e-9
"""Smallest determinant of a motor matrix with rows of length 1 that counts as invertible."""


@dataclass
class Kinematics:
    """Axes in the order x, y, z; matrix rows are motors. rename gives a motor's key its one name."""

    axes: tuple[str, ...]
    name: str
    matrix: Matrix
    motor_names: tuple[str, ...]
    aliases: dict[str, str] = field(default_factory=dict)

    def rename(self, path: str) -> str:
        """Path with the motor's one name, whichever of its names was written."""
        steps = path.split(".")
        if steps[:2] == ["machine", "motors"] and len(steps) > 2:
            steps[2] = self.aliases.get(steps[2], steps[2])
        return ".".join(steps)


def read_kinematics(root: Entry, candidates: Sequence[Entry], report: Report) -> Kinematics | None:
    """Axes and motor matrix of a comparison; None where they cannot be understood."""
    common = root.get("common")
    machines = [found for owner in (common, *candidates) if owner and (found := owner.get("machine")) is not None]
    for owner in candidates:
        machine = owner.get("machine")
        found = machine.get("motor_map") if machine is not None else None
        if found is not None:
            fix = "give it under common; machines of different build are different comparisons"
            report.add("not-overridable", found.node, found.path, "motor_map holds for all candidates", fix)
    axes = _axes(machines, candidates, report)
    if not axes:
        return None
    shared = common.get("machine") if common is not None else None
    kinematics = _matrix(shared.get("motor_map") if shared is not None else None, axes, report)
    if kinematics is not None:
        _check_motor_names(machines, kinematics, report)
    return kinematics


def _axes(machines: Sequence[Entry], candidates: Sequence[Entry], report: Report) -> tuple[str, ...]:
    names: dict[str, Entry] = {}
    wrong = False
    for machine in machines:
        block = machine.get("axes")
        for key, entry in block.items() if block is not None else ():
            if key in AXES:
                names.setdefault(key, entry)
            elif key not in SIDE_KEYS:
                wrong = True
                _note_axis(key, entry, report)
    if not names and not wrong:
        first = candidates[0] if candidates else None
        node, path = (first.node, first.path) if first else (None, "")
        report.add(
            "hardware-missing", node, path, "no axis is described", "give machine.axes, like x: {moving_mass: 280 g}"
        )
    return tuple(axis for axis in AXES if axis in names)


def _note_axis(key: str, entry: Entry, report: Report) -> None:
    if key.lower() in _ROTARY:
        message = f'"{key}" is a rotary axis; this project compares straight axes alone'
        report.add("axis-rotary", entry.node, entry.path, message, "leave it out; describe the axes x, y and z")
    else:
        report.add_unknown("unknown-axis", entry.node, entry.path, "axis", key, AXES)


def _matrix(entry: Entry | None, axes: tuple[str, ...], report: Report) -> Kinematics | None:
    if entry is None or entry.value == "straight":
        return _straight(axes)
    if entry.value == "crossed-belts":
        if axes[:2] != ("x", "y"):
            report.add("motor-map", entry.node, entry.path, "crossed belts need the axes x and y", "describe both axes")
            return None
        return _named("crossed-belts", axes, _crossed(len(axes)))
    found = entry.get("matrix")
    if found is None:
        return None
    rows = tuple(tuple(float(cell.value) for cell in row.value) for row in found.value)
    if len(rows) != len(axes) or any(len(row) != len(axes) for row in rows):
        message = f"expected {len(axes)} rows of {len(axes)} numbers, one row per motor and one column per axis"
        report.add("motor-map", found.node, found.path, message, "write it like [[1, 1], [1, -1]]")
        return None
    if is_singular(rows):
        message = "this motor matrix cannot be inverted: some motion moves no motor"
        report.add("motor-map", found.node, found.path, message, "check its rows, like [[1, 1], [1, -1]]")
        return None
    return _named("matrix", axes, rows)


def _straight(axes: tuple[str, ...]) -> Kinematics:
    count = len(axes)
    matrix = tuple(tuple(float(i == j) for j in range(count)) for i in range(count))
    aliases = {f"m{i + 1}": axis for i, axis in enumerate(axes)}
    return Kinematics(axes, "straight", matrix, axes, aliases)


def _crossed(count: int) -> Matrix:
    rows = ((1.0, 1.0), (1.0, -1.0))
    return rows if count == 2 else (*((*row, 0.0) for row in rows), (0.0, 0.0, 1.0))


def _named(name: str, axes: tuple[str, ...], matrix: Matrix) -> Kinematics:
    """Motors m1, m2, … in the order of the rows; the axis names are taken for them in that order."""
    names = tuple(f"m{i + 1}" for i in range(len(axes)))
    return Kinematics(axes, name, matrix, names, dict(zip(axes, names, strict=True)))


def is_singular(rows: Matrix) -> bool:
    """Whether a square matrix of at most 3 rows cannot be inverted, whatever the length of its rows."""
    lengths = [sum(cell * cell for cell in row) ** 0.5 for row in rows]
    if min(lengths) == 0.0:
        return True
    unit = [[cell / length for cell in row] for row, length in zip(rows, lengths, strict=True)]
    return abs(_determinant(unit)) < SINGULAR


def _determinant(rows: Sequence[Sequence[float]]) -> float:
    if len(rows) == 1:
        return rows[0][0]
    minors = ([[*row[:k], *row[k + 1 :]] for row in rows[1:]] for k in range(len(rows)))
    return sum((-1) ** k * rows[0][k] * _determinant(minor) for k, minor in enumerate(minors))


def _check_motor_names(machines: Sequence[Entry], kinematics: Kinematics, report: Report) -> None:
    known = {*kinematics.motor_names, *kinematics.aliases}
    for machine in machines:
        block = machine.get("motors")
        seen: dict[str, str] = {}
        for key, entry in block.items() if block is not None else ():
            if key in SIDE_KEYS:
                continue
            name = kinematics.aliases.get(key, key)
            if key not in known:
                report.add_unknown("unknown-motor", entry.node, entry.path, "motor", key, known)
            elif name in seen:
                message = f'"{key}" and "{seen[name]}" are the same motor'
                report.add("motor-doubled", entry.node, entry.path, message, "keep one of them")
            seen[name] = key
