"""Cleans what a comparison's folder gives before anything of it can enter a site: metadata goes, content stays.

JPEG, PNG, WebP and WAV files are rewritten without loss; text passes as it is; what is neither is refused, since it
could carry metadata that nobody took out.
"""

from __future__ import annotations

from collections.abc import Callable

from generator.archive.pictures import PNG_SIGNATURE, clean_jpeg, clean_png
from generator.archive.riff import clean_wav, clean_webp
from generator.errors import FileProblems, Problem
from generator.records.formats import PHOTO_FORMATS, SOUND_FORMATS, list_formats

FORMATS = PHOTO_FORMATS | SOUND_FORMATS
SUFFIXES = {suffix: kind for kind, suffixes in FORMATS.items() for suffix in suffixes}
CLEANERS: dict[str, Callable[[bytes], bytes]] = {
    "JPEG": clean_jpeg,
    "PNG": clean_png,
    "WebP": clean_webp,
    "WAV": clean_wav,
}


def clean_content(name: str, content: bytes) -> bytes:
    """Take metadata out of a file without touching its pixels, samples or text.

    Parameters
    ----------
    name : str
        What to call the file in a problem; its suffix must agree with its content.
    content : bytes
        The file as it is.

    Returns
    -------
    bytes
        The same file without metadata and without anything after its end; cleaning it again changes nothing.

    Raises
    ------
    FileProblems
        The file is damaged, or of a kind that cannot be cleaned.

    Assumes: a file's kind is what its first bytes say.
    Valid for: pictures and sound that decoders read in full; colour profiles are taken out, so pixels mean sRGB.
    Source: the formats' own, named in pictures.py and riff.py.
    Checked in: tests/archive/test_cleaning.py, by general decoders before and after.
    """
    kind = find_kind(content)
    suffix = "." + name.rpartition(".")[2].lower()
    stated = SUFFIXES.get(suffix)
    if stated and stated != kind:
        raise _refuse(
            name, "wrong-kind", f"is named as {stated} but holds {kind or 'something else'}", "rename or save it anew"
        )
    if kind:
        try:
            return CLEANERS[kind](content)
        except ValueError as error:
            raise _refuse(
                name, "damaged-file", f"is a damaged {kind} file: {error}", "open it and save it anew"
            ) from error
    if not _is_text(content):
        what = "is neither text nor a file whose metadata can be taken out"
        raise _refuse(name, "not-cleanable", what, f"save it as {list_formats(FORMATS)}; text as UTF-8")
    return content


def find_kind(content: bytes) -> str | None:
    """JPEG, PNG, WebP or WAV by the first bytes; None for anything else."""
    if content.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if content.startswith(PNG_SIGNATURE):
        return "PNG"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "WebP"
    if content[:4] in (b"RIFF", b"RF64") and content[8:12] == b"WAVE":
        return "WAV"
    return None


def _is_text(content: bytes) -> bool:
    try:
        return "\x00" not in content.decode("utf-8")
    except UnicodeDecodeError:
        return False


def _refuse(name: str, code: str, what: str, fix: str) -> FileProblems:
    return FileProblems([Problem(name, 0, 0, "", code, f"the file {what}", fix)])
