"""Photos: every mode that cameras and editors write, what is no photo, and sizes for the site without metadata."""

from __future__ import annotations

import importlib.util
import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from generator.archive.cleaning import clean_content, find_kind
from generator.errors import FileProblems
from generator.readers.photos import make_sizes, read_photo


def encode(image: Image.Image, kind: str = "PNG", **extra: object) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **extra)
    return buffer.getvalue()


def ramp(width: int = 40, height: int = 20) -> Image.Image:
    """Red grows to the right, green downwards."""
    down, across = np.mgrid[:height, :width]
    return Image.fromarray(np.stack([6 * across, 12 * down, 0 * down + 40], axis=2).astype(np.uint8))


def code_of(content: bytes) -> str:
    with pytest.raises(FileProblems) as caught:
        read_photo(content, "p.png")
    problem = caught.value.problems[0]
    assert problem.file == "p.png" and problem.message and problem.fix
    return problem.code


def skimage(name: str) -> bytes:
    found = importlib.util.find_spec("skimage")
    assert found is not None and found.submodule_search_locations
    return Path(found.submodule_search_locations[0], "data", name).read_bytes()


# --- modes --------------------------------------------------------------------------------------------------------


def test_colour_photo_is_read_exactly() -> None:
    found = read_photo(encode(ramp()), "p.png")

    np.testing.assert_array_equal(found.pixels, np.asarray(ramp()))
    assert (found.width, found.height, found.notes) == (40, 20, ())


def test_sixteen_bit_keeps_its_depth() -> None:
    values = (np.arange(800).reshape(20, 40) * 80).astype(np.uint16)

    found = read_photo(encode(Image.fromarray(values)), "p.png")

    assert found.pixels.dtype == np.uint16
    np.testing.assert_array_equal(found.pixels, values)


def test_palette_becomes_its_colours() -> None:
    image = ramp().quantize(16)

    found = read_photo(encode(image), "p.png")

    np.testing.assert_array_equal(found.pixels, np.asarray(image.convert("RGB")))
    assert any("palette" in note for note in found.notes)


def test_cmyk_is_converted_and_said() -> None:
    image = Image.new("CMYK", (20, 20), (0, 0, 0, 127))

    found = read_photo(encode(image, "JPEG", quality=95), "p.jpg")

    # subtractive: no ink gives white, half black half the brightness
    assert np.all(np.abs(found.pixels.astype(int) - 128) <= 3)
    assert any("CMYK" in note for note in found.notes)


def test_transparency_lies_on_white() -> None:
    image = Image.new("RGBA", (10, 10), (100, 0, 0, 0))

    found = read_photo(encode(image), "p.png")

    assert np.all(found.pixels == 255) and any("white" in note for note in found.notes)


def test_opaque_alpha_is_dropped_in_silence() -> None:
    found = read_photo(encode(ramp().convert("RGBA")), "p.png")

    np.testing.assert_array_equal(found.pixels, np.asarray(ramp()))
    assert found.notes == ()


@pytest.mark.parametrize(("tag", "turns"), [(3, 2), (6, 3), (8, 1)])
def test_photo_is_turned_upright(tag: int, turns: int) -> None:
    # orientation tag of Exif 2.3 (JEITA CP-3451), value from memory: 6 means turn clockwise by 90°
    exif = Image.Exif()
    exif[0x0112] = tag
    content = encode(ramp(), exif=exif)

    found = read_photo(content, "p.png")

    np.testing.assert_array_equal(found.pixels, np.rot90(np.asarray(ramp()), turns))
    assert any("upright" in note for note in found.notes)


def test_mirrored_photo_is_turned_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 2

    found = read_photo(encode(ramp(), exif=exif), "p.png")

    np.testing.assert_array_equal(found.pixels, np.asarray(ramp())[:, ::-1])


# --- real photos ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "size", "mean"), [("brick.png", (512, 512), 111.4554), ("gravel.png", (512, 512), 126.5450)]
)
def test_real_grey_photos(name: str, size: tuple[int, int], mean: float) -> None:
    # photos that scikit-image's wheel ships (CC0); means computed with Pillow and numpy alone
    found = read_photo(skimage(name), name)

    assert found.pixels.shape == size and np.mean(found.pixels) == pytest.approx(mean, abs=1e-4)


