"""Every recording, photo, trace and spectrum is opened before any model runs, by check and by build alike."""

from __future__ import annotations

import io
import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from PIL import Image
from places import Place, snapshot

from generator import opening
from generator.cli import main
from generator.errors import Problem
from generator.evaluation.recall import Recall
from generator.opening import Opened, open_comparison
from generator.readers.folder import MemoryFolder
from generator.readers.limits import Limits

PLAIN = (Path(__file__).parent / "data" / "good" / "plain.yaml").read_text(encoding="utf-8")
RATE = 8000


def wav(samples: np.ndarray) -> bytes:
    buffer = io.BytesIO()
    soundfile.write(buffer, samples, RATE, subtype="PCM_16", format="WAV")
    return buffer.getvalue()


def photo(width: int = 1000, height: int = 400, kind: str = "PNG") -> bytes:
    buffer = io.BytesIO()
    Image.new("L", (width, height), 120).save(buffer, kind)
    return buffer.getvalue()


def table(header: str, *columns: np.ndarray) -> bytes:
    rows = (",".join(f"{cell:.9g}" for cell in row) for row in zip(*columns, strict=True))
    return "\n".join([header, *rows, ""]).encode()


STEPS = np.arange(400)
HUM = wav(0.5 * np.sin(STEPS.repeat(20)))
SILENCE = wav(np.zeros(RATE))
TRACE = table("t [s],a [m/s²]", STEPS / 500, np.sin(STEPS))
GAP = table("t [s],a [m/s²]", np.delete(STEPS, 200) / 500, np.sin(np.delete(STEPS, 200)))
DENSITY = table("f [Hz],p [(m/s²)²/Hz]", 1 + STEPS[:40], 1.0 + STEPS[:40])
LEVELS = table("frequency [Hz],level [dB]", 100.0 + STEPS[:9], 40.0 + STEPS[:9])

SOUND = "sound:\n  - {id: hum, %s}\n"
TRACES = 'vibration:\n  - {id: x, axis: x, excitation: run, columns: {time: "t [s]", acceleration: "a [m/s²]"}, %s}\n'
DENSITIES = (
    'vibration:\n  - {id: x, axis: x, excitation: run, columns: {frequency: "f [Hz]", density: "p [(m/s²)²/Hz]"}, %s}\n'
)
BANDS = "bands: {first_speed: 20 mm/s, speed_step: 20 mm/s, height: 5 mm, count: %d}"
PHOTOS = (
    "surfaces:\n  - {id: plate, scale: {pixels: 200, length: 20 mm}, along: horizontal, %s, photos: {first: p.png}}\n"
)
RECORDED = SOUND % "recordings: {first: [%s]}"
Files = dict[str, bytes]

