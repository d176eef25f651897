"""Rooms out of loose lines: walls drawn double and open at doors are closed there, and the faces between them found.

A door is a gap between two wall ends that face each other. Where a swing is drawn, or a room lies on both sides, it is an
opening of the plan; a gap that only leads outside is closed and told.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from layout.survey.found import tidied
from layout.survey.spaces import parted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

WALL_LEAST, WALL_MOST = 35.0, 1000.0
"""Thinnest and thickest wall drawn double, mm."""
DOOR_LEAST, DOOR_MOST = 450.0, 3700.0
"""Narrowest and widest gap that is closed, mm."""
NEAR = 0.05
"""Ends this near are one whatever the rounding, mm."""
ENDS_APART = 80.0
"""The faces of a wall end within this of each other along it, mm."""
SQUARE = 0.12
"""Sine of the angle by which the end of a wall may be out of square."""


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """Rooms as rings with holes; per room the doors as two ends; gaps that lead outside."""

    rooms: tuple[tuple[Floats, tuple[Floats, ...], tuple[Floats, ...]], ...]
    outside: tuple[Floats, ...]
    loose: int


_Gap: TypeAlias = "tuple[Floats, ...]"
"""A closed gap by its faces, each an edge (2, 2) from jamb to jamb."""


def trace(lines: Floats, swings: Floats, *, door_lines: Floats | None = None, words: Floats | None = None, gap: float = 10.0) -> Traced:
    """Rooms between wall lines.

    Parameters
    ----------
    lines : (n, 2, 2) wall lines, mm.
    swings : (m, 3) middles and radii of door swings, mm.
    door_lines : (k, 2, 2) what is drawn of doors, mm: a gap that holds some of it is a door.
    words : (w, 2) where the drawing names or notes something: what bears words and opens to the outside by a gate is a room.
    gap : ends of lines no further apart meet, mm.
    """
    lines = lines[np.hypot(*(lines[:, 1] - lines[:, 0]).T) > 0.5] if len(lines) else lines
    if len(lines) < 3:
        return Traced((), (), 0)
    # far from the origin floats are coarse: work about the middle
    middle = np.round(lines.reshape(-1, 2).mean(axis=0))
    work = _joined_ends(lines - middle, gap)
    segments = _noded(work, gap)
    gaps, ends = _wall_ends(segments)
    gaps += _single_ends(np.concatenate([segments, np.array(ends).reshape(-1, 2, 2)]), gap)
    closing = [*ends, *(face for each in gaps for face in each)]
    every = np.concatenate([segments, np.array(closing).reshape(-1, 2, 2)])
    found = parted(every, words - middle if words is not None and len(words) else np.empty((0, 2)))
    faces = list(found.spaces)
    marks = swings - np.append(middle, 0.0) if len(swings) else swings
    drawn = shapely.linestrings(door_lines - middle) if door_lines is not None and len(door_lines) else np.empty(0, dtype=object)
    edges = [*(face for each in gaps for face in each), *found.closings]
    own, outside = _doors(edges, faces, segments, marks, drawn)
    rooms = []
    for k, face in enumerate(faces):
        ring = shapely.get_coordinates(face.exterior)[:-1] + middle
        holes = tuple(tidied(shapely.get_coordinates(hole)[:-1] + middle) for hole in _solid_holes(face))
        rooms.append((tidied(ring), holes, tuple(door + middle for door in own.get(k, []))))
    loose = int((_degrees(_cut(every))[1] == 1).sum())
    rooms.sort(key=lambda room: (-round(room[0][:, 1].max() / 500), round(room[0][:, 0].min())))
    return Traced(tuple(rooms), tuple(edge + middle for edge in outside), loose)


def _solid_holes(face: Polygon) -> list[shapely.LinearRing]:
    """Holes of a face that are solid things in it, not slivers; what lies in a hole of walls is another room's matter."""
    return [hole for hole in face.interiors if Polygon(hole).area > 2500.0]


