"""The command `gaugerod`: reads, calls the engine, prints, and answers with an exit status.

Status 0: done. 1: done, but a rule that the plan makes binding is broken. 2: bad input; one clear
message with file, place and mend. Answers go to standard output, talk to standard error.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plan.values import Plan
    from layout.setout.conduct import SetOut

app = typer.Typer(
    name="gaugerod",
    help="Sets out tiled, tanked wet rooms: start lines, cuts, movement joints, tape, quantities, drawings.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    add_completion=False,
)

PlanArg = Annotated[Path, typer.Argument(metavar="PLAN", help="plan file (TOML)", show_default=False)]
JsonFlag = Annotated[bool, typer.Option("--json", help="print JSON instead of tables")]
OutFile = Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE", help="write the answer to a file", show_default=False)]
QuietFlag = Annotated[bool, typer.Option("--quiet", "-q", help="no talk on standard error")]
PlainFlag = Annotated[bool, typer.Option("--no-colour", "--no-color", help="no colour; NO_COLOR does the same")]
PaperOption = Annotated[
    str | None,
    typer.Option("--paper", metavar="SIZE", help="A4 to A0, A2-upright to A0-upright; chosen to fit if not given", show_default=False),
]
ScaleOption = Annotated[float | None, typer.Option("--scale", metavar="N", help="1:N; chosen to fit if not given", show_default=False)]
PlainDxfFlag = Annotated[bool, typer.Option("--plain-dxf", help="every tile an outline of its own in the DXF, up to 20,000")]
DpiOption = Annotated[int, typer.Option("--dpi", min=30, max=1200, help="dots per inch of PNG sheets")]

BINDING = 1
BAD_INPUT = 2


def _guard(work: Callable[[], int]) -> None:
    """Do the work; errors of the person's making end in one message and status 2."""
    from layout.errors import LayoutError

    try:
        status = work()
    except LayoutError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(BAD_INPUT) from None
    except BrokenPipeError:
        sys.stderr.close()
        raise typer.Exit(0) from None
    if status:
        raise typer.Exit(status)


def _load(plan: Path) -> SetOut:
    from layout.readers.planfile import read_plan
    from layout.setout.conduct import set_out

    return set_out(read_plan(plan))


def _status(setout: SetOut, *, quiet: bool) -> int:
    """1 if a binding rule is broken, said on standard error."""
    broken = setout.binding_findings()
    if broken and not quiet:
        for finding in broken:
            typer.echo(f"binding: {finding.code}: {finding.text}", err=True)
    return BINDING if broken else 0


def _answer(text: str, out: Path | None) -> None:
    """Print an answer, or write it whole to a file."""
    if out is None:
        sys.stdout.write(text if text.endswith("\n") else f"{text}\n")
        return
    from layout.writers.files import write_whole

    write_whole(out, text.encode())


def _compared(plan: Path, against: str, *, as_json: bool, plain: bool) -> str:
    """Alternatives as a table or as JSON."""
    from layout.errors import PlanError
    from layout.readers.planfile import read_plan
    from layout.setout.compare import compare

    if against not in ("starts", "patterns", "tiles"):
        raise PlanError("--compare", f"{against!r} found", "give starts, patterns or tiles")
    found = compare(read_plan(plan), against)  # type: ignore[arg-type]
    if as_json:
        from layout.writers.records import compare_record, to_json

        return to_json(compare_record(found))
    from cli.report import compare_text

    return compare_text(found, plain=plain)


