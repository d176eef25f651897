"""Reinforcing tape, corner pieces, collars and flanges: derived from the shell, never listed by hand.

Runs lie on the substrate; their length is that line. Laps and legs of corner pieces are added by the
orders, not here.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely

from layout.errors import Finding, Rule
from layout.lining.owners import owner_of
from layout.standards.rules import CORNER_PLAY, TANKING_RETURN
from layout.units import EPS, TOUCH
from layout.vectors import unit
from layout.words import listed, worded

if TYPE_CHECKING:
    from layout.errors import Point
    from layout.identity import SurfaceId
    from layout.joints.lines import MovementJoint
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.room.shell import Corner, Face
    from layout.vectors import Floats

Junction: TypeAlias = Literal["internal", "external", "bridge"]


@dataclass(frozen=True, slots=True, eq=False)
class TapeRun:
    """One run of tape: kind by what meets, line (n, 3) in the room, mm.

    `low_return` is how far the membrane comes round onto the lower wall, mm, over `return_length` of the run, above that
    wall's own tanking.
    """

    name: str
    kind: str
    junction: Junction
    line: Floats
    length: float
    low_return: Rule | None = None
    return_length: float = 0.0

    @property
    def upright(self) -> bool:
        """Whether it runs straight up; along a floor that falls it does not lie level either."""
        return float(np.ptp(self.line[:, :2], axis=0).max()) < TOUCH < float(np.ptp(self.line[:, 2]))


@dataclass(frozen=True, slots=True)
class CornerPiece:
    """A corner of the tanking: preformed internal or external, or made from tape."""

    kind: Literal["internal", "external", "made"]
    corner: str
    at: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Collar:
    """A collar round a pipe or fixing; `at` in the surface's own axes, diameter of the break, mm."""

    label: str
    surface: SurfaceId
    at: Point
    diameter: float


@dataclass(frozen=True, slots=True)
class Flange:
    """The flange of a drain that the membrane laps; length round the frame, mm."""

    label: str
    surface: SurfaceId
    length: float
    width: float


@dataclass(frozen=True, slots=True, eq=False)
class Tape:
    """Everything that reinforces one room's membrane."""

    runs: tuple[TapeRun, ...]
    corners: tuple[CornerPiece, ...]
    collars: tuple[Collar, ...]
    flanges: tuple[Flange, ...]
    findings: tuple[Finding, ...]

    def count(self, kind: str) -> int:
        """Corner pieces of a kind."""
        return sum(1 for each in self.corners if each.kind == kind)

    def metres(self, junction: Junction) -> float:
        """Metres of tape on a kind of junction."""
        return math.fsum(run.length for run in self.runs if run.junction == junction) / 1000.0


END_REACH = 200.0
"""A joint that ends no farther than this from the edge of the membrane is bridged up to it, mm: more than any build-up and joint."""

_WORDS = {
    each: each
    for each in (
        worded("wall"), worded("reveal"), worded("plinth"), worded("column"), worded("threshold"), worded("floor"), worded("edge"),
    )
}  # fmt: skip
_NOUNS = {"wall": "wall", "reveal": "reveal", "plinth": "plinth", "column": "column", "threshold": "threshold"}


def _called(kind: str) -> str:
    """What lies on both sides of a junction, in words."""
    return listed((_WORDS[each] for each in kind.split("-")), "–")


