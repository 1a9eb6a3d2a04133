"""Makes one entry of a build: puts its pages, assets, files and inputs on the stage and notes what it put there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from generator.archive import names
from generator.archive.comparing import BuildDifference
from generator.archive.manifests import Build, Entry, File, Input, PageOutput
from generator.archive.notices import render_withdrawn_page
from generator.archive.sources import keep_in_vault, pack_sources
from generator.archive.stage import Stage
from generator.archive.store import Archive
from generator.errors import SiteProblem
from generator.records.presentation import PUBLISHED, ROOT, VERSION, Asset, Page


@dataclass(frozen=True)
class InputFile:
    """A cleaned input as the build read it: path in its folder, content, and whether it may stand in the site."""

    path: str
    content: bytes
    published: bool = True


@dataclass(frozen=True)
class VersionRow:
    """One version of a page: its 12 digits, the date it was first published, whether it is the newest, its address."""

    version: str
    published: str
    current: bool
    address: str


@dataclass(frozen=True)
class PageMakers:
    """How the pages look that only the archive can fill; without one, that page is not made.

    ``render_versions(page path, rows, removed)`` makes the page beside a page that lists its versions, oldest first,
    and says since when the page is gone, if it is;
    ``render_builds(builds)`` the page at ``builds/`` that lists builds, oldest first; ``render_changes(difference)``
    the page at ``archive/builds/<id>.html`` that tells what a build changed. Of each returned page the text counts.
    """

    render_versions: Callable[[str, tuple[VersionRow, ...], str | None], Page] | None = None
    render_builds: Callable[[tuple[Build, ...]], Page] | None = None
    render_changes: Callable[[BuildDifference], Page] | None = None


@dataclass(frozen=True)
class Contents:
    """What one unit was made from and came to, as ``Publisher.add`` describes it."""

    inputs: Sequence[InputFile] = ()
    pages: Sequence[Page] = ()
    assets: Sequence[Asset] = ()
    files: Mapping[str, bytes] | None = None
    unfrozen: Sequence[Page] = ()
    shown: Mapping[str, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True)
class EntryWriter:
    """Puts units on a stage.

    ``archive`` is the old one, for the versions that pages had; ``date`` that of new versions; ``vault`` keeps what is
    not published; ``compress`` lays compressed copies beside.
    """

    stage: Stage
    archive: Archive
    date: str
    makers: PageMakers
    vault: Path | None = None
    compress: bool = False

    def write_entry(self, name: str, key: str, summary: Any, contents: Contents) -> Entry:
        """Put one unit on the stage; returns its entry."""
        inputs = tuple(self._write_input(item) for item in contents.inputs)
        files = list(self._write_files(self._list_files(name, contents)))
        pages = []
        for page in contents.pages:
            output, more = self._write_page(page)
            pages.append(output)
            files += more
        for page in contents.unfrozen:
            files += self._write_live(names.find_page_file(page.path), page.text, "", "")
        assets = {file.path: file for file in self._write_assets(contents)}
        shown = {path: tuple(addresses) for path, addresses in contents.shown.items()}
        return Entry(name, key, summary, inputs, tuple(pages), tuple(assets.values()), tuple(files), shown)

    def write_text(self, path: str, text: str) -> File:
        """Put an unfrozen page at a path, without a compressed copy."""
        return self.stage.place(path, fill_marks(text, path, "", ""))

    def write_removed(self, page_path: str, since: str) -> Iterator[File]:
        """Put the list of a page's versions where a page stood that is gone, and beside it."""
        page = self._render_versions(page_path, dict(self.archive.read_history(page_path)), "", since)
        if page:
            yield from self._write_live(names.find_page_file(page_path), page.text, "", "")
            yield from self._write_live(names.find_versions_file(page_path), page.text, "", "")

    def _write_input(self, item: InputFile) -> Input:
        """Keep an input where its publication lets it: in the site, in the vault, or only as a digest."""
        names.check_address(item.path)
        digest = names.find_digest(item.content)
        is_withdrawn = digest in self.stage.withdrawn
        if is_withdrawn:
            self.stage.held_back.append(item.path)
        noted = Input(item.path, digest, len(item.content), item.published and not is_withdrawn)
        if noted.published:
            self.stage.place(noted.file.path, item.content)
        elif self.vault and not is_withdrawn:
            keep_in_vault(self.vault, item.content)
        return noted

    def _list_files(self, name: str, contents: Contents) -> dict[str, bytes]:
        """The live files of a unit; a comparison also gets its published sources as one zip.

        Where a zip once stood, one stands for good, since cited pages link to it; at worst it says that it is empty.
        """
        withdrawn = self.stage.withdrawn
        sources = {
            item.path: item.content
            for item in contents.inputs
            if item.published and names.find_digest(item.content) not in withdrawn
        }
        files = dict(contents.files or {})
        path = names.find_sources_zip(name)
        if names.is_comparison(name) and (sources or self.archive.find_size(path) is not None):
            files[path] = pack_sources(name, sources)
        return files

    def _write_files(self, files: Mapping[str, bytes]) -> Iterator[File]:
        for path, content in files.items():
            if path.startswith("archive/"):
                raise SiteProblem(f"{path} is no place for a live file", "archive/ is kept by content")
            yield from self._write_file(path, content)

    def _write_file(self, path: str, content: bytes) -> Iterator[File]:
        file = self.stage.place(path, content)
        yield file
        if self.compress:
            yield from self.stage.place_compressed(file, content)

    def _write_assets(self, contents: Contents) -> Iterator[File]:
        """Keep assets by content, and results too, so that builds can be compared years later."""
        for asset in contents.assets:
            if not asset.name.startswith(names.find_digest(asset.content)[:16]):
                raise SiteProblem(f"the asset {asset.name} is not named by its content")
            yield from self._write_file(asset.address, asset.content)
        for path, content in (contents.files or {}).items():
            if path.endswith("/results.json"):
                digest = names.find_digest(content)
                yield from self._write_file(f"{names.ASSETS}/{digest[:16]}.json", content)

    def _write_page(self, page: Page) -> tuple[PageOutput, list[File]]:
        """Put a page, its frozen copy and its lists of versions; returns the page and the other files."""
        if not names.is_frozen(page.path):
            raise SiteProblem(f"the page {page.path} has no folder of its own", "add it as an unfrozen one")
        version = names.find_digest(page.text.encode())
        history = dict(self.archive.read_history(page.path))
        published = history.setdefault(version, self.date)
        live, *more = self._write_live(names.find_page_file(page.path), page.text, version, published)
        frozen = self._place_page(names.find_frozen_file(page.path, version), page.text, version, published)
        more += self._write_history(page.path, history, version)
        return PageOutput(page.path, version, published, live, frozen), more

    def _write_live(self, path: str, text: str, version: str, published: str) -> list[File]:
        file = self._place_page(path, text, version, published)
        content = fill_marks(text, path, version, published)
        return [file, *(self.stage.place_compressed(file, content) if self.compress else ())]

    def _place_page(self, path: str, text: str, version: str, published: str) -> File:
        """Put a page at one place, or the notice that it was withdrawn."""
        stone = self.stage.withdrawn.get(version)
        if stone:
            self.stage.held_back.append(path)
            page_path = path.removeprefix(f"{names.PAGES}/").rpartition("/")[0]
            return self.stage.place(path, render_withdrawn_page(page_path, path, stone.date, stone.reason))
        return self.stage.place(path, fill_marks(text, path, version, published))

    def _write_history(self, page_path: str, history: Mapping[str, str], current: str) -> list[File]:
        text = "[" + ",\n".join(names.render_json(item) for item in history.items()) + "]\n"
        files = [self.stage.place(names.find_history_file(page_path), text.encode())]
        page = self._render_versions(page_path, history, current)
        if page:
            files += self._write_live(names.find_versions_file(page_path), page.text, "", "")
        return files

    def _render_versions(
        self, page_path: str, history: Mapping[str, str], current: str, removed: str | None = None
    ) -> Page | None:
        rows = tuple(
            VersionRow(version[:12], date, version == current, names.find_frozen_file(page_path, version))
            for version, date in history.items()
        )
        render = self.makers.render_versions
        return render(page_path, rows, removed) if render else None


def fill_marks(text: str, file: str, version: str, published: str) -> bytes:
    """A page's text with its marks filled in for the place where it stands."""
    filled = text.replace(ROOT, names.find_root(file)).replace(VERSION, version[:12]).replace(PUBLISHED, published)
    return filled.encode()
