"""Owns the run of many moves of one or several machines side by side, and the verdict on each: held or lost, and when.

A move is lost if any rotor rests a whole number of electrical turns away from its command after the move.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.models.plant import Plant, build_plant, check_plant, is_elastic, join_plants
from generator.models.profile import Array, Moves, find_reachable, join_moves
from generator.models.simulation import (
    BLOCK,
    advance_block,
    choose_step,
    estimate_steps,
    slowest_step,
    start_state,
)
from generator.records.hardware import Setup
from generator.records.simulation import NOT_REACHABLE

MOST_STEPS = 400_000
"""Steps of one move beyond which a set-up is taken as impossible to step."""
MOST_CELLS = 4096
"""Moves of several machines that are joined at most; more would leave a core's cache."""
FAR = 8 * 2 * math.pi
"""Electrical lag [rad] from which a rotor no longer finds back."""


@dataclass(frozen=True)
class Job:
    """Moves of one set-up, at its nominal values, along a direction (unit vector over the axes)."""

    setup: Setup
    direction: tuple[float, ...]
    moves: Moves


@dataclass(frozen=True)
class Outcome:
    """State and first slipped motor (-1: none) of each move, (cells,); steps planned; or why nothing was run."""

    state: NDArray[np.int8]
    motor: NDArray[np.int8]
    steps: int = 0
    message: str | None = None


@dataclass(frozen=True)
class _Task:
    """A job that can be stepped: its plant, and which of its moves are within reach."""

    plant: Plant
    moves: Moves
    reachable: NDArray[np.intp]
    kind: tuple[bool, bool, bytes]


def run_jobs(jobs: Sequence[Job], refine: int = 1) -> list[Outcome]:
    """Run the moves of every job; machines of one kind run joined, and each gives the same as alone.

    Parameters
    ----------
    jobs : sequence of Job
    refine : int
        Divides the step length.

    Returns
    -------
    list of Outcome
        One per job, in its order.
    """
    prepared = [_prepare(job) for job in jobs]
    found: dict[int, Outcome] = {}
    for numbers in _batches(prepared):
        found |= dict(zip(numbers, _run_batch([prepared[number] for number in numbers], refine), strict=True))
    none = np.zeros(0, dtype=np.int8)
    return [Outcome(none, none, 0, task) if isinstance(task, str) else found[n] for n, task in enumerate(prepared)]


def ended(moves: Moves) -> Array:
    """Time from which a move counts as over [s]: its end but for rounding."""
    return moves.duration * (1 - 1e-12)


def _prepare(job: Job) -> _Task | str:
    """Build a job's plant; a sentence where it cannot be stepped."""
    problem = check_plant(job.setup)
    if problem is not None:
        return problem
    plant = build_plant(job.setup, job.direction, is_elastic(job.setup))
    reachable = np.flatnonzero(find_reachable(job.moves))
    steps = estimate_steps(plant, job.moves.take(reachable)).max(initial=0)
    if steps > MOST_STEPS:
        return (
            f"Not simulated: a move would take {steps:,.0f} steps of at most {slowest_step(plant)[0]:.3g} s; "
            "look at inductance over resistance, inertia and friction."
        )
    kind = (plant.stiffness is None, job.moves.jerk_time is None, plant.motor_map.tobytes())
    return _Task(plant, job.moves, reachable, kind)


def _batches(prepared: Sequence[_Task | str]) -> list[list[int]]:
    """Numbers of the tasks that run together: of one kind, and not too many cells."""
    batches: list[list[int]] = []
    room: dict[tuple[bool, bool, bytes], int] = {}
    latest: dict[tuple[bool, bool, bytes], list[int]] = {}
    for number, task in enumerate(prepared):
        if isinstance(task, str):
            continue
        room[task.kind] = room.get(task.kind, 0) - len(task.reachable)
        if task.kind not in latest or room[task.kind] < 0:
            latest[task.kind] = []
            batches.append(latest[task.kind])
            room[task.kind] = MOST_CELLS - len(task.reachable)
        latest[task.kind].append(number)
    return batches


def _run_batch(tasks: Sequence[_Task | str], refine: int) -> list[Outcome]:
    """Run joined tasks and part their outcomes again."""
    known = [task for task in tasks if not isinstance(task, str)]
    cells = [len(task.reachable) for task in known]
    chosen = [task.moves.take(task.reachable) for task in known]
    ends = np.cumsum(cells)[:-1]
    states, motors = _Runner(join_plants([task.plant for task in known], cells), join_moves(chosen), refine).run()
    outcomes = []
    for task, moves, state, motor in zip(known, chosen, np.split(states, ends), np.split(motors, ends), strict=True):
        whole = np.full((2, len(task.moves.speed)), [[NOT_REACHABLE], [-1]], dtype=np.int8)
        whole[:, task.reachable] = state, motor
        outcomes.append(Outcome(whole[0], whole[1], int(estimate_steps(task.plant, moves).sum())))
    return outcomes


class _Runner:
    """Carries moves to their ends, each at its own pace; finished ones leave, and lost ones whose rotor is far."""

    def __init__(self, plant: Plant, moves: Moves, refine: int) -> None:
        self.plant, self.moves, self.refine = plant, moves, refine
        cells = len(moves.speed)
        self.state, self.time = start_state(plant, cells), np.zeros(cells)
        self.cells = np.arange(cells)
        self.slipped = np.zeros((len(plant.teeth), cells), dtype=bool)
        self.phase, self.motor = np.zeros(cells, dtype=np.int8), np.full(cells, -1, dtype=np.int8)
        self.found_phase, self.found_motor = self.phase.copy(), self.motor.copy()

    def run(self) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
        """Step all moves to their ends: state and lost motor of each, (cells,)."""
        while len(self.cells):
            step = choose_step(self.plant, self.moves, self.time, self.state.speed) / self.refine
            *_, way = advance_block(self.plant, self.moves, self.state, self.time, step)
            self._judge(self.plant.gear * way - self.plant.teeth * self.state.angle)
            self.time += BLOCK * step
            leaving = (self.time >= ended(self.moves)) | self.far
            if leaving.any():
                self._release(leaving)
        return self.found_phase, self.found_motor

    def _judge(self, lag: Array) -> None:
        """Note fresh slips with the phase in which their block began, and which rotors are far away."""
        size = np.abs(lag)
        slipped = size > math.pi
        fresh = np.flatnonzero(slipped.any(axis=0) & ~self.slipped.any(axis=0))
        if len(fresh):
            self.phase[fresh] = self.moves.take(fresh).phase(self.time[fresh])
            self.motor[fresh] = slipped[:, fresh].argmax(axis=0)
        self.slipped, self.far = slipped, (size > FAR).any(axis=0)

    def _release(self, leaving: NDArray[np.bool_]) -> None:
        """Write down what became of the moves that leave, and keep the others."""
        lost = leaving & self.slipped.any(axis=0)
        self.found_phase[self.cells[lost]] = self.phase[lost]
        self.found_motor[self.cells[lost]] = self.motor[lost]
        staying = np.flatnonzero(~leaving)
        self.cells, self.time = self.cells[staying], self.time[staying]
        self.plant, self.moves = self.plant.take(staying), self.moves.take(staying)
        self.state = self.state.take(staying)
        self.slipped, self.phase, self.motor = self.slipped[:, staying], self.phase[staying], self.motor[staying]
