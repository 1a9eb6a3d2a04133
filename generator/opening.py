"""Opens every file that a comparison names, cleaned, as the models and the page will: all faults before any model runs.

Files are opened one after another, and what was decoded is dropped at once, so memory holds one file at a time.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from generator.archive.cleaning import clean_content
from generator.errors import FileProblems, Problem
from generator.evaluation.recall import Recall
from generator.readers.comparison import read_comparison
from generator.readers.context import FILE
from generator.readers.folder import Folder, FolderError
from generator.readers.limits import Limits
from generator.readers.report import Report
from generator.readers.sound import read_sound
from generator.readers.traces import read_band_levels, read_density, read_trace
from generator.records.comparison import Comparison
from generator.records.recordings import Photo, Sound, SoundRecording, Surface, Vibration


@dataclass(frozen=True)
class Opened:
    """A comparison and the digests of its cleaned files by path; comparison is None where a problem is an error."""

    comparison: Comparison | None
    problems: tuple[Problem, ...]
    digests: Mapping[str, str]


@dataclass(frozen=True)
class _Use:
    """One way in which a file is used: what its outcome depends on besides the content, and the reading itself."""

    facts: Sequence[Any]
    read: Callable[[bytes, str], object]


def open_comparison(folder: Folder, slug: str, limits: Limits, recall: Recall) -> Opened:
    """Read a comparison and open all its files.

    Parameters
    ----------
    folder
        Where its files are.
    slug
        The folder's name.
    limits
        Sizes and counts that are accepted.
    recall
        Keeps what was found right, so that a file is not decoded again while it stays as it is.
    """
    read = read_comparison(folder, slug, limits)
    if read.comparison is None:
        return Opened(None, read.problems, {})
    report = Report(f"{folder.label}/{FILE}", limits)
    report.add_all(read.problems)
    uses = _list_uses(read.comparison, limits)
    digests = {}
    for source in read.comparison.sources:
        try:
            content = read_clean(folder, source.path, limits.bytes_for(source.role))
        except FileProblems as error:
            report.add_all(error.problems)
            continue
        digests[source.path] = hashlib.sha256(content).hexdigest()
        for use in uses.get(source.path, ()):
            needs = [use.facts, digests[source.path], limits]
            report.add_all(_find_faults(use, content, f"{folder.label}/{source.path}", needs, recall))
    return Opened(None if report.failed else read.comparison, report.problems(), digests)


def read_clean(folder: Folder, path: str, limit: int) -> bytes:
    """A file of at most ``limit`` bytes without its metadata; FileProblems where it cannot be read or cleaned."""
    name = f"{folder.label}/{path}"
    try:
        content = folder.read(path, limit)
    except FolderError as error:
        raise error.at(name) from error
    return clean_content(name, content)


def _find_faults(use: _Use, content: bytes, name: str, needs: Sequence[Any], recall: Recall) -> Sequence[Problem]:
    """Problems of one use of a file; only that there are none is kept."""

    def find_none() -> bool:
        use.read(content, name)
        return True

    try:
        recall.json("opened", needs, find_none)
    except FileProblems as error:
        return error.problems
    return ()


# --- who uses what --------------------------------------------------------------------------------------------------


def _list_uses(comparison: Comparison, limits: Limits) -> dict[str, list[_Use]]:
    """Every use of every recording, photo, trace and spectrum, by the file's path."""
    found = [use for item in comparison.sound for use in _uses_of_sound(item, limits)]
    found += [use for item in comparison.vibration for use in _uses_of_vibration(item, limits)]
    found += [use for item in comparison.surfaces for use in _uses_of_surface(item, limits)]
    uses: dict[str, list[_Use]] = {}
    for path, use in found:
        uses.setdefault(path, []).append(use)
    return uses


def _uses_of_sound(item: Sound, limits: Limits) -> Iterator[tuple[str, _Use]]:
    recordings = [recording for group in item.recordings.values() for recording in group]
    calibration = item.microphone.calibration
    if calibration is not None and calibration.file is not None:
        recordings.append(SoundRecording(calibration.file))
    if item.background is not None:
        recordings.append(item.background)
    for recording in recordings:
        yield recording.file, _as_sound(recording, limits)
    for path in _all(item.spectra):
        yield path, _Use(["levels"], lambda content, name: read_band_levels(content, name, limits))


def _as_sound(recording: SoundRecording, limits: Limits) -> _Use:
    facts = ["sound", recording.start, recording.stop, recording.channel]
    return _Use(facts, lambda content, name: read_sound(content, replace(recording, file=name), limits))


def _uses_of_vibration(item: Vibration, limits: Limits) -> Iterator[tuple[str, _Use]]:
    columns = item.columns
    for path in _all(item.traces):
        yield path, _Use(["trace", columns], lambda content, name: read_trace(content, name, columns, limits))
    for path in _all(item.spectra):
        yield path, _Use(["density", columns], lambda content, name: read_density(content, name, columns, limits))


def _uses_of_surface(item: Surface, limits: Limits) -> Iterator[tuple[str, _Use]]:
    for photo in item.photos.values():
        yield photo.file, _as_photo(item, photo, limits)


def _as_photo(item: Surface, photo: Photo, limits: Limits) -> _Use:
    from generator.analysis.surface import check_geometry
    from generator.readers.photos import read_photo

    def read(content: bytes, name: str) -> None:
        problems = check_geometry(item, photo, read_photo(content, name, limits))
        if problems:
            raise FileProblems(problems)

    return _Use(["photo", item.scale, item.bands, item.along, replace(photo, file="")], read)


def _all(files: Mapping[str, tuple[str, ...]]) -> Iterator[str]:
    return (path for group in files.values() for path in group)
