"""What was found in a drawing or a model, as one picture to check by eye: rooms with names, areas, doors, columns, pipes."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from layout.plan.values import Project
from layout.shapes import following
from layout.sheets.paper import SCALES, SIZES, block_primitives, drawing_space, frame, title_block
from layout.sheets.place import Placer
from layout.sheets.room_view import block_line
from layout.sheets.scene import Fill, Label, Primitive, Sheet, Stroke, View, bubble_ring
from layout.sheets.spots import Spot
from layout.survey.found import Found, openings_of


def found_sheet(found: Found) -> Sheet:
    """One A3 sheet at the largest standard scale that takes everything."""
    size = SIZES["A3"]
    left, bottom, right, top = drawing_space(size)
    corners = np.concatenate([room.outline for room in found.rooms])
    low, high = corners.min(axis=0), corners.max(axis=0)
    wide, tall = (high - low).tolist()
    room_for = (right - left - 24.0, top - bottom - 74.0)
    scale = next((s for s in (10.0, *SCALES) if wide / s <= room_for[0] and tall / s <= room_for[1] and s >= 10.0), SCALES[-1])
    middle = (low + high) / 2
    view = View((float(middle[0]), float(middle[1])), ((left + right) / 2, (top + bottom) / 2 + 18.0), scale, (right - left, top - bottom))
    placer = Placer((left + 2, bottom + 48, right - 2, top - 14))
    scene: list[Primitive] = []
    for room in found.rooms:
        scene.append(Fill(Polygon(room.outline, room.holes), "TONE", 0.12))
        scene.append(Stroke(room.outline, "WALL", closed=True))
        block_line(placer, view, np.vstack([room.outline, room.outline[:1]]))
        for hole in room.holes:
            scene += [Fill(Polygon(hole), "WALL", 0.55), Stroke(hole, "WALL", closed=True)]
        ends = following(room.outline)
        for wall, offset, width in openings_of(room):
            a, b = room.outline[wall - 1], ends[wall - 1]
            way = (b - a) / np.hypot(*(b - a))
            door = np.array([a + way * offset, a + way * (offset + width)])
            scene += [Fill(shapely.buffer(shapely.LineString(door), 1.0 * scale, cap_style="flat"), "TONE", 0.0), Stroke(door, "OPENING")]
        scene += [Stroke(bubble_ring(at, diameter / 2), "PIPE", closed=True) for at, diameter in room.pipes]
        scene += [Stroke(bubble_ring(at, 100.0), "DRAIN", closed=True) for at in room.gullies]
    for room in found.rooms:
        inside = view.to_paper(np.array(shapely.point_on_surface(Polygon(room.outline, room.holes)).coords))[0]
        for text, height, down in ((room.name, 3.5, 0.0), (f"{room.area_m2:.2f} m²", 2.5, 4.6)):
            spots = [
                Spot((float(inside[0]) + dx, float(inside[1]) + dy - down))
                for dy in (0.0, 6.0, -6.0, 11.0, -11.0)
                for dx in (0.0, 8.0, -8.0)
            ]
            placer.place(text, height, "TEXT", spots, boxed=True, bold=height > 3.0, needed=height > 3.0, foot=inside)
    placer.finish()
    scene += placer.drawn(view)
    block = title_block(Project(title=found.source[:25]), "Rooms as found", f"{len(found.rooms)} rooms", 1, 1, "A3", f"1:{scale:g}")
    paper: list[Primitive] = [*frame(size), *block_primitives(block, size)]
    paper.append(
        Label(f"Rooms as found · 1:{scale:g} · unit {found.unit}: {found.unit_why}"[:110], (left + 5.0, top - 8.5), 3.5, "TEXT", bold=True)
    )
    return Sheet("found", "Rooms as found", "", "A3", size, view, tuple(scene), tuple(paper), block)
