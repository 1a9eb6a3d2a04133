"""Metadata is gone anywhere in the bytes; pixels and samples are the same to general decoders.

Outside checks: Pillow (pictures) and libsndfile through soundfile (sound) decode before and after.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageOps, PngImagePlugin

from generator.archive.cleaning import CLEANERS, clean_content, find_kind
from generator.archive.orientation import find_orientation, make_block
from generator.errors import FileProblems
from generator.records.formats import PHOTO_FORMATS, SOUND_FORMATS

MARKER = b"SERIAL-4711-Jo-Doe"
WORDS = MARKER.decode()
GPS = {1: "N", 2: (52.0, 31.0, 7.0), 3: "E", 4: (13.0, 24.0, 18.0)}


def make_picture(mode: str = "RGB") -> Image.Image:
    noise = np.random.default_rng(5).integers(0, 256, (37, 53, 3), dtype=np.uint8)
    return Image.fromarray(noise).convert(mode)


def make_exif(orientation: int) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = WORDS
    exif[0x0131] = WORDS
    exif.get_ifd(0x8825).update(GPS)
    exif.get_ifd(0x8769)[0xA431] = WORDS
    return exif


def save(picture: Image.Image, kind: str, **options: Any) -> bytes:
    target = io.BytesIO()
    picture.save(target, kind, **options)
    return target.getvalue()


def make_profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes() + MARKER


def make_text() -> PngImagePlugin.PngInfo:
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", WORDS)
    text.add_itxt("Comment", WORDS)
    text.add_text("Place", WORDS, zip=True)
    text.add(b"prVt", MARKER)
    return text


def decode(content: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(content)) as picture:
        picture.load()
        return np.asarray(picture)


PICTURES: dict[str, tuple[str, Callable[[], bytes]]] = {
    "plain JPEG": ("a.jpg", lambda: save(make_picture(), "JPEG", exif=make_exif(1), comment=MARKER)),
    "turned JPEG": ("a.jpeg", lambda: save(make_picture(), "JPEG", exif=make_exif(6), icc_profile=make_profile())),
    "progressive JPEG": ("a.JPG", lambda: save(make_picture(), "JPEG", progressive=True, exif=make_exif(3))),
    "restarting JPEG": ("a.jpg", lambda: save(make_picture(), "JPEG", restart_marker_rows=1, exif=make_exif(8))),
    "grey JPEG": ("a.jpg", lambda: save(make_picture("L"), "JPEG", exif=make_exif(1), dpi=(72, 72))),
    "four-colour JPEG": ("a.jpg", lambda: save(make_picture("CMYK"), "JPEG", exif=make_exif(1))),
    "PNG": ("a.png", lambda: save(make_picture(), "PNG", pnginfo=make_text(), exif=make_exif(1))),
    "turned PNG": ("a.png", lambda: save(make_picture(), "PNG", exif=make_exif(5), icc_profile=make_profile())),
    "palette PNG": ("a.png", lambda: save(make_picture("P"), "PNG", transparency=3, pnginfo=make_text())),
    "deep PNG": ("a.png", lambda: save(Image.fromarray(np.arange(900, dtype=np.uint16).reshape(30, 30) * 70), "PNG")),
    "clear PNG": ("a.png", lambda: save(make_picture("RGBA"), "PNG", pnginfo=make_text())),
    "WebP": ("a.webp", lambda: save(make_picture(), "WEBP", exif=make_exif(1), xmp=MARKER)),
    "turned WebP": ("a.webp", lambda: save(make_picture(), "WEBP", lossless=True, exif=make_exif(7), xmp=MARKER)),
    "clear WebP": ("a.webp", lambda: save(make_picture("RGBA"), "WEBP", icc_profile=make_profile())),
    "simple WebP": ("a.webp", lambda: save(make_picture(), "WEBP")),
    "moving WebP": (
        "a.webp",
        lambda: save(
            make_picture(), "WEBP", save_all=True, append_images=[make_picture("L").convert("RGB")], xmp=MARKER
        ),
    ),
}


@pytest.mark.parametrize("name", PICTURES)
def test_pixels_stay_and_metadata_goes(name: str) -> None:
    file, make = PICTURES[name]
    content = make() + MARKER

    cleaned = clean_content(file, content)

    assert MARKER not in cleaned
    assert np.array_equal(decode(cleaned), decode(content))
    with Image.open(io.BytesIO(cleaned)) as picture, Image.open(io.BytesIO(content)) as before:
        turn = before.getexif().get(0x0112, 1)
        assert dict(picture.getexif()) == ({0x0112: turn} if turn != 1 else {})
        assert not picture.getexif().get_ifd(0x8825)
        assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi", "adobe", "progression",
                                     "progressive", "adobe_transform", "exif", "transparency", "loop", "background",
                                     "timestamp", "duration"}  # fmt: skip
        assert np.array_equal(np.asarray(ImageOps.exif_transpose(picture)), np.asarray(ImageOps.exif_transpose(before)))


@pytest.mark.parametrize("name", PICTURES)
def test_cleaning_again_changes_nothing(name: str) -> None:
    file, make = PICTURES[name]
    cleaned = clean_content(file, make())

    assert clean_content(file, cleaned) == cleaned


def test_marker_was_really_there() -> None:
    with_marker = [name for name, (_, make) in PICTURES.items() if MARKER in make()]

    assert len(with_marker) >= 12


def test_jpeg_thumbnail_in_jfif_goes() -> None:
    plain = save(make_picture(), "JPEG")
    thumbnail = b"JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x06\x01" + MARKER
    segment = b"\xff\xe0" + struct.pack(">H", len(thumbnail) + 2) + thumbnail
    content = plain[:2] + segment + plain[20:]

    cleaned = clean_content("a.jpg", content)

    assert MARKER not in cleaned
    assert np.array_equal(decode(cleaned), decode(plain))


def test_second_picture_after_the_first_goes() -> None:
    """Cameras append previews (multi-picture format) after the end of the picture."""
    content = save(make_picture(), "JPEG") + save(make_picture("L"), "JPEG", comment=MARKER)

    cleaned = clean_content("a.jpg", content)

    assert MARKER not in cleaned
    assert cleaned.endswith(b"\xff\xd9")
    assert np.array_equal(decode(cleaned), decode(content))


SOUNDS = {
    "16 bit": ("WAV", "PCM_16"),
    "8 bit": ("WAV", "PCM_U8"),
    "24 bit": ("WAV", "PCM_24"),
    "float": ("WAV", "FLOAT"),
    "extensible": ("WAVEX", "PCM_32"),
    "adpcm": ("WAV", "MS_ADPCM"),
    "long form": ("RF64", "PCM_16"),
}


def make_sound(form: str, coding: str, channels: int = 2) -> bytes:
    target = io.BytesIO()
    samples = np.random.default_rng(2).uniform(-0.9, 0.9, (997, channels))
    with soundfile.SoundFile(target, "w", 44100, channels, coding, format=form) as file:
        if form != "RF64":
            file.title = WORDS
            file.artist = WORDS
        file.write(samples)
    return target.getvalue()


def add_chunk(content: bytes, kind: bytes, body: bytes, at_end: bool) -> bytes:
    chunk = kind + struct.pack("<I", len(body)) + body + bytes(len(body) % 2)
    place = len(content) if at_end else 12
    longer = content[:place] + chunk + content[place:]
    return longer[:4] + struct.pack("<I", len(longer) - 8) + longer[8:]


@pytest.mark.parametrize("name", SOUNDS)
def test_samples_stay_and_metadata_goes(name: str) -> None:
    content = make_sound(*SOUNDS[name])
    if name != "long form":
        for kind, at_end in ((b"bext", False), (b"iXML", True), (b"id3 ", True), (b"LIST", False), (b"junk", True)):
            content = add_chunk(content, kind, MARKER + b"x", at_end)
        assert content.count(MARKER) >= 5
    content += MARKER

    cleaned = clean_content("a.wav", content)

    assert MARKER not in cleaned
    before, rate = soundfile.read(io.BytesIO(content))
    after, rate_after = soundfile.read(io.BytesIO(cleaned))
    assert np.array_equal(before, after)
    assert rate == rate_after
    assert len(after) > 900
    kinds = {cleaned[place : place + 4] for place in _find_chunks(cleaned)}
    assert kinds <= {b"fmt ", b"fact", b"data"}
    assert clean_content("a.wav", cleaned) == cleaned


def test_peak_chunk_with_its_time_goes() -> None:
    content = make_sound("WAV", "FLOAT")

    assert b"PEAK" in content
    assert b"PEAK" not in clean_content("a.wav", content)


def _find_chunks(content: bytes) -> list[int]:
    places, place = [], 12
    while place < len(content):
        places.append(place)
        size = struct.unpack_from("<I", content, place + 4)[0]
        place += 8 + size + size % 2
    return places


@pytest.mark.parametrize("order", "<>")
@pytest.mark.parametrize("value", range(0, 10))
def test_orientation_is_read_in_both_byte_orders(order: str, value: int) -> None:
    head = (b"II" if order == "<" else b"MM") + struct.pack(f"{order}HI", 42, 8)
    block = head + struct.pack(f"{order}HHHIHHHHIHHI", 2, 0x0100, 3, 1, 640, 0, 0x0112, 3, 1, value, 0, 0)

    assert find_orientation(b"Exif\x00\x00" + block) == (value if 1 <= value <= 8 else 1)
    assert find_orientation(make_block(value) if 2 <= value <= 8 else b"") == (value if 2 <= value <= 8 else 1)


@given(st.binary(max_size=80))
@settings(max_examples=200, deadline=None)
def test_damaged_exif_is_no_orientation_and_no_crash(block: bytes) -> None:
    assert 1 <= find_orientation(b"MM\x00*\x00\x00\x00\x08" + block) <= 8
    assert 1 <= find_orientation(block) <= 8


GOOD = {
    "a.jpg": save(make_picture(), "JPEG", exif=make_exif(6)),
    "a.png": save(make_picture(), "PNG", pnginfo=make_text()),
    "a.webp": save(make_picture(), "WEBP", exif=make_exif(6)),
    "a.wav": make_sound("WAV", "PCM_16"),
}


@pytest.mark.parametrize("name", GOOD)
@pytest.mark.parametrize("share", [0.02, 0.3, 0.9])
def test_a_file_cut_short_is_refused_in_words(name: str, share: float) -> None:
    content = GOOD[name]

    with pytest.raises(FileProblems) as caught:
        clean_content(name, content[: max(13, int(share * len(content)))])

    problem = caught.value.problems[0]
    assert problem.file == name
    assert problem.code == "damaged-file"
    assert "cut short" in problem.message or "holds no" in problem.message
    assert problem.fix


@given(st.sampled_from(sorted(GOOD)), st.data())
@settings(max_examples=150, deadline=None)
def test_any_damage_gives_a_problem_or_a_clean_file(name: str, data: st.DataObject) -> None:
    content = bytearray(GOOD[name])
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    try:
        cleaned = clean_content(name, bytes(content))
    except FileProblems as problems:
        assert problems.problems[0].code in ("damaged-file", "wrong-kind", "not-cleanable")
    else:
        assert clean_content(name, cleaned) == cleaned


def test_a_wrong_checksum_in_a_png_is_named() -> None:
    content = bytearray(GOOD["a.png"])
    content[29] ^= 1

    with pytest.raises(FileProblems, match="checksum of its part 'IHDR' does not fit"):
        clean_content("a.png", bytes(content))


@pytest.mark.parametrize("content", [b"held,lost\n1,2\n", "Grüße\n".encode(), b"", b"title: x\n"])
def test_text_passes_as_it_is(content: bytes) -> None:
    assert clean_content("a.csv", content) == content


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("a.tif", b"II*\x00\x08\x00\x00\x00\xff", "not-cleanable"),
        ("a.csv", b"\xff\xfe\x00h", "not-cleanable"),
        ("a.png", GOOD["a.jpg"], "wrong-kind"),
        ("a.wav", b"held,lost\n", "wrong-kind"),
        ("a.jpg", b"", "wrong-kind"),
    ],
)
def test_what_cannot_be_cleaned_is_refused(name: str, content: bytes, code: str) -> None:
    with pytest.raises(FileProblems) as caught:
        clean_content(name, content)

    assert caught.value.problems[0].code == code


def test_png_with_an_unknown_needed_part_is_refused() -> None:
    chunk = struct.pack(">I", 1) + b"NEED" + b"x" + struct.pack(">I", zlib.crc32(b"NEEDx"))
    content = GOOD["a.png"][:33] + chunk + GOOD["a.png"][33:]

    with pytest.raises(FileProblems, match="unknown part 'NEED'"):
        clean_content("a.png", content)


def test_kinds_are_told_by_content() -> None:
    assert [find_kind(content) for content in GOOD.values()] == ["JPEG", "PNG", "WebP", "WAV"]
    assert find_kind(b"RIFF\x00\x00\x00\x00AVI ") is None


def test_every_format_that_is_taken_has_its_cleaner() -> None:
    assert set(CLEANERS) == set(PHOTO_FORMATS) | set(SOUND_FORMATS)
    with pytest.raises(FileProblems) as caught:
        clean_content("a.flac", b"fLaC\x00\x00\x00\x22")
    assert caught.value.problems[0].fix == "save it as JPEG, PNG, WebP or WAV; text as UTF-8"
