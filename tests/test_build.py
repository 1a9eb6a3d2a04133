"""A build succeeds as a whole or leaves the site as it was to the byte; what it is asked for is what it does."""

from __future__ import annotations

import gzip
import json
import os
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from places import Place, look, snapshot

from generator import build as building
from generator.cli import main
from generator.inputs import Inputs

Spoil = Callable[[Path], object]
RUNS = "    runs:                         # take out runs to get a page with predictions and the ladder to climb\n"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory, shared_cache: Path) -> Place:
    """One comparison and the site built of it; nothing may change either."""
    place = Place(tmp_path_factory.mktemp("good"), shared_cache)
    place.begin("first")
    assert place.build() == 0
    return place


@pytest.fixture
def spoilt(good: Place, tmp_path: Path) -> Place:
    """The good comparison to be spoilt, beside the good site."""
    place = Place(tmp_path, good.cache)
    shutil.copytree(good.comparisons, place.comparisons)
    place.site = good.site
    return place


def replace(old: str, new: str) -> Spoil:
    def spoil(folder: Path) -> None:
        text = (folder / "comparison.yaml").read_text(encoding="utf-8")
        assert old in text, old
        (folder / "comparison.yaml").write_text(text.replace(old, new, 1), encoding="utf-8")

    return spoil


def write(content: bytes) -> Spoil:
    return lambda folder: (folder / "comparison.yaml").write_bytes(content)


def table(content: bytes) -> Spoil:
    """The short motor's runs in a CSV with this content."""

    def spoil(folder: Path) -> None:
        (folder / "runs.csv").write_bytes(content)
        replace("      short:\n        - {held: 28 m/s², lost: 29 m/s², order: 1}\n"
                "        - {held: 29 m/s², lost: 30 m/s², order: 4}\n"
                "        - {held: 28 m/s², lost: 29 m/s², order: 5}\n", "      short: runs.csv\n")(folder)  # fmt: skip

    return spoil


def link(folder: Path) -> None:
    table(b"x")(folder)
    (folder / "runs.csv").unlink()
    (folder / "runs.csv").symlink_to("/etc/passwd")


def pipe(folder: Path) -> None:
    table(b"x")(folder)
    (folder / "runs.csv").unlink()
    os.mkfifo(folder / "runs.csv")


def two_files(folder: Path) -> None:
    (folder / "write-up.md").unlink()
    replace("inductance: 2.3 mH", "inductance: 2.3 ohm")(folder)


