"""The sources of a comparison as one zip with safe names, and the vault for what is not published."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

from generator.archive import disk, names
from generator.archive.store import Archive

FIXED_TIME = (1980, 1, 1, 0, 0, 0)
UNIX = 3
PLAIN_FILE = 0o100644 << 16
NOTHING = "nothing-published.txt"


def pack_sources(slug: str, contents: Mapping[str, bytes]) -> bytes:
    """A zip of a comparison's sources under one folder of its name, the same bytes on every machine.

    Members are stored, not deflated: compressors differ between versions of the library, and so would the bytes.
    Names are checked, sorted, and times fixed. Without contents the zip says that nothing is published.
    """
    contents = contents or {NOTHING: b"None of this comparison's sources is published.\n"}
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as archive:
        for path, content in sorted(contents.items()):
            member = zipfile.ZipInfo(names.check_address(f"{slug}/{path}"), FIXED_TIME)
            member.create_system = UNIX
            member.external_attr = PLAIN_FILE
            archive.writestr(member, content)
    return target.getvalue()


def find_vault_file(vault: Path, digest: str) -> Path:
    """Where the vault keeps a content."""
    return vault / digest[:2] / digest


def keep_in_vault(vault: Path, content: bytes) -> None:
    """Keep an unpublished content outside the site, whole or not at all; what is damaged of it there is put right."""
    target = find_vault_file(vault, names.find_digest(content))
    if not Archive(vault).holds(target.relative_to(vault).as_posix(), content):
        disk.write_whole(target, content)
        disk.sync_folder(vault)


def remove_from_vault(vault: Path, digest: str) -> tuple[str, ...]:
    """Remove a content, and what a build that was killed has left of it; returns the files that are gone."""
    folder = find_vault_file(vault, digest).parent
    files = tuple(f"{folder}/{path}" for path in disk.walk_files(folder) if path.startswith(digest))
    for file in files:
        disk.remove_file(file)
    if files:
        disk.sync_folder(folder)
    return files
