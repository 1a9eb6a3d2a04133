"""Owns the stall map and the simulated climb of a ladder: which moves a set-up holds, and in which phase it does not.

A move is lost if any rotor rests a whole number of electrical turns away from its command after the move.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from generator.models.outcomes import MOST_CELLS, Job, Outcome, ended, run_jobs
from generator.models.plant import build_plant, check_plant, is_elastic
from generator.models.profile import Array, Moves, find_reachable, plan_moves
from generator.models.simulation import BLOCK, advance_block, choose_step, estimate_steps, start_state
from generator.records.hardware import Setup
from generator.records.simulation import HELD, NOT_REACHABLE, PHASES, Climb, StallMap, Trace
from generator.records.trial import ACCELERATION, Trial

GRID = 48
COARSER_GRIDS = (40, 32, 24, 16, 12)
PAGE_BUDGET = 150_000_000
"""Motor steps that a page may spend on its maps: about 5 s on the core it was set on, 10 s on one half as fast."""
OVERHEAD = 800
"""What one step costs however few its cells, in motor steps."""
MOST_RUNGS = 2000


@dataclass(frozen=True)
class Grid:
    """A map to make: a set-up at nominal values, a direction (unit vector), speeds [m/s], accelerations [m/s²], and
    the stroke of each move [m], None where it is open. note says where it is coarser than usual."""

    setup: Setup
    direction: tuple[float, ...]
    speeds: Array
    accelerations: Array
    stroke: float | None = None
    note: str | None = None

    def moves(self) -> Moves:
        """Every pair of speed and acceleration, row by row."""
        speed, acceleration = (cells.ravel() for cells in np.meshgrid(self.speeds, self.accelerations))
        return plan_moves(speed, acceleration, self.stroke, self.setup.jerk)


def predict_stall_map(grid: Grid, refine: int = 1) -> StallMap:
    """Simulate every move of one grid and tell which are held; see ``predict_stall_maps``."""
    return predict_stall_maps([grid], refine)[0]


def predict_stall_maps(grids: Sequence[Grid], refine: int = 1) -> list[StallMap]:
    """Simulate every move of some speed × acceleration grids and tell which are held.

    Parameters
    ----------
    grids : sequence of Grid
        Small ones run joined; each gives the same as alone.
    refine : int
        Divides the step length; 1 is enough, more serves checks.

    Returns
    -------
    list of StallMap
        One per grid; with a message and no cells where the set-up cannot be simulated.

    Assumes: ideal regulator, constant inductance, no detent torque, belts as springs without damping where every one
    has a stiffness, else rigid; cruise capped at 0.1 s, rest 0.03 s.
    Valid for: comparing with the static, start and any-timing lines at the same inputs.
    Source: two-phase synchronous machine equations (Acarnley, Stepping Motors, chapter 4), exact phase response to a
    constant voltage. Checked in tests/models/test_stall.py against scipy.integrate.solve_ivp.
    """
    outcomes = run_jobs([Job(grid.setup, grid.direction, grid.moves()) for grid in grids], refine)
    return [_draw_up(grid, outcome) for grid, outcome in zip(grids, outcomes, strict=True)]


def _draw_up(grid: Grid, outcome: Outcome) -> StallMap:
    """The map of one grid from the outcomes of its moves."""
    shape = (len(grid.accelerations), len(grid.speeds)) if outcome.message is None else (0, 0)
    return StallMap(
        candidate=grid.setup.candidate,
        direction=grid.direction,
        speeds=grid.speeds,
        accelerations=grid.accelerations,
        stroke=grid.stroke,
        state=outcome.state.reshape(shape),
        lost_motor=outcome.motor.reshape(shape),
        elastic=is_elastic(grid.setup),
        cell_steps=outcome.steps,
        note=grid.note,
        message=outcome.message,
    )


def climb_ladder(setup: Setup, trial: Trial, limit: float | None) -> Climb:
    """Climb one trial's ladder in simulation; see ``climb_ladders``."""
    return climb_ladders([(setup, trial, limit)])[0]


