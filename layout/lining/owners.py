"""What stands behind a face of the shell: wall, reveal, plinth or column, with its build-up, heights and rank."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.identity import EdgeId

if TYPE_CHECKING:
    from layout.lining.surfaces import JointKind
    from layout.plan.values import Tile
    from layout.room.outlines import Outline
    from layout.room.shell import Face


@dataclass(frozen=True, slots=True)
class Owner:
    """What stands behind a face: for the distances that neighbours keep from it."""

    label: str
    wall: int
    tile: Tile | None
    tanked: bool
    build_up: float
    top: float
    tanking: float
    rank: tuple[int, int, int]
    kind: JointKind


def owner_of(outline: Outline, face: Face) -> Owner:
    """Build-up, heights and rank of the wall, reveal, plinth or column that a face belongs to."""
    tag = face.tag
    if tag.owner in ("wall", "threshold", "reveal"):
        index = tag.number
        if tag.owner != "wall":
            index = outline.openings[tag.number].wall
        wall = outline.walls[index]
        kind: JointKind = "threshold" if tag.owner == "threshold" else "perimeter"
        label = wall.label if tag.owner != "reveal" else outline.openings[tag.number].opening.name
        rank = (0 if tag.owner == "wall" else 3, wall.run.number, tag.run if tag.owner == "reveal" else 0)
        number = 0 if tag.owner == "reveal" else wall.run.number
        return Owner(label, number, wall.tile, wall.tanked, wall.build_up, wall.tile_height, wall.tanking_height, rank, kind)
    solid = (outline.plinths if tag.owner == "plinth" else outline.columns)[tag.number]
    top = solid.height if tag.owner == "plinth" else solid.tile_height
    tanking = solid.height if tag.owner == "plinth" else solid.tanking_height
    rank = (2 if tag.owner == "plinth" else 1, tag.number, solid.runs[tag.run].number)
    stands: JointKind = "threshold" if solid.door is not None else "plinth" if tag.owner == "plinth" else "column"
    number = 0 if solid.door is None else outline.walls[outline.openings[solid.door].wall].run.number
    return Owner(solid.solid.name, number, solid.tile, solid.tanked, solid.build_up, top, tanking, rank, stands)


def edge_id(outline: Outline, face: Face) -> EdgeId:
    """What an edge at the foot of a face is known by; where a door passes, it is the threshold of the door's wall, whatever stands in it."""
    owner = owner_of(outline, face)
    if owner.kind == "threshold":
        return EdgeId("threshold", owner.wall)
    return EdgeId(face.tag.owner, owner.wall if face.tag.owner == "wall" else face.tag.number + 1)


def on_arc(outline: Outline, face: Face) -> bool:
    """Whether the wall or side that a face belongs to is an arc; a bent one is not: it is straight edge by edge."""
    tag = face.tag
    if tag.owner in ("plinth", "column"):
        return (outline.plinths if tag.owner == "plinth" else outline.columns)[tag.number].runs[tag.run].arc
    index = tag.number if tag.owner == "wall" else outline.openings[tag.number].wall
    return outline.walls[index].run.arc
