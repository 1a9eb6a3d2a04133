"""Manifests survive being written and read; addresses are what they are said to be."""

from __future__ import annotations

import hashlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.archive import names
from generator.archive.manifests import (
    Build,
    Entry,
    File,
    Gone,
    Input,
    Line,
    Manifest,
    PageOutput,
    Tombstone,
    find_build_id,
    parse_entry,
    parse_head,
    parse_manifest,
    read_or_say,
    render_entry,
    render_manifest,
)
from generator.errors import SiteProblem

TEXTS = st.text(st.characters(codec="utf-8"), max_size=12)
DIGESTS = st.binary(max_size=4).map(lambda data: hashlib.sha256(data).hexdigest())
SIZES = st.integers(0, 2**40)
FILES = st.builds(File, TEXTS, DIGESTS, SIZES)
GONE = st.builds(Gone, TEXTS, st.none() | FILES)
STONES = st.builds(Tombstone, DIGESTS, TEXTS, TEXTS, TEXTS, st.lists(GONE, max_size=2).map(tuple))
NAMES = st.lists(TEXTS, max_size=3).map(tuple)
VERSIONS = st.dictionaries(TEXTS, TEXTS, max_size=3)
BUILDS = st.builds(
    Build, TEXTS, st.integers(1, 9999), TEXTS, TEXTS, st.none() | DIGESTS, VERSIONS, DIGESTS, st.integers(0, 9),
    NAMES, NAMES, NAMES, TEXTS, st.none() | FILES,
)  # fmt: skip
LINES = st.builds(Line, DIGESTS, DIGESTS)
MANIFESTS = st.builds(
    Manifest, BUILDS, st.dictionaries(TEXTS, LINES, max_size=3), st.lists(STONES, max_size=2).map(tuple),
    st.lists(GONE, max_size=2).map(tuple),
)  # fmt: skip
ENTRIES = st.builds(
    Entry,
    TEXTS,
    TEXTS,
    st.none() | TEXTS | st.lists(st.integers() | TEXTS, max_size=3),
    st.lists(st.builds(Input, TEXTS, DIGESTS, SIZES, st.booleans()), max_size=2).map(tuple),
    st.lists(st.builds(PageOutput, TEXTS, DIGESTS, TEXTS, FILES, st.none() | FILES), max_size=2).map(tuple),
    st.lists(FILES, max_size=2).map(tuple),
    st.lists(FILES, max_size=2).map(tuple),
)


@given(MANIFESTS)
def test_a_manifest_reads_back_as_it_was(manifest: Manifest) -> None:
    text = render_manifest(manifest)

    assert parse_manifest(text) == manifest
    assert parse_head(text.partition("\n")[0]) == manifest.build
    assert set(json.loads(text)) == {"build", "withdrawn", "dropped", "entries", "checksum"}
    assert len(text.splitlines()) >= 5


@given(ENTRIES)
def test_an_entry_reads_back_as_it_was(entry: Entry) -> None:
    assert parse_entry(render_entry(entry)) == entry


@given(MANIFESTS, st.data())
def test_any_changed_character_is_noticed(manifest: Manifest, data: st.DataObject) -> None:
    text = render_manifest(manifest)
    place = data.draw(st.integers(0, len(text) - 2))
    other = data.draw(st.characters(codec="utf-8").filter(lambda character: character != text[place]))

    try:
        same = parse_manifest(text[:place] + other + text[place + 1 :])
    except (ValueError, KeyError, TypeError, AttributeError):
        return
    assert same == manifest


@pytest.mark.parametrize("text", ["", "[]", "{}", "null", '{"checksum":1}', '{"build":{},"checksum":"x"}', "12"])
def test_damaged_manifests_are_said_to_be(text: str) -> None:
    for parse in (parse_manifest, parse_entry, parse_head):
        with pytest.raises(SiteProblem, match="archive/x is damaged"):
            read_or_say(parse, text, "archive/x")  # type: ignore[type-var]


def test_a_newer_format_is_not_guessed_at() -> None:
    build = Build("0001-00000000", 1, "d", "build", None, {}, "0")
    text = render_manifest(Manifest(build, {})).replace('"format":1', '"format":2')
    body = text[: text.rindex('"checksum"')]
    text = f'{body}"checksum":"{hashlib.sha256(body.encode()).hexdigest()}"}}\n'

    with pytest.raises(ValueError, match="format"):
        parse_manifest(text)


def test_a_build_number_holds_sequence_versions_and_inputs() -> None:
    base = find_build_id(7, "ab", {"stallmark": "1"}, "cd")

    assert base.startswith("0007-") and names.BUILD_ID.fullmatch(base)
    others = {find_build_id(7, "ax", {"stallmark": "1"}, "cd"), find_build_id(7, "ab", {"stallmark": "2"}, "cd"),
              find_build_id(7, "ab", {"stallmark": "1"}, "ce"), find_build_id(7, None, {}, ""), base}  # fmt: skip
    assert len(others) == 5
    assert find_build_id(12345, None, {}, "").startswith("12345-")


@pytest.mark.parametrize(
    ("page", "file", "root"),
    [
        ("", "index.html", "./"),
        ("404.html", "404.html", "./"),
        ("methods", "methods/index.html", "../"),
        ("comparisons/x", "comparisons/x/index.html", "../../"),
    ],
)
def test_pages_have_addresses(page: str, file: str, root: str) -> None:
    assert names.find_page_file(page) == file
    assert names.find_root(file) == root
    assert names.is_frozen(page) == (page != "404.html")


def test_sources_keep_only_plain_suffixes() -> None:
    digest = "ab" * 32
    assert names.find_source_file("a/b.CSV", digest) == f"archive/sources/{digest[:16]}.csv"
    assert (
        names.find_source_file("a.p<p>", digest)
        == names.find_source_file("a", digest)
        == f"archive/sources/{digest[:16]}"
    )
