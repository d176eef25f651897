"""Reading with a library that may bring the whole process down: in a process of its own, so that its crash is a message.

Native code ends a process by a signal where a file is damaged in a way that its makers did not think of; no handler of Python's sees
that. On Linux the work is done in a fork of this process, which costs some milliseconds; elsewhere, where libraries of the system do
not bear a fork, it is done here.
"""

from __future__ import annotations

import multiprocessing
import signal
import sys
import warnings
from typing import TYPE_CHECKING, TypeVar

from layout.errors import PlanError

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection

T = TypeVar("T")


def apart(place: str, mend: str, work: Callable[[], T]) -> T:
    """What `work` gives, which must be a value that can be pickled; what it raises is raised here.

    Raises
    ------
    PlanError
        If the process that does it ends before it has an answer: `place` and `mend` are its file and what would help.
    """
    if sys.platform != "linux":
        return work()
    context = multiprocessing.get_context("fork")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(theirs, work), daemon=False)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of idle threads: the work takes no lock of theirs
        process.start()
    theirs.close()
    try:
        value, error = ours.recv()
    except EOFError:
        process.join()
        raise PlanError(place, f"the library that reads such files crashed on it ({_ending(process.exitcode)})", mend) from None
    finally:
        process.kill()
        process.join()
        ours.close()
    if error is not None:
        raise error
    result: T = value
    return result


def _answer(pipe: Connection, work: Callable[[], object]) -> None:
    """Send what the work gives, or what it raises."""
    try:
        answer: tuple[object, Exception | None] = (work(), None)
    except KeyboardInterrupt:
        return
    except Exception as error:  # noqa: BLE001  # whatever it is, it is raised again on the other side
        answer = (None, error)
    pipe.send(answer)
    pipe.close()


def _ending(code: int | None) -> str:
    """How a process ended, by the name of its signal."""
    try:
        return signal.Signals(-(code or 0)).name
    except ValueError:
        return f"status {code}"
