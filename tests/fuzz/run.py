"""Coverage-guided fuzzing of the readers; keeps the inputs that reached something new.

    .venv/bin/pip install atheris
    nice -n 10 .venv/bin/python tests/fuzz/run.py --seconds 180

Each target runs in a process of its own, since the fuzzer ends its process. A finding (an exception that is none of
the project's own, a broken promise, or an input that takes more than twenty seconds) is written to tests/fuzz/found/
and the run exits 1. Afterwards the corpus is minimised and kept; tests/fuzz/test_corpus.py replays it without the
fuzzer.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import subprocess
import sys
import tempfile
import warnings
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
LONGEST = {"units": 90, "comparison": 6000, "site": 1500, "tables": 3000, "sound": 3000, "photo": 1500, "prose": 1500}
SLOW = 20


def main() -> int:
    """Fuzz the wanted targets one after the other; print a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("targets", nargs="*", default=sorted(LONGEST), metavar="TARGET")
    parser.add_argument("--seconds", type=int, default=180)
    parser.add_argument("--one", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.one:
        return _fuzz(*arguments.one[:2], arguments.one[2:])
    print(f"{'target':<12}{'seconds':>8}{'executions':>12}{'kept':>6}  findings", flush=True)
    return max(_run(target, arguments.seconds) for target in arguments.targets)


def _run(target: str, seconds: int) -> int:
    sys.path[:0] = [str(HERE), str(ROOT)]
    from kept import make_seeds, read_kept, write_kept

    with tempfile.TemporaryDirectory() as folder:
        corpus, small = Path(folder, "corpus"), Path(folder, "small")
        corpus.mkdir()
        small.mkdir()
        for content in make_seeds(target) + read_kept(target):
            (corpus / hashlib.sha256(content).hexdigest()).write_bytes(content)
        found = HERE / "found"
        found.mkdir(exist_ok=True)
        prefix = f"-artifact_prefix={found}/{target}-"
        options = [prefix, f"-max_len={LONGEST[target]}", f"-timeout={SLOW}", "-rss_limit_mb=3000"]
        log = _call(target, [*options, f"-max_total_time={seconds}", "-print_final_stats=1", str(corpus)])
        _call(target, [*options, "-merge=1", str(small), str(corpus)])
        kept = write_kept(target, [path.read_bytes() for path in small.iterdir()])
        findings = sorted(path.name for path in found.glob(f"{target}-*"))
        if findings:
            Path(found, f"{target}.log").write_text(log[-20_000:])
        executions = re.search(r"number_of_executed_units: (\d+)", log)
        count = executions[1] if executions else "0"
        print(f"{target:<12}{seconds:>8}{count:>12}{kept:>6}  {', '.join(findings) or 'none'}", flush=True)
    return 1 if findings else 0


def _call(target: str, options: list[str]) -> str:
    with tempfile.TemporaryDirectory() as folder:
        again = Path(folder, "again")
        again.write_text(f'#!/bin/sh\nexec "{sys.executable}" "{__file__}" --one "{again}" {target} "$@"\n')
        again.chmod(0o700)
        command = [again, *options]
        return subprocess.run(command, capture_output=True, text=True, errors="replace", cwd=ROOT, check=False).stderr


def _fuzz(again: str, target: str, options: list[str]) -> int:
    """Fuzz in this process; ``again`` is a command that the fuzzer calls for a process of its own."""
    import atheris

    sys.path[:0] = [str(HERE), str(ROOT)]
    with atheris.instrument_imports(include=["generator", "markdown"]):
        from targets import TARGETS
    warnings.simplefilter("error")
    atheris.Setup([again, *options], TARGETS[target])
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
