"""Small faults of a module, each a copy of its syntax tree with one thing changed.

What is changed: comparisons, arithmetic, and/or, not, numbers, truth values, least and greatest, a statement left out.
What is not: words for people, annotations, docstrings, imports.
"""

from __future__ import annotations

import ast
import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
REASONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor", "argmin": "argmax", "argmax": "argmin"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One fault: where it is and what it makes of the code; `place` is its node in a walk of the source's tree, `number` which of its faults."""

    line: int
    change: str
    source: str
    place: int
    number: int

    @property
    def tree(self) -> ast.Module:
        """The module's tree with the fault: made when it is asked for, since few of all faults are run."""
        fault = ast.parse(self.source)
        node = next(node for k, node in enumerate(ast.walk(fault)) if k == self.place)
        _change(node, self.number)
        return ast.fix_missing_locations(fault)

    def code(self) -> str:
        """The module with the fault, as text."""
        return ast.unparse(self.tree)


def mutants(source: str) -> list[Mutant]:
    """Every fault that can be made of a module, in the order of its lines."""
    tree = ast.parse(source)
    free = _open_to_change(tree)
    found = []
    for place, node in enumerate(ast.walk(tree)):
        if id(node) not in free:
            continue
        for number in range(4):
            fault = copy.deepcopy(node)
            if not _change(fault, number):
                break
            found.append(Mutant(node.lineno, f"{_told(node)}  ->  {_told(fault)}", source, place, number))  # type: ignore[attr-defined]
    return sorted(found, key=lambda m: (m.line, m.change))


def _told(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0][:100]


def _open_to_change(tree: ast.Module) -> set[int]:
    """Nodes inside functions that are no annotation, no words, no decorator."""
    found: set[int] = set()

    def walk(node: ast.AST, inside: bool) -> None:
        if isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom | ast.Raise | ast.Assert):
            return
        if inside:
            found.add(id(node))
        for name, child in _children(node):
            if name in ("annotation", "returns", "decorator_list", "args") and isinstance(node, ast.FunctionDef | ast.AnnAssign | ast.arg):
                continue
            walk(child, inside or isinstance(node, ast.FunctionDef))

    walk(tree, inside=False)
    return found


def _children(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    for name, value in ast.iter_fields(node):
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield name, child


def _change(node: ast.AST, number: int) -> bool:
    """Make fault `number` of a node in place; False if there is none."""
    match node:
        case ast.Compare(ops=ops) if number < len(ops):
            ops[number] = COMPARED[type(ops[number])]()
        case ast.BinOp(op=op) if number == 0 and type(op) in REASONED:
            node.op = REASONED[type(op)]()
        case ast.BoolOp(op=op) if number == 0:
            node.op = ast.Or() if isinstance(op, ast.And) else ast.And()
        case ast.UnaryOp(op=ast.Not()) if number == 0:
            node.op = ast.UAdd()
            node.operand = ast.Call(ast.Name("bool", ast.Load()), [node.operand], [])
        case ast.UnaryOp(op=ast.USub()) if number == 0:
            node.op = ast.UAdd()
        case ast.Constant(value=bool()) if number == 0:
            node.value = not node.value
        case ast.Constant(value=int() | float()) if number == 0 and not isinstance(node.value, bool):
            assert isinstance(node.value, int | float)
            node.value = node.value + 1
        case ast.Call(func=ast.Name(id=name)) if number == 0 and name in SWAPPED:
            node.func = ast.Name(SWAPPED[name], ast.Load())
        case ast.Call(func=ast.Attribute(attr=name)) if number == 0 and name in SWAPPED:
            assert isinstance(node.func, ast.Attribute)
            node.func.attr = SWAPPED[name]
        case ast.If(test=test) if number == 0:
            node.test = ast.UnaryOp(ast.Not(), test)
        case ast.AugAssign(op=op) if number == 0 and type(op) in REASONED:
            node.op = REASONED[type(op)]()
        case _:
            return False
    return True
