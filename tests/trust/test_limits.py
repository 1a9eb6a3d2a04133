"""Each limit, reached by a file: a message that names it, and a way to raise it; hostile sizes end soon."""

from __future__ import annotations

import io
import struct
import wave
from dataclasses import asdict, fields, replace
from pathlib import Path

import pytest
from hostile import make_photo, make_wave
from PIL import Image
from places_of_trust import PLAIN, run_limited

from generator.build import Settings, build
from generator.cli import main
from generator.commands import parse_limits
from generator.errors import FileProblems, UsageError
from generator.pages.templates import environment, render_template
from generator.readers.comparison import read_comparison
from generator.readers.folder import MemoryFolder
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.photos import make_sizes, read_photo
from generator.readers.sound import read_sound
from generator.readers.traces import read_trace
from generator.records.recordings import SoundRecording

RUNS = b"held [m/s2],lost [m/s2]\n42,43\n43,44\n"
DEEP = "[" * 60 + "]" * 60
LAUGHS = "a: &a [x,x]\n" + "".join(
    f"{chr(98 + k)}: &{chr(98 + k)} [*{chr(97 + k)},*{chr(97 + k)}]\n" for k in range(20)
)
RECORDED = """\
sound: [{id: hum, microphone: {calibration: {full_scale: 118 dB}}, recordings: {short: [a.wav], long: [a.wav]}}]
vibration: [{id: shake, axis: x, excitation: sweep, columns: {time: "t [s]", acceleration: "a [m/s²]"},
  traces: {short: t.csv, long: t.csv}}]
surfaces: [{id: plate, scale: {pixels: 200, length: 20 mm}, along: horizontal, photos: {short: p.png, long: p.png},
  bands: {first_speed: 20 mm/s, speed_step: 20 mm/s, height: 5 mm, count: 3}}]
"""


def files(end: str = "", **others: bytes) -> dict[str, bytes]:
    """The plain comparison with an end and other files."""
    named = {name.replace("__", "."): content for name, content in others.items()}
    return {"comparison.yaml": (PLAIN + end).encode(), "runs.csv": RUNS, **named}


CASES: dict[str, tuple[Limits, dict[str, bytes], str]] = {
    "comparison_bytes": (Limits(comparison_bytes=500), files(), "file-large"),
    "prose_bytes": (Limits(prose_bytes=3), files("write_up: a.md\n", a__md=b"four"), "file-large"),
    "table_bytes": (Limits(table_bytes=10), files(), "file-large"),
    "sound_bytes": (Limits(sound_bytes=10), files(RECORDED, a__wav=make_wave(), t__csv=RUNS, p__png=b""), "file-large"),
    "photo_bytes": (
        Limits(photo_bytes=10),
        files(RECORDED, a__wav=b"", t__csv=RUNS, p__png=make_photo()),
        "file-large",
    ),
    "depth": (Limits(depth=3), files(), "too-deep"),
    "nodes": (Limits(nodes=20), files(), "too-many"),
    "exponent": (
        Limits(exponent=2),
        files() | {"comparison.yaml": PLAIN.replace("24 V", "24000e-3 V").encode()},
        "number-exponent",
    ),
    "text_characters": (Limits(text_characters=9), files(), "text-long"),
    "candidates": (Limits(candidates=1), files(), "too-many"),
    "items": (Limits(items=0), files(), "too-many"),
    "runs": (Limits(runs=1), files(), "too-many"),
    "files": (Limits(files=1), files(), "too-many"),
    "table_rows": (Limits(table_rows=1), files(), "table-large"),
    "table_columns": (Limits(table_columns=1), files(), "table-large"),
}
"""Limits that hold while comparison.yaml is read."""
LATER = {"sound_samples", "photo_pixels", "draws", "problems", "template_steps"}


def test_every_limit_has_its_case() -> None:
    assert {field.name for field in fields(Limits)} == set(CASES) | LATER


