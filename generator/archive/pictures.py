"""Rewrites JPEG and PNG files without what says who, where, when and with which device; the pixels stay as they are.

Colour profiles go too: they may name a device, its serial number or its owner. What stays is what decoding needs, and
the orientation.

Source: JPEG: ITU-T T.81 (1992), annex B; PNG: ISO/IEC 15948:2004, clauses 5 and 11.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator

from generator.archive.orientation import find_orientation, make_block

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
PNG_KEPT = {b"IHDR", b"PLTE", b"IDAT", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"sBIT"}
JPEG_START, JPEG_END, JPEG_SCAN, JPEG_COMMENT = 0xD8, 0xD9, 0xDA, 0xFE
JPEG_KEPT = {*range(0xC0, 0xD0), 0xDA, 0xDB, 0xDC, 0xDD, 0xDE, 0xDF} - {0xC8}
JPEG_ADOBE = 0xEE
JPEG_EXIF = 0xE1
JPEG_APPLICATION = range(0xE0, 0xF0)
AFTER_SCAN = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")


def clean_jpeg(content: bytes) -> bytes:
    """A JPEG file without application segments, comments, and anything after its end; ValueError if damaged.

    The JFIF and Adobe segments say how the samples mean colours: they are written anew without thumbnail or extras.
    """
    kept: list[bytes] = []
    heads: list[bytes] = []
    orientation = 1
    for marker, body, scan in _split_jpeg(content):
        if marker == JPEG_EXIF and body.startswith(b"Exif\x00\x00") and orientation == 1:
            orientation = find_orientation(body)
        elif marker == 0xE0 and body.startswith(b"JFIF\x00") and len(body) >= 12:
            heads.append(_pack_segment(marker, body[:12] + b"\x00\x00"))
        elif marker == JPEG_ADOBE and body.startswith(b"Adobe") and len(body) >= 12:
            kept.append(_pack_segment(marker, body[:12]))
        elif marker in JPEG_KEPT:
            kept.append(_pack_segment(marker, body) + scan)
        elif marker not in JPEG_APPLICATION and marker != JPEG_COMMENT:
            raise ValueError(f"it holds a segment of unknown kind {marker:02X}")
    block = make_block(orientation)
    exif = [_pack_segment(JPEG_EXIF, b"Exif\x00\x00" + block)] if block else []
    return b"".join([b"\xff\xd8", *heads[:1], *exif, *kept, b"\xff\xd9"])


def _split_jpeg(content: bytes) -> Iterator[tuple[int, bytes, bytes]]:
    """Marker, body and, after a scan's head, its coded data, up to the end of the first picture."""
    place = 2
    while True:
        start = place
        while content[place : place + 1] == b"\xff":
            place += 1
        if place == start or place >= len(content):
            raise ValueError("it is cut short" if place >= len(content) else "its segments do not follow each other")
        marker = content[place]
        place += 1
        if marker == JPEG_END:
            return
        length = int.from_bytes(content[place : place + 2], "big")
        if length < 2 or place + length > len(content):
            raise ValueError("it is cut short")
        body = content[place + 2 : place + length]
        place += length
        scan_end = _find_scan_end(content, place) if marker == JPEG_SCAN else place
        yield marker, body, content[place:scan_end]
        place = scan_end


def _find_scan_end(content: bytes, place: int) -> int:
    found = AFTER_SCAN.search(content, place)
    if found is None:
        raise ValueError("it is cut short")
    return found.start()


def _pack_segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + (len(body) + 2).to_bytes(2, "big") + body


def clean_png(content: bytes) -> bytes:
    """A PNG file without text, time, EXIF, colour profile, private chunks and anything after its end.

    ValueError if damaged.
    """
    kept: list[bytes] = []
    orientation = 1
    for kind, body in _split_png(content):
        if kind in PNG_KEPT:
            kept.append(_pack_chunk(kind, body))
        elif kind == b"eXIf":
            orientation = find_orientation(body)
        elif not kind[0] & 0x20:
            raise ValueError(f"it needs the unknown part {kind.decode('latin-1')!r}")
    if not kept or kept[0][4:8] != b"IHDR" or not any(chunk[4:8] == b"IDAT" for chunk in kept):
        raise ValueError("it holds no picture")
    block = make_block(orientation)
    exif = [_pack_chunk(b"eXIf", block)] if block else []
    return b"".join([PNG_SIGNATURE, kept[0], *exif, *kept[1:], _pack_chunk(b"IEND", b"")])


def _split_png(content: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and body of each chunk up to the end of the picture, checksums verified."""
    place = len(PNG_SIGNATURE)
    while True:
        head = content[place : place + 8]
        length = int.from_bytes(head[:4], "big")
        end = place + 12 + length
        if len(head) < 8 or end > len(content):
            raise ValueError("it is cut short")
        kind, body = head[4:], content[place + 8 : end - 4]
        if zlib.crc32(kind + body) != int.from_bytes(content[end - 4 : end], "big"):
            raise ValueError(f"the checksum of its part {kind.decode('latin-1')!r} does not fit")
        if kind == b"IEND":
            return
        yield kind, body
        place = end


def _pack_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
