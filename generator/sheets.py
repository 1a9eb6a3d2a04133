"""The bench sheet as files to take to the bench: a page for print, CSVs to fill in, and a move list.

The move list goes through a line template that the author supplies, so no controller's dialect is built in. Such a
template may place values and calculate with them; it cannot loop, call or reach for attributes.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import jinja2
import jinja2.nodes
from jinja2.sandbox import SandboxedEnvironment

from generator.errors import UsageError
from generator.units import find_display, format_quantity

MOST_MOVES = 20_000
ALLOWED = (
    jinja2.nodes.Template, jinja2.nodes.Output, jinja2.nodes.TemplateData, jinja2.nodes.Name, jinja2.nodes.Const,
    jinja2.nodes.Add, jinja2.nodes.Sub, jinja2.nodes.Mul, jinja2.nodes.Div, jinja2.nodes.Neg, jinja2.nodes.Pos,
    jinja2.nodes.Filter,
)  # fmt: skip
FILTERS = ("round", "int", "abs")
TEXTS = ("trial", "candidate")
LARGEST = 1e9
FIELDS = ("number", "trial", "candidate", "rung", "speed", "acceleration", "x", "y", "z")
"""What a line may place: speed [mm/s], acceleration [mm/s²], x, y, z [mm] from where the move starts."""


def write_csvs(results: Mapping[str, Any]) -> dict[str, str]:
    """One CSV per trial and candidate, with a row a run and its place in the order, to fill in and name in ``runs``."""
    files = {}
    for plan in results["bench_sheet"]:
        unit = find_display(plan["unit"]).text
        order = plan["order"] or tuple(plan["candidates"])
        done = _last_place(results, plan["trial"])
        for candidate in plan["candidates"]:
            places = [done + k for k, name in enumerate(order, start=1) if name == candidate]
            text = io.StringIO()
            writer = csv.writer(text, lineterminator="\r\n")
            writer.writerow([f"held [{unit}]", f"lost [{unit}]", "stopped", "order", "time", "note"])
            writer.writerows(["", "", "", place, "", ""] for place in places)
            files[f"{plan['trial']}-{candidate}.csv"] = text.getvalue()
    return files


def _last_place(results: Mapping[str, Any], trial: str) -> int:
    """The last place in the order that a run of the trial has already, 0 where none has."""
    runs = (run for row in results["measurements"] if row["item"] == trial for run in row["runs"])
    return max((run.get("order") or 0 for run in runs), default=0)


def write_moves(results: Mapping[str, Any], template: str) -> dict[str, str]:
    """One move list per trial and candidate: out and back on every coarse rung of its ladder."""
    line = compile_line(template)
    files = {}
    for plan in results["bench_sheet"]:
        for candidate, own in plan["candidates"].items():
            if own["ladder"] is not None:
                trial = next(trial for trial in results["trials"] if trial["id"] == plan["trial"])
                _check_stroke(trial, own, plan["unit"])
                moves = [_render_line(line, move) for move in list_moves(trial, candidate, own, results)]
                files[f"{plan['trial']}-{candidate}-moves.txt"] = "\n".join(moves) + "\n"
    return files


def _render_line(line: jinja2.Template, move: Mapping[str, Any]) -> str:
    try:
        return line.render(move)
    except (ArithmeticError, TypeError, ValueError) as error:
        numbers = ", ".join(f"{name} = {move[name]}" for name in FIELDS if name not in TEXTS)
        raise UsageError(f"--line cannot be worked out: {error}", f"it is given {numbers}") from error


def _check_stroke(trial: Mapping[str, Any], plan: Mapping[str, Any], unit: str) -> None:
    """Refuse moves that would end before they reach their speed."""
    if plan["stroke_enough"] is False:
        needed, stroke = (format_quantity(plan["stroke_needed"], "m"), format_quantity(trial["stroke"], "m"))
        way = "above" if trial["measures"] == "acceleration" else "below"
        raise UsageError(
            f"{trial['id']}: its ladder needs a stroke of {needed}, the file gives {stroke}",
            f"give a longer stroke, or keep the ladder {way} {format_quantity(plan['reachable'], unit)}",
        )


def compile_line(template: str) -> jinja2.Template:
    """The author's line template; UsageError where it does more than place and calculate."""
    sandbox = SandboxedEnvironment(undefined=jinja2.StrictUndefined, autoescape=False)
    fix = f"place any of {', '.join(FIELDS)} like {{{{ speed }}}}, with + - * / and the filters {', '.join(FILTERS)}"
    try:
        tree = sandbox.parse(template)
    except jinja2.TemplateSyntaxError as error:
        raise UsageError(f"the line template is not understood: {error.message}", fix) from error
    for node in tree.find_all(jinja2.nodes.Node):
        _check_node(node, fix)
    if "\n" in template or "\r" in template:
        raise UsageError("the line template holds more than one line", fix)
    return sandbox.from_string(template)