@app.command("setout")
def setout_command(
    plan: PlanArg,
    *,
    as_json: JsonFlag = False,
    pieces: Annotated[bool, typer.Option("--pieces", help="with --json: every whole tile and cut piece")] = False,
    against: Annotated[
        str | None, typer.Option("--compare", metavar="WHAT", help="starts, patterns or tiles side by side", show_default=False)
    ] = None,
    out: OutFile = None,
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """Start lines, cuts, movement joints and tape."""

    def work() -> int:
        if pieces and not as_json:
            from layout.errors import PlanError

            raise PlanError("--pieces", "it needs --json", "add --json")
        if against is not None:
            _answer(_compared(plan, against, as_json=as_json, plain=no_colour or out is not None), out)
            return 0
        setout = _load(plan)
        if as_json:
            from layout.writers.records import setout_record, to_json

            _answer(to_json(setout_record(setout, pieces=pieces)), out)
        else:
            from cli.report import setout_text

            _answer(setout_text(setout, plain=no_colour or out is not None), out)
        return _status(setout, quiet=quiet)

    _guard(work)


@app.command("takeoff")
def takeoff_command(
    plan: PlanArg,
    *,
    as_json: JsonFlag = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="print CSV instead of a table")] = False,
    as_xlsx: Annotated[bool, typer.Option("--xlsx", help="write a workbook; name it with --out")] = False,
    rates: Annotated[Path | None, typer.Option("--rates", metavar="FILE", help="price it by a file of rates", show_default=False)] = None,
    explain: Annotated[
        str | None, typer.Option("--explain", metavar="ITEM", help="show where one item's quantity comes from", show_default=False)
    ] = None,
    out: OutFile = None,
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """Quantities and orders in whole packs."""

    def work() -> int:
        from layout.errors import PlanError
        from layout.quantities.orders import place_orders
        from layout.quantities.takeoff import take_off

        if as_xlsx and out is None:
            raise PlanError("--xlsx", "no file to write is named", "add --out takeoff.xlsx")
        setout = _load(plan)
        takeoff = take_off(setout)
        orders = place_orders(takeoff)
        bill = None
        if rates is not None:
            from layout.quantities.bill import price
            from layout.readers.officefile import read_rates

            bill = price(takeoff, read_rates(rates))
        if explain is not None:
            from cli.report import explain_text

            item = takeoff.item(explain)
            if item is None:
                raise PlanError("--explain", f"there is no item {explain!r}", "items are " + ", ".join(each.key for each in takeoff.items))
            _answer(explain_text(item, orders, plain=no_colour or out is not None), out)
        elif as_xlsx and out is not None:
            from layout.writers.files import whole_or_nothing
            from layout.writers.workbook import save_workbook

            with whole_or_nothing(out.parent) as batch:
                save_workbook(takeoff, orders, batch.path(out.name), bill=bill)
            if not quiet:
                typer.echo(f"wrote {out}", err=True)
        elif as_json:
            from layout.writers.quantity_records import takeoff_record
            from layout.writers.records import to_json

            _answer(to_json(takeoff_record(takeoff, orders, bill)), out)
        elif as_csv:
            from layout.writers.save import takeoff_csv

            _answer(takeoff_csv(takeoff, orders, bill), out)
        else:
            from cli.report import takeoff_text

            _answer(takeoff_text(takeoff, orders, plain=no_colour or out is not None, bill=bill), out)
        return _status(setout, quiet=quiet)

    _guard(work)


@app.command("new")
def new_command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="plan file to write", show_default=False)],
    *,
    rectangle: Annotated[str | None, typer.Option(metavar="WxH", help="a rectangle, as 6000x4200", show_default=False)] = None,
    l_shape: Annotated[
        str | None, typer.Option("--l", metavar="WxHxwxh", help="an L: whole, then the corner cut out", show_default=False)
    ] = None,
    u_shape: Annotated[str | None, typer.Option("--u", metavar="WxHxwxh", help="a U: whole, then the gap", show_default=False)] = None,
    t_shape: Annotated[str | None, typer.Option("--t", metavar="WxHxwxh", help="a T: whole, then the stem", show_default=False)] = None,
    walk: Annotated[
        str | None, typer.Option(metavar="TEXT", help='round the room: "6500 L 2900 L 2400 R 1800 L 4100 L"', show_default=False)
    ] = None,
    survey: Annotated[Path | None, typer.Option(metavar="FILE", help="readings: from,to,length", show_default=False)] = None,
    points: Annotated[Path | None, typer.Option(metavar="FILE", help="corners: name,x,y or name,along,offset", show_default=False)] = None,
    old_plan: Annotated[
        Path | None, typer.Option("--plan", metavar="PLAN", help="with --measured: the plan that was measured", show_default=False)
    ] = None,
    measured: Annotated[
        Path | None, typer.Option(metavar="FILE", help="as-measured readings from,to,length between corners 1, 2 …", show_default=False)
    ] = None,
    example: Annotated[str | None, typer.Option(metavar="NAME", help="copy an example plan", show_default=False)] = None,
    name: Annotated[str, typer.Option(help="name of the room")] = "Room",
    tile: Annotated[str, typer.Option(metavar="WxH", help="floor tile, work size")] = "200x200",
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """A plan from a few questions, flags, or a survey."""
    del no_colour

    def work() -> int:
        from cli.create import asked, example_text, measured_text, pointed, shaped, surveyed
        from layout.errors import PlanError
        from layout.readers.planfile import parse_plan
        from layout.survey.drafts import as_text, plan_text, sizes_of
        from layout.writers.files import whole_or_nothing

        if file.exists():
            raise PlanError(str(file), "it is there already", "name another file: nothing is written over")
        given = {"rectangle": rectangle, "l": l_shape, "u": u_shape, "t": t_shape, "walk": walk}
        shapes = [key for key, text in given.items() if text is not None]
        ways = len(shapes) + sum(each is not None for each in (survey, points, measured, example))
        if (old_plan is None) != (measured is None):
            raise PlanError("--plan", "it goes with --measured", "give both: the plan, and the readings taken in its room")
        if ways > 1:
            raise PlanError("gaugerod new", f"{ways} ways to make the outline", "give one of them")
        if example is not None:
            text = example_text(example)
        elif old_plan is not None and measured is not None:
            text, said = measured_text(old_plan, measured)
            typer.echo(said)
        else:
            w, h = sizes_of(tile, 2, "--tile", "its width and length, as 200x200")
            room, size = name, (w, h)
            if shapes:
                draft = shaped(shapes[0], str(given[shapes[0]]), f"--{shapes[0]}")
            elif survey is not None:
                draft = surveyed(survey)
            elif points is not None:
                draft = pointed(points)
            else:
                try:
                    draft, room, size = asked()
                except typer.Abort:
                    raise PlanError(
                        "gaugerod new", "the questions were not answered to the end", "answer them, or give --rectangle or --walk"
                    ) from None
            text = plan_text(draft.outline, name=room, tile=size, note=draft.note)
            if not quiet:
                typer.echo(as_text(draft.outline), err=True)
                if draft.said:
                    typer.echo(draft.said, err=True)
        plan = parse_plan(text, file.name)
        with whole_or_nothing(file.parent) as batch:
            batch.path(file.name).write_text(text, encoding="utf-8")
            _first_picture(plan, batch.path(f"{file.stem}.png"))
        if not quiet:
            typer.echo(f"wrote {file} and {file.with_suffix('.png').name}; next: gaugerod run {file}", err=True)
        return 0

    _guard(work)