@pytest.mark.parametrize("name", ["coffee.png", "chelsea.png", "rocket.jpg", "hubble_deep_field.jpg", "coins.png"])
def test_real_photos_are_read(name: str) -> None:
    found = read_photo(skimage(name), name)

    assert found.width > 200 and found.height > 200 and np.std(found.pixels.astype(float)) > 10


# --- what can be wrong ----------------------------------------------------------------------------------------------


def test_not_an_image() -> None:
    assert code_of(b"time,level\n1,2\n") == "photo-unreadable"
    assert code_of(b"") == "photo-empty"
    assert code_of(b"<svg xmlns='http://www.w3.org/2000/svg'/>") == "photo-unreadable"


def test_what_can_be_cleaned_is_what_can_be_read() -> None:
    images = {kind: encode(ramp(), kind) for kind in ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF", "AVIF", "ICO")}

    assert {kind for kind, content in images.items() if find_kind(content)} == {"JPEG", "PNG", "WEBP"}
    for kind, content in images.items():
        if find_kind(content):
            assert read_photo(clean_content("p", content), "p").pixels.shape == (20, 40, 3)
        else:
            assert code_of(content) == "photo-unreadable", kind


def test_the_fix_of_an_unreadable_photo_names_formats_that_are_taken() -> None:
    with pytest.raises(FileProblems) as caught:
        read_photo(encode(ramp(), "TIFF"), "p.tif")

    assert caught.value.problems[0].fix == "save it as JPEG, PNG or WebP"


def test_truncated_photo() -> None:
    content = encode(ramp(400, 300), "JPEG")
    assert code_of(content[: len(content) // 2]) == "photo-damaged"
    content = encode(ramp(400, 300))
    assert code_of(content[: len(content) // 2]) == "photo-damaged"


def test_animation_is_refused() -> None:
    frames = [ramp(), ramp().transpose(Image.Transpose.FLIP_LEFT_RIGHT)]
    assert code_of(encode(frames[0], "WEBP", save_all=True, append_images=frames[1:])) == "photo-frames"


def bomb(width: int, height: int) -> bytes:
    """A tiny PNG whose header promises a huge picture."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\x00" * 1000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(13_000, 13_000), (60_000, 60_000)])
def test_bomb_is_refused_before_it_is_decoded(size: tuple[int, int]) -> None:
    import tracemalloc

    tracemalloc.start()
    assert code_of(bomb(*size)) == "photo-too-large"
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert most < 5_000_000


# --- sizes for the site ---------------------------------------------------------------------------------------------


def secret_photo() -> bytes:
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "SECRET-MAKER"
    exif[0x0132] = "2026:09:15 10:00:00"
    exif.get_ifd(0x8825)[1] = "N"
    return encode(ramp().resize((1000, 600)), "JPEG", exif=exif, comment=b"SECRET-COMMENT", quality=95)


def test_sizes_have_no_metadata() -> None:
    for size in make_sizes(secret_photo(), "p.jpg"):
        again = Image.open(io.BytesIO(size.content))

        assert not again.getexif() and "icc_profile" not in again.info and "comment" not in again.info
        assert b"SECRET" not in size.content and b"Exif" not in size.content


def test_sizes_are_upright_and_never_enlarged() -> None:
    sizes = make_sizes(secret_photo(), "p.jpg")

    assert [(s.width, s.height, s.format) for s in sizes] == [
        (480, 800, "webp"),
        (480, 800, "jpeg"),
        (600, 1000, "webp"),
        (600, 1000, "jpeg"),
    ]
    for size in sizes:
        assert Image.open(io.BytesIO(size.content)).size == (size.width, size.height)


def test_sizes_show_the_photo() -> None:
    expected = np.asarray(ramp().resize((1000, 600)).rotate(-90, expand=True)).astype(float)

    for size in make_sizes(secret_photo(), "p.jpg", (600,)):
        shown = np.asarray(Image.open(io.BytesIO(size.content)).convert("RGB")).astype(float)
        assert np.mean(np.abs(shown - expected)[8:-8, 8:-8]) < 4


def test_sizes_repeat_byte_for_byte() -> None:
    first, second = (make_sizes(secret_photo(), "p.jpg") for _ in range(2))

    assert [s.content for s in first] == [s.content for s in second]


def test_sizes_of_sixteen_bit_photo() -> None:
    values = np.full((300, 300), 0x8000, np.uint16)

    sizes = make_sizes(encode(Image.fromarray(values)), "p.png")

    shown = np.asarray(Image.open(io.BytesIO(sizes[1].content)))
    assert abs(float(np.mean(shown)) - 128) < 2
