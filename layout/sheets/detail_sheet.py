"""Details, drawn from the plan's own build-up, joints, tape and drains: what lies on what, how thick, at a standard scale."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon, box

from layout.room.outlines import build_up_of
from layout.sheets.clashes import untangled
from layout.sheets.draft import Draft, Job
from layout.sheets.lettering import wrapped
from layout.sheets.paper import BLOCK_HEIGHT, SIZES, drawing_space
from layout.sheets.scene import Fill, Label, Primitive, Stroke, bubble_ring
from layout.standards.sealants import backer_rod, sealant_depth
from layout.words import say, worded

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from layout.plan.values import Plan, Tile
    from layout.setout.values import RoomSetOut

    Floats = NDArray[np.float64]

KINDS = {
    "wall-through": worded("wall-through"), "floor-through": worded("floor-through"), "cove": worded("cove"),
    "gully": worded("Gully"), "channel": worded("Channel"), "upstand": worded("upstand"), "step": worded("step"),
}  # fmt: skip
"""Kinds of feet of walls, of drains and of thresholds by their keys in a plan."""
HEADING = worded("Details: figures in mm; products' data sheets go before them")
CELL, MOST = (120.0, 100.0), (3, 2)  # least size, paper mm; most beside and over each other
NOTES = 44.0
"""Width kept for the names of layers in a detail's cell, paper mm."""
SUBSTRATE = 38.0
"""How much of the substrate is shown, mm."""


@dataclass(slots=True)
class _Cell:
    """One detail: draws in real mm about its own origin, names layers beside it."""

    x: float
    y: float
    width: float
    height: float
    scale: float
    origin: tuple[float, float]
    scene: list[Primitive] = field(default_factory=list)
    notes: list[tuple[str, float, float]] = field(default_factory=list)

    def at(self, points: Floats | list[tuple[float, float]]) -> Floats:
        """Real mm to paper mm, (n, 2)."""
        result: Floats = np.asarray(points, dtype=float) / self.scale + np.array(self.origin)
        return result

    def area(self, points: list[tuple[float, float]], layer: str, tone: float) -> None:
        """A filled and outlined part."""
        ring = self.at(points)
        self.scene += [Fill(Polygon(ring), layer, tone), Stroke(ring, layer, closed=True)]

    def block(self, x0: float, y0: float, x1: float, y1: float, layer: str, tone: float) -> None:
        """A rectangle."""
        self.area([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], layer, tone)

    def line(self, points: list[tuple[float, float]], layer: str) -> None:
        """A line."""
        self.scene.append(Stroke(self.at(points), layer))

    def round(self, x: float, y: float, diameter: float, layer: str, tone: float) -> None:
        """A circle."""
        ring = bubble_ring((0.0, 0.0), diameter / 2) + np.array([x, y])
        paper = self.at(ring)
        self.scene += [Fill(Polygon(paper), layer, tone), Stroke(paper, layer, closed=True)]

    def note(self, text: str, x: float, y: float) -> None:
        """Name a layer at a point of it."""
        self.notes.append((text, x, y))

    def finish(self, title: str) -> list[Primitive]:
        """Title, and the names in a column on the right with their leaders, which do not cross."""
        result: list[Primitive] = [
            Label(title, (self.x, self.y + self.height - 4.2), 3.5, "TEXT", bold=True),
            Label(f"1:{self.scale:g}", (self.x + self.width - 4.0, self.y + self.height - 4.2), 3.5, "TEXT", "right"),
            *self.scene,
        ]
        column = self.x + self.width - NOTES
        lines = [(wrapped(text, 2.5, NOTES - 3.0), self.at([(px, py)])[0]) for text, px, py in self.notes]
        tall = [len(words) * 3.8 + 1.6 for words, _ in lines]
        y = min(self.y + self.height - 10.0, self.y + (self.height - 6.0 + math.fsum(tall)) / 2)
        for words, foot in (lines[k] for k in untangled(np.array([foot for _, foot in lines]), tall, column - 2.0, y - 1.25)):
            middle = y - 1.25
            result.append(Stroke(np.array([foot, [column - 2.0, middle], [column - 0.5, middle]]), "DIMENSION"))
            result.append(Fill(Polygon(bubble_ring((float(foot[0]), float(foot[1])), 0.5, 12)), "DIMENSION", 1.0))
            for k, word in enumerate(words):
                result.append(Label(word, (column, y - 3.8 * k), 2.5, "TEXT", "left", "top"))
            y -= len(words) * 3.8 + 1.6
        return result


