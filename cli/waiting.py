"""What a person sees while work goes on for more than a second: a bar on standard error, gone before anything is said."""

from __future__ import annotations

import sys
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.progress import Progress

AFTER = 1.0
"""Work shorter than this needs no bar, s."""


class Waiting:
    """A bar that comes up by itself after a while, and goes at the first word on either stream."""

    def __init__(self, words: str) -> None:
        self.words = words
        self._lock = threading.Lock()
        self._bar: Progress | None = None
        self._timer: threading.Timer | None = None

    def start(self) -> None:
        """From now on, if the work takes long."""
        self._timer = threading.Timer(AFTER, self._show)
        self._timer.daemon = True
        self._timer.start()

    def stop(self) -> None:
        """No bar any more."""
        if self._timer is not None:
            self._timer.cancel()
        with self._lock:
            self._timer = None
            if self._bar is not None:
                self._bar.stop()
                self._bar = None

    def _show(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        with self._lock:
            if self._timer is None:
                return
            columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
            self._bar = Progress(*columns, console=Console(stderr=True), transient=True)
            self._bar.add_task(self.words, total=None)
            self._bar.start()


_NOW: list[Waiting] = []


@contextmanager
def waiting(words: str, *, wanted: bool) -> Iterator[None]:
    """A bar over all that a verb does until it speaks, where a person looks on."""
    if not wanted or sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    _NOW.append(Waiting(words))
    _NOW[-1].start()
    try:
        yield
    finally:
        hush()
        _NOW.pop()


def hush() -> None:
    """Take the bar away: something is said."""
    for each in _NOW:
        each.stop()


def go_on() -> None:
    """Further work begins: the bar may come up again."""
    for each in _NOW[-1:]:
        each.stop()
        each.start()
