"""What changed between two builds, at the level of figures, and what caused it. Never writes."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from generator.archive import names
from generator.archive.manifests import Build, Entry, Manifest
from generator.archive.store import Archive

IDENTITY = ("id", "trial", "item", "candidate", "between", "kind", "surface", "path", "number", "name")
NOT_FIGURES = {"schema", "comparison", "data", "title", "question", "made_with", "inputs"}
LONGEST_LIST = 12

Place = tuple[str, str, str]


IN_UNIT = {
    "at_least", "at_most", "difference", "drift_allowed", "estimate", "first_lost", "held", "high", "last_held",
    "limit", "lost", "low", "matters", "median", "nominal", "rung", "scatter", "standard_uncertainty", "value",
}  # fmt: skip
"""Figures that are in the unit which their part of results.json names; others have none or another one."""


@dataclass(frozen=True)
class FigureChange:
    """One figure that moved.

    ``section`` is the part of results.json (predictions, measurements, contrasts, …), ``item`` what it belongs to
    (trial, candidate, …), ``figure`` its dotted name, ``unit`` its SI unit where it is known; ``before`` and ``after``
    are its values, None where there was none; ``cause`` is data, model, data and model, or unexplained.
    """

    section: str
    item: str
    figure: str
    unit: str
    before: Any
    after: Any
    cause: str


@dataclass(frozen=True)
class InputChange:
    """An input that was added, changed or removed."""

    path: str
    state: str


@dataclass(frozen=True)
class ComparisonDifference:
    """What happened to one comparison.

    ``state`` is added, changed or removed; ``causes`` are data, model and presentation as far as they changed;
    ``note`` says why figures could not be compared, if so.
    """

    slug: str
    state: str
    causes: tuple[str, ...] = ()
    inputs: tuple[InputChange, ...] = ()
    figures: tuple[FigureChange, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class BuildDifference:
    """What changed from one build (None: before the first) to another; ``made_with`` lists (name, before, after)."""

    before: Build | None
    after: Build
    made_with: tuple[tuple[str, Any, Any], ...] = ()
    comparisons: tuple[ComparisonDifference, ...] = ()


def compare_builds(archive: Archive, before: str, after: str) -> BuildDifference:
    """What changed from one build to another.

    Parameters
    ----------
    archive : Archive
        Where both are kept.
    before, after : str
        Ids, starts of ids, sequence numbers, or ``newest``.

    Raises
    ------
    UsageError
        There is no such build.
    """
    first, second = (archive.read_manifest(archive.find_build(text)) for text in (before, after))
    return compare_manifests(archive, first, archive, second)


def compare_manifests(
    archive_before: Archive, before: Manifest | None, archive_after: Archive, after: Manifest
) -> BuildDifference:
    """What changed from one manifest to another, each read from an archive of its own; see compare_builds."""
    versions = _compare_versions(before.build.made_with if before else {}, after.build.made_with)
    old = before.entries if before else {}
    slugs = sorted({*after.comparisons, *(before.comparisons if before else ())})
    differences = []
    for slug in slugs:
        first, second = old.get(slug), after.entries.get(slug)
        if first is None or second is None:
            differences.append(ComparisonDifference(slug, "removed" if first else "added"))
        elif both := archive_before.find_changed(first, archive_after, second):
            differences.append(_compare_entries(archive_before, both[0], archive_after, both[1], bool(versions)))
    return BuildDifference(before.build if before else None, after.build, versions, tuple(differences))


def compare_results(before: Mapping[str, Any], after: Mapping[str, Any], cause: str) -> tuple[FigureChange, ...]:
    """All figures that differ between two results objects, in the order of the newer one; absent is as good as null."""
    first, second = dict(_list_figures(before)), dict(_list_figures(after))
    changes = []
    for place in {**second, **first}:
        old, new = first.get(place, (None, "")), second.get(place, (None, ""))
        if old[0] != new[0]:
            changes.append(FigureChange(*place, new[1] or old[1], old[0], new[0], cause))
    return tuple(changes)


def _compare_versions(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[tuple[str, Any, Any], ...]:
    every = sorted({*before, *after})
    return tuple((name, before.get(name), after.get(name)) for name in every if before.get(name) != after.get(name))


def _compare_entries(
    archive_before: Archive, before: Entry, archive_after: Archive, after: Entry, other_versions: bool
) -> ComparisonDifference:
    inputs = _compare_inputs(before, after)
    first, second = _read_results(archive_before, before), _read_results(archive_after, after)
    other_model = other_versions or bool(first and second and first.get("made_with") != second.get("made_with"))
    other_data = any(not change.path.endswith(".md") for change in inputs)
    causes = [cause for cause, true in (("data", other_data), ("model", other_model)) if true]
    figures = compare_results(first, second, " and ".join(causes) or "unexplained") if first and second else ()
    other_pages = {page.path: page.version for page in before.pages} != {p.path: p.version for p in after.pages}
    if other_pages and (not causes or any(change.path.endswith(".md") for change in inputs)):
        causes.append("presentation")
    note = "" if first and second else "the figures of one of the two builds are no longer kept"
    return ComparisonDifference(after.name, "changed", tuple(causes), inputs, figures, note)


def _compare_inputs(before: Entry, after: Entry) -> tuple[InputChange, ...]:
    first = {item.path: item.digest for item in before.inputs}
    second = {item.path: item.digest for item in after.inputs}
    states = {path: "removed" if path not in second else "changed" if path in first else "added"
              for path in sorted({*first, *second}) if first.get(path) != second.get(path)}  # fmt: skip
    return tuple(InputChange(path, state) for path, state in states.items())


def _read_results(archive: Archive, entry: Entry) -> dict[str, Any] | None:
    """A comparison's results object as that build had it, None if it is not kept."""
    for file in entry.files:
        if file.path.endswith("/results.json"):
            try:
                content = archive.read(f"{names.ASSETS}/{file.digest[:16]}.json")
                return json.loads(content) if names.find_digest(content) == file.digest else None
            except (OSError, ValueError):
                return None
    return None


