"""Edges that cut the tiles of a field, and what a person calls them: walls, thresholds, frames of drains, feet and tops of faces."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.identity import EdgeId
from layout.shapes import edges_of, turned
from layout.units import TOUCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.lining.build import Lining
    from layout.lining.surfaces import Surface
    from layout.vectors import Bools, Floats, Ints


def wall_edges(surface: Surface, frame: float) -> tuple[Floats, tuple[EdgeId, ...], Bools, Bools, Ints, Bools]:
    """Edges of the field and of frames, in the joint frame: what stands there, whether it counts for the start, threshold, wall number."""
    if surface.borders:
        edges, borders = surface.bordered()
        known = tuple(border.of for border in borders)
        counts = np.array([border.straight for border in borders], dtype=bool)
        doors = np.array([border.kind == "threshold" for border in borders], dtype=bool)
        numbers = np.array([border.wall for border in borders], dtype=np.int64)
    else:
        edges, _, _ = edges_of(surface.field)
        known = tuple(_side(surface, edge) for edge in edges)
        counts, doors = np.ones(len(edges), dtype=bool), np.zeros(len(edges), dtype=bool)
        numbers = np.zeros(len(edges), dtype=np.int64)
    frames, of_frames = _frames(surface)
    edges, more = np.concatenate([edges, frames]), len(frames)
    counts, doors = np.append(counts, np.ones(more, dtype=bool)), np.append(doors, np.zeros(more, dtype=bool))
    local = turned(edges.reshape(-1, 2), -frame).reshape(-1, 2, 2)
    framed = np.arange(len(edges)) >= len(edges) - more
    return local, (*known, *of_frames), counts, doors, np.append(numbers, np.zeros(more, dtype=np.int64)), framed


def hidden_edges(lining: Lining, surface: Surface, known: Sequence[EdgeId]) -> Bools:
    """Which edges of a flat surface are of walls or solids that the plan says are out of view."""
    outline = lining.outline
    if not surface.borders or not lining.room.hidden:
        return np.zeros(len(known), dtype=bool)
    hidden: set[EdgeId] = set()
    for ref in lining.room.hidden:
        index = outline.wall_index(ref)
        if index is not None:
            hidden.add(EdgeId("wall", outline.walls[index].run.number))
            continue
        hidden |= {EdgeId("plinth", number) for number, each in enumerate(lining.room.plinths, 1) if each.name == ref}
        hidden |= {EdgeId("column", number) for number, each in enumerate(lining.room.columns, 1) if each.name == ref}
    return np.array([each in hidden for each in known], dtype=bool)


def covered_edges(surface: Surface, edges: Floats) -> Floats:
    """How much of the tile that stands on each edge (n, 2, 2) of an upright surface stands behind what lies before it, (n,), mm."""
    covered = np.zeros(len(edges))
    for line, behind in surface.behind:
        x, y = edges[:, :, 0], edges[:, :, 1]
        within = (x[:, 0] < x[:, 1]) & (x.min(axis=1) > line[0, 0] - TOUCH) & (x.max(axis=1) < line[-1, 0] + TOUCH)
        on = np.abs(y - np.interp(x, line[:, 0], line[:, 1])).max(axis=1) < TOUCH
        covered[within & on] = behind
    return covered


def _frames(surface: Surface) -> tuple[Floats, tuple[EdgeId, ...]]:
    """Straight edges that drain frames and fixings cut the field's tiles to, the tile on their left, (n, 2, 2); and whose they are."""
    edges, known = [], []
    inside = shapely.buffer(surface.field, -TOUCH, join_style="mitre")
    for each in surface.breaks:
        if each.diameter:
            continue
        ring = shapely.get_coordinates(shapely.orient_polygons(each.hole, exterior_cw=True).exterior)
        for a, b in itertools.pairwise(ring):
            for part in shapely.get_parts(shapely.intersection(shapely.LineString([a, b]), inside)):
                ends = shapely.get_coordinates(part)
                if len(ends) == 2 and part.length > 1.0:
                    edges.append(ends if (ends[1] - ends[0]) @ (b - a) > 0.0 else ends[::-1])
                    known.append(each.id)
    return np.array(edges).reshape(-1, 2, 2), tuple(known)


OPENING = EdgeId("opening", name="opening or plinth")


def _side(surface: Surface, edge: Floats) -> EdgeId:
    x0, y0, x1, y1 = surface.field.bounds
    x, y = (edge[0] + edge[1]) / 2
    if abs(edge[1][0] - edge[0][0]) >= abs(edge[1][1] - edge[0][1]):
        slanted = abs(edge[1][1] - edge[0][1]) > TOUCH  # only the foot follows the floor
        if abs(y - y0) < TOUCH or (slanted and edge[1][0] > edge[0][0]):
            return EdgeId("foot", name="foot")
        return EdgeId("top", name="top") if abs(y - y1) < TOUCH else OPENING
    if abs(x - x0) < TOUCH:
        return EdgeId("left", name="left end")
    return EdgeId("right", name="right end") if abs(x - x1) < TOUCH else OPENING
