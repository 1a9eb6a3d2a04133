"""A comparison as a whole: trials, recordings, verdict keys, files, what is missing, and any text at all."""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from generator.checking import check_folder
from generator.errors import FileProblems
from generator.readers.comparison import ReadResult, find_comparisons, read_comparison
from generator.readers.folder import DiskFolder, MemoryFolder
from generator.readers.limits import Limits
from generator.readers.site import read_site
from generator.records.comparison import Calibrate, Comparison, Decides, Site, SourceFile

Read = Callable[..., ReadResult]
RUN = "        - {held: 20 m/s², lost: 21 m/s²}\n"
SECOND = "      second:\n" + RUN
HEADER = "held [m/s²],lost [m/s²],stopped,order,time,note\n"
NOBODY = 65534
"""A user without rights, for tests that run as root."""
PLAIN = Path(__file__).parents[1] / "data" / "good" / "plain.yaml"


def good(result: ReadResult) -> Comparison:
    assert result.comparison is not None, "\n".join(map(str, result.problems))
    return result.comparison


def codes(result: ReadResult) -> list[str]:
    return [problem.code for problem in result.problems]


def test_trials_are_in_si(read: Read) -> None:
    (trial,) = good(read()).trials

    assert (trial.id, trial.measures, trial.speed, trial.stroke) == ("along-x", "acceleration", 0.5, 0.1)
    assert trial.ladder is not None
    assert (trial.ladder.start, trial.ladder.rung, trial.ladder.stop) == (10.0, 1.0, None)
    assert [(run.held, run.lost, run.file, run.line) for run in trial.runs["second"]] == [
        (20.0, 21.0, "comparison.yaml", 39)
    ]


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("{x: 1, y: 1}", (math.sqrt(0.5), math.sqrt(0.5))),
        ("{y: -2}", (0.0, -1.0)),
        ("[3, 4]", (0.6, 0.8)),
        ("{x: 0.5}", (1.0, 0.0)),
    ],
)
def test_directions_become_unit_vectors(read: Read, written: str, unit: tuple[float, float]) -> None:
    (trial,) = good(read(("direction: {x: 1}", f"direction: {written}"))).trials

    assert trial.direction == pytest.approx(unit, rel=1e-15)


def test_runs_from_a_table_are_those_of_a_list(read: Read) -> None:
    rows = "20,21,,1,2026-09-15T10:20,warm\n22,,heat,2,,\n,10,,,,first rung\n"
    listed = (
        "        - {held: 20 m/s², lost: 21 m/s², order: 1, time: '2026-09-15T10:20', note: warm}\n"
        "        - {held: 22 m/s², stopped: heat, order: 2}\n"
        "        - {lost: 10 m/s², note: first rung}\n"
    )
    table = good(read((SECOND, "      second: runs.csv\n"), runs__csv=HEADER + rows)).trials[0].runs["second"]
    written = good(read((RUN, listed))).trials[0].runs["second"]

    def bare(runs: tuple) -> list[tuple]:
        return [(r.held, r.lost, r.stopped, r.order, r.time, r.note) for r in runs]

    assert bare(table) == bare(written)
    assert [(run.file, run.line) for run in table] == [("runs.csv", 2), ("runs.csv", 3), ("runs.csv", 4)]


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("22,21,,,,", "held-not-below-lost"),
        ("21,21,,,,", "held-not-below-lost"),
        ("20.5,21,,,,", "rung-off-ladder"),
        ("9,10,,,,", "rung-off-ladder"),
        (",12,,,,", "rung-off-ladder"),
        (",,,,,", "run-empty"),
        ("20,21,heat,,,", "run-contradicts"),
        ("20,,tired,,,", "unknown-word"),
        ("20,21,,1.5,,", "whole-number"),
        ("20,21,,0,,", "whole-number"),
        ("-20,21,,,,", "out-of-range"),
        ("20,,stroke,,,", "stopped-early"),
    ],
)
def test_a_faulty_row_is_told_with_its_line(read: Read, row: str, code: str) -> None:
    result = read((SECOND, "      second: runs.csv\n"), runs__csv=HEADER + "20,21,,,,\n" + row + "\n")

    assert [(problem.code, problem.file, problem.line) for problem in result.problems] == [(code, "memory/runs.csv", 3)]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("friction: 2 N", "friction: 2,5 N", ["2.5 N"]),
        ("{moving_mass: 300 g, travel: 400 mm,", "{moving_mass: 300,5 g, travel: 400,5 mm,", ["300.5 g", "400.5 mm"]),
        ("{held: 31 m/s²", "{held: 28,5 m/s²", ["28.5 m/s²"]),
        ("what: sound level meter", "what: 2,5 mm gauge", ["2.5 mm gauge"]),
    ],
)
def test_a_decimal_comma_between_braces_is_one_problem(read: Read, old: str, new: str, said: list[str]) -> None:
    problems = read((old, new)).problems

    assert [problem.code for problem in problems] == ["decimal-comma"] * len(said)
    assert [problem.fix.partition(";")[0] for problem in problems] == [f"write {figure}" for figure in said]