def _joined_ends(lines: Floats, gap: float) -> Floats:
    """Lines whose ends within a gap of each other are drawn to one point."""
    ends = lines.reshape(-1, 2)
    points = shapely.points(ends)
    a, b = shapely.STRtree(np.asarray(points)).query(points, predicate="dwithin", distance=gap)
    group = np.arange(len(ends))
    changed = True
    while changed:
        lower = group.copy()
        np.minimum.at(lower, a, group[b])
        changed = bool((lower != group).any())
        group = lower
    sums = np.zeros((len(ends), 2))
    np.add.at(sums, group, ends)
    count = np.bincount(group, minlength=len(ends))
    moved = sums[group] / count[group][:, None]
    result = np.round(moved.reshape(-1, 2, 2), 3)
    kept: Floats = result[np.hypot(*(result[:, 1] - result[:, 0]).T) > 0.5]
    return kept


def _noded(lines: Floats, gap: float) -> Floats:
    """Lines cut where they meet, loose ends drawn on to a line within the gap."""
    cut = _cut(lines)
    ends, degree = _degrees(cut)
    loose = ends[degree == 1]
    if len(loose):
        strings = np.asarray(shapely.linestrings(cut)).tolist()
        tree = shapely.STRtree(strings)
        added = []
        for at in loose:
            point = Point(at)
            near = [strings[k] for k in tree.query(point, predicate="dwithin", distance=gap)]
            feet = [shapely.get_coordinates(shapely.shortest_line(point, line))[1] for line in near]
            feet = [foot for foot in feet if np.hypot(*(foot - at)) > NEAR]
            if feet:
                added.append([at, min(feet, key=lambda foot: float(np.hypot(*(foot - at))))])
        if added:
            cut = _cut(np.concatenate([cut, np.round(np.array(added), 3)]))
    return cut


def _cut(lines: Floats) -> Floats:
    parts = shapely.get_parts(shapely.unary_union(shapely.linestrings(lines)))
    return np.concatenate([np.stack([xy[:-1], xy[1:]], axis=1) for xy in (shapely.get_coordinates(part) for part in parts)])


def _degrees(segments: Floats) -> tuple[Floats, Ints]:
    """Distinct ends (k, 2) and how many segments meet at each, (k,)."""
    keys = np.round(segments.reshape(-1, 2), 2)
    ends, count = np.unique(keys, axis=0, return_counts=True)
    return ends, count


def _tips(segments: Floats) -> tuple[Floats, Floats]:
    """Ends of lines that nothing goes on from, but at most the short end of a wall across: places (n, 2) and ways out (n, 2)."""
    keys = np.round(segments.reshape(-1, 2), 1)
    _, index = np.unique(keys, axis=0, return_inverse=True)
    pairs = index.reshape(-1, 2)
    length = np.hypot(*(segments[:, 1] - segments[:, 0]).T)
    ways = (segments[:, 1] - segments[:, 0]) / length[:, None]
    at_end: dict[int, list[tuple[int, float]]] = {}
    for k, (a, b) in enumerate(pairs.tolist()):
        at_end.setdefault(a, []).append((k, 1.0))
        at_end.setdefault(b, []).append((k, -1.0))
    places, out = [], []
    for k in range(len(segments)):
        if length[k] < WALL_LEAST:
            continue
        for side, sign in ((0, 1.0), (1, -1.0)):
            way = -sign * ways[k]
            others = [(j, s * ways[j]) for j, s in at_end[int(pairs[k, side])] if j != k]
            if all(abs(w @ way) < SQUARE and length[j] <= WALL_MOST for j, w in others):
                places.append(segments[k, side])
                out.append(way)
    return np.array(places).reshape(-1, 2), np.array(out).reshape(-1, 2)


