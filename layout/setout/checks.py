"""Findings about a set-out: what breaks a rule or wants a second look. Codes are stable.

Everything here reads; nothing is moved.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.errors import Finding
from layout.plan.patterns import bond_of
from layout.standards.rules import (
    BOND_OFFSET,
    BOND_SIDE,
    CRUMBS,
    FLANGE_TO_JOINT,
    GAP_LEAST,
    JOINT_LEAST,
    JOINT_PER_SCATTER,
    RESIN_JOINT_DEPTH,
    RESIN_JOINT_LEAST,
    WEAK_EDGE,
    WEAK_NECK,
)
from layout.tiles.weakness import weakness
from layout.units import TOUCH
from layout.vectors import pair
from layout.words import listed, worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.joints.lines import MovementJoint
    from layout.joints.schedule import JointType
    from layout.joints.values import Parting
    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.plan.values import Tile
    from layout.start.faces import Faces
    from layout.start.measured import Bite
    from layout.tiles.lay import TileField

    Floats = NDArray[np.float64]

GAP_PLAY, GAP_SHORT = 5.0, 20.0
"""Faces within so much of their least distance stand face to face; two that do so for less stand corner to corner, mm."""


def cut_findings(
    surface: Surface, tile: Tile, smallest: float, worst: float, at: str, place: tuple[float, float] | None, mend: str | None = None
) -> list[Finding]:
    """The narrowest cut against the tile's least cut, as drawn and over the play; `mend` is a better start, in words."""
    result = []
    if smallest < tile.least_cut - TOUCH:
        text = worded(
            "{name}: the narrowest cut is {smallest:.0f} mm{at}, under the least of {least_cut:.0f}",
            name=surface.name,
            smallest=smallest,
            at=at,
            least_cut=tile.least_cut,
        )
        if tile.start is not None or tile.start_line is not None:
            more = worded("; the plan fixes the start, setout --compare starts shows the best free one")
            text = listed((text, worded("; the plan fixes the start: {mend}", mend=mend) if mend else more), "")
        result.append(Finding(code="cut-below-least", text=text, surface=surface.id, at=place))
    if worst < min(tile.least_cut, smallest) / 2 and worst < 30.0:
        text = worded(
            "{name}: as drawn the narrowest cut is {smallest:.0f} mm, but if walls stand off within tolerance it may fall to {worst:.0f}",
            name=surface.name,
            smallest=smallest,
            worst=worst,
        )
        result.append(Finding(code="cut-may-vanish", text=text, surface=surface.id, at=place))
    return result


def bite_findings(faces: Faces, bites: Sequence[Bite]) -> list[Finding]:
    """What edges take off tiles that is too little for a saw, thing by thing, and whether the joint there can take it up."""
    least = faces.rules.edge_joint_range[0]
    surface, words, first = faces.surface, [], None
    for known in dict.fromkeys(faces.known[bite.edge] for bite in bites):
        own = [bite for bite in bites if faces.known[bite.edge] == known]
        deepest = max(own, key=lambda bite: round(bite.deepest, 3))
        count, joint = sum(bite.tiles for bite in own), float(faces.joints[deepest.edge])
        left = joint - deepest.deepest
        up = worded(", and its joint of {joint:g} may be {left:.1f} instead", joint=joint, left=left) if left >= least - TOUCH else ""
        told = {"label": known.name, "deepest": deepest.deepest, "count": count, "up": up}
        one, several = (
            worded("{label} takes {deepest:.1f} mm off {count} tile{up}", **told),
            worded("{label} takes {deepest:.1f} mm off {count} tiles{up}", **told),
        )
        words.append(one if count == 1 else several)
        first = first or deepest.at
    if not words:
        return []
    text = worded(
        "{name}: {words}; no saw cuts so little: let the joint take it up where it can, else grind it off",
        name=surface.name,
        words=listed(words, "; "),
    )
    return [Finding(code="small-bite", text=text, surface=surface.id, at=first)]


def crumb_findings(surface: Surface, field: TileField) -> list[Finding]:
    """Along the hips and valleys of a floor that falls: pieces nowhere wider than a neck may be, where they are more than a few of those cut there."""
    if surface.saw_lines is None or not len(field.cut):
        return []
    pieces = field.pieces()
    beside = pieces[shapely.dwithin(pieces, surface.saw_lines, TOUCH)]
    crumbs = beside[weakness(beside)[0] == 0]
    if len(crumbs) <= CRUMBS.value * len(beside):
        return []
    text = worded(
        "{name}: {count} of the {all} pieces along hips and valleys are nowhere wider than {neck:g}, {part:.0f} % where {most:.0f} % are usual ({source})",
        name=surface.name,
        count=len(crumbs),
        all=len(beside),
        neck=WEAK_NECK.value,
        part=100.0 * len(crumbs) / len(beside),
        most=100.0 * CRUMBS.value,
        source=CRUMBS.source,
    )
    return [Finding(code="crumbs-at-hips", text=text, surface=surface.id, at=pair(np.asarray(crumbs[0].centroid.coords[0])))]


