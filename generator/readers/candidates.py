"""Candidates: their leaves with owner, tolerance and source, and whether hardware and numbers make a machine."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from generator.readers.kinematics import Kinematics, read_kinematics
from generator.readers.leaves import GROUPS, Flat, check_groups, check_tolerances, flatten, join, unit_of
from generator.readers.plausible import find_unusual
from generator.readers.report import HARDWARE_MISSING, Report
from generator.readers.shapes import Entry
from generator.records.candidate import Candidate, Item, Leaf

DEFAULT_TOLERANCES: Mapping[str, tuple[float, bool]] = {
    "motor.resistance": (0.10, True),
    "motor.inductance": (0.20, True),
    "motor.holding_torque": (0.10, True),
    "motor.rotor_inertia": (0.10, True),
    "moving_mass": (0.02, True),
    "friction": (0.30, True),
    "viscous": (0.30, True),
    "supply.voltage": (0.02, True),
    "supply.source_resistance": (0.30, True),
    "drive.peak_current": (0.05, True),
    "drive.rms_current": (0.05, True),
    "drive.voltage_drop": (0.30, True),
    "transmission.efficiency": (0.03, False),
    "transmission.drag_torque": (0.30, True),
    "transmission.belt_stiffness": (0.20, True),
    "transmission.friction_coefficient": (0.30, True),
}
"""(half-width, share of the value?) where a file states none, by the end of the path; common practice, no source."""

SQUARE_WAVE = 4.0 / math.pi
"""Fundamental of a square wave over its amplitude: what a saturated bridge makes of its voltage."""

_MOTOR_NEEDS = ("step_angle", "holding_torque", "rated_current", "resistance", "inductance", "rotor_inertia")


def read_candidates(root: Entry, report: Report) -> tuple[tuple[Candidate, ...], tuple[str, ...] | None]:
    """All candidates whose parts can be understood, and the machine's axes where these can."""
    entries = root.get("candidates")
    if entries is None:
        return (), None
    kinematics = read_kinematics(root, entries.value, report)
    if kinematics is None:
        return (), None
    common_entry = root.get("common")
    common = flatten(common_entry, "common", kinematics.rename)
    check_groups(common, report)
    flats = [_own(entry, kinematics, report) for entry in entries.value]
    check_tolerances(common, {path: entry for flat in (*flats, common) for path, entry in flat.values.items()}, report)
    readers = [
        _CandidateReader(entry, common, flat, kinematics, report)
        for entry, flat in zip(entries.value, flats, strict=True)
    ]
    candidates = tuple(candidate for reader in readers if (candidate := reader.read()) is not None)
    return candidates, kinematics.axes


def _own(entry: Entry, kinematics: Kinematics, report: Report) -> Flat:
    flat = flatten(entry, str(entry.plain("id", "?")), kinematics.rename)
    check_groups(flat, report)
    check_tolerances(flat, flat.values, report)
    return flat


