"""`gaugerod new`: a first plan from flags, a survey, an example, or a few questions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

import layout
from cli.streams import speak
from cli.talk import DONE, Talk

if TYPE_CHECKING:
    from collections.abc import Callable

BACK = "back"
SHAPES = {
    "rectangle": ("width x length, as 6000x4200", 2),
    "l": ("whole, then the corner cut out: 6500x4700x2400x1800", 4),
    "u": ("whole, then the gap: 6500x4700x2400x1800", 4),
    "t": ("whole, then the stem: 6500x4700x2400x1800", 4),
    "walk": ("lengths with turns: 6500 L 2900 L 2400 R 1800 L 4100 L", 0),
}


class Draft(NamedTuple):
    """An outline, what it was made from, and what there is to say of it."""

    outline: list[layout.Point]
    note: str
    said: str = ""


def shaped(shape: str, text: str, flag: str) -> Draft:
    """The outline of a shape with its sizes as typed."""
    from layout.survey import drafts

    meaning, count = SHAPES[shape]
    if shape == "walk":
        outline, gap = drafts.walk(text)
        return Draft(outline=outline, note=f"A walk round the room: {text}", said=f"the walk closes to {gap:.0f} mm" if gap else "")
    sizes = drafts.sizes_of(text, count, flag, meaning)
    makers: dict[str, Callable[..., list[layout.Point]]] = {
        "rectangle": drafts.rectangle,
        "l": drafts.l_shape,
        "u": drafts.u_shape,
        "t": drafts.t_shape,
    }
    return Draft(outline=makers[shape](*sizes), note=f"{shape.upper() if len(shape) == 1 else shape.capitalize()} of {text}")


def surveyed(path: Path) -> Draft:
    """The outline of a survey, with what does not close."""
    survey = layout.adjust_survey(layout.read_survey(path))
    outline = [(round(x, 1) + 0.0, round(y, 1) + 0.0) for x, y in survey.corners]
    return Draft(outline=outline, note=f"From the survey {path.name}, by least squares", said=survey_text(survey))


def survey_text(survey: layout.Survey) -> str:
    """What a survey shows: residuals, spare readings, out of square, the reading that is probably wrong."""
    lines = []
    spare = f"{survey.spare} reading{'s' if survey.spare != 1 else ''} more than needed"
    lines.append(spare + ("" if survey.spare else ": nothing checks them, measure one more diagonal"))
    for fit in survey.fits:
        shows = f"{fit.residual:+.1f} mm" if fit.redundancy > 1e-6 else "not checked by another"
        lines.append(f"  {fit.reading.name} {fit.reading.length:g}: {shows}")
    square = ", ".join(f"{name} {off:+.0f}" for name, off in zip(survey.names, survey.out_of_square(), strict=True))
    lines.append(f"out of square over the wall that leaves each corner, mm: {square}")
    names = [fit.reading.name for fit in survey.suspects]
    if len(names) == 1:
        lines.append(f"{names[0]} is probably wrong by {survey.error:+.0f} mm: measure it again")
    elif names:
        lines.append(f"it does not close: one of {', '.join(names)} is wrong; one more reading would tell which")
    return "\n".join(lines)


def pointed(path: Path) -> Draft:
    """The outline of a table of points."""
    outline = layout.read_points(path)
    return Draft(outline=list(outline), note=f"From the points of {path.name}")


def measured_text(plan_file: Path, readings: Path) -> tuple[str, str]:
    """A plan's text with as-measured lengths put into its outline, its comments kept; and what that changes, in words."""
    import numpy as np

    text = layout.read_text(plan_file)
    before = layout.parse_plan(text, plan_file.name, folder=plan_file.parent)
    if len(before.rooms) != 1:
        raise layout.PlanError(plan_file.name, f"{len(before.rooms)} rooms found", "as-measured figures go into a plan of one room")
    outline = before.rooms[0].outline
    drawn, taken = np.array([(v.x, v.y) for v in outline]), layout.read_survey(readings)
    doubts = layout.off_the_plan(drawn, taken, before.budgets)
    points = layout.refit(drawn, taken)
    corners = [[float(x), float(y)] for x, y in np.round(points, 1) + 0.0]
    more = [{key: value for key, value in (("bulge", v.bulge), ("wall", v.wall)) if value} for v in outline]
    values = [{"to": at, **own} if own else at for at, own in zip(corners, more, strict=True)]
    changes: dict[tuple[str | int, ...], Any] = {("rooms", 0, "outline"): values}
    old = np.array([(v.x, v.y) for v in outline])
    for kind in ("plinths", "columns"):
        for k, solid in enumerate(getattr(before.rooms[0], kind)):
            if any(v.bulge for v in solid.outline):
                continue
            ring = np.array([(v.x, v.y) for v in solid.outline])
            moved = layout.carried_along(ring, old, np.array(corners))
            if np.abs(moved - ring).max() > 0.05:
                changes["rooms", 0, kind, k, "outline"] = [[float(x), float(y)] for x, y in np.round(moved, 3) + 0.0]
    changed = layout.with_values(text, changes)
    after = layout.parse_plan(changed, plan_file.name, folder=plan_file.parent)
    look = ["look:", *(f"  {doubt}" for doubt in doubts)] if doubts else []
    return changed, "\n".join([*look, changes_text(before, after)])