def _list_figures(results: Mapping[str, Any]) -> Iterator[tuple[Place, tuple[Any, str]]]:
    """Every figure of a results object: (section, item, figure) and (value, unit)."""
    for section, content in results.items():
        if section in NOT_FIGURES:
            continue
        seen: dict[str, int] = {}
        for part in content if isinstance(content, list) else [content]:
            item = _name_item(part)
            seen[item] = seen.get(item, 0) + 1
            label = item if seen[item] == 1 else f"{item} ({seen[item]})"
            for figure, value, unit in _list_leaves(part):
                yield (section, label, figure), (value, unit if figure.rpartition(".")[2] in IN_UNIT else "")


def _name_item(part: Any) -> str:
    """What a part of results.json belongs to, from the fields that identify it."""
    if not isinstance(part, dict):
        return ""
    values = (part.get(key) for key in IDENTITY)
    words = (" and ".join(map(str, value)) if isinstance(value, list) else value for value in values)
    return ", ".join(str(word) for word in words if isinstance(word, str | int) and word != "")


def _list_leaves(value: Any, name: str = "", unit: str = "") -> Iterator[tuple[str, Any, str]]:
    """All values under a part by dotted name, with the nearest unit; a long list counts as one value."""
    if isinstance(value, dict):
        own = value.get("unit") or unit
        for key, inner in value.items():
            yield from _list_leaves(inner, f"{name}.{key}" if name else key, own)
    elif isinstance(value, list) and len(value) > LONGEST_LIST:
        yield name, f"{len(value)} values, {names.find_text_digest(value)[:8]}", unit
    elif isinstance(value, list) and any(isinstance(inner, dict | list) for inner in value):
        for place, inner in enumerate(value, start=1):
            yield from _list_leaves(inner, f"{name}.{place}" if name else str(place), unit)
    else:
        yield name, value, unit
