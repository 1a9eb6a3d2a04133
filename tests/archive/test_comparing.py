"""What changed between builds, at the level of figures, and why."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from made_up import DATE, LATER, VERSIONS, build, make_contents, make_makers, make_results, make_shared

from generator.archive.auditing import audit_site
from generator.archive.comparing import FigureChange, compare_builds, compare_results
from generator.archive.entries import Contents, InputFile
from generator.archive.publisher import PublishResult, open_site
from generator.archive.slimming import slim_site
from generator.archive.store import Archive
from generator.errors import UsageError
from generator.records.presentation import Page


def publish(site: Path, results: Any, inputs: dict[str, str], looks: str = "plain", versions: Any = VERSIONS) -> None:
    with open_site(site, DATE) as publisher:
        contents = Contents(
            inputs=[InputFile(path, text.encode()) for path, text in inputs.items()],
            pages=[Page("comparisons/plotter", f"<p>{looks} {results}</p>")],
            files={"comparisons/plotter/results.json": json.dumps(results).encode()},
        )
        publisher.add("plotter", "key", None, contents)
        publisher.publish(versions)


def test_edited_data_moves_measurements_and_calls_from_to(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one", "feeder": "same"})
    build(site, {"plotter": "two", "feeder": "same"}, LATER)

    difference = compare_builds(Archive(site), "1", "2")

    (plotter,) = difference.comparisons
    assert (plotter.slug, plotter.state, plotter.causes) == ("plotter", "changed", ("data",))
    moved = {(change.section, change.figure): (change.before, change.after) for change in plotter.figures}
    one, two = (float(sum(words)) for words in (b"one", b"two"))
    assert moved == {
        ("answer", ""): ("The answer is one.", "The answer is two."),
        ("measurements", "estimate"): (one, two),
        ("measurements", "runs.1.held"): (one, two),
        ("contrasts", "call"): ("one ahead", "two ahead"),
    }
    assert {change.cause for change in plotter.figures} == {"data"}
    assert {(change.path, change.state) for change in plotter.inputs} == {
        ("comparison.yaml", "changed"), ("runs/a.csv", "changed"), ("tone.wav", "changed")}  # fmt: skip
    call = next(change for change in plotter.figures if change.section == "contrasts")
    assert (call.item, call.unit) == ("run, a and b", "")
    held = next(change for change in plotter.figures if change.figure == "runs.1.held")
    assert (held.item, held.unit) == ("run, a", "m/s^2")


def test_a_figure_bears_the_unit_of_its_own_part_or_none() -> None:
    def results(ratio: float) -> dict[str, Any]:
        return {
            "bench_sheet": [
                {"trial": "run", "unit": "m/s^2", "cautions": [{"value": 40 * ratio, "unit": "V"}], "low": 3 * ratio}
            ],
            "contrasts": [{"item": "run", "unit": "m/s", "degrees_of_freedom": 4 * ratio, "low": ratio}],
        }

    found = compare_results(results(1.0), results(2.0), "data")
    assert {(change.section, change.figure): change.unit for change in found} == {
        ("bench_sheet", "cautions.1.value"): "V",
        ("bench_sheet", "low"): "m/s^2",
        ("contrasts", "degrees_of_freedom"): "",
        ("contrasts", "low"): "m/s",
    }


def test_other_versions_with_the_same_data_are_the_model(tmp_path: Path) -> None:
    site = tmp_path / "site"
    results = make_results("one")
    moved = copy.deepcopy(results)
    moved["predictions"][0]["static"]["nominal"] = 43.0  # type: ignore[index]
    publish(site, results, {"comparison.yaml": "a"})
    publish(site, moved, {"comparison.yaml": "a"}, versions={**VERSIONS, "stallmark": "2.0"})

    difference = compare_builds(Archive(site), "1", "newest")

    assert difference.made_with == (("stallmark", "1.0", "2.0"),)
    assert difference.comparisons[0].causes == ("model",)
    assert difference.comparisons[0].figures == (
        FigureChange("predictions", "run, a", "static.nominal", "m/s^2", 44.1, 43.0, "model"),
    )


def test_other_looks_are_presentation_and_move_no_figure(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish(site, make_results("one"), {"comparison.yaml": "a"})
    publish(site, make_results("one"), {"comparison.yaml": "a"}, looks="bold")

    (plotter,) = compare_builds(Archive(site), "1", "2").comparisons

    assert (plotter.causes, plotter.figures, plotter.inputs) == (("presentation",), (), ())


def test_edited_prose_is_presentation(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish(site, make_results("one"), {"comparison.yaml": "a", "write-up.md": "words"})
    publish(site, make_results("one"), {"comparison.yaml": "a", "write-up.md": "other words"}, looks="bold")

    (plotter,) = compare_builds(Archive(site), "1", "2").comparisons

    assert plotter.causes == ("presentation",)
    assert [change.path for change in plotter.inputs] == ["write-up.md"]


def test_figures_that_move_for_no_reason_are_called_unexplained(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish(site, make_results("one"), {"comparison.yaml": "a"})
    publish(site, make_results("two"), {"comparison.yaml": "a"})

    (plotter,) = compare_builds(Archive(site), "1", "2").comparisons

    assert {change.cause for change in plotter.figures} == {"unexplained"}


def test_added_and_removed_comparisons_are_told(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one", "feeder": "two"})
    build(site, {"plotter": "one", "loom": "three"}, LATER)

    difference = compare_builds(Archive(site), "1", "2")

    assert {(each.slug, each.state) for each in difference.comparisons} == {("feeder", "removed"), ("loom", "added")}
    backward = compare_builds(Archive(site), "2", "1")
    assert {(each.slug, each.state) for each in backward.comparisons} == {("feeder", "added"), ("loom", "removed")}


def test_a_build_with_itself_differs_in_nothing(tmp_path: Path) -> None:
    build(tmp_path / "site", {"plotter": "one"})

    difference = compare_builds(Archive(tmp_path / "site"), "newest", "1")

    assert difference.comparisons == () == difference.made_with


def make_again(site: Path, words: str, key: str) -> PublishResult:
    """Add two comparisons under this key: the first says these words, the other always the same."""
    with open_site(site, LATER, makers=make_makers()) as publisher:
        for slug, said in (("plotter", words), ("feeder", "same")):
            publisher.add(slug, key, {"words": said}, make_contents(slug, said))
        publisher.add_shared(make_shared({"plotter": words, "feeder": "same"}))
        return publisher.publish(VERSIONS)


def test_what_was_made_again_and_came_out_the_same_is_not_called_changed(tmp_path: Path) -> None:
    site = tmp_path / "site"
    make_again(site, "one", "code 1")

    result = make_again(site, "one", "code 2")

    archive = Archive(site)
    assert result.build and result.changed == ()
    newest = archive.read_newest()
    assert newest and newest.build.changed == ()
    assert {archive.read_entry(newest.entries[slug].entry).key for slug in ("plotter", "feeder")} == {"code 2"}
    assert compare_builds(archive, "1", "2").comparisons == ()
    (shown,) = (site / "archive/builds").glob("0002-*.html")
    assert "plotter" not in shown.read_text()
    assert audit_site(site).findings == ()
    assert make_again(site, "one", "code 2").build is None


def test_of_all_that_was_made_again_only_what_changed_is_told(tmp_path: Path) -> None:
    site = tmp_path / "site"
    make_again(site, "one", "code 1")

    assert make_again(site, "two", "code 2").changed == ("plotter",)
    assert [each.slug for each in compare_builds(Archive(site), "1", "2").comparisons] == ["plotter"]


def test_only_entries_whose_line_changed_are_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    site = tmp_path / "site"
    same = {f"c-{number}": "same" for number in range(9)}
    build(site, {"plotter": "one", **same})
    build(site, {"plotter": "two", **same}, LATER)
    read: list[str] = []
    real = Archive.read_entry
    monkeypatch.setattr(Archive, "read_entry", lambda self, digest: read.append(digest) or real(self, digest))

    compare_builds(Archive(site), "1", "2")

    assert len(read) == 2


def test_figures_of_slimmed_builds_are_said_to_be_gone(tmp_path: Path) -> None:
    site = tmp_path / "site"
    for words in ("one", "two", "three"):
        build(site, {"plotter": words})
    slim_site(site, 1, LATER)

    (plotter,) = compare_builds(Archive(site), "1", "3").comparisons

    assert "no longer kept" in plotter.note
    assert plotter.figures == ()


@pytest.mark.parametrize("text", ["9", "0002-ffffffff", "nothing", "", "000"])
def test_an_unknown_build_is_named_with_those_there_are(tmp_path: Path, text: str) -> None:
    site = tmp_path / "site"
    for words in ("one", "two"):
        build(site, {"plotter": words})

    with pytest.raises(UsageError, match="build") as caught:
        compare_builds(Archive(site), "1", text)

    assert Archive(site).list_ids()[0] in caught.value.fix


def test_builds_are_found_by_id_start_and_number(tmp_path: Path) -> None:
    for words in ("one", "two"):
        build(tmp_path / "site", {"plotter": words})
    archive = Archive(tmp_path / "site")
    first, second = archive.list_ids()

    assert [archive.find_build(text) for text in (first, first[:6], "1", "0001", "newest", "2")] == [
        first, first, first, first, second, second]  # fmt: skip


def test_results_of_other_shapes_are_compared_too() -> None:
    before = {
        "verdict": {"won": {"a": 3}},
        "curves": [{"candidate": "a", "speed": list(range(40))}],
        "sound": [1.0, 2.0],
    }
    after = {
        "verdict": {"won": {"a": 4, "b": None}},
        "curves": [{"candidate": "a", "speed": list(range(1, 41))}],
        "sound": [],
    }

    changes = {(c.section, c.item, c.figure): (c.before, c.after) for c in compare_results(before, after, "data")}

    assert changes[("verdict", "", "won.a")] == (3, 4)
    assert ("verdict", "", "won.b") not in changes
    assert changes[("sound", "", "")] == (1.0, None)
    assert changes[("sound", " (2)", "")] == (2.0, None)
    assert changes[("curves", "a", "speed")][0] != changes[("curves", "a", "speed")][1]


def test_a_list_of_changes_stands_beside_each_manifest(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    build(site, {"plotter": "two"}, LATER)

    shown = next((site / "archive/builds").glob("0002-*.html")).read_text()

    assert "one ahead" in shown and "two ahead" in shown