def changes_text(before: layout.Plan, after: layout.Plan) -> str:
    """What differs between two plans: the cut at each wall, orders in packs."""
    setouts = [layout.set_out(plan) for plan in (before, after)]
    cuts = [{c.label: (round(c.start), round(c.end)) for c in setout.rooms[0].floor.wall_cuts} for setout in setouts]
    lines = ["cuts of the floor, saw size at both ends, before -> as measured:"]
    for label in cuts[1]:
        old, new = cuts[0].get(label), cuts[1][label]
        lines.append(
            f"  {label}: {f'{old[0]} to {old[1]}' if old else 'none'} -> {new[0]} to {new[1]}" + ("" if old != new else ", as before")
        )
    orders = [{order.item.key: order.packs for order in layout.place_orders(layout.take_off(setout))} for setout in setouts]
    more = [f"  {key}: {orders[0].get(key, 0)} -> {packs} packs" for key, packs in orders[1].items() if packs != orders[0].get(key, 0)]
    return "\n".join([*lines, "orders:", *(more or ["  as before"])])


def example_text(name: str) -> str:
    """An example plan by name."""
    home = Path(layout.__file__).parent
    folders = [folder for folder in (home / "examples", home.parent / "plans") if folder.is_dir()]
    for folder in folders:
        if (folder / f"{name}.toml").is_file():
            return (folder / f"{name}.toml").read_text(encoding="utf-8")
    known = sorted({path.stem for folder in folders for path in folder.glob("*.toml")})
    raise layout.PlanError("--example", f"there is no example {name!r}", "examples are " + (", ".join(known) or "not installed"))


def asked() -> tuple[Draft, str, tuple[float, float]]:
    """Outline, name and tile from a few questions; `back` takes a step back."""
    from layout.survey import drafts

    answers: list[str] = []
    questions = (
        lambda: ("shape of the room: " + ", ".join(SHAPES), "rectangle"),
        lambda: (
            SHAPES[answers[0]][0],
            {"rectangle": "6000x4200", "walk": "6500 L 2900 L 2400 R 1800 L 4100 L"}.get(answers[0], "6500x4700x2400x1800"),
        ),
        lambda: ("name of the room", "Room"),
        lambda: ("floor tile, width x length", "200x200"),
    )
    draft = Draft(outline=[], note="")
    tile = (200.0, 200.0)
    while len(answers) < len(questions):
        step = len(answers)
        question, default = questions[step]()
        answer = str(typer.prompt(f"{question} ({BACK} for the question before)" if step else question, default=default, err=True)).strip()
        if answer.lower() == BACK:
            answers = answers[:-1]
            continue
        if step == 0 and answer.lower() not in SHAPES:
            speak(f"{answer!r} found; give one of " + ", ".join(SHAPES))
            continue
        try:
            if step == 1:
                draft = shaped(answers[0], answer, answers[0])
                speak(drafts.as_text(draft.outline))
            if step == 3:
                w, h = drafts.sizes_of(answer, 2, "tile", "its width and length, as 200x200")
                tile = (w, h)
        except layout.PlanError as error:
            speak(str(error))
            continue
        answers.append(answer.lower() if step == 0 else answer)
    return draft, answers[2], tile


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
) -> int:
    """A plan from a few questions, flags, or a survey."""
    given = {"rectangle": rectangle, "l": l_shape, "u": u_shape, "t": t_shape, "walk": walk}
    shapes = {key: text for key, text in given.items() if text is not None}
    ways = len(shapes) + sum(each is not None for each in (survey, points, measured, example))
    if file.exists() and not say.force:
        raise layout.PlanError(str(file), "it is there already", "name another file, or let --force replace it")
    if (old_plan is None) != (measured is None):
        raise layout.PlanError("--plan", "it goes with --measured", "give both: the plan, and the readings taken in its room")
    if ways > 1:
        raise layout.PlanError("gaugerod new", f"{ways} ways to make the outline", "give one of them")
    if example is not None:
        text = example_text(example)
    elif old_plan is not None and measured is not None:
        text, said = measured_text(old_plan, measured)
        say.answer(said)
    else:
        text = _drafted(shapes, survey, points, name, tile, say)
    plan = layout.parse_plan(text, file.name)
    read = [each for each in (survey, points, old_plan, measured) if each is not None]
    with say.batch(file.parent, inputs=read) as batch:
        batch.path(file.name).write_text(text, encoding="utf-8")
        _first_picture(plan, batch.path(f"{file.stem}.png"))
    say.tell(f"wrote {file} and {file.with_suffix('.png').name}; next: gaugerod run {file}")
    return DONE


def _drafted(shapes: dict[str, str], survey: Path | None, points: Path | None, name: str, tile: str, say: Talk) -> str:
    """A plan's text from the one way that was given, else from questions; the outline is shown."""
    from layout.survey import drafts

    width, length = drafts.sizes_of(tile, 2, "--tile", "its width and length, as 200x200")
    size = (width, length)
    if shapes:
        shape, text = next(iter(shapes.items()))
        draft = shaped(shape, text, f"--{shape}")
    elif survey is not None:
        draft = surveyed(survey)
    elif points is not None:
        draft = pointed(points)
    else:
        try:
            draft, name, size = asked()
        except typer.Abort:
            mend = "answer them, or give --rectangle or --walk"
            raise layout.PlanError("gaugerod new", "the questions were not answered to the end", mend) from None
    say.tell(drafts.as_text(draft.outline))
    if draft.said:
        say.tell(draft.said)
    return drafts.plan_text(draft.outline, name=name, tile=size, note=draft.note)


def _first_picture(plan: layout.Plan, path: Path) -> None:
    """A small picture of the floor, to check by eye."""
    setout = layout.set_out(plan)
    layout.save_png(layout.draw_sheets(setout, layout.take_off(setout))[0], path, dpi=60)
