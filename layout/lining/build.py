"""The lining: surfaces in their own axes, with what is taken off them before tile is laid.

Surfaces are right-handed as seen from the room. The floor and plinth tops use the plan's x, y. On
upright faces x runs right from the left-hand end as seen from the room, y up from the room's
substrate floor. A region is what tiles, tile joints, intermediate and structural joints fill.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from layout.errors import Finding, SetOutError
from layout.identity import SurfaceId
from layout.lining.borders import with_border
from layout.lining.flats import flat_surface
from layout.lining.trimming import Trim, trim_of, upright_surface
from layout.lining.uprights import reveal_rises, shelled, side_rise, wall_rise
from layout.room.building import build_outline
from layout.room.shell import FLOOR, build_shell
from layout.words import listed, worded

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.falls.shaping import Falls
    from layout.lining.surfaces import Surface
    from layout.lining.uprights import Rise, Shelled
    from layout.plan.values import Plan, Room
    from layout.room.outlines import Outline
    from layout.room.shell import Shell


@dataclass(frozen=True, slots=True, eq=False)
class Lining:
    """A room as surfaces and a shell, with findings made on the way."""

    plan: Plan
    room: Room
    outline: Outline
    shell: Shell
    surfaces: tuple[Surface, ...]
    findings: tuple[Finding, ...] = field(default=())
    falls: Falls | None = None

    @property
    def floor(self) -> Surface:
        """The floor, in all its parts."""
        return self.surfaces[0]


def _upright_surfaces(trim: Trim) -> tuple[Surface, ...]:
    """Walls by number, plinths with their tops, columns, reveals, each in the order of the plan."""
    of = trim.of
    outline = of.outline

    def made(rises: Iterable[Rise]) -> list[Surface]:
        return [surface for rise in rises if (surface := upright_surface(trim, rise)) is not None]

    def sides(kind: Literal["plinth", "column"], k: int) -> list[Surface]:
        runs = (outline.plinths if kind == "plinth" else outline.columns)[k].runs
        return made(side_rise(of, kind, k, r) for r in sorted(range(len(runs)), key=lambda r: runs[r].number))

    walls = made(wall_rise(of, k) for k in sorted(range(len(outline.walls)), key=lambda k: outline.walls[k].run.number))
    plinths: list[Surface] = []
    for k in range(len(outline.plinths)):
        if of.shell.cells.get(k + 1):
            plinths.append(_plinth_top(of, k))
        plinths += sides("plinth", k)
    columns = [surface for k in range(len(outline.columns)) for surface in sides("column", k)]
    doors = sorted(range(len(outline.openings)), key=lambda n: outline.openings[n].index)
    reveals = [surface for number in doors for surface in made(reveal_rises(of, number))]
    return (*walls, *plinths, *columns, *reveals)


def _plinth_top(of: Shelled, k: int) -> Surface:
    solid = of.outline.plinths[k]
    top = SurfaceId(of.room, "plinth-top", k + 1, 0, worded("{name} top", name=solid.solid.name))
    return flat_surface(of.plan, of.outline, of.shell, k + 1, top, solid.tile or of.plan.tile("plinth"))


def _plinth_tops(of: Shelled) -> tuple[Surface, ...]:
    return tuple(_plinth_top(of, k) for k in range(len(of.outline.plinths)) if of.shell.cells.get(k + 1))


def build_lining(plan: Plan, index: int, *, upright: bool = True) -> Lining:
    """The surfaces of one room; without the upright ones where those are not wanted.

    Raises
    ------
    PlanFaults
        If the room's geometry is not sound.
    SetOutError
        If the floor leaves no room for tile.
    """
    outline = build_outline(plan, index)
    room = plan.rooms[index]
    shell = build_shell(outline)
    floor = flat_surface(plan, outline, shell, FLOOR, SurfaceId(index, "floor", 0, 0, worded("floor")), plan.tile(room.floor_tile))
    if floor.region.is_empty:
        place = plan.place_of(index)
        raise SetOutError(
            place, f'nothing of the floor of "{room.name}" is left inside its walls\' build-up and joints', "check the outline's size in mm"
        )
    floor, bands = with_border(plan, outline, floor)
    falls = None
    if room.falls:
        from layout.falls.shaping import build_falls  # noqa: PLC0415  # a level floor does without

        falls = build_falls(plan, index, outline)
    stood = shelled(plan, index, outline, shell, falls)
    standing = _upright_surfaces(trim_of(stood)) if upright else _plinth_tops(stood)
    findings = [Finding(code="openings-merged", text=text) for text in outline.merged_openings]
    findings += _numbered_after_a_corner(outline)
    return Lining(plan, room, outline, shell, (floor, *bands, *standing), tuple(findings), falls)


def _numbered_after_a_corner(outline: Outline) -> list[Finding]:
    """Openings and pipes whose wall is told by a number behind a corner that stands in the middle of a straight wall."""
    parted = [wall for wall in outline.walls if len(wall.run.edges) > 1 and wall.run.straight]
    if not parted:
        return []
    wall = min(parted, key=lambda each: each.run.number)
    first, second = sorted(wall.run.edges)[:2]
    typed: list[tuple[str, object]] = [(each.opening.name, each.opening.wall) for each in outline.openings]
    typed += [(each.name, each.wall) for each in (*outline.room.pipes, *outline.room.fixings)]
    things = [worded("{name} (wall = {number})", name=name, number=ref) for name, ref in typed if isinstance(ref, int) and ref > first]
    if not things:
        return []
    text = worded(
        "a corner stands in the middle of straight {wall}, between edges {first} and {second}: if it was put in later, numbers behind it count "
        "one more: look at {things}; a wall with a name keeps it",
        wall=wall.label,
        first=first,
        second=second,
        things=listed(things),
    )
    return [Finding(code="wall-number", text=text)]
