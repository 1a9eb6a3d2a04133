"""An edit makes again only what depends on it; a build without changes adds nothing; damage in the cache is mended."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from places import EPOCH, Place, snapshot

from generator import inputs, opening
from generator.archive.store import Archive
from generator.evaluation.recall import Recall

EVERYTHING = {"results": 1, "climb": 4, "stall map": 2, "influences": 1, "charts": 1}
"""What the starter comparison costs: a climb per trial and candidate, a map per candidate, and one of the others."""


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Counts the expensive results that are made, by name."""
    counts: Counter[str] = Counter()
    keep = Recall.bytes

    def counting(self: Recall, name: str, depends_on: Any, make: Callable[[], bytes]) -> bytes:
        def counted() -> bytes:
            counts[name] += 1
            return make()

        return keep(self, name, depends_on, counted)

    keep_each = Recall.each

    def counting_each(
        self: Recall, name: str, depends_on: Sequence[Any], make: Callable[[list[int]], Sequence[Any]]
    ) -> list[Any]:
        def counted(places: list[int]) -> Sequence[Any]:
            counts[name] += len(places)
            return make(places)

        return keep_each(self, name, depends_on, counted)

    monkeypatch.setattr(Recall, "bytes", counting)
    monkeypatch.setattr(Recall, "each", counting_each)
    return counts


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """The starter with its stall map, and another comparison, built with a cache of their own; only to be copied."""
    root = tmp_path_factory.mktemp("built")
    place = Place(root, root / "cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", EPOCH)
        file = place.begin("first")
        place.change(file, ("stall_map: false\n", ""))
        place.begin("second", ("moving_mass: 420 g", "moving_mass: 500 g"))
        assert place.build() == 0
    return place


@pytest.fixture
def own(built: Place, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Place:
    """The same, to be changed."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    shutil.copytree(built.root, tmp_path / "own")
    return Place(tmp_path / "own", tmp_path / "own" / "cache")


def edit(place: Place, *change: tuple[str, str], name: str = "comparison.yaml") -> None:
    place.change(place.comparisons / "first" / name, *change)
    before = place.look()
    assert place.build() == 0
    after = place.look()
    page = "comparisons/{}/index.html".format
    assert after[page("first")] != before[page("first")]
    assert after[page("second")] == before[page("second")]
    live = {path for path in after if not path.startswith(("archive/", "builds/")) and "versions" not in path}
    anew = Place(place.root, place.root / "anew-cache")
    anew.site = place.root / "anew"
    assert anew.run(*anew.build_arguments()).returncode == 0, "a process of its own, so that nothing made there counts"
    found = anew.look()
    assert {path for path in live if found[path] != after[path]} == set()


def test_the_first_build_makes_everything_once(fresh_place: Place, made: Counter[str]) -> None:
    fresh_place.change(fresh_place.begin("first"), ("stall_map: false\n", ""))
    assert fresh_place.build() == 0

    assert made == EVERYTHING


def test_a_build_without_changes_reads_and_writes_nothing(
    own: Place, made: Counter[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before = snapshot(own.site)
    monkeypatch.setattr(opening, "read_comparison", lambda *a: pytest.fail("a comparison was read"))

    assert own.build() == 0
    assert "nothing changed" in capsys.readouterr().out
    assert snapshot(own.site) == before
    assert not made


def test_an_edit_of_prose_computes_and_draws_nothing(own: Place, made: Counter[str]) -> None:
    prose = (own.comparisons / "first" / "write-up.md").read_text(encoding="utf-8")
    word = max(prose.split(), key=lambda w: len(w) if w.isalpha() else 0)

    edit(own, (word, f"{word} {word}"), name="write-up.md")
    assert not made


def test_an_edit_of_the_title_simulates_and_draws_nothing(own: Place, made: Counter[str]) -> None:
    edit(own, ('title: "First"', 'title: "Another title"'))

    assert made == {"results": 1}


def test_an_edit_of_one_run_simulates_nothing(own: Place, made: Counter[str]) -> None:
    edit(own, ("held: 28 m/s², lost: 29 m/s², order: 1", "held: 29 m/s², lost: 30 m/s², order: 1"))

    assert made == {"results": 1, "charts": 1}


def test_an_edit_of_a_tolerance_asks_anew_which_inputs_decide(own: Place, made: Counter[str]) -> None:
    edit(own, ("rotor_inertia: 38 g·cm²", "rotor_inertia: 38 g·cm²\n      tolerance: {rotor_inertia: 60 %}"))

    assert made["influences"] == 1


def test_an_edit_of_one_motor_leaves_the_other_s_simulation(own: Place, made: Counter[str]) -> None:
    edit(own, ("inductance: 2.3 mH", "inductance: 2.31 mH"))

    assert made["climb"] == 2
    assert made["stall map"] in (1, 2)  # the other's map too, where their common axes moved
    assert (made["results"], made["influences"], made["charts"]) == (1, 1, 1)


def test_other_code_makes_again_what_it_makes(own: Place, made: Counter[str], monkeypatch: pytest.MonkeyPatch) -> None:
    find = inputs.find_code_digest
    monkeypatch.setattr(inputs, "find_code_digest", lambda layers=(): find(layers) + "+" * ("charts" in layers))
    monkeypatch.setattr("generator.build.find_code_digest", lambda layers=(): find(layers) + "+")

    assert own.build() == 0
    assert made == {"charts": 2}
    newest = Archive(own.site).read_newest()
    assert newest is not None and (newest.build.sequence, newest.build.changed) == (2, ())


def test_damaged_entries_are_made_again(own: Place, made: Counter[str]) -> None:
    before = own.look()
    for entry in own.cache.glob("??/*"):
        content = bytearray(entry.read_bytes())
        content[len(content) // 2] ^= 1
        entry.write_bytes(content)
    shutil.rmtree(own.site)

    assert own.build() == 0
    assert own.look() == before
    assert {name: made[name] for name in ("climb", "stall map")} == {"climb": 4, "stall map": 2}
    assert (made["results"], made["influences"], made["charts"]) == (2, 2, 2)
    made.clear()
    shutil.rmtree(own.site)
    assert own.build() == 0
    assert not made


def test_a_lost_cache_costs_time_and_nothing_else(own: Place) -> None:
    before = snapshot(own.site)
    shutil.rmtree(own.cache)

    assert own.build() == 0
    assert snapshot(own.site) == before


def test_an_edit_adds_to_the_archive_what_it_changed(own: Place) -> None:
    def size() -> int:
        return sum(path.stat().st_size for path in (own.site / "archive").rglob("*") if path.is_file())

    before = size()
    edit(own, ('title: "First"', 'title: "Another title"'))
    page = own.site / "comparisons" / "first" / "index.html"
    results = own.site / "comparisons" / "first" / "results.json"
    text = own.comparisons / "first" / "comparison.yaml"
    assert size() - before < 1.5 * sum(path.stat().st_size for path in (page, results, text))
