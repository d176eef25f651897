"""Pulls: what draws a start to itself, as wishes along each direction, and by how much each is missed.

By habit a whole tile is liked at a threshold, a gully centred on a tile, a joint or a crossing, and tile joints at
a channel's long edges; the plan may ask for more: tiles or crossings on a thing, joints on its faces, whole tiles
at a wall, an axis to centre on, joints carried from a room before or from the floor to a plinth's top.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import Finding
from layout.plan.patterns import pattern_of
from layout.plan.wishes import Wish
from layout.shapes import turned
from layout.standards.rules import SLIVER
from layout.units import EPS, TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.identity import SurfaceId
    from layout.joints.lines import Bay
    from layout.plan.values import Room, Tile, Wanted
    from layout.room.outlines import OpeningAt
    from layout.start.faces import Faces, Part
    from layout.tiles.lay import TileField

    Floats = NDArray[np.float64]

Role: TypeAlias = Literal["ahead", "behind", "tile", "joint", "edge"]
"""What falls on a line: a whole tile's edge with the room ahead or behind, a tile's middle, a joint's middle, a tile's low edge."""
Lines: TypeAlias = "tuple[tuple[float, Role], ...]"


@dataclass(frozen=True, slots=True)
class Pull:
    """Something that would be liked of a start, and by how much it is missed, mm; 0 where it is met."""

    at: str
    wanted: str
    miss: float
    asked: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Carried:
    """A floor that joints may be carried from: `turn` degrees, origins by bay, mm.

    An earlier room's floor is in the axes of the key plan, the room's own in its own.
    """

    name: str
    tile: Tile
    turn: float
    origins: Floats
    regions: tuple[BaseGeometry, ...]


def carried_of(room: Room, tile: Tile, field: TileField, bays: Sequence[Bay], *, world: bool) -> Carried:
    """A laid floor as others carry its joints on: in the key plan's axes, or in its room's own."""
    turn = room.turn if world else 0.0
    shift = np.array(room.at if world else (0.0, 0.0))
    regions = tuple(shapely.transform(bay.region, lambda xy: np.asarray(turned(xy, turn) + shift)) for bay in bays)
    return Carried(room.name, tile, field.turn + turn, turned(field.origins, turn) + shift, regions)


@dataclass(frozen=True, slots=True, eq=False)
class _Aim:
    """One pull on one surface: lines for each axis in one or more variants, any of which meets it."""

    name: str
    wanted: str
    at: Floats
    variants: tuple[tuple[Lines, Lines], ...]
    asked: bool
    weight: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Pulls:
    """The pulls of one surface, in the axes of its joint frame; `findings` tell those that cannot be met."""

    faces: Faces
    aims: tuple[_Aim, ...]
    findings: tuple[Finding, ...]

    def wishes(self, axis: int, parts: Sequence[Part]) -> list[Wish]:
        """Wishes along an axis; `parts` are bays with their lattice's shift along it."""
        if not self.faces.aligned:
            return []
        result: list[Wish] = []
        for aim in self.aims:
            shift = 0.0
            if len(parts) > 1:
                point = shapely.Point(aim.at)
                shift = min(parts, key=lambda part: part.region.distance(point) if part.region is not None else 0.0).shift
            loose: list[float] = []
            for variant in aim.variants:
                for at, role in variant[axis]:
                    if role in _SIDES:
                        slant = self._slant(axis, at, role)
                        result.append(Wish(self._targets(axis, at - shift, role), _SIDES[role], aim.asked, aim.weight, slant))
                    else:
                        loose += self._targets(axis, at - shift, role)
            if loose:
                result.append(Wish(tuple(loose), 0, aim.asked, aim.weight))
        return result

    def _slant(self, axis: int, at: float, role: Role) -> float:
        """How far the faces at a line run to either side of it, out of square, mm."""
        edges = self.faces.across(axis)
        own = edges.mask & (np.abs(edges.at - at) < TOUCH) & (edges.ahead == (role == "ahead"))
        return float(edges.slant[own].max(initial=0.0))

    def _targets(self, axis: int, at: float, role: Role) -> tuple[float, ...]:
        """Offsets of the lattice's low edge that put what is wanted on a line: one for each course of a bond."""
        g = self.faces.lattice[axis]
        back = {"ahead": 0.0, "edge": 0.0, "behind": g.size, "tile": g.size / 2, "joint": (g.size + g.pitch) / 2}[role]
        shifts = g.shifts if axis == 0 and g.shifts else (0.0,)
        return tuple(at - back - s for s in shifts)

    def told(self, field: TileField, bays: Sequence[Bay], cut_at: Mapping[int, float]) -> tuple[Pull, ...]:
        """What the start as laid makes of each pull; `cut_at` is the narrowest cut at each edge of the field that is cut, mm."""
        result = []
        for aim in self.aims:
            misses = []
            number = min(range(len(bays)), key=lambda b: bays[b].region.distance(shapely.Point(turned(aim.at[None], self.faces.frame)[0])))
            origin = turned(field.origins[number][None], -self.faces.frame)[0]
            for variant in _mixed(aim):
                own = [self._line_miss(axis, at, role, float(origin[axis]), cut_at) for axis in (0, 1) for at, role in variant[axis]]
                centred = all(role in ("tile", "joint") for lines in variant for _, role in lines)
                misses.append(math.hypot(*own) if centred else max(own, default=0.0))
            result.append(Pull(aim.name, aim.wanted, min(*misses, max(g.size for g in self.faces.lattice)), aim.asked))
        return tuple(result)

    def _line_miss(self, axis: int, at: float, role: Role, origin: float, cut_at: Mapping[int, float]) -> float:
        g = self.faces.lattice[axis]
        if role in ("ahead", "behind"):
            edges = self.faces.across(axis)
            rows = np.flatnonzero(edges.mask & (np.abs(edges.at - at) < TOUCH) & (edges.ahead == (role == "ahead")))
            if len(rows):  # a sliver is no cut of the tile at the wall, its joint takes it; of tiles at an angle the short side is told
                whole = g.size if self.faces.aligned else min(each.size for each in self.faces.lattice)
                return max(max(whole - cut_at[int(k)], 0.0) if cut_at.get(int(k), 0.0) > SLIVER.value else 0.0 for k in rows)
        wish = Wish(self._targets(axis, at, role), _SIDES.get(role, 0))
        return float(wish.miss(np.array([origin]), g.pitch, g.size)[0])


