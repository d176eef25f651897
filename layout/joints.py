"""Movement and sealant joints: which lines divide a floor into bays, and every metre of sealant.

Bays are found by guillotine cuts in the joint frame (the direction that the pattern follows): a bay
that breaks the rule set is cut right across, through a re-entrant corner or into equal parts, in the
way that makes the least total length of joint. Where the pattern has a straight joint in that
direction the cut is moved to the nearest one and the bay beyond starts with whole tiles; across a bond
it runs where the courses keep the widest pieces; else it is sawn through. The search tries cuts through corners and equal parts only, so it is exact on plain
rectangles and a stated method elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.rules import REENTRANT_LEG
from layout.shapes import parts_of, turned, turned_shape
from layout.units import EPS, TOUCH, snap

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.lining import Lining
    from layout.plan import Rules
    from layout.surfaces import Surface

    Floats = NDArray[np.float64]

Kind: TypeAlias = Literal["perimeter", "intermediate", "structural", "threshold", "plinth", "column", "drain", "pipe", "corner"]
ASPECT_SLACK = 1.005
"""Rules give sides of the room; bays are measured between joints, which makes 8 x 4 m 2.004, not 2."""
MOST_BAYS = 200
MOST_TRIES = 400
"""Bound on the splits tried; past it the first cut that helps is taken."""


@dataclass(frozen=True, slots=True, eq=False)
class MovementJoint:
    """One joint: its centre line in the surface's own axes, length and width in mm."""

    kind: Kind
    surface: str
    line: Floats
    length: float
    width: float
    why: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Bay:
    """One bay of a surface: its region in own axes and where its lattice starts, mm; `whole` is the bay with its border course."""

    region: BaseGeometry
    origin: tuple[float, float]
    longest: float
    shortest: float
    whole: BaseGeometry | None = None

    @property
    def between_joints(self) -> BaseGeometry:
        """The bay from joint to joint, its border course included."""
        return self.region if self.whole is None else self.whole

    @property
    def area_m2(self) -> float:
        """Area of the bay, m²."""
        return float(self.region.area) / 1e6

    @property
    def aspect(self) -> float:
        """Longest side over the other."""
        return self.longest / max(self.shortest, EPS)


@dataclass(frozen=True, slots=True)
class Lattice1D:
    """One direction of a lattice: module, work size, and whether joints run straight across it."""

    pitch: float
    size: float
    straight: bool
    shifts: tuple[float, ...] = ()

    def narrowest_at(self, low: float, width: float) -> float:
        """Narrowest piece that a cut with faces `low` and `low + width` leaves in any course, mm; courses stand off by `shifts`."""
        left = np.mod(low - np.array(self.shifts), self.pitch)
        right = self.size - np.mod(low + width - np.array(self.shifts), self.pitch)
        sides = np.concatenate([left, right])
        cut = (sides > TOUCH) & (sides < self.size - TOUCH)
        return float(sides[cut].min()) if cut.any() else self.size


@dataclass(frozen=True, slots=True)
class FixedLine:
    """A cut whose place is given: low face along its axis (0: x = low, 1: y = low), mm."""

    axis: int
    low: float
    width: float
    kind: Literal["intermediate", "structural"]
    why: str
    corner: tuple[float, float] | None = None


@dataclass(slots=True)
class _Cut:
    axis: int
    low: float
    width: float
    kind: Literal["intermediate", "structural"]
    why: str
    fixed: bool
    segments: list[Floats] = field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class Division:
    """A surface's bays and the joints between them, in own axes; `anchors` fixed starts by axis."""

    bays: tuple[Bay, ...]
    joints: tuple[MovementJoint, ...]
    anchors: tuple[float | None, float | None]
    broken: tuple[str, ...]


