"""Small changes to a module's source, one at a time: other operators, bounds, constants, branches."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

BINARY = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.Mod: ast.Mult,
}
COMPARE = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
SYMBOLS = {
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**", ast.Mod: "%", ast.Lt: "<", ast.LtE: "<=",
    ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=", ast.Is: "is", ast.IsNot: "is not", ast.In: "in",
    ast.NotIn: "not in", ast.And: "and", ast.Or: "or",
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: number of the node in walking order, variant, line, what becomes what."""

    node: int
    variant: int
    line: int
    what: str


def list_mutants(source: str) -> list[Mutant]:
    """Every change that can be made to a module, in order of its places."""
    found = []
    for number, node in enumerate(_code_nodes(ast.parse(source))):
        changes = list(_changes(node))
        found += [Mutant(number, k, node.lineno, what) for k, (what, _) in enumerate(changes)]
    return sorted(found, key=lambda mutant: (mutant.line, mutant.node, mutant.variant))


def apply(source: str, mutant: Mutant) -> str:
    """The module's source with one change made."""
    tree = ast.parse(source)
    node = list(_code_nodes(tree))[mutant.node]
    _, changed = list(_changes(node))[mutant.variant]
    node.__class__ = changed.__class__
    node.__dict__.clear()
    node.__dict__.update(changed.__dict__)
    return ast.unparse(ast.fix_missing_locations(tree))


def _code_nodes(tree: ast.AST) -> Iterator[ast.expr]:
    """Expressions that are computed: no annotations, no docstrings, no default of a data class's text."""
    for field, value in ast.iter_fields(tree):
        if field in ("annotation", "returns", "decorator_list"):
            continue
        for node in value if isinstance(value, list) else [value]:
            if isinstance(node, ast.AST):
                if isinstance(node, ast.expr):
                    yield node
                yield from _code_nodes(node)


def _changes(node: ast.expr) -> Iterator[tuple[str, ast.expr]]:
    new = copy.copy(node)
    if isinstance(node, ast.BinOp) and type(node.op) in BINARY and not _is_text(node):
        new.op = BINARY[type(node.op)]()
        yield _swap(node.op, new.op), new
    elif isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARE:
        new.ops = [COMPARE[type(node.ops[0])](), *node.ops[1:]]
        yield _swap(node.ops[0], new.ops[0]), new
    elif isinstance(node, ast.BoolOp):
        new.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield _swap(node.op, new.op), new
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        yield f"{ast.unparse(node)[:40]} loses its sign", copy.copy(node.operand)
    elif isinstance(node, ast.IfExp):
        new.body, new.orelse = node.orelse, node.body
        yield "branches of if and else", new
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        new.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.1 + (node.value == 0)
        yield f"{node.value!r} → {new.value!r}", new
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        new.value = not node.value
        yield f"{node.value!r} → {new.value!r}", new


def _is_text(node: ast.BinOp) -> bool:
    sides = (node.left, node.right)
    return any(isinstance(side, ast.JoinedStr | ast.List | ast.Tuple) or _is_word(side) for side in sides)


def _is_word(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def _swap(old: ast.AST, new: ast.AST) -> str:
    return f"{SYMBOLS[type(old)]} → {SYMBOLS[type(new)]}"