FINE: dict[str, tuple[str, Files]] = {
    "sound": (RECORDED % "a.wav", {"a.wav": HUM}),
    "part": (RECORDED % "{file: a.wav, from: 0.1 s, to: 0.9 s}", {"a.wav": HUM}),
    "levels": (SOUND % "spectra: {first: a.csv}", {"a.csv": LEVELS}),
    "trace": (TRACES % "traces: {first: a.csv}", {"a.csv": TRACE}),
    "density": (DENSITIES % "spectra: {first: a.csv}", {"a.csv": DENSITY}),
    "photo": (PHOTOS % (BANDS % 8), {"p.png": photo()}),
}
FAULTY: dict[str, tuple[str, Files, list[tuple[str, str]]]] = {
    "silence": (RECORDED % "a.wav", {"a.wav": SILENCE}, [("a.wav", "sound-silent")]),
    "part beyond the end": (RECORDED % "{file: a.wav, to: 9 s}", {"a.wav": HUM}, [("a.wav", "sound-part")]),
    "two uses of one file": (
        RECORDED % "{file: a.wav, to: 9 s}, {file: a.wav, channel: 2}, {file: a.wav, to: 1 s}",
        {"a.wav": HUM},
        [("a.wav", "sound-channel"), ("a.wav", "sound-part")],
    ),
    "background": (
        SOUND % "recordings: {first: [a.wav]}, background: b.wav",
        {"a.wav": HUM, "b.wav": SILENCE},
        [("b.wav", "sound-silent")],
    ),
    "calibration": (
        SOUND % "recordings: {first: [a.wav]}, microphone: {calibration: {file: c.wav, level: 94 dB}}",
        {"a.wav": HUM, "c.wav": SILENCE},
        [("c.wav", "sound-silent")],
    ),
    "levels": (SOUND % "spectra: {first: a.csv}", {"a.csv": b"f,l\n1,2\n"}, 2 * [("a.csv", "csv-column-missing")]),
    "trace": (TRACES % "traces: {first: a.csv}", {"a.csv": GAP}, [("a.csv", "time-gap")]),
    "density": (DENSITIES % "spectra: {first: a.csv}", {"a.csv": TRACE}, 2 * [("a.csv", "csv-column-missing")]),
    "photo": (PHOTOS % (BANDS % 8), {"p.png": photo(kind="TIFF")}, [("p.png", "wrong-kind")]),
    "bands beyond the photo": (PHOTOS % (BANDS % 9), {"p.png": photo()}, [("p.png", "photo-bands")]),
    "several files": (
        RECORDED % "a.wav, b.wav, c.wav" + TRACES % "traces: {first: t.csv}",
        {"a.wav": SILENCE, "b.wav": b"RIFF", "c.wav": HUM, "t.csv": GAP},
        [("a.wav", "sound-silent"), ("b.wav", "wrong-kind"), ("t.csv", "time-gap")],
    ),
}  # fmt: skip


def opened(more: str, files: Files, recall: Recall | None = None, limits: Limits | None = None) -> Opened:
    folder = MemoryFolder({"comparison.yaml": (PLAIN + more).encode(), **files}, "place/plain")
    return open_comparison(folder, "plain", limits or Limits(), recall or Recall())


@pytest.mark.parametrize("name", FINE)
def test_what_is_right_gives_no_problem_and_its_digests(name: str) -> None:
    more, files = FINE[name]

    found = opened(more, files)

    assert found.problems == () and found.comparison is not None
    assert set(found.digests) == {"comparison.yaml", *files}


@pytest.mark.parametrize("name", FAULTY)
def test_every_fault_of_every_file_is_told_with_its_folder(name: str) -> None:
    more, files, expected = FAULTY[name]

    found = opened(more, files)

    assert found.comparison is None
    assert [(p.file, p.code) for p in found.problems] == [(f"place/plain/{file}", code) for file, code in expected]
    assert all(problem.message and problem.fix for problem in found.problems)


def test_problems_beyond_the_limit_are_counted() -> None:
    names = [f"{k:03}.wav" for k in range(30)]

    found = opened(RECORDED % ", ".join(names), dict.fromkeys(names, SILENCE), limits=Limits(problems=20))

    assert [problem.code for problem in found.problems] == 20 * ["sound-silent"] + ["more-problems"]
    assert found.problems[-1].message == "and 10 more problems"


class Kept(dict[str, bytes]):
    """A store in memory."""

    def put(self, key: str, content: bytes) -> None:
        self[key] = content


