"""Whether an installation works: versions, extras, fonts, solver, writing, a plan worked by hand; each fault with its mend."""

from __future__ import annotations

import platform
import re
import sys
import tempfile
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import layout

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LEAST_PYTHON = (3, 11)
SEND = "send these lines to the maintainers"
MEND_INSTALL = "install it anew in an environment of its own: python3 -m venv fresh && fresh/bin/pip install gaugerod"
PLAN = """
[tiles.floor]
size = [200, 200]
thickness = 10
joint = 6
[rules]
perimeter_joint = 10
[[rooms]]
name = "Self-test"
outline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]
tanking_height = 150
tile_height = 0
"""
BY_HAND = {
    "whole tiles": 104,  # 2980 x 1980 within the joints: 13 columns and 8 rows of 206 between cuts at both ends
    "cut tiles": 46,  # 15 x 10 places less the whole ones
    "membrane_area": 7.5,  # 3 x 2 and an upstand of 0.15 over 10 m
    "tape.internal": 10.6,  # round the floor 10 m, up four corners 0.15 each
    "corner_pieces.internal": 4,
}
"""What the plan above must come to, worked by hand, m2 and m."""


@dataclass(frozen=True, slots=True)
class Looked:
    """One thing looked at: what was found, whether it is well, and what mends it if not."""

    what: str
    found: str
    well: bool = True
    mend: str = ""


def examined() -> Iterator[Looked]:
    """Everything looked at, one after the other; what raises is a fault of its own row."""
    yield Looked("gaugerod", _own_version())
    python = sys.version_info[:2] >= LEAST_PYTHON
    least = ".".join(str(k) for k in LEAST_PYTHON)
    yield Looked("Python", f"{platform.python_version()} on {sys.platform}", python, f"install Python {least} or newer")
    for name, bounds, extra in requirements():
        yield _guarded(name, partial(_package, name, bounds, extra), MEND_INSTALL)
    yield _guarded("fonts", _fonts, MEND_INSTALL)
    yield _guarded("solver", _solver, MEND_INSTALL)
    yield _guarded("writing here", _writing, "go to a folder that you may write to, or name one with --out")
    yield _guarded("self-test", _self_test, SEND)


def _guarded(what: str, look: Callable[[], Looked], mend: str) -> Looked:
    try:
        return look()
    except Exception as error:  # noqa: BLE001  # a broken installation fails in any way it likes; the rest is still looked at
        return Looked(what, f"{type(error).__name__}: {(str(error).splitlines() or [''])[0]}", well=False, mend=mend)


def _own_version() -> str:
    from importlib.metadata import PackageNotFoundError

    try:
        return str(layout.__version__)
    except PackageNotFoundError:
        return "runs without being installed"


EXTRAS = {"ifc": "to read building models", "cluster": "for a batch on a cluster of machines"}
"""What each extra is for."""


def requirements() -> list[tuple[str, str, str]]:
    """Packages that are needed: name, bounds on its version, and the extra that it belongs to, if any; those for development left out."""
    from importlib.metadata import PackageNotFoundError, requires

    try:
        lines = requires("gaugerod") or []
    except PackageNotFoundError:
        return []
    result = []
    for line in lines:
        need, _, marker = line.partition(";")
        match = re.match(r"\s*([\w.-]+)\s*(.*)", need)
        extra = re.search(r"extra\s*==\s*['\"]([\w-]+)", marker)
        if match and (extra is None or extra[1] != "dev"):
            result.append((match[1], match[2].strip(), extra[1] if extra else ""))
    return result


def _package(name: str, bounds: str, extra: str) -> Looked:
    from importlib.metadata import PackageNotFoundError, version

    try:
        found = version(name)
    except PackageNotFoundError:
        if extra:
            return Looked(name, f"not installed; only needed {EXTRAS.get(extra, 'for an extra')}: pip install 'gaugerod[{extra}]'")
        return Looked(name, "it is missing", well=False, mend=f"pip install '{name}{bounds}'")
    return Looked(name, found, within(found, bounds), f"it must be {bounds}: pip install '{name}{bounds}'")


