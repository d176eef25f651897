"""`gaugerod doctor`: whether this installation works, and what mends it; the licences of what it is built on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

import layout
from cli.options import JsonFlag, OutFile
from cli.talk import BAD_INPUT, DONE, Talk

if TYPE_CHECKING:
    from cli.examine import Looked


EXAMPLES = (
    ("doctor", "whether all is well"),
    ("doctor --licences", "what it is built on"),
)


def command(
    *,
    say: Talk,
    licences: Annotated[bool, typer.Option("--licences", help="the licences of all that it is built on")] = False,
    as_json: JsonFlag = False,
    out: OutFile = None,
) -> int:
    """Whether this installation works, and what mends it."""
    from dataclasses import asdict

    from cli.examine import examined, licences_of_all

    if licences:
        rows = sorted(licences_of_all().items())
        if as_json:
            record = [{"package": name, "version": version, "licence": licence} for name, (version, licence) in rows]
            say.data(layout.to_json({"schema": "gaugerod/licences/1", "packages": record}), out)
        else:
            say.answer("\n".join(f"{name} {version}: {licence}" for name, (version, licence) in rows), out)
        return DONE
    looked = list(examined())
    if as_json:
        say.data(layout.to_json({"schema": "gaugerod/doctor/1", "looked_at": [asdict(each) for each in looked]}), out)
    else:
        say.answer("\n".join(_line(each) for each in looked), out)
    faults = sum(not each.well for each in looked)
    say.tell(f"{faults} fault{'s' if faults != 1 else ''}" if faults else "all is well")
    return BAD_INPUT if faults else DONE


def _line(each: Looked) -> str:
    return f"{'ok   ' if each.well else 'FAULT'} {each.what}: {each.found}{'' if each.well else f'; {each.mend}'}"
