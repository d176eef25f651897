"""Basis of this set: revisions, sheets, rule sets and every figure with its source; the only page with codes and sources.

What a crew reads carries figures and words; who checks the set reads here where they come from.
"""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from layout.errors import Rule
from layout.falls.datum import corner_names
from layout.setout.told import as_told
from layout.sheets import hold_points
from layout.sheets.crew_words import for_crew
from layout.sheets.draft import Draft, Job
from layout.sheets.paper import SIZES
from layout.sheets.schedule_sheet import Pages
from layout.standards import rules, sealants
from layout.standards.products import Products
from layout.words import say, spelt, worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from layout.setout.values import SetOut

TITLE = worded("Basis of this set")
DRAWING = worded(
    "Paper ISO 216; frame ISO 5457, scales ISO 5455, lettering ISO 3098, lines ISO 128, dimensions ISO 129-1, "
    "all from memory; fields of the title block ISO 7200. Scales between those of ISO 5455 are building "
    "practice."
)
MODULES = (rules, sealants, hold_points)


def drafts(job: Job, listed: Sequence[Draft]) -> Iterator[Draft]:
    """The pages; `listed` are the drafts of the set's other sheets, named in a list where the set has no cover."""
    paper = job.paper or "A3"
    result = Pages(SIZES[paper], sources=True)
    revisions(result, job.setout)
    if len(job.rooms) == 1:
        sheets(result, listed)
    _rule_sets(result, job.setout)
    _findings(result, job.setout)
    _figures(result, job.setout)
    for k, page in enumerate(result.pages, 1):
        yield Draft(f"basis-{k}", say(TITLE), job.named, paper, None, (), page)


def revisions(result: Pages, setout: SetOut) -> None:
    """The revision table, the latest first."""
    rows = [[say("revision"), say("date"), say("what changed")]]
    rows += [[row.letter, row.date.isoformat(), row.what] for row in reversed(setout.plan.project.revisions)]
    if len(rows) > 1:
        result.head(say("Revisions"))
        result.rows((12, 18, 70), rows)


def sheets(result: Pages, listed: Sequence[Draft]) -> None:
    """The sheets of the set, in order."""
    rows = [[say("sheet"), say("title"), say("paper"), say("scale")]]
    rows += [[f"{k}", each.title, each.paper, f"1:{each.view.scale:g}" if each.view else "—"] for k, each in enumerate(listed, 1)]
    rows.append([f"{len(listed) + 1} …", TITLE, listed[0].paper if listed else "", "—"])
    result.head(say("Sheets"))
    result.rows((10, 60, 14, 14), rows)


def _rule_sets(result: Pages, setout: SetOut) -> None:
    own = setout.plan.rules
    result.head(say("Rule sets"))
    given = "" if own.movement_given else say(" Taken by default: a resin-set wet floor sees hot wash-down.")
    result.words(
        say(
            "Movement joints, {name}: {condition}. {source}; {status}.{given} Perimeter: {perimeter}; wet rooms get them always.",
            name=own.movement.name,
            condition=own.movement.condition,
            source=own.movement.source,
            status=own.movement.status,
            given=given,
            perimeter=own.movement.perimeter,
        ),
        "•",
    )
    result.words(say("Falls, {fall_range}: {source}.", fall_range=own.fall_range, source=rules.FALL_RANGES[own.fall_range].source), "•")
    measure = own.measurement
    result.words(say("Measurement, {name}: {source}; {status}.", name=measure.name, source=measure.source, status=measure.status), "•")
    for kind, rule in rules.TEST_POINTS.items():
        result.words(
            say("Test points, {kind}: one per {rule:g} {unit}. {source}.", kind=kind, rule=rule.value, unit=rule.unit, source=rule.source),
            "•",
        )
    for room in setout.rooms:
        for design in [each.design for each in room.joint_types if each.design.needed is not None][:1]:
            result.words(
                say("Sealant joints, {name}: {formula} mm; {source}.", name=room.name, formula=design.formula, source=design.source), "•"
            )
    result.words(say("Drawing: {drawing}", drawing=DRAWING), "•")


def _findings(result: Pages, setout: SetOut) -> None:
    """Findings as the tool words them, with code, source and coordinates, where the sheets say less."""
    told = [(room.name, each) for room in setout.rooms for each in as_told(room.findings) if for_crew(each.text, room) != each.text]
    if told:
        result.head(say("Findings with their sources and coordinates"))
        result.words(_origin(setout), "•")
        for room, each in told:
            result.words(f"{room}: {spelt(each.text)} ({each.code})", "•")


def _origin(setout: SetOut) -> str:
    """Where coordinates count from, by a corner that is found on site: the walls' numbers stand on every sheet of a room."""
    corners = []
    for room in setout.rooms:
        outline = room.lining.outline
        x, y = outline.walls[0].run.at(0.0)
        corners.append(f"{room.name}, {corner_names(outline)[0]}: [{x:.0f}, {y:.0f}]")
    return say("Coordinates are [x, y] in mm on the bare walls, x to the right and y up the sheet. {corners}.", corners="; ".join(corners))


def _figures(result: Pages, setout: SetOut) -> None:
    """Every figure under its source: few sources carry many figures."""
    result.head(say("Figures taken, by their sources"))
    found = [(name, value) for module in MODULES for name, value in vars(module).items() if isinstance(value, Rule)]
    _by_source(result, found)
    result.head(say("Products: figures of the plan, else generic"))
    products = setout.plan.products
    _by_source(result, [(each.name, getattr(products, each.name)) for each in fields(Products)])


def _by_source(result: Pages, figures: Sequence[tuple[str, Rule]]) -> None:
    under: dict[str, list[str]] = {}
    for name, rule in figures:
        under.setdefault(rule.source, []).append(f"{_words(name)} {rule.value:g} {rule.unit}")
    for source, told in under.items():
        result.words(f"{'; '.join(told)}: {source}.", "•")


def _words(name: str) -> str:
    return name.replace("_", " ").lower()
