"""Arguments and options that several verbs share, each declared once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PlanArg = Annotated[Path, typer.Argument(metavar="PLAN", help="plan file (TOML)", show_default=False)]
JsonFlag = Annotated[bool, typer.Option("--json", help="print JSON instead of tables")]
OutFile = Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE", help="write the answer to a file", show_default=False)]
QuietFlag = Annotated[bool, typer.Option("--quiet", "-q", help="no talk on standard error")]
PlainFlag = Annotated[bool, typer.Option("--no-colour", "--no-color", help="no colour; NO_COLOR does the same")]
ForceFlag = Annotated[bool, typer.Option("--force", help="replace files that were not written by gaugerod, or changed since")]
TraceFlag = Annotated[bool, typer.Option("--trace", help="after a fault of the tool's own, write what the maintainers need to a file")]
BudgetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--budget",
        metavar="NAME=NUMBER",
        help="bound of what is read and worked on, as inserts=50000; may be given again",
        show_default=False,
    ),
]
PaperOption = Annotated[
    str | None,
    typer.Option("--paper", metavar="SIZE", help="A4 to A0, A2-upright to A0-upright; chosen to fit if not given", show_default=False),
]
ScaleOption = Annotated[float | None, typer.Option("--scale", metavar="N", help="1:N; chosen to fit if not given", show_default=False)]
PlainDxfFlag = Annotated[bool, typer.Option("--plain-dxf", help="every tile an outline of its own in the DXF, up to 20,000")]
KeepOption = Annotated[
    str | None,
    typer.Option(
        "--keep", metavar="WHAT", help="of lines, joints, marks, with commas between: they stay as they are built", show_default=False
    ),
]
FromOption = Annotated[
    Path | None, typer.Option("--from", metavar="OLD", help="with --keep: the plan or run that was built from", show_default=False)
]
LanguageOption = Annotated[
    str | None,
    typer.Option(
        "--language",
        metavar="CODE",
        help="en, de, pl or es: words of sheets and page, not of the terminal; not reviewed; the plan's project.language if not given",
        show_default=False,
    ),
]
DpiOption = Annotated[int, typer.Option("--dpi", min=30, max=1200, help="dots per inch of PNG sheets")]


def check_paper(paper: str | None, scale: float | None) -> None:
    """A size of paper that is known, a scale that can be drawn."""
    from layout import PAPER_SIZES, PlanError

    if paper is not None and paper not in PAPER_SIZES:
        raise PlanError("--paper", f"{paper!r} found", "give one of " + ", ".join(sorted(PAPER_SIZES, reverse=True)))
    if scale is not None and not 1.0 <= scale <= 5000.0:
        raise PlanError("--scale", f"{scale:g} found", "give 20 for 1:20, from 1 to 5000")


def check_language(language: str | None) -> None:
    """A language that there is a catalogue of."""
    from layout import LANGUAGES, PlanError

    if language is not None and language not in LANGUAGES:
        raise PlanError("--language", f"{language!r} found", "give one of " + ", ".join(LANGUAGES))


def stem_of(plan: Path) -> str:
    """What files made of a plan are called after: its name, or plain words where it came from standard input."""
    from layout import portable_stem

    return "plan" if str(plan) == "-" else portable_stem(plan.stem)


def no_stream(out: Path | None, what: str) -> None:
    """That what is written goes into a file or folder that has a name."""
    from layout import PlanError

    if out is not None and str(out) == "-":
        raise PlanError("--out", f"{what} cannot go to standard output", "name a place for it")