def test_a_comma_between_braces_may_group_thousands(read: Read) -> None:
    (problem,) = read(("travel: 400 mm", "travel: 1,200 mm")).problems
    (text,) = read(("what: sound level meter", "what: 2,500 mm gauge")).problems

    both = "write 1200 mm if the comma groups thousands, 1.200 mm if it is a decimal comma"
    assert (problem.code, problem.fix) == ("decimal-comma", both)
    assert text.fix.endswith("; a text with a comma stands in quotes")


LADDER = "ladder: {start: 10 m/s², rung: 1 m/s²}"


@pytest.mark.parametrize(
    ("old", "new", "code", "fix"),
    [
        ("voltage_drop: 1 V", "step_division: 1/16", "whole-number", "write 16"),
        ("voltage_drop: 1 V", "step_division: fine", "whole-number", "write it like 4"),
        (LADDER, "ladder: {start: 10 m/s²}", "missing-key", "add rung: 1 m/s²"),
        (LADDER, "ladder: {rung: 1 m/s²}", "missing-key", "add start: 10 m/s²"),
        ("direction: {x: 1}", "direction: x", "wrong-kind", "write it like {x: 1}"),
        (
            "first: [{held: 31 m/s², lost: 32 m/s²}]",
            "first: {held: 31 m/s², lost: 32 m/s²}",
            "wrong-kind",
            "write a list: - {held: …, lost: …} on a line for each, or [{held: …, lost: …}, {held: …, lost: …}] on one "
            "line; or name a CSV file",
        ),
        (
            "instruments:\n  - {id: meter, what: sound level meter}",
            "instruments: {id: meter}",
            "wrong-kind",
            'write a list: begin each entry with "- "',
        ),
    ],
)
def test_a_fix_is_what_may_stand_there(read: Read, old: str, new: str, code: str, fix: str) -> None:
    (problem,) = read((old, new)).problems

    assert (problem.code, problem.fix) == (code, fix)


def test_the_ladder_of_a_speed_trial_is_offered_speeds(read: Read) -> None:
    trial = TOP.replace("[{HELD}]", "[]")

    (rung,) = read(end=trial.replace(", rung: 50 mm/s", "")).problems
    (start,) = read(end=trial.replace("start: 800 mm/s, ", "")).problems

    assert (rung.fix, start.fix) == ("add rung: 50 mm/s", "add start: 500 mm/s")


