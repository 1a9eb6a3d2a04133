"""What a publication leaves in the site."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import re
import subprocess
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from made_up import (
    DATE,
    LATER,
    VERSIONS,
    build,
    fill,
    list_beside,
    look,
    make_asset,
    make_contents,
    make_makers,
    make_shared,
)

from generator.archive import names
from generator.archive.auditing import audit_site
from generator.archive.entries import Contents, InputFile
from generator.archive.publisher import open_site
from generator.archive.sources import find_vault_file
from generator.archive.store import Archive
from generator.errors import SiteProblem
from generator.records.presentation import PUBLISHED, ROOT, VERSION, Asset, Page


def test_first_build_stands_and_audits_clean(tmp_path: Path) -> None:
    site = tmp_path / "site"

    result = build(site, {"plotter": "one", "feeder": "two"})

    assert result.build and re.fullmatch(r"0001-[0-9a-f]{8}", result.build)
    assert result.added == ("feeder", "plotter")
    assert audit_site(site).findings == ()
    assert list_beside(site) == []
    assert {"index.html", "404.html", "feed.xml", "comparisons/plotter/results.json"} <= set(look(site))


def test_nothing_changed_adds_nothing_even_on_a_later_date(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    before = look(site)
    inode = site.stat().st_ino

    result = build(site, {"plotter": "one"}, LATER)

    assert result.build is None
    assert look(site) == before
    assert site.stat().st_ino == inode


def test_made_anew_without_carrying_is_the_same_to_the_byte(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    before = look(site)

    with open_site(site, LATER, makers=make_makers()) as publisher:
        publisher.add("plotter", "one", {"words": "one"}, make_contents("plotter", "one"))
        publisher.add_shared(make_shared({"plotter": "one"}))
        result = publisher.publish({"stallmark": "1.0", "numpy": "2.0"})

    assert result.build is None
    assert look(site) == before


def test_same_input_gives_the_same_site_in_another_place(tmp_path: Path) -> None:
    for place in ("a/site", "b/elsewhere"):
        build(tmp_path / place, {"plotter": "one", "feeder": "two"})
        build(tmp_path / place, {"plotter": "three", "feeder": "two"}, LATER)

    assert look(tmp_path / "a/site") == look(tmp_path / "b/elsewhere")


def test_there_and_back_gives_three_ids_and_one_page_version_less(tmp_path: Path) -> None:
    site = tmp_path / "site"

    ids = [build(site, {"plotter": words}, date).build for words, date in (("A", DATE), ("B", LATER), ("A", "2028"))]

    assert len(set(ids)) == 3
    copies = sorted((site / "archive/pages/comparisons/plotter").glob("*.html"))
    assert len(copies) == 2
    assert f"first published {DATE}" in (site / "comparisons/plotter/index.html").read_text()


def test_marks_are_filled_for_the_place_where_the_page_stands(tmp_path: Path) -> None:
    site = tmp_path / "site"
    text = f"{ROOT}parts/x {VERSION} {PUBLISHED}"
    version = hashlib.sha256(text.encode()).hexdigest()[:12]
    with open_site(site, DATE) as publisher:
        publisher.add_shared(
            Contents(pages=[Page("", text), Page("parts/long", text)], unfrozen=[Page("404.html", text)])
        )
        publisher.publish({})

    def read(path: str) -> str:
        return (site / path).read_text()

    assert read("index.html") == f"./parts/x {version} {DATE}"
    assert read("parts/long/index.html") == f"../../parts/x {version} {DATE}"
    assert read(f"archive/pages/parts/long/{version}.html") == f"../../../../parts/x {version} {DATE}"
    assert read(f"archive/pages/{version}.html") == f"../../parts/x {version} {DATE}"
    assert read("404.html") == "./parts/x  "


def test_frozen_copies_stay_to_the_byte_and_their_links_lead_somewhere(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    copies = {path: path.read_bytes() for path in (site / "archive/pages").rglob("*.html")}
    for words in ("two", "three"):
        build(site, {"plotter": words}, LATER)

    assert copies == {path: path.read_bytes() for path in copies}
    links = 0
    for page in (site / "archive/pages/comparisons/plotter").glob("*.html"):
        for link in re.findall(r"(?:src|href)='([^']+)'", page.read_text()):
            links += 1
            assert (page.parent / link).resolve().is_file(), link
    assert links == 9


def test_names_are_digests_by_the_systems_own_sha256sum(tmp_path: Path) -> None:
    """Outside check: GNU coreutils sha256sum."""
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    build(site, {"plotter": "two"}, LATER)

    named = [*(site / "archive/assets").iterdir(), *(site / "archive/sources").iterdir()]
    named += list((site / "archive/entries").iterdir())
    output = subprocess.run(["sha256sum", *map(str, named)], capture_output=True, text=True, check=True).stdout
    digests = [line.split()[0] for line in output.splitlines()]

    assert len(named) > 10
    assert [path.stem for path in named] == [digest[:16] for digest in digests]
    manifests = sorted((site / "archive/builds").glob("*.json"))
    first = subprocess.run(["sha256sum", str(manifests[0])], capture_output=True, text=True, check=True).stdout
    assert json.loads(manifests[1].read_text())["build"]["previous"] == first.split()[0]


def test_version_lists_show_all_versions_with_their_first_dates(tmp_path: Path) -> None:
    site = tmp_path / "site"
    for words, date in (("one", DATE), ("two", LATER), ("one", "2028-01-01")):
        build(site, {"plotter": words}, date)

    history = Archive(site).read_history("comparisons/plotter")
    shown = (site / "comparisons/plotter/versions.html").read_text()

    assert [date for _, date in history] == [DATE, LATER]
    for version, _ in history:
        assert version[:12] in shown
        assert (site / names.find_frozen_file("comparisons/plotter", version)).is_file()
    assert shown.count("current=True") == 1


def test_lost_version_list_is_traced_from_the_manifests(tmp_path: Path) -> None:
    site = tmp_path / "site"
    for words, date in (("one", DATE), ("two", LATER)):
        build(site, {"plotter": words}, date)
    history = Archive(site).read_history("comparisons/plotter")
    (site / "archive/pages/comparisons/plotter/versions.json").unlink()

    assert sorted(Archive(site).read_history("comparisons/plotter")) == sorted(history)
    build(site, {"plotter": "two"}, LATER)
    assert audit_site(site).findings == ()


def test_sources_zip_holds_the_published_inputs_and_nothing_else(tmp_path: Path) -> None:
    """Outside check: the standard library's zipfile and the Info-ZIP convention of a top folder; no source."""
    site = tmp_path / "site"
    build(site, {"plotter": "one"})

    content = (site / "comparisons/plotter/sources.zip").read_bytes()
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["plotter/comparison.yaml", "plotter/runs/a.csv"]
        assert archive.read("plotter/comparison.yaml") == b"title: one\n"
        assert {member.date_time for member in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert not any(b"secret sound" in path.read_bytes() for path in site.rglob("*") if path.is_file())


def test_unpublished_inputs_are_a_digest_in_the_manifest_and_lie_in_the_vault(tmp_path: Path) -> None:
    site, vault = tmp_path / "site", tmp_path / "vault"
    build(site, {"plotter": "one"}, vault=vault)

    archive = Archive(site)
    manifest = archive.read_newest()
    assert manifest
    tone = next(item for item in archive.read_entry(manifest.entries["plotter"].entry).inputs if not item.published)
    content = find_vault_file(vault, tone.digest).read_bytes()
    assert content == b"secret sound of plotter one"
    assert hashlib.sha256(content).hexdigest() == tone.digest


@pytest.mark.parametrize(
    "path", ["../x", "/etc/x", "a//b", "a\\b", "c:x", "a/./b", "a\nb", "", "x ", "nul\x00", "a/..", "b."]
)
def test_unsafe_paths_are_refused(tmp_path: Path, path: str) -> None:
    with open_site(tmp_path / "site", DATE) as publisher:
        with pytest.raises(SiteProblem, match="no address"):
            publisher.add("plotter", "k", None, Contents(inputs=[InputFile(path, b"x")]))
        with pytest.raises(SiteProblem, match="no address"):
            publisher.add("plotter", "k", None, Contents(files={path: b"x"}))
    assert not (tmp_path / "site").exists()


def test_what_cannot_be_is_refused(tmp_path: Path) -> None:
    with open_site(tmp_path / "site", DATE) as publisher:
        with pytest.raises(SiteProblem, match="named by its content"):
            publisher.add("a", "k", None, Contents(assets=[Asset("0123456789abcdef.svg", b"other")]))
        with pytest.raises(SiteProblem, match="no folder of its own"):
            publisher.add("a", "k", None, Contents(pages=[Page("404.html", "x")]))
        with pytest.raises(SiteProblem, match="no place for a live file"):
            publisher.add("a", "k", None, Contents(files={"archive/builds/x.json": b"x"}))
        publisher.add("a", "k", None, Contents(files={"same.txt": b"x"}))
        with pytest.raises(SiteProblem, match=r"two .* want the place same\.txt"):
            publisher.add("b", "k", None, Contents(files={"same.txt": b"y"}))


def test_only_one_comparison_carries_the_others_over(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one", "feeder": "two", "loom": "three"})
    before = look(site)
    with open_site(site, LATER) as publisher:
        for name in publisher.list_names():
            if name == "feeder":
                publisher.add(name, "new", None, make_contents(name, "new"))
            else:
                publisher.carry(name)
        result = publisher.publish({"stallmark": "1.0", "numpy": "2.0"})

    after = look(site)
    assert result.changed == ("feeder",)
    moved = {path for path in before if after.get(path) != before[path]}
    assert moved and all("comparisons/feeder" in path for path in moved)


def test_carrying_what_is_not_there_is_refused(tmp_path: Path) -> None:
    with (
        open_site(tmp_path / "site", DATE) as publisher,
        pytest.raises(SiteProblem, match="holds no undamaged plotter"),
    ):
        publisher.carry("plotter")


def test_a_removed_comparison_leaves_the_site_but_its_addresses_answer(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one", "feeder": "two"})
    before = look(site)
    result = build(site, {"plotter": "one"}, LATER)

    assert result.removed == ("feeder",)
    assert "feeder" not in (site / "index.html").read_text()
    version, _ = Archive(site).read_history("comparisons/feeder")[0]
    for name in ("index.html", "versions.html"):
        text = (site / "comparisons/feeder" / name).read_text()
        assert version[:12] in text
        assert "current=False" in text
        assert f"gone since {LATER}" in text
    for name in ("results.json", "sources.zip"):
        assert look(site)[f"comparisons/feeder/{name}"] == before[f"comparisons/feeder/{name}"]
    assert audit_site(site).findings == ()

    gone = look(site)
    assert build(site, {"plotter": "one"}, "2028-01-01").build is None
    assert look(site) == gone
    build(site, {"plotter": "three"}, "2028-01-01")
    assert f"gone since {LATER}" in (site / "comparisons/feeder/index.html").read_text()

    assert build(site, {"plotter": "one", "feeder": "two"}, "2028-01-02").added == ("feeder",)
    back = look(site)
    assert all(back[path] == digest for path, digest in before.items() if path.startswith("comparisons/feeder/"))
    assert audit_site(site).findings == ()


def test_lost_files_of_a_removed_comparison_come_back_or_say_that_they_are_lost(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one", "feeder": "two"})
    build(site, {"plotter": "one"}, LATER)
    before = look(site)
    for name in ("results.json", "sources.zip"):
        (site / "comparisons/feeder" / name).unlink()
    assert len(audit_site(site).findings) == 2

    build(site, {"plotter": "one"}, LATER)

    assert look(site)["comparisons/feeder/results.json"] == before["comparisons/feeder/results.json"]
    assert b"was lost" in (site / "comparisons/feeder/sources.zip").read_bytes()
    assert audit_site(site).findings == ()


def test_compressed_copies_of_a_removed_comparison_stay(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one", "feeder": "two"}, compress=True)
    before = look(site)
    build(site, {"plotter": "one"}, LATER, compress=True)

    kept = [path for path in before if path.startswith("comparisons/feeder/results.json")]
    assert len(kept) == 2
    assert all(look(site)[path] == before[path] for path in kept)
    assert audit_site(site).findings == ()


def test_a_page_that_a_unit_loses_keeps_its_address(tmp_path: Path) -> None:
    site = tmp_path / "site"
    for date, paths in ((DATE, ["parts/a", "parts/b"]), (LATER, ["parts/a"])):
        with open_site(site, date, makers=make_makers()) as publisher:
            publisher.add_shared(Contents(pages=[Page(path, f"<p>{path}</p>") for path in paths]))
            publisher.publish(VERSIONS)

    assert f"gone since {LATER}" in (site / "parts/b/index.html").read_text()
    assert "current=True" in (site / "parts/a/versions.html").read_text()
    assert audit_site(site).findings == ()


def test_sources_that_are_published_no_more_leave_a_zip_that_says_so(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    hidden = [replace(item, published=False) for item in make_contents("plotter", "one").inputs]
    with open_site(site, LATER, makers=make_makers()) as publisher:
        publisher.add("plotter", "hidden", {}, replace(make_contents("plotter", "one"), inputs=hidden))
        publisher.publish(VERSIONS)

    with zipfile.ZipFile(site / "comparisons/plotter/sources.zip") as archive:
        assert archive.namelist() == ["plotter/nothing-published.txt"]
    assert audit_site(site).findings == ()


def test_damage_to_live_files_is_mended_without_a_new_build(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one", "feeder": "two"})
    before = look(site)
    (site / "comparisons/plotter/index.html").unlink()
    (site / "comparisons/feeder/results.json").write_text("{}")
    (site / "index.html").write_text("gone wrong")

    result = build(site, {"plotter": "one", "feeder": "two"}, LATER)

    assert result.build is None
    assert result.mended == ("comparisons/feeder/results.json", "comparisons/plotter/index.html", "index.html")
    assert look(site) == before


def test_foreign_files_are_kept_and_listed(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    (site / "robots.txt").write_text("User-agent: *\n")
    (site / ".well-known").mkdir()
    (site / ".well-known/name").write_text("x")

    result = build(site, {"plotter": "two"}, LATER)

    assert result.kept == (".well-known", "robots.txt")
    assert (site / "robots.txt").read_text() == "User-agent: *\n"
    report = audit_site(site)
    assert report.kept == result.kept
    assert report.findings == ()


def test_compressed_copies_hold_the_same_and_repeat(tmp_path: Path) -> None:
    """Outside check: the standard library's gzip."""
    for place in ("a", "b"):
        build(tmp_path / place / "site", {"plotter": "one"}, compress=True)

    site = tmp_path / "a/site"
    copies = list(site.rglob("*.gz"))
    assert {"index.html.gz", "versions.html.gz", "results.json.gz"} <= {path.name for path in copies}
    assert list((site / "archive/assets").glob("*.svg.gz"))
    for copy in copies:
        assert gzip.decompress(copy.read_bytes()) == copy.with_suffix("").read_bytes()
    assert look(site) == look(tmp_path / "b/site")
    assert audit_site(site).findings == ()


def test_wanting_compressed_copies_makes_all_anew_and_back_again(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    plain = set(look(site))
    build(site, {"plotter": "one"}, compress=True)
    assert (site / "comparisons/plotter/index.html.gz").is_file()

    build(site, {"plotter": "one"})

    live = {path for path in look(site) if not path.startswith("archive/")}
    assert live == {path for path in plain if not path.startswith("archive/")}
    assert audit_site(site).findings == ()


def test_memory_holds_digests_only(tmp_path: Path) -> None:
    """A publication of 40 MB must not take 40 MB: contents go to the disk as they come."""
    import tracemalloc

    with open_site(tmp_path / "site", DATE) as publisher:
        tracemalloc.start()
        for number in range(20):
            asset = make_asset(bytes([number]) * 2_000_000, "bin")
            publisher.add(f"c-{number}", "k", None, Contents(assets=[asset]))
            del asset
        held, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        publisher.publish({})

    assert held < 500_000
    assert peak < 3 * 2_000_000


def test_growth_is_what_changed(tmp_path: Path) -> None:
    site = tmp_path / "site"
    state = {f"c-{number}": f"words {number}" for number in range(30)}
    build(site, state)
    before = set(look(site / "archive"))
    build(site, {**state, "c-7": "other words"}, LATER)

    fresh = set(look(site / "archive")) - before
    assert all(re.match(r"(pages/comparisons/c-7|assets|sources|builds|entries)/", path) for path in fresh)
    assert len([path for path in fresh if path.startswith("assets/")]) == 2
    assert len([path for path in fresh if path.startswith("entries/")]) == 3


def test_parts_have_entries_of_their_own(tmp_path: Path) -> None:
    site = tmp_path / "site"
    with open_site(site, DATE) as publisher:
        fill(publisher, {"plotter": "one"})
        publisher.add("parts/alder", "k", {"name": "Alder"}, Contents(pages=[Page("parts/alder", "<p>Alder</p>")]))
        publisher.publish({})
    with open_site(site, DATE) as publisher:
        entry = publisher.entry("parts/alder")
        assert entry and (entry.key, entry.summary) == ("k", {"name": "Alder"})
        assert publisher.newest and publisher.newest.comparisons == ("plotter",)
    assert not (site / "comparisons/parts").exists()