def _ends_of_walls(segments: Floats) -> list[tuple[Floats, Floats, Floats]]:
    """Where double walls end: the outermost two corners of each end and the way out of it."""
    places, out = _tips(segments)
    left = set(range(len(places)))
    result = []
    for k in range(len(places)):
        if k not in left:
            continue
        way = out[k]
        across = np.array([-way[1], way[0]])
        apart = places - places[k]
        level = np.abs(apart @ way) < ENDS_APART
        same = [j for j in np.flatnonzero(level & (out @ way > 0.99) & (np.abs(apart @ across) <= 2 * WALL_MOST)).tolist() if j in left]
        same.sort(key=lambda j: float(places[j] @ across))
        start = same.index(k)
        low = high = start
        while low > 0 and (places[same[low]] - places[same[low - 1]]) @ across <= WALL_MOST:
            low -= 1
        while high < len(same) - 1 and (places[same[high + 1]] - places[same[high]]) @ across <= WALL_MOST:
            high += 1
        own = same[low : high + 1]
        wide = float((places[own[-1]] - places[own[0]]) @ across)
        if WALL_LEAST <= wide <= WALL_MOST:
            left -= set(own)
            result.append((places[own[0]], places[own[-1]], way))
    return result


def _wall_ends(segments: Floats) -> tuple[list[_Gap], list[Floats]]:
    """Gaps between ends of double walls that face each other, nearest pairs first; and the ends, as lines that close them."""
    caps = _ends_of_walls(segments)
    strings = np.asarray(shapely.linestrings(segments)).tolist()
    tree = shapely.STRtree(strings)
    found = []
    for i, (a, b, out) in enumerate(caps):
        for j, (c, d, other) in enumerate(caps[:i]):
            if out @ other > -0.99:
                continue
            apart = float(((c + d) / 2 - (a + b) / 2) @ out)
            if not DOOR_LEAST <= apart <= DOOR_MOST:
                continue
            side = np.array([-out[1], out[0]])
            one, two = sorted([(a @ side, 0), (b @ side, 1)]), sorted([(c @ side, 0), (d @ side, 1)])
            overlap = min(one[1][0], two[1][0]) - max(one[0][0], two[0][0])
            if overlap < 0.5 * min(one[1][0] - one[0][0], two[1][0] - two[0][0]):
                continue
            low = np.array([(a, b)[one[0][1]], (c, d)[two[0][1]]])
            high = np.array([(a, b)[one[1][1]], (c, d)[two[1][1]]])
            found.append((apart, i, j, low, high))
    found.sort(key=lambda item: item[0])
    used: set[int] = set()
    gaps: list[_Gap] = []
    for _, i, j, low, high in found:
        if i in used or j in used:
            continue
        inner = Polygon([*low, *high[::-1]]).buffer(-5.0)
        if any(strings[k].intersection(inner).length > WALL_LEAST for k in tree.query(inner, predicate="intersects")):
            continue
        used |= {i, j}
        gaps.append((low, high))
    return gaps, [np.array([a, b]) for a, b, _ in caps]


def _single_ends(segments: Floats, gap: float) -> list[_Gap]:
    """Gaps between loose ends of single lines that go on in line with each other."""
    ends, degree = _degrees(segments)
    loose = {tuple(end) for end in ends[degree == 1].tolist()}
    tips = []
    for a, b in np.round(segments, 2):
        for tip, tail in ((a, b), (b, a)):
            if tuple(tip.tolist()) in loose:
                tips.append((tip, (tip - tail) / max(float(np.hypot(*(tip - tail))), 1e-9)))
    found = []
    for i, (p, way) in enumerate(tips):
        for j, (q, other) in enumerate(tips[:i]):
            apart = q - p
            along = float(apart @ way)
            off = abs(float(way[0] * apart[1] - way[1] * apart[0]))
            if DOOR_LEAST <= along <= DOOR_MOST and off <= 2 * gap and way @ other < -0.99:
                found.append((along, i, j))
    found.sort()
    used: set[int] = set()
    gaps: list[_Gap] = []
    for _, i, j in found:
        if not {i, j} & used:
            used |= {i, j}
            gaps.append((np.array([tips[i][0], tips[j][0]]),))
    return gaps


