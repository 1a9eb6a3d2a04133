"""Photos and sound with a marker in every place where cameras and recorders leave private data."""

from __future__ import annotations

import io
import struct
import zlib

from hostile import make_photo, make_wave
from PIL import Image, TiffImagePlugin

MARKER = "Pr1vateMarker"
FORMS = (MARKER.encode(), MARKER.encode("utf-16-le"), MARKER.encode("utf-16-be"))
XMP = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><owner>{MARKER}</owner></x:xmpmeta>'.encode()


def make_exif() -> bytes:
    """Artist, copyright, serial number, comment in UTF-16, and a position whose bytes hold the marker."""
    exif = Image.Exif()
    exif[0x013B] = exif[0x8298] = exif[0x010E] = MARKER
    exif[0x9C9C] = MARKER.encode("utf-16-le")
    exif.get_ifd(0x8769).update({0xA431: MARKER, 0xA430: MARKER, 0x9286: b"ASCII\0\0\0" + MARKER.encode()})
    rational = TiffImagePlugin.IFDRational
    exif.get_ifd(0x8825).update({1: "N", 2: (rational(52), rational(31), rational(12)), 29: MARKER})
    return exif.tobytes()


def make_jpeg() -> bytes:
    """Exif, XMP, a comment, IPTC, and bytes after the end."""
    buffer = io.BytesIO()
    Image.open(io.BytesIO(make_photo())).convert("RGB").save(buffer, "JPEG", exif=make_exif(), comment=MARKER)
    content = buffer.getvalue()
    parts = [(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + XMP), (0xED, b"Photoshop 3.0\0" + MARKER.encode()),
             (0xE2, b"MPF\0" + MARKER.encode())]  # fmt: skip
    more = b"".join(struct.pack(">BBH", 0xFF, kind, len(body) + 2) + body for kind, body in parts)
    return content[:2] + more + content[2:] + MARKER.encode()


def make_png() -> bytes:
    """Plain, packed and international text, Exif, time, and bytes after the end."""
    content = make_photo()
    parts = [
        (b"tEXt", b"Author\0" + MARKER.encode()),
        (b"zTXt", b"Comment\0\0" + zlib.compress(MARKER.encode())),
        (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + XMP),
        (b"iTXt", b"Place\0\1\0\0\0" + zlib.compress(MARKER.encode())),
        (b"eXIf", make_exif()[6:]),
        (b"tIME", struct.pack(">HBBBBB", 2031, 7, 13, 3, 4, 5)),
    ]
    more = b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body)) for kind, body in parts
    )
    return content[:33] + more + content[33:] + MARKER.encode()


def make_webp() -> bytes:
    """Exif and XMP."""
    buffer = io.BytesIO()
    Image.open(io.BytesIO(make_photo())).convert("RGB").save(buffer, "WEBP", lossless=True, exif=make_exif(), xmp=XMP)
    return buffer.getvalue()


def make_sound() -> bytes:
    """LIST INFO, broadcast extension, iXML, a cue label, and a chunk after the samples."""
    content = make_wave()
    mark = MARKER.encode() + b"\0"
    info = b"INFO" + b"IART" + struct.pack("<I", len(mark)) + mark
    before = b"".join(_chunk(kind, body) for kind, body in [
        (b"bext", mark.ljust(602, b"\0")), (b"iXML", b"<BWFXML><NOTE>" + mark + b"</NOTE></BWFXML>"), (b"LIST", info),
    ])  # fmt: skip
    after = _chunk(b"LIST", b"adtl" + b"labl" + struct.pack("<II", 4 + len(mark), 1) + mark) + _chunk(b"id3 ", mark)
    body = content[12:36] + before + content[36:] + after
    return b"RIFF" + struct.pack("<I", 4 + len(body)) + b"WAVE" + body


def _chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


MAKERS = {"plate.jpg": make_jpeg, "plate.png": make_png, "plate.webp": make_webp, "hum.wav": make_sound}
"""Makers by the name that a comparison gives the file."""
SECTIONS = """\
sound: [{id: hum, direction: {x: 1}, speed: 100 mm/s, microphone: {calibration: {full_scale: 118 dB}},
  recordings: {short: [hum.wav], long: [hum.wav]}}]
surfaces:
  - {id: plate, direction: {x: 1}, scale: {pixels: 200, length: 20 mm}, along: horizontal,
    bands: {first_speed: 20 mm/s, speed_step: 20 mm/s, height: 5 mm, count: 3},
    photos: {short: plate.jpg, long: plate.png}}
  - {id: plate-again, direction: {x: 1}, scale: {pixels: 200, length: 20 mm}, along: horizontal,
    bands: {first_speed: 20 mm/s, speed_step: 20 mm/s, height: 5 mm, count: 3}, photos: {short: plate.webp}}
"""