@pytest.mark.parametrize(
    ("matters", "fix"),
    [
        ("kinds: {acceleration: 5}", "write 5 % for a share, or 5 m/s²"),
        ("kinds: {surface: 20}", "write 20 % for a share, or 20 mm/s"),
        ("kinds: {sound: 2}", "write 2 dB"),
        ("items: {along-x: 2}", "write 2 % for a share, or 2 m/s²"),
        ("items: {look: 2}", "write 2 % for a share"),
    ],
)
def test_an_amount_without_its_unit_may_be_a_share(read: Read, matters: str, fix: str) -> None:
    look = "panel:\n  - {id: look, pairs: [{between: [first, second], votes: [7, 9]}]}\n"

    (problem,) = read(end=f"{look}matters: {{{matters}}}\n").problems

    assert (problem.code, problem.fix) == ("unit-missing", fix)


def test_a_doubled_id_of_a_candidate_is_one_problem(read: Read) -> None:
    assert codes(read(("  - id: second", "  - id: first"))) == ["id-doubled"]


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ((1, 4), (2, 3), None),
        ((1, 2), (2, 3), "the order 2 stands twice in this trial, in first and in second"),
        ((1, 2), (3, 3), "the order 3 stands twice in this trial, in second"),
        ((1, 2), (1, 2), "the order 1 stands twice in this trial, in first and in second; 2 numbers are shared in all"),
    ],
)
def test_the_order_numbers_the_runs_of_a_trial_through(
    read: Read, first: tuple[int, int], second: tuple[int, int], said: str | None
) -> None:
    listed = "first: [" + ", ".join(f"{{held: 31 m/s², lost: 32 m/s², order: {order}}}" for order in first) + "]"
    rows = "".join(f"20,21,,{order},,\n" for order in second)
    result = read(
        ("first: [{held: 31 m/s², lost: 32 m/s²}]", listed), (SECOND, "      second: runs.csv\n"),
        runs__csv=HEADER + rows,
    )  # fmt: skip

    assert good(result)
    assert [(problem.code, problem.severity) for problem in result.problems] == [("order-doubled", "warning")] * bool(
        said
    )
    assert [problem.message for problem in result.problems] == ([said] if said else [])


def test_attempts_may_stand_in_a_table(read: Read) -> None:
    attempts = "    attempts:\n      second: tries.csv\n"
    result = read((SECOND, ""), end=attempts, tries__csv="at [m/s²],held,lost\n20,5,0\n21,1,4\n")

    assert [(a.at, a.held, a.lost, a.line) for a in good(result).trials[0].attempts["second"]] == [
        (20.0, 5, 0, 2),
        (21.0, 1, 4, 3),
    ]
    assert codes(read((SECOND, ""), end=attempts, tries__csv="at [m/s²],held,lost\n20,5,-1\n")) == ["whole-number"]
    assert codes(read((SECOND, ""), end=attempts, tries__csv="at [m/s²],held,lost\n20,0,0\n")) == ["run-empty"]


TOP = """  - id: top
    measures: speed
    direction: {x: 1}
    acceleration: 11 m/s²
    stroke: 300 mm
    ladder: {start: 800 mm/s, rung: 50 mm/s}
    runs:
      first: [{HELD}]
"""


@pytest.mark.parametrize(
    ("run", "found"),
    [
        ("held: 1150 mm/s, lost: 1200 mm/s", []),
        # √(11 m/s² · 0.3 m) = 1816.6 mm/s is the fastest that the stroke allows: 1800 is in reach, 1850 is not
        ("held: 1800 mm/s, stopped: stroke", []),
        ("held: 1750 mm/s, stopped: stroke", ["stopped-early"]),
        ("held: 1850 mm/s, stopped: stroke", ["beyond-stroke"]),
        ("held: 1800 mm/s, lost: 1850 mm/s", ["beyond-stroke"]),
        ("held: 1.150 m/s, lost: 1.2 m/s", []),
        ("held: 1160 mm/s, lost: 1200 mm/s", ["rung-off-ladder"]),
    ],
)
def test_the_stroke_bounds_what_a_speed_trial_can_show(read: Read, run: str, found: list[str]) -> None:
    assert codes(read(end=TOP.replace("HELD", run))) == found


