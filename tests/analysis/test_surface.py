"""Surfaces: rendered gratings of known wavelength, angle and gamma; geometry of the bands; light."""

from __future__ import annotations

import numpy as np
import pytest

from generator.analysis.light import decode_srgb, find_overexposed, find_rows
from generator.analysis.surface import (
    check_geometry,
    cut_strips,
    find_surface,
)
from generator.records.recordings import Bands, Photo, Scale, Surface
from generator.records.signals import Picture

PIXELS_PER_MM = 20.0


def surface(count: int = 3, along: str = "horizontal", first: str = "bottom", height: float = 0.004) -> Surface:
    bands = Bands(0.02, 0.02, height, count, first)
    return Surface("plate", (1.0,), Scale(20, 0.001), bands, along)


def encode(light: np.ndarray, depth: int = 8) -> np.ndarray:
    """sRGB of IEC 61966-2-1, written out here on its own."""
    light = np.clip(light, 0, 1)
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    top = 2**depth - 1
    return np.round(top * encoded).astype(np.uint8 if depth == 8 else np.uint16)


def grating(
    wavelength: float,
    angle: float = 0.0,
    contrast: float = 0.1,
    noise: float = 0.02,
    size: tuple[int, int] = (240, 1024),
) -> np.ndarray:
    """Linear light about 0.3: a grating [mm] turned by an angle [degrees], with camera noise."""
    down, across = np.mgrid[: size[0], : size[1]] / PIXELS_PER_MM
    turn = np.radians(angle)
    along = across * np.cos(turn) - down * np.sin(turn)
    rng = np.random.default_rng(7)
    return 0.3 * (1 + contrast * np.sin(2 * np.pi * along / wavelength + 0.4)) + noise * 0.3 * rng.normal(size=size)


# --- light ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "light"),
    [
        (0, 0), (1, 0.00030353), (10, 0.00303527), (11, 0.00334654), (32, 0.01444384), (64, 0.05126946),
        (96, 0.11697067), (128, 0.21586050), (188, 0.50288646), (224, 0.74540421), (255, 1),
    ],
)  # fmt: skip
def test_decoding(code: int, light: float) -> None:
    # IEC 61966-2-1, constants as the W3C's discussion quotes DIN EN 61966-2-1:2003; 11 is the first on the power branch
    assert float(decode_srgb(np.array(code / 255))) == pytest.approx(light, abs=5e-9)
    assert float(find_rows(np.array([[code]], np.uint8), 1).means[0, 0]) == pytest.approx(light, abs=1e-7)


def test_luminance_of_primaries() -> None:
    # shares of ITU-R BT.709, which IEC 61966-2-1 takes over
    primaries = np.array([[[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 255]]], np.uint8)

    np.testing.assert_allclose(find_rows(primaries, 1).means, [[0.2126, 0.7152, 0.0722, 1.0]], rtol=1e-6)


def test_sixteen_bit_equals_eight_bit() -> None:
    eight = np.arange(256, dtype=np.uint8).reshape(16, 16)

    sixteen = find_rows(eight.astype(np.uint16) * 257, 2).means

    np.testing.assert_allclose(sixteen, find_rows(eight, 2).means, rtol=1e-6)


@pytest.mark.parametrize("height", [1, 3, 16])
@pytest.mark.parametrize("shape", [(50, 40), (50, 40, 3), (70, 30_000)])
def test_rows_are_means_of_linear_light(height: int, shape: tuple[int, ...]) -> None:
    pixels = np.random.default_rng(1).integers(0, 256, shape, dtype=np.uint8)
    light = decode_srgb(pixels / 255)
    grey = light if light.ndim == 2 else light @ [0.2126, 0.7152, 0.0722]
    expected = [grey[k : k + height].mean(axis=0) for k in range(0, shape[0] - height + 1, height)]

    found = find_rows(pixels, height)

    np.testing.assert_allclose(found.means, expected, rtol=1e-5)
    assert found.centres[0] == height / 2 and found.centres[-1] == (len(expected) - 0.5) * height


# --- gratings -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [0.0, 0.4, -1.0, 3.0, -6.0, 9.0])
@pytest.mark.parametrize("wavelength", [0.5, 1.3, 2.0])
def test_grating_is_recovered_within_one_per_cent(wavelength: float, angle: float) -> None:
    picture = Picture("p.png", encode(grating(wavelength, angle)))

    found = find_surface(surface(), Photo("p.png"), picture)

    assert found.turn == pytest.approx(np.tan(np.radians(angle)), abs=2e-3)
    for band in found.bands:
        strongest = band.spectrum.ripples[0]
        assert 1000 / (strongest.frequency * found.pixels_per_metre) == pytest.approx(wavelength, rel=0.01)
        loss = 0.01 if abs(angle) < 5 or wavelength > 1 else 0.04
        assert strongest.contrast == pytest.approx(0.1, rel=loss + 0.005)


def test_other_gamma_is_the_reason_for_linear_light() -> None:
    # 0.30 + 0.05·sin: read without decoding, the contrast would be 0.0445/0.583 instead of 0.05/0.3
    picture = Picture("p.png", encode(grating(2.048, contrast=1 / 6, noise=0.0)))

    found = find_surface(surface(), Photo("p.png"), picture).bands[0]

    assert found.luminance == pytest.approx(0.3, rel=1e-3)
    assert found.spectrum.ripples[0].contrast == pytest.approx(1 / 6, rel=0.005)


