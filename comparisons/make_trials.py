"""Makes the invented runs of the comparisons in this folder: a stated truth plus noise, the seed stated.

    python comparisons/make_trials.py

Every figure below is invented. A run climbs its ladder until a rung exceeds the truth of the day, which scatters
about the stated one; an attempt on a rung holds with a probability that falls with the rung.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

SEED = 20260918
HERE = Path(__file__).parent


@dataclass(frozen=True)
class Climb:
    """Runs of one candidate: unit, first rung, rung, true limit, scatter, runs; beyond ``reach`` the stroke ends it."""

    unit: str
    start: float
    rung: float
    truth: float
    scatter: float
    orders: tuple[int, ...]
    reach: float = math.inf


@dataclass(frozen=True)
class Tries:
    """Attempts of one candidate: unit, rungs, the even chance, steepness, tries on each rung."""

    unit: str
    rungs: tuple[float, ...]
    even: float
    steepness: float
    tries: int


ACCELERATION, SPEED = "m/s²", "mm/s"

RUNS: dict[str, Climb | Tries] = {
    "braille-plate-plotter/runs/diagonal-500-series": Climb(ACCELERATION, 20, 1, 46.5, 0.9, (1, 4, 5, 8, 9)),
    "braille-plate-plotter/runs/diagonal-500-parallel": Climb(ACCELERATION, 20, 1, 58.5, 1.1, (2, 3, 6, 7, 10)),
    "braille-plate-plotter/runs/diagonal-900-series": Tries(ACCELERATION, (14, 16, 18, 20, 22, 24), 19.4, 1.1, 6),
    "braille-plate-plotter/runs/diagonal-900-parallel": Tries(ACCELERATION, (42, 44, 46, 48, 50, 52, 54), 48.6, 1.6, 6),
    "braille-plate-plotter/runs/straight-150-series": Climb(ACCELERATION, 50, 1, 100.6, 1.3, (1, 4, 5, 8, 9, 12)),
    "braille-plate-plotter/runs/straight-150-parallel": Climb(ACCELERATION, 50, 1, 101.1, 1.3, (2, 3, 6, 7, 10, 11)),
    "braille-plate-plotter/runs/diagonal-300-series": Climb(ACCELERATION, 20, 1, 52.0, 1.0, (1, 2, 3)),
    "braille-plate-plotter/runs/diagonal-300-parallel": Tries(ACCELERATION, (48, 50, 52, 54, 56, 58), 53.4, 1.2, 6),
    "braille-plate-plotter/runs/top-speed-series": Climb(SPEED, 800, 50, 1430, 5, (1, 4)),
    "braille-plate-plotter/runs/top-speed-parallel": Climb(SPEED, 800, 50, 2400, 30, (2, 3), 1816),
    "braille-plate-plotter/runs/top-speed-y-series": Climb(SPEED, 600, 50, 1130, 20, (1,)),
    "braille-plate-plotter/runs/top-speed-y-parallel": Climb(SPEED, 600, 50, 1210, 20, (2,)),
    "herbarium-gantry/runs/along-y-150-v24": Climb(ACCELERATION, 10, 0.5, 15.6, 0.45, (1, 6, 7, 12, 13, 18)),
    "herbarium-gantry/runs/along-y-150-v36": Climb(ACCELERATION, 10, 0.5, 15.7, 0.45, (2, 5, 8, 11, 14, 17)),
    "herbarium-gantry/runs/along-y-150-v48": Climb(ACCELERATION, 10, 0.5, 15.8, 0.45, (3, 4, 9, 10, 15, 16)),
    "herbarium-gantry/runs/along-y-800-v24": Climb(ACCELERATION, 2, 0.5, 4.4, 0.3, (1, 6, 7, 12)),
    "herbarium-gantry/runs/along-y-800-v36": Climb(ACCELERATION, 2, 0.5, 8.6, 0.3, (2, 5, 8, 11)),
    "herbarium-gantry/runs/along-y-800-v48": Climb(ACCELERATION, 2, 0.5, 12.3, 0.4, (3, 4, 9, 10)),
    "herbarium-gantry/runs/along-x-600-v24": Climb(ACCELERATION, 6, 1, 16.4, 1.2, (1, 6, 7)),
    "herbarium-gantry/runs/along-x-600-v36": Climb(ACCELERATION, 6, 1, 26.0, 1.4, (2, 5, 8)),
    "herbarium-gantry/runs/along-x-600-v48": Climb(ACCELERATION, 6, 1, 28.0, 1.4, (3, 4, 9)),
    "herbarium-gantry/runs/along-y-1100-v24": Climb(ACCELERATION, 4, 0.5, 2.3, 0.2, (1,)),
    "herbarium-gantry/runs/along-y-1100-v36": Climb(ACCELERATION, 4, 0.5, 5.9, 0.3, (2, 4, 6)),
    "herbarium-gantry/runs/along-y-1100-v48": Climb(ACCELERATION, 4, 0.5, 8.6, 0.3, (3, 5, 7)),
    "herbarium-gantry/runs/top-speed-y-v24": Climb(SPEED, 700, 50, 850, 25, (1, 4, 7)),
    "herbarium-gantry/runs/top-speed-y-v36": Climb(SPEED, 700, 50, 1330, 25, (2, 5, 8)),
    "herbarium-gantry/runs/top-speed-y-v48": Climb(SPEED, 700, 50, 1900, 25, (3,), 1549),
}


def climb(plan: Climb, draw: np.random.Generator) -> list[dict[str, str]]:
    """One row a run: the last rung held and the first lost, or where the stroke ended the climb."""
    held, lost = f"held [{plan.unit}]", f"lost [{plan.unit}]"
    rows = []
    for order in plan.orders:
        limit = plan.truth + plan.scatter * draw.standard_normal()
        below = max(-1, math.floor((min(limit, plan.reach) - plan.start) / plan.rung))
        row = {
            held: f"{plan.start + below * plan.rung:g}" if below >= 0 else "",
            lost: "",
            "stopped": "",
            "order": str(order),
        }
        if limit > plan.reach:
            row["stopped"] = "stroke"
        else:
            row[lost] = f"{plan.start + (below + 1) * plan.rung:g}"
        rows.append(row)
    return rows


def attempt(plan: Tries, draw: np.random.Generator) -> list[dict[str, str]]:
    """One row a rung: how many tries held and how many lost."""
    rows = []
    for rung in plan.rungs:
        held = int(draw.binomial(plan.tries, 1 / (1 + math.exp((rung - plan.even) / plan.steepness))))
        rows.append({f"at [{plan.unit}]": f"{rung:g}", "held": str(held), "lost": str(plan.tries - held)})
    return rows


def main() -> None:
    """Write every CSV; each has a stream of its own, so that one more changes no other."""
    for number, (name, plan) in enumerate(RUNS.items()):
        draw = np.random.default_rng([SEED, number])
        rows = climb(plan, draw) if isinstance(plan, Climb) else attempt(plan, draw)
        path = HERE / f"{name}.csv"
        path.parent.mkdir(exist_ok=True)
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\r\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
