"""The same inputs and versions give the same bytes: elsewhere, with more workers, on a cluster, from the archive."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from places import EPOCH, ROOT, Place, environment, look

from generator.cli import main

FEATURES: list[str] = np.show_config(mode="dicts")["SIMD Extensions"].get("found", [])
"""Extensions of this processor that NumPy would use beyond its least, as NumPy itself lists them."""
MAPPED, RECORDED = "with-stall-map", "braille-plate-plotter"


def fill(comparisons: Path) -> None:
    """One comparison with a stall map, and one with sound, traces and photos."""
    assert main(["begin", MAPPED, "--comparisons", str(comparisons)]) == 0
    begun = comparisons / MAPPED / "comparison.yaml"  # its own date must not be taken for that of the build
    begun.write_text(begun.read_text(encoding="utf-8").replace("2026-09-21", "2026-08-01"), encoding="utf-8")
    shutil.copytree(ROOT / "comparisons" / RECORDED, comparisons / RECORDED)
    file = comparisons / RECORDED / "comparison.yaml"
    text = file.read_text(encoding="utf-8")
    assert "\nstall_map:" not in text
    file.write_text(text + "\nstall_map: false\n", encoding="utf-8")


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """Built in one process; nothing may change it."""
    root = tmp_path_factory.mktemp("first")
    place = Place(root, root / "cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", EPOCH)
        fill(place.comparisons)
    done = place.run(*place.build_arguments(), PYTHONHASHSEED="1", SOURCE_DATE_EPOCH=EPOCH)
    assert done.returncode == 0, done.stderr
    return place


def build_again(first: Place, folder: Path, *more: str, **env: str) -> Place:
    """The same comparisons from another path, without anything kept, in another environment."""
    place = Place(folder, folder / "cache")
    folder.mkdir(parents=True)
    shutil.copytree(first.comparisons, place.comparisons)
    done = place.run(*place.build_arguments(*more), SOURCE_DATE_EPOCH=EPOCH, **env)
    assert done.returncode == 0, done.stderr
    return place


def test_nothing_around_a_build_enters_its_bytes(first: Place, tmp_path: Path) -> None:
    other = build_again(
        first,
        tmp_path / "another path" / "much" / "deeper",
        "--workers",
        "2",
        TZ="Pacific/Kiritimati",
        LC_ALL="C",  # with both of the next two off, text files are ASCII unless the code says otherwise
        PYTHONUTF8="0",
        PYTHONCOERCECLOCALE="0",
        PYTHONHASHSEED="4242",
        COLUMNS="40",
    )

    assert other.look() == first.look()


def test_the_processor_does_not_enter_the_bytes(first: Place, tmp_path: Path) -> None:
    plain = {"NPY_DISABLE_CPU_FEATURES": " ".join(FEATURES), "OPENBLAS_CORETYPE": "Nehalem"}
    probe = "from numpy._core._multiarray_umath import __cpu_features__ as f; print([n for n in f if f[n]])"
    asked = subprocess.run(
        [sys.executable, "-c", probe], env=environment(**plain), capture_output=True, text=True, check=True
    )
    assert FEATURES and not [name for name in FEATURES if f"'{name}'" in asked.stdout]

    assert build_again(first, tmp_path / "plain", **plain).look() == first.look()


def test_the_date_enters_only_where_it_is_printed(first: Place, tmp_path: Path) -> None:
    later = Place(tmp_path, first.cache)
    shutil.copytree(first.comparisons, later.comparisons)
    done = later.run(*later.build_arguments(), SOURCE_DATE_EPOCH=str(int(EPOCH) + 86_400))
    assert done.returncode == 0, done.stderr

    before, after = ({path: d for path, d in place.look().items() if not path.startswith("archive/")}
                     for place in (first, later))  # fmt: skip
    assert set(before) == set(after)
    other = {path for path in before if before[path] != after[path]}
    assert {"methods/motor/index.html", "builds/index.html"} <= other
    assert not [path for path in other if not path.endswith(".html")]
    for path in other:
        text = (first.site / path).read_text(encoding="utf-8")
        moved = text.replace("2026-09-21", "2026-09-22")
        moved = re.sub(r"21(?=\sSeptember\s2026)", "22", moved)
        assert (later.site / path).read_text(encoding="utf-8") == moved, path


def test_a_recovered_build_repeats_its_bytes(first: Place, tmp_path: Path) -> None:
    site = tmp_path / "site"
    shutil.copytree(first.site, site)
    published = look(site)
    edited = Place(tmp_path / "edited", first.cache)
    shutil.copytree(first.comparisons, edited.comparisons)
    edited.change(edited.comparisons / MAPPED / "comparison.yaml", ("stroke: 120 mm", "stroke: 110 mm"))
    shutil.rmtree(edited.comparisons / RECORDED)
    edited.site = site
    assert edited.run(*edited.build_arguments(), SOURCE_DATE_EPOCH=EPOCH).returncode == 0
    assert len(edited.builds()) == 2

    old = tmp_path / "old"
    assert main(["builds", "recover", "0001", "--to", str(old), "--site", str(site)]) == 0
    again = Place(old, tmp_path / "cache")
    done = again.run(*again.build_arguments("--workers", "2"), SOURCE_DATE_EPOCH=EPOCH)
    assert done.returncode == 0, done.stderr
    assert again.look() == published


# --- on a cluster ---------------------------------------------------------------------------------------------------


@contextmanager
def cluster(folder: Path) -> Iterator[str]:
    """A scheduler and two workers, each a process of its own, on the loopback interface; yields the address."""
    told = folder / "scheduler.json"
    scheduler = ["dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
    worker = ["dask_worker", "--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(folder)]
    processes = []
    try:
        for module, *options in (scheduler, worker, worker):
            command = [sys.executable, "-m", f"distributed.cli.{module}", *options, "--scheduler-file", str(told)]
            with (folder / "log").open("a") as log:
                processes.append(subprocess.Popen(command, env=environment(), stdout=log, stderr=log, cwd=folder))
        yield wait_for_address(told)
    finally:
        for process in processes:
            process.kill()
            process.wait(10)


def wait_for_address(told: Path) -> str:
    """The scheduler's address, once it has written it down whole."""
    for _ in range(600):
        try:
            return str(json.loads(told.read_bytes())["address"])
        except (OSError, ValueError):
            time.sleep(0.1)
    raise AssertionError("the scheduler never started")


def test_a_cluster_builds_the_same_site(place: Place, tmp_path: Path) -> None:
    for slug in ("first", "second", "third"):
        place.begin(slug, ("moving_mass: 420 g", f"moving_mass: {400 + len(slug)} g"))
    assert place.build() == 0
    (tmp_path / "dask").mkdir()
    spread = Place(tmp_path / "spread", tmp_path / "spread" / "cache")
    shutil.copytree(place.comparisons, spread.comparisons)

    with cluster(tmp_path / "dask") as address:
        done = spread.run(*spread.build_arguments("--cluster", address))
    assert done.returncode == 0, done.stderr
    assert spread.look() == place.look()


def test_a_cluster_that_is_not_there_is_wrong_use(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    place.begin("first")

    assert place.build("--cluster", "tcp://127.0.0.1:9") == 2
    assert "127.0.0.1:9" in capsys.readouterr().err
    assert not place.site.exists()
