"""Every figure that a set-out tells, found again from the pieces as laid, by a way that shares no code with the first.

Each `Residual` names what was told, what was counted, and how far they may stand apart (rounding, the tool's stated
tolerances). What lies over that is a breach: a fault of the tool, told as the finding `audit` before a file is written.

Guarantees: whatever `Audit.residuals` names was recounted for this very set-out. Not: what `Audit.unjudged` names, and
whether a better start exists. Geometry here is numpy and shapely alone.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.affinity

from layout.errors import Finding
from layout.setout.conduct import set_out
from layout.setout.ledger import Ledger, Residual
from layout.setout.recount import recount
from layout.setout.recount_corners import corner_ledger
from layout.setout.recount_tiles import recount_tiles
from layout.setout.told import in_order
from layout.standards.rules import WEAK_EDGE, WEAK_NECK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.setout.values import RoomSetOut, SetOut

AT_DRAIN = 20.0
"""A loop may stop this far from a drain's frame, on its flange, mm."""
MEND_PLAY = 0.6
"""A mend is told to a tenth of a millimetre and its cut to a whole one, mm."""
COVE_END = 60.0
"""The joint over a cove may end this far from its face's ends, both together, mm."""


@dataclass(frozen=True, slots=True)
class Audit:
    """All residuals of a set-out, and what could not be judged, each with its reason."""

    residuals: tuple[Residual, ...]
    unjudged: tuple[str, ...]

    @property
    def breaches(self) -> tuple[Residual, ...]:
        """Residuals over what is allowed."""
        return tuple(each for each in self.residuals if each.breach)

    def findings(self, room: str) -> tuple[Finding, ...]:
        """Breaches of one room as findings."""
        return tuple(Finding(code="audit", text=r.words(), surface=r.surface, at=r.at) for r in self.breaches if r.room == room)


def audit(setout: SetOut) -> Audit:
    """Find every told figure of a set-out again: areas, overlaps, spacing, counts, saw sizes, narrowest strip and piece, metres.

    Returns
    -------
    Residuals in the order of rooms and surfaces; `Audit.breaches` is empty for a sound set-out.
    """
    found: list[Residual] = []
    unjudged: list[str] = []
    told = _pieces_by_surface(setout)
    for r, room in enumerate(setout.rooms):
        ledgers = [recount_tiles(setout, room, s, told.get((r, s), [])) for s in range(len(room.surfaces))]
        for ledger in (*ledgers, _metres(room), corner_ledger(room)):
            found += ledger.found
            unjudged += [f"{room.name}: {text}" for text in ledger.unjudged]
    for ledger in _mends(setout):
        found += ledger.found
    ledger = Ledger("")
    by_mark = Counter(setout.marks.values())
    for cut in setout.cuts:
        ledger.add(f"count of {cut.mark}", cut.count, by_mark.pop(cut.mark, 0), 0.0, unit="pieces")
    ledger.add("pieces under a mark of no list", math.fsum(by_mark.values()), 0.0, 0.0, unit="pieces")
    found += ledger.found
    return Audit(tuple(found), tuple(unjudged))


def audited(setout: SetOut) -> SetOut:
    """The set-out with a finding for each breach; itself where there is none."""
    made = audit(setout)
    if not made.breaches:
        return setout
    rooms = [replace(room, findings=in_order((*room.findings, *made.findings(room.name)))) for room in setout.rooms]
    loose = made.findings("")
    if loose:
        rooms[0] = replace(rooms[0], findings=in_order((*rooms[0].findings, *loose)))
    return replace(setout, rooms=tuple(rooms))


def _pieces_by_surface(setout: SetOut) -> dict[tuple[int, int], list[tuple[int, int, str]]]:
    result: dict[tuple[int, int], list[tuple[int, int, str]]] = {}
    for key, mark in setout.marks.items():
        result.setdefault((key.room, key.surface), []).append((key.bay, key.piece, mark))
    return result


def _mends(setout: SetOut) -> list[Ledger]:
    """Every mend that is offered for a floor is taken, as a person would type it, and must hold."""
    offers = {r: room.floor.mend for r, room in enumerate(setout.rooms) if room.floor.mend is not None}
    if not offers:
        return []
    plan = setout.plan
    tiles, rooms = dict(plan.tiles), list(plan.rooms)
    for r, mend in offers.items():
        tile, name = plan.tile(rooms[r].floor_tile), f"mend of room {r + 1}"
        tiles[name] = replace(tile, name=name, start=(round(mend.to[0], 1), round(mend.to[1], 1)), start_line=None)
        rooms[r] = replace(rooms[r], floor_tile=name)
    taken = set_out(replace(plan, tiles=tiles, rooms=tuple(rooms)))
    result = []
    for r, mend in offers.items():
        floor = taken.rooms[r].floor
        ledger = Ledger(setout.rooms[r].name, floor.surface.id)
        ledger.at_most("weak pieces once the mend is taken", _weak(floor.field.pieces()), mend.left, 0.0, unit="pieces")
        ledger.at_most("narrowest cut of the mend", mend.worst, floor.start.worst, MEND_PLAY)
        result.append(ledger)
    return result