def joint_findings(lining: Lining, joints: Sequence[MovementJoint]) -> list[Finding]:
    """Joints on the floor too near to a drain's flange, or through the drain."""
    result = []
    for each in lining.floor.breaks:
        if each.kind not in ("gully", "channel"):
            continue
        flange = shapely.buffer(each.shape, each.flange, join_style="mitre")
        # a structural joint as laid stops at the frame, so its own line is asked
        given = [joint.line for joint in lining.outline.room.structural_joints]
        if any(shapely.LineString(line).intersects(each.shape) for line in given):
            text = worded("the structural joint runs through {name}; move the drain or the joint", name=each.name)
            result.append(Finding(code="joint-through-drain", text=text, at=each.at))
        near = []
        for joint in joints:
            if joint.kind not in ("intermediate", "structural") or joint.surface.kind != "floor":
                continue
            line = shapely.LineString(joint.line)
            if joint.kind == "intermediate" and line.intersects(each.shape):
                text = worded("the {kind} joint runs through {name}; move the drain or the joint", kind=joint.kind, name=each.name)
                result.append(Finding(code="joint-through-drain", text=text, at=each.at))
            elif (apart := float(line.distance(flange))) < FLANGE_TO_JOINT.value - TOUCH:
                near.append(apart)
        if near:
            text = worded(
                "{how_near} the flange of {name}; {flange_to_joint:.0f} wanted ({source})",
                how_near=_how_near(near),
                name=each.name,
                flange_to_joint=FLANGE_TO_JOINT.value,
                source=FLANGE_TO_JOINT.source,
            )
            result.append(Finding(code="joint-near-flange", text=text, at=each.at))
    return result


def _how_near(near: Sequence[float]) -> str:
    """Joints at a flange in words: they meet it, or how near the nearest comes, mm."""
    met = sum(apart < 0.5 for apart in near)
    count = "1 movement joint" if len(near) == 1 else f"{len(near)} movement joints"
    if met == len(near):
        return f"{count} meet{'s' if met == 1 else ''}"
    if met:
        return f"{count} come near, {met} of them up to,"
    return worded("{count} {near} to within {near_2:.0f} mm of", count=count, near="runs" if len(near) == 1 else "run", near_2=min(near))


def width_findings(types: Sequence[JointType]) -> list[Finding]:
    """Joints narrower than the movement worked out for them."""
    result = []
    for each in types:
        if not each.design.enough and each.design.stock is not None:
            text = worded(
                "the {kind} joint of {width:g} is narrow: {formula}; take {stock:g} ({source})",
                kind=each.kind,
                width=each.width,
                formula=each.design.formula,
                stock=each.design.stock,
                source=each.design.source,
            )
            result.append(Finding(code="joint-too-narrow", text=text))
    return result


def face_findings(surface: Surface, whole: int, lost: float, unlaid: float = 0.0) -> list[Finding]:
    """Surfaces on which no whole tile fits, strips that were dropped, and gaps that lie within a joint between tiles, mm²."""
    result = []
    if whole == 0 and surface.tile is not None:
        text = worded("{name}: no whole tile fits", name=surface.name)
        result.append(Finding(code="tile-larger-than-face", text=text, surface=surface.id))
    if lost > 1.0:
        text = worded(
            "{name}: strips nowhere wider than {touch} mm were left out, {lost:.0f} mm² in all", name=surface.name, touch=TOUCH, lost=lost
        )
        result.append(Finding(code="strip-dropped", text=text, surface=surface.id))
    if unlaid > 1.0:
        text = worded(
            "{name}: {unlaid:.0f} mm² in a gap no wider than a joint take no tile; the joints beside fill it",
            name=surface.name,
            unlaid=unlaid,
        )
        result.append(Finding(code="strip-dropped", text=text, surface=surface.id))
    return result


def gap_findings(lining: Lining) -> list[Finding]:
    """Gaps between a column or plinth and a wall or another, too narrow to tape and tile; measured between the bare faces.

    Where they touch they are one; a kerb across a door stands in its reveal.
    """
    outline = lining.outline
    solids = [
        (each.solid.name, shapely.Polygon(np.concatenate([run.points[:-1] for run in each.runs])))
        for each in (*outline.plinths, *outline.columns)
        if each.door is None
    ]
    walls = [(wall.name or wall.label, shapely.LineString(wall.run.points)) for wall in outline.walls]
    result = []
    for k, (name, shape) in enumerate(solids):
        for other, face in (*walls, *((label, each.exterior) for label, each in solids[k + 1 :])):
            gap = float(shape.distance(face))
            beside = float(shapely.intersection(face, shapely.buffer(shape, gap + GAP_PLAY)).length)
            if TOUCH < gap < GAP_LEAST.value - TOUCH and beside > GAP_SHORT:
                text = worded(
                    "{name} stands {gap:.0f} from {other}: too narrow to tape and tile, {gap_least:.0f} wanted ({source}); "
                    "fill the gap or box both in",
                    name=name,
                    gap=gap,
                    other=other,
                    gap_least=GAP_LEAST.value,
                    source=GAP_LEAST.source,
                )
                middle = shapely.get_coordinates(shapely.shortest_line(shape, face)).mean(axis=0)
                result.append(Finding(code="gap-narrow", text=text, at=pair(middle)))
    return result


