"""YAML text to a tree of nodes that know their line and column. Scalars stay text: the contract types them, never YAML.

The tree is built from the parser's events in one loop, so nesting costs no stack and a deep file is refused early.
What YAML would do silently is refused here: double keys, anchors, aliases, tags, merge keys, several documents.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from generator.errors import FileProblems, Problem
from generator.readers.limits import Limits
from generator.readers.text import FORBIDDEN, decode_text, find_forbidden, name_character

SCALAR, MAPPING, SEQUENCE = "scalar", "mapping", "sequence"
_Place: TypeAlias = tuple[int, int]
"""Line and column, from 1."""

_COMMENT = re.compile(r" +#.*")
_WHOLE = re.compile(r"[+-]?[0-9]+")
_WITH_UNIT = re.compile(r"[0-9]+(?![eE][+-]?[0-9]+$)\s*[^\s0-9.].*")
_INDENTATION = "check the indentation: keys of one block start in one column, and so do the dashes of one list"
_QUOTES = 'a text with ": " in it stands in quotes: "like: this"'
_CLOSED = "nothing follows a closing quote, brace or bracket; put the whole text in quotes"
_COLON = "a key ends with a colon and a space; check the indentation, and put texts with : or # in quotes"
_BRACKETS = "check that brackets and braces are closed; put texts with , or # in quotes"
_OPEN_QUOTES = "close the quotes"
_SYNTAX_FIXES = (
    ("could not find expected", _COLON),
    ("did not find expected ',' or", _BRACKETS),
    ("did not find expected node content", _BRACKETS),
    ("cannot start any token", "put the text in quotes"),
    ("unexpected end of stream", _OPEN_QUOTES),
)


@dataclass
class Node:
    """One scalar, mapping or sequence; line and column count from 1. plain is False for quoted and block text.

    comma says that a decimal comma had parted the scalar in two, as it does between braces or brackets.
    """

    kind: str
    line: int
    column: int
    text: str = ""
    plain: bool = False
    comment: str = ""
    comma: bool = False
    keys: list[Node] = field(default_factory=list)
    values: list[Node] = field(default_factory=list)

    def items(self) -> Iterator[tuple[Node, Node]]:
        """Key and value of a mapping, in file order."""
        return iter(zip(self.keys, self.values, strict=True))

    def get(self, name: str) -> Node | None:
        """Value under this key of a mapping."""
        return next((value for key, value in self.items() if key.text == name), None)


def parse_nodes(content: bytes, file: str, limits: Limits) -> Node:
    """Tree of a YAML file.

    Parameters
    ----------
    content
        The file's bytes [at most limits.comparison_bytes].
    file
        Name that stands in problems.
    limits
        Depth and number of nodes that are accepted.

    Raises
    ------
    FileProblems
        With every problem that was found.
    """
    text = decode_text(content, file)
    if not text.strip():
        fix = "start from the file that stallmark begin writes"
        raise FileProblems([Problem(file, 0, 0, "", "file-empty", "the file is empty", fix)])
    _check_characters(text, file)
    builder = _Builder(text, file, limits)
    root = builder.build()
    if builder.problems or root is None:
        raise FileProblems(builder.problems)
    return root


def _check_characters(text: str, file: str) -> None:
    problems: list[Problem] = []
    for number, line in enumerate(text.split("\n"), 1):
        tab = line.find("\t")
        if tab >= 0 and not problems:
            fix = "use spaces" + (f"; {text.count(chr(9))} tabs in all" if text.count("\t") > 1 else "")
            problems.append(Problem(file, number, tab + 1, "", "tab-character", "a tab", fix))
        bad = FORBIDDEN.search(line)
        if bad:
            message = f"the character {name_character(bad.group())} is not allowed"
            problems.append(Problem(file, number, bad.start() + 1, "", "character-refused", message, "remove it"))
            break
    if problems:
        raise FileProblems(problems)


class _Builder:
    """Puts nodes together from the parser's events."""

    def __init__(self, text: str, file: str, limits: Limits) -> None:
        self.lines = text.split("\n")
        self.text = text
        self.file = file
        self.limits = limits
        self.problems: list[Problem] = []
        self.count = 0
        self.documents = 0

    def add(self, mark: Any, code: str, message: str, fix: str) -> None:
        self.problems.append(Problem(self.file, mark.line + 1, mark.column + 1, "", code, message, fix))

    def build(self) -> Node | None:
        import yaml

        loader: Any = getattr(yaml, "CLoader", yaml.Loader)
        open_nodes: list[Node] = []
        root: Node | None = None
        try:
            for event in yaml.parse(self.text, Loader=loader):
                if isinstance(event, yaml.DocumentStartEvent):
                    self.documents += 1
                    if self.documents > 1:
                        self.add(
                            event.start_mark, "second-document", "a second document", "keep one document; remove ---"
                        )
                        break
                elif isinstance(event, yaml.NodeEvent):
                    node = self.node(event)
                    root = root or node
                    _attach(open_nodes, node)
                    if node.kind != SCALAR:
                        open_nodes.append(node)
                    if self.is_too_much(event, len(open_nodes)):
                        return root
                elif isinstance(event, yaml.CollectionEndEvent):
                    node = open_nodes.pop()
                    _join_commas(node)
                    self.check_keys(node, is_entry=bool(open_nodes) and open_nodes[-1].kind == SEQUENCE)
        except yaml.MarkedYAMLError as error:
            self.add_syntax(error, open_nodes)
        except (yaml.YAMLError, RecursionError) as error:
            self.problems.append(Problem(self.file, 0, 0, "", "yaml-syntax", f"no YAML: {error}", "check the file"))
        if root is None and not self.problems:
            self.problems.append(
                Problem(self.file, 0, 0, "", "file-empty", "the file holds comments alone", "write keys")
            )
        return root

    def node(self, event: Any) -> Node:
        """The node that an event opens; what it must not carry becomes a problem."""
        import yaml

        self.count += 1
        mark = event.start_mark
        place = (mark.line + 1, mark.column + 1)
        if event.anchor is not None:
            what = "an alias" if isinstance(event, yaml.AliasEvent) else "an anchor"
            self.add(mark, "yaml-anchor", f"{what} ({event.anchor[:40]})", "write the values out where they belong")
        if getattr(event, "tag", None) is not None:
            self.add(mark, "yaml-tag", "a tag", "write the value without the tag; its key says what it is")
        if isinstance(event, yaml.MappingStartEvent):
            return Node(MAPPING, *place)
        if isinstance(event, yaml.SequenceStartEvent):
            return Node(SEQUENCE, *place)
        if isinstance(event, yaml.AliasEvent):
            return Node(SCALAR, *place)
        return self.scalar(event, place)

    def scalar(self, event: Any, place: tuple[int, int]) -> Node:
        bad = find_forbidden(event.value)
        if bad:
            self.add(event.start_mark, "character-refused", f"the character {bad} is not allowed", "remove it")
        plain = event.style in (None, "")
        end = event.end_mark
        comment = _COMMENT.match(self.lines[end.line], end.column) if plain and end.line < len(self.lines) else None
        return Node(SCALAR, *place, event.value, plain, comment.group() if comment else "")

    def is_too_much(self, event: Any, depth: int) -> bool:
        if depth > self.limits.depth:
            self.add(event.start_mark, "too-deep", f"more than {self.limits.depth} levels of nesting", "nest less")
        elif self.count > self.limits.nodes:
            self.add(
                event.start_mark, "too-many", f"more than {self.limits.nodes} keys and values", "move runs into CSV"
            )
        else:
            return False
        return True

    def check_keys(self, node: Node, is_entry: bool) -> None:
        """Refuse double keys, merge keys and keys that are no plain word.

        Where the first key of a list's entry stands again, a dash is missing, and the keys behind it double as well.
        """
        first: dict[str, int] = {}
        for key in node.keys:
            place = (self.file, key.line, key.column, "")
            if key.kind != SCALAR:
                self.problems.append(Problem(*place, "key-kind", "a key that is no word", "write key: value"))
            elif key.text == "<<":
                self.problems.append(
                    Problem(*place, "merge-key", "a merge key", "write the keys out where they belong")
                )
            elif key.text in first:
                message = f'"{key.text[:60]}" stands twice in this block, first in line {first[key.text]}'
                may_begin = is_entry and key.line > first[key.text]
                fix = 'begin a new entry with "- " here, or keep one of them' if may_begin else "keep one of them"
                self.problems.append(Problem(*place, "double-key", message, fix))
                if may_begin and key.text == node.keys[0].text:
                    return
            first.setdefault(key.text, key.line)

    def add_syntax(self, error: Any, open_nodes: Sequence[Node]) -> None:
        """Note where this is no YAML: from where the fault begins, as far as that can be known."""
        mark = error.problem_mark or error.context_mark
        said = " ".join(str(part) for part in (error.context, error.problem) if part)
        if "nesting depth" in said:
            self.add(mark, "too-deep", f"more than {self.limits.depth} levels of nesting", "nest less")
            return
        place, where = (mark.line + 1, mark.column + 1), "here or just before"
        before, after = self.parted_at(mark)
        fix = _find_syntax_fix(said, before)
        begin, closer_fix = next(self.find_beginning(error, before, open_nodes), (place, ""))
        if begin[0] < place[0]:
            where = f"from here to line {place[0]}" if after.strip() else "from here to the end"
            place, fix = begin, closer_fix or fix
        message = f"this cannot be read as YAML, {where} ({said})"
        self.problems.append(Problem(self.file, *place, "", "yaml-syntax", message, fix))

    def parted_at(self, mark: Any) -> tuple[str, str]:
        """What stands before a mark in its line, and all that follows."""
        following = self.lines[mark.line :] or [""]
        return following[0][: mark.column], "\n".join(following)[mark.column :]

    def find_beginning(self, error: Any, before: str, open_nodes: Sequence[Node]) -> Iterator[tuple[_Place, str]]:
        """Where what the parser could not end has begun, and what helps if it did: a bracket, a quote, a key.

        The parser often goes on for lines before it notices.
        """
        if (error.context or "").startswith("while scanning"):
            yield (error.context_mark.line + 1, error.context_mark.column + 1), ""
        elif "flow" in (error.context or "") and open_nodes:
            yield (open_nodes[-1].line, open_nodes[-1].column), ""
        elif re.search("mapping values|<document start>", error.problem or "") and ": " not in before:
            yield from self.find_line_without_colon(error.problem_mark.line)
        elif open_nodes and open_nodes[-1].values and before.endswith(("'", '"')):
            last = open_nodes[-1].values[-1]
            if self.lines[last.line - 1][last.column - 1 : last.column] == before[-1]:
                yield (last.line, last.column), _OPEN_QUOTES

    def find_line_without_colon(self, end: int) -> Iterator[tuple[_Place, str]]:
        """The last line of content among the first ``end`` ones, if it has no colon of a key."""
        lines = ((number, line) for number, line in enumerate(self.lines[:end], 1) if re.match(" *[^ #]", line))
        number, line = max(lines, default=(0, ": "))
        if not re.search(r":(\s|$)", line):
            yield (number, len(line) - len(line.lstrip(" -")) + 1), _COLON


