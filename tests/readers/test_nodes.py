"""YAML to nodes: places are right, silent readings are refused, hostile files are answered at once."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from generator.errors import FileProblems
from generator.readers.limits import Limits
from generator.readers.nodes import MAPPING, SCALAR, SEQUENCE, Node, parse_nodes
from generator.readers.text import find_forbidden

LIMITS = Limits()


def parse(text: str | bytes) -> Node:
    return parse_nodes(text if isinstance(text, bytes) else text.encode(), "f.yaml", LIMITS)


def codes(text: str | bytes) -> list[tuple[str, int, int]]:
    with pytest.raises(FileProblems) as raised:
        parse(text)
    return [(problem.code, problem.line, problem.column) for problem in raised.value.problems]


def test_scalars_stay_as_they_are_written() -> None:
    root = parse("a: 1e-3\nb: on\nc: 1:30\nd: 012\ne: 0x10\nf: ~\ng: null\nh: 1_000\ni: 2026-09-18\n")

    assert [value.text for value in root.values] == [
        *("1e-3", "on", "1:30", "012", "0x10", "~", "null", "1_000", "2026-09-18")
    ]


def test_places_count_from_one_and_in_characters() -> None:
    root = parse("straße: {länge: [2 mm, 'x']}\nb:\n  - c: d\n")

    inner = root.values[0]
    entry = inner.values[0].values[1]
    assert (inner.kind, inner.line, inner.column) == (MAPPING, 1, 9)
    assert (inner.values[0].kind, inner.values[0].column) == (SEQUENCE, 17)
    assert (entry.kind, entry.line, entry.column, entry.plain) == (SCALAR, 1, 24, False)
    assert root.values[1].values[0].values[0].line == 3


def test_windows_line_ends_and_a_byte_order_mark_are_taken() -> None:
    root = parse(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")

    assert [(key.text, value.text, value.line) for key, value in root.items()] == [("a", "1", 1), ("b", "2", 2)]


def test_a_comment_after_a_value_is_kept_for_the_reader_of_texts() -> None:
    root = parse("a: Motor #1\nb: Motor  # first\nc: 'Motor #1'\nd: {e: Motor #1\n  }\n")

    assert [value.comment for value in root.values[:3]] == [" #1", "  # first", ""]
    assert root.values[3].values[0].comment == " #1"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: 1\nb: 2\na: 3", [("double-key", 3, 1)]),
        ("a: {b: 1, c: 2, b: 3}", [("double-key", 1, 17)]),
        ("a: &x 1\nb: *x", [("yaml-anchor", 1, 4), ("yaml-anchor", 2, 4)]),
        ("a: {<<: {b: 1}}", [("merge-key", 1, 5)]),
        ("a: !!python/object/apply:os.system [ls]", [("yaml-tag", 1, 4)]),
        ("a: !x 1\nb: !!binary aGk=", [("yaml-tag", 1, 4), ("yaml-tag", 2, 4)]),
        ("[a]: 1", [("key-kind", 1, 1)]),
        ("? {a: b}\n: 1", [("key-kind", 1, 3)]),
        ("a:\t1", [("tab-character", 1, 3)]),
        ("a: 1\n\tb: 2", [("tab-character", 2, 1)]),
        ("a: 1\n---\nb: 2", [("second-document", 2, 1)]),
        ("a: b: c", [("yaml-syntax", 1, 5)]),
        ("a: [1, 2", [("yaml-syntax", 1, 4)]),
        ("a: 'x", [("yaml-syntax", 1, 6)]),
        ("a: @x", [("yaml-syntax", 1, 4)]),
        ("a: 1\n b: 2", [("yaml-syntax", 2, 3)]),
        ("a: \x07", [("character-refused", 1, 4)]),
        ("a: \ue001", [("character-refused", 1, 4)]),
        ('a: "\\uE002"', [("character-refused", 1, 4)]),
        ('a: "\\0"', [("character-refused", 1, 4)]),
        ("a: x\u2028y", [("character-refused", 1, 5)]),
        ("a: x\ry", [("character-refused", 1, 5)]),
        ("", [("file-empty", 0, 0)]),
        ("  \n \n", [("file-empty", 0, 0)]),
        ("# only a comment", [("file-empty", 0, 0)]),
        (b"a: 1\nb: \xff", [("not-utf-8", 2, 1)]),
        ("a: 1\n".encode("utf-16"), [("not-utf-8", 1, 1)]),
    ],
)
def test_what_yaml_would_do_silently_is_refused(text: str | bytes, expected: list[tuple[str, int, int]]) -> None:
    assert codes(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: {b: 2,5 N, c: 3 N}", {"a": {"b": "2,5 N", "c": "3 N"}}),
        ("a: {b: -8,8 N}", {"a": {"b": "-8,8 N"}}),
        ("a: {b: 2,5 N, c: 3,5 N}", {"a": {"b": "2,5 N", "c": "3,5 N"}}),
        ("a: [{b: 2,5}]", {"a": [{"b": "2,5"}]}),
        ("a: [52,1 dB(A), 52,4 dB(A)]", {"a": ["52,1 dB(A)", "52,4 dB(A)"]}),
        ("a: [[1,0],[0,1]]", {"a": [["1", "0"], ["0", "1"]]}),
        ("a: [[1,2e-1],[0,1E3]]", {"a": [["1", "2e-1"], ["0", "1E3"]]}),
        ("a: [1,2e]", {"a": ["1,2e"]}),
        ("a: [1, 5 m]", {"a": ["1", "5 m"]}),
        ("a: [2 s,5 s]", {"a": ["2 s", "5 s"]}),
        ("a: ['2',5 m]", {"a": ["2", "5 m"]}),
        ("a: {b: 2, 5 N: }", {"a": {"b": "2", "5 N": ""}}),
        ("a: {b: 2,5 N: x}", {"a": {"b": "2", "5 N": "x"}}),
        ("a: {b: 2,c}", {"a": {"b": "2", "c": ""}}),
    ],
)
def test_what_a_decimal_comma_parts_is_joined(text: str, expected: object) -> None:
    root = parse(text)

    assert plain(root) == expected
    assert {node.text for node in scalars(root) if node.comma} == {
        node.text for node in scalars(root) if "," in node.text
    }


@pytest.mark.parametrize(
    ("text", "line", "fix"),
    [
        ("a:\n  - id: x\n    n: 1\n    id: y\n    n: 2\n", 4, "begin a new entry"),
        ("a:\n  - id: x\n    n: 1\n    n: 2\n", 4, "begin a new entry"),
        ("a:\n  id: x\n  id: y\n", 3, "keep one of them"),
        ("a:\n  - {id: x, id: y}\n", 2, "keep one of them"),
    ],
)
def test_a_missing_dash_is_told_once(text: str, line: int, fix: str) -> None:
    with pytest.raises(FileProblems) as raised:
        parse(text)
    (problem,) = raised.value.problems

    assert (problem.code, problem.line) == ("double-key", line)
    assert problem.fix.startswith(fix)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("a:\n  b: 1\n   c: 2\n", "indentation"),
        ("a:\n  b: 1\n c: 2\n", "indentation"),
        ("a:\n  - b: 1\n   - b: 2\n", "indentation"),
        ("a:\n  - b: 1\n - b: 2\n", "indentation"),
        ("a: b: c", "quotes"),
        ("a: 'b' c\nd: 1\n", "quotes"),
        ("b: 2\na:1\nc: 3\n", "colon and a space"),
        ("a: {b: 1\nc: 2\n", "closed"),
    ],
)
def test_a_fault_of_form_names_what_helps(text: str, word: str) -> None:
    with pytest.raises(FileProblems) as raised:
        parse(text)
    (problem,) = raised.value.problems

    assert problem.code == "yaml-syntax"
    assert word in problem.fix


@pytest.mark.parametrize(
    ("text", "place", "where", "word"),
    [
        ("a: 1\nb 2\nc: 3\n", (2, 1), "from here to line 3", "colon and a space"),
        ("a:\n  b: 1\n  c\n  d: {e: 1}\n", (3, 3), "from here to line 4", "colon and a space"),
        ("a 1\n\n# more\nb: 2\n", (1, 1), "from here to line 4", "colon and a space"),
        ("a:\n  - b 1\n    c: 2\n", (2, 5), "from here to line 3", "colon and a space"),
        ("a\n  - b: 1\n", (1, 1), "from here to line 2", "colon and a space"),
        ("a: {b: 1, c: 2\nd: 3\ne: 4\n", (1, 4), "from here to line 2", "closed"),
        ("a:\n  b: {c: {d: 1}\n  e: {f: 1}\n", (2, 6), "from here to line 3", "closed"),
        ("a:\n  - {b: 1, c: 2,\n  - {b: 3}\n", (2, 5), "from here to line 3", "closed"),
        ("a: [1, 2\nb:\n  - 3\n", (1, 4), "from here to line 2", "closed"),
        ("a: {b: 1\n\n", (1, 4), "from here to the end", "closed"),
        ('a: "b\nc: 1\n', (1, 4), "from here to the end", "close the quotes"),
        ("a: 'b\nc: 1\nd: 'e'\n", (1, 4), "from here to line 3", "close the quotes"),
        ("a: {b: 1}}\nc: 2\n", (1, 10), "here or just before", "nothing follows"),
        ("a: {b: 1] }\nc: 2\n", (1, 9), "here or just before", "closed"),
        ("a:\n  b: 'c'\n d: 1\n", (3, 2), "here or just before", "indentation"),
    ],
)
def test_a_fault_of_form_is_told_where_it_begins(text: str, place: tuple[int, int], where: str, word: str) -> None:
    with pytest.raises(FileProblems) as raised:
        parse(text)
    (problem,) = raised.value.problems

    assert (problem.line, problem.column) == place
    assert f"cannot be read as YAML, {where} (" in problem.message
    assert word in problem.fix


HOSTILE = {
    "brackets": "[" * 20_000,
    "closed brackets": "[" * 20_000 + "]" * 20_000,
    "braces": "a: " + "{b: " * 20_000,
    "sequences": "- " * 20_000,
    "question marks": "? " * 20_000,
    "indentation": "\n".join(" " * k + "a:" for k in range(1_000)),
    "laughs": "a: &a [x]\n" + "".join(f"a{k}: &a{k} [*a, *a]\n" for k in range(1_000)),
    "anchors": "&a " * 20_000,
    "tags": "!" * 20_000,
    "scalars": "[" + "a," * 400_000 + "]",
    "quotes": "a: '" + "x" * 900_000,
    "commas": "a: [" + "1,5 m," * 60_000 + "]",
    "keys": "\n".join(f"k{k}: 1" for k in range(60_000)),
}


@pytest.mark.timeout(20)  # a hang or a reading that grows with the square of the size takes minutes here
@pytest.mark.parametrize("name", sorted(HOSTILE))
def test_hostile_files_are_answered_at_once(name: str) -> None:
    assert codes(HOSTILE[name])


def test_a_line_of_900000_letters_is_one_scalar() -> None:
    assert len(parse("a: " + "x" * 900_000).values[0].text) == 900_000


def test_depth_and_count_are_limits() -> None:
    deep = "a: " + "[" * 4 + "]" * 4

    assert parse_nodes(deep.encode(), "f", Limits(depth=5)).kind == MAPPING
    with pytest.raises(FileProblems):
        parse_nodes(deep.encode(), "f", Limits(depth=4))
    with pytest.raises(FileProblems):
        parse_nodes(b"a: [1, 2, 3]", "f", Limits(nodes=5))


def plain(node: Node) -> object:
    if node.kind == SCALAR:
        return node.text
    if node.kind == SEQUENCE:
        return [plain(value) for value in node.values]
    return {key.text: plain(value) for key, value in node.items()}


def scalars(node: Node) -> list[Node]:
    inner = [scalar for value in (*node.keys, *node.values) for scalar in scalars(value)]
    return [node] if node.kind == SCALAR else inner


WORDS = st.text(st.characters(exclude_categories=["C", "Z", "Co"]), min_size=1, max_size=8)
TREES = st.recursive(WORDS, lambda t: st.lists(t, max_size=4) | st.dictionaries(WORDS, t, max_size=4), max_leaves=12)


@given(st.dictionaries(WORDS, TREES, min_size=1, max_size=4), st.booleans())
def test_trees_that_the_yaml_library_writes_are_read_back(tree: dict[str, object], flow: bool) -> None:
    text = yaml.safe_dump(tree, allow_unicode=True, default_style='"', default_flow_style=flow)

    try:
        assert plain(parse(text)) == tree
    except FileProblems as error:
        assert {problem.code for problem in error.problems} <= {"merge-key", "character-refused", "too-deep"}


@given(st.text(max_size=300) | st.text("{}[]:-#&*!|>'\"?, \nab\\%@`", max_size=300))
def test_any_text_gives_a_tree_or_problems(text: str) -> None:
    content = text.encode("utf-8", "surrogatepass")
    try:
        assert parse(content).kind in (SCALAR, MAPPING, SEQUENCE)
    except FileProblems as error:
        assert error.problems
        assert all(problem.message and problem.fix for problem in error.problems)


@given(st.binary(max_size=200))
def test_any_bytes_give_a_tree_or_problems(content: bytes) -> None:
    try:
        parse(content)
    except FileProblems as error:
        assert error.problems


def test_forbidden_characters_are_named() -> None:
    assert find_forbidden("a\ue000") == "U+E000"
    assert find_forbidden("a\nb") == ""
    assert find_forbidden("a\nb", one_line=True) == "U+000A"
