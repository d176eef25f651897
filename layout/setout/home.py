"""A room as it stands in its own frame: where its flat surfaces are divided and started, and how that is moved out again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.plan.patterns import quarter_onto
from layout.shapes import turned
from layout.start.faces import faces_of
from layout.start.pulls import Carried
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.errors import Point
    from layout.falls.levels import Levels
    from layout.joints.lines import Bay, MovementJoint
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.room.own_frame import OwnFrame
    from layout.start.faces import Faces
    from layout.start.start_lines import StartLine
    from layout.vectors import Floats

SAME_TURN = 1e-3
"""Directions of tile that differ less are one, degrees: more than the rounding of a turned room."""


@dataclass(frozen=True, slots=True, eq=False)
class Home:
    """A room in its own frame: its flat surfaces there, and the levels of its floor."""

    frame: OwnFrame
    lining: Lining
    levels: Levels | None

    def faces_of(self, surface: Surface) -> Faces | None:
        """What a start sees of a flat surface there; None if there is none, as of upright ones."""
        own = next((each for each in self.lining.surfaces if each.id == surface.id), None)
        return None if own is None or own.tile is None or own.placing.line is not None else faces_of(self.lining, own, own.tile)


@dataclass(frozen=True, slots=True, eq=False)
class WayOut:
    """How what is settled at home is moved out: the frame, the direction of tile there, and how its lattice is begun in the plan's axes."""

    frame: OwnFrame
    turn: float
    shift: Floats

    def point(self, at: Point) -> Point:
        """A place."""
        return pair(self.frame.out(np.array([at]))[0])

    def move(self, by: Floats) -> Floats:
        """A way and how far, (2,)."""
        result: Floats = turned(by[None], self.frame.turn)[0]
        return result

    def line(self, line: Floats) -> Floats:
        """A line (n, 2)."""
        return self.frame.out(line)

    def bay(self, bay: Bay) -> Bay:
        """A bay with its lattice."""
        return replace(bay, region=self.frame.shape_out(bay.region), origin=pair(np.round(self.begun(np.array(bay.origin)), 9)))

    def begun(self, start: Floats) -> Floats:
        """Where a lattice begins, (2,): at the corner of a tile that is the lower left one in the plan's axes."""
        result: Floats = self.frame.out(start[None])[0] + self.shift
        return result

    def moved(self, bays: Sequence[Bay], joints: Sequence[MovementJoint]) -> tuple[tuple[Bay, ...], tuple[MovementJoint, ...]]:
        """Bays and joints."""
        return tuple(self.bay(bay) for bay in bays), tuple(self.joint(joint) for joint in joints)

    def joint(self, joint: MovementJoint) -> MovementJoint:
        """A joint."""
        return replace(joint, line=self.frame.out(joint.line))

    def back(self, bay: Bay) -> Bay:
        """A bay in the plan's axes as it lies in the room's own frame."""

        def into(points: Floats) -> Floats:
            there: Floats = turned(points - np.array(self.frame.origin), -self.frame.turn)
            return there

        start = into(np.array([bay.origin]) - self.shift)[0]
        return replace(bay, region=shapely.transform(bay.region, into), origin=pair(start))

    def lines(self, lines: Sequence[StartLine], turn: float) -> tuple[StartLine, ...]:
        """Lines to snap, named by how they run in the plan: A along the tiles' first direction there (`turn` degrees), B across it."""
        named: dict[str, list[tuple[bool, float, StartLine]]] = {"A": [], "B": []}
        for line in lines:
            start, end = self.point(line.start), self.point(line.end)
            offsets = [replace(each, at=self.point(each.at)) for each in line.offsets]
            (x0, y0), (x1, y1) = turned(np.array([start, end]), -turn)
            along = abs(y1 - y0) <= abs(x1 - x0)
            if (x1 < x0) if along else (y1 < y0):  # from the left, or from below, as the plan lies
                start, end, offsets = end, start, offsets[::-1]
            there = replace(line, start=start, end=end, offsets=tuple(offsets), wall_way=pair(self.move(np.array(line.wall_way)) + 0.0))
            named["A" if along else "B"].append((line.name not in named, y0 if along else x0, there))
        result: list[StartLine] = []
        for name, found in named.items():
            found.sort(key=lambda each: each[:2])  # the one beside the datum wall first, others as they come
            result += [replace(each, name=name if k == 0 else f"{name}{k + 1}") for k, (*_, each) in enumerate(found)]
        return tuple(result)


def way_out(frame: OwnFrame, home: Faces, faces: Faces) -> WayOut | None:
    """How a surface's bays and starts are moved out; None where its tiles, turned so, do not lie on themselves."""
    apart = home.turn + frame.turn - faces.turn
    quarters = round(apart / 90.0)
    if abs(apart - 90.0 * quarters) > SAME_TURN:
        return None
    shift = quarter_onto(faces.pattern, quarters % 4) if quarters % 4 else np.zeros(2)
    return None if shift is None else WayOut(frame, faces.turn, turned(shift[None], faces.turn)[0])


def carried_home(faces: Faces, bays: Sequence[Bay]) -> Carried:
    """A floor as its own plinths carry its joints on, in the room's own frame."""
    origins = np.array([bay.origin for bay in bays]).reshape(-1, 2)
    return Carried(faces.lining.room.name, faces.tile, faces.turn, origins, tuple(bay.region for bay in bays))