LayerOption = Annotated[
    list[str] | None, typer.Option(metavar="LAYER", help="layer that holds them; may be given again", show_default=False)
]


@app.command("read")
def read_command(
    drawing: Annotated[
        Path, typer.Argument(metavar="DRAWING", help="drawing (DXF), model (IFC) or outlines (GeoJSON)", show_default=False)
    ],
    *,
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="DIR", help="folder for the plans", show_default=False)] = None,
    units: Annotated[str | None, typer.Option(help="mm, cm, m, inch or foot, if the file lies or says nothing", show_default=False)] = None,
    walls: LayerOption = None,
    rooms: LayerOption = None,
    doors: LayerOption = None,
    columns: LayerOption = None,
    pipes: LayerOption = None,
    gullies: LayerOption = None,
    gap: Annotated[float, typer.Option(min=0.0, max=500.0, help="ends of lines no further apart meet, mm")] = 10.0,
    room: Annotated[list[str] | None, typer.Option(metavar="NAME", help="only this room; may be given again", show_default=False)] = None,
    as_json: JsonFlag = False,
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """Plans from an architect's drawing, a building model, or outlines."""

    def work() -> int:
        from cli.ingest import found_in, written

        given = {"walls": walls, "rooms": rooms, "doors": doors, "columns": columns, "pipes": pipes, "gullies": gullies}
        layers = {role: names for role, names in given.items() if names}
        found = found_in(drawing, units=units, layers=layers, gap=gap, ask=not quiet)
        folder = out or Path(f"{drawing.stem}-plans")
        rows, faults = written(found, folder, only=room or [], picture=True)
        if as_json:
            from layout.writers.records import to_json

            record = {
                "schema": "gaugerod/read/1",
                "source": found.source,
                "unit": found.unit,
                "unit_why": found.unit_why,
                "rooms": rows,
                "taken": list(found.taken),
                "left": list(found.left),
                "warnings": [*found.warnings, *faults],
            }
            _answer(to_json(record), None)
        else:
            from cli.report import read_text

            _answer(read_text(found, rows, plain=no_colour), None)
        for warning in (*found.warnings, *faults):
            typer.echo(f"look: {warning}", err=True)
        if not quiet:
            typer.echo(f"wrote {len(rows)} plans and found.png into {folder}: look at the picture first", err=True)
        return 0

    _guard(work)


