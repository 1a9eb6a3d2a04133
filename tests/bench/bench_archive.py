"""What the archive costs: publishing 100 and 1,000 comparisons of about 25 files, one change, none, and an audit.

Run: .venv/bin/python tests/bench/bench_archive.py [COUNT …]
Every size runs in a process of its own; ratios compare what ran in one go on one machine.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from generator.archive.auditing import audit_site
from generator.archive.entries import Contents, InputFile, PageMakers
from generator.archive.publisher import PublishResult, open_site
from generator.records.presentation import PUBLISHED, ROOT, VERSION, Asset, Page

CHARTS = 6
CSV_SIZE = 20_000
CHART_SIZE = 20_000
PAGE_SIZE = 30_000


def main() -> None:
    counts = [int(text) for text in sys.argv[1:]] or [100, 1000]
    rows = [run_apart(count) for count in counts]
    heads = list(rows[0])
    print(" | ".join(heads))
    for row in rows:
        print(" | ".join(f"{row[head]:.4g}" for head in heads))


def run_apart(count: int) -> dict[str, float]:
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(measure, (count,))


def measure(count: int) -> dict[str, float]:
    with tempfile.TemporaryDirectory() as folder:
        site = Path(folder) / "site"
        before = find_peak()
        cold = find_time(lambda: build(site, count, 0))
        size = find_size(site)
        none = find_time(lambda: build(site, count, 0))
        edited = find_time(lambda: build(site, count, 1))
        peak = find_peak()
        growth = find_size(site) - size
        audit = find_time(lambda: check(site))
        system = find_time(lambda: run_sha256sum(site))
        return {
            "comparisons": count,
            "files": sum(len(names) for _, _, names in os.walk(site)),
            "cold [s]": cold,
            "cold each [ms]": 1000 * cold / count,
            "no change [s]": none,
            "one edit [s]": edited,
            "growth of the edit [kB]": growth / 1000,
            "peak above start [MB]": (peak - before) / 1000,
            "audit [s]": audit,
            "sha256sum [s]": system,
            "audit / sha256sum": audit / system,
        }


def build(site: Path, count: int, edits: int) -> PublishResult:
    makers = PageMakers(render_versions=lambda path, rows, removed: Page(path, f"<ul>{rows}</ul>"))
    with open_site(site, "2026-09-18", makers=makers) as publisher:
        for number in range(count):
            slug, key = f"comparison-{number}", f"{number} {edits if number == 0 else 0}"
            entry = publisher.entry(slug)
            if entry and entry.key == key:
                publisher.carry(slug)
            else:
                publisher.add(slug, key, {"title": slug}, make_contents(slug, key))
        publisher.add_shared(Contents(unfrozen=[Page("", f"<p>{count} {edits}</p>")]))
        return publisher.publish({"stallmark": "1"})


def make_contents(slug: str, key: str) -> Contents:
    charts = [make_asset(f"{slug} {number}", CHART_SIZE, "svg") for number in range(2 * CHARTS)]
    table = make_asset(slug, CSV_SIZE, "csv")
    links = " ".join(f"<img src='{ROOT}{chart.address}'>" for chart in charts)
    page = Page(f"comparisons/{slug}", f"<p>{VERSION} {PUBLISHED} {key} {links}</p>".ljust(PAGE_SIZE))
    inputs = [InputFile("comparison.yaml", key.encode().ljust(3000)), InputFile("runs.csv", table.content)]
    files = {
        f"comparisons/{slug}/results.json": b'{"answer": "%s"}' % slug.encode().ljust(PAGE_SIZE),
        f"comparisons/{slug}/runs.csv": table.content,
    }
    return Contents(inputs, [page], [*charts, table], files)


def make_asset(seed: str, size: int, suffix: str) -> Asset:
    content = hashlib.shake_256(seed.encode()).digest(size)
    return Asset(f"{hashlib.sha256(content).hexdigest()[:16]}.{suffix}", content)


def check(site: Path) -> None:
    report = audit_site(site)
    if report.findings:
        raise SystemExit(f"the audit found {report.findings[:3]}")


def run_sha256sum(site: Path) -> None:
    find = subprocess.Popen(["find", str(site), "-type", "f", "-print0"], stdout=subprocess.PIPE)
    subprocess.run(["xargs", "-0", "sha256sum"], stdin=find.stdout, stdout=subprocess.DEVNULL, check=True)


def find_time(work: Callable[[], Any]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def find_peak() -> float:
    """Most memory held so far [kB]."""
    return float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)


def find_size(site: Path) -> int:
    """Sizes of all files [byte]."""
    return sum(os.lstat(os.path.join(folder, name)).st_size for folder, _, names in os.walk(site) for name in names)


if __name__ == "__main__":
    main()
