"""What the sections of one comparison share while they are read: its folder, its names and the files it names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from generator.errors import FileProblems
from generator.readers.folder import Folder, FolderError
from generator.readers.limits import Limits
from generator.readers.report import Report
from generator.readers.shapes import Entry, File
from generator.readers.text import read_text
from generator.records.comparison import SourceFile

FILE = "comparison.yaml"


@dataclass
class Context:
    """Shared by all section readers; candidates is None where ids are faulty, axes where the machine is."""

    folder: Folder
    limits: Limits
    report: Report
    candidates: tuple[str, ...] | None = None
    axes: tuple[str, ...] | None = None
    sources: dict[str, SourceFile] = field(default_factory=dict)
    refused: set[str] = field(default_factory=set)

    def name_in_folder(self, path: str) -> str:
        """The file's name as it stands in problems."""
        return f"{self.folder.label}/{path}"

    def file(self, entry: Entry) -> str:
        """Path of a named file, after it was found to be one that may be read."""
        path = str(entry.value)
        role = role_of(entry)
        if path not in self.sources:
            self.check_name(entry, path)
            self.sources[path] = SourceFile(path, role)
        return path

    def check_name(self, entry: Entry, path: str) -> None:
        """Refuse one file too many, or two whose names differ in case only."""
        if len(self.sources) == self.limits.files:
            message = f"more than {self.limits.files} files"
            self.report.add("too-many", entry.node, entry.path, message, "name fewer files")
        twin = next((name for name in self.sources if name.lower() == path.lower()), None)
        if twin is not None:
            message = f'"{path}" and "{twin}" differ only in capital letters'
            self.report.add("path-case", entry.node, entry.path, message, "some disks take them for one; rename one")
        try:
            self.folder.check(path, self.limits.bytes_for(role_of(entry)))
        except FolderError as error:
            self.refused.add(path)
            self.report.add_error(error, entry.node, entry.path)

    def read(self, entry: Entry) -> bytes | None:
        """Content of a named file; None, with its problem noted, where it may not or cannot be read."""
        path = self.file(entry)
        if path in self.refused:
            return None
        try:
            return self.folder.read(path, self.limits.bytes_for(role_of(entry)))
        except FolderError as error:
            self.report.add_error(error, entry.node, entry.path)
            return None

    def text_file(self, entry: Entry) -> str:
        """Path of a named text, after its characters were found to be ones that may be published."""
        path = self.file(entry)
        content = self.read(entry)
        if content is not None:
            try:
                read_text(content, self.name_in_folder(path))
            except FileProblems as error:
                self.report.add_all(error.problems)
        return path

    def files(self, entry: Entry) -> tuple[str, ...]:
        """Paths of a file or a list of files, each plain or under ``file``."""
        entries = entry.value if isinstance(entry.value, list) else [entry]
        named = (found.get("file") or found for found in entries)
        return tuple(self.file(found) for found in named)

    def per_candidate(self, entry: Entry | None) -> Iterable[tuple[str, Entry]]:
        """Entries under the ids of candidates; an unknown id is a problem."""
        for name, found in entry.items() if entry is not None else ():
            if self.knows_candidate(name, found):
                yield name, found

    def knows_candidate(self, name: str, entry: Entry) -> bool:
        """Whether a candidate is there; a problem where it is not."""
        if self.candidates is not None and name not in self.candidates:
            self.report.add_unknown("unknown-candidate", entry.node, entry.path, "candidate", name, self.candidates)
            return False
        return True

    def direction(self, entry: Entry | None) -> tuple[tuple[float, ...], Mapping[str, float]] | None:
        """Unit vector over the axes and the author's own numbers; None where there is none."""
        if entry is None or self.axes is None:
            return None
        if isinstance(entry.value, list):
            written = self.listed_direction(entry)
        else:
            written = {name: float(found.value) for name, found in entry.items()}
            for name, found in entry.items():
                if name not in self.axes:
                    self.report.add_unknown("unknown-axis", found.node, found.path, "axis", name, self.axes)
        vector = [written.get(axis, 0.0) for axis in self.axes]
        length = math.hypot(*vector)
        if length == 0.0 or not math.isfinite(length):
            if all(name in self.axes for name in written):
                message, fix = "this direction has no length", "write it like {x: 1, y: 1}"
                self.report.add("direction-zero", entry.node, entry.path, message, fix)
            return None
        return tuple(part / length for part in vector), written

    def listed_direction(self, entry: Entry) -> dict[str, float]:
        """Shares of a direction written as a list in the order of the axes [1]."""
        axes = self.axes or ()
        if len(entry.value) != len(axes):
            message = f"expected {len(axes)} numbers for {', '.join(axes)}, got {len(entry.value)}"
            self.report.add("list-length", entry.node, entry.path, message, "write it like {x: 1, y: 1}")
        return {axis: float(found.value) for axis, found in zip(axes, entry.value, strict=False)}


def role_of(entry: Entry) -> str:
    """What the named file serves for."""
    return entry.shape.role if isinstance(entry.shape, File) else "table"
