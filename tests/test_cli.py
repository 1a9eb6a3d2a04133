"""Every command through the command line: what it says, what it writes, and with which code it ends."""

from __future__ import annotations

import argparse
import http.client
import json
import os
import pty
import shlex
import shutil
import signal
import subprocess
import sys
import threading
import time
import venv
from collections.abc import Iterator
from pathlib import Path

import pytest
from places import ROOT, Place, environment, look, snapshot

from generator.archive import disk
from generator.cli import _parser, main

PATIENCE = 120.0


def walk(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    """A parser and all parsers of its commands."""
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for inner in action.choices.values():
                yield from walk(inner)


COMMANDS = [parser.prog.split()[1:] for parser in walk(_parser())]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_help_names_every_option_and_an_example_that_parses(
    command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command, "--help"]) == 0
    said = capsys.readouterr().out
    example = said.partition("example:\n")[2].strip()
    assert example.startswith("stallmark")
    for line in example.split("&&"):
        arguments = _parser().parse_args(shlex.split(line)[1:])
        assert callable(arguments.run)
    if command:
        assert shlex.split(example)[1 : 1 + len(command)] == command or command == ["builds"]


def test_every_command_is_known() -> None:
    assert [" ".join(command) for command in COMMANDS] == [
        "", "begin", "check", "build", "preview", "values", "bench-sheet", "builds", "builds audit", "builds compare",
        "builds recover", "builds slim", "builds withdraw", "builds adopt",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "argv",
    [
        [],
        ["bild"],
        ["build", "--sight", "x"],
        ["build", "--workers", "0"],
        ["build", "--workers", "many"],
        ["preview", "--port", "99999"],
        ["preview", "--port", "-1"],
        ["preview", "--port", "none"],
        ["build", "--comparisons", "nowhere"],
        ["build", "--limit", "runs"],
        ["build", "--limit", "legs=4"],
        ["build", "--templates", "nowhere"],
        ["check", "--format", "xml"],
        ["check", "--comparisons", "nowhere"],
        ["values"],
        ["values", "none", "--comparisons", "nowhere"],
        ["builds", "slim", "--last", "0"],
        ["builds", "slim", "--last", "1", "--templates", "nowhere"],
        ["builds", "withdraw", "0" * 16, "--reason", "x", "--templates", "nowhere"],
        ["builds", "compare", "0001"],
    ],
    ids=" ".join,
)
def test_wrong_use_ends_with_two(
    argv: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)

    assert main(argv) == 2
    assert capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_the_version_is_the_package_s(capsys: pytest.CaptureFixture[str]) -> None:
    from generator import __version__

    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"stallmark {__version__}\n"


# --- check ----------------------------------------------------------------------------------------------------------


