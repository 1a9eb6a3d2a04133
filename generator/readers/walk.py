"""The one walk that checks nodes against their shapes.

It gives Entries for what is right and notes a problem for all else, so one reading finds every fault.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from typing import Any

from generator.readers.nodes import MAPPING, SCALAR, SEQUENCE, Node
from generator.readers.report import Report, shorten
from generator.readers.shapes import (
    Amount,
    Block,
    ByWord,
    Date,
    Each,
    Either,
    Entry,
    File,
    Level,
    Many,
    Quantity,
    Shape,
    Switch,
    Text,
    Whole,
    Word,
)
from generator.readers.text import find_forbidden
from generator.unit_grammar import QuantityError, comma_error
from generator.units import KINDS, parse_level, parse_quantity


def walk(node: Node, shape: Shape, path: str, report: Report) -> Entry | None:
    """Check a node against its shape; None where nothing of it can be used."""
    if isinstance(shape, Either):
        return _walk_either(node, shape, path, report)
    if isinstance(shape, ByWord):
        return _walk_by_word(node, shape, path, report)
    wanted = MAPPING if isinstance(shape, Block | Each) else SEQUENCE if isinstance(shape, Many) else SCALAR
    if node.kind != wanted:
        _note_kind(node, _FORMS[wanted], path, report)
        return None
    if isinstance(shape, Block):
        return _walk_block(node, shape, path, report)
    if isinstance(shape, Each):
        return _walk_each(node, shape, path, report)
    if isinstance(shape, Many):
        return _walk_many(node, shape, path, report)
    if node.plain and node.text == "":
        report.add("value-missing", node, path, "nothing stands after the key", "write a value or remove the key")
        return None
    return _walk_scalar(node, shape, path, report)


_FORMS = {MAPPING: "a block of keys", SEQUENCE: "a list", SCALAR: "a single value"}


def _note_kind(node: Node, wanted: str, path: str, report: Report, fix: str = "") -> None:
    got = "nothing" if node.kind == SCALAR and not node.text else _FORMS[node.kind]
    if wanted == _FORMS[SEQUENCE] and node.kind == MAPPING:
        fix = 'write a list: begin each entry with "- "'
    report.add("wrong-kind", node, path, f"expected {wanted}, got {got}", fix or f"write {wanted}, or remove the key")


def _walk_either(node: Node, shape: Either, path: str, report: Report) -> Entry | None:
    forms = {SCALAR: shape.scalar, SEQUENCE: shape.sequence, MAPPING: shape.mapping}
    chosen = forms[node.kind]
    if chosen is None:
        wanted = " or ".join(_FORMS[kind] for kind, form in forms.items() if form is not None)
        _note_kind(node, wanted, path, report, shape.fix)
        return None
    return walk(node, chosen, path, report)


def _walk_by_word(node: Node, shape: ByWord, path: str, report: Report) -> Entry | None:
    chosen = node.get(shape.key) if node.kind == MAPPING else None
    block = shape.blocks.get(chosen.text) if chosen is not None and chosen.kind == SCALAR else None
    return walk(node, block or next(iter(shape.blocks.values())), path, report)


def _walk_block(node: Node, shape: Block, path: str, report: Report) -> Entry:
    entries: dict[str, Entry] = {}
    for key, value in node.items():
        known = shape.keys.get(key.text)
        place = f"{path}.{key.text}" if path else key.text
        if known is None:
            report.add_unknown("unknown-key", key, path, "key", key.text, shape.keys)
            continue
        entry = walk(value, known, place, report)
        if entry is not None:
            entries[key.text] = entry
    for name in shape.required:
        if node.get(name) is None:
            report.add(
                "missing-key", node, path, f'the key "{name}" is missing', f"add {name}: {example(shape.keys[name])}"
            )
    return Entry(node, path, entries, shape)


def _walk_each(node: Node, shape: Each, path: str, report: Report) -> Entry:
    entries: dict[str, Entry] = {}
    for key, value in node.items():
        entry = walk(value, shape.extra.get(key.text, shape.shape), f"{path}.{key.text}", report)
        if entry is not None:
            entries[key.text] = entry
    return Entry(node, path, entries, shape)


def _walk_many(node: Node, shape: Many, path: str, report: Report) -> Entry:
    count = len(node.values)
    if count < shape.least or (shape.most is not None and count > shape.most):
        most = "or more" if shape.most is None else f"to {shape.most}"
        wanted = str(shape.least) if shape.least == shape.most else f"{shape.least} {most}"
        report.add("list-length", node, path, f"expected {wanted} entries, got {count}", f"give {wanted} entries")
    found = (walk(value, shape.shape, f"{path}[{k}]", report) for k, value in enumerate(node.values))
    return Entry(node, path, [entry for entry in found if entry is not None], shape)


_EXPONENT = re.compile(r"\s*[+-]?[0-9.]+[eE][+-]?0*([0-9]+)")


def _walk_scalar(node: Node, shape: Shape, path: str, report: Report) -> Entry | None:
    most = report.limits.text_characters
    if len(node.text) > most:
        message = f"a text of {len(node.text)} characters; at most {most} are read"
        report.add("text-long", node, path, message, "shorten it; a long story stands in the write-up")
        return None
    if node.comma:
        error = comma_error(shorten(node.text))
        also = "; a text with a comma stands in quotes" if isinstance(shape, Text) else ""
        report.add(error.code, node, path, error.message, error.fix + also)
        return None
    if isinstance(shape, Quantity | Level | Amount) and (found := _EXPONENT.match(node.text)):
        most = report.limits.exponent
        if len(found[1]) > 9 or int(found[1]) > most:
            message = f"an exponent of {shorten(found[1])}; at most {most} is read"
            report.add("number-exponent", node, path, message, f"write it in a fitting unit, like {example(shape)}")
            return None
    try:
        return Entry(node, path, _PARSERS[type(shape)](node, shape), shape)
    except QuantityError as error:
        report.add_error(error, node, path)
        return None


def example(shape: Shape) -> str:
    """A value well written, for the fix of an error."""
    if isinstance(shape, Quantity) and shape.example:
        return shape.example
    if isinstance(shape, Quantity | Amount):
        return KINDS[shape.kind].example
    if isinstance(shape, Word):
        return " | ".join(shape.choices)
    examples: dict[type, str] = {Date: "2026-09-18", Switch: "true", Whole: "4", Level: "52.1 dB(A)", Block: "{…}"}
    return examples.get(type(shape), "…")


def _parse_text(node: Node, shape: Text) -> str:
    if node.plain and node.comment and not re.match(r" {2,}# ", node.comment):
        whole = shorten(node.text + node.comment)
        fix = f'write "{whole}"; a comment has two spaces before # and one after it'
        raise QuantityError("hash-in-text", f'" #" cuts the text off after "{shorten(node.text)}"', fix)
    bad = find_forbidden(node.text, shape.one_line)
    if bad:
        raise QuantityError("text-line", f"the character {bad} is not allowed here", "write the text in one line")
    text = node.text.strip()
    if text and shape.pattern is not None and not shape.pattern.fullmatch(text):
        raise QuantityError("text-form", f'"{shorten(text)}" is not understood', f"write it like {shape.example}")
    return text


def _parse_word(node: Node, shape: Word) -> str:
    if node.text not in shape.choices:
        fix = f"write one of {', '.join(shape.choices)}"
        raise QuantityError("unknown-word", f'"{shorten(node.text)}" is not known here', fix)
    return node.text


def _parse_date(node: Node, shape: Date) -> str:
    try:
        if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", node.text):
            raise ValueError
        datetime.date.fromisoformat(node.text)
    except ValueError:
        raise QuantityError("date-form", f'"{shorten(node.text)}" is no date', "write it like 2026-09-18") from None
    return node.text


def _parse_switch(node: Node, shape: Switch) -> bool:
    if node.text not in ("true", "false"):
        raise QuantityError("true-or-false", f'"{shorten(node.text)}" is neither true nor false', "write true or false")
    return node.text == "true"


def _parse_whole(node: Node, shape: Whole) -> int:
    text = node.text
    if not re.fullmatch(r"-?[0-9]{1,9}", text) or (text.lstrip("-").startswith("0") and text != "0"):
        part = re.fullmatch(r"1\s*/\s*([1-9][0-9]{0,5})", text)
        fix = f"write {part[1]}" if part else "write it like 4"
        raise QuantityError("whole-number", f'"{shorten(text)}" is no whole number', fix)
    if not shape.least <= int(text) <= shape.most:
        message = f"expected a number from {shape.least} to {shape.most}, got {text}"
        raise QuantityError("out-of-range", message, "correct the number")
    return int(text)


def _parse_amount_of(node: Node, shape: Quantity) -> float:
    value = parse_quantity(node.text, shape.kind)
    bound = None
    if shape.above is not None and value <= shape.above:
        bound = "above zero" if shape.above == 0 else f"more than {shape.above:g}"
    elif shape.least is not None and value < shape.least:
        bound = "zero or more" if shape.least == 0 else f"at least {shape.least:g}"
    elif shape.most is not None and value > shape.most:
        bound = f"at most {shape.most:g}"
    if bound:
        raise QuantityError("out-of-range", f'"{shorten(node.text)}" must be {bound}', "correct the number or its sign")
    return value


def _parse_amount(node: Node, shape: Amount) -> tuple[float, bool]:
    return parse_amount(node.text, shape.kind)


def parse_amount(text: str, kind: str) -> tuple[float, bool]:
    """A share in % or a quantity of this kind, never below zero, and whether it is a share."""
    has_share = kind not in ("level", "temperature difference")
    relative = has_share and text.rstrip().endswith("%")
    try:
        value = parse_quantity(text, "share" if relative else kind)
    except QuantityError as error:
        if error.code != "unit-missing":
            raise
        raise QuantityError(error.code, error.message, _mend_amount(text.strip(), kind, has_share)) from None
    if value < 0:
        raise QuantityError("out-of-range", f'"{shorten(text)}" must be zero or more', "remove the sign")
    return value, relative


def _mend_amount(text: str, kind: str, has_share: bool) -> str:
    """What to write for an amount without its unit; a difference of levels is in dB, whatever their weighting."""
    unit = "dB" if kind == "level" else KINDS[kind].written_unit
    choices = [f"{text} % for a share"] * has_share + [f"{text} {unit}"] * bool(unit)
    return f"write {', or '.join(choices)}"


def _parse_file(node: Node, shape: File) -> str:
    return _parse_text(node, Text())


_PARSERS: Mapping[type, Callable[[Node, Any], Any]] = {
    Text: _parse_text,
    Word: _parse_word,
    Date: _parse_date,
    Switch: _parse_switch,
    Whole: _parse_whole,
    Quantity: _parse_amount_of,
    Level: lambda node, shape: parse_level(node.text),
    Amount: _parse_amount,
    File: _parse_file,
}
