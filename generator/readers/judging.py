"""What decides, what matters and what weighs: the keys by which a reader's verdict is reckoned."""

from __future__ import annotations

from collections.abc import Mapping

from generator.readers.report import Report
from generator.readers.schema import FIGURES, SECTIONS
from generator.readers.shapes import Entry
from generator.readers.walk import parse_amount
from generator.records.comparison import Calibrate, Decides, Matters
from generator.unit_grammar import QuantityError

BETTER = {
    "level": "lower",
    "rms": "lower",
    "peak_frequency": "higher",
    "damping": "higher",
    "fastest_clean_band": "higher",
}
VIBRATION_BAND = (10.0, 200.0)
"""Band of the RMS acceleration where a file names none [Hz]."""
RIPPLE_LIMIT = 3.0
"""Ripple of a band over its noise floor up to which the band counts as clean, where a file names none [1]."""

_KINDS = {
    "level": "level",
    "rms": "acceleration",
    "peak_frequency": "frequency",
    "damping": "number",
    "fastest_clean_band": "speed",
}


def items_by_section(root: Entry) -> dict[str, str]:
    """Section of every item by its id."""
    entries = ((section, root.get(section)) for section in SECTIONS)
    return {e.plain("id", "?"): section for section, found in entries if found is not None for e in found.value}


def _known(name: str, entry: Entry, items: Mapping[str, str], report: Report) -> bool:
    if name in items:
        return True
    if "?" not in items:
        report.add_unknown("unknown-item", entry.node, entry.path, "item", name, items)
    return False


def read_decides(root: Entry, report: Report) -> dict[str, Decides]:
    """Deciding figure of every recorded item, stated or by default."""
    items = items_by_section(root)
    found = root.get("decides")
    stated = {name: entry for name, entry in (found.items() if found else ()) if _known(name, entry, items, report)}
    decides = {}
    for name, section in items.items():
        if section in FIGURES:
            decides[name] = _decides(stated.get(name), section, report)
        elif name in stated:
            entry = stated[name]
            message = "a trial is decided by its limit and a panel by its votes; nothing can be chosen here"
            report.add("decides-figure", entry.node, entry.path, message, "remove it")
    return decides


def _decides(entry: Entry | None, section: str, report: Report) -> Decides:
    figure = FIGURES[section][0] if entry is None else str(entry.plain("figure", FIGURES[section][0]))
    if entry is not None and figure not in FIGURES[section]:
        place = entry.get("figure") or entry
        fix = f"write one of {', '.join(FIGURES[section])}"
        report.add("decides-figure", place.node, place.path, f"{figure} is no figure of {section}", fix)
    better = BETTER[figure] if entry is None else str(entry.plain("better", BETTER[figure]))
    band = VIBRATION_BAND if figure == "rms" else None
    found = entry.get("band") if entry is not None else None
    if found is not None and len(found.value) == 2:
        band = (found.value[0].value, found.value[1].value)
        if band[0] >= band[1]:
            report.add(
                "part-order", found.node, found.path, "the band ends before it begins", "give the lower frequency first"
            )
    limit = RIPPLE_LIMIT if figure == "fastest_clean_band" else None
    return Decides(figure, better, band, limit if entry is None else entry.plain("ripple_limit", limit))


def read_matters(root: Entry, report: Report) -> Matters:
    """Smallest differences worth acting on, by kind and by item."""
    found = root.get("matters")
    if found is None:
        return Matters()
    kinds, items = found.get("kinds"), found.get("items")
    return Matters(
        {name: entry.value for name, entry in kinds.items()} if kinds is not None else {},
        _item_matters(root, items, report) if items is not None else {},
    )


def _item_matters(root: Entry, items: Entry, report: Report) -> dict[str, tuple[float, bool]]:
    sections = items_by_section(root)
    measures = {entry.plain("id"): entry.plain("measures") for entry in _listed(root, "trials")}
    decides = read_decides(root, Report(report.file))
    amounts = {}
    for name, entry in items.items():
        if not _known(name, entry, sections, report):
            continue
        kind = _KINDS[decides[name].figure] if name in decides else measures.get(name, "share")
        if kind is None:
            continue
        try:
            amounts[name] = parse_amount(str(entry.value), kind)
        except QuantityError as error:
            report.add_error(error, entry.node, entry.path)
    return amounts


def _listed(root: Entry, section: str) -> list[Entry]:
    found = root.get(section)
    return [] if found is None else list(found.value)


def read_calibrate(root: Entry, report: Report) -> Calibrate:
    """Which unknown is fitted, and to which trial."""
    found = root.get("calibrate")
    if found is None:
        return Calibrate()
    trial = found.get("trial")
    trials = {name: section for name, section in items_by_section(root).items() if section == "trials"}
    if trial is not None and not _known(str(trial.value), trial, trials, report):
        return Calibrate()
    return Calibrate(str(found.plain("unknown", Calibrate().unknown)), None if trial is None else str(trial.value))


def read_weights(root: Entry, report: Report) -> dict[str, float]:
    """Weight of each item that has one."""
    found = root.get("weights")
    if found is None:
        return {}
    items = items_by_section(root)
    weights = {name: float(entry.value) for name, entry in found.items() if _known(name, entry, items, report)}
    if weights and not any(weights.values()):
        fix = "give at least one item a weight above zero; without the key all items count alike"
        report.add("weights-zero", found.node, found.path, "all weights are zero: nothing is weighed", fix)
    return weights