def test_the_hold_time_needs_its_way_too(read: Read) -> None:
    trial = TOP.replace("HELD", "held: 1150 mm/s, lost: 1200 mm/s")

    assert codes(read(end=trial + "    hold_time: 0.1 s\n")) == []
    assert codes(read(end=trial + "    hold_time: 0.2 s\n")) == ["beyond-stroke", "beyond-stroke"]


def test_a_trial_of_speeds_takes_no_speed_of_its_own(read: Read) -> None:
    assert codes(read(end=TOP.replace("HELD", "held: 1150 mm/s") + "    speed: 1 m/s\n")) == ["unknown-key"]


RECORDED = """sound:
  - id: hum
    direction: {x: 1}
    speed: 100 mm/s
    microphone: {distance: 0.5 m, instrument: meter, placed_anew: true, calibration: {file: cal.wav, level: 94 dB}}
    background: {file: quiet.wav, from: 1 s}
    recordings:
      first: [{file: a.wav, from: 0.5 s, to: 8 s, channel: 1}, {file: b.wav, segment: [1 s, 3 s], speed: 50 mm/s}]
      second: c.wav
    levels: {first: [52.1 dB(A), 52.4 dB(A)]}
    background_level: 35 dB(A)
    spectra: {second: [d.csv]}
vibration:
  - id: shake
    axis: x
    excitation: sweep
    current: 2.8 A
    columns: {time: "t [s]", acceleration: "ax [m/s²]"}
    traces: {first: [e.csv, {file: f.csv}], second: g.csv}
surfaces:
  - id: plate
    direction: [1, 1]
    scale: {pixels: 930, length: 20 mm}
    bands: {first_speed: 20 mm/s, speed_step: 20 mm/s, height: 5 mm, count: 3}
    along: horizontal
    photos:
      first: {file: h.png, origin: {x: 120, y: 2400}, scale: {pixels: 100, length: 10 mm}}
      second: i.png
    alt: {first: a plate}
panel:
  - {id: look, surface: plate, pairs: [{between: [first, second], votes: [7, 9], no_preference: 4}]}
  - {id: votes, pairs: votes.csv}
decides:
  shake: {figure: peak_frequency}
matters: {kinds: {acceleration: 5 %, sound: 2 dB}, items: {shake: 1.5 Hz, along-x: 2 m/s², plate: 10 mm/s}}
weights: {along-x: 3, hum: 0}
write_up: words.md
"""
FILES = {f"{name}__{ending}": b"x" for name, ending in [
    ("cal", "wav"), ("quiet", "wav"), ("a", "wav"), ("b", "wav"), ("c", "wav"), ("d", "csv"), ("e", "csv"),
    ("f", "csv"), ("g", "csv"), ("h", "png"), ("i", "png"), ("words", "md"),
]}  # fmt: skip
VOTES = "voter,left,right,chosen\n1,first,second,left\n2,second,first,none\n3,second,first,right\n"


def recorded(read: Read) -> Comparison:
    return good(read(end=RECORDED, votes__csv=VOTES, **FILES))


def test_sound_is_recorded_with_its_parts(read: Read) -> None:
    (sound,) = recorded(read).sound

    first, second = sound.recordings["first"]
    assert (first.file, first.start, first.stop, first.channel, first.constant_speed) == ("a.wav", 0.5, 8.0, 1, False)
    assert (second.start, second.stop, second.speed, second.constant_speed) == (1.0, 3.0, 0.05, True)
    assert sound.microphone.calibration is not None
    assert (sound.microphone.calibration.file, sound.microphone.calibration.level) == ("cal.wav", 94.0)
    assert sound.microphone.placed_anew is True
    assert (sound.levels, sound.levels_weighted, sound.background_level) == ({"first": (52.1, 52.4)}, True, 35.0)
    assert sound.background is not None and sound.background.start == 1.0
    assert sound.spectra == {"second": ("d.csv",)}


