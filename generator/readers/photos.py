"""Photos to pictures: decoded, upright, in sRGB; and re-encoded without metadata for the site. Never analyses."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from generator.errors import FileProblems, Problem
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.records.formats import PHOTO_FORMATS, list_formats
from generator.records.signals import Picture

ORIENTATION = 0x0112
"""Exif tag that says how the camera was held."""
SIXTEEN_BIT = "I;16"
ROWS_AT_ONCE = 64
WIDTHS = (480, 960, 1920)
"""Widths of the published sizes [px]."""
QUALITY = {"webp": 80, "jpeg": 82}


@dataclass(frozen=True)
class PublishedSize:
    """One re-encoded photo: size [px], format (``webp`` or the fallback ``jpeg``), bytes without metadata."""

    width: int
    height: int
    format: str
    content: bytes


def read_photo(content: bytes, name: str, limits: Limits = DEFAULT_LIMITS) -> Picture:
    """Decode a photo for analysis.

    Parameters
    ----------
    content : bytes
        The whole file.
    name : str
        For messages.
    limits : Limits
        Pixels that are accepted.

    Returns
    -------
    Picture
        Turned upright as its metadata says, with notes on everything that was converted.

    Raises
    ------
    FileProblems
        No image, cut short, animated, or larger than a camera's picture.
    """
    image, notes = _upright(content, name, limits)
    if image.mode == SIXTEEN_BIT:
        return Picture(name, np.asarray(image).astype(np.uint16), tuple(notes))
    image, more = _to_srgb(image)
    return Picture(name, _pixels(image), (*notes, *more))


def make_sizes(
    content: bytes, name: str, widths: tuple[int, ...] = WIDTHS, limits: Limits = DEFAULT_LIMITS
) -> list[PublishedSize]:
    """Re-encode a photo for screens: each width as WebP and as JPEG, never enlarged, without metadata.

    Parameters
    ----------
    content : bytes
        The whole file.
    name : str
        For messages.
    widths : tuple of int [px]
        Wanted; those wider than the photo become its own width.
    limits : Limits
        Pixels that are accepted.

    Returns
    -------
    list of PublishedSize
        From narrow to wide, WebP before JPEG. Position, serial numbers and other metadata are gone: only pixels are
        carried over.
    """
    image, _ = _upright(content, name, limits)
    plain, _ = _to_srgb(_eight_bit(image))
    bare = plain.convert("RGB")
    sizes = []
    for width in sorted({min(width, bare.width) for width in widths}):
        height = max(1, round(bare.height * width / bare.width))
        small = (
            bare if width == bare.width else bare.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=3.0)
        )
        sizes += [PublishedSize(width, height, kind, _encode(small, kind)) for kind in QUALITY]
    return sizes


def _encode(image: Image.Image, kind: str) -> bytes:
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    buffer = io.BytesIO()
    extra = {"optimize": True, "progressive": True} if kind == "jpeg" else {"method": 4}
    bare.save(buffer, kind, quality=QUALITY[kind], **extra)
    return buffer.getvalue()


def _pixels(image: Image.Image) -> NDArray[np.uint8]:
    """The pixels of an 8-bit image, taken over in slices: handed over as a whole they are copied three times."""
    width, height = image.size
    depth = len(image.getbands())
    pixels = np.empty((height, width) if depth == 1 else (height, width, depth), np.uint8)
    for top in range(0, height, ROWS_AT_ONCE):
        bottom = min(top + ROWS_AT_ONCE, height)
        pixels[top:bottom] = np.asarray(image.crop((0, top, width, bottom)))
    return pixels


# --- decoding -----------------------------------------------------------------------------------------------------


def _fail(name: str, code: str, message: str, fix: str) -> FileProblems:
    return FileProblems([Problem(name, 0, 0, "", code, message, fix)])


def _upright(content: bytes, name: str, limits: Limits) -> tuple[Image.Image, list[str]]:
    """The decoded image, turned as its metadata says."""
    if not content:
        raise _fail(name, "photo-empty", "the file is empty", "export the photo again")
    with warnings.catch_warnings():
        # Size is checked below, before anything is decoded; the library's own limit is another one.
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        image = _open(content, name, limits)
        _check_size(image, name, limits)
        try:
            image.load()
            turned = image.getexif().get(ORIENTATION, 1) not in (0, 1)
            ImageOps.exif_transpose(image, in_place=True)
        except (OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError) as error:
            raise _fail(
                name, "photo-damaged", f"the photo cannot be decoded ({error})", "copy or export it again"
            ) from error
    return image, ["turned upright as its metadata says"] if turned else []


def _open(content: bytes, name: str, limits: Limits) -> Image.Image:
    try:
        return Image.open(io.BytesIO(content), formats=[kind.upper() for kind in PHOTO_FORMATS])
    except Image.DecompressionBombError as error:
        raise _too_large(name, "more pixels than the image library decodes", limits) from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        fix = f"save it as {list_formats(PHOTO_FORMATS)}"
        raise _fail(name, "photo-unreadable", "not a photo that can be read", fix) from error


def _check_size(image: Image.Image, name: str, limits: Limits) -> None:
    width, height = image.size
    if width * height > limits.photo_pixels:
        raise _too_large(name, f"{width} × {height} pixels", limits)
    frames = getattr(image, "n_frames", 1)
    if frames > 1:
        raise _fail(name, "photo-frames", f"the file holds {frames} pictures", "export a single one")


def _too_large(name: str, found: str, limits: Limits) -> FileProblems:
    message = f"{found}: more than the {limits.photo_pixels} that are decoded"
    return _fail(name, "photo-too-large", message, "crop or scale the photo, or raise the limit photo_pixels")


# --- colour -------------------------------------------------------------------------------------------------------


def _to_srgb(image: Image.Image) -> tuple[Image.Image, list[str]]:
    """As 8-bit grey or RGB in sRGB, with a note for each conversion."""
    notes = []
    if "A" in image.getbands() or "transparency" in image.info:
        image, note = _on_white(image)
        notes += note
    if image.mode == "P":
        notes.append("colours were taken from its palette")
    if image.mode == "CMYK":
        notes.append("converted from CMYK")
    if image.mode in ("1", "L"):
        return image.convert("L"), notes
    return (image if image.mode == "RGB" else image.convert("RGB")), notes


def _on_white(image: Image.Image) -> tuple[Image.Image, list[str]]:
    coloured = image.convert("RGBA")
    if coloured.getchannel("A").getextrema() == (255, 255):
        return coloured.convert("RGB"), []
    ground = Image.new("RGBA", coloured.size, "white")
    return Image.alpha_composite(ground, coloured).convert("RGB"), ["transparent parts were laid on white"]


def _eight_bit(image: Image.Image) -> Image.Image:
    if image.mode != SIXTEEN_BIT:
        return image
    return Image.fromarray((np.asarray(image).astype(np.uint16) >> 8).astype(np.uint8))
