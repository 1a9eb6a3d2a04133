"""A plain comparison to spoil, and a call that may not take for ever."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

PLAIN = """\
schema: 1
title: Two motors
date: 2026-09-18
data: invented
stall_map: false
common:
  machine:
    axes: {x: {moving_mass: 420 g, travel: 250 mm}}
    transmission: {belt_pitch: 2 mm, pulley_teeth: 20, efficiency: 94 %}
  supply: {voltage: 24 V}
  drive: {peak_current: 1.5 A}
candidates:
  - id: short
    name: Short motor
    motor: {step_angle: 1.8 deg, holding_torque: 0.26 N·m, rated_current: 1.5 A, resistance: 1.5 ohm,
      inductance: 2.3 mH, rotor_inertia: 38 g·cm²}
  - id: long
    name: Long motor
    motor: {step_angle: 1.8 deg, holding_torque: 0.45 N·m, rated_current: 1.5 A, resistance: 2.2 ohm,
      inductance: 4.6 mH, rotor_inertia: 68 g·cm²}
trials:
  - id: start-300
    measures: acceleration
    direction: {x: 1}
    speed: 300 mm/s
    stroke: 120 mm
    ladder: {start: 10 m/s², rung: 1 m/s²}
    runs: {short: runs.csv, long: [{held: 50 m/s², lost: 51 m/s²}]}
"""
"""Names one file, runs.csv."""


def run_limited(work: Callable[[], Any], seconds: float) -> Exception | None:
    """What a call raised, None if nothing; fails where it does not come back in time, as one that waits on a pipe."""
    raised: list[Exception] = []

    def run() -> None:
        try:
            work()
        except Exception as error:
            raised.append(error)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(seconds)
    assert not thread.is_alive(), f"no answer within {seconds} s"
    return raised[0] if raised else None