def test_vibration_surfaces_and_panel_are_recorded(read: Read) -> None:
    comparison = recorded(read)
    (vibration,), (surface,) = comparison.vibration, comparison.surfaces

    assert vibration.traces == {"first": ("e.csv", "f.csv"), "second": ("g.csv",)}
    assert vibration.columns == {"time": "t [s]", "acceleration": "ax [m/s²]"}
    assert surface.bands.speeds() == pytest.approx((0.02, 0.04, 0.06))
    assert surface.bands.first == "bottom"
    assert surface.photos["first"].origin == (120.0, 2400.0)
    assert surface.photos["first"].scale is not None
    assert surface.photos["first"].scale.pixels_per_metre == 1e4
    look, votes = comparison.panel
    assert (look.pairs[0].votes, look.pairs[0].no_preference) == ((7, 9), 4)
    assert [vote.chosen for vote in votes.votes] == ["first", None, "first"]


def test_what_decides_and_what_matters(read: Read) -> None:
    comparison = recorded(read)

    assert comparison.decides == {
        "hum": Decides("level", "lower"),
        "shake": Decides("peak_frequency", "higher"),
        "plate": Decides("fastest_clean_band", "higher", None, 3.0),
    }
    assert comparison.matters.kinds == {"acceleration": (0.05, True), "sound": (2.0, False)}
    assert comparison.matters.items == {"shake": (1.5, False), "along-x": (2.0, False), "plate": (0.01, False)}
    assert comparison.weights == {"along-x": 3.0, "hum": 0.0}


def test_every_named_file_is_a_source_with_its_role(read: Read) -> None:
    sources = recorded(read).sources

    assert sources[0] == SourceFile("comparison.yaml", "comparison")
    assert {source.role for source in sources} == {
        *("comparison", "prose", "sound", "spectrum", "trace", "photo", "votes")
    }
    assert len(sources) == len({source.path for source in sources}) == len(FILES) + 2


@pytest.mark.parametrize("name", sorted(FILES))
def test_every_named_file_must_be_there(read: Read, name: str) -> None:
    files = {key: content for key, content in FILES.items() if key != name}

    assert codes(read(end=RECORDED, votes__csv=VOTES, **files)) == ["file-missing"]


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("votes: [7, 9]", "votes: [7, -9]", "out-of-range"),
        ("between: [first, second]", "between: [first, third]", "unknown-candidate"),
        ("surface: plate", "surface: plat", "unknown-item"),
        ("axis: x", "axis: z", "unknown-axis"),
        ("shake: 1.5 Hz", "shake: 1.5 mm/s", "unit-wrong"),
        ("sound: 2 dB", "sound: 2 %", "unit-wrong"),
        ("figure: peak_frequency", "figure: level", "decides-figure"),
        ("segment: [1 s, 3 s]", "segment: [3 s, 1 s]", "part-order"),
        ("segment: [1 s, 3 s]", "segment: [1 s, 3 s], from: 1 s", "group-doubled"),
        ("height: 5 mm", "height: 0 mm", "out-of-range"),
        ("speed_step: 20 mm/s", "speed_step: -20 mm/s", "bands-form"),
        ("{id: votes, ", "{id: hum, ", "id-doubled"),
        ("hum: 0", "hum: -1", "out-of-range"),
    ],
)
def test_faults_in_recordings(read: Read, old: str, new: str, code: str) -> None:
    assert old in RECORDED
    result = read(end=RECORDED.replace(old, new), votes__csv=VOTES, **FILES)

    assert code in codes(result)
    assert result.comparison is None


def test_plain_facts_are_kept(read: Read) -> None:
    extra = (
        "bench: {operator: '', place: cellar, warm_up: 10 min, humidity: 45 %, lost_when: 0.1 mm, moves_per_rung: 4}\n"
        "corrections: [{date: 2026-10-02, text: 'a slip'}]\npublish: {audio: true}\nstall_map: false\nlanguage: de-AT\n"
    )
    comparison = good(read(end=extra))

    assert comparison.bench == {
        "place": "cellar",
        "warm_up": 600.0,
        "humidity": 0.45,
        "lost_when": 1e-4,
        "moves_per_rung": 4,
    }
    assert (comparison.corrections[0].date, comparison.corrections[0].text) == ("2026-10-02", "a slip")
    assert (comparison.publish.sources, comparison.publish.audio, comparison.publish.photos) == (True, True, True)
    assert (comparison.stall_map, comparison.language) == (False, "de-AT")


