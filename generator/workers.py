"""Run independent tasks: in this process, on a pool of processes, or on a Dask cluster; results are identical.

Tasks carry bytes in and bytes out, so a worker needs no shared folder. At most a few results wait at a time, which
keeps the memory of the parent flat however many tasks there are. A worker that dies is replaced and its task is
tried once more; a task that kills two workers is reported.
"""

from __future__ import annotations

import contextlib
import itertools
import multiprocessing
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from generator.errors import SiteProblem, UsageError

In = TypeVar("In")
Out = TypeVar("Out")

TRIES = 2
"""How often a task may meet a dying worker."""
AHEAD = 2
"""Tasks that are handed out for each worker, so that none waits and few are held."""


def run_tasks(
    work: Callable[[In], Out],
    tasks: Iterable[In],
    workers: int = 1,
    cluster: str | None = None,
    say: Callable[[str], None] = lambda text: None,
) -> Iterator[Out]:
    """Yield ``work(task)`` for every task, in the order in which they finish.

    Raises SiteProblem when a task has killed its worker twice, UsageError when the cluster cannot be reached;
    an error of the work itself passes through.
    """
    if cluster:
        yield from _on_cluster(work, tasks, cluster, say)
    elif workers <= 1:
        yield from map(work, tasks)
    else:
        yield from _on_pool(work, tasks, workers, say)


# --- a pool of processes --------------------------------------------------------------------------------------------


def _on_pool(work: Callable[[In], Out], tasks: Iterable[In], workers: int, say: Callable[[str], None]) -> Iterator[Out]:
    """All tasks on one pool; when a worker dies, those unfinished go on one by one, each on a fresh worker."""
    waiting = enumerate(tasks)
    unfinished: dict[int, In] = {}
    running: dict[Future[Out], int] = {}
    with ProcessPoolExecutor(workers, mp_context=_context()) as pool, contextlib.suppress(BrokenProcessPool):
        while True:
            for number, task in itertools.islice(waiting, AHEAD * workers - len(running)):
                unfinished[number] = task
                running[pool.submit(work, task)] = number
            if not running:
                return
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                result = future.result()
                del unfinished[running.pop(future)]
                yield result
    say("a worker process died; the tasks left go on one by one")
    for _, task in itertools.chain(list(unfinished.items()), waiting):
        yield _alone(work, task, say)


def _alone(work: Callable[[In], Out], task: In, say: Callable[[str], None]) -> Out:
    """One task on a fresh worker, so that the one to blame for a death is known."""
    for _ in range(TRIES):
        with ProcessPoolExecutor(1, mp_context=_context()) as pool:
            try:
                return pool.submit(work, task).result()
            except BrokenProcessPool:
                say(f"the worker process of {_name(task)} died")
    raise SiteProblem(
        f"{_name(task)}: its worker process died {TRIES} times", "it may need more memory than there is; try it alone"
    )


def _context() -> Any:
    """Forked from a clean server where there is one, so that heavy imports are paid once."""
    if sys.platform == "win32" or "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["generator.making"])
    return context


def _name(task: Any) -> str:
    return str(getattr(task, "slug", "a task"))


# --- a Dask cluster -------------------------------------------------------------------------------------------------


def _on_cluster(
    work: Callable[[In], Out], tasks: Iterable[In], address: str, say: Callable[[str], None]
) -> Iterator[Out]:
    """The same work through Dask's own executor; Dask retries a task whose worker died."""
    try:
        from distributed import Client, as_completed
    except ImportError as missing:
        raise UsageError("--cluster needs the extra 'cluster'", "pip install 'stallmark[cluster]'") from missing
    try:
        client = Client(address, timeout="5s")
    except (OSError, ValueError) as error:
        raise UsageError(f"no cluster answers at {address}: {error}", "start a scheduler and workers first") from error
    with client:
        count = len(client.scheduler_info()["workers"])
        say(f"{count} workers at {address}")
        futures = (client.submit(work, task, pure=False, retries=TRIES - 1) for task in tasks)
        running = as_completed(itertools.islice(futures, AHEAD * max(count, 1)), with_results=True)
        for future, result in running:
            yield result
            future.release()
            running.update(itertools.islice(futures, 1))