@pytest.mark.parametrize("name", CASES)
def test_a_limit_is_told_and_can_be_raised(name: str) -> None:
    limits, content, code = CASES[name]
    raised = replace(limits, **{name: asdict(DEFAULT_LIMITS)[name]})

    found = read_comparison(MemoryFolder(content), "plain", limits).problems
    again = read_comparison(MemoryFolder(content), "plain", raised).problems

    assert code in {problem.code for problem in found}
    assert any(str(asdict(limits)[name]) in p.message for p in found if p.code == code), "the message names the limit"
    assert all(problem.fix for problem in found)
    assert code not in {problem.code for problem in again}


def test_a_template_makes_no_endless_range(tmp_path: Path) -> None:
    (tmp_path / "long.html").write_text("a\n{% for k in range(0, 10**12, 2) %}x{% endfor %}")
    (tmp_path / "round.html").write_text("{% macro m() %}{{ m() }}{% endmacro %}\n{{ m() }}")
    with pytest.raises(FileProblems) as caught:
        render_template(environment([tmp_path]), "long.html", {})
    (problem,) = caught.value.problems
    assert (problem.code, problem.line) == ("template-endless", 2)
    assert "at most 100000" in problem.message and "template_steps" in problem.message

    with pytest.raises(FileProblems) as caught:
        render_template(environment([tmp_path]), "round.html", {})
    assert [problem.code for problem in caught.value.problems] == ["template-endless"]

    (tmp_path / "short.html").write_text("{% for k in range(5) %}x{% endfor %}")
    assert render_template(environment([tmp_path], steps=5), "short.html", {}) == "xxxxx"
    with pytest.raises(FileProblems):
        render_template(environment([tmp_path], steps=4), "short.html", {})


def test_cells_of_a_table_are_texts_too() -> None:
    content = files() | {"runs.csv": b"held [m/s2],lost [m/s2],note\n42,43," + b"w" * 2001 + b"\n43,44,short\n"}

    (problem,) = read_comparison(MemoryFolder(content), "plain").problems

    assert (problem.code, problem.line, problem.column) == ("text-long", 2, 3)


def test_problems_beyond_their_limit_are_counted() -> None:
    text = PLAIN + "".join(f"wrong{k}: 1\n" for k in range(50))
    found = read_comparison(
        MemoryFolder({"comparison.yaml": text.encode(), "runs.csv": RUNS}), "plain", Limits(problems=5)
    )

    assert len(found.problems) == 6
    assert "more-problems" in {problem.code for problem in found.problems}
    assert any("45 more" in problem.message for problem in found.problems)


def test_pixels_are_counted_before_they_are_decoded() -> None:
    bomb = png_header(60_000, 60_000)
    for reading in (lambda: read_photo(bomb, "p.png"), lambda: make_sizes(bomb, "p.png")):
        with pytest.raises(FileProblems) as caught:
            reading()
        assert caught.value.problems[0].code == "photo-too-large"
    with pytest.raises(FileProblems) as caught:
        read_photo(make_photo(), "p.png", Limits(photo_pixels=95_999))
    assert "95999" in caught.value.problems[0].message
    assert read_photo(make_photo(), "p.png", Limits(photo_pixels=96_000)).pixels.shape[:2] == (160, 600)


def test_samples_are_counted_over_all_channels() -> None:
    buffer = io.BytesIO()
    with wave.open(buffer, "wb") as file:
        file.setnchannels(4)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(bytes(range(200)) * 160)
    recording = SoundRecording("a.wav")

    with pytest.raises(FileProblems) as caught:
        read_sound(buffer.getvalue(), recording, Limits(sound_samples=15_999))

    assert caught.value.problems[0].code == "sound-long"
    assert read_sound(buffer.getvalue(), recording, Limits(sound_samples=16_000)).channels == 4


def test_rows_of_a_trace_are_counted() -> None:
    trace = ("t [s],a [m/s²]\n" + "".join(f"{k / 1000},{k % 7}\n" for k in range(200))).encode()
    columns = {"time": "t [s]", "acceleration": "a [m/s²]"}

    with pytest.raises(FileProblems) as caught:
        read_trace(trace, "t.csv", columns, Limits(table_rows=199))

    assert caught.value.problems[0].code == "table-large"
    assert len(read_trace(trace, "t.csv", columns, Limits(table_rows=200)).samples) == 200


