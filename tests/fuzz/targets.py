"""What is fuzzed: each target takes any bytes and may raise nothing but the project's own errors.

A target also holds what must be true of a result: figures are finite, cleaning twice changes nothing, prose that comes
out holds no active content. Limits are small here, so that an input cannot be slow only because it is large.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from contextlib import suppress

import html5lib
import numpy as np
from markupsafe import Markup

from generator.archive.cleaning import clean_content
from generator.errors import FileProblems
from generator.pages.prose import Writer
from generator.readers.comparison import read_comparison
from generator.readers.folder import MemoryFolder
from generator.readers.limits import Limits
from generator.readers.photos import make_sizes, read_photo
from generator.readers.site import read_site
from generator.readers.sound import read_sound
from generator.readers.tables import Column, read_table
from generator.readers.traces import read_band_levels, read_density, read_trace
from generator.records.recordings import SoundRecording
from generator.unit_grammar import QuantityError
from generator.units import KINDS, parse_level, parse_quantity

LIMITS = Limits(sound_samples=200_000, photo_pixels=250_000, table_rows=5_000)
ACTIVE = {
    "script",
    "style",
    "iframe",
    "object",
    "embed",
    "form",
    "input",
    "button",
    "link",
    "meta",
    "base",
    "img",
    "svg",
}
COLUMNS = (
    Column("held", "acceleration", blank=True),
    Column("lost", "acceleration", required=False, blank=True),
    Column("order", "number", required=False, blank=True),
    Column("note", required=False),
)


def try_units(content: bytes) -> None:
    """A quantity of every kind, and a level."""
    text = content.decode("utf-8", "replace")
    for kind in KINDS:
        with suppress(QuantityError):
            assert math.isfinite(parse_quantity(text, kind)), text
    with suppress(QuantityError):
        assert math.isfinite(parse_level(text)[0]), text


def try_comparison(content: bytes) -> None:
    """A comparison.yaml alone in its folder, with a small file of each kind to name."""
    files = {"comparison.yaml": content, "a.csv": b"held [m/s2],lost [m/s2]\n1,2\n", "a.wav": b"RIFF", "a.md": b"x"}
    read = read_comparison(MemoryFolder(files), "fuzzed", LIMITS)
    assert read.comparison is not None or any(problem.severity == "error" for problem in read.problems)
    if read.comparison is not None:
        for candidate in read.comparison.candidates:
            candidate.setup()


def try_site(content: bytes) -> None:
    """A site.yaml."""
    read_site(MemoryFolder({"site.yaml": content}), LIMITS)


def try_tables(content: bytes) -> None:
    """A CSV file, as runs, trace, density and band levels."""
    with suppress(FileProblems):
        assert not np.isinf(read_table(content, "a.csv", COLUMNS, LIMITS).numbers("held")).any()
    with suppress(FileProblems):
        trace = read_trace(content, "a.csv", {"time": "t [s]", "acceleration": "a [m/s²]"}, LIMITS)
        assert np.isfinite(trace.samples).all() and math.isfinite(trace.rate)
    with suppress(FileProblems):
        density = read_density(content, "a.csv", {"frequency": "f [Hz]", "density": "p [(m/s²)²/Hz]"}, LIMITS)
        assert np.isfinite(density.density).all()
    with suppress(FileProblems):
        assert np.isfinite(read_band_levels(content, "a.csv", LIMITS).level).all()


def try_sound(content: bytes) -> None:
    """A sound file: cleaned, then decoded."""
    with suppress(FileProblems):
        cleaned = clean_content("a.wav", content)
        assert clean_content("a.wav", cleaned) == cleaned
        wave = read_sound(cleaned, SoundRecording("a.wav"), LIMITS)
        assert np.isfinite(wave.samples).all()


def try_photo(content: bytes) -> None:
    """A photo: cleaned, decoded and made small."""
    with suppress(FileProblems):
        cleaned = clean_content("photo", content)
        assert clean_content("photo", cleaned) == cleaned
        picture = read_photo(cleaned, "photo", LIMITS)
        assert picture.pixels.size > 0
        make_sizes(cleaned, "photo", (16,), LIMITS)


def try_prose(content: bytes) -> None:
    """A write-up; what comes out is parsed as a browser would."""
    text = content.decode("utf-8", "replace")
    values = {"limits.short.nominal": '<b onclick="x">3 m/s²</b>'}
    writer = Writer(values, ("speed",), lambda name: Markup("<figure>{}</figure>").format(name), {"trials": "trials"})
    with suppress(FileProblems):
        for part in writer.parts({"write-up.md": text}):
            check_passive(str(part.text))


def check_passive(text: str) -> None:
    """Nothing that a browser would run or load."""
    for element in html5lib.parse(text, treebuilder="etree", namespaceHTMLElements=False).iter():
        assert element.tag not in ACTIVE or element.tag in {"html", "head", "body"}, element.tag
        for name, value in element.attrib.items():
            assert not str(name).startswith("on") and name not in {"style", "src", "srcdoc"}, (element.tag, name)
            scheme = re.match(r"\s*([a-z][a-z0-9+.-]*):", re.sub(r"[\x00-\x20]", "", value), re.IGNORECASE)
            assert name != "href" or scheme is None or scheme[1].lower() in {"http", "https", "mailto"}, value


TARGETS: dict[str, Callable[[bytes], None]] = {
    "units": try_units,
    "comparison": try_comparison,
    "site": try_site,
    "tables": try_tables,
    "sound": try_sound,
    "photo": try_photo,
    "prose": try_prose,
}
"""Targets by name; each has a kept corpus in corpus/."""