class _Taper:
    """Walks the shell of one lining."""

    def __init__(self, lining: Lining) -> None:
        self.lining = lining
        self.shell, self.outline = lining.shell, lining.outline
        self.external = lining.plan.rules.tape_external
        self.runs: list[TapeRun] = []
        self.findings: list[Finding] = []

    def feet(self) -> None:
        """Level runs: at the foot of every face, and along the top edge of plinths if asked."""
        for key, faces in self._chains().items():
            owner = owner_of(self.outline, faces[0])
            if not _tanked_at(owner.tanking, faces[0].bottom):
                if owner.tanking > TOUCH:
                    text = worded(
                        "{label} is tanked to {tanking:.0f} only, below the top of the plinth before it ({bottom:.0f}): no tape there",
                        label=owner.label,
                        tanking=owner.tanking,
                        bottom=faces[0].bottom,
                    )
                    self.findings.append(Finding(code="tanking-low", text=text, at=faces[0].a))
                continue
            noun = _NOUNS[key[0]]
            kind = f"{noun}-floor" if faces[0].low == 0 else ("plinth-wall" if noun == "wall" else f"{noun}-plinth")
            for chain in _connected(faces):
                self._add(kind, "internal", chain, faces[0].bottom, self._label(faces[0]))
                if self.external and math.isfinite(faces[0].top):
                    self._add("plinth-edge", "external", chain, faces[0].top, self._label(faces[0]))
        for face in self.shell.thresholds:
            ends = np.array([face.a, face.b])
            line = np.column_stack([ends, self._levels(ends, face.bottom)])
            label = self.outline.openings[face.tag.number].opening.name
            self.runs.append(TapeRun(worded("threshold, {label}", label=label), "threshold", "external", line, face.length))

    def _chains(self) -> dict[tuple[str, int, int, int], list[Face]]:
        result: dict[tuple[str, int, int, int], list[Face]] = {}
        for face in self.shell.faces:
            result.setdefault((*face.run, face.low), []).append(face)
        return result

    def _label(self, face: Face) -> str:
        owner = owner_of(self.outline, face)
        if face.tag.owner in ("plinth", "column"):
            solid = (self.outline.plinths if face.tag.owner == "plinth" else self.outline.columns)[face.tag.number]
            return worded("{label} side {number}", label=owner.label, number=solid.runs[face.tag.run].number)
        return owner.label

    def _add(self, kind: str, junction: Junction, chain: Floats, level: float, label: str) -> None:
        line = np.column_stack([chain, self._levels(chain, level)])
        length = float(np.sqrt((np.diff(line, axis=0) ** 2).sum(axis=1)).sum())
        self.runs.append(TapeRun(worded("{run}, {label}", run=_called(kind), label=label), kind, junction, line, length))

    def _levels(self, points: Floats, level: float) -> Floats:
        """Levels of points (n, 2) at the foot of a face: of the floor where it falls, mm."""
        if self.lining.falls is None or level != 0.0:
            return np.full(len(points), level)
        result: Floats = np.round(self.lining.falls.at(points) - self.lining.room.levels.floor, 3)
        return result

    def uprights(self) -> None:
        """Upright runs, to the higher of the two tanking heights."""
        for upright in self.shell.uprights:
            if upright.bend == "external" and not self.external:
                continue
            one, two = owner_of(self.outline, upright.first), owner_of(self.outline, upright.second)
            top = min(max(one.tanking, two.tanking), upright.top)
            if top <= upright.bottom + TOUCH or (min(one.tanking, two.tanking) <= 0.0 and max(one.tanking, two.tanking) <= 0.0):
                continue
            nouns = sorted((_NOUNS[upright.first.tag.owner], _NOUNS[upright.second.tag.owner]))
            kind = "-".join(nouns)
            low = min(one.tanking, two.tanking, upright.top)
            bottom = float(self._levels(np.array([upright.at]), upright.bottom)[0])
            line = np.array([[*upright.at, bottom], [*upright.at, top]])
            label = listed(sorted((self._label(upright.first), self._label(upright.second))), " / ")
            back = TANKING_RETURN if low < top - TOUCH else None
            above = top - max(low, bottom) if back else 0.0
            self.runs.append(
                TapeRun(worded("{run}, {label}", run=_called(kind), label=label), kind, upright.bend, line, top - bottom, back, above)
            )
            if back is not None:
                low_wall = one.label if one.tanking < two.tanking else two.label
                text = worded(
                    "{label}: tape runs up to {top:.0f}, with a return of at least {back:.0f} on {wall}, tanked to {low:.0f} only",
                    label=label,
                    top=top,
                    back=back.value,
                    wall=low_wall,
                    low=low,
                )
                self.findings.append(Finding(code="tanking-return", text=text, at=upright.at))

    def bridges(self, joints: list[MovementJoint]) -> None:
        """Structural joints are bridged in the membrane with a loop, up walls as far as they are tanked; tile-only joints are not."""
        surfaces = {surface.id: surface for surface in self.lining.surfaces}
        for joint in joints:
            if joint.kind != "structural" or not joint.bridged or joint.surface not in surfaces:
                continue
            surface = surfaces[joint.surface]
            for piece in shapely.get_parts(shapely.intersection(_to_edges(joint.line, surface), surface.tanked)):
                if piece.length > TOUCH:
                    line = surface.placing.to_room(shapely.get_coordinates(piece))
                    where = "" if surface.kind == "floor" else f", {surface.name}"
                    name = worded("bridge, {label}{where}", label=joint.label or joint.why or worded("structural joint"), where=where)
                    self.runs.append(TapeRun(name, "bridge", "bridge", line, float(piece.length)))

    def corner_pieces(self) -> list[CornerPiece]:
        """A preformed piece for square III and IIE corners; others are made from tape."""
        result = []
        for corner in self.shell.corners:
            kind = self._piece(corner)
            if kind is None:
                continue
            result.append(CornerPiece(kind, corner.kind, (*corner.at, corner.level)))
            if kind == "made":
                text = worded(
                    "the corner ({kind}, {angle:.0f}°) at [{at:.0f}, {at_2:.0f}] is made from tape: no preformed piece fits",
                    kind=corner.kind,
                    angle=corner.angle,
                    at=corner.at[0],
                    at_2=corner.at[1],
                )
                self.findings.append(Finding(code="corner-made", text=text, at=corner.at))
        return result

    def _piece(self, corner: Corner) -> Literal["internal", "external", "made"] | None:
        walls = [face for face in corner.faces if face.bottom == corner.level]
        tanked = [face for face in walls if _tanked_at(owner_of(self.outline, face).tanking, corner.level)]
        if walls and not tanked:
            return None
        if corner.kind == "EEE":
            return "made" if self.external else None
        if corner.internal == 0:
            return None
        square = min(abs(corner.angle - 90.0), abs(corner.angle - 270.0)) <= CORNER_PLAY.value
        if corner.kind == "III" and square:
            return "internal"
        if corner.kind == "IIE" and square:
            return "external"
        return "made"


