"""Run a sample of mutants: `python -m tests.mutation [MODULE ...] [--count 10] [--seed 1] [--seconds 60] [--quick]`.

One process: libraries are loaded once, then each mutant is a fork that imports the project with the fault in place (no file
is changed) and runs the tests of its module until one fails. A fault that makes tests hang is killed and counts as noticed.
"""

from __future__ import annotations

import argparse
import importlib.abc
import importlib.util
import os
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.mutation.mutants import Mutant, mutants

if TYPE_CHECKING:
    import ast
    from collections.abc import Sequence
    from importlib.machinery import ModuleSpec
    from types import ModuleType

TOP = Path(__file__).parent.parent.parent
HAND = "tests/setout/test_worked_room.py"
JOINTS = " ".join(f"tests/joints/test_{name}.py" for name in ("placing", "divide", "narrow", "joints"))
STARTS = " ".join(
    f"tests/start/test_{name}.py"
    for name in ("alike_walls", "pulls_missed", "taken_up", "bays", "mends", "every_piece", "pulls", "short_walls", "start")
)
AUDIT = "tests/setout/test_audit.py"
FEW_TILES = "tests/tiles/test_tiles.py --deselect=tests/tiles/test_tiles.py::test_two_thousand_random_rooms_agree_with_geos"
TESTED = {
    "quantities": (
        "layout/quantities/items.py layout/quantities/tiling.py layout/quantities/waterproofing.py",
        f"tests/quantities/test_weights.py tests/quantities/test_courses_by_hand.py {HAND}",
        "tests/quantities/test_takeoff.py tests/quantities/test_drawn_is_billed.py",
    ),
    "tape": ("layout/tanking/tape.py", f"tests/tanking/test_by_hand.py tests/tanking/test_tape.py {HAND}", AUDIT),
    "levels": (
        "layout/falls/levels.py layout/falls/facets.py layout/falls/shaping.py",
        "tests/falls/test_by_hand.py",
        "tests/falls/test_levels.py",
    ),
    "divide": (
        "layout/joints/divide.py layout/joints/partition.py",
        f"tests/joints/test_by_hand.py tests/joints/test_limits.py tests/joints/test_sawing.py {HAND}",
        JOINTS,
    ),
    "lines": (
        "layout/joints/lines.py layout/joints/given.py",
        f"tests/joints/test_lines_by_hand.py tests/standards/test_sealants.py tests/joints/test_by_hand.py {HAND}",
        f"{JOINTS} {AUDIT}",
    ),
    "start": (
        "layout/start/offsets.py layout/start/settle.py",
        f"tests/start/test_offsets_by_hand.py tests/start/test_course_by_hand.py {HAND}",
        f"tests/setout/test_planted.py {STARTS}",
    ),
    "tiles": (
        "layout/tiles/lay.py layout/tiles/pieces.py",
        f"tests/tiles/test_by_hand.py tests/tiles/test_cuts_by_hand.py tests/tiles/test_pieces.py {FEW_TILES} {HAND}",
        f"tests/setout/test_planted.py tests/tiles/test_tiles.py {AUDIT}",
    ),
}
"""Chapter: its modules, the quick tests that should notice, mostly by hand, and the slow ones, run after them."""
EQUIVALENT: dict[str, str] = {
    "divide.py: return at[on > 0], at[on < 0]: 0  ->  1": "no edge so short is asked",
    **{
        f"lay.py: {line}: 0  ->  1": "a larger frame to count in"
        for line in (
            "i0 = min(int(i_from.min()), int(pairs_i.min(initial=0)))",
            "j0 = min(int(j.min()), int(pairs_j.min(initial=0)))",
            "width = max(int(i_from.max()), int(pairs_i.max(initial=0))) - i0 + 1",
            "height = max(int(j.max()), int(pairs_j.max(initial=0))) - j0 + 1",
        )
    },
    "tape.py: result: Floats = np.round(self.lining.falls.at(points) - self.lining.room.levels.floor, 3): 3  ->  4": (
        "a level finer than a thousandth of a millimetre"
    ),
    "lay.py: low = min(int(whole[:, 1].min(initial=0)), int(extra[:, 1].min())): 0  ->  1": "a frame to count in that begins one later where no tile is before it",
    "lay.py: thin = np.flatnonzero(keep & (area < TOUCH * half) & (area <= TOUCH / 2.0 * shapely.length(pieces) + EPS)): TOUCH / 2.0 * shapely.length(pieces) + EPS  ->  TOUCH / 2.0 * shapely.length(pieces) - EPS": "a bound to the last bit",
    "lay.py: for k in np.flatnonzero(keep & (tile.area - area < TOUCH * half)):: keep & (tile.area - area < TOUCH * half)  ->  keep | (tile.area - area < TOUCH * half)": "more pieces looked at closely, none of them found whole",
    "lay.py: if step < 0.0:: 0.0  ->  1.0": "no cell of a pattern is under a square millimetre",
    "pieces.py: keys = shapely.to_wkb(shapely.normalize(shapely.set_coordinates(laid.pieces.copy(), np.round(coords, 2)))): 2  ->  3": "pieces that differ by less are put together by the saw's tolerance",
    "pieces.py: return min(variants, key=lambda v: (np.round(np.ptp(v[0], axis=0), 2).tolist(), np.round(v[0], 2).ravel().tolist())): 2  ->  3": "a hair between two turns of one piece",
    "lay.py: i_from, j = i_from[order].reshape(-1, 2), j[order].reshape(-1, 2): 1  ->  2": "any number below 0 says 'as many as there are'",
    **{
        f"levels.py: {way}s = origin[{axis}] + GRID * np.arange(math.ceil(({way}0 - origin[{axis}]) / GRID), "
        f"math.floor(({way}1 - origin[{axis}]) / GRID) + 1): {change}": "a row of the grid outside the floor is left out anyway"
        for axis, way in enumerate("xy")
        for change in (
            f"math.ceil(({way}0 - origin[{axis}]) / GRID)  ->  math.floor(({way}0 - origin[{axis}]) / GRID)",
            f"math.floor(({way}1 - origin[{axis}]) / GRID)  ->  math.ceil(({way}1 - origin[{axis}]) / GRID)",
        )
    },
    "levels.py: xs = origin[0] + GRID * np.arange(math.ceil((x0 - origin[0]) / GRID), math.floor((x1 - origin[0]) / GRID) + 1): 1  ->  2": (
        "a row of the grid outside the floor is left out anyway"
    ),
    **{
        f"given.py: reach = math.hypot(x1 - x0, y1 - y0) * 2: {way}1 - {way}0  ->  {way}1 + {way}0": "any length beyond the floor will do"
        for way in "xy"
    },
    **{
        f"given.py: if abs(xa - xb) <= TOUCH or abs(ya - yb) <= TOUCH:: abs({way}a - {way}b) <= TOUCH  ->  abs({way}a - {way}b) < TOUCH": (
            "a length that is the tolerance to the last bit"
        )
        for way in "xy"
    },
}
"""Mutants that change nothing anybody could see: module, line of the source and change, and why."""


