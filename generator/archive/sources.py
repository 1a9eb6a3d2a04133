"""The sources of a comparison as one zip with safe names, and the vault for what is not published."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

from generator.archive import disk, names

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
    """Keep an unpublished content outside the site, whole or not at all."""
    target = find_vault_file(vault, names.find_digest(content))
    if target.exists():
        return
    half = target.with_name(f"{target.name}.part")
    disk.write_file(half, content)
    disk.rename(half, target)