@dataclass
class _CandidateReader:
    """Joins one candidate's entries with common's and checks what they make."""

    entry: Entry
    common: Flat
    own: Flat
    kinematics: Kinematics
    report: Report

    def read(self) -> Candidate | None:
        self.flat, self.owners = join(self.common, self.own)
        self.leaves: dict[str, Leaf] = {}
        for path, entry in self.flat.values.items():
            unit = unit_of(entry)
            if unit is not None:
                self.leaves[path] = self.leaf(path, entry, unit)
        if not self.is_whole():
            return None
        self.add_screw_efficiencies()
        self.add_sine_factor()
        self.check_motors()
        self.check_voltage()
        self.check_move()
        self.check_plausible()
        return self.candidate()

    def leaf(self, path: str, entry: Entry, unit: str) -> Leaf:
        tolerance, relative, distribution, origin = self.tolerance(path)
        source = self.flat.sources.get(path)
        return Leaf(
            owner=self.owners[path],
            path=path,
            value=float(entry.value),
            unit=unit,
            tolerance=tolerance,
            tolerance_relative=relative,
            distribution=distribution,
            tolerance_origin=origin,
            source=None if source is None else str(source.value) or None,
        )

    def tolerance(self, path: str) -> tuple[float | None, bool, str, str]:
        """(tolerance, relative, distribution, origin) of a figure, stated or by default."""
        stated = self.flat.tolerances.get(path)
        if stated is None:
            ending = next((end for end in DEFAULT_TOLERANCES if path == end or path.endswith(f".{end}")), None)
            width, relative = DEFAULT_TOLERANCES[ending] if ending else (None, True)
            return width, relative, "rectangular", "assumed"
        if isinstance(stated.value, dict):
            width, relative = stated.value["standard"].value
            return width or None, relative, "normal", "file"
        width, relative = stated.value
        return width or None, relative, "rectangular", "file"

    def nested(self, motor: str, path: str) -> str | None:
        """Path of the figure that holds for this motor: its own, else the machine's; None where there is none."""
        shared = path if path.startswith("motor.") else f"machine.{path}"
        return next((p for p in (f"machine.motors.{motor}.{path}", shared) if p in self.leaves), None)

    def miss(self, path: str, fix: str) -> None:
        if self.report.has_fault_at(path):
            return
        name = self.entry.plain("id", "?")
        self.report.add(HARDWARE_MISSING, self.entry.node, self.entry.path, f'candidate "{name}" has no {path}', fix)

    def is_whole(self) -> bool:
        """Whether everything is there that a prediction needs; what is not becomes a problem."""
        missing = [f"machine.axes.{axis}.moving_mass" for axis in self.kinematics.axes]
        missing.append("supply.voltage")
        missing = [path for path in missing if path not in self.leaves]
        for motor in self.kinematics.motor_names:
            missing += [f"motor.{key}" for key in _MOTOR_NEEDS if self.nested(motor, f"motor.{key}") is None]
        for path in dict.fromkeys(missing):
            self.miss(path, f"give {path} under common or here")
        groups = [
            self.has_group("drive", ""),
            *(self.has_group("transmission", m) for m in self.kinematics.motor_names),
        ]
        return not missing and all(groups)

    def has_group(self, name: str, motor: str) -> bool:
        """Whether one member of the block's first group is complete for this motor."""
        members = next(members for block, members in GROUPS if block == name)

        def has(key: str) -> bool:
            return (f"drive.{key}" in self.leaves) if not motor else self.nested(motor, f"{name}.{key}") is not None

        if any(all(has(key) for key in keys) for keys in members):
            return True
        block = "drive" if not motor else "machine.transmission"
        choice = " or ".join(" with ".join(keys) for keys in members)
        self.miss(f"{block}: {choice}", f"give {choice} under {block}, in common or here")
        return False

    def add_screw_efficiencies(self) -> None:
        """Efficiency of a square thread from friction and lead angle, where none is stated."""
        blocks = {
            path.rpartition(".")[0] for path in self.leaves if path.endswith((".friction_coefficient", ".lead_angle"))
        }
        for block in sorted(blocks):
            friction, angle = (self.leaves.get(f"{block}.{key}") for key in ("friction_coefficient", "lead_angle"))
            if friction is None or angle is None:
                self.miss(f"{block}: friction_coefficient with lead_angle", "give both, or the efficiency")
                continue
            self.leaves[f"{block}.efficiency"] = _screw_efficiency(f"{block}.efficiency", friction, angle)
            for leaf in (friction, angle):
                self.leaves[leaf.path] = _exact(leaf)

    def add_sine_factor(self) -> None:
        """k_v: 1 as long as the drive makes a sine, up to 4/π when it saturates."""
        current = next(self.leaves[path] for path in ("drive.peak_current", "drive.rms_current") if path in self.leaves)
        self.leaves["drive.sine_factor"] = Leaf(
            owner=current.owner,
            path="drive.sine_factor",
            value=1.0,
            unit="1",
            tolerance=SQUARE_WAVE - 1.0,
            tolerance_relative=False,
            distribution="one-sided",
            source="from a sine to the square wave of a saturated bridge",
            origin="assumed",
        )

    def value(self, path: str, default: float = 0.0) -> float:
        leaf = self.leaves.get(path)
        return default if leaf is None else leaf.value

    def current_peak(self) -> float:
        return self.value("drive.peak_current") or math.sqrt(2) * self.value("drive.rms_current")

    def place(self, path: str) -> Entry:
        """Where a figure is written, for a problem with it."""
        return self.flat.values.get(path, self.entry)

    def check_motors(self) -> None:
        for path, leaf in self.leaves.items():
            if path.endswith("motor.step_angle"):
                teeth = math.pi / 2 / leaf.value
                if round(teeth) < 1 or abs(teeth - round(teeth)) > 1e-6 * teeth:
                    angle, entry = math.degrees(leaf.value), self.place(path)
                    message = f"a step angle of {angle:.6g}° makes {teeth:.6g} rotor teeth, not a whole number"
                    fix = "90° divided by the step angle is the number of rotor teeth: 1.8 deg gives 50, 0.9 deg 100"
                    self.report.add("rotor-teeth", entry.node, entry.path, message, fix)
        rated = (self.nested(motor, "motor.rated_current") for motor in self.kinematics.motor_names)
        for found in dict.fromkeys(rated):
            self.check_saturation(found or "")

    def check_saturation(self, path: str) -> None:
        peak, rated = self.current_peak(), self.value(path)
        if peak <= math.sqrt(2) * rated * (1 + 1e-9):
            return
        key = "drive.peak_current" if "drive.peak_current" in self.leaves else "drive.rms_current"
        entry = self.place(key)
        message = f"{self.own.owner}: the current's peak of {peak:.3g} A is over √2 times the rated {rated:.3g} A"
        fix = "above that the iron saturates and the predicted torque is too high; check peak against RMS"
        self.report.warn("current-saturation", entry.node, entry.path, message, fix)

    def check_voltage(self) -> None:
        drop = self.current_peak() * self.value("supply.source_resistance") + self.value("drive.voltage_drop")
        left = self.value("supply.voltage") - drop
        if left <= 0:
            entry = self.place("supply.voltage")
            message = f"{self.own.owner}: {left:.3g} V are left at the motor after source resistance and voltage drop"
            self.report.add(
                "voltage-left", entry.node, entry.path, message, "check voltage, source_resistance and voltage_drop"
            )

    def check_move(self) -> None:
        profile, jerk = self.flat.values.get("move.profile"), self.flat.values.get("move.jerk")
        s_curve = profile is not None and profile.value == "s-curve"
        if s_curve and jerk is None and profile is not None:
            self.report.add(
                "jerk-profile", profile.node, profile.path, "an s-curve without its jerk", "add jerk: 2000 m/s³"
            )
        if jerk is not None and not s_curve:
            self.report.add(
                "jerk-profile", jerk.node, jerk.path, "a jerk without profile: s-curve", "add profile: s-curve"
            )

    def check_plausible(self) -> None:
        for found in find_unusual(self.leaves, self.kinematics.motor_names, self.nested):
            entry = self.place(found.path)
            self.report.warn(found.code, entry.node, entry.path, found.message, found.fix)

    def candidate(self) -> Candidate:
        facts = {p: e.value for p, e in self.flat.values.items() if unit_of(e) is None and e.value != ""}
        return Candidate(
            id=str(self.entry.plain("id", "?")),
            name=str(self.entry.plain("name", "?")),
            axes=self.kinematics.axes,
            motor_map=self.kinematics.matrix,
            motor_map_name=self.kinematics.name,
            motor_names=self.kinematics.motor_names,
            leaves=self.leaves,
            facts=facts,
            item=_item(self.entry.get("item")),
        )


