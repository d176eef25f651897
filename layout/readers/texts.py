"""Text of files that a person made, and its TOML and CSV, with one clear message where there is none."""

from __future__ import annotations

import codecs
import csv
import io
import re
import sys
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.budgets import BUDGETS, in_force, over
from layout.errors import PlanError
from layout.fields import clean

if TYPE_CHECKING:
    from layout.budgets import Budgets

_LONG = re.compile(r"[0-9][0-9_]{4000,}")
_QUOTED = re.compile(r'"""[\s\S]*?"""|\'\'\'[\s\S]*?\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*')
"""What is quoted or a remark, of TOML and JSON."""
_STEPS = np.zeros(256, dtype=np.int8)
_STEPS[[*b"[{"]], _STEPS[[*b"]}"]] = 1, -1
A_LENGTH = "give a length in mm; a room needs seven digits at most"
A_LIST = "an outline is a list of points, a table a few keys"


_GIVEN: list[tuple[object, bytes]] = []
"""What standard input gave, with the stream: it can be read once, and a plan is read twice by some verbs."""

A_PLAN = "start with [[rooms]], a name and an outline"


def source_name(path: str | Path) -> str:
    """What messages call a file; - is standard input."""
    return "standard input" if str(path) == "-" else Path(path).name or str(path)


def _standard_input(most: int) -> bytes:
    """All that standard input gives, up to a bound."""
    stream = sys.stdin
    if stream is None:
        raise PlanError("standard input", "it is closed", "name a file instead of -")
    if not _GIVEN or _GIVEN[0][0] is not stream:
        _GIVEN[:] = [(stream, stream.buffer.read(most))]
    return _GIVEN[0][1]


def read_bytes(path: Path, *, most_mb: float, bound: str, named: bool = False) -> bytes:
    """Bytes of a file, no more than the bound even where it is a pipe or device; `named` if another file names it.

    A person may give a pipe; a plan may not name one, since reading would wait for ever.

    Raises
    ------
    PlanError
        If it is missing, a folder, not a file where it is named, too big or not to be read.
    """
    name = source_name(path)
    if str(path) == "-" and not named:
        raw = _standard_input(int(most_mb * 1e6) + 1)
        if len(raw) > most_mb * 1e6:
            raise PlanError(name, f"it is larger than {most_mb:g} MB", f"give the file that is meant, or raise budgets.{bound}")
        return raw
    try:
        if path.is_dir():
            raise PlanError(name, "it is a folder", "name the file in it")
        if named and path.exists() and not path.is_file():
            raise PlanError(name, "it is a pipe or a device, not a file", "name a file beside the plan")
        with path.open("rb") as file:
            raw = file.read(int(most_mb * 1e6) + 1)
    except FileNotFoundError:
        raise PlanError(name, "there is no such file", "check the path, or see the plans folder for examples") from None
    except OSError as error:
        raise PlanError(name, f"it cannot be read ({error.strerror})", "check the path and its permissions") from None
    if len(raw) > most_mb * 1e6:
        raise PlanError(name, f"it is larger than {most_mb:g} MB", f"give the file that is meant, or raise budgets.{bound}")
    return raw


def check_file(path: Path, most_mb: float, bound: str, mend: str) -> None:
    """Whether a file that a library of its format will open is there, is a file and not too big.

    Raises
    ------
    PlanError
        If it is not.
    """
    if not path.is_file():
        what = "it is a folder, a pipe or a device" if path.exists() else "there is no such file"
        raise PlanError(path.name or str(path), what, "check its name and folder")
    size = path.stat().st_size
    if size > most_mb * 1e6:
        raise PlanError(path.name, f"{size / 1e6:.0f} MB is more than is read", f"{mend}; or raise budgets.{bound}")


