"""The demo built cold against a bare script that draws as many comparable charts; target: at most 2.5 times.

Run: .venv/bin/python tests/bench/bench_cold.py [REPEATS]
Both run as processes of their own with imports included, in turn; the least CPU time (user and system) of each counts,
so that other work on the machine does not enter. The demo is braille-plate-plotter in one process with an empty cache,
without and with its stall map; the bare script imports matplotlib and pandas and draws as many SVG files of two curves
with a band, legend and labels.
"""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMO = "braille-plate-plotter"
TARGET = 2.5
Spent = tuple[float, float]
BARE = """
import io
import numpy as np
import pandas
from matplotlib.figure import Figure
speed = np.linspace(0, 1.6, 81)
for index in range({count}):
    figure = Figure(figsize=(10, 5.5) if index % 2 else (4.4, 4.4))
    axes = figure.add_axes((0.1, 0.12, 0.86, 0.8))
    for top, corner in ((64.0, 0.33), (74.0, 0.92)):
        limit = np.where(speed < corner, top, top * (corner / np.maximum(speed, 1e-9)) ** 1.35)
        axes.fill_between(speed, 0.42 * limit, limit, alpha=0.2)
        axes.plot(speed, limit, label="static limit")
    axes.legend()
    axes.set(xlabel="Speed in mm/s", ylabel="Acceleration in m/s²", title="A title that states a finding")
    figure.savefig(io.BytesIO(), format="svg")
"""


def main() -> None:
    """Print the table."""
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print(f"{'':26}{'CPU s':>7}{'wall s':>8}{'drawings':>10}{'bare CPU s':>12}{'ratio':>7}   target ≤ {TARGET}")
    for name, with_map, with_recordings in (
        ("trials alone", False, False), ("with recordings", False, True), ("with a stall map too", True, True),
    ):  # fmt: skip
        demo, bare, drawings = compare(with_map, with_recordings, repeats)
        print(f"{name:26}{demo[0]:7.2f}{demo[1]:8.2f}{drawings:10}{bare[0]:12.2f}{demo[0] / bare[0]:7.2f}")


def compare(
    with_map: bool, with_recordings: bool, repeats: int
) -> tuple[tuple[float, float], tuple[float, float], int]:
    """Least (CPU, wall) [s] of demo and bare script, and the number of drawings of each."""
    demos, bares = [], []
    for _ in range(repeats):
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder)
            prepare(place, with_map, with_recordings)
            build = ["-m", "generator", "build", "--workers", "1", "--quiet"]
            build += [part for name in ("comparisons", "site", "cache") for part in (f"--{name}", str(place / name))]
            demos.append(measure(build))
            drawings = len(list((place / "site" / "archive" / "assets").glob("*.svg"))) - 1  # one is the icon
        bares.append(measure(["-c", BARE.format(count=drawings)]))
    return min(demos), min(bares), drawings


def prepare(place: Path, with_map: bool, with_recordings: bool) -> None:
    """The demo with or without its stall map and its sections of recordings."""
    shutil.copytree(ROOT / "comparisons" / DEMO, place / "comparisons" / DEMO)
    file = place / "comparisons" / DEMO / "comparison.yaml"
    text = file.read_text(encoding="utf-8")
    if not with_map:
        text += "\nstall_map: false\n"
    if not with_recordings:
        text = drop_recordings(text)
    file.write_text(text, encoding="utf-8")


def drop_recordings(text: str) -> str:
    """The file without its blocks of sound, vibration, surfaces and panel, and without weights that name them."""
    kept, keep = [], True
    for line in text.splitlines():
        if line and not line[0].isspace() and line[0] != "#":
            keep = line.split(":")[0] not in ("sound", "vibration", "surfaces", "panel", "weights", "matters")
        kept += [line] if keep else []
    return "\n".join(kept) + "\n"


def measure(arguments: list[str]) -> tuple[float, float]:
    """CPU and wall time of a process [s]."""
    before, began = spent(), time.perf_counter()
    subprocess.run([sys.executable, *arguments], cwd=ROOT, check=True)
    return spent() - before, time.perf_counter() - began


def spent() -> float:
    """CPU time of all children so far [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