@pytest.fixture
def decoded(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Counts what is decoded, by the reader's name."""
    counts: Counter[str] = Counter()

    def counting(name: str) -> Callable[..., Any]:
        real = getattr(opening, name)

        def count(*arguments: Any) -> Any:
            counts[name] += 1
            return real(*arguments)

        return count

    for name in ("read_sound", "read_trace", "read_density", "read_band_levels"):
        monkeypatch.setattr(opening, name, counting(name))
    return counts


def test_what_was_found_right_is_not_decoded_again(decoded: Counter[str]) -> None:
    recall = Recall(Kept())
    part = RECORDED % "{file: a.wav, from: 0.1 s}"
    assert opened(part, {"a.wav": HUM}, recall).problems == ()
    assert decoded == {"read_sound": 1}

    assert opened("interests: ''\n" + part, {"a.wav": HUM}, recall).problems == ()
    assert decoded == {"read_sound": 1}, "in another line, but the same"
    assert opened(part.replace("0.1 s", "0.2 s"), {"a.wav": HUM}, recall).problems == ()
    assert decoded == {"read_sound": 2}, "another part"
    assert opened(part, {"a.wav": HUM}, recall, Limits(sound_samples=10)).comparison is None
    assert opened(part, {"a.wav": SILENCE}, recall).comparison is None
    assert opened(part, {"a.wav": SILENCE}, recall).comparison is None
    assert decoded == {"read_sound": 5}, "what is wrong is looked at each time"


# --- check and build ----------------------------------------------------------------------------------------------


def add(place: Place, slug: str, more: str, files: Files) -> None:
    """A comparison with recordings."""
    folder = place.comparisons / slug
    folder.mkdir(parents=True)
    (folder / "comparison.yaml").write_text(PLAIN.replace("schema: 1", "schema: 1\nstall_map: false") + more, "utf-8")
    for name, content in files.items():
        (folder / name).write_bytes(content)


def test_check_and_build_tell_the_same_faults_before_any_model_runs(
    place: Place, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("generator.making.make_comparison", lambda task: pytest.fail("a model ran"))
    add(place, "broken", "no_such_key: 1\n" + RECORDED % "a.wav", {"a.wav": SILENCE})
    add(place, "gappy", FAULTY["trace"][0], FAULTY["trace"][1])
    add(place, "many", *FAULTY["several files"][:2])
    add(place, "right", *FINE["sound"])
    base = place.comparisons.as_posix()
    expected = [
        (f"{base}/broken/comparison.yaml", "unknown-key"),
        (f"{base}/gappy/a.csv", "time-gap"),
        (f"{base}/many/a.wav", "sound-silent"),
        (f"{base}/many/b.wav", "wrong-kind"),
        (f"{base}/many/t.csv", "time-gap"),
    ]

    assert main(["check", "--format", "json", "--comparisons", str(place.comparisons)]) == 1
    found = json.loads(capsys.readouterr().out)
    assert [(problem["file"], problem["code"]) for problem in found["problems"]] == expected
    assert list(found["missing"]) == ["right"]

    assert place.build() == 1
    said = capsys.readouterr().err
    assert said.splitlines()[:-1] == [line for p in found["problems"] for line in str(Problem(**p)).splitlines()]
    assert said.splitlines()[-1] == "5 errors"
    assert not place.site.exists()


def test_check_keeps_nothing(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(place.root / "cache"))
    add(place, "right", *FINE["sound"])
    before = snapshot(place.root)

    assert main(["check", "--comparisons", str(place.comparisons)]) == 0
    assert snapshot(place.root) == before and not (place.root / "cache").exists()


def test_a_build_decodes_only_what_is_new(fresh_place: Place, decoded: Counter[str]) -> None:
    add(fresh_place, "right", RECORDED % "a.wav, b.wav", {"a.wav": HUM, "b.wav": HUM[:-2000] + bytes(2000)})
    assert fresh_place.build() == 0
    assert decoded == {"read_sound": 2}
    decoded.clear()

    assert fresh_place.build() == 0
    fresh_place.change(fresh_place.comparisons / "right" / "comparison.yaml", ("title: ", "title: Another "))
    assert fresh_place.build() == 0
    assert len(fresh_place.builds()) == 2 and not decoded
    (fresh_place.comparisons / "right" / "b.wav").write_bytes(HUM[:-4000] + bytes(4000))
    assert fresh_place.build() == 0
    assert len(fresh_place.builds()) == 3 and decoded == {"read_sound": 1}