def test_check_says_what_is_missing_gently(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first")
    capsys.readouterr()

    assert main(["check", "--comparisons", str(place.comparisons)]) == 0
    said = capsys.readouterr().out
    assert "first: what a test report usually carries and this one does not:\n  The file " in said
    assert said.endswith("1 comparison, nothing wrong\n")


def test_check_tells_errors_last_and_puts_the_rest_off(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first", ("inductance: 2.3 mH", "inductance: 2.3 ohm"))
    place.begin("second", ("peak_current: 1.5 A", "peak_current: 2.5 A"))
    capsys.readouterr()

    assert main(["check", "--comparisons", str(place.comparisons)]) == 1
    said = capsys.readouterr().out
    assert "The file " not in said
    heads = [line for line in said.splitlines() if not line.startswith("  fix: ")]
    assert ["warning: " in line for line in heads] == [True, True, False, False, False]
    assert heads[2].endswith(" notes on what a test report usually carries; told when the errors are gone")
    assert heads[3].endswith('expected a unit of H, got "2.3 ohm"')
    assert heads[4] == "1 error, 2 warnings"


def test_check_counts_the_notes_that_it_puts_off(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("second")
    capsys.readouterr()
    assert main(["check", "--comparisons", str(place.comparisons)]) == 0
    notes = capsys.readouterr().out.count("  The file ")
    place.begin("first", ("inductance: 2.3 mH", "inductance: 2.3 ohm"))
    capsys.readouterr()

    assert main(["check", "--comparisons", str(place.comparisons)]) == 1
    assert notes > 2
    assert capsys.readouterr().out.startswith(f"{notes} notes on what a test report usually carries")


def test_check_reads_one_comparison_alone(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first", ("inductance: 2.3 mH", "inductance: 2.3 ohm"))
    place.begin("second")
    (place.comparisons / "site.yaml").write_text("name: [a list]\n", encoding="utf-8")
    folder = ["--comparisons", str(place.comparisons)]
    capsys.readouterr()

    assert main(["check", "second", *folder]) == 0
    said = capsys.readouterr().out
    assert said.startswith("second: what a test report") and said.endswith("1 comparison, nothing wrong\n")
    assert main(["check", "first", "--format", "json", *folder]) == 1
    found = json.loads(capsys.readouterr().out)
    assert (found["comparisons"], found["missing"]) == (["first"], {})
    assert [problem["code"] for problem in found["problems"]] == ["unit-wrong"]
    assert main(["check", "third", *folder]) == 2
    assert "there are: first, second" in capsys.readouterr().err


def test_check_of_an_empty_folder_says_how_to_begin(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.comparisons.mkdir(parents=True)

    assert main(["check", "third", "--comparisons", str(place.comparisons)]) == 2
    assert "fix: run stallmark begin third\n" in capsys.readouterr().err


def test_check_as_json_is_for_tools(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first", ("inductance: 2.3 mH", "inductance: 2.3 ohm"))
    place.begin("second")
    capsys.readouterr()

    assert main(["check", "--format", "json", "--comparisons", str(place.comparisons)]) == 1
    found = json.loads(capsys.readouterr().out)
    (problem,) = found["problems"]
    assert (problem["code"], problem["severity"]) == ("unit-wrong", "error")
    assert problem["file"] == f"{place.comparisons.as_posix()}/first/comparison.yaml"
    text = (place.comparisons / "first" / "comparison.yaml").read_text(encoding="utf-8").splitlines()
    assert text[problem["line"] - 1][problem["column"] - 1 :].startswith("2.3 ohm")
    assert found["comparisons"] == ["first", "second"]
    assert list(found["missing"]) == ["second"]


def test_a_warning_alone_is_no_failure(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first", ("peak_current: 1.5 A", "peak_current: 2.5 A"))
    capsys.readouterr()

    assert main(["check", "--comparisons", str(place.comparisons)]) == 0
    said = capsys.readouterr().out
    assert "warning: " in said and "2 warnings" in said
    assert place.build() == 0
    assert "warning: " in capsys.readouterr().err


def test_check_writes_nothing(place: Place) -> None:
    place.begin("first")
    before = snapshot(place.root)

    assert main(["check", "--comparisons", str(place.comparisons)]) == 0
    assert snapshot(place.root) == before


# --- build: what is said, and the clock -----------------------------------------------------------------------------


def test_a_build_away_from_a_terminal_shows_no_progress(place: Place) -> None:
    place.begin("first")

    done = place.run(*place.build_arguments())
    assert (done.returncode, done.stderr) == (0, "")
    assert "build 0001-" in done.stdout and "1 made" in done.stdout
    quiet = place.run(*place.build_arguments("--quiet", "--recheck"))
    assert (quiet.returncode, quiet.stdout, quiet.stderr) == (0, "", "")


def run_on_terminal(place: Place, *argv: str) -> str:
    """What a command writes to a terminal that holds its standard error."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "generator", *argv]
    process = subprocess.Popen(command, cwd=place.root, env=environment(), stdout=subprocess.DEVNULL, stderr=theirs)
    os.close(theirs)
    said = b""
    try:
        while block := os.read(ours, 4096):
            said += block
    except OSError:  # Linux says so when the last writer has closed its end
        pass
    os.close(ours)
    assert process.wait(PATIENCE) == 0
    return said.decode()


def test_a_terminal_shows_progress_and_is_left_clean(fresh_place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    for slug in ("first", "second", "third"):
        fresh_place.begin(slug)

    said = run_on_terminal(fresh_place, *fresh_place.build_arguments())
    assert "3 of 3: " in said
    assert said.endswith("\r\x1b[K")
    shutil.rmtree(fresh_place.site)
    shutil.rmtree(fresh_place.cache)
    assert run_on_terminal(fresh_place, *fresh_place.build_arguments("--quiet")) == ""


def test_the_date_is_the_epoch_s_in_utc(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    place.begin("first")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1767225599")  # one second before 2026 in UTC
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")

    assert place.build() == 0
    manifest = (place.site / "archive" / "builds" / f"{place.builds()[0]}.json").read_text()
    assert '"date":"2025-12-31"' in manifest


@pytest.mark.parametrize("epoch", ["", "yesterday", "1e9", "99999999999999999999"])
def test_an_epoch_that_is_none_is_wrong_use(
    place: Place, epoch: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place.comparisons.mkdir()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)

    assert place.build() == 2
    assert "seconds since 1970" in capsys.readouterr().err


def test_a_closed_pipe_is_no_fault(place: Place) -> None:
    place.begin("first")
    command = [sys.executable, "-m", "generator", "check", "--comparisons", str(place.comparisons)]
    ours, theirs = os.pipe()
    os.close(ours)
    done = subprocess.run(command, env=environment(), stdout=theirs, stderr=subprocess.PIPE, text=True)
    os.close(theirs)

    assert (done.returncode, done.stderr) == (0, "")


# --- values and the bench sheet -------------------------------------------------------------------------------------


def folders(place: Place) -> list[str]:
    return ["--comparisons", str(place.comparisons), "--cache", str(place.cache)]


def test_every_listed_value_can_be_quoted(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first")
    capsys.readouterr()
    assert main(["values", "first", *folders(place)]) == 0
    lines = [line for line in capsys.readouterr().out.splitlines() if line]
    assert len(lines) > 10
    quotes = [line.partition("}")[0] + "}" for line in lines]
    assert all(quote.startswith("{value: ") for quote in quotes)

    prose = place.comparisons / "first" / "write-up.md"
    prose.write_text("## All of them\n\n" + "\n\n".join(quotes) + "\n", encoding="utf-8")
    assert place.build() == 0
    assert "{value:" not in (place.site / "comparisons" / "first" / "index.html").read_text(encoding="utf-8")


def test_values_of_a_faulty_comparison_name_the_fault(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first", ("inductance: 2.3 mH", "inductance: 2.3 ohm"))

    assert main(["values", "first", *folders(place)]) == 1
    assert "2.3 ohm" in capsys.readouterr().err


def test_the_bench_sheet_goes_into_files_of_its_own(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first")
    sheet = ["bench-sheet", "first", *folders(place), "--site", str(place.site), "--to", str(place.root / "sheets")]
    capsys.readouterr()

    assert main([*sheet, "--line", "GO {{ x }} {{ speed * 60 }}"]) == 0
    said = capsys.readouterr().out.splitlines()
    written = look(place.root / "sheets")
    assert sorted(Path(line).name for line in said) == sorted(written)
    assert "first-bench-sheet.html" in written and "start-300-short.csv" in written
    moves = [name for name in written if name.endswith("-moves.txt")]
    assert moves
    for name in moves:
        lines = (place.root / "sheets" / name).read_text(encoding="utf-8").splitlines()
        assert all(line.startswith("GO ") for line in lines)
        assert float(lines[0].split()[1]) == -float(lines[1].split()[1])  # out and back

    assert main(sheet) == 2
    assert "is there already" in capsys.readouterr().err
    assert look(place.root / "sheets") == written
    assert not place.site.exists()


@pytest.mark.parametrize("damage", [None, b"", b"{", b"\xff"], ids=["missing", "empty", "cut", "no text"])
def test_a_bench_sheet_does_without_published_results_that_cannot_be_read(
    own: Place, damage: bytes | None, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(own.comparisons / "first", own.comparisons / "second")
    published = own.site / "comparisons" / "first" / "results.json"
    published.unlink()
    if damage is not None:
        published.write_bytes(damage)
    capsys.readouterr()

    to = own.root / "sheets"
    assert main(["bench-sheet", "second", *folders(own), "--site", str(own.site), "--to", str(to)]) == 0
    assert "comparisons/first/results.json of the site is left out, since it cannot be read" in capsys.readouterr().err
    assert (to / "second-bench-sheet.html").is_file()


def test_a_sheet_filled_in_reads_as_runs(place: Place) -> None:
    file = place.begin("first")
    to = place.comparisons / "first"
    assert main(["bench-sheet", "first", *folders(place), "--site", str(place.site), "--to", str(to)]) == 0
    sheet = to / "start-300-short.csv"
    head, *rows = sheet.read_text(encoding="utf-8").splitlines()
    filled = [",".join(["28", "29", *row.split(",")[2:]]) for row in rows]
    sheet.write_text("\n".join([head, *filled]) + "\n", encoding="utf-8")
    text = file.read_text(encoding="utf-8")
    start, end = text.index("        - {held: 28 m/s²"), text.index("      long:\n        - {held")
    file.write_text(f"{text[:start].rstrip()} {sheet.name}\n{text[end:]}", encoding="utf-8")

    assert place.build() == 0
    results = json.loads((place.site / "comparisons" / "first" / "results.json").read_bytes())
    short = next(m for m in results["measurements"] if m["candidate"] == "short")
    assert [run["held"] for run in short["runs"]] == [28.0] * len(rows)


# --- builds ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory, shared_cache: Path) -> Place:
    """A site of two builds between which one figure changed; nothing may change it."""
    place = Place(tmp_path_factory.mktemp("history"), shared_cache)
    file = place.begin("first")
    assert place.build() == 0
    place.change(file, ("inductance: 2.3 mH", "inductance: 2.5 mH"))
    assert place.build() == 0
    return place


@pytest.fixture
def own(history: Place, tmp_path: Path) -> Place:
    """The same, to be changed."""
    shutil.copytree(history.root, tmp_path / "own")
    return Place(tmp_path / "own", history.cache)


def test_builds_are_listed(history: Place, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["builds", "--site", str(history.site)]) == 0

    first, second = capsys.readouterr().out.splitlines()
    assert first.startswith("0001-") and "added first" in first
    assert second.startswith("0002-") and "changed first" in second


def test_a_site_that_is_not_there_has_no_builds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for task in ([], ["audit"], ["compare", "1", "2"], ["recover", "1", "--to", str(tmp_path / "x")]):
        assert main(["builds", *task, "--site", str(tmp_path / "none")]) in (1, 2), task
        assert str(tmp_path / "none") in capsys.readouterr().err


def test_an_audit_is_clean_until_a_byte_changes(own: Place, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["builds", "audit", "--site", str(own.site)]) == 0
    assert "everything as it was recorded" in capsys.readouterr().out

    asset = next((own.site / "archive" / "assets").glob("*.svg"))
    asset.write_bytes(asset.read_bytes().replace(b"svg", b"SVG", 1))
    assert main(["builds", "audit", "--site", str(own.site)]) == 1
    assert asset.name in capsys.readouterr().out


def test_compare_says_which_figures_moved_and_why(history: Place, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["builds", "compare", "0001", "0002", "--site", str(history.site)]) == 0

    said = capsys.readouterr().out
    assert "first: changed (cause: data)" in said
    assert "file comparison.yaml: changed" in said
    assert "predictions" in said and "→" in said
    assert main(["builds", "compare", "0001", "0009", "--site", str(history.site)]) == 2


def test_recover_writes_the_inputs_of_then(history: Place, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["builds", "recover", "0001", "--to", str(tmp_path / "old"), "--site", str(history.site)]) == 0

    text = (tmp_path / "old" / "comparisons" / "first" / "comparison.yaml").read_text(encoding="utf-8")
    assert "inductance: 2.3 mH" in text
    assert "2 files written" in capsys.readouterr().out


def test_slim_drops_old_copies_and_keeps_citations(own: Place, capsys: pytest.CaptureFixture[str]) -> None:
    looks = ["--comparisons", str(own.comparisons)]

    assert main(["builds", "slim", "--last", "1", "--site", str(own.site), *looks]) == 0
    assert "dropped 2 page copies" in capsys.readouterr().out  # of the comparison and of the changed motor
    pages = list((own.site / "archive" / "pages" / "comparisons" / "first").glob("*.html"))
    assert len(pages) == 2
    assert main(["builds", "audit", "--site", str(own.site)]) == 0
    assert main(["builds", "slim", "--last", "1", "--site", str(own.site), *looks]) == 0
    assert "nothing to drop" in capsys.readouterr().out


def test_withdraw_takes_one_content_out_for_good(own: Place, capsys: pytest.CaptureFixture[str]) -> None:
    prose = own.comparisons / "first" / "write-up.md"
    content = prose.read_bytes()
    digest = look(prose.parent)["write-up.md"]
    task = ["builds", "withdraw", digest, "--site", str(own.site), "--comparisons", str(own.comparisons)]

    assert main(task) == 2
    assert main([*task, "--reason", "names a person"]) == 0
    assert "withdrawn from" in capsys.readouterr().out
    assert content not in {path.read_bytes() for path in own.site.rglob("*") if path.is_file()}
    assert main(["builds", "audit", "--site", str(own.site)]) == 0
    assert "names a person" in capsys.readouterr().out
    own.build()
    assert content not in {path.read_bytes() for path in own.site.rglob("*") if path.is_file()}
    assert main(["builds", "audit", "--site", str(own.site)]) == 0


def test_adopt_goes_on_from_a_copy(history: Place, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = tmp_path / "site"

    assert main(["builds", "adopt", str(history.site), "--site", str(site)]) == 0
    assert "goes on from build 0002-" in capsys.readouterr().out
    assert look(site) == look(history.site)
    assert history.build("--site", str(site)) == 0
    assert "nothing changed" in capsys.readouterr().out


TASKS = {
    "build": lambda own: own.build_arguments("--quiet"),
    "slim": lambda own: ["builds", "slim", "--last", "1", "--comparisons", str(own.comparisons)],
    "withdraw": lambda own: ["builds", "withdraw", look(own.comparisons / "first")["write-up.md"],
                             "--reason", "x", "--comparisons", str(own.comparisons)],
    "adopt": lambda own: ["builds", "adopt", str(own.root / "copy")],
}  # fmt: skip


def stop_removal(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """Let the removal of any folder that is there end with an error."""
    remove = disk.remove_tree

    def stop(path: Path) -> None:
        if Path(path).is_dir():
            raise error
        remove(path)

    monkeypatch.setattr(disk, "remove_tree", stop)


@pytest.mark.parametrize("task", TASKS)
def test_what_is_left_of_an_old_site_is_said_and_fails_only_a_withdrawal(
    own: Place, task: str, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(own.site, own.root / "copy")
    own.change(own.comparisons / "first" / "comparison.yaml", ("question: Does", "question: Really, does"))
    capsys.readouterr()
    with pytest.MonkeyPatch.context() as patch:
        stop_removal(patch, PermissionError(1, "Operation not permitted", "stage/theirs"))
        code = main([*TASKS[task](own), "--site", str(own.site)])

    assert code == (1 if task == "withdraw" else 0)
    said = f"part of the old site is left in {own.root}/.site.work until the next build: Operation not permitted"
    assert said in capsys.readouterr().err
    assert main(["builds", "audit", "--site", str(own.site)]) == 0
    assert not (own.root / ".site.work").exists()


def test_interrupted_after_the_switch_over_the_new_site_stands(own: Place, capsys: pytest.CaptureFixture[str]) -> None:
    own.change(own.comparisons / "first" / "comparison.yaml", ("question: Does", "question: Really, does"))
    with pytest.MonkeyPatch.context() as patch:
        stop_removal(patch, KeyboardInterrupt())
        assert own.build() == 130

    said = capsys.readouterr().err
    assert "interrupted; the new site stands" in said and "as it was" not in said
    assert f"removes what is left of the old one in {own.root}/.site.work" in said
    assert own.build() == 0
    assert "nothing changed" in capsys.readouterr().out
    assert not (own.root / ".site.work").exists()


def test_compare_lists_all_figures_when_asked(
    history: Place, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("generator.archive_commands.MOST_FIGURES", 1)
    lengths = []
    for more in ([], ["--all"]):
        assert main(["builds", "compare", "0001", "0002", "--site", str(history.site), *more]) == 0
        told = capsys.readouterr().out
        assert ("which --all lists too" in told) is (not more)
        lengths.append(len(told.splitlines()))

    assert lengths[1] > lengths[0]


# --- preview --------------------------------------------------------------------------------------------------------


class Preview:
    """A preview as a process of its own."""

    def __init__(self, place: Place) -> None:
        command = [sys.executable, "-m", "generator", "preview", "--port", "0", "--workers", "1", *folders(place)]
        self.process = subprocess.Popen(
            command, cwd=place.root, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        assert self.process.stdout is not None
        self.port = int(self.process.stdout.readline().partition("127.0.0.1:")[2].partition("/")[0])
        self.reader = threading.Thread(target=self.process.stdout.read)
        self.reader.start()

    def end(self) -> int:
        """Press Ctrl-C; returns the exit code."""
        self.process.send_signal(signal.SIGINT)
        try:
            return self.process.wait(PATIENCE)
        finally:
            self.process.kill()
            self.reader.join(PATIENCE)
            assert self.process.stdout is not None
            self.process.stdout.close()

    def ask(self, path: str) -> str:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        connection.request("GET", path)
        text = connection.getresponse().read().decode()
        connection.close()
        return text

    def wait_for(self, path: str, *words: str, without: str = "\x00") -> str:
        """The page, once it holds all words."""
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            text = self.ask(path)
            if all(word in text for word in words) and without not in text:
                return text
            time.sleep(0.1)
        raise AssertionError(f"{path} never showed {words}")


def test_a_port_that_is_none_is_told_with_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["preview", "--port", "65536"]) == 2
    wanted = "a port from 0 (any that is free) to 65535, such as 8321, is wanted, got '65536'"
    assert wanted in capsys.readouterr().err


def test_preview_follows_edits_and_keeps_the_last_good_page(place: Place, tmp_path: Path) -> None:
    file = place.begin("first")
    page = "/comparisons/first/"
    preview = Preview(place)
    try:
        preview.wait_for(page, "Does the longer motor")
        place.change(file, ("question: Does", "question: Really, does"))
        preview.wait_for(page, "Really, does the longer motor")
        place.change(file, ("inductance: 2.3 mH", "inductance: 2.3 ohm"))
        line = file.read_text(encoding="utf-8")[: file.read_text(encoding="utf-8").index("2.3 ohm")].count("\n") + 1
        preview.wait_for(page, f"comparison.yaml:{line}", "2.3 ohm", "Really, does the longer motor")
        place.change(file, ("inductance: 2.3 ohm", "inductance: 2.4 mH"))
        preview.wait_for(page, "Really, does the longer motor", without="2.3 ohm")
    finally:
        code = preview.end()
    assert code == 0
    assert sorted(path.name for path in place.root.iterdir()) == ["comparisons"]


# --- installed ------------------------------------------------------------------------------------------------------


def test_an_installed_wheel_builds_a_site_from_any_folder(place: Place, tmp_path: Path) -> None:
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]
    source = tmp_path / "source"
    for part in ("generator", "templates"):
        shutil.copytree(ROOT / part, source / part, ignore=shutil.ignore_patterns("__pycache__"))
    for part in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / part, source / part)
    wheel = ["wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(tmp_path), str(source)]
    subprocess.run([*pip, *wheel], check=True)
    venv.create(tmp_path / "venv", with_pip=False)
    installed = next((tmp_path / "venv").glob("lib/python*/site-packages"))
    (wheel_file,) = tmp_path.glob("*.whl")
    prefix = ["--python", str(tmp_path / "venv" / "bin" / "python")]
    subprocess.run([*pip, *prefix, "install", "--no-deps", "--no-index", str(wheel_file)], check=True)
    others = [path for path in sys.path if path.endswith("site-packages")]
    (installed / "libraries.pth").write_text("\n".join(others) + "\n")
    shutil.rmtree(source)
    anywhere = tmp_path / "anywhere"
    anywhere.mkdir()

    def stallmark(*argv: str) -> str:
        clean = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
        command = [str(tmp_path / "venv" / "bin" / "stallmark"), *argv]
        return subprocess.run(command, cwd=anywhere, env=clean, check=True, capture_output=True, text=True).stdout

    stallmark("begin", "first")
    place.change(
        anywhere / "comparisons" / "first" / "comparison.yaml", ("schema: 1\n", "schema: 1\nstall_map: false\n")
    )
    assert "build 0001-" in stallmark("build", "--cache", str(tmp_path / "cache"), "--workers", "1")
    assert (anywhere / "site" / "comparisons" / "first" / "index.html").is_file()
    assert "everything as it was recorded" in stallmark("builds", "audit")