class Divider:
    """Divides one region, turned into the joint frame, into bays."""

    def __init__(
        self, region: BaseGeometry, rules: Rules, lattice: tuple[Lattice1D, Lattice1D], fixed: list[FixedLine], clear: list[BaseGeometry]
    ) -> None:
        self.region, self.rules, self.lattice = region, rules, lattice
        self.rule = rules.movement
        self.fixed = fixed
        self.clear = clear
        self.first_axis = 0
        self.tries = 0
        self.memo: dict[tuple[float, ...], float] = {}
        self.cuts: list[_Cut] = []
        self.bays: list[tuple[Polygon, tuple[float, float]]] = []
        self.broken: list[str] = []

    def divide(self, origin: tuple[float, float]) -> None:
        """Find cuts and bays for a lattice that starts at `origin` (joint frame, mm)."""
        self.cuts, self.bays, self.broken = [], [], []
        self.tries = 0
        for part in parts_of(self.region):
            self._structural(part, origin)

    def _structural(self, part: Polygon, origin: tuple[float, float]) -> None:
        for line in self.fixed:
            if line.kind == "structural" and self._crosses(part, line.axis, line.low, line.width):
                for piece, start in self._apply(part, origin, line.axis, [line.low], line.width, "structural", line.why, fixed=True):
                    self._structural(piece, start)
                return
        self._divide(part, origin)

    def _divide(self, part: Polygon, origin: tuple[float, float]) -> None:
        if self.fits(part):
            self.bays.append((part, origin))
            return
        choice = self._best(part)
        if choice is None:
            self.bays.append((part, origin))
            self.broken.append(self.why_not(part))
            return
        axis, lows, why, fixed = choice
        width = self.rules.movement_joint
        if not fixed:
            more = (
                found
                for joints in range(len(lows), len(lows) + 3)
                if (found := self._on_tile_joints(part, axis, joints, origin[axis], width))
            )
            lows = next(more, lows)
        pieces = self._apply(part, origin, axis, lows, width, "intermediate", why, fixed=fixed)
        if len(pieces) < 2:
            self.bays.append((part, origin))
            self.broken.append(self.why_not(part))
            return
        for piece, start in pieces:
            self._divide(piece, start)

    def fits(self, part: Polygon) -> bool:
        """Whether a bay keeps the rule set."""
        return not self.why_not(part)

    def why_not(self, part: Polygon) -> str:
        """The first figure that breaks the rule set, in words; empty if none does."""
        x0, y0, x1, y1 = part.bounds
        long, short = max(x1 - x0, y1 - y0), max(min(x1 - x0, y1 - y0), EPS)
        rule = self.rule
        if long > rule.max_edge + TOUCH:
            return f"a bay {long:.0f} long, over {rule.max_edge:.0f} of {rule.name}"
        if rule.max_area_m2 is not None and part.area / 1e6 > rule.max_area_m2 + 1e-6:
            return f"a bay of {part.area / 1e6:.1f} m², over {rule.max_area_m2:g} of {rule.name}"
        if rule.max_aspect is not None and long / short > rule.max_aspect * ASPECT_SLACK and short > self.rules.movement_joint * 4:
            return f"a bay of aspect {long / short:.2f}, over {rule.max_aspect:g} of {rule.name}"
        if rule.reentrant and any(self._notched(part, line) for line in self.fixed):
            return f"a bay with a re-entrant corner, against {rule.name}"
        return ""

    def _notched(self, part: Polygon, line: FixedLine) -> bool:
        if line.corner is None or line.kind != "intermediate":
            return False
        x, y = line.corner
        near = shapely.box(x - 2.0, y - 2.0, x + 2.0, y + 2.0)
        return bool(shapely.intersection(part, near).area > 16.0 * 0.6)

    def _crosses(self, part: Polygon, axis: int, low: float, width: float) -> bool:
        x0, y0, x1, y1 = part.bounds
        first, last = ((x0, x1), (y0, y1))[axis]
        if not first + EPS < low + width / 2 < last - EPS:
            return False
        middle = self._line(part, axis, low + width / 2)
        return bool(shapely.intersection(part, middle).length > TOUCH)

    @staticmethod
    def _line(part: BaseGeometry, axis: int, at: float) -> LineString:
        x0, y0, x1, y1 = part.bounds
        return LineString([(at, y0 - 1.0), (at, y1 + 1.0)] if axis == 0 else [(x0 - 1.0, at), (x1 + 1.0, at)])

    def _options(self, part: Polygon) -> list[tuple[int, list[float], str, bool]]:
        """Cuts worth trying: axis, low faces, why, whether their place is fixed."""
        options: list[tuple[int, list[float], str, bool]] = []
        width = self.rules.movement_joint
        for line in self.fixed:
            if (
                line.kind == "intermediate"
                and line.corner is not None
                and self._notched(part, line)
                and self._crosses(part, line.axis, line.low, width)
            ):
                options.append((line.axis, [line.low], line.why, True))
        x0, y0, x1, y1 = part.bounds
        for axis, length in ((0, x1 - x0), (1, y1 - y0)):
            for count in self._counts(length, part):
                options.append((axis, self._equal(part, axis, count - 1), f"{count} equal bays", False))
        return options

    def _counts(self, length: float, part: Polygon) -> list[int]:
        """Numbers of equal bays worth trying along a side: by edge, one more, by area, by aspect."""
        width = self.rules.movement_joint
        x0, y0, x1, y1 = part.bounds
        other = (x1 - x0) * (y1 - y0) / max(length, EPS)
        least = max(math.ceil((length + width - TOUCH) / (self.rule.max_edge + width)), 1)
        counts = {least, least + 1}
        if self.rule.max_area_m2 is not None:
            counts.add(math.ceil(part.area / 1e6 / self.rule.max_area_m2 - 1e-9))
        if self.rule.max_aspect is not None:
            counts.add(math.ceil((length + width) / (other * self.rule.max_aspect * ASPECT_SLACK + width) - 1e-9))
        return sorted(count for count in counts if 2 <= count <= MOST_BAYS)

    def _equal(self, part: Polygon, axis: int, joints: int) -> list[float]:
        x0, y0, x1, y1 = part.bounds
        first, last = ((x0, x1), (y0, y1))[axis]
        width = self.rules.movement_joint
        bay = (last - first - joints * width) / (joints + 1)
        return [first + (k + 1) * bay + k * width for k in range(joints)]

    def _split(self, part: Polygon, axis: int, lows: list[float], width: float) -> tuple[list[Polygon], float]:
        """Pieces of a part between cuts, and the cuts' total length."""
        x0, y0, x1, y1 = part.bounds
        length = sum(shapely.intersection(part, self._line(part, axis, low + width / 2)).length for low in lows)
        faces = [(x0, x1), (y0, y1)][axis]
        stops = [faces[0] - 1.0, *[edge for low in lows for edge in (low, low + width)], faces[1] + 1.0]
        pieces: list[Polygon] = []
        for a, b in zip(stops[::2], stops[1::2], strict=True):
            box = shapely.box(a, y0 - 1.0, b, y1 + 1.0) if axis == 0 else shapely.box(x0 - 1.0, a, x1 + 1.0, b)
            pieces += [p for p in parts_of(shapely.intersection(part, box)) if p.area > 1.0]
        return pieces, float(length)

    def _cost(self, part: Polygon, depth: int, bound: float) -> float:
        """Least length of joint that makes a part keep the rule; infinite past the bound."""
        if self.fits(part):
            return 0.0
        if depth == 0 or bound <= 0.0:
            return math.inf
        key = (*(round(v, 2) for v in part.bounds), round(part.area, 1))
        if key in self.memo:
            return self.memo[key]
        if self.tries >= MOST_TRIES:
            return math.inf
        best = math.inf
        for axis, lows, _, _ in self._options(part):
            best = min(best, self._option_cost(part, axis, lows, depth, min(bound, best)))
        if math.isfinite(best) or self.tries < MOST_TRIES:
            self.memo[key] = best
        return best

    def _option_cost(self, part: Polygon, axis: int, lows: list[float], depth: int, bound: float) -> float:
        self.tries += 1
        pieces, total = self._split(part, axis, lows, self.rules.movement_joint)
        if len(pieces) < 2 or total >= bound:
            return math.inf
        for piece in sorted(pieces, key=lambda p: -p.area):
            total += self._cost(piece, depth - 1, bound - total)
            if total >= bound:
                return math.inf
        return total

    def _best(self, part: Polygon) -> tuple[int, list[float], str, bool] | None:
        best, cost = None, math.inf
        key: tuple[float, ...] = ()
        options = self._options(part)
        for option in options:
            found = self._option_cost(part, option[0], option[1], 5, cost + 1.0)
            if not math.isfinite(found):
                continue
            pieces, _ = self._split(part, option[0], option[1], self.rules.movement_joint)
            largest = max(piece.area for piece in pieces)
            own = (round(found), not option[3], round(largest, -3), option[0] != self.first_axis)
            if best is None or own < key:
                best, cost, key = option, found, own
        if best is None and options:  # no option proves out within the bound: halve the longest side
            x0, y0, x1, y1 = part.bounds
            axis = 0 if x1 - x0 >= y1 - y0 else 1
            if max(x1 - x0, y1 - y0) > self.rule.max_edge / 4:
                helps = [o for o in options if o[0] == axis and not o[3]]
                best = helps[0] if helps else options[0]
        return best

    def _on_tile_joints(self, part: Polygon, axis: int, joints: int, origin: float, width: float) -> list[float] | None:
        """Low faces of equal cuts, each on the nearest tile joint that keeps the bays' limit and the drains clear.

        None if no tile joint keeps the limit: one joint more is wanted then.
        """
        lattice = self.lattice[axis]
        lows: list[float] = []
        wanted = self._equal(part, axis, joints)
        x0, y0, x1, y1 = part.bounds
        begin, last = ((x0, x1), (y0, y1))[axis]
        if not lattice.straight:
            if not lattice.shifts:
                return wanted
            lows = [self._in_bond(lattice, target, origin, width) for target in wanted]
            bays = np.diff([begin - width, *lows, last]) - width
            return lows if bays.max() <= self.rule.max_edge + TOUCH and bays.min() > lattice.size else None
        start = origin
        for k, target in enumerate(wanted):
            n = round((target - start - lattice.size) / lattice.pitch)
            left = joints - k  # bays still to come after this one
            options = sorted(range(n - 3, n + 4), key=lambda m: (abs(start + m * lattice.pitch + lattice.size - target), m))
            fitting = [
                low
                for m in options
                if (low := start + m * lattice.pitch + lattice.size) - begin <= self.rule.max_edge + TOUCH
                and low > begin + lattice.size
                and (last - low - left * width) / left <= self.rule.max_edge + TOUCH
            ]
            if not fitting:
                return None
            free = [low for low in fitting if not self._hits(axis, low, width)]
            low = (free or fitting)[0]
            lows.append(low)
            begin = low + width
            start = begin
        return lows

    def _in_bond(self, lattice: Lattice1D, target: float, origin: float, width: float) -> float:
        """The low face nearest to one wanted, of those beside a joint of some course, that leaves the widest narrowest piece."""
        joints = [origin + shift + lattice.size for shift in lattice.shifts]
        near = [low + lattice.pitch * round((target - low) / lattice.pitch) for low in joints]
        options = [low - (width if far else 0.0) + (lattice.pitch - lattice.size if far else 0.0) for low in near for far in (False, True)]
        return min(options, key=lambda low: (-round(lattice.narrowest_at(low - origin, width), 1), abs(low - target), low))

    def _hits(self, axis: int, low: float, width: float) -> bool:
        for frame in self.clear:
            x0, y0, x1, y1 = frame.bounds
            a, b = ((x0, x1), (y0, y1))[axis]
            if a < low + width and low < b:
                return True
        return False

    def _apply(
        self,
        part: Polygon,
        origin: tuple[float, float],
        axis: int,
        lows: list[float],
        width: float,
        kind: Literal["intermediate", "structural"],
        why: str,
        *,
        fixed: bool,
    ) -> list[tuple[Polygon, tuple[float, float]]]:
        """Cut a part; each piece with the start of its lattice: beyond a cut, the cut's far face."""
        result: list[tuple[Polygon, tuple[float, float]]] = []
        rest: BaseGeometry = part
        start = origin
        for low in lows:
            segments = shapely.intersection(rest, self._line(rest, axis, low + width / 2))
            cut = _Cut(axis, low, width, kind, why, fixed)
            cut.segments = [shapely.get_coordinates(line) for line in shapely.get_parts(segments) if line.length > TOUCH]
            if not cut.segments:
                continue
            self.cuts.append(cut)
            x0, y0, x1, y1 = rest.bounds
            before = shapely.box(x0 - 1, y0 - 1, low, y1 + 1) if axis == 0 else shapely.box(x0 - 1, y0 - 1, x1 + 1, low)
            after = shapely.box(low + width, y0 - 1, x1 + 1, y1 + 1) if axis == 0 else shapely.box(x0 - 1, low + width, x1 + 1, y1 + 1)
            result += [(p, start) for p in parts_of(shapely.intersection(rest, before)) if p.area > EPS]
            if self.lattice[axis].straight:
                start = (low + width, start[1]) if axis == 0 else (start[0], low + width)
            rest = shapely.intersection(rest, after)
        return result + [(p, start) for p in parts_of(rest) if p.area > EPS]


