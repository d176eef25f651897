"""Divides a surface into bays: which lines cut it, so that every bay keeps its rule with the least length of joint.

A bay that breaks the rule set is cut right across, in the way that makes the least total length of joint
(`layout.partition` weighs all such divisions). Among cuts as good, one through a re-entrant corner is taken first, then
one on a column line or at a door jamb, then equal parts. Where the pattern has a straight joint in that direction the
cut is moved to a near one, clear of drains, and the bay beyond starts with whole tiles; across a bond it runs where
the courses keep the widest pieces; else it is sawn through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import LineString, Polygon

from layout.joints.partition import NEAR, Grid, Rectangles, breach, counts
from layout.shapes import parts_of
from layout.units import EPS, TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from layout.plan.values import Rules

    Floats = NDArray[np.float64]

ASIDE = 600.0
"""How far a cut may be moved off its place to keep clear of drains, mm."""
MEETS = 500.0
"""How near a part must come to a column or jamb to like its line, mm."""
MOST_LIKED = 4
"""Liked lines of a direction that are tried, nearest to the middle first."""


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
    """A cut whose place is given: low face along its axis (0: x = low, 1: y = low), mm; `must` if it is made whatever the rule."""

    axis: int
    low: float
    width: float
    kind: Literal["intermediate", "structural"]
    why: str
    corner: tuple[float, float] | None = None
    must: bool = False
    bridged: bool = True


@dataclass(frozen=True, slots=True)
class PreferredLine:
    """A centre line on which a cut is liked by the parts that meet what stands there: column lines, door jambs."""

    axis: int
    at: float
    why: str
    place: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A thing that joints keep clear of: bounds in the joint frame, hidden rim and the distance wanted from that, mm.

    With an `axis` only cuts of that one: a low line may be crossed, not followed.
    """

    bounds: tuple[float, float, float, float]
    rim: float
    wanted: float = 0.0
    axis: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Rejected:
    """A cut that was weighed and not made: its centre lines, what it was, and the figure that rejected it."""

    lines: tuple[Floats, ...]
    what: str
    why: str


@dataclass(slots=True)
class Cut:
    """A cut that was made."""

    axis: int
    low: float
    width: float
    kind: Literal["intermediate", "structural"]
    why: str
    fixed: bool
    bridged: bool = True
    segments: list[Floats] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Option:
    """A way to cut a part: low faces along an axis; rank 0 corner, 1 preferred line, 2 equal parts, 3 as far as the rule reaches."""

    axis: int
    lows: tuple[float, ...]
    why: str
    rank: int

    @property
    def fixed(self) -> bool:
        return self.rank == 0

    @property
    def equal(self) -> bool:
        return self.rank == 2