class _Details:
    """The details of one room, from its plan."""

    def __init__(self, room: RoomSetOut) -> None:
        self.room = room
        self.plan: Plan = room.lining.plan
        self.rules = self.plan.rules
        self.floor: Tile = room.floor.tile
        wall = next((w.tile for w in room.lining.outline.walls if w.tile), None)
        self.wall: Tile | None = wall
        self.m = self.rules.membrane
        self.tape = self.plan.products.tape_width.value
        self.top = build_up_of(self.floor, True, self.rules)

    def wanted(self) -> list[tuple[str, Callable[[_Cell], None], float, tuple[float, float]]]:
        """Details that the room has: title, drawer, scale, how far left and down the drawing reaches in real mm."""
        outline, room = self.room.lining.outline, self.room.lining.room
        kinds = {joint.kind for joint in self.room.joints}
        result: list[tuple[str, Callable[[_Cell], None], float, tuple[float, float]]] = [
            (say("Wall and floor, {foot}", foot=KINDS[self.rules.foot]), self.foot, 2.0, (SUBSTRATE, SUBSTRATE))
        ]
        if room.plinths:
            result.append((say("Plinth, foot and arris"), self.plinth, 5.0, (150.0, 60.0)))
        if any(b.kind == "pipe" for b in self.room.lining.floor.breaks):
            result.append((say("Pipe with its collar"), self.pipe, 5.0, (150.0, 60.0)))
        if room.drains:
            result.append((say("{drain}, flange lapped", drain=KINDS[room.drains[0].kind]), self.drain, 5.0, (90.0, 110.0)))
        if "intermediate" in kinds:
            result.append((say("Movement joint in the field"), self.movement, 2.0, (62.0, SUBSTRATE)))
        if any(joint.kind == "structural" for joint in self.room.joints):
            result.append((say("Joint of the structure, bridged"), self.structural, 2.0, (62.0, SUBSTRATE + 12)))
        if any(o.door for o in outline.openings):
            result.append((say("Threshold"), self.threshold, 2.0, (50.0, SUBSTRATE)))
        return result

    def _floor_layers(self, cell: _Cell, x0: float, x1: float, *, name: bool = True) -> None:
        """Screed, membrane, bed and tile from x0 to x1."""
        m, bed, tile = self.m, self.floor.bed, self.floor.thickness
        cell.block(x0, m, x1, m + bed, "TONE", 0.25)
        cell.block(x0, m + bed, x1, m + bed + tile, "TILE-CUT", 0.14)
        if name:
            cell.note(say("floor tile {tile:g}", tile=tile), x1 - 8.0, m + bed + tile / 2)
            cell.note(say("resin bed {bed:g}", bed=bed), x1 - 14.0, m + bed / 2)

    def _membrane(self, cell: _Cell, points: list[tuple[float, float]], named: tuple[float, float]) -> None:
        cell.area(points, "COLLAR", 0.35)
        cell.note(say("membrane {m:g}, two coats on primer", m=self.m), *named)

    def _seal(self, cell: _Cell, x: float, top: float, width: float) -> None:
        """A joint of the floor from above: sealant over a backer rod."""
        depth = sealant_depth(width)
        rod = backer_rod(width)
        room_for = top - self.m
        depth = min(depth, room_for)
        cell.block(x, top - depth, x + width, top, "SEALANT", 0.45)
        cell.note(say("sealant {width:g} × {depth:g}", width=width, depth=depth), x + width / 2, top - depth / 2)
        if room_for - depth > 0.5 * width:
            tall = min(rod, room_for - depth)
            ring = bubble_ring((0.0, 0.0), 0.5) * np.array([width, tall]) + np.array([x + width / 2, top - depth - tall / 2])
            cell.area([(float(a), float(b)) for a, b in ring], "SEALANT", 0.0)
            cell.note(say("backer rod {rod:g}", rod=rod), x + width / 2, top - depth - tall / 2)

    def foot(self, cell: _Cell) -> None:
        """The corner of wall and floor, by the plan's foot."""
        m, wall, joint = self.m, self.wall, self.rules.perimeter_joint
        reach, high = 100.0, 130.0
        cell.area([(-SUBSTRATE, -SUBSTRATE), (reach, -SUBSTRATE), (reach, 0), (0, 0), (0, high), (-SUBSTRATE, high)], "WALL", 0.18)
        cell.note(say("substrate, sound and dry"), -SUBSTRATE / 2, 60.0)
        self._membrane(cell, [(0, 0), (reach, 0), (reach, m), (m, m), (m, high), (0, high)], (reach - 22.0, m / 2))
        leg = min(self.tape / 2, 100.0)
        cell.line([(leg, m / 2), (m / 2, m / 2), (m / 2, leg)], "TAPE-INTERNAL")
        cell.note(say("tape {tape:g}, between detail coats", tape=self.tape), m / 2, leg - 12.0)
        face = m
        if wall is not None:
            face = m + wall.bed + wall.thickness
        foot, top = self.rules.foot, self.top
        starts = {"wall-through": face + joint, "floor-through": m + self.rules.edge_gap, "cove": m + self.rules.cove[1] + joint}[foot]
        self._floor_layers(cell, starts, reach)
        bottom = {"wall-through": m, "floor-through": top + joint, "cove": top + self.rules.cove[0] + joint}[foot]
        if wall is not None and bottom < high - 5.0:
            cell.block(m, bottom, m + wall.bed, high, "TONE", 0.25)
            cell.block(m + wall.bed, bottom, face, high, "TILE-CUT", 0.14)
            cell.note(
                say("wall tile {thickness:g} on {bed:g} bed", thickness=wall.thickness, bed=wall.bed),
                face - wall.thickness / 2,
                high - 20.0,
            )
        if foot == "wall-through":
            self._seal(cell, face, top, joint)
        elif foot == "floor-through":
            cell.block(m, top, face if wall is not None else m + joint, top + joint, "SEALANT", 0.45)
            cell.note(
                say(
                    "sealant {joint:g} × {sealant_depth:g}; the floor tile's saw cut is {face:g} wider than is seen",
                    joint=joint,
                    sealant_depth=sealant_depth(joint),
                    face=face - m,
                ),
                face,
                top + joint / 2,
            )
        else:
            rise, run = self.rules.cove
            thick = self.floor.thickness
            arc = [
                (m + run - (run - thick) * math.sin(a), top + (run - thick) * (1 - math.cos(a))) for a in np.linspace(0.0, math.pi / 2, 10)
            ]
            cell.area([(m, m), (m + run, m), (m + run, top), *arc, (m + thick, top + rise), (m, top + rise)], "TILE-CUT", 0.14)
            cell.note(say("cove, rise {rise:g}, foot {run:g}", rise=rise, run=run), m + thick / 2, top + rise / 2)
            self._seal(cell, m + run, top, joint)
            if wall is not None:
                cell.block(m + wall.bed, top + rise, face, top + rise + joint, "SEALANT", 0.45)

    def plinth(self, cell: _Cell) -> None:
        """A plinth's foot and arris: on the slab the membrane goes up and over, else the plinth stands on it."""
        solid = self.room.lining.outline.plinths[0]
        tile = solid.tile or self.plan.tile("plinth")
        m, h, joint = self.m, min(solid.height, 220.0), self.rules.perimeter_joint
        left = -140.0
        cell.block(left, -60.0, 200.0, 0.0, "WALL", 0.18)
        on_slab = solid.solid.on == "slab"
        base = 0.0 if on_slab else m
        cell.block(left, base, 0.0, h, "WALL", 0.30)
        cell.note(say("plinth, {height:g} high", height=solid.height), left + 30.0, h / 2)
        if on_slab:
            self._membrane(cell, [(left, h), (left, h + m), (m, h + m), (m, m), (200, m), (200, 0), (0, 0), (0, h)], (160.0, m / 2))
            leg = self.tape / 2
            cell.line([(leg, m / 2), (m / 2, m / 2), (m / 2, min(leg, h))], "TAPE-INTERNAL")
            cell.note(say("tape {tape:g}, between detail coats", tape=self.tape), leg - 8.0, m / 2)
        else:
            self._membrane(cell, [(left, 0), (200, 0), (200, m), (left, m)], (160.0, m / 2))
        side = build_up_of(tile, on_slab, self.rules)
        cell.block(m if on_slab else 0.0, m, side - tile.thickness, h, "TONE", 0.25)
        cell.block(side - tile.thickness, m, side, h - tile.joint, "TILE-CUT", 0.14)
        cell.block(left, h + (m if on_slab else 0.0), side, h + side - tile.thickness, "TONE", 0.25)
        cell.block(left, h + side - tile.thickness, side, h + side, "TILE-CUT", 0.14)
        cell.note(
            say("tile {thickness:g} on {bed:g} bed; the top covers the edge", thickness=tile.thickness, bed=tile.bed),
            -60.0,
            h + side - tile.thickness / 2,
        )
        self._floor_layers(cell, side + joint, 200.0)
        self._seal(cell, side, self.top, joint)

    def pipe(self, cell: _Cell) -> None:
        """A pipe through the floor."""
        each = next(b for b in self.room.lining.floor.breaks if b.kind == "pipe")
        m, r, ring = self.m, each.diameter / 2, each.joint
        lap = each.reach(self.plan.products.collar_lap.value)
        for sign in (-1.0, 1.0):
            far = sign * 140.0
            cell.block(min(sign * r, far), -60.0, max(sign * r, far), 0.0, "WALL", 0.18)
            inner, outer = sign * r, sign * (r + lap)
            cell.area([(far, 0), (inner, 0), (inner, 35.0), (inner + sign * m, 35.0), (inner + sign * m, m), (far, m)], "COLLAR", 0.35)
            cell.line([(outer, m / 2), (inner + sign * m / 2, m / 2), (inner + sign * m / 2, 30.0)], "TAPE-INTERNAL")
            x0, x1 = sorted((sign * (r + ring), far))
            cell.block(x0, m, x1, m + self.floor.bed, "TONE", 0.25)
            cell.block(x0, m + self.floor.bed, x1, self.top, "TILE-CUT", 0.14)
            s0, s1 = sorted((sign * (r + m), sign * (r + ring)))
            if s1 - s0 > 0.5:
                cell.block(s0, max(self.top - 10.0, m), s1, self.top, "SEALANT", 0.45)
        cell.block(-r, -60.0, r, 110.0, "PIPE", 0.0)
        cell.note(f"{each.name}, {each.diameter:g}", r * 0.5, 80.0)
        cell.note(say("collar, lap {lap:g}, between detail coats, turned up the pipe", lap=lap), r + m / 2, 28.0)
        cell.note(say("sealant ring {ring:g}", ring=ring), r + ring - 1.0, self.top - 2.0)
        cell.note(
            say("floor tile {thickness:g}, bed {bed:g}", thickness=self.floor.thickness, bed=self.floor.bed),
            120.0,
            self.top - self.floor.thickness / 2,
        )
        cell.note(say("membrane {m:g}, two coats on primer", m=m), 110.0, m / 2)

    def drain(self, cell: _Cell) -> None:
        """One side of a drain's frame with its flange."""
        each = self.room.lining.room.drains[0]
        taken = next(b for b in self.room.lining.floor.breaks if b.name == each.name)
        m, flange = self.m, max(each.flange, 1.0)
        gap = taken.joint or self.floor.joint
        cell.block(0.0, -110.0, 170.0, 0.0, "WALL", 0.18)
        cell.area(
            [
                (-80, self.top),
                (0, self.top),
                (0, 0),
                (flange, 0),
                (flange, -4),
                (-6, -4),
                (-6, -90),
                (-12, -90),
                (-12, self.top - 6),
                (-80, self.top - 6),
            ],
            "DRAIN",
            0.2,
        )
        cell.note(say("frame of {name}, level with the tile", name=each.name), -40.0, self.top - 3.0)
        cell.note(say("flange {flange:g}", flange=flange), flange / 2, -2.0)
        self._membrane(cell, [(1, 0), (170, 0), (170, m), (1, m)], (130.0, m / 2))
        cell.line([(2.0, m / 2), (min(flange + 50.0, 160.0), m / 2)], "TAPE-INTERNAL")
        cell.note(say("fleece or tape over the flange, between detail coats"), flange + 20.0, m / 2)
        self._floor_layers(cell, gap, 170.0, name=False)
        cell.note(
            say("floor tile {thickness:g}, bed {bed:g}", thickness=self.floor.thickness, bed=self.floor.bed),
            150.0,
            self.top - self.floor.thickness / 2,
        )
        if taken.joint:
            self._seal(cell, 0.0, self.top, gap)
        else:
            cell.block(0.0, m, gap, self.top, "TONE", 0.5)
            cell.note(say("joint {gap:g}, resin grout", gap=gap), gap / 2, self.top - 3.0)

    def movement(self, cell: _Cell) -> None:
        """A movement joint in the field."""
        width = next(j.width for j in self.room.joints if j.kind == "intermediate")
        cell.block(-60.0, -SUBSTRATE, 60.0, 0.0, "WALL", 0.18)
        self._membrane(cell, [(-60, 0), (60, 0), (60, self.m), (-60, self.m)], (48.0, self.m / 2))
        self._floor_layers(cell, -60.0, -width / 2, name=False)
        self._floor_layers(cell, width / 2, 60.0)
        self._seal(cell, -width / 2, self.top, width)

    def structural(self, cell: _Cell) -> None:
        """A joint of the structure, carried through and bridged with a loop."""
        joint = next(j for j in self.room.joints if j.kind == "structural")
        width, half = joint.width, joint.width / 2
        cell.block(-60.0, -SUBSTRATE - 10, -half, 0.0, "WALL", 0.18)
        cell.block(half, -SUBSTRATE - 10, 60.0, 0.0, "WALL", 0.18)
        m = self.m
        loop = [(half * math.cos(a), -half * math.sin(a)) for a in np.linspace(math.pi, 0.0, 14)]
        inner = [((half - m) * math.cos(a), m - (half - m) * math.sin(a)) for a in np.linspace(0.0, math.pi, 14)]
        if joint.bridged:
            self._membrane(cell, [(-60, 0), *loop, (60, 0), (60, m), *inner, (-60, m)], (48.0, m / 2))
            cell.line([(-50, m / 2), *[(x, y + m / 2) for x, y in loop], (50, m / 2)], "TAPE-BRIDGE")
            cell.note(say("tape {tape:g} in a loop, between detail coats", tape=self.tape), 0.0, -half + m / 2)
        else:
            self._membrane(cell, [(-60, 0), (60, 0), (60, m), (-60, m)], (48.0, m / 2))
        self._floor_layers(cell, -60.0, -half, name=False)
        self._floor_layers(cell, half, 60.0)
        self._seal(cell, -half, self.top, width)

    def threshold(self, cell: _Cell) -> None:
        """Where the membrane ends at a door."""
        door = next(o for o in self.room.lining.outline.openings if o.door).opening
        m, joint = self.m, self.rules.perimeter_joint
        cell.block(-48.0, -SUBSTRATE, 84.0, 0.0, "WALL", 0.18)
        rise = door.threshold_height if door.threshold in ("upstand", "step") else 0.0
        if rise:
            cell.block(-48.0, 0.0, 0.0, min(rise, 60.0), "WALL", 0.30)
            up = min(rise, 60.0)
            self._membrane(cell, [(0, 0), (84, 0), (84, m), (m, m), (m, up + m), (-30, up + m), (-30, up), (0, up)], (70.0, m / 2))
        else:
            self._membrane(cell, [(-20, 0), (84, 0), (84, m), (-20, m)], (70.0, m / 2))
        cell.line([(-18.0 if not rise else m / 2, m / 2), (60.0, m / 2)], "TAPE-EXTERNAL")
        cell.note(say("tape across, jamb to jamb"), 30.0, m / 2)
        self._floor_layers(cell, 4.0 + joint, 84.0)
        cell.block(0.0 if not rise else m, m, 4.0, self.top, "DRAIN", 0.4)
        cell.note(
            {"strip": say("strip, level with both floors"), "floor": say("the other floor's edge")}.get(
                door.threshold, say("{threshold}, {rise:g} high", threshold=KINDS.get(door.threshold, door.threshold), rise=rise)
            ),
            2.0,
            self.top - 2.0,
        )
        self._seal(cell, 4.0, self.top, joint)
        cell.note(say("outside"), -34.0, -SUBSTRATE / 2)


