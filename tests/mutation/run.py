"""Mutation testing of models/ and analysis/: does the test file of a module notice a small change to the module?

    nice -n 10 .venv/bin/python tests/mutation/run.py --count 300 --seconds 1500

Works on a copy, so the checkout is left alone. Samples mutants evenly over all modules with a fixed seed, runs only the
module's own test file (tests/<package>/test_<module>.py) and test_closer.py on each, in a forked process of limited
processor time, and prints survivors as a table. SURVIVORS.md explains those of the kept run.
"""

from __future__ import annotations

import argparse
import math
import os
import random
import resource
import shutil
import sys
import tempfile
import time
from pathlib import Path

from mutants import Mutant, apply, list_mutants

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("models", "analysis")
ALSO = {
    "models/simulation": ("models/test_simulation.py", "models/test_stall.py"),
    "models/plant": ("models/test_simulation.py", "models/test_stall.py"),
    "analysis/answer": ("analysis/test_verdict.py",),
    "analysis/bands": ("analysis/test_weighting.py", "analysis/test_sound.py"),
    "analysis/light": ("analysis/test_surface.py", "analysis/test_ripple.py"),
    "analysis/vibration": ("analysis/test_resonance_fit.py",),
    "analysis/contrast": ("analysis/test_contrast.py", "analysis/test_trend.py"),
    "analysis/difference": ("analysis/test_contrast.py", "analysis/test_trend.py"),
}
"""Modules whose figures show in the tests of those that stand on them."""
SHORT = 20.0
"""Modules whose tests take longer than this [s] get a third of the mutants."""


def main() -> int:
    """Sample, run, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("modules", nargs="*", metavar="PACKAGE/MODULE", help="such as models/motor; by default all")
    parser.add_argument("--count", type=int, default=300, help="mutants in all")
    parser.add_argument("--seconds", type=float, default=1500.0, help="stop after this time")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        copy = _copy(Path(folder))
        os.chdir(copy)
        sys.path.insert(0, str(copy))
        _warm_up()
        return _Run(copy, arguments).run()


def _copy(folder: Path) -> Path:
    ignore = shutil.ignore_patterns("__pycache__", "recordings")
    for name in (
        "generator",
        "tests/models",
        "tests/analysis",
        "tests/mutation",
        "tests/data",
        "templates",
        "comparisons",
    ):
        shutil.copytree(ROOT / name, folder / name, ignore=ignore)
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


def _warm_up() -> None:
    """Load what all tests need, so that forked processes start at once; nothing of the project."""
    import hypothesis  # noqa: F401
    import numpy  # noqa: F401
    import pytest  # noqa: F401
    import scipy.integrate
    import scipy.optimize
    import scipy.signal
    import scipy.stats  # noqa: F401


class _Run:
    """One pass over the modules."""

    def __init__(self, copy: Path, arguments: argparse.Namespace) -> None:
        self.copy = copy
        self.arguments = arguments
        self.end = time.monotonic() + arguments.seconds
        self.tally = {"killed": 0, "timed out": 0, "survived": 0}

    def run(self) -> int:
        modules = [module for module in self.modules() if self.has_test(module)]
        share = max(1, self.arguments.count // max(1, len(modules)))
        print("| module | line | change | mutated line |\n|---|---|---|---|", flush=True)
        for module in modules:
            self.try_module(module, share)
        print(f"\n{sum(self.tally.values())} mutants: " + ", ".join(f"{n} {what}" for what, n in self.tally.items()))
        return 0

    def modules(self) -> list[str]:
        found = [
            f"{package}/{path.stem}"
            for package in PACKAGES
            for path in sorted((self.copy / "generator" / package).glob("[!_]*.py"))
        ]
        return [module for module in found if not self.arguments.modules or module in self.arguments.modules]

    def has_test(self, module: str) -> bool:
        there = all(path.is_file() for path in self.tests_of(module))
        if not there:
            print(f"{module}: no test file of its own", file=sys.stderr, flush=True)
        return there

    def tests_of(self, module: str) -> list[Path]:
        package, name = module.split("/")
        files = ALSO.get(module, (f"{package}/test_{name}.py",))
        return [self.copy / "tests" / file for file in (*files, "mutation/test_closer.py")]

    def try_module(self, module: str, share: int) -> None:
        path = self.copy / "generator" / f"{module}.py"
        source = path.read_text()
        outcome, usual = _run_tests(self.tests_of(module), 300.0)
        if outcome != "survived":
            print(f"{module}: its tests fail as it stands", file=sys.stderr, flush=True)
            return
        mutants = list_mutants(source)
        choice = random.Random(f"{self.arguments.seed} {module}")
        wanted = min(len(mutants), share if usual < SHORT else max(1, share // 3))
        for mutant in sorted(choice.sample(mutants, wanted), key=lambda m: (m.line, m.node)):
            if time.monotonic() > self.end:
                break
            path.write_text(apply(source, mutant))
            self.note(module, source, mutant, _run_tests(self.tests_of(module), 3 * usual + 10)[0])
        path.write_text(source)
        print(f"{module}: {wanted} of {len(mutants)}, {usual:.1f} s a run, {self.tally}", file=sys.stderr, flush=True)

    def note(self, module: str, source: str, mutant: Mutant, outcome: str) -> None:
        self.tally[outcome] += 1
        if outcome == "survived":
            line = source.splitlines()[mutant.line - 1].strip().replace("|", "\\|")
            print(f"| {module} | {mutant.line} | {mutant.what} | `{line}` |", flush=True)


def _run_tests(files: list[Path], seconds: float) -> tuple[str, float]:
    """Run test files in a forked process of limited processor time [s]; the outcome, and the time taken [s]."""
    process = os.fork()
    if process == 0:
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(seconds), math.ceil(seconds) + 1))
            _test_here(files)
        finally:
            os._exit(1)
    _, status, used = os.wait4(process, 0)
    outcome = "survived" if status == 0 else "timed out" if os.WIFSIGNALED(status) else "killed"
    return outcome, used.ru_utime + used.ru_stime


def _test_here(files: list[Path]) -> None:
    """Test silently and end this process: 0 where all tests pass."""
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    import pytest

    sys.dont_write_bytecode = True
    loaded_early = "ignore::pytest.PytestAssertRewriteWarning"
    os._exit(int(pytest.main([*map(str, files), "-x", "-q", "-p", "no:cacheprovider", "-W", loaded_early])))


if __name__ == "__main__":
    sys.exit(main())