def fixed_lines(lining: Lining, surface: Surface, frame: float) -> list[FixedLine]:
    """Cuts whose place is given: structural joints along the frame, and re-entrant corners of the room."""
    rules = lining.plan.rules
    result: list[FixedLine] = []
    for joint in lining.room.structural_joints:
        (xa, ya), (xb, yb) = turned(np.array(joint.line), -frame)
        width = max(joint.width, rules.movement_joint)
        if abs(xa - xb) <= TOUCH:
            result.append(FixedLine(0, snap((xa + xb) / 2 - width / 2), width, "structural", joint.name))
        elif abs(ya - yb) <= TOUCH:
            result.append(FixedLine(1, snap((ya + yb) / 2 - width / 2), width, "structural", joint.name))
    corners = turned_corners(lining, surface, frame)
    for x, y, toward_x, toward_y in corners:
        width = rules.movement_joint
        why = "through the re-entrant corner"
        result.append(FixedLine(0, x if toward_x > 0 else x - width, width, "intermediate", why, (x, y)))
        result.append(FixedLine(1, y if toward_y > 0 else y - width, width, "intermediate", why, (x, y)))
    return result


def turned_corners(lining: Lining, surface: Surface, frame: float) -> list[tuple[float, float, float, float]]:
    """Re-entrant corners of the room on the field's edge: x, y and the way each adjoining wall leads off."""
    walls = lining.outline.walls
    wanted = []
    for upright in lining.shell.uprights:
        faces = (upright.first, upright.second)
        if upright.bottom > 0.0 or upright.angle < 225.0 or any(f.tag.owner != "wall" for f in faces):
            continue
        if min(walls[f.tag.number].run.length for f in faces) >= REENTRANT_LEG.value:
            wanted.append(upright.at)
    result = []
    local = turned_shape(surface.divided_field, -frame)
    for part in parts_of(local):
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            for at in wanted:
                corner = turned(np.array([at]), -frame)[0]
                apart = np.hypot(*(points - corner).T)
                k = int(apart.argmin())
                if apart[k] > 150.0:
                    continue
                before, here, after = points[k - 1], points[k], points[(k + 1) % len(points)]
                way1, way2 = before - here, after - here
                if way1[0] * way2[1] - way1[1] * way2[0] <= 0.0:  # the region opens more than 180 degrees only if positive
                    continue
                level, upright_way = (way1, way2) if abs(way1[0]) * np.hypot(*way2) > abs(way2[0]) * np.hypot(*way1) else (way2, way1)
                result.append((snap(here[0]), snap(here[1]), float(np.sign(level[0])), float(np.sign(upright_way[1]))))
    return result


