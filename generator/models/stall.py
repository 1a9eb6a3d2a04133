"""Owns the stall map and the simulated climb of a ladder: which moves a set-up holds, and in which phase it does not.

A move is lost if any rotor rests a whole number of electrical turns away from its command after the move.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from generator.models.plant import Plant, build_plant, check_plant, is_elastic
from generator.models.profile import Array, Moves, find_reachable, plan_moves
from generator.models.simulation import (
    BLOCK,
    advance_block,
    choose_step,
    estimate_steps,
    slowest_step,
    start_state,
)
from generator.records.hardware import Setup
from generator.records.simulation import HELD, NOT_REACHABLE, PHASES, Climb, StallMap, Trace
from generator.records.trial import ACCELERATION, Trial

GRID = 48
COARSER_GRIDS = (40, 32, 24, 16, 12)
PAGE_BUDGET = 150_000_000
"""Motor steps that a page may spend on its maps: about 5 s on the core it was set on, 10 s on one half as fast."""
MOST_STEPS = 400_000
"""Steps of one move beyond which a set-up is taken as impossible to step."""
MOST_RUNGS = 2000
FAR = 8 * 2 * math.pi
"""Electrical lag [rad] from which a rotor no longer finds back."""


def predict_stall_map(
    setup: Setup,
    direction: tuple[float, ...],
    speeds: Array,
    accelerations: Array,
    stroke: float | None = None,
    refine: int = 1,
) -> StallMap:
    """Simulate every move of a speed × acceleration grid and tell which are held.

    Parameters
    ----------
    setup : Setup
        At its nominal values.
    direction : tuple (axes,)
        Unit vector of the path [1].
    speeds, accelerations : array (columns,), (rows,)
        Along the path [m/s], [m/s²]; positive.
    stroke : float or None
        Way of each move [m]; None leaves it open.
    refine : int
        Divides the step length; 1 is enough, more serves checks.

    Returns
    -------
    StallMap
        With a message and no cells where the set-up cannot be simulated.

    Assumes: ideal regulator, constant inductance, no detent torque, belts as springs without damping where every one
    has a stiffness, else rigid; cruise capped at 0.1 s, rest 0.03 s.
    Valid for: comparing with the static, start and any-timing lines at the same inputs.
    Source: two-phase synchronous machine equations (Acarnley, Stepping Motors, chapter 4), exact phase response to a
    constant voltage. Checked in tests/models/test_stall.py against scipy.integrate.solve_ivp.
    """
    speeds, accelerations = np.asarray(speeds, dtype=np.float64), np.asarray(accelerations, dtype=np.float64)
    speed, acceleration = (grid.ravel() for grid in np.meshgrid(speeds, accelerations))
    moves = plan_moves(speed, acceleration, stroke, setup.jerk)
    shape = (len(accelerations), len(speeds))
    outcome = _simulate(setup, direction, moves, refine)
    if isinstance(outcome, str):
        none = np.zeros((0, 0), dtype=np.int8)
        return StallMap(setup.candidate, direction, speeds, accelerations, stroke, none, none, message=outcome)
    state, motor, steps = outcome
    return StallMap(
        setup.candidate,
        direction,
        speeds,
        accelerations,
        stroke,
        state.reshape(shape),
        motor.reshape(shape),
        elastic=is_elastic(setup),
        cell_steps=steps,
    )


def climb_ladder(setup: Setup, trial: Trial, limit: float | None) -> Climb:
    """Climb a trial's ladder in simulation, all rungs at once.

    Parameters
    ----------
    setup : Setup
        At its nominal values.
    trial : Trial
        With a ladder; a speed trial also needs its acceleration.
    limit : float or None
        Upper end [m/s² or m/s] where the ladder is open, e.g. the high end of the static limit.

    Returns
    -------
    Climb
        With a message and no rungs where the ladder cannot be climbed.

    Assumes and Source: as ``predict_stall_map``. Checked in tests/models/test_stall.py.
    """
    rungs = _list_rungs(trial, limit)
    if isinstance(rungs, str):
        return Climb(trial.id, setup.candidate, trial.unit, message=rungs)
    if trial.measures == ACCELERATION:
        speed, acceleration = np.full_like(rungs, trial.speed), rungs
    else:
        speed, acceleration = rungs, np.full_like(rungs, trial.acceleration)
    outcome = _simulate(setup, trial.direction, plan_moves(speed, acceleration, trial.stroke, setup.jerk))
    if isinstance(outcome, str):
        return Climb(trial.id, setup.candidate, trial.unit, message=outcome)
    return _read_ladder(trial, setup.candidate, rungs, outcome[0], outcome[1])


def _list_rungs(trial: Trial, limit: float | None) -> Array | str:
    """The rungs of a trial from start to stop, or to the limit; a sentence where there is no ladder to climb."""
    ladder = trial.ladder
    other = trial.speed if trial.measures == ACCELERATION else trial.acceleration
    if ladder is None or other is None:
        return "Not simulated: the trial states no ladder, or not both speed and acceleration."
    stop = ladder.stop if ladder.stop is not None else limit
    if stop is None or not math.isfinite(stop):
        return "Not simulated: the ladder has no upper end."
    count = math.floor((stop - ladder.start) / ladder.rung * (1 + 1e-12) + 1e-9) + 1
    if count > MOST_RUNGS:
        return f"Not simulated: the ladder has {count} rungs; {MOST_RUNGS} at most are climbed."
    return ladder.start + ladder.rung * np.arange(max(count, 1), dtype=np.float64)


def _read_ladder(trial: Trial, candidate: str, rungs: Array, state: NDArray[np.int8], motor: NDArray[np.int8]) -> Climb:
    """First rung lost, the rung held below it, and the highest held above it."""
    held = np.flatnonzero(state == HELD)
    lost = np.flatnonzero((state != HELD) & (state != NOT_REACHABLE))
    if not len(lost):
        if not len(held):
            message = "Not simulated: the stroke is too short to reach the speed on any rung."
            return Climb(trial.id, candidate, trial.unit, message=message)
        return Climb(trial.id, candidate, trial.unit, last_held=float(rungs[held[-1]]))
    below, above = held[held < lost[0]], held[held > lost[0]]
    return Climb(
        trial.id,
        candidate,
        trial.unit,
        first_lost=float(rungs[lost[0]]),
        last_held=float(rungs[below[-1]]) if len(below) else None,
        held_above=float(rungs[above[-1]]) if len(above) else None,
        phase=PHASES[int(state[lost[0]])],
        motor=int(motor[lost[0]]),
    )


def choose_grid(
    setup: Setup, direction: tuple[float, ...], top: tuple[float, float], stroke: float | None = None, maps: int = 1
) -> tuple[Array, Array, str | None]:
    """Choose the speeds [m/s] and accelerations [m/s²] of a map, coarser where the page's maps would take too long.

    Parameters
    ----------
    setup : Setup
        At its nominal values.
    direction : tuple (axes,)
        Unit vector of the path [1].
    top : (speed, acceleration)
        Upper ends of the grid [m/s], [m/s²]; its lower ends are one spacing above zero.
    stroke : float or None [m]
    maps : int
        Maps on the same page, which share its budget of steps.

    Returns
    -------
    speeds, accelerations, note
        note says when the grid is coarser than 48 × 48, else None.

    Assumes: the work is the number of motor steps, counted and not timed, so that a rebuild gives the same grid.
    Source: the project's own budget. Checked in tests/models/test_stall.py.
    """
    for count in (GRID, *COARSER_GRIDS):
        speeds, accelerations = (np.linspace(end / count, end, count) for end in top)
        if estimate_work(setup, direction, speeds, accelerations, stroke) <= PAGE_BUDGET / maps:
            break
    note = None if count == GRID else f"{count} × {count} cells instead of {GRID} × {GRID}, to keep the page quick."
    return speeds, accelerations, note


def estimate_work(
    setup: Setup, direction: tuple[float, ...], speeds: Array, accelerations: Array, stroke: float | None = None
) -> int:
    """Motor steps of a map, before any move is lost; 0 where the set-up cannot be simulated."""
    if check_plant(setup) is not None:
        return 0
    plant = build_plant(setup, direction, is_elastic(setup))
    speed, acceleration = (grid.ravel() for grid in np.meshgrid(speeds, accelerations))
    moves = plan_moves(speed, acceleration, stroke, setup.jerk)
    steps = estimate_steps(plant, moves.take(np.flatnonzero(find_reachable(moves))))
    overhead = 800  # of one step of all cells, in motor steps
    return int(steps.sum() * len(setup.motors) + overhead * steps.max(initial=0))


def trace_move(
    setup: Setup,
    direction: tuple[float, ...],
    speed: float,
    acceleration: float,
    stroke: float | None = None,
    refine: int = 1,
) -> Trace:
    """Simulate one move (speed [m/s], acceleration [m/s²], stroke [m]) and keep every step of it.

    Assumes and Source: as ``predict_stall_map``; the set-up is one that ``check_plant`` accepts.
    """
    plant = build_plant(setup, direction, is_elastic(setup))
    moves = plan_moves(np.array([speed]), np.array([acceleration]), stroke, setup.jerk)
    state, time, kept = start_state(plant, 1), np.zeros(1), []
    while time < _ended(moves):
        step = choose_step(plant, moves, time, state.speed) / refine
        for number, way in enumerate(advance_block(plant, moves, state, time, step), start=1):
            series = (time + number * step, plant.gear * way / plant.teeth, *vars(state).values())
            kept.append([np.copy(values) for values in series])
        time = time + BLOCK * step
    instants, command, angle, shaft_speed, _, current, position, velocity = (
        np.concatenate(series, axis=-1) for series in zip(*kept, strict=True)
    )
    return Trace(instants, command, angle, shaft_speed, current, position, velocity)


def _ended(moves: Moves) -> Array:
    """Time from which a move counts as over [s]: its end but for rounding."""
    return moves.duration * (1 - 1e-12)


_Outcome = tuple[NDArray[np.int8], NDArray[np.int8], int]


def _simulate(setup: Setup, direction: tuple[float, ...], moves: Moves, refine: int = 1) -> _Outcome | str:
    """State and lost motor of each move, and the cell steps planned; a sentence where that cannot be stepped."""
    problem = check_plant(setup)
    if problem is not None:
        return problem
    plant = build_plant(setup, direction, is_elastic(setup))
    state = np.full(len(moves.speed), NOT_REACHABLE, dtype=np.int8)
    motor = np.full(len(moves.speed), -1, dtype=np.int8)
    reachable = np.flatnonzero(find_reachable(moves))
    chosen = moves.take(reachable)
    steps = estimate_steps(plant, chosen)
    if steps.max(initial=0) > MOST_STEPS:
        return (
            f"Not simulated: a move would take {steps.max():,.0f} steps of at most {slowest_step(plant):.3g} s; "
            "look at inductance over resistance, inertia and friction."
        )
    state[reachable], motor[reachable] = _Runner(plant, chosen, refine).run()
    return state, motor, int(steps.sum())


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
            leaving = (self.time >= _ended(self.moves)) | self.far
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
        self.moves, self.state = self.moves.take(staying), self.state.take(staying)
        self.slipped, self.phase, self.motor = self.slipped[:, staying], self.phase[staying], self.motor[staying]