def _check_node(node: jinja2.nodes.Node, fix: str) -> None:
    if isinstance(node, jinja2.nodes.Keyword | jinja2.nodes.EvalContext):
        return
    if not isinstance(node, ALLOWED):
        raise UsageError(f"the line template may not use {type(node).__name__.lower()}", fix)
    if isinstance(node, jinja2.nodes.Name) and node.name not in FIELDS:
        raise UsageError(f"the line template names {node.name!r}, which is nothing that a move has", fix)
    if isinstance(node, jinja2.nodes.Filter) and node.name not in FILTERS:
        raise UsageError(f"the line template may not use the filter {node.name!r}", fix)
    if isinstance(node, jinja2.nodes.BinExpr):
        texts = [name.name for name in node.find_all(jinja2.nodes.Name) if name.name in TEXTS]
        if texts:
            raise UsageError(f"the line template calculates with {texts[0]!r}, which is a text", fix)
    if isinstance(node, jinja2.nodes.Const) and not _is_figure(node.value):
        raise UsageError(f"the line template holds {node.value!r} where a figure is wanted", fix)


def _is_figure(value: Any) -> bool:
    return isinstance(value, int | float) and abs(value) <= LARGEST


def list_moves(
    trial: Mapping[str, Any], candidate: str, plan: Mapping[str, Any], results: Mapping[str, Any]
) -> Iterator[dict[str, Any]]:
    """Every move of the coarse climb, whose last rung is the stop, out and back by turns."""
    ladder, per_rung = plan["ladder"], int(results["report"]["bench"].get("moves_per_rung") or 2)
    rungs = math.ceil((ladder["stop"] - ladder["start"]) / ladder["coarse"] - 1e-6) + 1
    if rungs * per_rung > MOST_MOVES:
        raise UsageError(f"{trial['id']} would take {rungs * per_rung} moves", f"at most {MOST_MOVES} are written")
    stroke = trial["stroke"] or plan["stroke_needed"] or 0.0
    length = sum(share**2 for share in trial["direction"].values()) ** 0.5
    number = 0
    for k in range(rungs):
        rung = min(ladder["start"] + k * ladder["coarse"], ladder["stop"])
        speed, acceleration = (
            (trial["speed"], rung) if trial["measures"] == "acceleration" else (rung, trial["acceleration"])
        )
        for _ in range(per_rung):
            number += 1
            way = 1000.0 * stroke * (1 if number % 2 else -1) / length
            place = {axis: round(way * trial["direction"].get(axis, 0.0), 4) for axis in "xyz"}
            yield {
                "number": number, "trial": trial["id"], "candidate": candidate, "rung": k + 1,
                "speed": _milli(speed), "acceleration": _milli(acceleration), **place,
            }  # fmt: skip


def _milli(value: float | None) -> float | str:
    """mm from m; empty where the trial leaves it open."""
    return "" if value is None else round(1000.0 * value, 4)


def write_files(folder: Path, files: Mapping[str, str]) -> list[Path]:
    """Write new files into a folder; one that is there is never overwritten."""
    taken = [name for name in files if (folder / name).exists()]
    if taken:
        raise UsageError(f"{folder / taken[0]} is there already", "name another folder with --to, or move it away")
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return [folder / name for name in files]
