"""Only the writer writes: a walk over the code finds whoever else opens a file to write, moves one or takes one away."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
WRITER = {"layout/writers/files.py", "layout/writers/handover.py"}
"""Whole or nothing, and the change of hands: all that comes to stand in a person's folder goes through these two."""
WRITES = {
    *("write_text", "write_bytes", "touch", "mkdir", "rmdir", "unlink", "chmod", "symlink_to", "hardlink_to", "makedirs", "rmtree"),
    *("savefig", "saveas", "save", "savez", "savetxt", "imsave", "tofile", "to_csv", "to_excel", "to_file"),
    *("copy2", "copyfile", "copyfileobj", "copytree", "mkdtemp", "mkstemp", "TemporaryDirectory", "NamedTemporaryFile", "TemporaryFile"),
    *("Workbook", "PdfPages", "ZipFile", "removedirs", "symlink", "truncate", "fdopen"),
}
"""Calls that write, by the last part of their name, in the standard library and in those that this stands on."""
OF_MODULES = {"copy": "shutil", "move": "shutil", "remove": "os", "link": "os", "dump": "json", "rename": "os", "replace": "os"}
"""Names that lists, texts and values have too: only these are files'."""
STAGED = "batch.path"
"""The place that the writer gives: what is written there comes to stand by the writer alone."""
A_PLACE = "a place that the writer gave"
MAY = {
    "cli/verbs/read.py::written": A_PLACE,
    "layout/writers/dxf.py::save_dxf": A_PLACE,
    "layout/writers/pictures.py::save_pixels": A_PLACE,
    "layout/writers/plot.py::pdf_pages": A_PLACE,
    "layout/writers/plot.py::save_svg": A_PLACE,
    "layout/writers/worksheets.py::new_book": A_PLACE,
    "layout/writers/pictures.py::_cut_down": "a face cut down, in memory",
    "layout/writers/press.py::serve_parent": "the pipe to the process that asked",
    "layout/quantities/solver.py::_quiet": "the null device",
    "cli/streams.py::turn_aside": "the null device",
    "cli/streams.py::hold_streams": "the null device",
    "layout/writers/notebook.py::_repr_png_": "a folder of the system's for what is taken away at once",
    "cli/verbs/watch.py::_drawn": "the same",
    "cli/examine.py::_self_test": "the same",
    "cli/examine.py::_writing": "a folder of its own where the person stands, to see whether one can be made, and taken away at once",
    "cli/guard.py::write_trace": "a new file that --trace asks for, never over one (mode x)",
    "cli/kept.py::add": "what a batch has done so far, a hidden file of its own that a kill must leave",
    "cli/kept.py::drop": "the same, when it is done",
    "cli/verbs/new.py::_asked": "the picture that the questions themselves drew, when they are stopped",
}
"""Who may besides, and what it is that is written."""


def _mode(call: ast.Call, place: int) -> str | None:
    """The mode that a file is opened with; None if it is not said as a constant."""
    given = next((each.value for each in call.keywords if each.arg == "mode"), call.args[place] if len(call.args) > place else None)
    if given is None:
        return "r"
    return given.value if isinstance(given, ast.Constant) and isinstance(given.value, str) else None


def _writes(call: ast.Call) -> str:
    """What a call does to files, as its name; empty if it reads at most."""
    function = call.func
    name = function.attr if isinstance(function, ast.Attribute) else function.id if isinstance(function, ast.Name) else ""
    of = ast.unparse(function.value) if isinstance(function, ast.Attribute) else ""
    if name == "open" and of == "os":
        return "" if ast.unparse(call.args[1]) == "os.O_RDONLY" else "os.open"
    if name == "open":
        mode = _mode(call, 0 if of and of not in ("io", "codecs", "gzip", "bz2", "ifcopenshell") else 1)
        return "open" if mode is None or set("wax+") & set(mode) else ""
    if name == "replace" and of != "os":  # of a text it takes two, of a value keys
        return "replace" if of and len(call.args) == 1 and not call.keywords and not isinstance(call.args[0], ast.Starred) else ""
    if name == "rename" and of != "os":  # of a stage it takes two: what a staged file shall be called
        return "rename" if of and len(call.args) == 1 else ""
    if name in OF_MODULES:
        return name if of == OF_MODULES[name] else ""
    staged = isinstance(function, ast.Attribute) and isinstance(function.value, ast.Call) and ast.unparse(function.value.func) == STAGED
    return name if name in WRITES and not staged else ""


def writing(source: str, where: str) -> dict[str, set[str]]:
    """Functions that write, as file::function, and by which calls; a function within another is its own."""
    found: dict[str, set[str]] = {}

    def walk(node: ast.AST, inside: str) -> None:
        for each in ast.iter_child_nodes(node):
            if isinstance(each, ast.Call) and (what := _writes(each)):
                found.setdefault(f"{where}::{inside}", set()).add(what)
            if isinstance(each, ast.ImportFrom) and each.module in ("os", "shutil", "tempfile"):  # else a bare name would hide whose it is
                taken = {alias.name for alias in each.names} & {*WRITES, *OF_MODULES, "open"}
                found.update({f"{where}::import": taken} if taken else {})
            walk(each, each.name if isinstance(each, ast.FunctionDef | ast.ClassDef) else inside)

    walk(ast.parse(source), "")
    return found


def test_only_the_writer_writes():
    found: set[str] = set()
    writer: set[str] = set()
    for path in sorted([*(TOP / "layout").rglob("*.py"), *(TOP / "cli").rglob("*.py")]):
        where = path.relative_to(TOP).as_posix()
        own = writing(path.read_text("utf-8"), where)
        if where in WRITER:
            writer.add(where)
        else:
            found |= set(own)
    assert writer == WRITER
    assert found == set(MAY)


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ('open(path, "w")', "open"),
        ('path.open("ab")', "open"),
        ('path.open(mode="x")', "open"),
        ("open(path, how)", "open"),
        ("os.open(path, os.O_WRONLY | os.O_CREAT)", "os.open"),
        ('path.write_text("a")', "write_text"),
        ("path.write_bytes(data)", "write_bytes"),
        ("os.replace(a, b)", "replace"),
        ("path.replace(other)", "replace"),
        ("path.rename(other)", "rename"),
        ("path.unlink(missing_ok=True)", "unlink"),
        ("os.remove(path)", "remove"),
        ("shutil.move(a, b)", "move"),
        ("shutil.copy2(a, b)", "copy2"),
        ("shutil.rmtree(path)", "rmtree"),
        ("figure.savefig(path)", "savefig"),
        ("doc.saveas(path)", "saveas"),
        ("xlsxwriter.Workbook(path)", "Workbook"),
        ("from os import replace", "replace"),
    ],
)
def test_the_walk_finds_who_writes(line, what):
    assert writing(f"def save(path):\n    {line}\n", "a.py") == {f"a.py::{'import' if line.startswith('from') else 'save'}": {what}}


@pytest.mark.parametrize(
    "line",
    [
        "open(path)",
        'path.open("rb")',
        "os.open(path, os.O_RDONLY)",
        'text.replace("a", "b")',
        "dataclasses.replace(value, name=1)",
        "rows.copy()",
        "shape.move(1, 2)",
        'batch.path("a.csv").write_text("a")',
        'batch.rename("a", "b")',
        "shutil.get_terminal_size()",
    ],
)
def test_the_walk_lets_readers_be(line):
    assert writing(f"def read(path):\n    {line}\n", "a.py") == {}