def edge_joint_findings(surface: Surface, cuts: Sequence[Parting]) -> list[Finding]:
    """Movement joints that lie along an edge of the surface for a stretch: there they are that edge's joint, and widen it."""
    dropped = math.fsum(cut.dropped for cut in cuts)
    if dropped <= 1.0:
        return []
    most = max(cut.width for cut in cuts if cut.dropped)
    text = worded(
        "{name}: a movement joint lies along an edge; there it is the edge's joint, up to {most:g} wider, {dropped:.0f} mm² in all",
        name=surface.name,
        most=most,
        dropped=dropped,
    )
    return [Finding(code="joint-along-edge", text=text, surface=surface.id)]


def calibre_findings(surface: Surface, tile: Tile) -> list[Finding]:
    """The tile against its joint: scatter, bond, and whether resin grout can fill it."""
    result = []

    def add(code: str, text: str) -> None:
        result.append(Finding(code=code, text=listed((surface.name, text), ": "), surface=surface.id))

    if tile.scatter is not None:
        wanted = max(JOINT_PER_SCATTER.value * tile.scatter, JOINT_LEAST.value)
        if tile.joint < wanted - 1e-9:
            add(
                "joint-under-scatter",
                worded(
                    "tiles differ by {scatter:g}, so the joint wants {wanted:.1f}, not {joint:g} ({source})",
                    scatter=tile.scatter,
                    wanted=wanted,
                    joint=tile.joint,
                    source=JOINT_PER_SCATTER.source,
                ),
            )
    side, part = max(tile.size), bond_of(tile)
    if side > BOND_SIDE.value and part > BOND_OFFSET.value + 1e-3:
        add(
            "bond-offset",
            worded(
                "a side of {side:g} is laid with an offset of {part:.0%}; at most a third ({source})",
                side=side,
                part=part,
                source=BOND_OFFSET.source,
            ),
        )
    if tile.joint < RESIN_JOINT_LEAST.value or tile.thickness >= RESIN_JOINT_DEPTH.value * tile.joint:
        rule = RESIN_JOINT_LEAST if tile.joint < RESIN_JOINT_LEAST.value else RESIN_JOINT_DEPTH
        add(
            "joint-narrow",
            worded(
                "a joint of {joint:g} in a tile {thickness:g} thick is narrow for resin grout ({source})",
                joint=tile.joint,
                thickness=tile.thickness,
                source=rule.source,
            ),
        )
    return result


def weak_findings(surface: Surface, marks: Sequence[str], pieces: NDArray[np.object_], mend: str | None = None) -> list[Finding]:
    """Weak cut tiles, once a mark, strips in one; `mend` is a start that leaves none, in words.

    A neck is where the piece, eaten in by half the limit, falls into parts; of a strip nothing is left.
    """
    result = []
    strips: list[tuple[str, Point]] = []
    seen: set[str] = set()
    shift = worded("; the start {mend}", mend=mend) if mend else worded("; no shift of the start that keeps the cuts helps much")
    for mark, piece, parts, near in zip(marks, pieces, *weakness(pieces), strict=True):
        if mark in seen or (parts == 1 and near >= WEAK_EDGE.value):
            continue
        seen.add(mark)
        at = (float(piece.centroid.x), float(piece.centroid.y))
        if parts == 0:
            strips.append((mark, at))
            continue
        if parts > 1:
            what = worded("has a neck narrower than {weak_neck:.0f}", weak_neck=WEAK_NECK.value)
        else:
            what = worded("has a hole {near:.0f} from its edge, {weak_edge:.0f} wanted", near=near, weak_edge=WEAK_EDGE.value)
        text = worded(
            "{name}: {mark} {what}; split it there, as two pieces with a joint{shift}", name=surface.name, mark=mark, what=what, shift=shift
        )
        result.append(Finding(code="weak-piece", text=text, surface=surface.id, at=at))
    if strips:
        strips.sort(key=lambda item: (len(item[0]), item[0]))
        names, what = ", ".join(mark for mark, _ in strips), worded("nowhere wider than {weak_neck:.0f}", weak_neck=WEAK_NECK.value)
        text = worded("{name}: {what}: {names}; move what they are cut to{shift}", name=surface.name, what=what, names=names, shift=shift)
        result.append(Finding(code="weak-piece", text=text, surface=surface.id, at=strips[0][1]))
    return result