def drafts(job: Job) -> Iterator[Draft]:
    """The sheets of details."""
    own = job.only
    paper = job.paper or "A3"
    for k, page in enumerate(pages(own.room, SIZES[paper]), 1):
        yield Draft(f"{own.prefix}details-{k}", say("Details"), own.room.name, paper, None, (), page, heading=HEADING)


def pages(room: RoomSetOut, size: tuple[float, float]) -> list[list[Primitive]]:
    """Details in cells, so many a page as go on it."""
    x0, y0, x1, y1 = drawing_space(size)
    y0, y1 = y0 + BLOCK_HEIGHT + 2.0, y1 - 12.0
    space = (x1 - x0 - 8.0, y1 - y0)
    columns, rows = (min(most, max(int(room_for // least), 1)) for most, room_for, least in zip(MOST, space, CELL, strict=True))
    wide, tall = space[0] / columns, space[1] / rows
    result: list[list[Primitive]] = []
    for k, (title, draw, scale, (left, down)) in enumerate(_Details(room).wanted()):
        place = k % (columns * rows)
        if place == 0:
            result.append([])
        x = x0 + 6.0 + (place % columns) * wide
        y = y1 - (place // columns + 1) * tall
        cell = _Cell(x, y, wide - 4.0, tall - 4.0, scale, (x + left / scale + 2.0, y + down / scale + 3.0))
        draw(cell)
        result[-1] += cell.finish(title)
        result[-1].append(Stroke(np.array(box(x - 2.0, y - 1.0, x + wide - 6.0, y + tall - 3.0).exterior.coords)[:-1], "TONE", closed=True))
    return result
