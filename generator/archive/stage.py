"""Fills the stage: new files as they come, then everything of the old site that stays, by hard links."""

from __future__ import annotations

import gzip
import os
import posixpath
from collections.abc import Container, Iterable, Set
from pathlib import Path

from generator.archive import disk, names
from generator.archive.manifests import File, Tombstone
from generator.archive.notices import render_withdrawn_file
from generator.archive.store import Archive, list_foreign
from generator.errors import SiteProblem

COMPRESSED = {".html", ".svg", ".css", ".js", ".json", ".csv", ".xml", ".txt", ".md", ".yaml"}


class Stage:
    """The site that is to be: a folder that fills up beside the old site.

    Contents are written as they come and forgotten: only digests stay in memory. What the old site already holds byte
    for byte is not written again.

    Parameters
    ----------
    folder : Path
        The empty stage.
    site : Path
        The old site, there or not.
    withdrawn : dict of str to Tombstone
        Contents that must not come back, by digest; a placeholder is put in their place.
    """

    def __init__(self, folder: Path, site: Path, withdrawn: dict[str, Tombstone]) -> None:
        self.folder = folder
        self.site = site
        self.withdrawn = withdrawn
        self.held_back: list[str] = []
        self.new_files = 0
        self.new_bytes = 0
        self._old = Archive(site)
        self._folders: set[str] = set()

    def place(self, path: str, content: bytes) -> File:
        """Put a content at a path of the new site; returns the file as it will stand there."""
        stone = self.withdrawn.get(names.find_digest(content))
        if stone:
            self.held_back.append(path)
            content = render_withdrawn_file(path, stone.date, stone.reason)
        file = File.of(names.check_address(path), content)
        if not self._old.holds(path, content):
            self.write(path, content)
        return file

    def place_compressed(self, file: File, content: bytes) -> Iterable[File]:
        """A compressed copy beside a file whose kind gains by it: the file's name with .gz added."""
        if posixpath.splitext(file.path)[1] in COMPRESSED and file.digest == names.find_digest(content):
            yield self.place(f"{file.path}.gz", gzip.compress(content, mtime=0))

    def write(self, path: str, content: bytes) -> None:
        """Write a file into the stage."""
        disk.write_file(f"{self.folder}/{path}", content)
        self.new_files += 1
        self.new_bytes += len(content)

    def is_placed(self, path: str) -> bool:
        """Whether the stage itself holds a file of this path."""
        return Archive(self.folder).find_size(path) is not None

    def link_archive(self, absent: Container[str]) -> None:
        """Take over all of the old archive but the absent paths and what the stage has already."""
        for path in disk.walk_files(self.site / "archive"):
            if f"archive/{path}" not in absent:
                self._link(f"archive/{path}")

    def link_live(self, files: Iterable[File]) -> None:
        """Take over from the old site what the stage does not have yet."""
        for file in files:
            try:
                self._link(file.path)
            except (FileNotFoundError, NotADirectoryError) as error:
                if self.is_placed(file.path):
                    continue
                raise SiteProblem(f"{file.path} is missing from the site", "build again without --only") from error

    def link_foreign(self, ours: Set[str]) -> tuple[str, ...]:
        """Take over files, links and whole folders that no build of ours put there; returns their paths."""
        foreign = list_foreign(self.site, ours)
        for top in foreign:
            for path, is_folder in disk.walk_from(self.site, top):
                self._take_over(path, is_folder)
        return foreign

    def take_rights(self) -> None:
        """Give each folder the permissions that it has in the old site, now that the stage is full.

        Raises
        ------
        SiteProblem
            A folder of the old site is a mount point, whose content would be removed with the old site.
        """
        if not self.site.exists():
            return
        device = os.lstat(self.site).st_dev
        for path in ("", *(path for path, is_folder in disk.walk(self.site) if is_folder)):
            facts = os.lstat(f"{self.site}/{path}")
            if facts.st_dev != device:
                raise SiteProblem(f"{path} in the site is a mount point", "mount it elsewhere")
            if disk.is_folder(f"{self.folder}/{path}"):
                disk.set_rights(f"{self.folder}/{path}", facts)

    def _take_over(self, path: str, is_folder: bool) -> None:
        """Take over a file, a link or an empty folder that is not ours; SiteProblem where ours has the place."""
        try:
            if is_folder:
                disk.make_folder(f"{self.folder}/{path}")
            elif not self._link(path):
                raise FileExistsError
        except (FileExistsError, NotADirectoryError) as error:
            what = f"{path} in the site is not ours, and a page wants that place"
            raise SiteProblem(what, "move it out of the site") from error

    def _link(self, path: str) -> bool:
        """Link an old file into the stage; False if the stage has one of this path."""
        folder = posixpath.dirname(path)
        if folder not in self._folders:
            disk.make_folder(f"{self.folder}/{folder}")
            self._folders.add(folder)
        try:
            disk.link_file(f"{self.site}/{path}", f"{self.folder}/{path}")
        except FileExistsError:
            return False
        return True
