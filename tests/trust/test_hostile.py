"""A comparison full of attempts becomes a site in which nothing runs, loads from elsewhere or is badly formed.

Parsing is done by html5lib (the HTML standard's own algorithm) and by the standard library's XML, CSV, JSON and zip.
"""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import html5lib
import pytest
import scanning
from hostile import ATTEMPTS, COMPARISON, FEW, FILES, MARK, SITE, write_folder

from generator import preview
from generator.build import Settings, build
from generator.errors import FileProblems
from generator.readers.comparison import read_comparison
from generator.readers.folder import MemoryFolder
from generator.readers.schema import COMPARISON as SCHEMA
from generator.readers.schema import SITE as SITE_SCHEMA
from generator.readers.shapes import Block, ByWord, Each, Either, Many, Shape, Text

CHECKED = {"surface", "between", "trial"}
"""Texts that must be the id of something else."""


def texts_of(shape: Shape | None, name: str = "") -> Iterator[str]:
    """Keys under which the schema takes any text."""
    if isinstance(shape, Text) and shape.pattern is None:
        yield name
    elif isinstance(shape, Block):
        for key, inner in shape.keys.items():
            yield from texts_of(inner, key)
    elif isinstance(shape, Each | Many):
        yield from texts_of(shape.shape, name)
    elif isinstance(shape, Either):
        yield from texts_of(shape.scalar, name)
        yield from texts_of(shape.sequence, name)
        yield from texts_of(shape.mapping, name)
    elif isinstance(shape, ByWord):
        for block in shape.blocks.values():
            yield from texts_of(block, name)


def test_every_free_text_of_the_contract_is_attacked() -> None:
    attacked = set(re.findall(r"(\w+): (?:\{short: )?§", SITE + COMPARISON)) | {"time", "acceleration"}
    wanted = set(texts_of(SCHEMA)) | set(texts_of(SITE_SCHEMA))

    free = wanted - CHECKED - {"instrument", "items", "frequency", "density"}

    assert attacked >= {"voltage", "peak_current", "holding_torque", "inductance"}, "four keys of sources stand for all"
    assert free - attacked <= set(_keys_of_sources())


def _keys_of_sources() -> Iterator[str]:
    """Keys of figures, whose ``sources`` take any text in one and the same way."""
    for name, shape in SCHEMA.keys.items():
        if name in ("common", "candidates"):
            yield from _keys(shape)


def _keys(shape: Shape | None) -> Iterator[str]:
    if isinstance(shape, Block):
        yield from shape.keys
        for inner in shape.keys.values():
            yield from _keys(inner)
    elif isinstance(shape, Each | Many):
        yield from _keys(shape.shape)
        yield from _keys(Block(shape.extra)) if isinstance(shape, Each) else ()
    elif isinstance(shape, Either):
        for inner in (shape.scalar, shape.sequence, shape.mapping):
            yield from _keys(inner)


def test_nothing_active_or_malformed_anywhere(hostile_site: Path) -> None:
    assert scanning.scan_site(hostile_site) == []


def test_there_was_something_to_find(hostile_site: Path) -> None:
    kinds = {address.rpartition(".")[2] for address in scanning.list_files(hostile_site)}
    page = (hostile_site / "comparisons/evil/index.html").read_text(encoding="utf-8")
    tree = html5lib.parse(page, namespaceHTMLElements=False)
    said = "".join(tree.itertext())

    assert {"html", "svg", "xml", "csv", "json", "zip", "png", "jpeg", "webp", "gz"} <= kinds
    for attempt in ATTEMPTS:
        assert " ".join(attempt.split()) in " ".join(said.split()), f"{attempt} is not on the page as it was written"


def test_attempts_reach_drawings_feed_and_changes(hostile_site: Path) -> None:
    drawn = [
        a for a in scanning.list_files(hostile_site) if a.endswith(".svg") and MARK in (hostile_site / a).read_text()
    ]
    (change,) = (hostile_site / "archive/builds").glob("0002-*.html")

    assert drawn
    assert MARK in (hostile_site / "feed.xml").read_text(encoding="utf-8")
    assert change.stat().st_size > 1000


def test_addresses_and_members_are_plain(hostile_site: Path) -> None:
    odd = [a for a in scanning.list_files(hostile_site) if not scanning.SAFE_ADDRESS.fullmatch(a)]
    with zipfile.ZipFile(hostile_site / "comparisons/evil/sources.zip") as archive:
        names = archive.namelist()

    assert odd == []
    assert f"evil/{FILES['{runs}']}" in names and all(name.startswith("evil/") for name in names)


def test_templates_in_a_comparison_folder_are_never_read(hostile_site: Path) -> None:
    packed = (
        layer
        for a in scanning.list_files(hostile_site)
        for layer in scanning.list_layers(a, (hostile_site / a).read_bytes())
    )

    assert [name for name, content in packed if f"{MARK}-template".encode() in content] == []


def test_island_and_description_data_hold_the_title_as_text(hostile_site: Path) -> None:
    page = (hostile_site / "comparisons/evil/index.html").read_text(encoding="utf-8")
    tree = html5lib.parse(page, namespaceHTMLElements=False)
    blocks = [e for e in tree.iter("script") if e.get("type") == "application/ld+json"]
    title = json.loads((hostile_site / "comparisons/evil/results.json").read_bytes())["title"]

    assert blocks and any(
        title in json.dumps(json.loads(e.text or ""), ensure_ascii=False).replace('\\"', '"').replace("\\\\", "\\")
        for e in blocks
    )


CHARACTERS = {
    "NUL": "\x00",
    "escape": "\x1b",
    "line": "\u2028",
    "turn": "\u202e",
    "isolate": "\u2066",
    "mark": "\ue000",
}