@pytest.mark.parametrize(
    ("limit", "code"),
    [("photo_pixels", "photo-too-large"), ("sound_samples", "sound-long"), ("table_rows", "table-large")],
)
def test_a_build_passes_limits_on_to_recordings(limit: str, code: str, tmp_path: Path) -> None:
    trace = ("t [s],a [m/s²]\n" + "".join(f"{k / 1000},{k % 7}\n" for k in range(400))).encode()
    folder = tmp_path / "comparisons" / "plain"
    folder.mkdir(parents=True)
    for name, content in files(RECORDED, a__wav=make_wave(), t__csv=trace, p__png=make_photo()).items():
        (folder / name).write_bytes(content)
    settings = Settings(
        folder.parent,
        tmp_path / "site",
        "2026-10-01",
        cache=tmp_path / "c",
        limits=replace(Limits(draws=50), **{limit: 300}),
    )

    with pytest.raises(FileProblems) as caught:
        build(settings)

    assert code in {problem.code for problem in caught.value.problems}


def test_the_number_of_draws_is_set_and_makes_another_build(tmp_path: Path) -> None:
    folder = tmp_path / "comparisons" / "plain"
    folder.mkdir(parents=True)
    for name, content in files().items():
        (folder / name).write_bytes(content)
    made = []
    for draws in (60, 60, 70):
        settings = Settings(
            folder.parent, tmp_path / "site", "2026-10-01", cache=tmp_path / "c", limits=Limits(draws=draws)
        )
        made.append(build(settings).made)

    assert made == [1, 0, 1]
    assert '"draws":70' in (tmp_path / "site/comparisons/plain/results.json").read_text().replace(" ", "")


HOSTILE = {
    "deep": f"title: {DEEP}",
    "aliases": LAUGHS,
    "keys": "".join(f"k{k}: 1\n" for k in range(60_000)),
    "one long word": "title: " + "w" * 900_000,
    "quotes": "title: '" + "'" * 900_000,
    "indents": "".join(" " * (k % 500) + "a:\n" for k in range(3000)),
    "exponent": PLAIN.replace("24 V", "1e999999999 V"),
    "digits": PLAIN.replace("24 V", "9" * 500_000 + " V"),
    "power of a unit": PLAIN.replace("24 V", "24 V^999999999"),
    "unit without end": PLAIN.replace("24 V", "24 " + "V·" * 300_000 + "V"),
    "division": PLAIN.replace("{peak_current: 1.5 A}", "{peak_current: 1.5 A, step_division: 999999999}"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_answered_soon(name: str) -> None:
    content = {"comparison.yaml": HOSTILE[name].encode(), "runs.csv": RUNS}
    found: list[object] = []

    assert run_limited(lambda: found.append(read_comparison(MemoryFolder(content), "plain")), 60) is None
    assert found[0].problems  # type: ignore[attr-defined]


def test_limits_are_set_by_name_and_refused_by_name(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert parse_limits(["runs=7", "photo_pixels=5"]) == replace(DEFAULT_LIMITS, runs=7, photo_pixels=5)
    for wrong in ("runs", "runs=", "runs=-1", "runs=0", "runs=many", "run=5", "=5", "runs=1e6"):
        with pytest.raises(UsageError):
            parse_limits([wrong])
    (tmp_path / "comparisons" / "plain").mkdir(parents=True)
    (tmp_path / "comparisons" / "plain" / "comparison.yaml").write_text(PLAIN, encoding="utf-8")
    (tmp_path / "comparisons" / "plain" / "runs.csv").write_bytes(RUNS)

    code = main(["check", "--comparisons", str(tmp_path / "comparisons"), "--limit", "runs=1"])

    assert code == 1
    assert "runs" in capsys.readouterr().out


def png_header(width: int, height: int) -> bytes:
    """A PNG that promises many pixels and holds one row of a smaller picture."""
    buffer = io.BytesIO()
    Image.new("L", (10, 1)).save(buffer, "PNG")
    content = bytearray(buffer.getvalue())
    content[16:24] = struct.pack(">II", width, height)
    import zlib

    content[29:33] = struct.pack(">I", zlib.crc32(bytes(content[12:29])))
    return bytes(content)