def test_what_a_report_should_say_is_listed(read: Read) -> None:
    bare, fuller = good(read()).missing, good(read(end="bench: {operator: the tester}\nauthor: the tester\n")).missing

    assert "The file does not say who ran the bench." in bare
    assert set(bare) - set(fuller) == {
        "The file does not say who ran the bench.",
        "The file does not say who wrote this report.",
    }


@pytest.mark.parametrize(
    ("extra", "told"),
    [
        (("", ""), True),
        ((", order: 1", ""), True),
        ((", order: 1", ", order: 2"), False),
        ((', time: "10:20"', ', time: "10:40"'), False),
    ],
)
def test_runs_without_an_order_are_listed(read: Read, extra: tuple[str, str], told: bool) -> None:
    changes = zip(("lost: 32 m/s²}", "lost: 21 m/s²}"), extra, strict=True)
    found = good(read(*((old, old.replace("}", more + "}")) for old, more in changes))).missing
    alone = good(read((SECOND, ""))).missing
    sentence = "In along-x the file does not say in which order all runs were made, so a drift may hide there."

    assert (sentence in found) is told
    assert sentence not in alone, "one candidate is compared with nobody"


def test_a_comparison_without_measurements_is_read(plain: str) -> None:
    text = plain[: plain.index("trials:")]

    result = read_comparison(MemoryFolder({"comparison.yaml": text.encode()}), "plain")

    assert result.problems == ()
    assert good(result).trials == ()


def test_limits_hold_for_runs_items_and_files(plain: str) -> None:
    def read_with(limits: Limits) -> list[str]:
        folder = MemoryFolder({"comparison.yaml": plain.encode()})
        return codes(read_comparison(folder, "plain", limits))

    assert read_with(Limits(runs=0)) == ["too-many", "too-many"]
    assert read_with(Limits(items=0)) == ["too-many"]
    assert read_with(Limits(comparison_bytes=10)) == ["file-large"]


def test_find_comparisons_names_what_was_meant_as_one(tmp_path: Path) -> None:
    for name, file in (
        ("b", "comparison.yaml"),
        ("a", "comparison.yml"),
        ("c", "notes.txt"),
        (".d", "comparison.yaml"),
    ):
        (tmp_path / name).mkdir()
        (tmp_path / name / file).write_text("x")
    (tmp_path / "site.yaml").write_text("name: x")
    (tmp_path / "e").symlink_to(tmp_path / "b")

    assert find_comparisons(tmp_path) == ("a", "b", "e")
    assert find_comparisons(tmp_path / "none") == ()
    assert codes(read_comparison(DiskFolder(tmp_path / "a"), "a")) == ["file-missing"]
    assert codes(read_comparison(DiskFolder(tmp_path / "e"), "e")) == ["path-link"]


@contextmanager
def shut(folder: Path) -> Iterator[None]:
    """Take away the right to read a folder, and be somebody whom that hinders."""
    mine = os.geteuid()
    folder.chmod(0)
    os.seteuid(mine or NOBODY)
    try:
        yield
    finally:
        os.seteuid(mine)
        folder.chmod(0o755)


@pytest.fixture
def open_path() -> Iterator[Path]:
    """A folder that anybody may enter, with two comparisons."""
    with tempfile.TemporaryDirectory() as name:
        for folder in (Path(name), Path(name, "one"), Path(name, "two")):
            folder.mkdir(exist_ok=True)
            folder.chmod(0o755)
        for slug in ("one", "two"):
            Path(name, slug, "comparison.yaml").write_bytes(PLAIN.read_bytes())
        yield Path(name)


