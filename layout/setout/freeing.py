"""What limits the start that a floor was given, and which single change would free it.

Nothing is told by reckoning alone: each change of `layout.setout.loosening` is made in a plan of the room by itself, that plan is set
out anew, and only what its pieces bear out is told, with what it costs.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.codes import CODES
from layout.errors import BudgetError, LayoutError, PlanFaults
from layout.setout.conduct import set_out
from layout.setout.gauge import asked
from layout.setout.loosening import Change, ChangeKind, alone, called, changes_of, with_gauge
from layout.start.mends import weak_count
from layout.units import EPS

if TYPE_CHECKING:
    from layout.identity import EdgeId
    from layout.plan.values import Plan, Room
    from layout.setout.values import RoomSetOut, SetOut

MOST_TILES = 5_000
"""A larger floor is told of, and no change of it tried: that would take longer than all the rest."""
MOST_TRIED = 15
"""So many changes of a room are set out."""
ALIKE = 0.05
"""Cuts that differ by less are one to a person, mm."""


@dataclass(frozen=True, slots=True)
class Limit:
    """An edge whose cut is the narrowest, or as narrow within the walls' tolerance: the cut there, mm, and what it is called."""

    of: EdgeId
    width: float
    called: str = ""

    @property
    def at(self) -> str:
        """What stands at the edge, as the sheets have it."""
        return self.of.name


@dataclass(frozen=True, slots=True)
class StartFigures:
    """What a floor's start gives: the narrowest cut as drawn and over the walls' play, mm, where; weak pieces, whole and cut tiles."""

    smallest: float
    worst: float
    at: str
    weak: int
    whole: int
    cut: int


@dataclass(frozen=True, slots=True)
class Freed:
    """A change that was set out and bears: what it is, what the floor gives with it, and what is worse then, in words."""

    kind: ChangeKind
    what: str
    after: StartFigures
    worse: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """Why a room's floor starts where it does.

    `before` are its figures, `limits` the edges that hold them down, narrowest first; `decided` says what decided against the next best
    start. `tried` changes were set out, `freed` are those that bear; `left` says what was not tried and why.
    """

    room: str
    before: StartFigures
    limits: tuple[Limit, ...]
    decided: str
    tried: int
    freed: tuple[Freed, ...]
    left: tuple[str, ...] = ()


def what_would_free(setout: SetOut, room: int) -> Why:
    """What limits the floor of a room, which counts from 0, and which single changes would loosen that; each is set out to see.

    A change is told if it raises the narrowest cut by more than the walls' tolerance and nothing over their play, or leaves no weak
    piece where there are some, without any cut narrower by more than that tolerance.
    """
    done = setout.rooms[room]
    before, limits = _figures(done), limits_of(done, setout.plan.rules.wall_tolerance)
    said = (done.name, before, limits, decided_by(done))
    why_not = _left_alone(setout.plan.rooms[room], done)
    if why_not:
        return Why(*said, 0, (), (why_not,))
    changes = changes_of(setout, room, [limit.of for limit in limits])
    found: list[Freed] = []
    left = [f"{change.what}: it is bent, or something stands at its corner" for change in changes if change.plan is None]
    plans = [(change, change.plan) for change in changes if change.plan is not None]
    walls: dict[str, float] = {}
    refused: set[str] = set()
    tried, tolerance = 0, setout.plan.rules.wall_tolerance
    for change, plan in plans[:MOST_TRIED]:
        if change.kind == "wall" and change.of in refused:
            continue
        tried += 1
        try:
            after = set_out(plan).rooms[-1]
        except BudgetError:
            raise
        except LayoutError as error:
            left.append(f"{change.what}: {_why_refused(error)}")
            refused.add(change.of)
            continue
        figures = _figures(after)
        if not _bears(before, figures, tolerance) and not (change.kind == "gauge" and _fewer(before, figures, tolerance)):
            continue
        if change.kind == "wall":  # built out by more is told only where it gives more
            if figures.smallest <= walls.get(change.of, -tolerance) + tolerance:
                continue
            walls[change.of] = figures.smallest
        worse = (*_elsewhere(setout.plan, room, change), *_worse(done, after, tolerance))
        found.append(Freed(change.kind, change.what, figures, worse))
    left += [f"{change.what}: {MOST_TRIED} changes are tried at most" for change, _ in plans[MOST_TRIED:]]
    return Why(*said, tried, tuple(found), tuple(left))


def limits_of(done: RoomSetOut, tolerance: float) -> tuple[Limit, ...]:
    """Edges whose cut is the floor's narrowest or as narrow within a tolerance, mm, narrowest first; none where nothing is cut."""
    start = done.floor.start
    if start.smallest_of is None:
        return ()
    widths = {start.smallest_of: start.smallest}
    for cut in done.floor.wall_cuts:
        width = min(cut.start, cut.end, *cut.turns)
        # what is narrower than the narrowest cut is cut by an edge too short to cut a tile right across
        if start.smallest - ALIKE <= width <= start.smallest + tolerance + EPS:
            widths[cut.of] = min(width, widths.get(cut.of, width))
    return tuple(
        sorted((Limit(of, width, called(done, of)) for of, width in widths.items()), key=lambda each: (round(each.width, 1), each.at))
    )


