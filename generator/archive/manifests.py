"""What the archive writes down about builds: records and their JSON. Touches no file.

A build's manifest names one *entry* a line: a comparison (named by its slug), or another unit such as a part's page
(its name holds a slash). An entry has a manifest of its own, named by content, with its inputs and outputs. So a build
adds one short line for what stayed and one entry for what changed.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from generator.archive import names
from generator.errors import SiteProblem

FORMAT = 1
Read = TypeVar("Read")


@dataclass(frozen=True)
class File:
    """A file of the site: path from its root, SHA-256, size [byte]."""

    path: str
    digest: str
    size: int

    @classmethod
    def of(cls, path: str, content: bytes) -> File:
        """The file that holds this content."""
        return cls(path, names.find_digest(content), len(content))


@dataclass(frozen=True)
class Input:
    """A cleaned input by its digest: path in its folder, size [byte], and whether it stands in the site."""

    path: str
    digest: str
    size: int
    published: bool

    @property
    def file(self) -> File:
        """Where it stands in the archive, if published."""
        return File(names.find_source_file(self.path, self.digest), self.digest, self.size)


@dataclass(frozen=True)
class PageOutput:
    """A page: its path, the digest of its marked text, when that was first published, its live and frozen files.

    ``frozen`` is None for a page that keeps no copies.
    """

    path: str
    version: str
    published: str
    live: File
    frozen: File | None


@dataclass(frozen=True)
class Entry:
    """One unit of a build.

    ``key`` is the digest of everything that its output depends on; ``summary`` is JSON for pages that list it;
    ``assets`` stand under archive/assets/; ``files`` are all others, live ones and lists of versions; ``shown`` maps
    the path of an input to those of the assets that show it: the sizes of a photo, the excerpt of a recording.
    """

    name: str
    key: str
    summary: Any
    inputs: tuple[Input, ...] = ()
    pages: tuple[PageOutput, ...] = ()
    assets: tuple[File, ...] = ()
    files: tuple[File, ...] = ()
    shown: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def find_live(self) -> Iterator[File]:
        """Files outside archive/, which the next build may replace."""
        yield from (page.live for page in self.pages)
        yield from (file for file in self.files if not file.path.startswith("archive/"))

    def find_kept(self) -> Iterator[File]:
        """Files under archive/."""
        yield from self.assets
        yield from (page.frozen for page in self.pages if page.frozen)
        yield from (item.file for item in self.inputs if item.published)
        yield from (file for file in self.files if file.path.startswith("archive/"))

    def says_the_same_as(self, other: Entry) -> bool:
        """Whether inputs and outputs are equal, whatever the keys: these change with code that changes no output."""
        return replace(self, key=other.key) == other


@dataclass(frozen=True)
class Line:
    """What a build's manifest says of an entry: digest of the entry's manifest, digest over its inputs."""

    entry: str
    inputs: str


@dataclass(frozen=True)
class Gone:
    """A file that an older build had: what stands there now, None for nothing."""

    path: str
    instead: File | None


@dataclass(frozen=True)
class Tombstone:
    """A withdrawn content: its digest (of a file, or of a page's marked text), when, why, in which build, where."""

    digest: str
    date: str
    reason: str
    build: str
    gone: tuple[Gone, ...] = ()


@dataclass(frozen=True)
class Build:
    """The head of a build's manifest, enough to list it.

    ``kind`` is build, slim, withdraw; ``previous`` is the SHA-256 of the manifest before; ``inputs`` the digest over
    all cleaned inputs; ``note`` a reason or what was slimmed; ``page`` the page that tells what changed.
    """

    id: str
    sequence: int
    date: str
    kind: str
    previous: str | None
    made_with: Mapping[str, Any]
    inputs: str
    comparisons: int = 0
    added: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    note: str = ""
    page: File | None = None


@dataclass(frozen=True)
class Manifest:
    """A whole build: its head, its entries by name, all contents withdrawn so far, and what this build dropped."""

    build: Build
    entries: Mapping[str, Line]
    withdrawn: tuple[Tombstone, ...] = ()
    dropped: tuple[Gone, ...] = field(default=())

    @property
    def comparisons(self) -> tuple[str, ...]:
        """Slugs of the comparisons: the entries whose name holds no slash."""
        return tuple(name for name in self.entries if names.is_comparison(name))


def find_build_id(sequence: int, previous: str | None, made_with: Mapping[str, Any], inputs: str) -> str:
    """Sequence number and the first 8 digits of the digest over previous manifest, versions and cleaned inputs."""
    return f"{sequence:04d}-{names.find_text_digest([previous, made_with, inputs])[:8]}"


def find_inputs_digest(entries: Mapping[str, Line]) -> str:
    """Digest over the cleaned inputs of all entries but those that the archive makes itself."""
    own = (names.BUILDS_PAGE, names.REMOVED)
    lines = [[name, entries[name].inputs] for name in sorted(entries) if name not in own]
    return names.find_text_digest(lines)


def find_line(entry: Entry, text: str) -> Line:
    """The line that a build's manifest holds for an entry whose own manifest is this text."""
    inputs = names.find_text_digest([[item.path, item.digest] for item in entry.inputs])
    return Line(names.find_digest(text.encode()), inputs)


def render_entry(entry: Entry) -> str:
    """An entry's manifest as text."""
    data = {
        "format": FORMAT,
        "name": entry.name,
        "key": entry.key,
        "summary": entry.summary,
        "inputs": [[item.path, item.digest, item.size, item.published] for item in entry.inputs],
        "pages": [_pack_page(page) for page in entry.pages],
        "assets": [_pack_file(file) for file in entry.assets],
        "files": [_pack_file(file) for file in entry.files],
        **({"shown": entry.shown} if entry.shown else {}),
    }
    return names.render_json(data) + "\n"


def parse_entry(text: str) -> Entry:
    """Read an entry's manifest; ValueError, KeyError or TypeError if it is none."""
    data = json.loads(text)
    return Entry(
        data["name"],
        data["key"],
        data["summary"],
        tuple(Input(*item) for item in data["inputs"]),
        tuple(_unpack_page(item) for item in data["pages"]),
        tuple(File(*item) for item in data["assets"]),
        tuple(File(*item) for item in data["files"]),
        {path: tuple(assets) for path, assets in data.get("shown", {}).items()},
    )


def render_manifest(manifest: Manifest) -> str:
    """A build's manifest as text: JSON with one line for the head and one for each entry, ended by its checksum."""
    head = {**vars(manifest.build), "format": FORMAT, "page": _pack_file(manifest.build.page)}
    stones = [{**vars(stone), "gone": [_pack_gone(gone) for gone in stone.gone]} for stone in manifest.withdrawn]
    lines = [[name, line.entry, line.inputs] for name, line in sorted(manifest.entries.items())]
    body = (
        f'{{"build":{names.render_json(head)},\n"withdrawn":{_render_lines(stones)},\n'
        f'"dropped":{_render_lines([_pack_gone(gone) for gone in manifest.dropped])},\n'
        f'"entries":{_render_lines(lines)},\n'
    )
    return f'{body}"checksum":"{names.find_digest(body.encode())}"}}\n'


def parse_manifest(text: str) -> Manifest:
    """Read a build's manifest; ValueError, KeyError or TypeError if it is none or its checksum fails."""
    data = json.loads(text)
    body = text[: text.rindex('"checksum":')]
    if names.find_digest(body.encode()) != data["checksum"]:
        raise ValueError("the checksum at its end does not fit")
    stones = (Tombstone(**{**item, "gone": _unpack_gone(item["gone"])}) for item in data["withdrawn"])
    entries = {name: Line(entry, inputs) for name, entry, inputs in data["entries"]}
    return Manifest(_unpack_build(data["build"]), entries, tuple(stones), _unpack_gone(data["dropped"]))


def parse_head(line: str) -> Build:
    """Read a build's head from the first line of its manifest."""
    return _unpack_build(json.loads(line.rstrip().rstrip(",") + "}")["build"])


def read_or_say(parse: Callable[[str], Read], text: str, path: str) -> Read:
    """Parse a manifest, or say which one is damaged."""
    try:
        return parse(text)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        advice = "`stallmark builds audit` names all damage; `stallmark builds adopt` goes on from an undamaged copy"
        raise SiteProblem(f"{path} is damaged: {error}", advice) from error


def _render_lines(items: list[Any]) -> str:
    return "[\n" + ",\n".join(names.render_json(item) for item in items) + "\n]" if items else "[]"


def _pack_file(file: File | None) -> list[Any] | None:
    return [file.path, file.digest, file.size] if file else None


def _pack_page(page: PageOutput) -> list[Any]:
    return [page.path, page.version, page.published, _pack_file(page.live), _pack_file(page.frozen)]


def _unpack_page(item: list[Any]) -> PageOutput:
    path, version, published, live, frozen = item
    return PageOutput(path, version, published, File(*live), File(*frozen) if frozen else None)


def _pack_gone(gone: Gone) -> list[Any]:
    return [gone.path, _pack_file(gone.instead)]


def _unpack_gone(items: list[Any]) -> tuple[Gone, ...]:
    return tuple(Gone(path, File(*instead) if instead else None) for path, instead in items)


def _unpack_build(data: dict[str, Any]) -> Build:
    if data.pop("format") != FORMAT:
        raise ValueError("it was written in a format that this version does not know")
    lists = {key: tuple(data[key]) for key in ("added", "changed", "removed")}
    return Build(**{**data, **lists, "page": File(*data["page"]) if data["page"] else None})
