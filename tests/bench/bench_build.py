"""How builds grow: generated sites of several sizes, cold, unchanged, and after one edited line of prose.

Run: .venv/bin/python tests/bench/bench_build.py [SIZE …] [--workers N]      (sizes: 10 100; a site of 1000 takes long)
Every comparison is the starter with a mass of its own, without a stall map, with a CSV of about 20 kB of runs. Each
build is a process of its own. CPU is user and system time of the process and its workers, which other work on the
machine disturbs little; peak memory is the parent's alone. Targets: CPU per comparison at most 1.15 times that at the
size before, unchanged at most 1 % and prose at most 2 % of cold, peak at most 1.5 times that at the size before, two
workers at least 1.7 times as fast as one (by the clock: only on an idle machine).
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROWS = 100
NOTE = "at the third bench, cover off, belt tension as delivered, supply warm, "
"""Repeated in each row's note until the table has its 20 kB."""
RUN = """
import json, resource, sys, time
from multiprocessing import forkserver
began = time.perf_counter()
from generator.cli import main
code = main(sys.argv[1:])
forkserver._forkserver._stop()  # waits for it, so that the time of the workers is told
own, workers = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
cpu = sum(used.ru_utime + used.ru_stime for used in (own, workers))
print(json.dumps([time.perf_counter() - began, cpu, own.ru_maxrss / 1024]))
sys.exit(code)
"""


@dataclass(frozen=True)
class Cost:
    """A build by the clock [s], its CPU time [s], and the parent's peak memory [MiB]."""

    wall: float
    cpu: float
    peak: float


@dataclass(frozen=True)
class Growth:
    """All of one size: builds, bytes of the archive after the first and added by the edit, charts of a page."""

    cold: Cost
    unchanged: Cost
    prose: Cost
    archive: int
    added: int
    charts: int


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("sizes", nargs="*", type=int, default=[10, 100])
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    print("size | cold CPU s | each CPU s | × before | wall s | unchanged CPU | prose CPU | peak MiB | × before | "
          "archive MB | added kB | charts each")  # fmt: skip
    before: tuple[float, float] | None = None
    for size in given.sizes:
        with tempfile.TemporaryDirectory() as folder:
            grown = grow(Path(folder), size, given.workers)
        before = show(size, grown, before)
    with tempfile.TemporaryDirectory() as folder:
        compare_workers(Path(folder), min(max(given.sizes), 100))


def show(size: int, grown: Growth, before: tuple[float, float] | None) -> tuple[float, float]:
    """One row; returns what the next one is compared with."""
    each, peak = grown.cold.cpu / size, grown.cold.peak
    ratios = [f"{now / then:.2f}" for now, then in zip((each, peak), before, strict=True)] if before else ["", ""]
    edits = (grown.unchanged, grown.prose)
    shares = [f"{cost.cpu:.2f} ({100 * cost.cpu / grown.cold.cpu:.1f} %)" for cost in edits]
    row = [size, f"{grown.cold.cpu:.1f}", f"{each:.3f}", ratios[0], f"{grown.cold.wall:.1f}", *shares, f"{peak:.0f}",
           ratios[1], f"{grown.archive / 1e6:.1f}", f"{grown.added / 1e3:.0f}", grown.charts]  # fmt: skip
    print(*row, sep=" | ", flush=True)
    return each, peak


def grow(place: Path, size: int, workers: int) -> Growth:
    """Build a site of a size cold, again, and after an edit."""
    generate(place, size)
    cold = build(place, workers)
    archive = measure(place)
    charts = (place / "site" / "comparisons" / "made-0000" / "index.html").read_text(encoding="utf-8").count("<picture")
    build(place, workers)  # an index just written distrusts files as young as itself, once
    unchanged = build(place, workers)
    prose = place / "comparisons" / f"made-{size // 2:04d}" / "write-up.md"
    prose.write_text(prose.read_text(encoding="utf-8") + "\nOne more line.\n", encoding="utf-8")
    edited = build(place, workers)
    return Growth(cold, unchanged, edited, archive, measure(place) - archive, charts)


def generate(place: Path, size: int) -> None:
    """Comparisons that differ in a mass and in their runs."""
    run = [sys.executable, "-m", "generator", "begin", "made-0000", "--comparisons", str(place / "comparisons")]
    subprocess.run(run, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    first = place / "comparisons" / "made-0000"
    text = (
        (first / "comparison.yaml").read_text(encoding="utf-8").replace("schema: 1\n", "schema: 1\nstall_map: false\n")
    )
    start, end = text.index("        - {held: 28 m/s²"), text.index("      long:\n        - {held")
    text = f"{text[:start].rstrip()} runs.csv\n{text[end:]}"
    for number in reversed(range(size)):
        folder = place / "comparisons" / f"made-{number:04d}"
        if number:
            shutil.copytree(first, folder)
        own = text.replace("moving_mass: 420 g", f"moving_mass: {400 + 0.1 * number:.1f} g")
        (folder / "comparison.yaml").write_text(own, encoding="utf-8")
        rows = [f"{28 + (row * (number + 3)) % 3},{29 + (row * (number + 3)) % 3},{row + 1},\"{(3 * NOTE)[:190]}\""
                for row in range(ROWS)]  # fmt: skip
        (folder / "runs.csv").write_text(
            "held [m/s²],lost [m/s²],order,note\n" + "\n".join(rows) + "\n", encoding="utf-8"
        )


def build(place: Path, workers: int) -> Cost:
    """One build as a process of its own."""
    command = [sys.executable, "-c", RUN, "build", "--quiet", "--workers", str(workers)]
    command += [part for name in ("comparisons", "site", "cache") for part in (f"--{name}", str(place / name))]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    return Cost(*json.loads(done.stdout.splitlines()[-1]))


def measure(place: Path) -> int:
    """Bytes of the archive."""
    return sum(path.stat().st_size for path in (place / "site" / "archive").rglob("*") if path.is_file())


def compare_workers(place: Path, size: int) -> None:
    """The clock of a cold build with one worker and with two, imports and shared pages included."""
    generate(place, size)
    costs = []
    for workers in (1, 2):
        shutil.rmtree(place / "site", ignore_errors=True)
        shutil.rmtree(place / "cache", ignore_errors=True)
        began = time.perf_counter()
        costs.append((build(place, workers), time.perf_counter() - began))
    (one, first), (two, second) = costs
    print(f"{size} comparisons: one worker {first:.1f} s ({one.cpu:.1f} CPU s), two {second:.1f} s "
          f"({two.cpu:.1f} CPU s): {first / second:.2f} times as fast")  # fmt: skip


if __name__ == "__main__":
    main()