def _to_edges(line: Floats, surface: Surface) -> shapely.LineString:
    """A joint's line, drawn on through what stands at its ends to the edge of the membrane; not where it ends in the field."""
    ends = []
    for end, before in ((line[0], line[1]), (line[-1], line[-2])):
        beyond = end + unit(end - before) * END_REACH
        met = shapely.intersection(shapely.LineString([end, beyond]), shapely.boundary(surface.tanked))
        inside = shapely.distance(surface.tanked, shapely.Point(beyond)) < EPS
        if met.is_empty or inside:
            ends.append(end)
            continue
        points = shapely.get_coordinates(met)
        ends.append(points[int(np.hypot(*(points - end).T).argmin())])
    return shapely.LineString(np.vstack([ends[0], line[1:-1], ends[1]]))


def _tanked_at(tanking: float, level: float) -> bool:
    """Whether a face is tanked at the foot that stands on a level: on a plinth, up to its top at least."""
    return tanking > TOUCH and tanking >= level - TOUCH


def _connected(faces: list[Face]) -> list[Floats]:
    """Faces of one run joined end to end; along walls from the left as seen from inside."""
    ordered = sorted(faces, key=lambda face: face.tag.s0)
    chains: list[list[Point]] = []
    backwards = ordered[0].tag.owner in ("wall", "reveal")
    for face in ordered:
        a, b = (face.b, face.a) if backwards else (face.a, face.b)
        if chains and math.dist(chains[-1][-1], a) < EPS:
            chains[-1].append(b)
        else:
            chains.append([a, b])
    if len(chains) > 1 and math.dist(chains[-1][-1], chains[0][0]) < EPS:
        chains[0] = chains.pop()[:-1] + chains[0]
    return [_simple(np.array(chain)) for chain in (reversed(chains) if backwards else chains)]


def _simple(chain: Floats) -> Floats:
    """Without points on the straight line between their neighbours."""
    if len(chain) < 3:
        return chain
    before, here, after = chain[:-2], chain[1:-1], chain[2:]
    way = after - before
    off = np.abs(way[:, 0] * (here - before)[:, 1] - way[:, 1] * (here - before)[:, 0]) / np.maximum(np.hypot(way[:, 0], way[:, 1]), EPS)
    keep = np.concatenate([[True], off > EPS, [True]])
    result: Floats = chain[keep]
    return result


def reinforce(lining: Lining, joints: list[MovementJoint]) -> Tape:
    """All tape, corner pieces, collars and flanges of a room."""
    taper = _Taper(lining)
    taper.feet()
    taper.uprights()
    taper.bridges(joints)
    corners = taper.corner_pieces()
    collars, flanges = [], []
    for surface in lining.surfaces:
        if surface.tanked.is_empty:
            continue
        for each in surface.breaks:
            if each.kind in ("pipe", "fixing"):
                if surface.placing.line is not None and each.at[1] > surface.tanked.bounds[3] + TOUCH:
                    continue
                size = each.diameter or math.hypot(*(np.ptp(np.array(each.shape.exterior.coords), axis=0)))
                collars.append(Collar(each.name, surface.id, each.at, float(size)))
            elif each.flange > 0.0:
                flanges.append(Flange(each.name, surface.id, float(each.shape.length), each.flange))
    runs = sorted(_parts_told(taper.runs), key=lambda run: (_ORDER.index(run.junction), run.kind, run.name))
    return Tape(tuple(runs), tuple(corners), tuple(collars), tuple(flanges), tuple(taper.findings))


def _parts_told(runs: list[TapeRun]) -> list[TapeRun]:
    """Runs that no other is called like: those along one junction that something parts are its parts, in the order of the junction."""
    every = Counter(run.name for run in runs)
    seen: Counter[str] = Counter()
    result = []
    for run in runs:
        seen[run.name] += 1
        parted = every[run.name] > 1
        result.append(
            replace(run, name=worded("{name}, part {seen} of {every}", name=run.name, seen=seen[run.name], every=every[run.name]))
            if parted
            else run
        )
    return result


_ORDER: tuple[Junction, ...] = ("internal", "external", "bridge")