def slanted_structural(lining: Lining, frame: float) -> list[tuple[Polygon, MovementJoint]]:
    """Structural joints that do not run along the frame: strip and joint, in the floor's own axes."""
    result = []
    rules = lining.plan.rules
    x0, y0, x1, y1 = lining.floor.divided_field.bounds
    reach = math.hypot(x1 - x0, y1 - y0) * 2
    for joint in lining.room.structural_joints:
        a, b = np.array(joint.line)
        (xa, ya), (xb, yb) = turned(np.array(joint.line), -frame)
        if abs(xa - xb) <= TOUCH or abs(ya - yb) <= TOUCH:
            continue
        way = (b - a) / np.hypot(*(b - a))
        line = LineString([a - way * reach, b + way * reach])
        width = max(joint.width, rules.movement_joint)
        strip = line.buffer(width / 2, cap_style="flat")
        for segment in shapely.get_parts(shapely.intersection(lining.floor.divided_region, line)):
            if segment.length > TOUCH:
                points = shapely.get_coordinates(segment)
                result.append((strip, MovementJoint("structural", "floor", points, float(segment.length), width, joint.name)))
    return result


def bays_of(divider: Divider, frame: float) -> tuple[tuple[Bay, ...], tuple[MovementJoint, ...]]:
    """Bays and joints of a division, back in the surface's own axes."""
    bays = []
    for part, origin in divider.bays:
        x0, y0, x1, y1 = part.bounds
        region = turned_shape(part, frame)
        at = turned(np.array([origin]), frame)[0]
        bays.append(Bay(region, (float(at[0]), float(at[1])), max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)))
    joints = [
        MovementJoint(cut.kind, "", turned(segment, frame), float(np.hypot(*(segment[-1] - segment[0]))), cut.width, cut.why)
        for cut in divider.cuts
        for segment in cut.segments
    ]
    return tuple(bays), tuple(joints)


