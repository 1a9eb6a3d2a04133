"""A build's inputs come back, and build the same again; a published site is gone on from."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from made_up import DATE, LATER, build, look, make_contents, make_shared

from generator.archive.auditing import audit_site
from generator.archive.entries import InputFile
from generator.archive.publisher import open_site
from generator.archive.recovering import Absent, adopt_site, recover_build
from generator.archive.store import Archive
from generator.archive.withdrawing import withdraw_content
from generator.errors import SiteProblem, UsageError


def test_inputs_of_an_older_build_come_back(tmp_path: Path) -> None:
    site, target = tmp_path / "site", tmp_path / "back"
    build(site, {"plotter": "one"}, DATE)
    build(site, {"plotter": "two"}, LATER)

    recovery = recover_build(site, "1", target)

    assert (target / "comparisons/plotter/comparison.yaml").read_text() == "title: one\n"
    assert (target / "comparisons/plotter/runs/a.csv").read_text() == "held [m/s²]\none\n"
    assert (target / "comparisons/site.yaml").read_text() == "name: Made-up site\n"
    assert recovery.absent == (Absent("comparisons/plotter/tone.wav", "was not published"),)
    assert set(recovery.written) | {"made-with.json"} == set(look(target))
    made_with = json.loads((target / "made-with.json").read_text())
    assert made_with == {
        "build": recovery.build.id, "date": DATE, "made_with": {"numpy": "2.0", "stallmark": "1.0"}}  # fmt: skip


def test_a_recovered_build_made_again_gives_the_same_bytes(tmp_path: Path) -> None:
    """The first build, so that all dates are its own; unpublished inputs from the vault."""
    site, back, vault = tmp_path / "site", tmp_path / "back", tmp_path / "vault"
    build(site, {"plotter": "one"}, DATE, vault=vault)
    first = look(site)
    build(site, {"plotter": "two"}, LATER, vault=vault)
    recovery = recover_build(site, "1", back, vault)
    assert recovery.absent == ()
    folder = back / "comparisons/plotter"
    words = (folder / "comparison.yaml").read_text().removeprefix("title: ").strip()

    again = tmp_path / "again/site"
    made_with = json.loads((back / "made-with.json").read_text())
    contents = make_contents("plotter", words)
    for item in contents.inputs:
        assert (folder / item.path).read_bytes() == item.content
    build(again, {"plotter": words}, made_with["date"], made_with["made_with"])

    assert look(again) == first


def test_a_target_that_holds_something_is_refused(tmp_path: Path) -> None:
    build(tmp_path / "site", {"plotter": "one"})
    (tmp_path / "back").mkdir()
    (tmp_path / "back/mine").write_text("x")

    with pytest.raises(SiteProblem, match="holds something already"):
        recover_build(tmp_path / "site", "1", tmp_path / "back")
    with pytest.raises(UsageError, match="no build"):
        recover_build(tmp_path / "site", "7", tmp_path / "other")


def test_what_was_withdrawn_or_damaged_is_said_not_written(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    source = next((site / "archive/sources").glob("*.csv"))
    withdraw_content(site, source.stem, "a name in it", LATER)
    next(path for path in (site / "archive/sources").glob("*.yaml") if b"title" in path.read_bytes()).write_text("bad")

    recovery = recover_build(site, "1", tmp_path / "back")

    assert {item.path.rpartition("/")[2]: item.why for item in recovery.absent} == {
        "runs/a.csv".rpartition("/")[2]: f"withdrawn on {LATER}: a name in it",
        "comparison.yaml": "what is kept of it is damaged",
        "tone.wav": "was not published",
    }


def test_hostile_paths_in_a_foreign_archive_write_nothing_outside(tmp_path: Path) -> None:
    """A site from elsewhere could name inputs that lead out of the target."""
    site = tmp_path / "site"
    with open_site(site, DATE) as publisher:
        publisher.add_shared(make_shared({}), key="k")
        entry = publisher.writer.write_entry("x/", "k", None, make_contents("x", "y"))
        item = entry.inputs[0]
        publisher.put(type(entry)(**{**vars(entry), "inputs": (type(item)(**{**vars(item), "path": "../../evil"}),)}))
        publisher.publish({})

    with pytest.raises(SiteProblem, match="no address"):
        recover_build(site, "1", tmp_path / "deep/back")
    assert not (tmp_path / "evil").exists()


def test_adopting_goes_on_from_a_copy(tmp_path: Path) -> None:
    published, site = tmp_path / "published", tmp_path / "clone/site"
    for words in ("one", "two"):
        build(published, {"plotter": words})
    (published / "robots.txt").write_text("x")
    site.mkdir(parents=True)
    (site / ".gitkeep").write_text("")

    adoption = adopt_site(site, published)

    assert adoption.kept == ("robots.txt",)
    assert {path: digest for path, digest in look(site).items() if path != ".gitkeep"} == look(published)
    assert (site / ".gitkeep").exists()
    assert build(site, {"plotter": "two"}, LATER).build is None
    result = build(site, {"plotter": "three"}, LATER)
    assert result.build and result.build.startswith("0003-")
    assert audit_site(site).findings == ()


def test_adopting_a_later_state_of_the_same_site(tmp_path: Path) -> None:
    site, other = tmp_path / "site", tmp_path / "other/site"
    build(site, {"plotter": "one"})
    shutil.copytree(site, other)
    build(other, {"plotter": "two"}, LATER)

    assert adopt_site(site, other).builds == 2
    assert look(site) == look(other)


def test_a_site_that_went_another_way_is_not_overwritten(tmp_path: Path) -> None:
    site, other = tmp_path / "site", tmp_path / "other/site"
    build(site, {"plotter": "one"})
    shutil.copytree(site, other)
    build(site, {"plotter": "here"}, LATER)
    build(other, {"plotter": "there"}, LATER)
    before = look(site)

    with pytest.raises(SiteProblem, match="has a build 0002-"):
        adopt_site(site, other)

    assert look(site) == before


@pytest.mark.parametrize("damage", ["archive/assets", "archive/entries", "comparisons/plotter"])
def test_a_copy_that_is_not_whole_is_refused_with_names(tmp_path: Path, damage: str) -> None:
    published = tmp_path / "published"
    build(published, {"plotter": "one"})
    shutil.rmtree(published / damage)

    with pytest.raises(SiteProblem, match=rf"{damage}/.* is not there"):
        adopt_site(tmp_path / "site", published)
    assert not (tmp_path / "site").exists()


def test_a_folder_without_builds_cannot_be_adopted(tmp_path: Path) -> None:
    with pytest.raises(SiteProblem, match="holds no build"):
        adopt_site(tmp_path / "site", tmp_path)


def test_vault_needs_no_second_copy(tmp_path: Path) -> None:
    vault = tmp_path / "vault"
    build(tmp_path / "site", {"plotter": "one"}, vault=vault)
    kept = look(vault)
    build(tmp_path / "site", {"plotter": "one", "feeder": "one"}, vault=vault)

    assert len(kept) == 1
    assert len(look(vault)) == 2
    assert InputFile("x", b"").published
    assert Archive(tmp_path / "site").list_ids()