def _mixed(aim: _Aim) -> list[tuple[Lines, Lines]]:
    """The variants of an aim; of a habit each direction by itself: a tile's middle one way with a joint the other is as centred."""
    if aim.asked:
        return list(aim.variants)
    return [(one[0], other[1]) for one in aim.variants for other in aim.variants]


def pulls_of(faces: Faces, carried: Mapping[SurfaceId, Carried]) -> Pulls:
    """What draws the start of a surface; `carried` are the floors laid before it that joints may be carried from."""
    maker = _Aimer(faces, carried)
    aims = maker.aims()
    return Pulls(faces, tuple(aims), tuple(maker.findings))


class _Aimer:
    """Gathers the aims of one surface, and what cannot be met."""

    def __init__(self, faces: Faces, carried: Mapping[SurfaceId, Carried]) -> None:
        self.faces, self.carried = faces, carried
        self.findings: list[Finding] = []

    def aims(self) -> list[_Aim]:
        """Habits, then what the plan asks for; only patterns whose directions part are drawn to anything."""
        faces = self.faces
        asked = list(faces.lining.room.pulls) if faces.surface.kind == "floor" else []
        if faces.surface.kind == "plinth-top":
            asked = [pull for pull in faces.lining.room.pulls if pull.want == "carry" and self._plinth(pull) == faces.surface.id.number - 1]
            return [aim for pull in asked if (aim := self._carried(pull)) is not None]
        known = {pull.to for pull in asked}
        result = [aim for aim in self._habits() if aim.name not in known]
        if not asked:
            return result
        if not faces.aligned or not faces.pattern.level_courses:
            why = worded("a start in {name} at {turn:g} degrees is searched for its cuts alone", name=faces.pattern.name, turn=faces.turn)
            self._missed("pulls", why)
            return result
        makers = {"tile": self._centred, "crossing": self._centred, "joint": self._on_faces, "whole": self._whole, "axis": self._axis}
        for pull in asked:
            if pull.want == "carry" and self._plinth(pull) is not None:
                continue
            aim = self._carried(pull) if pull.want == "carry" else makers[pull.want](pull)
            if aim is not None:
                result.append(aim)
        return result

    def _missed(self, name: str, why: str) -> None:
        text = worded("{name}: {name_2} cannot be met: {why}", name=self.faces.surface.name, name_2=name, why=why)
        self.findings.append(Finding(code="pull-missed", text=text, surface=self.faces.surface.id))

    def _habits(self) -> list[_Aim]:
        faces = self.faces
        result = []
        for door in dict.fromkeys(faces.known[k] for k in np.flatnonzero(faces.doors & faces.counts)):
            rows = np.flatnonzero(np.array([each == door for each in faces.known]) & faces.doors)
            lines = self._face_lines(rows)
            if any(lines):
                result.append(_Aim(door.name, worded("whole tile"), faces.edges[rows[0]].mean(axis=0), (lines,), False))
        for each in faces.surface.breaks:
            at = turned(np.array([each.at]), -faces.frame)[0]
            if each.kind == "gully" and faces.aligned and faces.pattern.separable:
                variants = tuple(((((float(at[0]), role),), ((float(at[1]), role),))) for role in _CENTRES)
                result.append(_Aim(each.name, worded("centred on a tile, a joint or a crossing"), at, variants, False))
            if each.kind == "channel" and faces.aligned:
                box = turned(shapely.get_coordinates(each.hole), -faces.frame)
                long = int(np.argmax(np.ptp(box, axis=0)))
                sides = self._box_lines(box)
                if sides is not None:
                    lines = (sides[0] if long == 1 else (), sides[1] if long == 0 else ())
                    result.append(_Aim(each.name, worded("tile joints at both long edges"), at, (lines,), False))
        return result

    def _face_lines(self, rows: NDArray[np.int64]) -> tuple[Lines, Lines]:
        """Faces of the field as lines with the room ahead or behind, by axis."""
        found: list[Lines] = []
        for axis in (0, 1):
            edges = self.faces.across(axis)
            found.append(tuple(dict.fromkeys((float(edges.at[k]), "ahead" if edges.ahead[k] else "behind") for k in rows if edges.mask[k])))
        return found[0], found[1]

    @staticmethod
    def _box_lines(box: Floats) -> tuple[Lines, Lines] | None:
        """The sides of a rectangle that stands along the frame: tile lies behind its low sides and ahead of its high ones."""
        way = np.abs(np.diff(box, axis=0))
        if way.min(axis=1).max(initial=0.0) > TOUCH:
            return None
        low, high = box.min(axis=0), box.max(axis=0)
        return (
            ((float(low[0]), "behind"), (float(high[0]), "ahead")),
            ((float(low[1]), "behind"), (float(high[1]), "ahead")),
        )

    def _thing(self, pull: Wanted) -> tuple[str, Floats] | None:
        """Name and centre of what a pull is drawn to, in the frame; None, and told, if it comes through a plinth and not this floor."""
        if pull.at is not None:
            return f"[{pull.at[0]:g}, {pull.at[1]:g}]", turned(np.array([pull.at]), -self.faces.frame)[0]
        outline = self.faces.lining.outline
        for each in self.faces.surface.breaks:
            if each.name == pull.to:
                return each.name, turned(np.array([each.at]), -self.faces.frame)[0]
        for solid in (*outline.plinths, *outline.columns):
            if solid.solid.name == pull.to:
                points = np.concatenate([run.points for run in solid.runs])
                box = turned(points, -self.faces.frame)
                return solid.solid.name, (box.min(axis=0) + box.max(axis=0)) / 2
        self._missed(str(pull.to), worded("it does not come through the floor"))
        return None

    def _centred(self, pull: Wanted) -> _Aim | None:
        thing = self._thing(pull)
        if thing is None:
            return None
        name, at = thing
        role: Role = "tile" if pull.want == "tile" else "joint"
        words = worded("centred on a tile") if pull.want == "tile" else worded("centred on a crossing")
        return _Aim(name, words, at, ((((float(at[0]), role),), ((float(at[1]), role),)),), True, pull.weight)

    def _on_faces(self, pull: Wanted) -> _Aim | None:
        thing = self._thing(pull)
        if thing is None:
            return None
        name, at = thing
        found = next((each for each in self.faces.surface.breaks if each.name == name), None)
        lines: tuple[Lines, Lines] | None
        if found is not None:
            lines = self._box_lines(turned(shapely.get_coordinates(found.hole), -self.faces.frame))
        else:
            lines = self._face_lines(np.flatnonzero(np.array([each.name == name for each in self.faces.known])))
        if lines is None or not any(lines):
            self._missed(name, worded("its sides do not stand along the tile joints"))
            return None
        return _Aim(name, worded("tile joints at its faces"), at, (lines,), True, pull.weight)

    def _door(self, pull: Wanted) -> OpeningAt | None:
        return next((door for door in self.faces.lining.outline.openings if door.opening.name == pull.to), None)

    def _wall_rows(self, pull: Wanted) -> tuple[str, NDArray[np.int64], Floats]:
        """Name, edges of the field and ends of a wall or door, in the frame."""
        outline, faces = self.faces.lining.outline, self.faces
        door = self._door(pull)
        assert pull.to is not None  # a pull to a point has no wall; that the wall is there was checked with the plan
        index = door.wall if door else outline.wall_index(pull.to)
        assert index is not None
        wall = outline.walls[index]
        rows = faces.numbers == wall.run.number
        points = wall.run.points[[0, -1]] if door is None else np.array([wall.run.at(door.s0), wall.run.at(door.s1)])
        if door is not None:
            middle = faces.edges.mean(axis=1)
            line = shapely.LineString(turned(points, -faces.frame))
            near = shapely.distance(shapely.points(middle), line) < wall.build_up + door.opening.depth + faces.rules.perimeter_joint + TOUCH
            rows = near & faces.doors
        name = door.opening.name if door else wall.name or wall.label
        return name, np.flatnonzero(rows & faces.counts), turned(points, -faces.frame)

    def _whole(self, pull: Wanted) -> _Aim | None:
        name, rows, points = self._wall_rows(pull)
        lines = self._face_lines(rows)
        if not any(lines):
            self._missed(name, worded("no straight edge of the field stands there"))
            return None
        return _Aim(name, worded("whole tile"), points.mean(axis=0), (lines,), True, pull.weight)

    def _axis(self, pull: Wanted) -> _Aim | None:
        name, _, points = self._wall_rows(pull)
        axis = self._along(points)
        if axis is None:
            self._missed(name, worded("it does not stand along the tile joints"))
            return None
        middle = points.mean(axis=0)
        variants = [tuple(((float(middle[axis]), role),) if k == axis else () for k in (0, 1)) for role in _CENTRES]
        return _Aim(
            name, worded("tiles balanced about its middle"), middle, tuple((one, other) for one, other in variants), True, pull.weight
        )

    @staticmethod
    def _along(points: Floats) -> int | None:
        way = np.abs(points[1] - points[0])
        return int(way.argmax()) if way.min() <= TOUCH else None

    def _plinth(self, pull: Wanted) -> int | None:
        solids = self.faces.lining.outline.plinths
        return next((k for k, solid in enumerate(solids) if solid.solid.name == pull.to), None)

    def _carried(self, pull: Wanted) -> _Aim | None:
        """Joints of another floor carried on: along the threshold's wall, or both ways onto a plinth's top."""
        faces = self.faces
        plinth = faces.surface.kind == "plinth-top"
        source = self._source(pull, plinth=plinth)
        if source is None:
            return None
        if not plinth:
            name, _, points = self._wall_rows(pull)
            axis = self._along(points)
            axes, at = [] if axis is None else [axis], points.mean(axis=0)
        else:
            name, axes, at = faces.surface.name, [0, 1], np.array(faces.surface.field.centroid.coords[0])
            at = turned(at[None], -faces.frame)[0]
        lines: list[Lines] = [(), ()]
        for axis in axes:
            edge = self._carried_edge(source, axis, at, world=not plinth)
            if edge is not None:
                lines[axis] = ((edge, "edge"),)
        if not any(lines):
            self._missed(name, worded("tile, joint or direction differ from those of {name}", name=source.name))
            return None
        return _Aim(
            name,
            worded("joints carried from {plinth}", plinth=worded("the floor") if plinth else source.name),
            at,
            ((lines[0], lines[1]),),
            True,
            pull.weight,
        )

    def _source(self, pull: Wanted, *, plinth: bool) -> Carried | None:
        """The floor that joints are carried from: the room's own onto a plinth, else that of the last earlier room of the name."""
        own = self.faces.lining.floor.id
        if plinth:
            return self.carried.get(own)
        earlier = [floor for floor in self.carried if floor.room < own.room and self.carried[floor].name == pull.room]
        return self.carried[max(earlier, key=lambda floor: floor.room)] if earlier else None

    def _carried_edge(self, source: Carried, axis: int, at: Floats, *, world: bool) -> float | None:
        """Low edge, along an axis of the frame, of a tile of another floor; None if its joints cannot run on."""
        faces, room = self.faces, self.faces.lining.room
        turn = room.turn if world else 0.0
        shift = np.array(room.at if world else (0.0, 0.0))
        off = math.remainder(source.turn - turn - faces.frame, 360.0)
        quarter = round(off / 90.0)
        if abs(off - 90.0 * quarter) > 0.02 or not pattern_of(source.tile).separable:
            return None
        size, joint = ((sides[axis], sides[1 - axis])[quarter % 2] for sides in (source.tile.size, source.tile.joints))
        g = faces.lattice[axis]
        if abs(size - g.size) > EPS or abs(size + joint - g.pitch) > EPS:
            return None
        there = shapely.Point(turned(turned(at[None], faces.frame), turn)[0] + shift)
        number = min(range(len(source.regions)), key=lambda k: source.regions[k].distance(there))
        corners = np.array([[0.0, 0.0], source.tile.size])
        own = turned(turned(turned(corners, source.turn) + source.origins[number] - shift, -turn), -faces.frame)
        return float(own[:, axis].min())


_SIDES: dict[Role, Literal[-1, 1]] = {"ahead": 1, "behind": -1}
_CENTRES: tuple[Role, Role] = ("tile", "joint")