@pytest.mark.parametrize("name", CHARACTERS)
@pytest.mark.parametrize("place", ["title", "note", "write-up", "file"])
def test_characters_that_deceive_are_refused_where_they_stand(name: str, place: str, tmp_path: Path) -> None:
    files = folder_of(tmp_path)
    character = CHARACTERS[name]
    if place == "write-up":
        files[FILES["{story}"]] = f"first\nsecond {character} line\n".encode()
    elif place == "note":
        files[FILES["{runs}"]] = f"held [m/s²],lost [m/s²],note\n42,43,a{character}b\n".encode()
    elif place == "file":
        escaped = json.dumps(f"a{character}b.md")
        files["comparison.yaml"] = files["comparison.yaml"].replace(
            b'write_up: "x', b"write_up: " + escaped.encode() + b' # "x'
        )
    else:
        files["comparison.yaml"] = files["comparison.yaml"].replace(b"title: ", f'title: "{character}"  # '.encode(), 1)

    read = read_comparison(MemoryFolder(files), "evil")

    assert read.comparison is None
    assert {p.code for p in read.problems} <= {"character-refused", "text-line", "path-name", "yaml-syntax"}
    assert all(problem.line for problem in read.problems)


@pytest.mark.parametrize("cell", ["=1+1", "@SUM(1)", "+1+1", "-2+3|cmd", '=HYPERLINK(""x"")'])
def test_formulas_in_source_tables_are_refused(cell: str, tmp_path: Path) -> None:
    files = folder_of(tmp_path)
    files[FILES["{runs}"]] = f'held [m/s²],lost [m/s²],note\n42,43,"{cell}"\n'.encode()

    (problem,) = read_comparison(MemoryFolder(files), "evil").problems

    assert (problem.code, problem.line, problem.column) == ("csv-formula", 2, 3)


TAGS = [
    "title: !!python/object/apply:os.system [id]",
    "title: !!python/name:os.system",
    "title: !<tag:yaml.org,2002:str> x",
    "title: &a [x]\nquestion: *a",
    "<<: {title: x}",
    "%TAG ! tag:yaml.org,2002:python/\n---\ntitle: !object:os.system x",
]


@pytest.mark.parametrize("text", TAGS)
def test_yaml_constructs_nothing(text: str) -> None:
    read = read_comparison(MemoryFolder({"comparison.yaml": text.encode()}), "evil")

    assert read.comparison is None
    assert {p.code for p in read.problems} & {"yaml-tag", "yaml-anchor", "merge-key", "yaml-syntax"}


PROSE = [
    "<script>x</script>",
    "<img src=x onerror=x>",
    "[a](javascript:x)",
    "[a](&#106;avascript:x)",
    "[a]: javascript:x\n\n[a]",
    "<svg onload=x>",
    "<math><mtext></form><form><mglyph><style></math><img src onerror=x>",
    "<iframe srcdoc='<script>x</script>'></iframe>",
    "<a href='java&#9;script:x'>x</a>",
    "<style>@import 'https://evil.example/'</style>",
    "<base href=//evil.example/>",
    "![x](https://evil.example/pixel.png)",
    "<p style='background:url(//evil.example)'>x</p>",
    "&#983040; &#xF0000; &#xe000; {value: nothing}",
    "<noscript><p title='</noscript><img src=x onerror=x>'>",
    "<!--><script>x</script>-->",
]


@pytest.mark.parametrize("text", PROSE)
def test_prose_brings_in_nothing_active(text: str, tmp_path: Path) -> None:
    from generator.pages.prose import Writer

    writer = Writer({}, (), lambda name: pytest.fail(name), {})
    try:
        parts = writer.parts({"a.md": text})
    except FileProblems as error:
        assert all(problem.code.startswith(("prose-", "value-")) and problem.line for problem in error.problems)
        return
    page = "<!doctype html><html lang=en><head><meta http-equiv=content-security-policy content=\"default-src 'none'\">"
    page += "<title>t</title></head><body>" + "".join(str(part.text) for part in parts) + "</body></html>"
    faults = [fault for fault in scanning.scan_page(page.encode()) if not fault.startswith("parse error")]
    assert faults == []
    assert not re.search("[\ue000-\uf8ff\u202e]", page)


def test_an_error_page_of_the_preview_holds_problems_as_text(tmp_path: Path) -> None:
    root = tmp_path / "comparisons"
    root.mkdir()
    folder = write_folder(root)
    text = (folder / "comparison.yaml").read_text(encoding="utf-8")
    (folder / "comparison.yaml").write_text(
        text.replace("measures: acceleration", f'measures: "<script>{MARK}</script><img src=x onerror={MARK}>"')
    )
    state = preview.State(tmp_path / "site")
    preview.build_once(
        state, lambda site: build(Settings(root, site, "2026-10-01", cache=tmp_path / "c", limits=FEW)) and None
    )
    page = b"<!doctype html><html lang=en><head><title>t</title></head><body><p>last good page</p></body></html>"
    handler = type("Handler", (preview._Handler,), {"state": state, "__init__": lambda self: None})()

    shown = handler._with_state(page)
    tree = html5lib.parse(shown.decode(), namespaceHTMLElements=False)

    assert state.error is not None and MARK in state.error
    assert MARK in "".join(tree.itertext())
    assert [e.get("src") for e in tree.iter("script")] == [preview.SCRIPT_PATH]
    assert list(tree.iter("img")) == []


def folder_of(tmp_path: Path) -> dict[str, bytes]:
    """The hostile folder's files by path."""
    folder = write_folder(tmp_path)
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
