"""Outlines that a new plan begins with: a shape, a walk, a survey, a table of points; each with what there is to say of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import layout

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

SHAPES = {
    "rectangle": ("width x length, as 6000x4200", 2),
    "l": ("whole, then the corner cut out: 6500x4700x2400x1800", 4),
    "u": ("whole, then the gap: 6500x4700x2400x1800", 4),
    "t": ("whole, then the stem: 6500x4700x2400x1800", 4),
    "walk": ("lengths with turns: 6500 L 2900 L 2400 R 1800 L 4100 L", 0),
}
"""Shapes by their word: what sizes they take, and how many."""


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
        from layout.survey.walks import walk

        walked = walk(text)
        return Draft(outline=walked.corners, note=f"A walk round the room: {text}", said=walked.said)
    sizes = drafts.sizes_of(text, count, flag, meaning, of_room=True)
    makers: dict[str, Callable[..., list[layout.Point]]] = {
        "rectangle": drafts.rectangle,
        "l": drafts.l_shape,
        "u": drafts.u_shape,
        "t": drafts.t_shape,
    }
    return Draft(outline=makers[shape](*sizes), note=f"{shape.upper() if len(shape) == 1 else shape.capitalize()} of {text}")


def surveyed(path: Path, *, anyway: bool = False) -> Draft:
    """The outline of a survey, with what does not close.

    Raises
    ------
    PlanError
        If it does not close and is not wanted `anyway`.
    """
    return adjusted(layout.read_survey(path), f"From the survey {layout.source_name(path)}, by least squares", anyway=anyway)


def adjusted(readings: Sequence[layout.Reading], note: str, *, anyway: bool, wish: str = "--anyway") -> Draft:
    """The outline that readings give by least squares, if they close."""
    survey = layout.adjust_survey(readings)
    said = survey_text(survey)
    if survey.suspects and not anyway:
        again = " and ".join(fit.reading.name for fit in survey.again)
        found = f"it does not close: a reading is off by more than {survey.limit:g} mm\n{said}"
        raise layout.PlanError("survey", found, f"measure {again} again, or say {wish} to take it as it is")
    return Draft([(round(x, 1) + 0.0, round(y, 1) + 0.0) for x, y in survey.corners], note, said)


def survey_text(survey: layout.Survey) -> str:
    """What a survey shows: residuals, spare readings, how well corners are known, out of square, what to measure again."""
    lines = []
    spare = f"{survey.spare} reading{'s' if survey.spare != 1 else ''} more than needed"
    lines.append(spare + ("" if survey.spare else ": nothing checks them, measure one more diagonal"))
    for fit in survey.fits:
        shows = f"{fit.residual:+.1f} mm" if fit.redundancy > 1e-6 else "not checked by another"
        lines.append(f"  {fit.reading.name} {fit.reading.length:g}: {shows}")
    square = ", ".join(f"{name} {off:+.0f}" for name, off in zip(survey.names, survey.out_of_square(), strict=True))
    lines.append(f"out of square over the wall that leaves each corner, mm: {square}")
    known = ", ".join(f"{name} ±{e.major:.1f}" for name, e in zip(survey.names, survey.ellipses, strict=True) if e.major > 0.05)
    lines.append(f"corners are known to, mm (one standard deviation, readings to {survey.sigma:g}): {known}")
    names = [fit.reading.name for fit in survey.suspects]
    again = " and ".join(fit.reading.name for fit in survey.again)
    if len(names) == 1:
        lines.append(f"{names[0]} is probably wrong by {survey.error:+.0f} mm: measure {again} again")
    elif names:
        lines.append(f"it does not close: one of {', '.join(names)} is wrong; measure {again} again, that would tell which")
    return "\n".join(lines)


def levelled(text: str, path: Path, *, anyway: bool = False) -> tuple[str, str]:
    """A plan's text with levels by water or laser told in remarks at its head; and the same in words.

    Raises
    ------
    PlanError
        If they do not close and are not wanted `anyway`.
    """
    found = layout.adjust_levels(layout.read_levels(path))
    if found.again and not anyway:
        again = " and ".join(each.name for each in found.again)
        what = f"the levels do not close: a reading is off by more than {found.limit:g} mm"
        raise layout.PlanError("levels", what, f"read {again} again, or say --anyway to take them as they are")
    low, high = min(found.levels), max(found.levels)
    at = {value: name for name, value in zip(found.names, found.levels, strict=True)}
    rows = ", ".join(f"{name} {value:+.1f}" for name, value in zip(found.names, found.levels, strict=True))
    most = max(abs(each) for each in found.residuals)
    checks = (
        f"{found.spare} more readings than needed, residuals to {most:.1f}" if found.spare else "nothing checks them: read one point twice"
    )
    lines = [
        f"levels of the slab against {found.names[0]}, mm: {rows} ({checks})",
        f"highest at {at[high]}, lowest at {at[low]}: a screed that is 25 thick at {at[high]} is {25 + high - low:.0f} at {at[low]}",
    ]
    return "".join(f"# {line[0].upper()}{line[1:]}\n" for line in lines) + text, "\n".join(lines)


def pointed(path: Path) -> Draft:
    """The outline of a table of points."""
    return Draft(outline=list(layout.read_points(path)), note=f"From the points of {layout.source_name(path)}")


def example_text(name: str) -> str:
    """An example plan by name."""
    import difflib

    home = Path(layout.__file__).parent
    folders = [folder for folder in (home / "examples", home.parent / "plans") if folder.is_dir()]
    for folder in folders:
        if (folder / f"{name}.toml").is_file():
            return (folder / f"{name}.toml").read_text(encoding="utf-8")
    known = sorted({path.stem for folder in folders for path in folder.glob("*.toml")})
    near = difflib.get_close_matches(name[:60], known, n=1)
    mend = f"did you mean {near[0]}? " if near else ""
    raise layout.PlanError("--example", f"there is no example {name!r}", f"{mend}examples are " + (", ".join(known) or "not installed"))