def _find_syntax_fix(said: str, before: str) -> str:
    """What helps, by what the parser said and what stands before the mark in its line."""
    if "mapping values are not allowed" in said:
        return _QUOTES if ": " in before else _INDENTATION
    if any(wanted in said for wanted in ("expected key", "expected '-' indicator", "expected <block end>")):
        return _CLOSED if before.strip() else _INDENTATION
    return next((fix for start, fix in _SYNTAX_FIXES if start in said), "check this line and the one above it")


def _join_commas(node: Node) -> None:
    """Join what a decimal comma parted: the key ``5 N`` to the 2 before it in ``{friction: 2,5 N}``.

    In a list only a bare number is joined, and only to a figure with a unit: ``[1,0]`` holds two numbers.
    """
    seconds = node.keys if node.kind == MAPPING else node.values
    for k in range(len(seconds) - 1, 0, -1):
        first, second, value = node.values[k - 1], seconds[k], node.values[k]
        is_rest = value.plain and not value.text if node.kind == MAPPING else _WITH_UNIT.fullmatch(second.text)
        if is_rest and not second.comma and second.text[:1].isdecimal() and _touches(first, second):
            first.text, first.comma = f"{first.text},{second.text}", True
            first.comment = second.comment
            del node.values[k]
            if node.kind == MAPPING:
                del node.keys[k]


def _touches(first: Node, second: Node) -> bool:
    """Whether the second scalar follows a whole number with nothing but a comma between them."""
    is_plain = first.plain and second.plain and _WHOLE.fullmatch(first.text) is not None
    return is_plain and (second.line, second.column) == (first.line, first.column + len(first.text) + 1)


def _attach(open_nodes: list[Node], node: Node) -> None:
    """Hang a node into the innermost open one: a mapping takes keys and values in turn."""
    if not open_nodes:
        return
    parent = open_nodes[-1]
    if parent.kind == MAPPING and len(parent.keys) == len(parent.values):
        parent.keys.append(node)
    else:
        parent.values.append(node)
