"""Takes one content out of a site for good: out of assets, sources, pages, live files and zips of every build."""

from __future__ import annotations

import posixpath
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from generator.archive import disk, names
from generator.archive.entries import PageMakers
from generator.archive.manifests import Entry, File, Gone, PageOutput, Tombstone
from generator.archive.notices import render_withdrawn_file, render_withdrawn_page
from generator.archive.publisher import Publisher, open_site
from generator.archive.sources import pack_sources, remove_from_vault
from generator.archive.whereabouts import Whereabouts
from generator.archive.workfolder import say_problems
from generator.errors import SiteProblem


@dataclass(frozen=True)
class Withdrawal:
    """What was withdrawn.

    ``build`` is the id of the manifest with the tombstone; ``digests`` are the content, all that shows the same photo
    or recording, and the zips that held any of them;
    ``places`` where it stood, in the vault too; ``comparisons`` whose newest build used it; ``copies`` are files in the
    site that are not ours and hold the same content: they were left alone; ``leftover`` says what could not be removed
    of the old site, empty if all went.
    """

    build: str
    digests: tuple[str, ...]
    places: tuple[str, ...]
    comparisons: tuple[str, ...]
    copies: tuple[str, ...]
    leftover: str


def withdraw_content(
    site: Path, digest: str, reason: str, date: str, makers: PageMakers | None = None, vault: Path | None = None
) -> Withdrawal:
    """Take one content out of every build, with a tombstone in a new manifest.

    A photo goes in all its sizes and with its source, whichever of them is named, and so does a recording with its
    excerpt. Assets and pages are replaced by a notice of their own kind, sources are removed, zips of sources are
    packed anew; that of a removed comparison becomes a notice.
    The content cannot come back: later builds put the notice wherever it turns up. Copies on hosts, in the comparison
    folders, in the history of a repository and in the cache of results are not reached. If the command is cut off right
    after the switch-over, the old tree lies beside the site until the next command that writes or audits. The vault
    keeps the content until the site holds it no more.

    Parameters
    ----------
    site : Path
        The site's folder.
    digest : str
        At least the first 8 digits of the SHA-256 of a file of the site or the vault, or of a page's version.
    reason : str
        Why, in words that everyone may read.
    date : str
        Date of the tombstone.
    makers : PageMakers, optional
        As for a build, so that the page of builds lists this too.
    vault : Path, optional
        Where unpublished inputs are kept.

    Raises
    ------
    SiteProblem
        The content is part of the archive's records, or was withdrawn before, or the site cannot be written.
    UsageError
        No content, or more than one, has this digest.
    """
    with open_site(site, date, makers=makers) as publisher:
        if publisher.newest is None:
            raise SiteProblem(f"{site} holds no build", "give the folder of a site that was built")
        found = Whereabouts.search(publisher.archive, publisher.newest)
        wanted = found.find_digest(digest)
        for stone in publisher.draft.withdrawn:
            if stone.digest == wanted:
                return _withdraw_again(stone, vault)
        family = found.list_family(wanted)
        zips = dict.fromkeys(each for member in family for each in found.list_zips(member))
        digests = (*family, *(each for each in zips if each not in family))
        stones = tuple(_lay_stone(publisher, found, each, reason) for each in digests)
        publisher.stage.withdrawn.update((stone.digest, stone) for stone in stones)
        publisher.draft.kind = "withdraw"
        publisher.draft.note = reason
        publisher.draft.withdrawn += stones
        entries = [name for name in publisher.list_names() if name != names.BUILDS_PAGE]
        changed = [name for name in entries if _put_again(publisher, name)]
        result = publisher.publish(publisher.newest.build.made_with)
        removed = tuple(path for each in digests for path in _clear_vault(vault, each))
    places = (*sorted({path for each in digests for path in found.places[each]}), *removed)
    slugs = tuple(name for name in changed if names.is_comparison(name))
    foreign = (path for top in result.kept for path, _ in disk.walk_from(site, top))
    copies = tuple(path for path in foreign if _read_digest(site / path) in digests)
    return Withdrawal(result.build or "", digests, places, slugs, copies, result.leftover)


def _withdraw_again(stone: Tombstone, vault: Path | None) -> Withdrawal:
    """Take from the vault what is out of the site already: the vault may have refused, or the command been killed."""
    removed = _clear_vault(vault, stone.digest)
    if not removed:
        raise SiteProblem(f"{stone.digest[:16]} was withdrawn before, on {stone.date}", "nothing is left to do")
    return Withdrawal(stone.build, (stone.digest,), removed, (), (), "")


