"""The preview picture: its size, its repeatability, and words that do not fit."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from generator.charts.cast import Cast, cast_of
from generator.charts.palette import PAGE
from generator.charts.preview import draw_preview

WORDS = [
    ("Series or parallel?", "Parallel sustains 1.8 times the acceleration."),
    ("word " * 200, "answer " * 200),
    ("$x_1$ <b>", ""),
    ("板の上の点字プロッター", "平行巻きのほうが速い"),
]


def cast(count: int = 2) -> Cast:
    return cast_of({"candidates": [{"id": f"c{k}", "name": f"Candidate number {k} " * (k + 1)} for k in range(count)]})


@pytest.mark.parametrize(("title", "answer"), WORDS)
@pytest.mark.parametrize("count", [0, 2, 9])
def test_picture_keeps_its_size_and_margin(title: str, answer: str, count: int) -> None:
    picture = Image.open(io.BytesIO(draw_preview(title, answer, cast(count), "The bench", invented=True)))

    assert picture.size == (1200, 630)
    pixels = np.asarray(picture.convert("RGB"))
    page = [int(PAGE.light[at : at + 2], 16) for at in (1, 3, 5)]
    assert (pixels[20:, 1170:] == page).all(), "words run into the right margin"
    assert (pixels[20:, :60] == page).all()
    assert (pixels[40:, 80:1100] != page).any()


def test_same_words_give_the_same_bytes() -> None:
    first, second = (draw_preview(*WORDS[0], cast(), "The bench") for _ in range(2))

    assert first == second
    assert b"matplotlib" not in first.lower() and b"tEXt" not in first
