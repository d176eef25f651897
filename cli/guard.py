"""The outer guard: whatever happens inside, a verb ends with one message and a status that says whose fault it was."""

from __future__ import annotations

import platform
import sys
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

import layout
from cli.streams import speak
from cli.talk import BAD_INPUT, DONE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

OWN_FAULT = 70
"""A fault of the tool's own: EX_SOFTWARE of sysexits.h."""
STOPPED = 130
"""Stopped by the person: 128 and the number of the interrupt, as shells count."""
MOST_TRACES = 100


def guard(verb: str, work: Callable[[], int], given: Iterable[Any] = (), *, trace: bool = False) -> None:
    """Do the work of a verb; leave with its status, or that of the fault, told in one message.

    `given` are the verb's arguments: a trace is written beside the first path of them.
    """
    try:
        status = work()
    except layout.LayoutError as error:
        speak(str(error))
        status = BAD_INPUT
    except BrokenPipeError:
        status = DONE  # the reader has seen enough
    except (KeyboardInterrupt, typer.Abort):
        speak("stopped")
        status = STOPPED
    except typer.Exit:
        raise
    except Exception as error:  # noqa: BLE001  # the one place where all that is left over is caught
        speak(fault_text(verb, error, trace=trace))
        if trace:
            speak(f"trace: {write_trace(error, given)}")
        status = OWN_FAULT
    if status:
        raise typer.Exit(status)


def fault_text(verb: str, error: BaseException, *, trace: bool = False) -> str:
    """What a person reads of a fault of ours, and what the maintainers need of it."""
    frames = [
        frame
        for frame, _ in traceback.walk_tb(error.__traceback__)
        if str(frame.f_globals.get("__name__")).partition(".")[0] in ("layout", "cli")
    ]
    where = f" in {frames[-1].f_globals['__name__']}, {frames[-1].f_code.co_name}" if frames else ""
    what = "memory ran out" if isinstance(error, MemoryError) else f"{type(error).__name__}{where}"
    said = str(error).splitlines()[0][:200] if str(error) else ""
    more = "the trace" if trace else "the trace that the same command writes with --trace"
    return (
        f"gaugerod: a fault of its own, not of your plan: {what}{f': {said}' if said else ''}\n"
        f"please send to the maintainers: these lines, the plan, and {more} "
        f"(gaugerod {layout.__version__}, verb {verb}, Python {platform.python_version()}, {sys.platform})"
    )


def write_trace(error: BaseException, given: Iterable[Any] = ()) -> str:
    """Write the trace into a new file beside the plan; its name, or why there is none."""
    text = "".join(traceback.format_exception(error))
    beside = next((each if each.is_dir() else each.parent for each in given if isinstance(each, Path)), Path())
    for folder in (beside, Path()):
        for k in range(1, MOST_TRACES):
            path = folder / f"gaugerod-trace-{k}.txt"
            try:
                with path.open("x", encoding="utf-8", errors="backslashreplace") as file:
                    file.write(text)
            except FileExistsError:
                continue
            except OSError:
                break
            return str(path)
    return f"it can be written neither beside the plan nor here:\n{text}"
