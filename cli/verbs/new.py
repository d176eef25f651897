"""`gaugerod new`: a first plan from flags, a survey, an example, or questions that go all the way."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import layout
from cli.keeping import what_to_keep
from cli.options import JsonFlag, KeepOption
from cli.talk import DONE, Talk
from cli.waiting import go_on

if TYPE_CHECKING:
    from cli.drafting import Draft


EXAMPLES = (
    ("new kitchen.toml", "questions, one after the other"),
    ("new kitchen.toml --walk '6500 L 2900 L 2400 R 1800 L 4100 L'", "a walk round the room"),
    ("new kitchen.toml --survey readings.csv", "walls and diagonals by tape"),
)

LevelsOption = Annotated[
    Path | None, typer.Option(metavar="FILE", help="levels by water or laser: from,to,rise or at,reading", show_default=False)
]
SketchOption = Annotated[
    Path | None, typer.Option(metavar="FILE.png", help="a small picture as the plan grows under the questions", show_default=False)
]
WalkOption = Annotated[
    str | None, typer.Option(metavar="TEXT", help='round the room: "6500 L 2900 L 2400 R 1800 L 4100 L"', show_default=False)
]


def command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="plan file to write", show_default=False)],
    *,
    say: Talk,
    rectangle: Annotated[str | None, typer.Option(metavar="WxH", help="a rectangle, as 6000x4200", show_default=False)] = None,
    l_shape: Annotated[
        str | None, typer.Option("--l", metavar="WxHxwxh", help="an L: whole, then the corner cut out", show_default=False)
    ] = None,
    u_shape: Annotated[str | None, typer.Option("--u", metavar="WxHxwxh", help="a U: whole, then the gap", show_default=False)] = None,
    t_shape: Annotated[str | None, typer.Option("--t", metavar="WxHxwxh", help="a T: whole, then the stem", show_default=False)] = None,
    walk: WalkOption = None,
    survey: Annotated[Path | None, typer.Option(metavar="FILE", help="readings: from,to,length", show_default=False)] = None,
    points: Annotated[Path | None, typer.Option(metavar="FILE", help="corners: name,x,y or name,along,offset", show_default=False)] = None,
    old_plan: Annotated[
        Path | None, typer.Option("--plan", metavar="PLAN", help="with --measured: the plan that was measured", show_default=False)
    ] = None,
    measured: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE|WORDS",
            help='as measured: a table ("wall 7,7145", "1-3,8021", "line A from wall 2,205"), a page\'s ticks, or words',
            show_default=False,
        ),
    ] = None,
    keep: KeepOption = None,
    example: Annotated[str | None, typer.Option(metavar="NAME", help="copy an example plan", show_default=False)] = None,
    levels: LevelsOption = None,
    anyway: Annotated[bool, typer.Option("--anyway", help="take a survey that does not close as it is")] = False,
    sketch: SketchOption = None,
    name: Annotated[str, typer.Option(help="name of the room")] = "Room",
    tile: Annotated[str, typer.Option(metavar="WxH", help="floor tile, work size")] = "200x200",
    as_json: JsonFlag = False,
) -> int:
    """A plan from a few questions, flags, or a survey."""
    given = {"rectangle": rectangle, "l": l_shape, "u": u_shape, "t": t_shape, "walk": walk}
    shapes = {key: text for key, text in given.items() if text is not None}
    ways = len(shapes) + sum(each is not None for each in (survey, points, measured, example))
    stream = str(file) == "-"
    _refuse(file, ways, old_plan, measured, keep, say)
    asked = False
    if example is not None:
        from cli.drafting import example_text

        text = example_text(example)
    elif old_plan is not None and measured is not None:
        from cli.measured import measured_text

        text, said = measured_text(old_plan, measured, what_to_keep(keep) if keep is not None else ())
        (say.tell if stream or as_json else say.answer)(said)
    elif ways:
        text = _drafted(shapes, survey, points, name, tile, say, anyway=anyway)
    else:
        text, asked = _asked(file, sketch), True
    read = [each for each in (survey, points, old_plan, measured, levels) if each is not None and each.exists()]
    if levels is not None:
        text = _with_levels(text, levels, say, anyway=anyway)
    _finish(file, text, read, say, asked=asked, as_json=as_json)
    return DONE


def _refuse(file: Path, ways: int, old_plan: Path | None, measured: Path | None, keep: str | None, say: Talk) -> None:
    """What cannot be asked for together, or would be written over."""
    if str(file) != "-" and file.exists() and not say.force:
        raise layout.PlanError(str(file), "it is there already", "name another file, or let --force replace it")
    if (old_plan is None) != (measured is None):
        raise layout.PlanError("--plan", "it goes with --measured", "give both: the plan, and the readings taken in its room")
    if keep is not None and measured is None:
        raise layout.PlanError("--keep", "nothing is built from a plan that is new", "give it with --plan and --measured")
    if ways > 1:
        raise layout.PlanError("gaugerod new", f"{ways} ways to make the outline", "give one of them")


def _with_levels(text: str, levels: Path, say: Talk, *, anyway: bool) -> str:
    """A plan's text with levels told at its head."""
    from cli.drafting import levelled

    text, said = levelled(text, levels, anyway=anyway)
    say.tell(said)
    return text


