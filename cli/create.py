"""A new plan file: from flags, from a survey, from an example, or from a few questions."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.errors import Point
    from layout.plan.values import Plan
    from layout.survey.adjust import Survey

BACK = "back"
SHAPES = {
    "rectangle": ("width x length, as 6000x4200", 2),
    "l": ("whole, then the corner cut out: 6500x4700x2400x1800", 4),
    "u": ("whole, then the gap: 6500x4700x2400x1800", 4),
    "t": ("whole, then the stem: 6500x4700x2400x1800", 4),
    "walk": ("lengths with turns: 6500 L 2900 L 2400 R 1800 L 4100 L", 0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An outline, what it was made from, and what there is to say of it."""

    outline: list[Point]
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
    makers: dict[str, Callable[..., list[Point]]] = {
        "rectangle": drafts.rectangle,
        "l": drafts.l_shape,
        "u": drafts.u_shape,
        "t": drafts.t_shape,
    }
    return Draft(outline=makers[shape](*sizes), note=f"{shape.upper() if len(shape) == 1 else shape.capitalize()} of {text}")


def surveyed(path: Path) -> Draft:
    """The outline of a survey, with what does not close."""
    from layout.readers.surveyfile import read_survey
    from layout.survey.adjust import adjust

    survey = adjust(read_survey(path))
    outline = [(round(x, 1) + 0.0, round(y, 1) + 0.0) for x, y in survey.corners]
    return Draft(outline=outline, note=f"From the survey {path.name}, by least squares", said=survey_text(survey))


def survey_text(survey: Survey) -> str:
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
    from layout.readers.surveyfile import read_points

    outline = read_points(path)
    return Draft(outline=list(outline), note=f"From the points of {path.name}")


def measured_text(plan_file: Path, readings: Path) -> tuple[str, str]:
    """A plan's text with as-measured lengths put into its outline, its comments kept; and what that changes, in words."""
    import numpy as np

    from layout.errors import PlanError
    from layout.readers.planfile import parse_plan
    from layout.readers.surveyfile import read_survey
    from layout.readers.texts import read_text
    from layout.survey.adjust import carried_along, refit
    from layout.writers.planfile import with_values

    text = read_text(plan_file)
    before = parse_plan(text, plan_file.name, folder=plan_file.parent)
    if len(before.rooms) != 1:
        raise PlanError(plan_file.name, f"{len(before.rooms)} rooms found", "as-measured figures go into a plan of one room")
    outline = before.rooms[0].outline
    points = refit(np.array([(v.x, v.y) for v in outline]), read_survey(readings))
    corners = [[float(x), float(y)] for x, y in np.round(points, 1) + 0.0]
    values = [{"to": at, "bulge": v.bulge} if v.bulge else at for at, v in zip(corners, outline, strict=True)]
    changes: dict[tuple[str | int, ...], Any] = {("rooms", 0, "outline"): values}
    old = np.array([(v.x, v.y) for v in outline])
    for kind in ("plinths", "columns"):
        for k, solid in enumerate(getattr(before.rooms[0], kind)):
            if any(v.bulge for v in solid.outline):
                continue
            ring = np.array([(v.x, v.y) for v in solid.outline])
            moved = carried_along(ring, old, np.array(corners))
            if np.abs(moved - ring).max() > 0.05:
                changes["rooms", 0, kind, k, "outline"] = [[float(x), float(y)] for x, y in np.round(moved, 3) + 0.0]
    changed = with_values(text, changes)
    after = parse_plan(changed, plan_file.name, folder=plan_file.parent)
    return changed, changes_text(before, after)


def changes_text(before: Plan, after: Plan) -> str:
    """What differs between two plans: the cut at each wall, orders in packs."""
    from layout.quantities.orders import place_orders
    from layout.quantities.takeoff import take_off
    from layout.setout.conduct import set_out

    setouts = [set_out(plan) for plan in (before, after)]
    cuts = [{c.label: (round(c.start), round(c.end)) for c in setout.rooms[0].floor.wall_cuts} for setout in setouts]
    lines = ["cuts of the floor, saw size at both ends, before -> as measured:"]
    for label in cuts[1]:
        old, new = cuts[0].get(label), cuts[1][label]
        lines.append(
            f"  {label}: {f'{old[0]} to {old[1]}' if old else 'none'} -> {new[0]} to {new[1]}" + ("" if old != new else ", as before")
        )
    orders = [{order.item.key: order.packs for order in place_orders(take_off(setout))} for setout in setouts]
    more = [f"  {key}: {orders[0].get(key, 0)} -> {packs} packs" for key, packs in orders[1].items() if packs != orders[0].get(key, 0)]
    return "\n".join([*lines, "orders:", *(more or ["  as before"])])


def example_text(name: str) -> str:
    """An example plan by name."""
    import layout
    from layout.errors import PlanError

    home = Path(layout.__file__).parent
    folders = [folder for folder in (home / "examples", home.parent / "plans") if folder.is_dir()]
    for folder in folders:
        if (folder / f"{name}.toml").is_file():
            return (folder / f"{name}.toml").read_text(encoding="utf-8")
    known = sorted({path.stem for folder in folders for path in folder.glob("*.toml")})
    raise PlanError("--example", f"there is no example {name!r}", "examples are " + (", ".join(known) or "not installed"))


def asked() -> tuple[Draft, str, tuple[float, float]]:
    """Outline, name and tile from a few questions; `back` takes a step back."""
    from layout.errors import PlanError
    from layout.survey.drafts import as_text, sizes_of

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
            typer.echo(f"{answer!r} found; give one of " + ", ".join(SHAPES), err=True)
            continue
        try:
            if step == 1:
                draft = shaped(answers[0], answer, answers[0])
                typer.echo(as_text(draft.outline), err=True)
            if step == 3:
                w, h = sizes_of(answer, 2, "tile", "its width and length, as 200x200")
                tile = (w, h)
        except PlanError as error:
            typer.echo(str(error), err=True)
            continue
        answers.append(answer.lower() if step == 0 else answer)
    return draft, answers[2], tile
