"""The command `gaugerod`: its verbs, each in a file of its own under `cli/verbs`.

Status 0: done. 1: done, but a rule that the plan makes binding is broken. 2: bad input; one clear
message with file, place and mend. 70: a fault of the tool's own. Answers go to standard output, talk to standard error.
"""

from __future__ import annotations

import functools
import inspect
import sys
from contextlib import nullcontext
from typing import TYPE_CHECKING, Annotated

import typer

import layout
from cli.guard import OWN_FAULT, fault_text, guard, write_trace
from cli.help import TradeCommand, examples_of, told
from cli.options import BudgetOption, ForceFlag, PlainFlag, QuietFlag, TraceFlag
from cli.streams import hold_streams, speak
from cli.talk import Talk
from cli.verbs import (
    add,
    batch,
    changes,
    check,
    cuts,
    doctor,
    new,
    page,
    programme,
    read,
    record,
    run,
    schema,
    setout,
    setting,
    sheets,
    takeoff,
    watch,
)
from cli.waiting import waiting

if TYPE_CHECKING:
    from collections.abc import Callable

VERBS: dict[str, Callable[..., int]] = {
    "run": run.command,
    "setout": setout.command,
    "takeoff": takeoff.command,
    "cuts": cuts.command,
    "changes": changes.command,
    "programme": programme.command,
    "sheets": sheets.command,
    "page": page.command,
    "record": record.command,
    "check": check.command,
    "new": new.command,
    "add": add.command,
    "set": setting.command,
    "watch": watch.command,
    "read": read.command,
    "batch": batch.command,
    "schema": schema.command,
    "doctor": doctor.command,
}
"""The verbs in the order of the help."""

BARS = {
    "run": "setting out",
    "setout": "setting out",
    "takeoff": "measuring",
    "cuts": "cutting",
    "changes": "comparing",
    "programme": "planning",
    "sheets": "setting out",
    "page": "setting out",
    "check": "setting out",
    "new": "drawing",
    "read": "reading",
    "doctor": "looking",
}
"""What is said over the bar of a verb whose work may take more than a second; it goes at the first word."""

COMMON = {"quiet": QuietFlag, "no_colour": PlainFlag, "force": ForceFlag, "trace": TraceFlag, "budget": BudgetOption}
"""Options that every verb takes; a verb gets them as one `Talk`."""

app = typer.Typer(
    name="gaugerod",
    help="Sets out tiled, tanked wet rooms: start lines, cuts, movement joints, tape, quantities, drawings.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _tell_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"gaugerod {layout.__version__}")
        raise typer.Exit


@app.callback()
def _all(
    *,
    version: Annotated[
        bool, typer.Option("--version", "-V", help="print the version and end", is_eager=True, callback=_tell_version)
    ] = False,
) -> None:
    del version


def _register(name: str, work: Callable[..., int]) -> None:
    """Make a verb a command: the common options added, its faults guarded."""
    own = inspect.signature(work, eval_str=True).parameters
    asked = [each for each in own.values() if each.name != "say"]
    common = [
        inspect.Parameter(key, inspect.Parameter.KEYWORD_ONLY, default=None if kind is BudgetOption else False, annotation=kind)
        for key, kind in COMMON.items()
    ]

    @functools.wraps(work)
    def command(*, quiet: bool, no_colour: bool, force: bool, trace: bool, budget: list[str] | None, **given: object) -> None:
        talk = Talk(quiet=quiet, plain=no_colour, force=force)

        def bounded() -> int:
            with layout.with_bounds(budget) if budget else nullcontext():
                return work(**given, say=talk)

        with waiting(BARS.get(name, ""), wanted=name in BARS and not quiet):
            guard(name, bounded, given.values(), trace=trace)

    command.__signature__ = inspect.Signature([*asked, *common])  # type: ignore[attr-defined]
    command.__annotations__ = {each.name: each.annotation for each in (*asked, *common)}
    app.command(name, cls=TradeCommand, epilog=told(examples_of(work)))(command)


for _name, _work in VERBS.items():
    _register(_name, _work)


def run_app() -> None:
    """Entry point of the command."""
    import gc

    gc.set_threshold(100_000, 50, 50)  # a command lives for a moment: looking for cycles costs it a tenth
    hold_streams()
    try:
        app()
    except Exception as error:  # noqa: BLE001  # outside the verbs: the command line's own library
        trace = "--trace" in sys.argv
        speak(fault_text("none", error, trace=trace))
        if trace:
            speak(f"trace: {write_trace(error)}")
        sys.exit(OWN_FAULT)


if __name__ == "__main__":
    run_app()