def _finish(file: Path, text: str, read: list[Path], say: Talk, *, asked: bool, as_json: bool) -> None:
    """The plan written; after questions, three things to look at."""
    setout = _write(file, text, read, say)
    if asked:
        from cli.lookat import look_at

        say.tell(look_at(setout))
    if as_json and str(file) != "-":
        say.data(layout.to_json({"schema": "gaugerod/new/1", "plan": str(file), "picture": file.with_suffix(".png").name}))


def _write(file: Path, text: str, read: list[Path], say: Talk) -> layout.SetOut:
    """The plan into its file with a small picture beside it, or onto standard output; the plan set out."""
    go_on()
    plan = layout.parse_plan(text, layout.source_name(file))
    if str(file) == "-":
        say.data(text)
        return layout.set_out(plan)
    with say.batch(file.parent, inputs=read) as batch:
        batch.path(file.name).write_text(text, encoding="utf-8")
        setout = _first_picture(plan, batch.path(f"{file.stem}.png"))
    say.tell(f"wrote {file} and {file.with_suffix('.png').name}; next: gaugerod run {file}")
    return setout


def _drafted(shapes: dict[str, str], survey: Path | None, points: Path | None, name: str, tile: str, say: Talk, *, anyway: bool) -> str:
    """A plan's text from the one way that was given; the outline is shown."""
    from cli.asking import width
    from cli.drafting import pointed, shaped, surveyed
    from layout.survey import drafts
    from layout.survey.sketch import sketch

    across, along = drafts.sizes_of(tile, 2, "--tile", "its width and length, as 200x200")
    if shapes:
        shape, text = next(iter(shapes.items()))
        draft: Draft = shaped(shape, text, f"--{shape}")
    elif survey is not None:
        draft = surveyed(survey, anyway=anyway)
    else:
        assert points is not None  # one way is given
        draft = pointed(points)
    say.tell(sketch(draft.outline, width=min(48, width() - 2)))
    if draft.said:
        say.tell(draft.said)
    return drafts.plan_text(draft.outline, name=name, tile=(across, along), note=draft.note)


def _asked(file: Path, picture: Path | None) -> str:
    """A plan's text from questions; a picture of it as it grows, if one is wanted, taken away where the person stops."""
    from cli.asking import Asking, LeftOpen
    from cli.questions import whole_plan

    drawn = False

    def seen(text: str) -> None:
        nonlocal drawn
        if picture is not None:
            with layout.one_file(picture, force=drawn) as place:
                _first_picture(layout.parse_plan(text, file.name), place)
            drawn = True

    try:
        return Asking().hold(lambda ask: whole_plan(ask, layout.source_name(file), seen))
    except (KeyboardInterrupt, LeftOpen) as stopped:
        if drawn and picture is not None:
            picture.unlink(missing_ok=True)
        if isinstance(stopped, KeyboardInterrupt):
            raise
        mend = "answer them, or give --rectangle or --walk"
        raise layout.PlanError("gaugerod new", "the questions were not answered to the end", mend) from None


def _first_picture(plan: layout.Plan, path: Path) -> layout.SetOut:
    """A small picture of the floor, to check by eye; the plan set out."""
    setout = layout.set_out(plan)
    layout.save_png(layout.draw_first(setout, layout.take_off(setout)), path, dpi=60)
    return setout