def decided_by(done: RoomSetOut) -> str:
    """What decided against the next best start of a floor, in words."""
    start = done.floor.start
    if start.method == "fixed":
        return "the plan fixes the start"
    if not start.runners_up:
        return "no other start differs"
    runner = start.runners_up[0]
    return f"against a first tile at {round(runner.origin[0])}, {round(runner.origin[1])}: {runner.why}"


def _left_alone(room: Room, done: RoomSetOut) -> str:
    """Why no change of a floor is tried; empty if some are."""
    tiles = len(done.floor.field.whole) + len(done.floor.field.cut)
    if done.floor.start.smallest_of is None and weak_count(done.floor.field) == 0:
        return "no tile is cut to a strip, so nothing limits the start"
    if any(line.on == done.floor.surface.name for line in room.kept_lines):
        return "the floor's lines are snapped and stay, so no change is tried"
    if tiles > MOST_TILES:
        return f"{tiles} tiles: changes are tried on floors of up to {MOST_TILES}"
    return ""


def _why_refused(error: LayoutError) -> str:
    """Why a changed plan cannot be set out, without the place in a file that nobody typed."""
    faults = error.faults if isinstance(error, PlanFaults) else (error,)
    return str(faults[0].args[1] if len(faults[0].args) > 1 else faults[0])


def _figures(done: RoomSetOut) -> StartFigures:
    floor = done.floor
    start, field = floor.start, floor.field
    return StartFigures(start.smallest, start.worst, start.smallest_at, weak_count(field), len(field.whole), field.places_cut())


def _bears(before: StartFigures, after: StartFigures, tolerance: float) -> bool:
    """Whether a change frees the floor: a wider narrowest cut, nothing given up over the play and no more weak pieces; or no weak piece left."""
    wider = after.smallest > before.smallest + tolerance + EPS and after.worst >= before.worst - ALIKE and after.weak <= before.weak
    return wider or (after.weak == 0 < before.weak and after.smallest >= before.smallest - tolerance)


def _fewer(before: StartFigures, after: StartFigures, tolerance: float) -> bool:
    """Whether fewer tiles are cut, none of them narrower by more than a tolerance and none weak that was not."""
    return after.cut < before.cut and after.smallest >= before.smallest - tolerance and after.weak <= before.weak


def gauge_offered(setout: SetOut, room: int) -> RoomSetOut | None:
    """A room, which counts from 0, as the gauge would have its floor, where that serves it; None where it does not or the plan takes it already.

    It is set out so before it is offered: fewer tiles cut, a wider narrowest cut, or no weak piece.
    """
    plan, done = setout.plan, setout.rooms[room]
    too_many = len(done.floor.field.whole) + len(done.floor.field.cut) > MOST_TILES
    if plan.rules.gauge or too_many or not any(asked(done.floor, plan.rules, axis) for axis in (0, 1)):
        return None
    made = set_out(with_gauge(alone(plan, room))).rooms[-1]
    return made if made.floor.tile.opened != (0.0, 0.0) else None


def _elsewhere(plan: Plan, room: int, change: Change) -> list[str]:
    """Other rooms that a change of the tile's own keys moves too."""
    if change.kind not in ("joint", "start"):
        return []
    others = [each.name for k, each in enumerate(plan.rooms) if k != room and plan.tile(each.floor_tile) == plan.tile(change.of)]
    return [f"laid with this tile too: {', '.join(others)}"] if others else []


def _worse(before: RoomSetOut, after: RoomSetOut, tolerance: float) -> list[str]:
    """What a change makes worse in its room: cut tiles, narrowest piece and pulls of the floor, the other surfaces, findings."""
    result = []
    more = after.floor.field.places_cut() - before.floor.field.places_cut()
    if more > 0:
        result.append(f"{more} more cut tiles on the floor")
    pieces = [each.floor.start.piece for each in (before, after)]
    if pieces[1] is not None and pieces[0] is not None and pieces[1].width < pieces[0].width - tolerance:
        result.append(f"narrowest piece {pieces[1].width:.0f} for {pieces[0].width:.0f}")
    misses = {(pull.at, pull.wanted): pull.miss for pull in before.floor.start.pulls}
    for pull in after.floor.start.pulls:
        lost = pull.miss - misses.get((pull.at, pull.wanted), pull.miss)
        if lost > tolerance:
            result.append(f"{pull.at}: {pull.wanted}, missed by {lost:.0f} more")
    upright = [sum(done.field.places_cut() for done in each.surfaces[1:]) for each in (before, after)]
    if upright[1] > upright[0]:
        result.append(f"{upright[1] - upright[0]} more cut tiles on other surfaces")
    smallest = {done.surface.id: done.start.smallest for done in before.surfaces[1:]}
    for done in after.surfaces[1:]:
        was = smallest.get(done.surface.id, 0.0)
        if done.start.smallest < was - tolerance:
            result.append(f"narrowest cut {done.start.smallest:.0f} for {was:.0f} on {done.surface.name}")
    codes = [Counter(finding.code for finding in each.findings if CODES[finding.code].weight != "note") for each in (before, after)]
    result += [f"{count} more to look at: {code}" for code, count in sorted((codes[1] - codes[0]).items())]
    return result