def _clear_vault(vault: Path | None, digest: str) -> tuple[str, ...]:
    """Remove a content from the vault, if there is one; returns the files that are gone."""
    if vault is None:
        return ()
    with say_problems(vault, lambda: "the site holds it no more, the vault still does"):
        return remove_from_vault(vault, digest)


def _lay_stone(publisher: Publisher, found: Whereabouts, digest: str, reason: str) -> Tombstone:
    """The tombstone of a content, with what stands in its places in the archive laid on the stage."""
    gone = []
    for path in sorted(found.places[digest]):
        if path.startswith("archive/"):
            gone.append(Gone(path, _lay_notice(publisher, path, reason)))
            gone += [Gone(f"{path}.gz", None)] if f"{path}.gz" in found.expected else []
    return Tombstone(digest, publisher.date, reason, "", tuple(gone))


def _lay_notice(publisher: Publisher, path: str, reason: str) -> File | None:
    if path.startswith(f"{names.SOURCES}/"):
        return None
    if path.startswith(f"{names.PAGES}/"):
        page_path = posixpath.dirname(path.removeprefix(f"{names.PAGES}/"))
        return publisher.stage.place(path, render_withdrawn_page(page_path, path, publisher.date, reason))
    return publisher.stage.place(path, render_withdrawn_file(path, publisher.date, reason))


def _put_again(publisher: Publisher, name: str) -> bool:
    """Put an entry of the newest build into the new one, without what is withdrawn; whether it held any."""
    assert publisher.newest
    line = publisher.newest.entries[name]
    entry = publisher.archive.read_entry(line.entry)
    cleared = _clear_entry(publisher, entry)
    if cleared == entry:
        publisher.carry(name)
        return False
    publisher.put(cleared)
    return True


def _clear_entry(publisher: Publisher, entry: Entry) -> Entry:
    """An entry with notices in place of what is withdrawn."""
    withdrawn = publisher.stage.withdrawn
    inputs = tuple(replace(item, published=item.published and item.digest not in withdrawn) for item in entry.inputs)
    pages = tuple(_clear_page(publisher, page) for page in entry.pages)
    lost = {file.path for file in (*entry.assets, *entry.files) if file.digest in withdrawn}
    lost |= {old.live.path for old, new in zip(entry.pages, pages, strict=True) if old != new}
    cleared = replace(entry, inputs=inputs, pages=pages)
    zip_path = names.find_sources_zip(entry.name)
    return replace(
        cleared,
        assets=tuple(_clear_files(publisher, entry.assets, lost)),
        files=tuple(
            _pack_again(publisher, cleared) if file.path == zip_path and inputs != entry.inputs else file
            for file in _clear_files(publisher, entry.files, lost)
        ),
    )


def _clear_page(publisher: Publisher, page: PageOutput) -> PageOutput:
    stone = publisher.stage.withdrawn.get(page.version)
    if not stone:
        return page
    places = [file.path for file in (page.live, page.frozen) if file]
    files = [
        publisher.stage.place(path, render_withdrawn_page(page.path, path, stone.date, stone.reason)) for path in places
    ]
    return replace(page, live=files[0], frozen=files[1] if page.frozen else None)


def _clear_files(publisher: Publisher, files: tuple[File, ...], lost: set[str]) -> Iterator[File]:
    """Files with notices in place of the withdrawn ones, and without compressed copies of these."""
    for file in files:
        stone = publisher.stage.withdrawn.get(file.digest)
        if stone:
            yield publisher.stage.place(file.path, render_withdrawn_file(file.path, stone.date, stone.reason))
        elif file.path.removesuffix(".gz") not in lost or file.path in lost:
            yield file


def _pack_again(publisher: Publisher, entry: Entry) -> File:
    """The zip of the sources that are left."""
    contents = {item.path: publisher.archive.read_or_say(item.file.path) for item in entry.inputs if item.published}
    return publisher.stage.place(names.find_sources_zip(entry.name), pack_sources(entry.name, contents))


def _read_digest(path: Path) -> str | None:
    """Digest of a plain file that can be read, None for anything else."""
    try:
        return names.find_digest(path.read_bytes()) if path.is_file() and not path.is_symlink() else None
    except OSError:
        return None
