"""Words are made at the edge and never read back: a walk over the code finds who takes apart what a person reads."""

from __future__ import annotations

import ast
from pathlib import Path

TOP = Path(__file__).parent.parent / "layout"
TAKES_APART = {"split", "rsplit", "partition", "rpartition", "startswith", "endswith", "removeprefix", "removesuffix", "find", "rfind"}
SAID = {"name", "label", "what", "where", "text", "words", "title", "before", "after", "unit", "allowance", "kind", "face", "thing", "stem"}
"""What things, edges, findings, changes, items and stages are called, wherever it goes."""
INPUT = {"readers", "survey"}
"""Folders that read what people wrote elsewhere: drawings, tables, measurements."""
MAY = {
    "__init__.py::__getattr__": "names of the Python API",
    "names.py::portable_stem": "names of files",
    "room/building.py::_why": "what GEOS says of an outline, told in plain words",
    "setout/told.py::_rest": "a surface's own name is left out of what is said of it, to say it once of several; nothing is learnt from it",
    "setout/told.py::surface_names": "'column 1 side 2' said short, by the side and number that the surface has as values",
    "setout/told.py::_things": "the same of the number",
    "sheets/elevation_sheet.py::_thing": "a key of the code: kinds of surfaces are of one thing by its first part",
    "sheets/found_sheet.py::_folded": "lines broken",
    "tanking/tape.py::_called": "a key of the code: kinds of junctions are made of two",
    "writers/page/geometry.py::kind_and_room": "names of the files of a set: number, room, sheet, part",
    "writers/page/geometry.py::frames": "the same",
    "writers/page/geometry.py::_standing": "the same",
    "writers/page/svg.py::column_of": "the same",
}
"""Where it is data that is taken apart, and which."""


def taken_apart(source: str, where: str) -> set[str]:
    """Functions that take apart what something is called, as file::function."""
    found = set()
    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef):
            continue
        for node in ast.walk(function):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in TAKES_APART:
                of = node.func.value
                of = of.value if isinstance(of, ast.Subscript) else of
                called = of.attr if isinstance(of, ast.Attribute) else of.id if isinstance(of, ast.Name) else ""
                if called in SAID:
                    found.add(f"{where}::{function.name}")
    return found


def test_nobody_reads_back_what_a_thing_is_called():
    found: set[str] = set()
    for path in sorted(TOP.rglob("*.py")):
        where = path.relative_to(TOP)
        if where.parts[0] not in INPUT:
            found |= taken_apart(path.read_text("utf-8"), where.as_posix())
    assert found == set(MAY)


def test_the_walk_finds_what_it_looks_for():
    sin = 'def place(row):\n    return row.what.removeprefix("line of ").split(", was ")[0]\n'
    assert taken_apart(sin, "sheet.py") == {"sheet.py::place"}
    assert taken_apart('def place(row):\n    return row.at\n\n\ndef path(source):\n    return source.split("/")\n', "sheet.py") == set()