@app.command("batch")
def batch_command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder of plan files", show_default=False)],
    *,
    as_json: JsonFlag = False,
    out: OutFile = None,
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """Many plans, all cores, one summary table."""

    def work() -> int:
        from cli.batch import batch_record, rows_of, watched
        from layout.errors import PlanError

        if not folder.is_dir():
            raise PlanError(str(folder), "it is no folder", "give a folder of plan files (*.toml)")
        paths = sorted(folder.glob("*.toml"))
        if not paths:
            raise PlanError(str(folder), "there is no plan in it", "plan files end in .toml")
        rows = watched(rows_of(paths), len(paths), quiet=quiet)
        if as_json:
            from layout.writers.records import to_json

            _answer(to_json(batch_record(rows)), out)
        else:
            from cli.report import batch_text

            _answer(batch_text(rows, plain=no_colour or out is not None), out)
        faults = [row for row in rows if row.fault]
        for row in faults:
            typer.echo(row.fault, err=True)
        return 2 if faults else int(any(row.binding for row in rows))

    _guard(work)


@app.command("programme")
def programme_command(
    plan: PlanArg,
    start: Annotated[
        str | None, typer.Option("--start", metavar="DATETIME", help="earliest start, as 2026-11-30T07:00", show_default=False)
    ] = None,
    *,
    hands: Annotated[int, typer.Option("--hands", help="people at work in each room")] = 2,
    temperature: Annotated[float, typer.Option("--temperature", help="of the substrate, degrees C")] = 20.0,
    as_json: JsonFlag = False,
    out: OutFile = None,
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """Stages, curing windows, hold points."""

    def work() -> int:
        import datetime as dt

        from layout.errors import PlanError
        from layout.programme.stages import plan_works
        from layout.quantities.takeoff import take_off

        if not 1 <= hands <= 50:
            raise PlanError("--hands", f"{hands} found", "give 1 to 50")
        if not 5.0 <= temperature <= 35.0:
            raise PlanError("--temperature", f"{temperature:g} found", "give 5 to 35 degrees C: outside, the data sheet decides")
        if start is None:
            raise PlanError("--start", "it is missing", "give a date and time, as 2026-11-30T07:00")
        try:
            begins = dt.datetime.fromisoformat(start).replace(tzinfo=None)
        except ValueError:
            raise PlanError("--start", f"{start!r} found", "give a date and time, as 2026-11-30T07:00") from None
        setout = _load(plan)
        programme = plan_works(take_off(setout), start=begins, hands=hands, temperature=temperature)
        if as_json:
            from layout.writers.quantity_records import programme_record
            from layout.writers.records import to_json

            _answer(to_json(programme_record(programme, setout.plan.project)), out)
        else:
            from cli.report import programme_text

            _answer(programme_text(programme, plain=no_colour or out is not None), out)
        return _status(setout, quiet=quiet)

    _guard(work)


def _first_picture(plan: Plan, path: Path) -> None:
    """A small picture of the floor, to check by eye."""
    from layout.quantities.takeoff import take_off
    from layout.setout.conduct import set_out
    from layout.sheets.draw import draw_sheets
    from layout.writers.plot import save_png

    setout = set_out(plan)
    save_png(draw_sheets(setout, take_off(setout))[0], path, dpi=60)


def _check_paper(paper: str | None, scale: float | None) -> None:
    from layout.errors import PlanError
    from layout.sheets.paper import SIZES

    if paper is not None and paper not in SIZES:
        raise PlanError("--paper", f"{paper!r} found", "give one of " + ", ".join(sorted(SIZES, reverse=True)))
    if scale is not None and not 1.0 <= scale <= 5000.0:
        raise PlanError("--scale", f"{scale:g} found", "give 20 for 1:20, from 1 to 5000")


@app.command("sheets")
def sheets_command(
    plan: PlanArg,
    out: Annotated[Path, typer.Option("--out", "-o", metavar="DIR", help="folder to write into", show_default=False)],
    *,
    formats: Annotated[str, typer.Option("--format", metavar="LIST", help="of dxf, png, pdf, svg, with commas between")] = "dxf,png,pdf",
    paper: PaperOption = None,
    scale: ScaleOption = None,
    dpi: DpiOption = 300,
    plain_dxf: PlainDxfFlag = False,
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """Drawings: DXF, PNG, PDF, SVG."""
    del no_colour

    def work() -> int:
        from cli.batch import progress
        from layout.errors import PlanError
        from layout.quantities.takeoff import take_off
        from layout.sheets.draw import draw_sheets
        from layout.writers.files import whole_or_nothing
        from layout.writers.save import FORMATS, stage_sheets, steps

        _check_paper(paper, scale)
        wanted = tuple(each.strip().lower() for each in formats.split(","))
        for each in wanted:
            if each not in FORMATS:
                raise PlanError("--format", f"{each!r} found", "give some of " + ", ".join(FORMATS))
        setout = _load(plan)
        sheets = draw_sheets(setout, take_off(setout), paper=paper, scale=scale)
        with whole_or_nothing(out) as batch:
            with progress(steps(sheets, wanted), "drawing", quiet=quiet) as told:
                stage_sheets(batch, sheets, plan.stem, wanted, dpi=dpi, plain_dxf=plain_dxf, told=told)
            names = batch.names
        if not quiet:
            for name in names:
                typer.echo(f"wrote {out / name}", err=True)
        return _status(setout, quiet=quiet)

    _guard(work)


@app.command("run")
def run_command(
    plan: PlanArg,
    *,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="DIR", help="folder to write into; named after the plan if not given", show_default=False),
    ] = None,
    paper: PaperOption = None,
    scale: ScaleOption = None,
    dpi: DpiOption = 300,
    plain_dxf: PlainDxfFlag = False,
    as_json: JsonFlag = False,
    quiet: QuietFlag = False,
    no_colour: PlainFlag = False,
) -> None:
    """Everything into one folder: sheets, tables, programme, JSON, and a summary on the screen."""

    def work() -> int:
        import datetime as dt

        from cli.batch import progress
        from layout.quantities.orders import place_orders
        from layout.quantities.takeoff import take_off
        from layout.sheets.draw import draw_sheets
        from layout.writers.files import whole_or_nothing
        from layout.writers.quantity_records import programme_record, takeoff_record
        from layout.writers.records import setout_record, to_json
        from layout.writers.save import stage_sheets, steps, takeoff_csv
        from layout.writers.workbook import save_workbook

        _check_paper(paper, scale)
        setout = _load(plan)
        takeoff = take_off(setout)
        orders = place_orders(takeoff)
        sheets = draw_sheets(setout, takeoff, paper=paper, scale=scale)
        folder = out or Path(f"{plan.stem}-out")
        record = to_json(setout_record(setout))
        with whole_or_nothing(folder) as batch:
            kinds = ("dxf", "png", "pdf")
            with progress(steps(sheets, kinds), f"drawing {len(sheets)} sheets", quiet=quiet) as told:
                stage_sheets(batch, sheets, plan.stem, kinds, dpi=dpi, plain_dxf=plain_dxf, told=told)
            batch.path(f"{plan.stem}-setout.json").write_text(record, encoding="utf-8")
            batch.path(f"{plan.stem}-takeoff.json").write_text(to_json(takeoff_record(takeoff, orders)), encoding="utf-8")
            batch.path(f"{plan.stem}-takeoff.csv").write_text(takeoff_csv(takeoff, orders), encoding="utf-8", newline="")
            save_workbook(takeoff, orders, batch.path(f"{plan.stem}-takeoff.xlsx"))
            if setout.plan.project.date is not None:
                from layout.programme.stages import plan_works

                programme = plan_works(takeoff, start=dt.datetime.combine(setout.plan.project.date, dt.time(7)))
                batch.path(f"{plan.stem}-programme.json").write_text(
                    to_json(programme_record(programme, setout.plan.project)), encoding="utf-8"
                )
            names = batch.names
        if as_json:
            _answer(record, None)
        else:
            from cli.report import summary_text

            _answer(summary_text(setout, takeoff, orders, plain=no_colour), None)
        if not quiet:
            typer.echo(f"wrote {len(names)} files into {folder}:", err=True)
            for name in names:
                typer.echo(f"  {name}", err=True)
        return _status(setout, quiet=quiet)

    _guard(work)


