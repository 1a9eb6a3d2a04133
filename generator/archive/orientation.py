"""The one thing of a photo's EXIF block that stays: which way is up (EXIF tag 0x0112, values 2 to 8).

Source: TIFF revision 6.0, section 2 (header and image file directory); EXIF 2.32, section 4.6.4 (Orientation).
"""

from __future__ import annotations

import struct

ORIENTATION = 0x0112
SHORT = 3
ORDERS = {b"II": "<", b"MM": ">"}


def find_orientation(block: bytes) -> int:
    """Orientation in a TIFF-formed block, 1 to 8; 1 if there is none or the block is damaged."""
    block = block.removeprefix(b"Exif\x00\x00")
    order = ORDERS.get(block[:2])
    if order is None or len(block) < 10:
        return 1
    start = struct.unpack_from(f"{order}I", block, 4)[0]
    if start + 2 > len(block):
        return 1
    count = struct.unpack_from(f"{order}H", block, start)[0]
    for place in range(start + 2, min(start + 2 + 12 * count, len(block) - 11), 12):
        tag, kind, _, value = struct.unpack_from(f"{order}HHIH", block, place)
        if tag == ORIENTATION and kind == SHORT:
            return value if 1 <= value <= 8 else 1
    return 1


def make_block(orientation: int) -> bytes:
    """A TIFF-formed block that holds the orientation and nothing else; empty for 1, which is the default."""
    if orientation == 1:
        return b""
    return b"II*\x00" + struct.pack("<IHHHIHHI", 8, 1, ORIENTATION, SHORT, 1, orientation, 0, 0)
