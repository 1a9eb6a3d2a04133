"""A withdrawn content is gone from every byte of the site, and everything else still stands."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from pathlib import Path

import pytest
import soundfile
from made_up import (
    DATE,
    LATER,
    VERSIONS,
    build,
    list_beside,
    look,
    make_asset,
    make_contents,
    make_makers,
    make_shared,
)
from PIL import Image

from generator.archive import names
from generator.archive.auditing import audit_site
from generator.archive.entries import Contents, InputFile
from generator.archive.notices import render_withdrawn_file
from generator.archive.publisher import open_site
from generator.archive.sources import find_vault_file, pack_sources
from generator.archive.store import Archive
from generator.archive.withdrawing import withdraw_content
from generator.errors import SiteProblem, UsageError
from generator.records.presentation import Page

REASON = "a name in it & more <b>"


@pytest.fixture
def site(tmp_path: Path) -> Path:
    site = tmp_path / "site"
    for words in ("one", "two"):
        build(site, {"plotter": words, "feeder": "same"}, DATE, compress=True)
    return site


def holds(site: Path, content: bytes) -> list[str]:
    """Files of the site, and members of its zips, that hold some bytes."""
    found = []
    for path in site.rglob("*"):
        if path.is_file():
            data = path.read_bytes()
            if path.suffix == ".zip":
                with zipfile.ZipFile(io.BytesIO(data)) as archive:
                    data += b"".join(archive.read(member) for member in archive.infolist())
            if content in data:
                found.append(path.relative_to(site).as_posix())
    return found


def find_source(site: Path, content: bytes) -> str:
    return next(path.stem for path in (site / "archive/sources").iterdir() if path.read_bytes() == content)


def test_a_source_is_gone_everywhere_zips_included(site: Path) -> None:
    content = "held [m/s²]\ntwo\n".encode()
    assert set(holds(site, content)) == {
        f"archive/sources/{find_source(site, content)}.csv", "comparisons/plotter/sources.zip"}  # fmt: skip

    withdrawal = withdraw_content(site, find_source(site, content), REASON, LATER, make_makers())

    assert holds(site, content) == []
    assert withdrawal.build.startswith("0003-")
    assert withdrawal.digests == (hashlib.sha256(content).hexdigest(),)
    assert withdrawal.comparisons == ("plotter",)
    with zipfile.ZipFile(site / "comparisons/plotter/sources.zip") as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["plotter/comparison.yaml"]
    report = audit_site(site)
    assert report.findings == ()
    assert [(stone.date, stone.reason) for stone in report.withdrawn] == [(LATER, REASON)]
    assert list_beside(site) == []


def test_an_asset_is_replaced_by_one_of_its_kind_in_all_builds(site: Path) -> None:
    for words in ("one", "two"):
        asset = make_asset(f"<svg>plotter {words}</svg>".encode())
        withdraw_content(site, asset.name[:16], REASON, LATER, make_makers())

        assert holds(site, asset.content) == []
        assert "withdrawn" in (site / asset.address).read_text()
        assert not (site / f"{asset.address}.gz").exists()
    assert audit_site(site).findings == ()
    assert holds(site, b"<svg>feeder same</svg>")


def test_sizes_of_older_builds_go_with_their_photo(tmp_path: Path) -> None:
    photo, site = b"a photo", tmp_path / "site"
    sizes = [make_asset(words.encode()) for words in ("small, made one way", "small, made another way", "of another")]
    for number, shown in enumerate(sizes[:2]):
        with open_site(site, DATE) as publisher:
            publisher.add(
                "plotter",
                f"k{number}",
                None,
                Contents(
                    inputs=[InputFile("a.jpg", photo), InputFile("b.jpg", b"another photo")],
                    assets=[shown, sizes[2]],
                    shown={"a.jpg": [shown.address], "b.jpg": [sizes[2].address]},
                ),
            )
            publisher.publish({})

    withdrawal = withdraw_content(site, hashlib.sha256(sizes[0].content).hexdigest(), REASON, LATER)

    assert len(withdrawal.digests) == 3
    assert [holds(site, content) for content in (photo, sizes[0].content, sizes[1].content)] == [[], [], []]
    assert holds(site, sizes[2].content) and holds(site, b"another photo")
    assert audit_site(site).findings == ()


def test_a_page_version_is_replaced_by_a_notice_live_and_frozen(site: Path) -> None:
    version = Archive(site).read_history("comparisons/plotter")[-1][0]

    withdrawal = withdraw_content(site, version[:12], REASON, LATER)

    live, frozen = (
        site / "comparisons/plotter/index.html",
        site / names.find_frozen_file("comparisons/plotter", version),
    )
    for page in (live, frozen):
        assert "was withdrawn" in page.read_text()
        assert "a name in it &amp; more &lt;b&gt;" in page.read_text()
    assert not live.with_name("index.html.gz").exists()
    assert set(withdrawal.places) == {path.relative_to(site).as_posix() for path in (live, frozen)}
    assert audit_site(site).findings == ()


@pytest.mark.parametrize("place", ["comparisons/plotter/index.html", "archive/pages/comparisons/plotter/*.html"])
def test_a_page_is_also_known_by_the_digest_of_its_file(site: Path, place: str) -> None:
    file = next(site.glob(place))
    digest = hashlib.sha256(file.read_bytes()).hexdigest()

    withdraw_content(site, digest, REASON, LATER)

    assert "was withdrawn" in file.read_text()
    assert audit_site(site).findings == ()


def test_results_are_gone_from_the_live_site_too(site: Path) -> None:
    live = site / "comparisons/plotter/results.json"
    content = live.read_bytes()

    withdraw_content(site, hashlib.sha256(content).hexdigest(), REASON, LATER)

    assert holds(site, content) == []
    assert json.loads(live.read_text()) == {"withdrawn": LATER, "reason": REASON}
    assert not live.with_name("results.json.gz").exists()
    assert audit_site(site).findings == ()


def test_it_cannot_come_back(site: Path) -> None:
    content = "held [m/s²]\ntwo\n".encode()
    chart = make_asset(b"<svg>plotter two</svg>")
    for digest in (find_source(site, content), chart.name[:16]):
        withdraw_content(site, digest, REASON, LATER, make_makers())
    before = look(site)
    unchanged = build(site, {"plotter": "two", "feeder": "same"}, LATER, compress=True)

    assert unchanged.build is None
    assert look(site) == before

    build(site, {"plotter": "one", "feeder": "same"}, LATER, compress=True)
    back = build(site, {"plotter": "two", "feeder": "same"}, LATER, compress=True)
    assert set(back.held_back) >= {"runs/a.csv", chart.address}
    assert holds(site, content) == [] == holds(site, chart.content)
    assert audit_site(site).findings == ()


def test_withdrawing_is_on_top_of_the_chain_and_older_builds_stay_listed(site: Path) -> None:
    source = find_source(site, "held [m/s²]\none\n".encode())
    withdraw_content(site, source, REASON, LATER, make_makers())

    builds = Archive(site).list_builds()

    assert [build.kind for build in builds] == ["build", "build", "withdraw"]
    assert builds[-1].note == REASON
    assert "withdraw" in (site / "builds/index.html").read_text()


def test_the_vault_loses_it_too(tmp_path: Path) -> None:
    site, vault = tmp_path / "site", tmp_path / "vault"
    build(site, {"plotter": "one"}, vault=vault)
    digest = hashlib.sha256(b"secret sound of plotter one").hexdigest()
    assert find_vault_file(vault, digest).is_file()

    withdraw_content(site, digest, REASON, LATER, vault=vault)

    assert not find_vault_file(vault, digest).exists()
    assert audit_site(site).findings == ()
    build(site, {"plotter": "two"}, LATER, vault=vault)
    build(site, {"plotter": "one"}, LATER, vault=vault)
    assert not find_vault_file(vault, digest).exists()


def test_zips_given_as_assets_go_with_what_they_hold(tmp_path: Path) -> None:
    site = tmp_path / "site"
    secret = b"name: Jo Doe\n"
    bundle = make_asset(pack_sources("all", {"a.csv": secret, "b.csv": b"x"}), "zip")
    with open_site(site, DATE) as publisher:
        contents = Contents(inputs=[InputFile("a.csv", secret)], assets=[bundle], files={"all.zip": bundle.content})
        publisher.add("plotter", "k", None, contents)
        publisher.publish({})

    withdrawal = withdraw_content(site, hashlib.sha256(secret).hexdigest(), REASON, LATER)

    assert holds(site, secret) == []
    assert len(withdrawal.digests) == 2
    assert zipfile.ZipFile(site / bundle.address).namelist() == ["withdrawn/withdrawn.txt"]
    assert zipfile.ZipFile(site / "all.zip").testzip() is None
    assert zipfile.ZipFile(site / "comparisons/plotter/sources.zip").namelist() == ["plotter/nothing-published.txt"]
    assert audit_site(site).findings == ()


@pytest.mark.parametrize("lost", ["archive/sources/*.yaml", "archive/assets/*.zip"])
def test_a_site_that_lost_what_is_packed_anew_says_so(tmp_path: Path, lost: str) -> None:
    site, content = tmp_path / "site", b"name: Jo Doe\n"
    bundle = make_asset(pack_sources("all", {"x.csv": b"x"}), "zip")
    with open_site(site, DATE) as publisher:
        inputs = [InputFile("a.csv", content), InputFile("b.yaml", b"b")]
        publisher.add("plotter", "k", None, Contents(inputs=inputs, assets=[bundle]))
        publisher.publish({})
    next(site.glob(lost)).unlink()
    before = look(site)

    with pytest.raises(SiteProblem, match=r"cannot be read: .* is not there\n.*builds audit"):
        withdraw_content(site, hashlib.sha256(content).hexdigest(), REASON, LATER)

    assert look(site) == before


def test_foreign_copies_are_named_and_left(site: Path) -> None:
    content = "held [m/s²]\ntwo\n".encode()
    (site / "mine.csv").write_bytes(content)

    withdrawal = withdraw_content(site, find_source(site, content), REASON, LATER)

    assert withdrawal.copies == ("mine.csv",)
    assert (site / "mine.csv").read_bytes() == content


def test_wrong_use_is_refused_and_changes_nothing(site: Path, tmp_path: Path) -> None:
    source = find_source(site, "held [m/s²]\none\n".encode())
    before = look(site)
    record = next((site / "archive/entries").iterdir()).stem
    for digest, error, words in (
        ("0" * 64, UsageError, "nothing in the site"),
        ("xyz", UsageError, "is no digest"),
        (source[:5], UsageError, "is no digest"),
        (record, SiteProblem, "record of the archive"),
    ):
        with pytest.raises(error, match=words):
            withdraw_content(site, digest, REASON, LATER)
    assert look(site) == before
    withdraw_content(site, source, REASON, LATER)
    with pytest.raises(SiteProblem, match="withdrawn before"):
        withdraw_content(site, source, REASON, LATER)
    with pytest.raises(SiteProblem, match="holds no build"):
        withdraw_content(tmp_path / "nothing", source, REASON, LATER)


@pytest.mark.parametrize("suffix", ["png", "jpg", "jpeg", "webp"])
def test_pictures_are_replaced_by_pictures(suffix: str) -> None:
    """Outside check: Pillow reads the notice."""
    with Image.open(io.BytesIO(render_withdrawn_file(f"x.{suffix}", LATER, REASON))) as picture:
        picture.load()
        assert picture.size == (480, 120)
        assert len(picture.getcolors(100_000)) > 1


def test_sounds_are_replaced_by_silence() -> None:
    """Outside check: libsndfile reads the notice."""
    samples, rate = soundfile.read(io.BytesIO(render_withdrawn_file("x.wav", LATER, REASON)))

    assert (len(samples), rate, abs(samples).max()) == (800, 8000, 0.0)


@pytest.mark.parametrize("suffix", ["csv", "css", "js", "woff2", "md"])
def test_other_files_are_replaced_by_text(suffix: str) -> None:
    assert b"withdrawn" in render_withdrawn_file(f"x.{suffix}", LATER, REASON)


def test_withdrawing_and_changing_pages_keeps_versions(tmp_path: Path) -> None:
    site = tmp_path / "site"
    build(site, {"plotter": "one"})
    version = Archive(site).read_history("comparisons/plotter")[0][0]
    withdraw_content(site, version, REASON, LATER, make_makers())
    build(site, {"plotter": "two"}, LATER)
    again = build(site, {"plotter": "one"}, LATER)

    assert "comparisons/plotter/index.html" in again.held_back
    assert "was withdrawn" in (site / "comparisons/plotter/index.html").read_text()
    assert len(Archive(site).read_history("comparisons/plotter")) == 2
    assert Page("x", "y").text == "y"
    assert audit_site(site).findings == ()


def test_all_made_anew_after_withdrawing_is_the_same(site: Path) -> None:
    """What a build puts in place of withdrawn contents is what the command put there."""
    version = Archive(site).read_history("comparisons/plotter")[-1][0]
    results = hashlib.sha256((site / "comparisons/plotter/results.json").read_bytes()).hexdigest()
    chart = make_asset(b"<svg>plotter two</svg>").name[:16]
    for digest in (find_source(site, "held [m/s²]\ntwo\n".encode()), version, results, chart):
        withdraw_content(site, digest, REASON, LATER, make_makers())
    before = look(site)

    with open_site(site, "2029", makers=make_makers(), compress=True) as publisher:
        for slug, words in (("plotter", "two"), ("feeder", "same")):
            publisher.add(slug, words, {"words": words}, make_contents(slug, words))
        publisher.add_shared(make_shared({"plotter": "two", "feeder": "same"}))
        result = publisher.publish(VERSIONS)

    assert result.build is None
    assert look(site) == before
