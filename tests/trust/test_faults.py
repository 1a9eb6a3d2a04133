"""Faults from outside during whole builds: the old site stays byte for byte, and no file makes a build endless."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from hostile import FEW
from places_of_trust import PLAIN, run_limited

from generator.build import Settings, build
from generator.cli import main
from generator.errors import FileProblems, StallmarkError

ROOT = Path(__file__).parents[2]
RUNS = "held [m/s²],lost [m/s²]\n42,43\n43,44\n"


def prepare(tmp_path: Path, text: str = PLAIN) -> Settings:
    """The plain comparison, or a changed one, ready to build."""
    folder = tmp_path / "comparisons" / "plain"
    folder.mkdir(parents=True)
    (folder / "comparison.yaml").write_text(text, encoding="utf-8")
    (folder / "runs.csv").write_text(RUNS, encoding="utf-8")
    return Settings(folder.parent, tmp_path / "site", "2026-10-01", cache=tmp_path / "cache", limits=FEW)


def digests(site: Path) -> dict[str, str]:
    """Every file of the site by its digest."""
    files = (path for path in site.rglob("*") if path.is_file())
    return {path.relative_to(site).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def start(settings: Settings, *more: str) -> subprocess.Popen[str]:
    """The build command in a process of its own."""
    command = [sys.executable, "-m", "generator", "build", "--workers", "1", "--limit", "draws=200", *more]
    for option in ("comparisons", "site", "cache"):
        command += [f"--{option}", str(getattr(settings, option))]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_an_endless_template_of_the_owner_can_be_stopped(sign: signal.Signals, tmp_path: Path) -> None:
    settings = prepare(tmp_path)
    build(settings)
    before = digests(settings.site)
    (tmp_path / "templates").mkdir()
    loop = "{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}"  # each within its limit
    (tmp_path / "templates" / "comparison.html").write_text(loop)
    running = start(settings, "--templates", str(tmp_path / "templates"))
    while running.poll() is None and _seconds(running.pid) < 4:
        time.sleep(0.1)
    assert running.poll() is None, running.communicate()

    os.kill(running.pid, sign)
    _, said = running.communicate(timeout=60)

    assert digests(settings.site) == before
    assert running.returncode != 0
    assert sign is not signal.SIGINT or (running.returncode == 130 and "as it was" in said)
    assert build(settings).published.build is None, "the next build finds nothing to do"
    assert main(["builds", "--site", str(settings.site), "audit"]) == 0


@pytest.mark.parametrize(
    ("file", "content", "line"),
    [
        ("home.html", b"<p>\n{{ site.name + 1 }}</p>", 2),
        ("comparison.html", b"{{ 1 / 0 }}", 1),
        ("base.html", b"<p>\n\xfc</p>", 2),
        ("styles/base.css", b"/* \xfc */", 1),
    ],
)
def test_a_faulty_template_of_the_owner_is_named_and_the_old_site_stays(
    file: str, content: bytes, line: int, tmp_path: Path
) -> None:
    settings = prepare(tmp_path)
    build(settings)
    before = digests(settings.site)
    own = tmp_path / "templates" / file
    own.parent.mkdir(parents=True)
    own.write_bytes(content)

    with pytest.raises(FileProblems) as caught:
        build(replace(settings, templates=tmp_path / "templates"))

    assert [(problem.file, problem.line) for problem in caught.value.problems] == [(str(own), line)]
    assert digests(settings.site) == before


def _seconds(process: int) -> float:
    """Processor time that a process has used [s]."""
    try:
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 1e9
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


EXTREMES = {
    "tiny rungs": PLAIN.replace("rung: 1 m/s²", "rung: 1e-15 m/s²"),
    "countless rungs": PLAIN.replace("rung: 1 m/s²", "rung: 1e-6 m/s², stop: 1e9 m/s²"),
    "hardly any mass": PLAIN.replace("420 g", "1e-15 kg").replace("38 g·cm²", "1e-16 kg·m²"),
    "a planet to move": PLAIN.replace("420 g", "1e11 kg"),
    "no speed": PLAIN.replace("speed: 300 mm/s", "speed: 1e-15 m/s"),
    "all speed": PLAIN.replace("speed: 300 mm/s", "speed: 1e11 m/s").replace("stroke: 120 mm\n    ", ""),
    "much voltage": PLAIN.replace("24 V", "1e11 V"),
    "no inductance": PLAIN.replace("2.3 mH", "1e-15 H"),
    "a belt of air": PLAIN.replace("94 %", "94 %, belt_stiffness: 1e-12 N/m"),
    "an endless jerk": PLAIN.replace("  drive: {", "  move: {profile: s-curve, jerk: 1e-15 m/s³}\n  drive: {"),
    "a long name": PLAIN.replace("name: Short motor", "name: " + "Long " * 398),
    "a long title in formulas": PLAIN.replace("title: Two motors", "title: '" + "$x^2$ " * 330 + "'"),
    "every weight": PLAIN + "weights: {start-300: 1e12}\nmatters: {items: {start-300: 1e-15 m/s²}}\n",
}
"""Figures at the ends of what is read, each of which could make a loop endless or a formula overflow."""


@pytest.mark.parametrize("name", EXTREMES)
def test_extreme_figures_give_a_site_or_problems_soon(name: str, tmp_path: Path) -> None:
    settings = prepare(tmp_path, EXTREMES[name])

    error = run_limited(lambda: build(settings), 120)

    assert error is None or isinstance(error, StallmarkError), error
    assert error is not None or main(["builds", "--site", str(settings.site), "audit"]) == 0


@pytest.mark.parametrize("fault", ["cut", "emptied", "noise", "folder"])
def test_a_spoilt_cache_changes_no_byte(fault: str, tmp_path: Path) -> None:
    settings = prepare(tmp_path)
    build(settings)
    before = digests(settings.site)
    for path in [path for path in (tmp_path / "cache").rglob("*") if path.is_file()]:
        content = path.read_bytes()
        path.unlink()
        if fault == "folder":
            path.mkdir()
        else:
            path.write_bytes({"cut": content[: len(content) // 2], "emptied": b"", "noise": content[::-1]}[fault])

    again = Settings(**{**vars(settings), "site": tmp_path / "again"})
    build(again)

    assert digests(again.site) == before