def _weak(pieces: NDArray[np.object_]) -> int:
    """Pieces that fall apart or vanish when eaten into by half a neck, or whose hole is near their edge."""
    eaten = shapely.buffer(pieces, -WEAK_NECK.value / 2, join_style="mitre")
    apart = np.array([shape.is_empty or shape.geom_type != "Polygon" for shape in eaten], dtype=bool)
    near = [any(hole.distance(piece.exterior) < WEAK_EDGE.value for hole in piece.interiors) for piece in pieces]
    return int((apart | np.array(near, dtype=bool)).sum())


def _metres(room: RoomSetOut) -> Ledger:
    """Metres of tape and sealant against the slices of the room; every length against its own line."""
    ledger = Ledger(room.name)
    counted = recount(room.lining)
    ledger.unjudged += counted.unjudged
    for run in room.tape.runs:
        line = float(np.sqrt((np.diff(run.line, axis=0) ** 2).sum(axis=1)).sum())
        if abs(line - run.length) > 0.01:
            ledger.add(f"tape {run.name}", run.length, line, 0.01)
    heights = [0.0, *(solid.height for solid in room.lining.outline.plinths)]
    level: dict[str, float] = {}
    upright = 0.0
    for run in (run for run in room.tape.runs if run.junction != "bridge"):
        flat = float(np.hypot(*np.diff(run.line[:, :2], axis=0).T).sum())
        if flat > 0.1:
            level[run.kind] = level.get(run.kind, 0.0) + flat
        else:
            low, high = float(run.line[:, 2].min()), float(run.line[:, 2].max())
            upright += high - (low if any(abs(low - h) < 0.01 for h in heights) else 0.0)
    for door in room.shared:  # measured with an earlier room
        level["threshold"] = level.get("threshold", 0.0) + door.tape
    _tape(ledger, room, level, upright)
    _bridges(ledger, room)
    joints: Counter[str] = Counter()
    joints["floor"] += math.fsum(door.joint for door in room.shared)  # type: ignore[assignment]
    for joint in room.joints:
        if joint.kind in ("perimeter", "threshold", "plinth", "column"):
            flat = joint.surface.kind in ("floor", "plinth-top")
            joints[joint.surface.kind if flat else "cove"] += joint.length  # type: ignore[assignment]
        elif joint.kind == "corner":
            joints["corner"] += joint.length  # type: ignore[assignment]
    if counted.cove_tops > 0.0:  # each end may stand back behind a neighbour's tile and joint, or run on over an arris
        ledger.add("sealant over coves", joints["cove"], counted.cove_tops, COVE_END * counted.cove_edges)
    if not counted.unjudged:
        ledger.add("sealant at the floor's edge", joints["floor"], counted.foot_joints, 1.0 + 1e-4 * counted.foot_joints)
        ledger.add("sealant on plinths", joints["plinth-top"], counted.plinth_joints, 1.0 + 1e-4 * counted.plinth_joints)
    ledger.add("sealant in upright corners", joints["corner"], counted.corner_joints, 1.0)
    return ledger


def _tape(ledger: Ledger, room: RoomSetOut, level: dict[str, float], upright: float) -> None:
    """Tape lies on the membrane's lining, which runs on under plinths that stand on it."""
    counted = recount(room.membrane.lining)
    for kind in sorted({*level, *counted.level_tape}):
        own = counted.level_tape.get(kind, 0.0)
        ledger.add(f"tape {kind}", level.get(kind, 0.0), own, 0.5 + 1e-4 * own)
    ledger.add("upright tape", upright, counted.upright_tape, 0.5)


def _bridges(ledger: Ledger, room: RoomSetOut) -> None:
    """Loops over structural joints: each joint's line drawn right through the floor."""
    lining = room.membrane.lining
    outline = lining.outline
    solid = shapely.union_all([shapely.Polygon(ring.points) for ring in (*outline.column_rings, *outline.plinth_rings)])
    floor = shapely.difference(shapely.Polygon(outline.outer.points), solid)
    told = math.fsum(float(np.hypot(*np.diff(run.line[:, :2], axis=0).T).sum()) for run in room.tape.runs if run.junction == "bridge")
    counted = through = 0.0
    frames = [shapely.affinity.rotate(_box(drain.at, drain.frame), drain.turn) for drain in lining.room.drains]
    for joint in lining.room.structural_joints:
        (x0, y0), (x1, y1) = joint.line
        far = 1e6 / math.hypot(x1 - x0, y1 - y0)
        line = shapely.LineString([(x0 - (x1 - x0) * far, y0 - (y1 - y0) * far), (x1 + (x1 - x0) * far, y1 + (y1 - y0) * far)])
        if line.distance(solid) < joint.width:
            ledger.unjudged.append(f"loop over {joint.name or 'a structural joint'}: it meets a plinth or a column")
            return
        if joint.of != "finish":
            crossed = [frame for frame in frames if frame.intersects(line)]
            counted += float(shapely.intersection(line, shapely.difference(floor, shapely.union_all(crossed))).length)
            through += len(crossed)
    ledger.add("tape over structural joints", told, counted, 1.0 + 2.0 * AT_DRAIN * through)


def _box(at: Point, size: tuple[float, float]) -> shapely.Polygon:
    return shapely.box(at[0] - size[0] / 2, at[1] - size[1] / 2, at[0] + size[0] / 2, at[1] + size[1] / 2)