HEAD = "held [m/s²],lost [m/s²]\n".encode()
BAD: dict[str, tuple[Spoil, str]] = {
    "unit wrong": (replace("inductance: 2.3 mH", "inductance: 2.3 ohm"), "expected a unit of H"),
    "unit missing": (replace("voltage: 24 V", "voltage: 24"), "fix"),
    "decimal comma": (replace("inductance: 2.3 mH", "inductance: 2,3 mH"), "decimal"),
    "no whole number of teeth": (replace("step_angle: 1.8 deg", "step_angle: 1.7 deg"), "teeth"),
    "zero": (replace("inductance: 2.3 mH", "inductance: 0 mH"), "inductance"),
    "negative": (replace("moving_mass: 420 g", "moving_mass: -420 g"), "moving_mass"),
    "neither peak nor RMS": (replace("    peak_current: 1.5 A  ", "    # "), "peak_current"),
    "held over lost": (replace("held: 28 m/s², lost: 29", "held: 30 m/s², lost: 29"), "held"),
    "unknown candidate": (replace("      short:\n        - {held", "      shrt:\n        - {held"), "shrt"),
    "unknown item": (replace("start-300: 2", "start-400: 2"), "start-400"),
    "unknown key": (replace("efficiency: 94 %", "eficiency: 94 %"), "efficiency"),
    "double key": (replace("supply: {voltage: 24 V,", "supply: {voltage: 24 V, voltage: 24 V,"), "voltage"),
    "anchor": (replace('author: ""', 'author: &a ""'), "anchor"),
    "tag": (replace("title: ", "title: !!python/object/apply:os.system "), "tag"),
    "octal and yes": (replace("stall_map: false", "stall_map: no"), "true or false"),
    "CSV without a column": (table("held [m/s²]\n28\n".encode()), "lost"),
    "CSV with a text": (table(HEAD + b"28,many\n"), "runs.csv:2"),
    "CSV with NaN": (table(HEAD + b"28,nan\n"), "runs.csv:2"),
    "CSV with semicolons": (table("held [m/s²];lost [m/s²]\n28,5;29,5\n".encode()), "semicolon"),
    "CSV with a field too many": (table(HEAD + b"28,29,30\n"), "runs.csv:2"),
    "CSV without rows": (table(HEAD), "runs.csv"),
    "path that leaves": (replace("write_up: write-up.md", "write_up: ../site.yaml"), "leaves"),
    "absolute path": (replace("write_up: write-up.md", "write_up: /etc/passwd"), "absolute"),
    "link": (link, "link"),
    "pipe": (pipe, "no plain file"),
    "missing file": (lambda folder: (folder / "write-up.md").unlink(), "write-up.md"),
    "empty file": (write(b""), "empty"),
    "50 MB": (write(b"# " + b"x" * 50_000_000), "bytes"),
    "not UTF-8": (write(b"title: \xff\xfe"), "UTF-8"),
    "20,000 brackets": (write(b"title: " + b"[" * 20_000), "nest"),
    "no YAML": (write(b"title: a: b\n"), "comparison.yaml:1"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_named_and_touches_nothing(
    name: str, good: Place, spoilt: Place, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil, words = BAD[name]
    spoil(spoilt.comparisons / "first")
    before = snapshot(good.site)

    assert spoilt.build() == 1
    said = capsys.readouterr().err
    assert words in said and "fix: " in said and " error" in said.splitlines()[-1], said
    assert f"{spoilt.comparisons.as_posix()}/first/" in said
    assert snapshot(good.site) == before
    assert sorted(path.name for path in good.root.iterdir()) == ["comparisons", "site"]


def test_problems_of_all_files_come_at_once(spoilt: Place, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(spoilt.comparisons / "first", spoilt.comparisons / "second")
    two_files(spoilt.comparisons / "first")
    replace("voltage: 24 V", "voltage: 24")(spoilt.comparisons / "second")

    assert spoilt.build() == 1
    said = capsys.readouterr().err
    assert "2.3 ohm" in said and "write-up.md" in said and "second/comparison.yaml" in said
    assert "3 errors" in said


def test_a_faulty_site_file_is_named(spoilt: Place, capsys: pytest.CaptureFixture[str]) -> None:
    (spoilt.comparisons / "site.yaml").write_text("name: A\nadress: https://a.example/\n", encoding="utf-8")

    assert spoilt.build() == 1
    assert "site.yaml:2" in capsys.readouterr().err


# --- edits while a build runs -------------------------------------------------------------------------------------


MOMENTS = {
    "before its key": (Inputs, "find_key"),
    "before its models": (Inputs, "read"),
    "before its archive": (building, "_add"),
}


def edit_at(monkeypatch: pytest.MonkeyPatch, moment: str, edit: Callable[[], object]) -> None:
    """Have an edit made just before a step of each build."""
    owner, name = MOMENTS[moment]
    step = getattr(owner, name)

    def edited(*arguments: Any) -> Any:
        edit()
        return step(*arguments)

    monkeypatch.setattr(owner, name, edited)


def change_a_run(folder: Path) -> None:
    text = (folder / "comparison.yaml").read_text(encoding="utf-8")
    (folder / "comparison.yaml").write_text(
        text.replace("held: 28 m/s², lost: 29", "held: 27 m/s², lost: 28"), encoding="utf-8"
    )


EDITS: dict[str, tuple[Spoil, str]] = {
    "a run": (change_a_run, "comparison.yaml"),
    "prose": (lambda folder: (folder / "write-up.md").write_text("Other words.\n"), "write-up.md"),
    "a file that goes": (lambda folder: (folder / "write-up.md").unlink(missing_ok=True), "write-up.md"),
}


@pytest.mark.parametrize("moment", MOMENTS)
@pytest.mark.parametrize("name", EDITS)
def test_an_edit_while_a_build_runs_is_told_and_nothing_is_built(
    name: str, moment: str, good: Place, spoilt: Place, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    edit, file = EDITS[name]
    folder = spoilt.comparisons / "first"
    replace("inductance: 2.3 mH", "inductance: 2.4 mH")(folder)
    before = snapshot(good.site)
    with monkeypatch.context() as patch:
        edit_at(patch, moment, lambda: edit(folder))
        assert spoilt.build() == 1

    said = capsys.readouterr().err
    assert f'{folder.as_posix()}/{file}: "{file}" was changed while the site was being built' in said
    assert "build again" in said
    assert snapshot(good.site) == before
    assert sorted(path.name for path in good.root.iterdir()) == ["comparisons", "site"]


def test_what_is_archived_gave_the_figures(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = place.begin("first").parent
    with monkeypatch.context() as patch:
        edit_at(patch, "before its archive", lambda: change_a_run(folder))
        assert place.build() == 1
    assert not place.site.exists()

    assert place.build() == 0
    results = json.loads((place.site / "comparisons" / "first" / "results.json").read_bytes())
    held = {run["held"] for found in results["measurements"] for run in found["runs"]}
    with zipfile.ZipFile(place.site / "comparisons" / "first" / "sources.zip") as sources:
        (archived,) = (sources.read(name) for name in sources.namelist() if name.endswith("comparison.yaml"))
    assert archived == (folder / "comparison.yaml").read_bytes()
    assert 27.0 in held and "held: 27 m/s²" in archived.decode()


def test_an_edit_is_told_where_work_is_spread_too(
    place: Place, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = place.begin("first").parent
    place.begin("second")
    edit_at(monkeypatch, "before its archive", lambda: change_a_run(folder))

    assert place.build("--workers", "2") == 1
    assert 'first/comparison.yaml: "comparison.yaml" was changed' in capsys.readouterr().err
    assert not place.site.exists()


@pytest.mark.parametrize(("before", "after"), [("name: A\n", "name: B\n"), (None, "name: B\n"), ("name: A\n", None)])
def test_an_edit_of_the_site_s_facts_while_a_build_runs_is_told(
    place: Place, before: str | None, after: str | None, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    place.begin("first")
    file = place.comparisons / "site.yaml"

    def put(text: str | None) -> None:
        file.write_text(text) if text is not None else file.unlink(missing_ok=True)

    put(before)
    edit_at(monkeypatch, "before its archive", lambda: put(after))

    assert place.build() == 1
    assert f'{file.as_posix()}: "site.yaml" was changed while the site was being built' in capsys.readouterr().err
    assert not place.site.exists()


# --- templates of the owner ---------------------------------------------------------------------------------------


def test_one_template_is_replaced_and_the_rest_falls_back(good: Place, tmp_path: Path) -> None:
    own, site = tmp_path / "own", tmp_path / "site"
    own.mkdir()
    text = (Path(__file__).parents[1] / "templates" / "cautions.html").read_text(encoding="utf-8")
    assert "<h1>" in text
    (own / "cautions.html").write_text(text.replace("<h1>", "<h1>Our own ", 1), encoding="utf-8")

    assert good.build("--templates", str(own), "--site", str(site)) == 0
    assert "<h1>Our own " in (site / "cautions" / "index.html").read_text(encoding="utf-8")
    changed = {path for path, digest in (find(site)).items() if find(good.site).get(path) != digest}
    assert changed == {"cautions/index.html"}


def find(site: Path) -> dict[str, str]:
    """Live pages without those that tell of the build."""
    own = ("archive/", "builds/")
    found = look(site).items()
    return {path: d for path, d in found if not path.startswith(own) and not path.endswith("versions.html")}


def test_a_syntax_error_in_a_template_is_named_with_its_line(
    good: Place, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "cautions.html").write_text("{% extends 'base.html' %}\n\n{% if %}\n", encoding="utf-8")
    before = snapshot(good.site)

    assert good.build("--templates", str(tmp_path / "own")) == 1
    said = capsys.readouterr().err
    assert f"{tmp_path}/own/cautions.html:3" in said and "fix: " in said
    assert snapshot(good.site) == before


# --- what a build is asked for --------------------------------------------------------------------------------------


def test_only_carries_the_others_over_unread(place: Place) -> None:
    first, second = place.begin("first"), place.begin("second")
    assert place.build() == 0
    before = place.look()
    first.write_text("no: comparison\n", encoding="utf-8")
    place.change(second, ("question: Does", "question: Really, does"))

    assert place.build("--only", "second") == 0
    after = place.look()
    page = "comparisons/{}/index.html".format
    assert after[page("first")] == before[page("first")]
    assert after[page("second")] != before[page("second")]


def test_only_is_refused_without_a_build(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first")

    assert place.build("--only", "first") == 2
    assert "build everything once" in capsys.readouterr().err
    assert not place.site.exists()


def test_only_one_that_is_there(good: Place, capsys: pytest.CaptureFixture[str]) -> None:
    assert good.build("--only", "third") == 2
    assert "first" in capsys.readouterr().err


def test_an_address_gives_canonical_links_and_a_sitemap(good: Place, tmp_path: Path) -> None:
    site = tmp_path / "site"

    assert good.build("--site", str(site), "--address", "https://tests.example/motion/") == 0
    page = (site / "comparisons" / "first" / "index.html").read_text(encoding="utf-8")
    assert '<link rel="canonical" href="https://tests.example/motion/comparisons/first/">' in page
    assert "https://tests.example/motion/comparisons/first/" in (site / "sitemap.xml").read_text(encoding="utf-8")
    assert not (good.site / "sitemap.xml").exists()


def test_compressed_copies_hold_the_same(good: Place, tmp_path: Path) -> None:
    site = tmp_path / "site"

    assert good.build("--site", str(site), "--compress") == 0
    copies = [path for path in site.rglob("*.gz") if "archive" not in path.relative_to(site).parts]
    assert {"index.html.gz", "results.json.gz"} <= {path.name for path in copies}
    for copy in copies:
        assert gzip.decompress(copy.read_bytes()) == copy.with_suffix("").read_bytes()
    assert main(["builds", "audit", "--site", str(site)]) == 0


def test_unpublished_sources_go_to_the_vault_alone(place: Place) -> None:
    file = place.begin("first", ("write_up: write-up.md", "write_up: write-up.md\npublish: {sources: false}"))
    vault = place.root / "vault"

    assert place.build("--vault", str(vault)) == 0
    text = file.read_bytes()
    assert text in {path.read_bytes() for path in vault.rglob("*") if path.is_file()}
    assert text not in {path.read_bytes() for path in place.site.rglob("*") if path.is_file()}
    assert not (place.site / "comparisons" / "first" / "sources.zip").exists()


def test_recheck_finds_an_edit_that_size_and_time_hide(fresh_place: Place) -> None:
    file = fresh_place.begin("first")
    assert fresh_place.build() == 0
    index = fresh_place.cache / "files.json"
    fresh_place.change(file, ("inductance: 2.3 mH", "inductance: 2.4 mH"))
    facts = os.stat(file)
    known = json.loads(index.read_bytes())
    known[str(file)][:4] = [facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino]
    index.write_text(json.dumps(known))
    later = facts.st_mtime_ns + 60_000_000_000
    os.utime(index, ns=(later, later))

    assert fresh_place.build() == 0
    assert len(fresh_place.builds()) == 1
    assert fresh_place.build("--recheck") == 0
    assert len(fresh_place.builds()) == 2


def test_a_limit_can_be_changed(good: Place, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert good.build("--site", str(tmp_path / "site"), "--limit", "candidates=1") == 1
    assert "candidates" in capsys.readouterr().err


def test_a_folder_that_is_not_ours_is_refused(good: Place, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "thesis.txt").write_text("years of work")

    assert good.build("--site", str(tmp_path / "site")) == 1
    assert str(tmp_path / "site") in capsys.readouterr().err
    assert [path.name for path in (tmp_path / "site").iterdir()] == ["thesis.txt"]


def test_files_that_are_not_ours_are_carried_over(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    file = place.begin("first")
    assert place.build() == 0
    (place.site / "robots.txt").write_text("User-agent: *\n")
    place.change(file, ("inductance: 2.3 mH", "inductance: 2.4 mH"))

    assert place.build() == 0
    assert "kept, not ours: robots.txt" in capsys.readouterr().out
    assert (place.site / "robots.txt").read_text() == "User-agent: *\n"


def test_a_removed_comparison_leaves_its_frozen_pages(place: Place) -> None:
    place.begin("first"), place.begin("second")
    assert place.build() == 0
    shutil.rmtree(place.comparisons / "second")

    assert place.build() == 0
    assert "no longer part of the site" in (place.site / "comparisons" / "second" / "index.html").read_text("utf-8")
    assert "second" not in (place.site / "index.html").read_text("utf-8")
    assert list((place.site / "archive" / "pages" / "comparisons" / "second").glob("*.html"))
    assert main(["builds", "audit", "--site", str(place.site)]) == 0


def test_a_folder_without_comparisons_builds_an_empty_site(place: Place) -> None:
    place.comparisons.mkdir()

    assert place.build() == 0
    assert (place.site / "index.html").is_file()


def test_a_byte_order_mark_before_the_write_up_is_no_part_of_it(place: Place) -> None:
    prose = place.begin("first").parent / "write-up.md"
    prose.write_bytes("\ufeff# Trials\r\n\r\nAbove the runs.\r\n".encode())

    assert place.build() == 0
    page = (place.site / "comparisons" / "first" / "index.html").read_text(encoding="utf-8")
    assert "Above the runs." in page
    assert "\ufeff" not in page and 'id="text-trials"' not in page
