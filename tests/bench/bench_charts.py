"""What charts cost: every chart of the invented results cold, against a bare script with as many comparable drawings.

Run: .venv/bin/python tests/bench/bench_charts.py [REPEATS]
Both run as processes of their own with imports included, in turn; the best of each counts. The bare script imports
matplotlib and pandas and draws with matplotlib's own axes, legend and fixed margins. Then the time per drawing, warm.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
LIMIT = 2.5
OURS = """
import sys
sys.path[:0] = [{root!r}, {tests!r}]
import pandas
from generator.charts.index import draw_charts
from invented_results import invent_results
charts = draw_charts(invent_results())
print(2 * len(charts))
"""
BARE = """
import io
import matplotlib
import numpy as np
import pandas
from matplotlib.figure import Figure
speed = np.linspace(0, 1.6, 81)
for index in range({count}):
    figure = Figure(figsize=(10, 5.5) if index % 2 else (4.4, 4.4))
    axes = figure.add_axes((0.1, 0.12, 0.86, 0.8))
    for top, corner in ((64.0, 0.33), (74.0, 0.92)):
        limit = np.where(speed < corner, top, top * (corner / np.maximum(speed, 1e-9)) ** 1.35)
        axes.fill_between(speed, 0.35 * limit, 1.2 * limit, alpha=0.1)
        axes.fill_between(speed, 0.42 * limit, limit, alpha=0.2, hatch="/")
        axes.plot(speed, limit, label="static limit")
        axes.plot(speed, 0.72 * limit)
        axes.errorbar([0.5, 0.9], [0.8 * top, 0.6 * top], yerr=2.0, fmt="o")
    axes.set_xlabel("speed [m/s]")
    axes.set_ylabel("acceleration [m/s²]")
    axes.grid(True)
    axes.legend()
    with matplotlib.rc_context({{"svg.fonttype": "none", "svg.hashsalt": "bare"}}):
        figure.savefig(io.BytesIO(), format="svg", metadata={{"Date": None}})
print({count})
"""


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    ours = OURS.format(root=str(ROOT), tests=str(ROOT / "tests" / "charts"))
    count = int(run(ours)[1])
    bare = BARE.format(count=count)
    times = [(run(ours)[0], run(bare)[0]) for _ in range(repeats)]
    best_ours, best_bare = (min(column) for column in zip(*times, strict=True))
    ratio = best_ours / best_bare
    print(f"drawings | charts cold [s] | bare script cold [s] | ratio | allowed\n{count} | ", end="")
    print(f"{best_ours:.2f} | {best_bare:.2f} | {ratio:.2f} | {LIMIT}")
    print_warm()
    sys.exit(ratio > LIMIT)


def run(script: str) -> tuple[float, str]:
    """Seconds of a fresh process, and what it printed."""
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return time.perf_counter() - start, done.stdout.strip()


def print_warm() -> None:
    """Milliseconds per drawing of every kind, the best of five."""
    sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "charts")]
    from invented_results import invent_results

    from generator.charts.index import DRAWERS

    results = invent_results()
    print("charts | drawings | ms per drawing")
    for draw in DRAWERS:
        spans = []
        for _ in range(5):
            start = time.perf_counter()
            count = 2 * len(draw(results))
            spans.append(time.perf_counter() - start)
        print(f"{draw.__name__} | {count} | {1000 * min(spans) / count:.1f}")


if __name__ == "__main__":
    main()
