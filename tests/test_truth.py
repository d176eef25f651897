"""The suite judges itself: a test whose every assertion stands in a loop says first that the loop ran."""

from __future__ import annotations

import ast
from pathlib import Path

HERE = Path(__file__).parent


def surely_runs(loop: ast.For) -> bool:
    """Whether a loop goes over something written down with members in it: a display, a range of numbers, a constant in capitals."""
    over = loop.iter
    while isinstance(over, ast.Call) and (over.args or isinstance(over.func, ast.Attribute)):
        if isinstance(over.func, ast.Name) and over.func.id == "range":
            return all(isinstance(each, ast.Constant) for each in over.args)
        over = over.func.value if isinstance(over.func, ast.Attribute) and not over.args else over.args[0]
    if isinstance(over, ast.Tuple | ast.List | ast.Set):
        return bool(over.elts)
    if isinstance(over, ast.Dict):
        return bool(over.keys)
    return isinstance(over, ast.Name) and over.id.isupper()


def judged(node: ast.AST) -> bool:
    """Whether a statement asserts: `assert`, or `with pytest.raises`."""
    return isinstance(node, ast.Assert) or (isinstance(node, ast.With) and "raises" in ast.unparse(node.items[0]))


def asserts_only_in_loops(function: ast.FunctionDef) -> list[int]:
    """Lines of loops that may not run and hold every assertion of a test; none if something is asserted outside them."""
    loops: list[int] = []
    outside = False

    def walk(node: ast.AST, unsure: int | None) -> None:
        nonlocal outside
        for child in ast.iter_child_nodes(node):
            if judged(child):
                if unsure is None:
                    outside = True
                else:
                    loops.append(unsure)
            own = child.lineno if isinstance(child, ast.While) or (isinstance(child, ast.For) and not surely_runs(child)) else None
            walk(child, unsure or own)

    walk(function, None)
    return [] if outside else sorted(set(loops))


def test_tests_that_assert_in_a_loop_say_first_that_it_ran():
    found = []
    tests = 0
    for path in sorted(HERE.rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                tests += 1
                found += [f"{path.relative_to(HERE)}:{line} {node.name}" for line in asserts_only_in_loops(node)]
    assert tests > 250
    assert not found


def test_the_judge_knows_a_loop_that_may_not_run():
    def loops(text: str) -> list[int]:
        (function,) = ast.parse(text).body
        assert isinstance(function, ast.FunctionDef)
        return asserts_only_in_loops(function)

    assert loops("def test_a(rows):\n for row in rows:\n  assert row") == [2]
    assert loops("def test_a(rows):\n assert rows\n for row in rows:\n  assert row") == []
    assert loops("def test_a():\n for row in (1, 2):\n  assert row") == []
    assert loops("def test_a():\n for k, row in enumerate([1, 2]):\n  assert row") == []
    assert loops("def test_a():\n for k, row in {1: 2}.items():\n  assert row") == []
    assert loops("def test_a(n):\n for row in range(n):\n  assert row") == [2]
    assert loops("def test_a():\n for row in ():\n  assert row") == [2]
    assert loops("def test_a(rows):\n for row in (1, 2):\n  for each in rows:\n   assert each") == [3]
