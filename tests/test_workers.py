"""Tasks give the same results wherever they run, and a dying worker is survived or reported."""

from __future__ import annotations

import math
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from generator.errors import SiteProblem, UsageError
from generator.workers import AHEAD, run_tasks


@dataclass(frozen=True)
class Job:
    """A small task; ``mark`` names a file that tells a first try from a second."""

    slug: str
    number: int
    mark: str = ""


def square(job: Job) -> int:
    return job.number**2


def die_once(job: Job) -> int:
    if job.number == 3 and not Path(job.mark).exists():
        Path(job.mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return job.number**2


def die_always(job: Job) -> int:
    if job.number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return job.number**2


JOBS = [Job(f"job-{n}", n) for n in range(7)]
SQUARES = [n**2 for n in range(7)]


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_results_do_not_depend_on_the_number_of_workers(workers: int) -> None:
    assert sorted(run_tasks(square, JOBS, workers)) == SQUARES


def test_a_dead_worker_is_survived_and_reported(tmp_path: Path) -> None:
    said: list[str] = []
    jobs = [Job(job.slug, job.number, str(tmp_path / "died")) for job in JOBS]

    assert sorted(run_tasks(die_once, jobs, 2, say=said.append)) == SQUARES
    assert any("died" in text for text in said)


def test_a_task_that_kills_every_worker_is_named() -> None:
    with pytest.raises(SiteProblem, match="job-3"):
        list(run_tasks(die_always, JOBS, 2))


def test_no_cluster_is_a_wrong_use() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
    with pytest.raises(UsageError):
        list(run_tasks(square, JOBS, cluster=f"tcp://127.0.0.1:{port}"))


def test_a_cluster_of_separate_processes_gives_the_same(tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        host, port = free.getsockname()
    scheduler = ["dask_scheduler", "--host", host, "--port", str(port), "--no-dashboard"]
    worker = ["dask_worker", f"tcp://{host}:{port}", "--nthreads", "1", "--no-nanny", "--no-dashboard"]
    processes = [
        subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.{part[0]}", *part[1:]],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=tmp_path,
        )
        for part in (scheduler, worker, worker)
    ]
    try:
        assert sorted(results_of_cluster(f"tcp://{host}:{port}")) == list(range(7))
        assert most_held(f"tcp://{host}:{port}", 40) <= 2 * AHEAD + 1, "tasks are taken as results come"
    finally:
        for process in processes:
            process.kill()
            process.wait(10)


def most_held(address: str, count: int) -> int:
    """The most tasks that were taken and not yet answered."""
    taken, answered, most = 0, 0, 0

    def hand_out() -> Iterator[int]:
        nonlocal taken, most
        for number in range(count):
            taken += 1
            most = max(most, taken - answered)
            yield number**2

    for _ in run_tasks(math.isqrt, hand_out(), cluster=address):
        answered += 1
    assert answered == count
    return most


def results_of_cluster(address: str) -> list[int]:
    """Ask until the scheduler answers."""
    for _ in range(40):
        try:
            return list(run_tasks(math.isqrt, SQUARES, cluster=address))
        except UsageError:
            time.sleep(0.25)
    raise AssertionError("the scheduler never answered")