def border_joints(surface: Surface, rules: Rules) -> list[MovementJoint]:
    """Sealant along the borders of a flat surface, centre lines, each metre once."""
    if not surface.borders or rules.foot == "floor-through":
        return []
    edges, borders = surface.bordered(0.5)
    result: list[MovementJoint] = []
    for edge, border in zip(edges, borders, strict=True):
        if border.grows or border.joint <= 0.0:
            continue
        kind: Kind = border.kind if surface.kind == "floor" else "plinth"
        last = result[-1] if result else None
        length = float(np.hypot(*(edge[1] - edge[0])))
        if last and (last.kind, last.label) == (kind, border.label) and np.hypot(*(last.line[-1] - edge[0])) < EPS:
            result[-1] = MovementJoint(
                kind, surface.name, np.vstack([last.line, edge[1]]), last.length + length, border.joint, "", border.label
            )
        else:
            result.append(MovementJoint(kind, surface.name, edge.copy(), length, border.joint, "", border.label))
    return result


def break_joints(surface: Surface) -> list[MovementJoint]:
    """Sealant rings round pipes, fixings and drain frames that get a joint."""
    result = []
    for each in surface.breaks:
        if each.joint <= 0.0:
            continue
        ring = shapely.buffer(each.shape, each.joint / 2, join_style="mitre") if each.kind != "pipe" else None
        if ring is None:
            scale = (each.diameter + each.joint) / each.diameter
            points = (shapely.get_coordinates(each.shape) - each.at) * scale + each.at
        else:
            points = shapely.get_coordinates(ring)
        kind: Kind = "drain" if each.kind in ("gully", "channel") else "pipe"
        result.append(MovementJoint(kind, surface.name, points, each.ring_length, each.joint, "", each.name))
    return result


def corner_joints(lining: Lining) -> list[MovementJoint]:
    """Sealant in internal upright corners between tiled faces, on the lower-numbered face's surface."""
    from layout.lining import owner_of  # noqa: PLC0415

    result = []
    by_run = {surface.run: surface for surface in lining.surfaces if surface.run is not None}
    for upright in lining.shell.uprights:
        if upright.angle >= 180.0:
            continue
        pairs = sorted(((owner_of(lining.outline, f), f) for f in (upright.first, upright.second)), key=lambda pair: pair[0].rank)
        (own, face), (other, _) = pairs
        top = min(own.top, other.top, upright.top)
        if own.tile is None or other.tile is None or top <= upright.bottom + TOUCH or face.run not in by_run:
            continue
        surface = by_run[face.run]
        width = lining.plan.rules.perimeter_joint
        x = surface.placing.along(upright.at)
        room_side = 1.0 if x < surface.placing.length / 2 else -1.0
        x += room_side * (other.build_up + width / 2)
        line = np.array([[x, upright.bottom], [x, top]])
        result.append(MovementJoint("corner", surface.name, line, top - upright.bottom, width, "", f"{own.label} / {other.label}"))
    return result
