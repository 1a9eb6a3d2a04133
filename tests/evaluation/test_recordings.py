"""Recordings of a whole comparison to sections, measurements and contrasts, on files made here from known figures."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PIL import Image

from generator.errors import FileProblems
from generator.evaluation.excerpts import make_excerpts
from generator.evaluation.numbers import to_json
from generator.evaluation.recall import Recall
from generator.evaluation.recordings import Recorded, evaluate_recordings
from generator.readers.comparison import read_comparison
from generator.readers.folder import DiskFolder
from generator.records.comparison import Comparison, Decides
from generator.records.recordings import (
    Bands,
    Calibration,
    Microphone,
    Panel,
    Photo,
    Scale,
    Sound,
    SoundRecording,
    Surface,
    Vote,
)

ROOT = Path(__file__).parents[2] / "comparisons" / "braille-plate-plotter"
RATE = 16_000


@pytest.fixture(scope="module")
def demo() -> Comparison:
    found = read_comparison(DiskFolder(ROOT), "braille-plate-plotter").comparison
    assert found is not None
    return found


@pytest.fixture(scope="module")
def demo_files() -> dict[str, bytes]:
    return {str(path.relative_to(ROOT)): path.read_bytes() for path in ROOT.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def recorded(demo: Comparison, demo_files: dict[str, bytes]) -> Recorded:
    return evaluate(demo, demo_files)


def evaluate(comparison: Comparison, files: dict[str, bytes]) -> Recorded:
    return evaluate_recordings(comparison, files, {c.id: c.setup() for c in comparison.candidates})


def only(demo: Comparison, **items: tuple[object, ...]) -> Comparison:
    bare = {"sound": (), "vibration": (), "surfaces": (), "panel": ()}
    return replace(demo, **(bare | items))  # type: ignore[arg-type]


def wav(samples: np.ndarray, rate: int = RATE) -> bytes:
    buffer = io.BytesIO()
    soundfile.write(buffer, samples, rate, subtype="PCM_24", format="WAV")
    return buffer.getvalue()


def tone(frequency: float, amplitude: float, seed: int = 0, seconds: float = 3.0) -> np.ndarray:
    time = np.arange(round(seconds * RATE)) / RATE
    noise = 1e-5 * np.random.default_rng(seed).normal(size=time.size)
    return amplitude * np.sin(2 * np.pi * frequency * time) + noise


# --- the invented demo, whose truth is written in comparisons/make_recordings.py ------------------------------------


def test_demo_levels_and_calls(recorded: Recorded) -> None:
    levels = {m.candidate: m for m in recorded.measurements if m.item == "traverse-100"}

    # bearing noise of 41 and 42 dB(A), tones as listed in the script, background apart
    assert levels["series"].estimate == pytest.approx(45.4, abs=0.6)
    assert levels["parallel"].estimate == pytest.approx(43.3, abs=0.6)
    call = next(c for c in recorded.contrasts if c.item == "traverse-100")
    assert call.between == ("series", "parallel") and call.difference == pytest.approx(2.1, abs=0.5)
    assert recorded.sections["sound"][0]["calibration"]["full_scale_sine"] == pytest.approx(104.0, abs=0.01)
    assert recorded.sections["sound"][0]["background"]["level"] == pytest.approx(29.2, abs=0.3)


def test_demo_tones_are_named(recorded: Recorded) -> None:
    item = recorded.sections["sound"][0]
    causes = {
        round(t["frequency"]): t["cause"] for t in item["tones"] + item["minor_tones"] if t["candidate"] == "series"
    }

    # 100 mm/s on 48 mm a turn: 416.7 full steps a second, electrical turns a quarter of that; 16 microsteps
    assert causes[417].startswith("full steps") and causes[208].startswith("twice the electrical rate")
    assert causes[104].startswith("electrical turns") and causes[6667].startswith("microsteps")
    assert "also in the background" in causes[100]


def test_demo_resonance(recorded: Recorded) -> None:
    fits = {fit["candidate"]: fit for fit in recorded.sections["vibration"][0]["fits"]}

    # made at 93.03 Hz with damping 0.030 and 0.036
    assert fits["series"]["peak_frequency"] == pytest.approx(93.03, abs=1.0)
    assert fits["series"]["damping_ratio"] == pytest.approx(0.030, rel=0.2)
    assert fits["parallel"]["damping_ratio"] == pytest.approx(0.036, rel=0.2)
    assert recorded.peaks["x", "series"].frequency == pytest.approx(fits["series"]["peak_frequency"], rel=1e-8)
    sentence = recorded.sections["vibration"][0]["answers"][0]["sentence"]
    assert "no difference shown" in sentence and "expected no shift" in sentence


def test_of_two_items_of_an_axis_the_first_gives_peak_and_current(
    demo: Comparison, demo_files: dict[str, bytes]
) -> None:
    (item,) = [item for item in demo.vibration if item.axis == "x"]
    twice = (replace(item, current=0.5), replace(item, id="again", current=2.8))
    found = evaluate(only(demo, vibration=twice), demo_files)

    assert {peak.current for peak in found.peaks.values()} == {0.5}


def test_demo_ripples_are_named(recorded: Recorded) -> None:
    ripples = [r for r in recorded.sections["surfaces"][0]["ripples"] if r["candidate"] == "series"]
    found = {(round(r["speed"], 3), r["causes"][0].split(" (")[0]): r["wavelength"] for r in ripples}

    # on the diagonal one belt moves √2 times as fast: electrical turn 0.96/√2 mm, tooth 2/√2 mm
    assert found[0.06, "electrical turns"] == pytest.approx(0.96e-3 / 2**0.5, rel=0.01)
    assert found[0.12, "belt teeth"] == pytest.approx(2e-3 / 2**0.5, rel=0.01)
    clean = {c["candidate"]: c["fastest_clean_band"] for c in recorded.sections["surfaces"][0]["clean"]}
    assert clean["parallel"] > clean["series"]


def test_demo_panel_could_not_tell(recorded: Recorded) -> None:
    panel = recorded.sections["panel"][0]

    assert not panel["could_tell"] and panel["pairs"][0]["needed"] == 13


def test_sections_are_json_without_nan(recorded: Recorded) -> None:
    text = json.dumps(to_json(recorded.sections), allow_nan=False)

    assert len(text) < 400_000


def test_same_files_give_the_same_results(demo: Comparison, demo_files: dict[str, bytes], recorded: Recorded) -> None:
    assert to_json(evaluate(demo, demo_files).sections) == to_json(recorded.sections)


def test_kept_results_are_used_until_a_file_changes(demo: Comparison, demo_files: dict[str, bytes]) -> None:
    class Kept:
        def __init__(self) -> None:
            self.puts = 0
            self.kept: dict[str, bytes] = {}

        def get(self, key: str) -> bytes | None:
            return self.kept.get(key)

        def put(self, key: str, content: bytes) -> None:
            self.puts += 1
            self.kept[key] = content

    kept = Kept()
    setups = {c.id: c.setup() for c in demo.candidates}
    sounds = only(demo, sound=demo.sound)
    for _ in range(2):
        evaluate_recordings(sounds, demo_files, setups, Recall(kept))
    assert kept.puts == 1

    name = next(name for name in demo_files if name.endswith("background.wav"))
    evaluate_recordings(sounds, demo_files | {name: wav(tone(100, 0.01))}, setups, Recall(kept))
    assert kept.puts == 2


# --- sound in its other forms ---------------------------------------------------------------------------------------


def recordings(*files: str, speeds: tuple[float | None, ...] = ()) -> tuple[SoundRecording, ...]:
    speeds = speeds or (None,) * len(files)
    return tuple(SoundRecording(file, speed=speed) for file, speed in zip(files, speeds, strict=True))


def test_uncalibrated_recordings_give_differences_only(demo: Comparison) -> None:
    files = {f"{c}{k}.wav": wav(tone(1000, a, k)) for c, a in (("a", 0.1), ("b", 0.05)) for k in (1, 2)}
    item = Sound("s", recordings={"series": recordings("a1.wav", "a2.wav"), "parallel": recordings("b1.wav", "b2.wav")})

    found = evaluate(only(demo, sound=(item,)), files)

    assert found.measurements == [] and found.sections["sound"][0]["calibrated"] is False
    # half the amplitude is 6.02 dB less
    assert found.contrasts[0].difference == pytest.approx(6.0206, abs=0.01)
    assert found.sections["sound"][0]["levels"][0]["level"] == pytest.approx(0.0, abs=1e-6)


def test_full_scale_gives_pascals(demo: Comparison) -> None:
    microphone = Microphone(calibration=Calibration(full_scale=114.0))
    item = Sound("s", microphone=microphone, recordings={"series": recordings("a.wav")})

    found = evaluate(only(demo, sound=(item,)), {"a.wav": wav(tone(1000, 0.1))})

    assert found.measurements[0].estimate == pytest.approx(94.0, abs=0.01)


def test_stated_levels(demo: Comparison) -> None:
    item = Sound("s", levels={"series": (52.0, 52.4, 52.2), "parallel": (48.0, 48.3, 48.1)}, background_level=44.0)

    found = evaluate(only(demo, sound=(item,)), {})

    powers = [[10 ** (level / 10) - 10**4.4 for level in levels] for levels in item.levels.values()]
    assert [found.estimate for found in found.measurements] == pytest.approx(10 * np.log10(np.mean(powers, axis=1)))
    means = np.mean(10 * np.log10(powers), axis=1)
    assert found.contrasts[0].difference == pytest.approx(means[0] - means[1])
    assert found.sections["sound"][0]["levels"][1]["grades"] == ["survey"] * 3
    assert found.contrasts[0].ahead == "parallel"


def test_level_under_the_background_is_bounded(demo: Comparison) -> None:
    item = Sound("s", levels={"series": (52.0, 52.4), "parallel": (45.0, 45.2)}, background_level=44.0)

    found = evaluate(only(demo, sound=(item,)), {})

    assert found.measurements[1].kind == "upper bound" and found.measurements[1].estimate is None


def test_ready_spectra_are_summed(demo: Comparison) -> None:
    item = Sound("s", spectra={"series": ("s.csv",)})

    found = evaluate(only(demo, sound=(item,)), {"s.csv": b"frequency [Hz],level [dB(A)]\n800,60\n1000,60\n"})

    assert found.measurements[0].estimate == pytest.approx(63.0103, abs=1e-4)


def test_series_over_speed_is_compared_speed_by_speed(demo: Comparison) -> None:
    speeds = (0.05, 0.1, 0.15, 0.2)
    rise = (0.01, 0.05, 0.02, 0.08)
    drop = 10 ** (-np.array([3.0, 3.2, 2.9, 3.1]) / 20)
    files = {f"a{k}": wav(tone(1000, rise[k], k)) for k in range(4)}
    files |= {f"b{k}": wav(tone(1000, rise[k] * drop[k], k)) for k in range(4)}
    sides = {
        "series": recordings("a0", "a1", "a2", "a3", speeds=speeds),
        "parallel": recordings("b0", "b1", "b2", "b3", speeds=speeds),
    }

    found = evaluate(only(demo, sound=(Sound("s", recordings=sides),)), files)

    call = found.contrasts[0]
    # paired: mean 3.05, s = 0.1291, t(3) = 3.182446: half-width 0.2054
    assert call.difference == pytest.approx(3.05, abs=0.01)
    assert (call.high - call.low) / 2 == pytest.approx(0.2054, abs=0.02)  # type: ignore[operator]
    assert found.sections["sound"][0]["series"][0]["speed"] == list(speeds)


# --- surfaces, panel, problems --------------------------------------------------------------------------------------


def photo(contrasts: list[float]) -> bytes:
    """Bands of 80 px, slowest at the bottom, with a ripple of 26 px."""
    across = np.arange(1000)
    rng = np.random.default_rng(4)
    rows = [0.3 * (1 + c * np.sin(2 * np.pi * across / 26)) * np.ones((80, 1)) for c in reversed(contrasts)]
    light = np.concatenate(rows) + 0.006 * rng.normal(size=(80 * len(contrasts), 1000))
    encoded = 1.055 * np.clip(light, 0, 1) ** (1 / 2.4) - 0.055
    buffer = io.BytesIO()
    Image.fromarray(np.round(255 * encoded).astype(np.uint8)).save(buffer, "PNG")
    return buffer.getvalue()


def plate(**photos: str) -> Surface:
    scale = Scale(20, 0.001)
    return Surface(
        "p", None, scale, Bands(0.02, 0.02, 0.004, 4), "horizontal", {c: Photo(f) for c, f in photos.items()}
    )


def test_fastest_clean_band(demo: Comparison) -> None:
    files = {"a.png": photo([0, 0, 0.05, 0.05]), "b.png": photo([0, 0, 0, 0])}

    found = evaluate(only(demo, surfaces=(plate(series="a.png", parallel="b.png"),)), files)

    assert found.measurements[0].estimate == pytest.approx(0.04)
    assert found.measurements[0].basis == "one photo, in steps of one band"  # ripples above it are no reservation
    assert found.measurements[1].kind == "lower bound" and found.measurements[1].at_least == pytest.approx(0.08)


def test_ripples_below_the_fastest_clean_band_are_told_with_it(demo: Comparison) -> None:
    found = evaluate(only(demo, surfaces=(plate(series="a.png"),)), {"a.png": photo([0, 0.05, 0.05, 0])})

    assert found.sections["surfaces"][0]["clean"][0]["rippled_below"] == pytest.approx([0.04, 0.06])
    assert found.measurements[0].estimate == pytest.approx(0.08)
    assert found.measurements[0].basis.endswith("; ripple at 40 mm/s and 60 mm/s below it")


def test_no_clean_band_is_an_upper_bound(demo: Comparison) -> None:
    found = evaluate(only(demo, surfaces=(plate(series="a.png"),)), {"a.png": photo([0.05] * 4)})

    assert found.measurements[0].kind == "upper bound" and found.measurements[0].at_most == pytest.approx(0.02)


def test_ripple_limit_of_the_file_holds(demo: Comparison) -> None:
    lenient = replace(
        only(demo, surfaces=(plate(series="a.png"),)), decides={"p": Decides("fastest_clean_band", "higher", None, 1e6)}
    )

    assert evaluate(lenient, {"a.png": photo([0.05] * 4)}).measurements[0].kind == "lower bound"


def test_exposure_is_compared(demo: Comparison) -> None:
    dark = Image.open(io.BytesIO(photo([0] * 4))).point(lambda v: round(0.8 * v))
    buffer = io.BytesIO()
    dark.save(buffer, "PNG")
    files = {"a.png": photo([0] * 4), "b.png": buffer.getvalue()}

    found = evaluate(only(demo, surfaces=(plate(series="a.png", parallel="b.png"),)), files)

    assert any("exposure" in note for note in found.sections["surfaces"][0]["notes"])


def test_votes_become_persons(demo: Comparison) -> None:
    votes = [Vote(str(k), "series", "parallel", "series") for k in range(8)]
    votes.append(votes[0])

    panel = evaluate(only(demo, panel=(Panel("q", votes=tuple(votes)),)), {}).sections["panel"][0]

    assert panel["pairs"][0]["votes"] == [8, 0] and panel["repeated_votes"] == 1 and panel["could_tell"]


def test_all_problems_come_at_once(demo: Comparison, demo_files: dict[str, bytes]) -> None:
    broken = {name: content for name, content in demo_files.items() if not name.endswith("calibrator.wav")}
    broken |= {name: b"" for name in demo_files if name.endswith(".jpg")}
    trace = next(name for name in demo_files if name.endswith("series-2.csv"))
    broken[trace] = b"t [s],ax [m/s\xc2\xb2]\n0,1\n"

    with pytest.raises(FileProblems) as caught:
        evaluate(demo, broken)

    codes = {problem.code for problem in caught.value.problems}
    assert {"file-missing", "photo-empty", "trace-short"} <= codes


# --- listening excerpts ---------------------------------------------------------------------------------------------


def test_excerpts_as_recorded_and_matched() -> None:
    item = Sound("s", recordings={"a": recordings("a.wav"), "b": recordings("b.wav")})
    files = {"a.wav": wav(tone(1000, 0.1, seconds=9)), "b.wav": wav(tone(1000, 0.02, seconds=3))}

    found = make_excerpts(item, ["a", "b"], files)

    heard = {(e.candidate, e.matched): soundfile.read(io.BytesIO(e.content))[0] for e in found}
    loud = {key: float(np.std(samples[1000:-1000])) for key, samples in heard.items()}
    assert loud["a", False] / loud["b", False] == pytest.approx(5.0, rel=0.01)
    assert loud["a", True] == pytest.approx(loud["b", True], rel=0.01)
    assert len(heard["a", False]) == 6 * RATE and len(heard["b", False]) == 3 * RATE
    assert max(float(np.max(np.abs(samples))) for samples in heard.values()) == pytest.approx(0.891, abs=0.01)


def test_excerpts_carry_no_metadata_and_repeat() -> None:
    item = Sound("s", recordings={"a": recordings("a.wav")})
    buffer = io.BytesIO()
    with soundfile.SoundFile(buffer, "w", RATE, 1, "PCM_16", format="WAV") as file:
        file.title, file.artist = "SECRET", "SECRET"
        file.write(tone(1000, 0.1))

    first, second = (make_excerpts(item, ["a"], {"a.wav": buffer.getvalue()}) for _ in range(2))

    assert b"SECRET" in buffer.getvalue() and all(b"SECRET" not in e.content for e in first)
    assert [e.content for e in first] == [e.content for e in second]
