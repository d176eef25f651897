"""A set's pages as PNG, by this process and a second one where there is a second core and the set is worth the start of one.

The second process is an interpreter of its own that is handed the sheets, not a fork of this one: the library that draws holds threads
and caches that a fork would tear. Pages are the same whoever draws them; if the second process ends before its time, this one draws the rest.
"""

from __future__ import annotations

import math
import os
import pickle
import signal
import subprocess
import sys
import threading
from collections import deque
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, TYPE_CHECKING

from layout.writers import plot
from layout.writers.plot import Raster

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from layout.sheets.scene import Sheet

WORTH = 150e6
"""Pixels of a set from which on a second process saves more than it costs to start: some nine sheets of A3 at 300 to the inch."""
HOME = Path(__file__).parent.parent.parent
"""Where this package is found: the second process looks there too."""
LINE = "from layout.writers.press import serve_parent; serve_parent()"
"""What the second interpreter runs."""
PATIENCE = 5.0
"""How long a second process that has nothing left to do may take to end, s; and between looks at it."""
LOOK = 0.2


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def pixels_of(sheets: Sequence[Sheet], dpi: int) -> float:
    """How many pixels sheets come to."""
    return math.fsum(math.prod(side / 25.4 * dpi for side in sheet.size) for sheet in sheets)


class Press:
    """The pages that are left to draw: the second process takes them from the front, this one from the back when it has time."""

    def __init__(self, sheets: Sequence[Sheet], places: Sequence[Path], dpi: int) -> None:
        self.sheets, self.places, self.dpi = sheets, places, dpi
        self.left = deque(range(len(sheets)))
        self.done, self.told = 0, 0
        self.fault: Exception | None = None
        self.lost = ""
        path = os.pathsep.join([str(HOME), *filter(None, [os.environ.get("PYTHONPATH")])])
        self.process: subprocess.Popen[bytes] | None = None
        try:
            self.process = subprocess.Popen(
                [sys.executable, "-P", "-c", LINE],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=os.environ | {"PYTHONPATH": path},
            )
        except OSError as error:
            self.lost = f"it could not be started: {error.strerror or error}"
            return
        self._feeder = threading.Thread(target=self._feed, args=(self.process,), daemon=True)
        self._feeder.start()

    def _feed(self, process: subprocess.Popen[bytes]) -> None:
        """Hand the second process one page after the other; what it does not come back with is left again."""
        assert process.stdin is not None
        assert process.stdout is not None
        page = None
        try:
            _send(process.stdin, (tuple(self.sheets), self.dpi))
            while self.left:
                page = self.left.popleft()
                _send(process.stdin, (page, self.places[page]))
                fault = pickle.load(process.stdout)
                if fault is not None:
                    self.fault = fault
                    self.left.clear()
                    return
                page = None
                self.done += 1
        except IndexError:
            return  # this process took the last page meanwhile
        except (EOFError, OSError, pickle.PickleError):
            if page is not None:
                self.left.append(page)
            self.lost = _ending(_ended(process))

    def tell(self, step: Callable[[], None]) -> None:
        """Tell of pages that were drawn since the last time."""
        while self.told < self.done:
            self.told += 1
            step()

    def finish(self, step: Callable[[], None]) -> None:
        """Draw what is left together with the second process, until all is done.

        Raises
        ------
        Exception
            What the second process met while it drew a page.
        """
        raster = Raster()
        while True:
            while self.left:
                try:
                    page = self.left.pop()
                except IndexError:
                    break
                plot.save_png(self.sheets[page], self.places[page], dpi=self.dpi, raster=raster)
                step()
                self.tell(step)
            if self.process is None or not self._feeder.is_alive():
                if self.left:
                    continue
                break
            self._feeder.join(LOOK)
            self.tell(step)
        self.tell(step)
        if self.fault is not None:
            raise self.fault

    def close(self) -> None:
        """Let the second process go; at once where there was a fault."""
        if self.process is None:
            return
        self.left.clear()
        if self._feeder.is_alive():
            self.process.kill()
        self._feeder.join()
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            with suppress(OSError):
                pipe.close()
        _ended(self.process)


@contextmanager
def pressed(sheets: Sequence[Sheet], places: Sequence[Path], dpi: int, said: list[str]) -> Iterator[Press | None]:
    """A press that draws sheets as PNG while other things are written; None where one process does as well. `said` is told of its loss."""
    if not places or cores() < 2 or pixels_of(sheets, dpi) < WORTH:
        yield None
        return
    press = Press(sheets, places, dpi)
    try:
        yield press
    finally:
        press.close()
    if press.lost:
        said.append(f"look: a second process that drew pages was lost ({press.lost}); all pages were drawn without it")


def _ended(process: subprocess.Popen[bytes]) -> int:
    """The status of a process that has nothing left to do: it is ended where it does not end by itself."""
    try:
        return process.wait(PATIENCE)
    except subprocess.TimeoutExpired:
        process.kill()
        return process.wait()


def _ending(code: int) -> str:
    """How a process ended, by the name of its signal."""
    try:
        return f"ended from outside by {signal.Signals(-code).name}: killed, or memory ran out"
    except ValueError:
        return f"it ended with status {code}"


def _send(pipe: IO[bytes], value: object) -> None:
    pickle.dump(value, pipe, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.flush()


def serve(asked: IO[bytes], answers: IO[bytes]) -> None:
    """Draw pages as they are asked for, each answered by None or by what went wrong, until no more are asked for."""
    sheets, dpi = pickle.load(asked)
    raster = Raster()
    while True:
        try:
            page, place = pickle.load(asked)
        except EOFError:
            return
        fault: Exception | None = None
        try:
            plot.save_png(sheets[page], place, dpi=dpi, raster=raster)
        except Exception as error:  # noqa: BLE001  # whatever it is, it is raised again on the other side
            fault = error
        _send(answers, fault)


def serve_parent() -> None:
    """What the second process does: answers go where its output went, and nothing else does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process is interrupted and lets this one go
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    serve(sys.stdin.buffer, answers)
