"""The kept corpus: one text file per target, one input a line in base64, shortest first; and seeds to start from."""

from __future__ import annotations

import base64
import io
import wave
from pathlib import Path

import numpy as np
from PIL import Image

CORPUS = Path(__file__).parent / "corpus"
ROOT = Path(__file__).parents[2]
MOST_BYTES = 60_000
"""Largest kept corpus of one target, before base64."""


def read_kept(target: str) -> list[bytes]:
    """Kept inputs of a target."""
    path = CORPUS / f"{target}.txt"
    return [base64.b64decode(line) for line in path.read_text("ascii").splitlines()] if path.is_file() else []


def write_kept(target: str, inputs: list[bytes]) -> int:
    """Keep the shortest inputs that fit; returns how many."""
    kept, size = [], 0
    for content in sorted(set(inputs), key=lambda found: (len(found), found)):
        size += len(content)
        if size > MOST_BYTES:
            break
        kept.append(base64.b64encode(content).decode())
    CORPUS.mkdir(exist_ok=True)
    (CORPUS / f"{target}.txt").write_text("".join(line + "\n" for line in kept), "ascii")
    return len(kept)


def make_seeds(target: str) -> list[bytes]:
    """Good and bad inputs to start from."""
    return {
        "units": _unit_seeds,
        "comparison": _comparison_seeds,
        "site": lambda: [(ROOT / "comparisons" / "site.yaml").read_bytes()],
        "tables": _table_seeds,
        "sound": _sound_seeds,
        "photo": _photo_seeds,
        "prose": _prose_seeds,
    }[target]()


def _unit_seeds() -> list[bytes]:
    texts = (
        "3.2 mH",
        "0.46 N·m",
        "31 m/s²",
        "60 degC",
        "95 %",
        "1e-5 N·m·s",
        "52.1 dB(A)",
        "5 oz·in²",
        "1,5 mH",
        "2×3 m",
    )
    return [text.encode() for text in texts]


def _comparison_seeds() -> list[bytes]:
    data = ROOT / "tests" / "data"
    files = [data / "good" / "plain.yaml", *sorted((data / "bad").glob("*.yaml"))]
    return [path.read_bytes() for path in files if path.stat().st_size < 8000]


def _table_seeds() -> list[bytes]:
    runs = b'held [m/s2],lost [m/s2],order,note\n42,43,1,\n43,,2,"a, b"\n'
    trace = "t [s],a [m/s²]\n" + "".join(f"{k / 100},{k % 7}\n" for k in range(80))
    density = "f [Hz],p [(m/s²)²/Hz]\n" + "".join(f"{k},{k % 5}\n" for k in range(1, 40))
    return [runs, trace.encode(), density.encode(), b"frequency [Hz],level [dB(A)]\n100,40\n125,41\n"]


def _sound_seeds() -> list[bytes]:
    seeds = []
    for width in (1, 2, 3):
        buffer = io.BytesIO()
        with wave.open(buffer, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(width)
            file.setframerate(2000)
            file.writeframes(bytes(k * 37 % 251 for k in range(600 * width)))
        seeds.append(buffer.getvalue())
    return [*seeds, seeds[1] + b"LIST\x04\x00\x00\x00INFO", seeds[1][:100]]


def _photo_seeds() -> list[bytes]:
    pixels = (np.arange(12 * 10 * 3) % 251).astype(np.uint8).reshape(10, 12, 3)
    seeds = []
    for kind, extra in (("JPEG", {}), ("PNG", {}), ("WEBP", {}), ("WEBP", {"lossless": True})):
        buffer = io.BytesIO()
        Image.fromarray(pixels).save(buffer, kind, **extra)
        seeds.append(buffer.getvalue())
    buffer = io.BytesIO()
    Image.fromarray(pixels).convert("P").save(buffer, "PNG", transparency=0)
    return [*seeds, buffer.getvalue()]


def _prose_seeds() -> list[bytes]:
    texts = (
        "# Trials\n\nText with {value: limits.short.nominal} and\n\n{figure: speed}\n",
        "<script>alert(1)</script> [a](javascript:alert(1)) <img src=x onerror=y>",
        "| a | b |\n|---|---|\n| `x` | <b>y</b> |\n\n[l]: /methods/ 'x'\n",
        "```\n{value: x}\n```\n1. a\n2. b\n\n> q <svg/onload=a>\n",
        "[a]( java&#115;cript:x )<a href='data:text/html,x'>y</a>\n## \ufdd0 &#xe010; \U000f0000",
    )
    return [text.encode() for text in texts]