@app.command("check")
def check_command(
    plan: PlanArg, *, as_json: JsonFlag = False, out: OutFile = None, quiet: QuietFlag = False, no_colour: PlainFlag = False
) -> None:
    """Validity and findings only."""

    def work() -> int:
        setout = _load(plan)
        if as_json:
            from layout.writers.records import to_json
            from layout.writers.rounded import finding_record

            rooms = [{"name": room.name, "warnings": [finding_record(f) for f in room.findings]} for room in setout.rooms]
            _answer(to_json({"schema": "gaugerod/check/1", "rooms": rooms}), out)
        else:
            from cli.report import findings_text

            _answer(findings_text(setout, plain=no_colour or out is not None), out)
        return _status(setout, quiet=quiet)

    _guard(work)


@app.command("schema")
def schema_command(*, out: OutFile = None) -> None:
    """The plan file's JSON Schema, for editors."""

    def work() -> int:
        import json

        from layout.readers.planfile import plan_schema

        _answer(json.dumps(plan_schema(), indent=2, ensure_ascii=False), out)
        return 0

    _guard(work)


def run_app() -> None:
    """Entry point of the command."""
    import gc

    gc.set_threshold(100_000, 50, 50)  # a command lives for a moment: looking for cycles costs it a tenth
    app()


if __name__ == "__main__":
    run_app()