def read_text(path: str | Path, *, named: bool = False, budgets: Budgets | None = None, begin: str = A_PLAN) -> str:
    """Text of a file a person made; `named` if another file names it, `begin` how one that is empty is begun.

    Raises
    ------
    PlanError
        If it is missing, a folder, too big, empty or not UTF-8.
    """
    path = Path(path)
    name = source_name(path)
    raw = read_bytes(path, most_mb=(budgets or in_force()).file_mb, bound="file_mb", named=named)
    try:
        text = raw.decode("utf-16" if raw[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE) else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise PlanError(name, f"line {line} is not UTF-8 text", "save the file as UTF-8") from None
    if not text.strip():
        raise PlanError(name, "it is empty", begin)
    return text


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """Tables of a TOML text; it may set its own bounds of digits and depth under [budgets].

    Raises
    ------
    PlanError
        If it is not TOML, is nested too deep, or holds a number of too many digits.
    """
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(name, f"not TOML: {clean(str(error))[:200]}", "mend the line named") from None
    except RecursionError:
        raise PlanError(name, *nested(text)) from None
    except ValueError:
        raise PlanError(name, *long_number(text)) from None
    own = found.get("budgets")
    set_here = {key: own[key] for key in ("digits", "depth") if type(own.get(key)) is int} if isinstance(own, dict) else {}
    check_text(text, name, in_force(replace(BUDGETS, **set_here)))
    return found


def check_text(text: str, name: str, budgets: Budgets) -> None:
    """Whether a text keeps to its bounds of digits and depth; what is quoted or a remark is not looked at.

    Raises
    ------
    PlanError
        If a number has more digits, or lists and tables lie deeper within one another.
    """
    long = re.compile(rf"[0-9][0-9_]{{{budgets.digits},}}")
    if not long.search(text) and _deepest(text) <= budgets.depth:
        return
    bare = _QUOTED.sub(lambda quoted: "\n" * quoted[0].count("\n"), text)
    if number := long.search(bare):
        line = bare[: number.start()].count("\n") + 1
        raise over(f"{name}: line {line}", len(number[0].replace("_", "")), "digits of one number", "digits", A_LENGTH, budgets)
    if (depth := _deepest(bare)) > budgets.depth:
        raise over(name, depth, "lists and tables within one another", "depth", A_LIST, budgets)


def _deepest(text: str) -> int:
    """How many brackets are open at once, at most."""
    signs = np.frombuffer(text.encode("utf-8", "replace"), dtype=np.uint8)
    steps = _STEPS[signs]
    return int(np.cumsum(steps[steps != 0], dtype=np.int64).max(initial=0))


def nested(text: str) -> tuple[str, str]:
    """That a text is nested deeper than can be read, and what would be right."""
    return f"its lists or tables are nested too deep, {_deepest(_QUOTED.sub('', text)):,} within one another", A_LIST


def long_number(text: str) -> tuple[str, str]:
    """Where a text holds a number of thousands of digits, and what would be right."""
    found = _LONG.search(text)
    where = (
        f"line {text[: found.start()].count(chr(10)) + 1} holds a number of {len(found[0]):,} digits" if found else "a number is too long"
    )
    return where, A_LENGTH


def comma_decimals(rows: list[tuple[int, list[str]]], mark: str) -> bool:
    """Whether numbers of a table part their decimals by a comma: cells are parted by something else, and no cell holds a point."""
    return mark != "," and not any("." in cell for _, cells in rows[1:] for cell in cells[1:])


def parted_by(text: str) -> str:
    """What parts the cells of a table: the first of ; tab and comma in its first line."""
    head = next((line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), "")
    return next((mark for mark in (";", "\t") if mark in head), ",")


def table_rows(text: str, name: str, budgets: Budgets | None = None) -> list[tuple[int, list[str]]]:
    """Cells of a CSV text by line number, stripped, whatever parts them; empty lines and remarks (#) are left out.

    Raises
    ------
    PlanError
        If there are too many lines, one is too long, or it cannot be parted into cells.
    """
    budgets = budgets or in_force()
    lines = [(k, line) for k, line in enumerate(text.splitlines(), 1) if line.strip() and not line.lstrip().startswith("#")]
    if len(lines) > budgets.rows:
        raise over(name, len(lines), "lines", "rows", "give the table of one room", budgets)
    rows = []
    mark = parted_by(text)
    for number, line in lines:
        if len(line) > budgets.cell:
            raise over(f"{name}: line {number}", len(line), "letters", "cell", "write one reading or point on a line", budgets)
        try:
            rows.append((number, [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=mark))]))
        except csv.Error as error:
            raise PlanError(f"{name}: line {number}", f"it cannot be read as CSV ({clean(str(error))})", "write it as A,B,3620") from None
    return rows