def test_a_comparison_that_may_not_be_read_is_a_problem(open_path: Path) -> None:
    assert check_folder(open_path, Limits()).problems == ()

    with shut(open_path / "one"):
        findings = check_folder(open_path, Limits())

    (problem,) = findings.problems
    assert findings.slugs == ("one", "two")
    assert (problem.file, problem.code) == (f"{open_path.as_posix()}/one/comparison.yaml", "file-unreadable")
    assert "may be read" in problem.fix


def test_the_folder_of_comparisons_may_not_be_read_either(open_path: Path) -> None:
    with shut(open_path), pytest.raises(FileProblems) as raised:
        find_comparisons(open_path)

    (problem,) = raised.value.problems
    assert (problem.file, problem.code) == (open_path.as_posix(), "file-unreadable")
    assert problem.message == "cannot list this folder: Permission denied" and problem.fix


def test_the_sites_facts_are_read() -> None:
    text = "name: Bench\naddress: https://bench.example/x/\nlicence: CC BY 4.0\nowner: ''\n"

    site, problems = read_site(MemoryFolder({"site.yaml": text.encode()}))

    assert problems == ()
    assert site == Site(name="Bench", address="https://bench.example/x/", licence="CC BY 4.0")
    assert read_site(MemoryFolder({})) == (Site(), ())


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("address: javascript:alert(1)", "text-form"),
        ('address: "https://a.example/\\"><script>"', "text-form"),
        ("nmae: x", "unknown-key"),
        ("- a", "wrong-kind"),
        ("", "file-empty"),
        ("language: english language", "text-form"),
    ],
)
def test_faults_in_the_sites_facts(text: str, code: str) -> None:
    site, problems = read_site(MemoryFolder({"site.yaml": text.encode()}))

    assert [problem.code for problem in problems] == [code]
    assert site == Site()


LINES = PLAIN.read_text(encoding="utf-8").split("\n")
PIECES = st.sampled_from([
    *("{}", "[]", "1", "-1 mm", "1,5 mH", "true", "x", "''", "first", "[1, 2]", "{x: 1}", "nan", "1e999 m", "a.csv"),
])  # fmt: skip


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None, max_examples=150)
@given(st.data())
def test_any_change_of_a_good_file_gives_a_comparison_or_errors(data: st.DataObject) -> None:
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(lines) - 1))
        head, _, _ = lines[place].partition(":")
        change = data.draw(st.sampled_from(["drop", "double", "value", "text", "indent"]))
        if change == "drop":
            lines[place] = ""
        elif change == "double":
            lines.insert(place, lines[place])
        elif change == "value":
            lines[place] = f"{head}: {data.draw(PIECES)}"
        elif change == "indent":
            lines[place] = "  " + lines[place]
        else:
            lines[place] += data.draw(st.text(max_size=20))
    content = "\n".join(lines).encode("utf-8", "surrogatepass")

    result = read_comparison(MemoryFolder({"comparison.yaml": content, "a.csv": b"held [m/s2]\n1\n"}), "plain")

    errors = [problem for problem in result.problems if problem.severity == "error"]
    assert (result.comparison is None) == bool(errors)
    if result.comparison is not None:
        for candidate in result.comparison.candidates:
            candidate.setup()


def test_what_is_calibrated_and_on_which_trial(read: Read) -> None:
    assert good(read()).calibrate == Calibrate("torque derating", None)
    stated = good(read(end="calibrate: {unknown: moving mass, trial: along-x}\n")).calibrate
    assert stated == Calibrate("moving mass", "along-x")


@pytest.mark.parametrize(
    ("written", "code"), [("{trial: along-y}", "unknown-item"), ("{unknown: friction}", "unknown-word")]
)
def test_a_calibration_on_nothing_is_refused(read: Read, written: str, code: str) -> None:
    assert codes(read(end=f"calibrate: {written}\n")) == [code]