class Faulty(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Finds one module, with a fault in it."""

    def __init__(self, path: Path, tree: ast.Module) -> None:
        self.name = ".".join(path.relative_to(TOP).with_suffix("").parts)
        self.path, self.tree = path, tree

    def find_spec(self, fullname: str, path: object = None, target: object = None) -> ModuleSpec | None:
        del path, target
        return importlib.util.spec_from_loader(fullname, self, origin=str(self.path)) if fullname == self.name else None

    def exec_module(self, module: ModuleType) -> None:
        module.__file__ = str(self.path)
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)


def noticed(path: Path, mutant: Mutant | None, tests: Sequence[str], seconds: float) -> bool:
    """Whether the tests fail, or hang, on a mutant; None is the module as it is."""
    child = os.fork()
    if child == 0:
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        if mutant is not None:
            sys.meta_path.insert(0, Faulty(path, mutant.tree))
        import pytest

        try:
            status = pytest.main(["-x", "-q", "--assert=plain", "-p", "no:cacheprovider", "-m", "not whole", *tests])
        except BaseException:  # noqa: BLE001  # a fault that breaks the import is noticed
            status = 1
        os._exit(int(status != 0))
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) != 0
        time.sleep(0.05)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return True


def sample(chapter: str, count: int, seed: int) -> list[tuple[Path, Mutant]]:
    """Mutants of a chapter's modules, drawn without repeating."""
    every = []
    for name in TESTED[chapter][0].split():
        text = (TOP / name).read_text("utf-8")
        lines = text.splitlines()
        every += [(TOP / name, m) for m in mutants(text) if f"{Path(name).name}: {lines[m.line - 1].strip()}: {m.change}" not in EQUIVALENT]
    chosen = np.random.default_rng(seed).permutation(len(every))[:count]
    return [every[k] for k in sorted(chosen.tolist())]


def main() -> None:
    """Run, tell survivors, tell the score."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("chapters", nargs="*", default=list(TESTED))
    asked.add_argument("--count", type=int, default=10)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--seconds", type=float, default=120.0)
    asked.add_argument("--quick", action="store_true", help="the quick tests alone: what they notice, all do")
    given = asked.parse_args()
    import hypothesis  # noqa: F401  # loaded before the forks, with what else is slow and not the project's
    import pytest  # noqa: F401
    import shapely  # noqa: F401

    killed = total = 0
    for chapter in given.chapters:
        quick, slow = TESTED[chapter][1:]
        tests = quick.split() if given.quick else [*quick.split(), *slow.split()]
        if noticed(TOP / "layout/units.py", None, tests, 900.0):
            print(f"{chapter}: the tests fail on the code as it is", flush=True)
            continue
        drawn = sample(chapter, given.count, given.seed)
        survivors = 0
        for path, mutant in drawn:
            if not noticed(path, mutant, tests, given.seconds):
                survivors += 1
                print(f"  survives: {path.relative_to(TOP)}:{mutant.line}: {mutant.change}", flush=True)
        killed, total = killed + len(drawn) - survivors, total + len(drawn)
        print(f"{chapter}: {len(drawn) - survivors} of {len(drawn)} noticed", flush=True)
    if total:
        print(f"{killed} of {total} noticed, {killed / total:.0%}")


if __name__ == "__main__":
    main()