def climb_ladders(cases: Sequence[tuple[Setup, Trial, float | None]]) -> list[Climb]:
    """Climb ladders in simulation, all rungs of all of them at once.

    Parameters
    ----------
    cases : sequence of (Setup, Trial, float or None)
        A set-up at its nominal values; a trial with a ladder, a speed trial also with its acceleration; the upper end
        [m/s² or m/s] where the ladder is open, e.g. the high end of the static limit.

    Returns
    -------
    list of Climb
        One per case; with a message and no rungs where its ladder cannot be climbed. Each is the same as alone.

    Assumes and Source: as ``predict_stall_map``. Checked in tests/models/test_stall.py.
    """
    ladders = [list_rungs(trial, limit) for _, trial, limit in cases]
    known = [(case, rungs) for case, rungs in zip(cases, ladders, strict=True) if not isinstance(rungs, str)]
    outcomes = iter(run_jobs([_ladder_job(setup, trial, rungs) for (setup, trial, _), rungs in known]))
    climbs = []
    for (setup, trial, _), rungs in zip(cases, ladders, strict=True):
        bare = Climb(trial.id, setup.candidate, trial.unit)
        if isinstance(rungs, str):
            climbs.append(replace(bare, message=rungs))
        else:
            climbs.append(_read_ladder(bare, rungs, next(outcomes)))
    return climbs


def _ladder_job(setup: Setup, trial: Trial, rungs: Array) -> Job:
    """The moves of a ladder's rungs."""
    if trial.measures == ACCELERATION:
        speed, acceleration = np.full_like(rungs, trial.speed), rungs
    else:
        speed, acceleration = rungs, np.full_like(rungs, trial.acceleration)
    return Job(setup, trial.direction, plan_moves(speed, acceleration, trial.stroke, setup.jerk))


def list_rungs(trial: Trial, limit: float | None) -> Array | str:
    """The rungs of a trial from start to stop, or to the limit [its own unit]; a sentence where nothing is to climb."""
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


def _read_ladder(bare: Climb, rungs: Array, outcome: Outcome) -> Climb:
    """First rung lost, the rung held below it, and the highest held above it."""
    if outcome.message is not None:
        return replace(bare, message=outcome.message)
    held = np.flatnonzero(outcome.state == HELD)
    lost = np.flatnonzero((outcome.state != HELD) & (outcome.state != NOT_REACHABLE))
    if not len(lost) and not len(held):
        return replace(bare, message="Not simulated: the stroke is too short to reach the speed on any rung.")
    if not len(lost):
        return replace(bare, last_held=float(rungs[held[-1]]))
    first, below, above = lost[0], held[held < lost[0]], held[held > lost[0]]
    return replace(
        bare,
        first_lost=float(rungs[first]),
        last_held=float(rungs[below[-1]]) if len(below) else None,
        held_above=float(rungs[above[-1]]) if len(above) else None,
        phase=PHASES[int(outcome.state[first])],
        motor=int(outcome.motor[first]),
    )


def choose_grid(
    setup: Setup, direction: tuple[float, ...], top: tuple[float, float], stroke: float | None = None, maps: int = 1
) -> Grid:
    """Choose the speeds and accelerations of a map, coarser where the page's maps would take too long.

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
        Maps on the same page, which share its budget of steps and are taken as like this one.

    Returns
    -------
    Grid
        Its note says when it is coarser than 48 × 48.

    Assumes: the work is the number of motor steps, counted and not timed, so that a rebuild gives the same grid.
    Source: the project's own budget. Checked in tests/models/test_stall.py.
    """
    for count in (GRID, *COARSER_GRIDS):
        speeds, accelerations = (np.linspace(end / count, end, count) for end in top)
        grid = Grid(setup, direction, speeds, accelerations, stroke)
        if estimate_work(grid, maps) <= PAGE_BUDGET:
            break
    coarser = f"This map has {count} × {count} cells instead of {GRID} × {GRID}, to keep the page quick."
    return replace(grid, note=None if count == GRID else coarser)


def estimate_work(grid: Grid, maps: int = 1) -> int:
    """Motor steps of some like maps, before any move is lost, with the overhead of each joined run; 0 for no run."""
    setup, moves = grid.setup, grid.moves()
    if check_plant(setup) is not None:
        return 0
    plant = build_plant(setup, grid.direction, is_elastic(setup))
    steps = estimate_steps(plant, moves.take(np.flatnonzero(find_reachable(moves))))
    runs = math.ceil(maps / max(1, MOST_CELLS // max(1, len(steps))))
    return int(maps * steps.sum() * len(setup.motors) + runs * OVERHEAD * steps.max(initial=0))


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
    while time < ended(moves):
        step = choose_step(plant, moves, time, state.speed) / refine
        for number, way in enumerate(advance_block(plant, moves, state, time, step), start=1):
            series = (time + number * step, plant.gear * way / plant.teeth, *vars(state).values())
            kept.append([np.copy(values) for values in series])
        time = time + BLOCK * step
    instants, command, angle, shaft_speed, _, current, position, velocity = (
        np.concatenate(series, axis=-1) for series in zip(*kept, strict=True)
    )
    return Trace(instants, command, angle, shaft_speed, current, position, velocity)