def _doors(
    edges: Sequence[Floats], faces: list[Polygon], segments: Floats, swings: Floats, drawn: NDArray[np.object_]
) -> tuple[dict[int, list[Floats]], list[Floats]]:
    """Which closed gaps are doors, by room; and those that lead outside without a door drawn there."""
    own: dict[int, list[Floats]] = {}
    outside: list[Floats] = []
    if not faces:
        return own, outside
    rooms, walls = shapely.STRtree(faces), shapely.STRtree(np.asarray(shapely.linestrings(segments)))
    for edge in (edge for edge in edges if float(np.hypot(*(edge[1] - edge[0]))) >= DOOR_LEAST):
        for room in _faces_beside(edge, faces, rooms):
            depth = _depth(edge, room, faces, rooms, walls)
            passage = _passage(edge, faces[room], depth or WALL_MOST / 2)
            if depth is None and not _has_swing(passage, swings) and not _holds(passage, drawn):
                outside.append(edge)
            elif not any(np.allclose(edge, other, atol=1.0) or np.allclose(edge[::-1], other, atol=1.0) for other in own.get(room, [])):
                own.setdefault(room, []).append(edge)
    return own, outside


def _faces_beside(edge: Floats, faces: list[Polygon], tree: shapely.STRtree) -> list[int]:
    """The rooms that a closed face of a gap bounds: two where the wall is one line."""
    line = LineString(edge)
    near = tree.query(line, predicate="dwithin", distance=1.0).tolist()
    return [k for k in near if shapely.intersection(shapely.buffer(line, 1.0), faces[k].exterior).length > 0.8 * line.length]


def _outward(edge: Floats, room: Polygon) -> Floats:
    """The way from an edge of a room away from it, (2,)."""
    way = (edge[1] - edge[0]) / float(np.hypot(*(edge[1] - edge[0])))
    across = np.array([-way[1], way[0]])
    inside = bool(shapely.contains(room, Point(edge.mean(axis=0) + 5.0 * across)))
    return -across if inside else across


def _depth(edge: Floats, room: int, faces: list[Polygon], rooms: shapely.STRtree, walls: shapely.STRtree) -> float | None:
    """How far the next room lies beyond a gap, mm; None where none lies within a wall's thickness, or a wall stands between."""
    middle, out = edge.mean(axis=0), _outward(edge, faces[room])
    ray = LineString([middle, middle + (WALL_MOST + 50.0) * out])
    reach = [faces[k].distance(Point(middle)) for k in rooms.query(ray, predicate="intersects").tolist() if k != room]
    if not reach:
        return None
    depth = min(reach)
    way = LineString([middle + 2.0 * out, middle + max(depth - 2.0, 2.5) * out])
    return None if len(walls.query(way, predicate="intersects")) else max(depth, 1.0)


def _passage(edge: Floats, room: Polygon, depth: float) -> Floats:
    """The corners of a gap (4, 2): its edge, and the same through the wall."""
    out = depth * _outward(edge, room)
    return np.array([edge[0], edge[1], edge[1] + out, edge[0] + out])


def _holds(passage: Floats, drawn: NDArray[np.object_]) -> bool:
    """Whether something of a door is drawn in a gap."""
    if len(drawn) == 0:
        return False
    box = shapely.buffer(Polygon(passage), 20.0)
    return bool((shapely.length(shapely.intersection(drawn, box)) > 30.0).any())


def _has_swing(passage: Floats, swings: Floats) -> bool:
    """Whether a door's swing is drawn at a gap: an arc about a jamb, about as long as the gap or half of it."""
    if len(swings) == 0:
        return False
    width = float(np.hypot(*(passage[1] - passage[0])))
    jambs = shapely.MultiLineString([passage[[0, 3]], passage[[1, 2]]])
    near = shapely.distance(shapely.points(swings[:, :2]), jambs) < 160.0
    fits = (np.abs(swings[:, 2] - width) < 0.2 * width) | (np.abs(2 * swings[:, 2] - width) < 0.2 * width)
    return bool((near & fits).any())
