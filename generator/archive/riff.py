"""Rewrites WAV and WebP files, both made of RIFF chunks, without what is not sound or picture.

Source: Multimedia Programming Interface and Data Specifications 1.0 (1991), chapter 2 (RIFF); EBU Tech 3306 (RF64);
RFC 9649 (WebP), section 2.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from generator.archive.orientation import find_orientation, make_block

PCM = 1
FRAME_HEAD = 16
HAS_EXIF, HAS_ANIMATION, HAS_ALPHA = 0x08, 0x02, 0x10
UNKNOWN_SIZE = 0xFFFFFFFF
NEEDED = {b"fmt ", b"fact", b"data", b"VP8 ", b"VP8L", b"ALPH", b"ANIM", b"ANMF"}


def clean_wav(content: bytes) -> bytes:
    """A WAV file of its format, its sample count and its samples, and nothing else; ValueError if damaged.

    An RF64 file becomes a plain one: what fits in memory fits in 32-bit sizes, or is refused.
    """
    kept: dict[bytes, bytes] = {}
    for kind, body in _split_chunks(content[: _find_end(content)], 12):
        kept.setdefault(kind, body)
    if len(kept.get(b"fmt ", b"")) < 16 or b"data" not in kept:
        raise ValueError("it holds no sound")
    chunks = [(b"fmt ", _trim_format(kept[b"fmt "]))]
    if b"fact" in kept:
        chunks.append((b"fact", kept[b"fact"][:4]))
    return _pack_file(b"WAVE", [*chunks, (b"data", kept[b"data"])])


def clean_webp(content: bytes) -> bytes:
    """A WebP file without EXIF (but the orientation), XMP, colour profile and unknown chunks; ValueError if damaged."""
    if len(content) < 8 + struct.unpack_from("<I", content, 4)[0]:
        raise ValueError("it is cut short")
    chunks = list(_split_chunks(content[: _find_end(content)], 12))
    pictures = [(kind, body) for kind, body in chunks if kind in (b"VP8 ", b"VP8L", b"ALPH", b"ANIM", b"ANMF")]
    pictures = [(kind, _clean_frame(body) if kind == b"ANMF" else body) for kind, body in pictures]
    if not any(kind in (b"VP8 ", b"VP8L", b"ANMF") for kind, _ in pictures):
        raise ValueError("it holds no picture")
    block = make_block(next((find_orientation(body) for kind, body in chunks if kind == b"EXIF"), 1))
    heads = [body for kind, body in chunks if kind == b"VP8X" and len(body) >= 10]
    if not heads:
        return _pack_file(b"WEBP", pictures)
    flags = heads[0][0] & (HAS_ANIMATION | HAS_ALPHA) | (HAS_EXIF if block else 0)
    head = (b"VP8X", bytes([flags, 0, 0, 0]) + heads[0][4:10])
    return _pack_file(b"WEBP", [head, *pictures, *([(b"EXIF", block)] if block else [])])


def _clean_frame(body: bytes) -> bytes:
    """One frame of an animation with its picture only."""
    kept = [(kind, part) for kind, part in _split_chunks(body, FRAME_HEAD) if kind in (b"VP8 ", b"VP8L", b"ALPH")]
    return body[:FRAME_HEAD] + b"".join(_pack_chunk(kind, part) for kind, part in kept)


def _split_chunks(content: bytes, place: int) -> Iterator[tuple[bytes, bytes]]:
    """Kind and body of each chunk from a place on, up to where no whole one follows."""
    long_size = UNKNOWN_SIZE
    while place + 8 <= len(content):
        kind, size = struct.unpack_from("<4sI", content, place)
        size = long_size if kind == b"data" and size == UNKNOWN_SIZE else size
        body = content[place + 8 : place + 8 + size]
        if len(body) < size and kind in NEEDED:
            raise ValueError("it is cut short, or its recorder did not finish it")
        if len(body) < size:
            return
        if kind == b"ds64" and size >= 16:
            long_size = struct.unpack_from("<Q", body, 8)[0]
        yield kind, body
        place += 8 + size + size % 2


def _find_end(content: bytes) -> int:
    """Where the file ends by its own head, or where it really ends if that says something impossible."""
    stated = 8 + struct.unpack_from("<I", content, 4)[0]
    return stated if 12 < stated <= len(content) else len(content)


def _trim_format(body: bytes) -> bytes:
    """A format chunk without bytes that its kind of coding does not define."""
    if struct.unpack_from("<H", body)[0] == PCM or len(body) < 18:
        return body[:16]
    return body[: 18 + struct.unpack_from("<H", body, 16)[0]]


def _pack_file(form: bytes, chunks: list[tuple[bytes, bytes]]) -> bytes:
    body = form + b"".join(_pack_chunk(kind, part) for kind, part in chunks)
    if len(body) > UNKNOWN_SIZE:
        raise ValueError("it is longer than a plain file of its kind can be")
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _pack_chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + bytes(len(body) % 2)
