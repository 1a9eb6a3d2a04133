"""Slimming drops what only older builds used; citations still answer, the chain holds, nothing current is touched."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_up import DATE, LATER, build, list_beside, look, make_makers

from generator.archive import names
from generator.archive.auditing import audit_site
from generator.archive.recovering import recover_build
from generator.archive.slimming import slim_site
from generator.archive.store import Archive
from generator.errors import SiteProblem, UsageError


@pytest.fixture
def site(tmp_path: Path) -> Path:
    site = tmp_path / "site"
    for words in ("one", "two", "three", "four"):
        build(site, {"plotter": words, "feeder": "same"}, DATE)
    return site


def find_copies(site: Path) -> list[Path]:
    """Frozen copies of the plotter's page, oldest first."""
    history = Archive(site).read_history("comparisons/plotter")
    return [site / names.find_frozen_file("comparisons/plotter", version) for version, _ in history]


def test_older_copies_answer_with_a_page_that_says_so(site: Path) -> None:
    before = look(site)
    slimming = slim_site(site, 1, LATER, make_makers())

    assert slimming.build and slimming.build.startswith("0005-")
    assert (slimming.pages, slimming.kept_from[:4]) == (3, "0004")
    *older, newest = find_copies(site)
    for copy in older:
        text = copy.read_text()
        assert "no longer kept" in text and DATE in text and copy.stem in text
        assert f'href="{"../" * 4}comparisons/plotter/index.html"' in text
        assert (copy.parent / "../../../../comparisons/plotter/index.html").resolve().is_file()
    assert "four" in newest.read_text()
    after = look(site)
    live = {path for path in before if not path.startswith(("archive/", "builds/"))}
    assert all(after[path] == before[path] for path in live)
    assert audit_site(site).findings == ()
    assert list_beside(site) == []


def test_assets_of_the_build_before_the_newest_stay(site: Path) -> None:
    def charts() -> set[bytes]:
        return {
            path.read_bytes() for path in (site / "archive/assets").glob("*.svg") if b"plotter" in path.read_bytes()
        }

    def measure() -> int:
        return sum(
            path.stat().st_size for kind in ("assets", "pages") for path in (site / "archive" / kind).rglob("*.*")
        )

    before = measure()
    slimming = slim_site(site, 1, LATER)

    assert charts() == {b"<svg>plotter three</svg>", b"<svg>plotter four</svg>"}
    assert slimming.assets == 4  # a chart and a results file of each of the two oldest builds
    assert slimming.freed == before - measure()


def test_manifests_and_sources_stay_so_that_older_builds_come_back(site: Path, tmp_path: Path) -> None:
    kept = {path: digest for path, digest in look(site).items() if path.startswith(
        (f"{names.BUILDS}/", f"{names.ENTRIES}/", f"{names.SOURCES}/"))}  # fmt: skip
    slim_site(site, 1, LATER)

    assert kept.items() <= look(site).items()
    recover_build(site, "1", tmp_path / "back")
    assert (tmp_path / "back/comparisons/plotter/comparison.yaml").read_text() == "title: one\n"


def test_slimming_again_finds_nothing_to_do(site: Path) -> None:
    slim_site(site, 2, LATER)
    before = look(site)

    again = slim_site(site, 2, LATER)

    assert (again.build, again.pages, again.assets, again.freed) == (None, 0, 0, 0)
    assert look(site) == before


def test_the_next_build_with_nothing_changed_adds_nothing(site: Path) -> None:
    slim_site(site, 1, LATER, make_makers())
    before = look(site)

    assert build(site, {"plotter": "four", "feeder": "same"}, LATER).build is None
    assert look(site) == before


def test_a_dropped_version_that_is_published_again_stands_whole(site: Path) -> None:
    slim_site(site, 1, LATER, make_makers())

    build(site, {"plotter": "one", "feeder": "same"}, "2028-05-05")

    copy = find_copies(site)[0]
    assert "one" in copy.read_text() and f"first published {DATE}" in copy.read_text()
    assert audit_site(site).findings == ()
    assert len(find_copies(site)) == 4


def test_slimming_keeps_what_kept_builds_share(site: Path) -> None:
    slim_site(site, 3, LATER)

    *dropped, two, three, four = find_copies(site)
    assert len(dropped) == 1
    assert all(word in copy.read_text() for word, copy in (("two", two), ("three", three), ("four", four)))


def test_wrong_use_is_refused(site: Path, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="at least the newest"):
        slim_site(site, 0, LATER)
    with pytest.raises(SiteProblem, match="holds no build"):
        slim_site(tmp_path / "nothing", 1, LATER)
    assert slim_site(site, 100, LATER).build is None