def test_colour_and_sixteen_bit_give_the_same() -> None:
    light = grating(1.3)
    kinds = (encode(light), np.repeat(encode(light)[:, :, None], 3, axis=2), encode(light, 16))

    lengths = [
        find_surface(surface(), Photo("p"), Picture("p", pixels)).bands[1].spectrum.ripples[0] for pixels in kinds
    ]

    assert [r.frequency for r in lengths] == pytest.approx([lengths[0].frequency] * 3, rel=1e-4)
    assert [r.contrast for r in lengths] == pytest.approx([0.1] * 3, rel=0.01)


def test_photo_lying_on_its_side() -> None:
    upright = encode(grating(1.3))
    turned = Picture("p", np.ascontiguousarray(np.rot90(upright)))

    found = find_surface(surface(along="vertical", first="left"), Photo("p"), turned)

    assert 1000 / (found.bands[0].spectrum.ripples[0].frequency * found.pixels_per_metre) == pytest.approx(
        1.3, rel=0.01
    )


def test_tilted_camera_shortens_lengths() -> None:
    # a tilt by 30° shows 2.0 mm as 2.0·cos 30° = 1.732 mm: the page says so, nothing corrects it
    picture = Picture("p", encode(grating(2.0 * np.cos(np.radians(30)))))

    found = find_surface(surface(), Photo("p"), picture)

    assert 1000 / (found.bands[0].spectrum.ripples[0].frequency * found.pixels_per_metre) == pytest.approx(
        1.732, rel=0.01
    )


def test_bands_are_read_apart() -> None:
    light = np.concatenate([grating(w, size=(80, 1024)) for w in (0.5, 1.3, 2.0)])

    found = find_surface(surface(first="top"), Photo("p"), Picture("p", encode(light)))

    lengths = [1000 / (b.spectrum.ripples[0].frequency * found.pixels_per_metre) for b in found.bands]
    assert lengths == pytest.approx([0.5, 1.3, 2.0], rel=0.01)
    assert [b.speed for b in found.bands] == pytest.approx([0.02, 0.04, 0.06])


def test_overexposed_share() -> None:
    light = grating(1.3)
    light[:, :512] = 1.0

    assert find_surface(surface(), Photo("p"), Picture("p", encode(light))).overexposed == pytest.approx(0.5, abs=0.01)
    assert find_overexposed(np.full((8, 8, 3), (255, 10, 10), np.uint8), 4) == 1.0


def test_noise_alone_has_no_ripple() -> None:
    rng = np.random.default_rng(12)
    found = []
    for _ in range(60):
        light = 0.3 + 0.03 * rng.normal(size=(240, 600))
        bands = find_surface(surface(), Photo("p"), Picture("p", encode(light))).bands
        found += [bool(band.spectrum.ripples) for band in bands]

    # one band in a hundred may have one by chance; straightening looks for what lines up, which must not add many
    assert np.mean(found) < 0.04


# --- geometry -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "origin", "tops"),
    [
        ("bottom", None, [160, 80, 0]),
        ("top", None, [0, 80, 160]),
        ("bottom", (10.0, 250.0), [170, 90, 10]),
        ("top", (10.0, 5.0), [5, 85, 165]),
    ],
)
def test_bands_are_cut_from_their_corner(first: str, origin: tuple[float, float] | None, tops: list[float]) -> None:
    strips = cut_strips(surface(first=first), Photo("p", origin), 1024, 240)

    assert [strip.top for strip in strips] == pytest.approx(tops)
    assert [strip.bottom - strip.top for strip in strips] == pytest.approx([80, 80, 80])
    assert strips[0].left == (10 if origin else 0) and strips[0].right == 1024


def test_photo_scale_replaces_the_items() -> None:
    strips = cut_strips(surface(), Photo("p", scale=Scale(10, 0.001)), 1024, 240)

    assert strips[0].bottom - strips[0].top == pytest.approx(40)


@pytest.mark.parametrize(
    ("item", "photo", "size", "code"),
    [
        (surface(count=4), Photo("p"), (240, 1024), "photo-bands"),
        (surface(), Photo("p", origin=(0.0, 300.0)), (240, 1024), "photo-bands"),
        (surface(height=0.0001), Photo("p"), (240, 1024), "photo-bands"),
        (surface(), Photo("p", origin=(1000.0, 240.0)), (240, 1024), "photo-bands"),
        (Surface("s", None, None, Bands(0.1, 0.1, 0.004, 2), "horizontal"), Photo("p"), (240, 1024), "photo-scale"),
    ],
)
def test_bad_geometry_is_a_problem(item: Surface, photo: Photo, size: tuple[int, int], code: str) -> None:
    problems = check_geometry(item, photo, Picture("p.png", np.zeros(size, np.uint8)))

    assert [problem.code for problem in problems] == [code]
    assert problems[0].file == "p.png" and problems[0].fix


def test_good_geometry_is_none() -> None:
    assert check_geometry(surface(), Photo("p"), Picture("p.png", np.zeros((240, 1024), np.uint8))) == []
