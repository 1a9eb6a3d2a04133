"""Keeps the addresses of pages that a build no longer has: cited pages link to them for years."""

from __future__ import annotations

import posixpath
from collections.abc import Iterator, Mapping

from generator.archive import names
from generator.archive.entries import EntryWriter
from generator.archive.manifests import Entry, File, Line, Manifest
from generator.archive.store import Archive


def keep_addresses(
    writer: EntryWriter, newest: Manifest, entries: Mapping[str, Line], after: Archive, date: str
) -> Entry | None:
    """Let each page that was there once and is not now answer with the list of its versions.

    Of a removed comparison the live files stay too, as they were last: its results, tables and sources.

    Parameters
    ----------
    writer : EntryWriter
        Puts files on the stage; its archive is that of the newest build.
    newest : Manifest
        The newest build.
    entries : mapping of str to Line
        The entries of the build that follows it.
    after : Archive
        Where these can be read.
    date : str
        Date of that build.

    Returns
    -------
    Entry or None
        The entry that holds these files, None if no page is gone. Its summary maps the paths of the pages that are
        gone to the dates when they went.
    """
    before = newest.entries.get(names.REMOVED)
    last = writer.archive.read_entry(before.entry) if before else None
    changed = [
        writer.archive.read_entry(line.entry)
        for name, line in newest.entries.items()
        if name != names.REMOVED and entries.get(name) != line
    ]
    fresh = [after.read_entry(line.entry) for name, line in entries.items() if newest.entries.get(name) != line]
    present = {page.path for entry in fresh for page in entry.pages}
    dates = {page.path: date for entry in changed for page in entry.pages} | (last.summary if last else {})
    gone = {path: dates[path] for path in sorted(dates) if path not in present}
    if not gone:
        return None
    files = {file.path: file for path, since in gone.items() for file in writer.write_removed(path, since)}
    rewritten = set(files)
    kept = [*(last.files if last else ()), *(file for entry in changed for file in _find_own_files(entry))]
    for file in kept:
        if posixpath.dirname(file.path) in gone and file.path.removesuffix(".gz") not in rewritten:
            files[file.path] = file if writer.archive.find_size(file.path) == file.size else _restore(writer, file)
    return Entry(names.REMOVED, "", gone, files=tuple(files.values()))


def _restore(writer: EntryWriter, file: File) -> File:
    """A lost or cut live file again where the archive kept its content, else a notice in its place."""
    try:
        content = writer.archive.read(f"{names.ASSETS}/{file.digest[:16]}{posixpath.splitext(file.path)[1]}")
    except OSError:
        content = b""
    if names.find_digest(content) != file.digest:
        content = b"This file was lost from the site; the sources of its comparison stand in the archive.\n"
    return writer.stage.place(file.path, content)


def _find_own_files(entry: Entry) -> Iterator[File]:
    """The live files of a comparison but its pages."""
    if names.is_comparison(entry.name):
        yield from (file for file in entry.files if not file.path.startswith("archive/"))