class Divider:
    """Divides one region, turned into the joint frame, into bays."""

    def __init__(
        self,
        region: BaseGeometry,
        rules: Rules,
        lattice: tuple[Lattice1D, Lattice1D],
        fixed: Sequence[FixedLine] = (),
        obstacles: Sequence[Obstacle] = (),
        preferred: Sequence[PreferredLine] = (),
    ) -> None:
        self.region, self.rules, self.lattice = region, rules, lattice
        self.rule = rules.movement
        self.fixed, self.obstacles, self.preferred = fixed, obstacles, preferred
        self.first_axis = 0
        self.rectangles = Rectangles(self.rule, rules.movement_joint)
        self.known: dict[bytes, tuple[_Option | None, list[Rejected]]] = {}
        self.cuts: list[Cut] = []
        self.bays: list[tuple[Polygon, tuple[float, float]]] = []
        self.broken: list[str] = []
        self.rejected: list[Rejected] = []

    def divide(self, origin: tuple[float, float]) -> None:
        """Find cuts and bays for a lattice that starts at `origin` (joint frame, mm)."""
        self.cuts, self.bays, self.broken, self.rejected = [], [], [], []
        for part in parts_of(self.region):
            self._given(part, origin)

    def _given(self, part: Polygon, origin: tuple[float, float]) -> None:
        for line in self.fixed:
            if line.must and self._crosses(part, line.axis, line.low, line.width):
                for piece, start in self._apply(
                    part, origin, line.axis, [line.low], line.width, line.kind, line.why, fixed=True, bridged=line.bridged
                ):
                    self._given(piece, start)
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
        width = self.rules.movement_joint
        lows = list(choice.lows)
        if not choice.fixed:
            wanted = [lows]
            if choice.equal:
                wanted += [self._equal(part, choice.axis, joints) for joints in (len(lows) + 1, len(lows) + 2)]
            more = (
                found
                for each in wanted
                if (
                    found := self._on_tile_joints(
                        part, choice.axis, each, origin[choice.axis], width, equal=choice.equal, liked=choice.rank == 1
                    )
                )
            )
            lows = next(more, lows)
        pieces = self._apply(part, origin, choice.axis, lows, width, "intermediate", choice.why, fixed=choice.fixed)
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
        found = breach(long, short, part.area, self.rule, self.rules.movement_joint)
        if not found and self.rule.reentrant and any(self._notched(part, line) for line in self.fixed):
            return f"a bay with a re-entrant corner, against {self.rule.name}"
        return found

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

    def _weighed(self, part: Polygon) -> list[tuple[_Option, float]]:
        """Cuts worth making, each with the length of joint in the best division that begins with it, mm; infinite if none is found."""
        width = self.rules.movement_joint
        x0, y0, x1, y1 = part.bounds
        options: list[tuple[_Option, float]] = []
        corners = [
            _Option(line.axis, (line.low,), line.why, 0)
            for line in self.fixed
            if not line.must and line.corner is not None and self._notched(part, line) and self._crosses(part, line.axis, line.low, width)
        ]
        liked = [_Option(line.axis, (line.at - width / 2,), line.why, 1) for line in self._liked(part)]
        if not _rectangular(part):
            known = [*corners, *liked]
            for axis, at, cost in self._grid(part).weighed():
                same = [option for option in known if option.axis == axis and abs(option.lows[0] + width / 2 - at) <= NEAR]
                options += [(option, cost) for option in same or [_Option(axis, (at - width / 2,), "the least joint in all", 3)]]
            if any(math.isfinite(cost) for _, cost in options):
                return options
        equal = [
            _Option(axis, tuple(self._equal(part, axis, count - 1)), f"{count} equal bays", 2)
            for axis, low, high in ((0, x0, x1), (1, y0, y1))
            for count in counts(high - low, (x1 - x0) * (y1 - y0) / max(high - low, EPS), part.area, self.rule, width)
        ]
        if not _rectangular(part):  # no division was found on the grid: equal parts help
            return [(option, math.inf) for option in equal]
        _, axis, lows = self.rectangles.best(x1 - x0, y1 - y0)
        best = [_Option(axis, ((x0, y0)[axis] + lows[0],), "the least joint in all", 3)] if len(lows) == 1 else []
        return [(option, self._option_cost(part, option)) for option in (*corners, *liked, *equal, *best)]

    def _liked(self, part: Polygon) -> list[PreferredLine]:
        """Column lines and jambs that cross a part well inside it, nearest to its middle first."""
        width, near = self.rules.movement_joint, self.rule.max_edge / 4
        result = []
        for axis in (0, 1):
            low, high = part.bounds[axis], part.bounds[axis + 2]
            own = [line for line in self.preferred if line.axis == axis and low + near < line.at < high - near]
            own = [line for line in own if line.place is None or part.distance(shapely.Point(line.place)) < MEETS]
            own.sort(key=lambda line: (abs(line.at - (low + high) / 2), line.at))
            result += [line for line in own[:MOST_LIKED] if self._crosses(part, axis, line.at - width / 2, width)]
        return result

    def _grid(self, part: Polygon) -> Grid:
        liked = [[line.at for line in self._liked(part) if line.axis == axis] for axis in (0, 1)]
        corners = [line.corner for line in self.fixed if line.corner is not None]
        return Grid(part, (liked[0], liked[1]), corners, self.rectangles)

    def _cost(self, part: Polygon) -> float:
        """Least length of joint that makes a part keep the rule; infinite if none is found."""
        if self.fits(part):
            return 0.0
        if _rectangular(part):
            x0, y0, x1, y1 = part.bounds
            return self.rectangles.cost(x1 - x0, y1 - y0)
        grid = self._grid(part)
        return grid.cost(grid.full)

    def _equal(self, part: Polygon, axis: int, joints: int) -> list[float]:
        x0, y0, x1, y1 = part.bounds
        first, last = ((x0, x1), (y0, y1))[axis]
        width = self.rules.movement_joint
        bay = (last - first - joints * width) / (joints + 1)
        return [first + (k + 1) * bay + k * width for k in range(joints)]

    def _split(self, part: Polygon, axis: int, lows: Sequence[float], width: float) -> tuple[list[Polygon], float]:
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

    def _option_cost(self, part: Polygon, option: _Option) -> float:
        pieces, total = self._split(part, option.axis, option.lows, self.rules.movement_joint)
        return math.inf if len(pieces) < 2 else total + sum(self._cost(piece) for piece in pieces)

    def _best(self, part: Polygon) -> _Option | None:
        """The cut to make first, kept with what it was weighed against: the same parts come again while start and joints settle."""
        key = part.wkb
        if key not in self.known:
            self.known[key] = self._chosen(part)
        best, told = self.known[key]
        self.rejected += told
        return best

    def _chosen(self, part: Polygon) -> tuple[_Option | None, list[Rejected]]:
        best, cost = None, math.inf
        rank: tuple[float, ...] = ()
        tried = self._weighed(part)
        for option, found in tried:
            if not math.isfinite(found) or found > cost + 1.0:
                continue
            pieces, _ = self._split(part, option.axis, option.lows, self.rules.movement_joint)
            largest = max(piece.area for piece in pieces)
            own = (round(found), option.rank, round(largest, -3), option.axis != self.first_axis)
            if best is None or own < rank:
                best, cost, rank = option, found, own
        if best is None and tried:  # no division is found: halve the longest side
            x0, y0, x1, y1 = part.bounds
            axis = 0 if x1 - x0 >= y1 - y0 else 1
            if max(x1 - x0, y1 - y0) > self.rule.max_edge / 4:
                best = next((option for option, _ in tried if option.axis == axis and option.equal), tried[0][0])
        return best, self._told(part, tried, best, cost)

    def _told(self, part: Polygon, tried: list[tuple[_Option, float]], best: _Option | None, cost: float) -> list[Rejected]:
        """The other cuts through corners, on liked lines and in equal parts, with the figure that rejected each."""
        result: list[Rejected] = []
        for option, found in tried:
            if option is best or option.rank > 2:
                continue
            pieces, length = self._split(part, option.axis, option.lows, self.rules.movement_joint)
            faults = [why for piece in pieces if (why := self.why_not(piece))]
            if option.equal:
                if not cost + 1.0 < found < math.inf:
                    continue
                why = f"{found / 1000:.1f} m of joint in all, where {cost / 1000:.1f} m do"
            elif math.isfinite(found) and faults:
                why = f"{faults[0]}; {found / 1000:.1f} m of joint with what mends it, not {cost / 1000:.1f}"
            elif math.isfinite(found):
                why = (
                    f"{found / 1000:.1f} m of joint, where {cost / 1000:.1f} m do"
                    if found > cost + 1.0
                    else "as long, and its bays are less even"
                )
            elif faults:
                why = faults[0] + (f"; with what mends it more than the {cost / 1000:.1f} m taken" if math.isfinite(cost) else "")
            else:
                why = f"{length / 1000:.1f} m of joint, where {cost / 1000:.1f} m do"
            lines = [shapely.intersection(part, self._line(part, option.axis, low + self.rules.movement_joint / 2)) for low in option.lows]
            coordinates = tuple(shapely.get_coordinates(line) for line in lines if line.length > TOUCH)
            result.append(Rejected(coordinates, option.why, why))
        return result

    def _on_tile_joints(
        self, part: Polygon, axis: int, wanted: Sequence[float], origin: float, width: float, *, equal: bool, liked: bool
    ) -> list[float] | None:
        """Low faces of cuts, each on a tile joint near the one wanted that keeps the bays' limit, clear of drains where one is.

        None if no tile joint keeps the limit: one joint more is wanted then.
        """
        lattice = self.lattice[axis]
        lows: list[float] = []
        begin, last = float(part.bounds[axis]), float(part.bounds[axis + 2])
        most = self.rule.max_edge + TOUCH
        if not lattice.straight:
            if not lattice.shifts:
                return list(wanted)
            lows = [self._in_bond(lattice, target, origin, width) for target in wanted]
            bays = np.diff([begin - width, *lows, last]) - width
            fits = bays.max() <= most or not equal
            return lows if fits and bays.min() > lattice.size else None
        start = origin
        centred = 0.0 if self.rules.bays == "shift" else (lattice.pitch - lattice.size - width) / 2
        for k, target in enumerate(wanted):
            n = round((target - start - lattice.size - centred) / lattice.pitch)
            left = len(wanted) - k  # bays still to come after this one
            after = wanted[k + 1] if k + 1 < len(wanted) else last
            fitting = []
            reach = 1 if liked else max(3, round(ASIDE / lattice.pitch))
            for m in range(n - reach, n + reach + 1):
                low = start + m * lattice.pitch + lattice.size + centred
                if equal:
                    keeps = low - begin <= most and (last - low - left * width) / left <= most
                else:
                    keeps = (low - begin <= most or target - begin > most) and (
                        after - low - width <= most or after - target - width > most
                    )
                if keeps and begin + lattice.size < low < last - width:
                    fitting.append(low)
            if not fitting:
                return None
            crowds = {low: self._crowds(part, axis, low, width) for low in fitting}
            if liked:  # on the line itself, unless a rim is in the way
                crowds = {low: crowd if crowd[0] > 1 else (0, 0) for low, crowd in crowds.items()}
            low = min(fitting, key=lambda low: (crowds[low], round(abs(low - target), 3), low))
            lows.append(low)
            begin = low + width
            if self.rules.bays == "shift":
                start = begin
        return lows

    def _in_bond(self, lattice: Lattice1D, target: float, origin: float, width: float) -> float:
        """The low face nearest to one wanted, of those beside a joint of some course, that leaves the widest narrowest piece."""
        joints = [origin + shift + lattice.size for shift in lattice.shifts]
        near = [low + lattice.pitch * round((target - low) / lattice.pitch) for low in joints]
        options = [low - (width if far else 0.0) + (lattice.pitch - lattice.size if far else 0.0) for low in near for far in (False, True)]
        return min(options, key=lambda low: (-round(lattice.narrowest_at(low - origin, width), 1), abs(low - target), low))

    def _crowds(self, part: Polygon, axis: int, low: float, width: float) -> tuple[int, int]:
        """How a cut treats what it should keep clear of: 0 clear, 1 nearer than wanted, 2 over a rim, 3 through it; and by how many tenths of a metre."""
        worst = (0, 0)
        first, second = part.bounds[1 - axis], part.bounds[3 - axis]
        for each in self.obstacles:
            if each.bounds[3 - axis] < first or each.bounds[1 - axis] > second or each.axis == 1 - axis:
                continue
            gap = max(each.bounds[axis] - (low + width), low - each.bounds[axis + 2])
            short = round((each.rim + each.wanted - gap) / 100.0)
            worst = max(
                worst, (3, short) if gap < 0.0 else (2, short) if gap < each.rim else (1, short) if gap < each.rim + each.wanted else (0, 0)
            )
        return worst

    def _apply(
        self,
        part: Polygon,
        origin: tuple[float, float],
        axis: int,
        lows: Sequence[float],
        width: float,
        kind: Literal["intermediate", "structural"],
        why: str,
        *,
        fixed: bool,
        bridged: bool = True,
    ) -> list[tuple[Polygon, tuple[float, float]]]:
        """Cut a part; each piece with the start of its lattice: beyond a cut, the cut's far face."""
        result: list[tuple[Polygon, tuple[float, float]]] = []
        rest: BaseGeometry = part
        start = origin
        for low in lows:
            segments = shapely.intersection(rest, self._line(rest, axis, low + width / 2))
            cut = Cut(axis, low, width, kind, why, fixed, bridged)
            cut.segments = [shapely.get_coordinates(line) for line in shapely.get_parts(segments) if line.length > TOUCH]
            if not cut.segments:
                continue
            self.cuts.append(cut)
            x0, y0, x1, y1 = rest.bounds
            before = shapely.box(x0 - 1, y0 - 1, low, y1 + 1) if axis == 0 else shapely.box(x0 - 1, y0 - 1, x1 + 1, low)
            after = shapely.box(low + width, y0 - 1, x1 + 1, y1 + 1) if axis == 0 else shapely.box(x0 - 1, low + width, x1 + 1, y1 + 1)
            result += [(p, start) for p in parts_of(shapely.intersection(rest, before)) if p.area > EPS]
            if self.lattice[axis].straight and self.rules.bays == "shift":
                start = (low + width, start[1]) if axis == 0 else (start[0], low + width)
            rest = shapely.intersection(rest, after)
        return result + [(p, start) for p in parts_of(rest) if p.area > EPS]


def _rectangular(part: Polygon) -> bool:
    """Whether a part is a rectangle along the axes, but for its holes."""
    x0, y0, x1, y1 = part.bounds
    return bool(Polygon(part.exterior).area > 0.999 * (x1 - x0) * (y1 - y0))