def within(found: str, bounds: str) -> bool:
    """Whether a version keeps bounds like >=1.2,<3, by their numbers.

    >>> within("2.10.1", ">=2.9,<3"), within("3.0", ">=2.9,<3")
    (True, False)
    """

    def numbers(text: str) -> list[int]:
        return [int(part) for part in re.findall(r"\d+", re.split(r"[a-z+]", text)[0])]

    at = numbers(found)
    for sign, text in re.findall(r"(>=|<=|<|>|==|!=)\s*([\w.]+)", bounds):
        bound = numbers(text)
        size = max(len(at), len(bound))
        a, b = at + [0] * (size - len(at)), bound + [0] * (size - len(bound))
        if not {">=": a >= b, "<=": a <= b, "<": a < b, ">": a > b, "==": a == b, "!=": a != b}[sign]:
            return False
    return True


def _fonts() -> Looked:
    width = layout.text_width("Setting-out 0123", 2.5)
    return Looked("fonts", "the shipped face is read", 20.0 < width < 60.0, MEND_INSTALL)


def _solver() -> Looked:
    done = layout.cut_stock([6.0] * 3 + [4.0] * 3 + [3.0] * 2, 10.0)  # 36 of 40: 6+4 three times, 3+3: four lengths, and no fewer
    return Looked(
        "solver", f"{len(done.stocks)} lengths, proved" if done.proved else "no proof", done.proved and len(done.stocks) == 4, SEND
    )


def _writing() -> Looked:
    with tempfile.TemporaryDirectory(prefix=".gaugerod-", dir=Path()) as folder:
        target = Path(folder) / "k.txt"
        for data in (b"first", b"second"):
            layout.write_whole(target, data)
        return Looked("writing here", str(Path.cwd()), target.read_bytes() == b"second", SEND)


def _self_test() -> Looked:
    """A plan worked by hand, set out, measured and drawn."""
    setout = layout.set_out(layout.parse_plan(PLAN, "self-test"))
    takeoff = layout.take_off(setout)
    field = setout.rooms[0].floor.field
    found: dict[str, float] = {"whole tiles": len(field.whole), "cut tiles": field.places_cut()}
    found |= {item.key: item.quantity for item in takeoff.items}
    wrong = [f"{key} {found.get(key)} instead of {value}" for key, value in BY_HAND.items() if abs(found.get(key, -1.0) - value) > 1e-6]
    if wrong:
        return Looked("self-test", "; ".join(wrong), well=False, mend=SEND)
    sheets = layout.draw_sheets(setout, takeoff)
    with tempfile.TemporaryDirectory() as folder:
        drawing = layout.write_dxf(sheets[:1], Path(folder) / "t.dxf")
        picture = layout.write_png(sheets[:1], folder, dpi=40)[0]
        sound = drawing.read_text(encoding="utf-8").rstrip().endswith("EOF") and picture.read_bytes()[:4] == b"\x89PNG"
    return Looked("self-test", "a plan worked by hand comes out right and is drawn", sound, SEND)


def licences_of_all() -> dict[str, tuple[str, str]]:
    """Version and licence of all that is installed for the tool, from the packages' own records."""
    from importlib.metadata import PackageNotFoundError, distribution

    found: dict[str, tuple[str, str]] = {}
    todo = [name for name, _, _ in requirements()]
    while todo:
        name = todo.pop()
        try:
            package = distribution(name)
        except PackageNotFoundError:
            continue
        key = package.metadata["Name"]
        if key in found:
            continue
        found[key] = (package.version, _licence(package.metadata))
        for line in package.requires or []:
            need, _, marker = line.partition(";")
            if "extra" not in marker:
                todo.append(re.split(r"[^\w.-]", need.strip())[0])
    return found


def _licence(record: Any) -> str:  # noqa: ANN401  # the standard library's message of a package
    expression = record.get("License-Expression")
    classified = [line.rpartition(" :: ")[2] for line in record.get_all("Classifier") or [] if line.startswith("License ::")]
    text = (record.get("License") or "").strip().splitlines()
    return str(expression or ", ".join(classified) or (text[0] if text else "not stated by the package"))
