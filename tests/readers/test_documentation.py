"""comparisons/README.md is right: its blocks are read, its limits and codes are the source's, no key is left out."""

from __future__ import annotations

import re
from dataclasses import asdict
from pathlib import Path

import pytest
from source_codes import list_codes, list_makers

from generator.readers.comparison import read_comparison
from generator.readers.folder import DiskFolder, MemoryFolder
from generator.readers.limits import Limits
from generator.readers.nodes import parse_nodes
from generator.readers.schema import COMPARISON, SITE
from generator.readers.shapes import Block, ByWord, Each, Either, Many, Shape
from generator.readers.site import read_site
from generator.records.formats import PHOTO_FORMATS, SOUND_FORMATS, list_formats

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "comparisons" / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```yaml\n(.*?)^```", TEXT, re.MULTILINE | re.DOTALL)
TABLES = re.findall(r"^```csv\n(.*?)^```", TEXT, re.MULTILINE | re.DOTALL)
FILES = {"runs-long.csv": TABLES[0], "votes.csv": TABLES[1]}
STARTER = ROOT / "templates" / "starter"


def sections(text: str) -> dict[str, str]:
    """Text of each top-level key."""
    parts = re.split(r"^(?=[a-z_]+:)", text, flags=re.MULTILINE)
    return {part.split(":")[0]: part for part in parts if part.strip()}


def files_named(text: str) -> dict[str, bytes]:
    names = re.findall(r"[A-Za-z0-9-]+\.(?:csv|wav|png|md)", text)
    return {name: FILES.get(name, "x").encode() for name in names}


def test_there_are_blocks_and_the_first_is_complete() -> None:
    assert len(BLOCKS) >= 10
    result = read_comparison(MemoryFolder({"comparison.yaml": BLOCKS[0].encode()}), "first")
    assert result.problems == ()


@pytest.mark.parametrize("number", range(len(BLOCKS)))
def test_every_block_is_read_as_a_part_of_the_first(number: int) -> None:
    whole = "".join((sections(BLOCKS[0]) | sections(BLOCKS[number])).values())
    files = {"comparison.yaml": whole.encode(), **files_named(whole)}

    result = read_comparison(MemoryFolder(files), "part")

    assert result.problems == (), "\n".join(map(str, result.problems))
    assert result.comparison is not None
    for candidate in result.comparison.candidates:
        candidate.setup()


def test_every_limit_is_listed_with_its_number() -> None:
    listed = dict(re.findall(r"^\| `([a-z_]+)` \| (\d+) \|", TEXT, re.MULTILINE))

    assert {name: int(number) for name, number in listed.items()} == asdict(Limits())


def test_every_code_is_listed_once() -> None:
    listed = re.findall(r"^\| `([a-z0-9]+(?:-[a-z0-9]+)+)` \|", TEXT, re.MULTILINE)

    assert sorted(listed) == sorted(list_codes(list_makers()))


def test_the_formats_that_are_taken_are_named() -> None:
    assert f"Photos are {list_formats(PHOTO_FORMATS)} files" in TEXT
    assert f"Recordings are {list_formats(SOUND_FORMATS)} files" in TEXT


def keys_of(shape: Shape | None) -> set[str]:
    """Every key that a shape knows."""
    if isinstance(shape, Block):
        return set(shape.keys).union(*(keys_of(inner) for inner in shape.keys.values()))
    if isinstance(shape, Each | Many):
        return keys_of(shape.shape)
    if isinstance(shape, Either):
        return keys_of(shape.sequence) | keys_of(shape.mapping)
    if isinstance(shape, ByWord):
        return set().union(*(keys_of(block) for block in shape.blocks.values()))
    return set()


def test_every_key_is_mentioned() -> None:
    mentioned = set(re.findall(r"[a-z_]+(?=:)", "".join(BLOCKS))) | set(re.findall(r"`([a-z_]+)`", TEXT))

    assert keys_of(COMPARISON) | keys_of(SITE) <= mentioned


def started(**words: str) -> dict[str, bytes]:
    """The starter's files with their marks filled in."""
    files = {}
    for path in STARTER.iterdir():
        text = path.read_text(encoding="utf-8")
        for mark, word in words.items():
            text = text.replace("{{" + mark + "}}", word)
        files[path.name] = text.encode()
    return files


def test_the_starter_reads_as_it_stands_and_says_that_it_is_invented() -> None:
    files = started(slug="two-motors", title="Two motors", date="2026-10-01")

    result = read_comparison(MemoryFolder(files), "two-motors")

    assert result.problems == (), "\n".join(map(str, result.problems))
    assert result.comparison is not None
    assert (result.comparison.data, result.comparison.title, result.comparison.date) == (
        "invented",
        "Two motors",
        "2026-10-01",
    )
    assert not any(b"{{" in content for content in files.values())


def test_the_commented_lines_of_the_starter_read_too() -> None:
    files = started(slug="two-motors", title="Two motors", date="2026-10-01")
    lines = files["comparison.yaml"].decode().split("\n")
    switched = [
        re.sub(r"^(\s*)# (?=( *)[a-z_-]+:|( *)- id)", r"\1", line) if k > 3 else line for k, line in enumerate(lines)
    ]
    files["comparison.yaml"] = "\n".join(switched).encode()

    result = read_comparison(MemoryFolder(files), "two-motors")

    assert switched != lines
    assert result.problems == (), "\n".join(map(str, result.problems))
    assert result.comparison is not None
    assert result.comparison.sound and result.comparison.bench["date_from"] == "2026-10-01"


@pytest.mark.parametrize(
    "folder", sorted(p.parent for p in (ROOT / "comparisons").glob("*/comparison.yaml")), ids=lambda p: p.name
)
def test_the_comparisons_of_the_project_read_without_problems(folder: Path) -> None:
    result = read_comparison(DiskFolder(folder, folder.name), folder.name)

    assert result.problems == (), "\n".join(map(str, result.problems))
    assert result.comparison is not None
    for candidate in result.comparison.candidates:
        candidate.setup()


def test_the_facts_of_the_site_read_without_problems() -> None:
    _, problems = read_site(DiskFolder(ROOT / "comparisons", "comparisons"))

    assert problems == ()


def test_blocks_are_yaml_of_the_strict_kind() -> None:
    for block in BLOCKS:
        assert parse_nodes(block.encode(), "block", Limits()).keys
