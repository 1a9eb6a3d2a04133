"""A file's bytes to text: UTF-8, without characters that may stand in no text. Never parses what the text says."""

from __future__ import annotations

import re

from generator.errors import FileProblems, Problem

FORBIDDEN = re.compile(
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ue000-\uf8ff\ufffe\uffff]"
)
"""Control characters, odd line ends, characters that turn the direction of what follows (so that a text reads otherwise
than it is), and the private-use characters that stand for marks in written pages."""


def decode_text(content: bytes, file: str) -> str:
    """Text of a file in UTF-8, its lines ended by line feeds; FileProblems at the line of the first byte that is none.

    Parameters
    ----------
    content
        The file's bytes, with or without a byte order mark.
    file
        Name that stands in problems.
    """
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        message = f"byte 0x{content[error.start]:02x} is no UTF-8"
        problem = Problem(file, line, 1, "", "not-utf-8", message, "save the file as UTF-8")
        raise FileProblems([problem]) from None


def read_text(content: bytes, file: str) -> str:
    """The same, refused where a character stands in it that no text may hold; tabs may.

    Parameters
    ----------
    content, file
        As ``decode_text``.
    """
    text = decode_text(content, file)
    found = FORBIDDEN.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        message = f"the character {name_character(found.group())} is not allowed"
        fix = "remove it; end lines with a line feed"
        raise FileProblems([Problem(file, line, 1, "", "character-refused", message, fix)])
    return text


def find_forbidden(text: str, one_line: bool = False) -> str:
    """Name of the first character that may not stand in a value, or nothing; a tab is one."""
    found = FORBIDDEN.search(text) or re.search("[\t\n]" if one_line else "\t", text)
    return name_character(found.group()) if found else ""


def name_character(character: str) -> str:
    """A character by its number, as it can stand in a message: ``U+0007``."""
    return f"U+{ord(character):04X}"
