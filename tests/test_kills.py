"""Builds killed at random moments leave the old site or the new one, and an archive that audits clean."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time

import pytest
from places import Place, environment

from generator.archive.auditing import audit_site

KILLS = 20
SEED = 20260921


def run_and_kill(place: Place, after: float) -> int:
    """A real build in a process group of its own, killed with all its workers after a while [s]; its exit code."""
    command = [sys.executable, "-m", "generator", *place.build_arguments("--quiet", "--workers", "2")]
    process = subprocess.Popen(command, cwd=place.root, env=environment(), start_new_session=True)
    try:
        return process.wait(after)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        return process.wait(60)


def test_twenty_kills_at_random_moments(fresh_place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    """The moments come from a seed and spread over what a whole build takes here, its start left out."""
    place, rng = fresh_place, random.Random(SEED)
    file = place.begin("first")
    assert place.build() == 0
    mass, kills, whole = 420, {"old": 0, "new": 0}, 0.0
    while sum(kills.values()) < KILLS:
        place.change(file, (f"moving_mass: {mass} g", f"moving_mass: {mass + 1} g"))
        mass += 1
        before, began = place.look(), time.monotonic()
        code = run_and_kill(place, rng.uniform(0.35, 1.0) * whole if whole else 120.0)
        if code == 0:
            whole = time.monotonic() - began
            continue
        assert code == -signal.SIGKILL
        after, findings = place.look(), audit_site(place.site).findings
        assert not findings, findings
        capsys.readouterr()
        assert place.build() == 0
        is_new = "nothing changed" in capsys.readouterr().out
        kills["new" if is_new else "old"] += 1
        assert after == (place.look() if is_new else before)
        assert sorted(path.name for path in place.root.iterdir()) == ["cache", "comparisons", "site"]
    assert not audit_site(place.site).findings
    assert kills["old"] > KILLS / 4, kills
