"""Finds every place in a site where one content stands. Never writes."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field

from generator.archive import names
from generator.archive.manifests import Entry, File, Manifest, PageOutput
from generator.archive.store import Archive
from generator.errors import SiteProblem, UsageError

DIGEST = re.compile(r"[0-9a-f]{8,64}")


@dataclass(frozen=True)
class Whereabouts:
    """Every content that a site holds: digest (of a file, or of a page's marked text) to the places where it stands.

    ``packed`` are the zips of the newest build's sources.
    ``shows`` leads from an input to the assets that ever showed it, ``shown_by`` from such an asset to its inputs.
    ``aliases`` lead from the digest of a page's file to that of its text; ``records`` are digests of the archive's own.
    """

    archive: Archive
    places: dict[str, set[str]]
    aliases: dict[str, str]
    records: set[str]
    expected: dict[str, File]
    packed: set[str]
    shows: dict[str, set[str]] = field(default_factory=dict)
    shown_by: dict[str, set[str]] = field(default_factory=dict)

    @classmethod
    def search(cls, archive: Archive, newest: Manifest) -> Whereabouts:
        """Go through every build; live files count as far as the newest has them."""
        expected = archive.find_expected()
        found = cls(archive, {}, {}, set(), expected, {names.find_sources_zip(slug) for slug in newest.comparisons})
        current = {line.entry for line in newest.entries.values()}
        found.records.update(file.digest for path, file in expected.items() if _is_record(path))
        for build_id in archive.list_ids():
            for line in archive.read_manifest(build_id).entries.values():
                found._note(archive.read_entry(line.entry), line.entry in current)
        return found

    def find_digest(self, start: str) -> str:
        """The one digest that starts so; a page's file counts as its text."""
        if not DIGEST.fullmatch(start):
            raise UsageError(f"{start!r} is no digest", "give 8 to 64 of its hexadecimal digits, in small letters")
        every = {*self.places, *self.aliases}
        found = {self.aliases.get(digest, digest) for digest in every if digest.startswith(start)}
        if len(found) == 1:
            return found.pop()
        if not found and any(digest.startswith(start) for digest in self.records):
            raise SiteProblem(f"{start} is a record of the archive itself", "withdraw the file or page that it names")
        what = f"{len(found)} contents start with {start}" if found else f"nothing in the site has the digest {start}"
        raise UsageError(what, "sha256sum prints the digest of a file; a page names its own version")

    def list_family(self, digest: str) -> list[str]:
        """Digests of all that shows the same photo or recording, itself and its source among them."""
        inputs = {digest, *self.shown_by.get(digest, ())}
        return sorted(inputs.union(*(self.shows.get(each, ()) for each in inputs)))

    def list_zips(self, digest: str) -> Iterator[str]:
        """Digests of zip files that hold a content, other than those of sources that are packed anew."""
        for each, places in self.places.items():
            zips = [path for path in places if path.endswith(".zip") and path not in self.packed]
            if each != digest and zips and _holds(self.archive.read_or_say(zips[0]), digest):
                yield each

    def _note(self, entry: Entry, is_current: bool) -> None:
        for page in entry.pages:
            self._note_page(page, is_current)
        for item in entry.inputs:
            self.places.setdefault(item.digest, set())
            for path in entry.shown.get(item.path, ()):
                for asset in (file.digest for file in entry.assets if file.path == path):
                    self.shows.setdefault(item.digest, set()).add(asset)
                    self.shown_by.setdefault(asset, set()).add(item.digest)
        own = {page.live.path for page in entry.pages} | {page.frozen.path for page in entry.pages if page.frozen}
        for file in (*entry.find_kept(), *(entry.find_live() if is_current else ())):
            if file.path not in own and not _is_record(file.path) and (is_current or file.path in self.expected):
                self.places.setdefault(file.digest, set()).add(file.path)

    def _note_page(self, page: PageOutput, is_current: bool) -> None:
        places = self.places.setdefault(page.version, set())
        if page.frozen:
            self.aliases[page.frozen.digest] = page.version
            places.add(page.frozen.path)
        if is_current:
            self.aliases[page.live.digest] = page.version
            places.add(page.live.path)


def _is_record(path: str) -> bool:
    return path.startswith((f"{names.BUILDS}/", f"{names.ENTRIES}/")) or path.endswith("/versions.json")


def _holds(content: bytes, digest: str) -> bool:
    """Whether a zip file has a member of this digest."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return any(names.find_digest(archive.read(member)) == digest for member in archive.infolist())
    except zipfile.BadZipFile:
        return False
