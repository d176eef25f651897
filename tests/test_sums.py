"""Sums that may reach a file are the same in every version of the language.

From Python 3.12 on the built-in `sum` of floats is compensated, so its last digit differs from 3.11's; `math.fsum` rounds once, everywhere
alike. Here `sum` may only count."""

import ast
from pathlib import Path

TOP = Path(__file__).parent.parent

COUNTS = {
    "layout/changes/variants.py": {"batch.whole + len(batch.tiles)"},
    "layout/joints/divide.py": {"ends_at(line, other)"},  # yes or no
    "layout/joints/partition.py": {"columns[:i]", "rows[:j]"},  # cells as bits
    "layout/programme/batches.py": {"count"},
    "layout/quantities/labour.py": {"each.cuts"},
    "layout/quantities/needs.py": {"floor.field.places_cut()"},
    "layout/quantities/portfolio.py": {"each.packs", "cuts.whole"},
    "layout/quantities/solver.py": {"self.held[k]"},  # arrays, added one by one in every version
    "layout/readers/drawingfile.py": {"count"},
    "layout/setout/checks.py": {"bite.tiles"},
    "layout/setout/freeing.py": {"done.field.places_cut()"},
    "layout/setout/runs.py": {"each.whole", "max(len(each.tiles) - 1, 0)"},
    "layout/sheets/cut_rows.py": {"counts.values()", "alike.values()"},
    "layout/sheets/lettering.py": {"metrics[cmap.get(ord(char), '.notdef')][0]"},  # units of the font, whole numbers
    "layout/start/both_ways.py": {"one.evaluations"},
    "layout/start/mends.py": {"weak_in(laid.pieces)"},
    "layout/tiles/skirting.py": {"run.straight"},
    "layout/writers/dxf.py": {"once.values()"},
    "cli/bills.py": {"w.rooms", "w.whole", "w.cut", "w.findings"},
}
"""What is summed and is whole numbers though its shape does not tell."""


def summed(text: str) -> list[str]:
    """What each `sum` of a module adds up, but for what is a count by its shape: a comparison, a length, one for each, a bit."""
    calls = [each for each in ast.walk(ast.parse(text)) if isinstance(each, ast.Call) and ast.unparse(each.func) == "sum"]
    what = [each.args[0].elt if isinstance(each.args[0], ast.GeneratorExp | ast.ListComp) else each.args[0] for each in calls]
    return [ast.unparse(each) for each in what if not counts(each)]


def counts(what: ast.expr) -> bool:
    match what:
        case ast.Compare() | ast.UnaryOp(op=ast.Not()) | ast.BinOp(op=ast.LShift()):
            return True
        case ast.Constant(value=int()):
            return True
        case ast.Call(func=ast.Name(id="len" | "int" | "bool")):
            return True
        case _:
            return False


def test_no_sum_of_lengths_areas_or_money_depends_on_the_version():
    told = {
        path.relative_to(TOP).as_posix(): set(summed(path.read_text(encoding="utf-8")))
        for folder in ("layout", "cli")
        for path in (TOP / folder).rglob("*.py")
    }
    assert {name: what for name, what in told.items() if what} == COUNTS


def test_a_sum_of_lengths_would_be_seen():
    assert summed("a = sum(run.length for run in runs) + sum(widths)") == ["run.length", "widths"]
    assert summed("a = sum(run.length > 1 for run in runs) + sum(len(each) for each in runs) + sum(not each for each in runs)") == []