def _item(entry: Entry | None) -> Item:
    if entry is None:
        return Item()
    return Item(**{key: value.value for key, value in entry.items() if value.value != ""})


def _exact(leaf: Leaf) -> Leaf:
    return Leaf(leaf.owner, leaf.path, leaf.value, leaf.unit, None, source=leaf.source, origin=leaf.origin)


def _screw_efficiency(path: str, friction: Leaf, angle: Leaf) -> Leaf:
    """Efficiency of a square thread with its spread.

    tan λ / tan(λ + φ), tan φ the friction coefficient; half its range over both tolerances is its own.

    Assumes: square thread, no friction at the collar.
    Source: common textbook formula for power screws; value from memory.
    """

    def efficiency(coefficient: float, lead_angle: float) -> float:
        total = lead_angle + math.atan(coefficient)
        return math.tan(lead_angle) / math.tan(total) if total < math.pi / 2 else 0.0

    corners: Sequence[float] = [
        efficiency(max(friction.value + f * friction.half_width, 0.0), angle.value + a * angle.half_width)
        for f in (-1, 1)
        for a in (-1, 1)
    ]
    return Leaf(
        owner=friction.owner,
        path=path,
        value=efficiency(friction.value, angle.value),
        unit="1",
        tolerance=(max(corners) - min(corners)) / 2,
        tolerance_relative=False,
        source="square thread, from friction coefficient and lead angle with their tolerances",
        origin="assumed",
    )
