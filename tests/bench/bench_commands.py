"""What commands cost before they do anything, and how soon a faulty file is answered.

Run: .venv/bin/python tests/bench/bench_commands.py [REPEATS]
Each command runs as a process of its own; the least CPU time (user and system) of a few runs counts, beside that of an
interpreter that does nothing. Imports are read from the process itself.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
HEAVY = ("numpy", "pandas", "scipy", "matplotlib", "pint", "jinja2", "PIL", "soundfile", "yaml")
PROBE = """
import sys
from generator.cli import main
code = main(sys.argv[1:])
print("held:", *(name for name in {heavy!r} if name in sys.modules), file=sys.stderr)
sys.exit(code)
"""


def main() -> None:
    """Print the table."""
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        prepare(place)
        bare = measure(["-c", "pass"], place, repeats)[0]
        print(f"{'':34}{'CPU s':>7}{'wall s':>8}{'× bare':>8}  exit  heavy imports")
        print(f"{'an interpreter that does nothing':34}{bare:7.2f}")
        for name, argv in commands(place).items():
            cpu, wall, code, held = measure(["-c", PROBE.format(heavy=HEAVY), *argv], place, repeats)
            print(f"{name:34}{cpu:7.2f}{wall:8.2f}{cpu / bare:8.1f}  {code:4}  {held}")


def commands(place: Path) -> dict[str, list[str]]:
    """What is measured, by name."""
    site = ["--site", str(place / "site")]
    build = ["build", "--cache", str(place / "cache"), "--workers", "1", "--quiet", *site]
    return {
        "--help": ["--help"],
        "build --help": ["build", "--help"],
        "begin": ["begin", f"made-{time.monotonic_ns()}", "--comparisons", str(place / "begun")],
        "check": ["check", "--comparisons", str(place / "good")],
        "check of a fault": ["check", "--comparisons", str(place / "fault")],
        "build of a fault": [*build, "--comparisons", str(place / "fault")],
        "build of 50 MB": [*build, "--comparisons", str(place / "large")],
        "build of 20,000 brackets": [*build, "--comparisons", str(place / "brackets")],
        "builds": ["builds", *site],
        "build, nothing changed": [*build, "--comparisons", str(place / "good")],
    }


def prepare(place: Path) -> None:
    """A good comparison with its site, and faulty ones."""
    for name in ("good", "fault", "large", "brackets"):
        run("begin", "one", "--comparisons", str(place / name))
        file = place / name / "one" / "comparison.yaml"
        text = file.read_text(encoding="utf-8").replace("schema: 1\n", "schema: 1\nstall_map: false\n")
        spoilt = {"fault": text.replace("inductance: 2.3 mH", "inductance: 2.3 ohm"), "large": "# " + "x" * 50_000_000,
                  "brackets": "title: " + "[" * 20_000}  # fmt: skip
        file.write_text(spoilt.get(name, text), encoding="utf-8")
    run("build", "--comparisons", str(place / "good"), "--site", str(place / "site"),
        "--cache", str(place / "cache"), "--quiet")  # fmt: skip


def run(*argv: str) -> None:
    """One command that must succeed."""
    subprocess.run([sys.executable, "-m", "generator", *argv], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)


def measure(arguments: list[str], place: Path, repeats: int) -> tuple[float, float, int, str]:
    """Least CPU and wall time [s] of a process, its exit code and the heavy modules that it ended with."""
    cpu, wall, done = [], [], None
    for turn in range(repeats):
        turned = [part.replace("made-", f"made{turn}-") for part in arguments]
        used, began = spent(), time.perf_counter()
        done = subprocess.run([sys.executable, *turned], cwd=ROOT, capture_output=True, text=True, env={**os.environ})
        wall.append(time.perf_counter() - began)
        cpu.append(spent() - used)
    assert done is not None
    held = [line.removeprefix("held:").strip() for line in done.stderr.splitlines() if line.startswith("held:")]
    return min(cpu), min(wall), done.returncode, held[0] if held else ""


def spent() -> float:
    """CPU time of all children so far [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
