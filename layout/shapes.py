"""Plane geometry that is not the trade's own: arcs, rings, offsets by edge, turning.

Rings are `(n, 2)` float arrays, open (the first point is not repeated). A polygon's edges are
taken with the inside on their left: shells anticlockwise, holes clockwise.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from layout.units import EPS, SAGITTA, TOUCH, turn_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shapely.geometry.base import BaseGeometry

    from layout.vectors import Floats, Ints


def arc_points(start: Floats, end: Floats, bulge: float, *, sagitta: float = SAGITTA) -> Floats:
    """Points of an arc after its start, up to and with its end, `(n, 2)`.

    `bulge` is the tangent of a quarter of the included angle, positive when the arc runs
    anticlockwise from start to end, as in DXF group code 42. The count is even, so the crown of
    the arc is a point.
    """
    if bulge == 0.0:
        return np.array([end], dtype=float)
    angle = 4.0 * math.atan(bulge)
    chord = end - start
    length = float(np.hypot(*chord))
    radius = length / (2.0 * math.sin(abs(angle) / 2.0))
    height = length / 2.0 / math.tan(angle / 2.0)
    normal = np.array([-chord[1], chord[0]]) / length
    centre = (start + end) / 2.0 + normal * height
    step = 2.0 * math.acos(max(-1.0, 1.0 - min(sagitta, radius) / radius))
    count = max(2, math.ceil(abs(angle) / step))
    count += count % 2
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    angles = first + angle * np.arange(1, count + 1) / count
    points = centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])
    points[-1] = end
    return points


def circle(centre: Sequence[float], diameter: float, turn: float = 0.0, *, sagitta: float = SAGITTA) -> Polygon:
    """A circle as a polygon whose sides touch it from outside: the clearance is never short; its corners are alike in axes turned by `turn` degrees."""
    radius = diameter / 2.0
    count = max(12, math.ceil(math.pi / math.acos(radius / (radius + sagitta))))
    count += -count % 4
    outer = radius / math.cos(math.pi / count)
    angles = (np.arange(count) + 0.5) * 2.0 * math.pi / count + math.radians(turn % 90.0)  # a quarter turn lays it on itself
    return Polygon(np.column_stack([centre[0] + outer * np.cos(angles), centre[1] + outer * np.sin(angles)]))


def rectangle(centre: Sequence[float], size: Sequence[float], turn: float = 0.0) -> Polygon:
    """A rectangle about its centre, turned anticlockwise by `turn` degrees."""
    half_w, half_h = size[0] / 2.0, size[1] / 2.0
    ring = np.array([[-half_w, -half_h], [half_w, -half_h], [half_w, half_h], [-half_w, half_h]])
    return Polygon(turned(ring, turn) + np.asarray(centre, dtype=float))


def turned(points: Floats, angle_deg: float) -> Floats:
    """Points turned anticlockwise about the origin, exact at quarter turns."""
    cos, sin = turn_of(angle_deg)
    x, y = points[:, 0], points[:, 1]
    result = np.empty((len(points), 2))  # by columns: a matrix product of two columns wakes threads for nothing
    result[:, 0] = x * cos - y * sin
    result[:, 1] = x * sin + y * cos
    return result


def turned_shape(shape: BaseGeometry, angle_deg: float) -> BaseGeometry:
    """A shape turned anticlockwise about the origin."""
    if angle_deg % 360.0 == 0.0 or shape.is_empty:
        return shape
    result: BaseGeometry = shapely.transform(shape, lambda xy: turned(xy, angle_deg))
    return result


def following(ring: Floats) -> Floats:
    """The point after each point of an open ring; as `numpy.roll` by -1, at a fifth of its cost."""
    result: Floats = np.concatenate((ring[1:], ring[:1]))
    return result


def preceding(ring: Floats) -> Floats:
    """The point before each point of an open ring."""
    result: Floats = np.concatenate((ring[-1:], ring[:-1]))
    return result


def signed_area(ring: Floats) -> float:
    """Area of a ring, positive when it runs anticlockwise."""
    local = ring - ring[0]
    after = following(local)
    return float(np.sum(local[:, 0] * after[:, 1] - after[:, 0] * local[:, 1])) / 2.0


def parts_of(shape: BaseGeometry) -> list[Polygon]:
    """The polygons of a shape, each oriented with its inside on the left; lines and points dropped."""
    if isinstance(shape, Polygon):
        return [] if shape.is_empty else [shapely.orient_polygons(shape)]
    polygons = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty]
    nested = [p for part in shapely.get_parts(shape) if part.geom_type == "MultiPolygon" for p in part.geoms]
    return [shapely.orient_polygons(part) for part in (*polygons, *nested)]


def rings_of(shape: BaseGeometry) -> list[Floats]:
    """Open rings of a shape's polygons with the inside on the left, shells before their holes."""
    rings: list[Floats] = []
    for polygon in parts_of(shape):
        rings += [shapely.get_coordinates(ring)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    return rings


def edges_of(shape: BaseGeometry) -> tuple[Floats, Ints, Ints]:
    """Edges of a shape with the inside on their left.

    Returns
    -------
    edges : (n, 2, 2) float
        Start and end of each edge, mm; edges of no length are left out.
    first, count : (n,) int
        Index of the first edge of the ring an edge belongs to, and that ring's number of edges.
    """
    rings = shapely.get_rings(parts_of(shape))
    at, ring = shapely.get_coordinates(rings, return_index=True)
    keep = (ring[1:] == ring[:-1]) & np.any(at[1:] != at[:-1], axis=1)  # rings are closed
    edges = np.stack([at[:-1], at[1:]], axis=1)[keep]
    own = ring[:-1][keep]
    per_ring = np.bincount(own, minlength=len(rings))
    return edges, (np.cumsum(per_ring) - per_ring)[own], per_ring[own]


def _corner_wedges(before: Floats, corner: Floats, after: Floats, d1: float, d2: float) -> Polygon | None:
    """The piece between two strips at a corner that turns away from their side."""
    u = (corner - before) / np.hypot(*(corner - before))
    v = (after - corner) / np.hypot(*(after - corner))
    n1, n2 = np.array([-u[1], u[0]]), np.array([-v[1], v[0]])
    cross = u[0] * v[1] - u[1] * v[0]
    dot = float(u @ v)
    side = math.copysign(1.0, d1 if d1 != 0.0 else d2)
    if cross * side >= -1e-9 and dot > -0.999999:
        return None
    foot1, foot2 = corner + n1 * d1, corner + n2 * d2
    # overlap both strips and the outside by a hair: pieces that only share an edge leave slivers between them
    near = [corner - u * HAIR - n1 * side * HAIR, foot1 - u * HAIR, foot2 + v * HAIR, corner + v * HAIR - n2 * side * HAIR]
    angle = math.atan2(abs(cross), dot)
    if angle < math.radians(120.0):
        # both offset lines meet at foot1 + u * t
        t = (d2 - d1 * dot) / -cross if abs(cross) > 1e-12 else 0.0
        tips = [foot1 + u * t]
    else:
        reach = math.tan(angle / 4.0)
        tips = [foot1 + u * abs(d1) * reach, foot2 - v * abs(d2) * reach]
    hull = shapely.convex_hull(shapely.MultiPoint(np.array([*near, *tips])))
    return hull if isinstance(hull, Polygon) else None


HAIR = 1e-3
"""How far strips reach past what they are cut from, mm."""


def _hair(before: Floats, after: Floats, side: float) -> float:
    """How far a strip reaches past a corner: not where the ring turns away from the strip, a wedge is there."""
    return HAIR if (before[0] * after[1] - before[1] * after[0]) * side > -1e-3 else 0.0


def _strips(ring: Floats, distance: Floats, grow: Floats) -> list[Polygon]:
    """Strips along the edges of a ring, `distance` to the left, lengthened by `grow` at both ends."""
    ends = following(ring)
    along = ends - ring
    length = np.hypot(along[:, 0], along[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        unit = along / length[:, None]
    normal = np.column_stack([-unit[:, 1], unit[:, 0]])
    result: list[Polygon] = []
    for k in np.flatnonzero((distance != 0.0) & (length > 0.0)):
        after = (k + 1) % len(ring)
        # a hair past the ends and past the edge itself: else float noise leaves slivers between strips
        # and along the edge
        a = ring[k] - unit[k] * (grow[k - 1] + _hair(unit[k - 1], unit[k], distance[k]))
        b = ends[k] + unit[k] * (grow[after] + _hair(unit[k], unit[after], distance[k]))
        shift = normal[k] * distance[k]
        back = normal[k] * math.copysign(HAIR, -distance[k])
        result.append(Polygon([a + back, b + back, b + shift, a + shift]))
        result += _past_end(ring[k], -unit[k], normal[k] * distance[k], float(grow[k - 1]), float(unit[k] @ unit[k - 1]))
        result += _past_end(ends[k], unit[k], normal[k] * distance[k], float(grow[after]), float(unit[k] @ unit[after]))
        wedge = _corner_wedges(
            ring[k],
            ends[k],
            ends[(k + 1) % len(ring)],
            float(distance[k]),
            float(distance[(k + 1) % len(ring)]),
        )
        if wedge is not None and distance[(k + 1) % len(ring)] != 0.0:
            result.append(wedge)
    return result


def _past_end(corner: Floats, way: Floats, across: Floats, grow: float, slant: float) -> list[Polygon]:
    """What a neighbour that grows lays beyond an edge's line, past its end: out of square it would cross that line.

    `slant` is the cosine between the two edges, 0 where they are square.
    """
    if grow <= 0.0 or abs(slant) > 0.9:
        return []
    deep = float(np.hypot(*across))
    reach = way * ((grow + (deep + grow) * abs(slant)) / math.sqrt(1.0 - slant * slant) + HAIR)
    out = -across / deep * grow
    return [Polygon([corner + out, corner + reach + out, corner + reach + across, corner + across])]


def offset_edges(shape: BaseGeometry, distances: Sequence[Floats]) -> BaseGeometry:
    """Move every edge of a shape by its own distance.

    Parameters
    ----------
    shape : polygon or multipolygon
    distances : one array for each ring of `rings_of(shape)`
        Distance of each edge, mm; positive moves the edge into the shape, negative out of it.

    Returns
    -------
    Polygon or MultiPolygon, empty if nothing is left. Corners that turn away are mitred, sharp
    ones (a turn of 120 degrees and more) cut square at the distance. Unlike a buffer this never
    simplifies a curved edge, so the distance is kept to float noise.
    """
    inward: list[Polygon] = []
    outward: list[Polygon] = []
    for ring, distance in zip(rings_of(shape), distances, strict=True):
        growth = np.where(distance < 0.0, -distance, 0.0)
        zero = np.zeros(len(ring))
        if np.any(distance < 0.0):
            outward += _strips(ring, np.minimum(distance, 0.0), zero)
        if np.any(distance > 0.0):
            inward += _strips(ring, np.maximum(distance, 0.0), growth)
    result = shape
    if outward:
        result = shapely.union(result, shapely.union_all(outward))
    if inward:
        result = shapely.difference(result, shapely.union_all(inward))
    return shapely.union_all(parts_of(result)) if result.geom_type == "GeometryCollection" else result


def matched_edges(shape: BaseGeometry, source: BaseGeometry, distances: Sequence[Floats]) -> tuple[Floats, Ints]:
    """Edges of an offset shape, each with the source edge it runs along.

    `shape` is `offset_edges(source, distances)` or a part of it. An edge that runs along several
    source edges in one line is cut where one passes to the next.

    Returns
    -------
    edges : (n, 2, 2) float
    index : (n,) int, into the edges of `rings_of(source)`, ring after ring.
    """
    rings = rings_of(source)
    a = np.concatenate(rings)
    b = np.concatenate([following(ring) for ring in rings])
    d = np.concatenate([np.asarray(each, dtype=float) for each in distances])
    along = b - a
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), EPS)
    unit = along / length[:, None]
    (ax, ay), (ux, uy) = np.ascontiguousarray(a.T), np.ascontiguousarray(unit.T)  # the normal is (-uy, ux)
    edges, _, _ = edges_of(shape)
    found: list[Floats] = []
    index: list[int] = []
    for start, end in edges:
        middle = (start + end) / 2.0
        reach = float(np.hypot(*(end - start)))
        way = (end - start) / max(reach, EPS)
        dx, dy = middle[0] - ax, middle[1] - ay
        beside = np.abs(dx * -uy + dy * ux - d) + np.abs(ux * way[1] - uy * way[0]) * reach
        same = np.flatnonzero(beside < 1e-3)
        same = same[unit[same] @ way > 0.0]
        if len(same) == 0:  # walls that bend by a hair, whose corner fell away with the offset
            same = np.flatnonzero(beside < TOUCH)
            same = same[unit[same] @ way > 0.0]
        if len(same) < 2:
            found.append(np.array([start, end]))
            if len(same) == 0:  # the nearest
                at = dx * ux + dy * uy
                beyond = np.maximum(np.maximum(-at, at - length), 0.0)
                same = np.array([(beside + beyond * 0.1).argmin()])
            index.append(int(same[0]))
            continue
        stops = ((np.concatenate([a[same], b[same]]) - start) @ way).tolist()
        cuts = [0.0, *sorted({round(s, 6) for s in stops if TOUCH < s < reach - TOUCH}), reach]
        for s0, s1 in itertools.pairwise(cuts):
            point = start + way * (s0 + s1) / 2.0
            t = ((point - a[same]) * unit[same]).sum(axis=1)
            gap = np.maximum(np.maximum(-t, t - length[same]), 0.0)
            best = int(same[gap.argmin()])
            if index and best == index[-1] and np.hypot(*(found[-1][1] - (start + way * s0))) < EPS:
                found[-1][1] = start + way * s1
                continue
            found.append(np.array([start + way * s0, start + way * s1]))
            index.append(best)
    return (np.array(found) if found else np.empty((0, 2, 2))), np.array(index, dtype=np.int64)


def cleaned_ring(ring: Floats, tolerance: float = EPS) -> Floats:
    """A ring without points that repeat or lie on the line of their neighbours within `tolerance`."""
    gap = ring - preceding(ring)
    keep = np.hypot(gap[:, 0], gap[:, 1]) > tolerance
    ring = ring[keep]
    if len(ring) < 4:
        return ring
    before, after = preceding(ring), following(ring)
    chord = after - before
    cross = chord[:, 0] * (ring - before)[:, 1] - chord[:, 1] * (ring - before)[:, 0]
    reach = np.hypot(chord[:, 0], chord[:, 1])
    keep = np.abs(cross) > tolerance * np.maximum(reach, tolerance)
    return ring[keep] if np.count_nonzero(keep) >= 3 else ring


def cleaned(shape: BaseGeometry) -> BaseGeometry:
    """A shape without needless points; left as it is if that would spoil it."""
    parts = []
    for part in parts_of(shape):
        rings = [cleaned_ring(shapely.get_coordinates(ring)[:-1]) for ring in (part.exterior, *part.interiors)]
        if len(rings[0]) < 3:
            continue  # no wider than float noise
        simple = Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 3])
        parts.append(simple if simple.is_valid else part)
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts) if parts else Polygon()


def started_low_left(ring: Floats) -> Floats:
    """A ring that starts at its lowest, then leftmost point."""
    rounded = np.round(ring, 3).tolist()
    first = min(range(len(rounded)), key=lambda k: (rounded[k][1], rounded[k][0]))
    result: Floats = np.concatenate((ring[first:], ring[:first]))
    return result


def strips_across(shape: BaseGeometry, horizontal: bool, low: float, high: float) -> BaseGeometry:
    """The part of a shape between two lines square to an axis."""
    x0, y0, x1, y1 = shape.bounds
    box = shapely.box(x0 - 1.0, low, x1 + 1.0, high) if horizontal else shapely.box(low, y0 - 1.0, high, y1 + 1.0)
    return shapely.intersection(shape, box)


def union_of(shapes: Iterable[BaseGeometry]) -> BaseGeometry:
    """Union of shapes; an empty polygon for none."""
    return shapely.union_all(list(shapes))


def rectangles(index: Ints, *, joined: bool) -> list[tuple[int, int, int, int]]:
    """Runs of lattice indices along i, joined over j where they match: i0, i1, j0, j1."""
    order = np.lexsort((index[:, 0], index[:, 1]))
    i, j = index[order, 0], index[order, 1]
    breaks = np.flatnonzero((np.diff(j) != 0) | (np.diff(i) != 1)) + 1
    firsts = np.concatenate([[0], breaks])
    lasts = np.concatenate([breaks, [len(i)]]) - 1
    runs = list(zip(i[firsts].tolist(), i[lasts].tolist(), j[firsts].tolist(), strict=True))
    if not joined:
        return [(a, b, row, row) for a, b, row in runs]
    result: list[tuple[int, int, int, int]] = []
    growing: dict[tuple[int, int], int] = {}
    for a, b, row in runs:
        k = growing.get((a, b))
        if k is not None and result[k][3] == row - 1:
            result[k] = (a, b, result[k][2], row)
        else:
            growing[a, b] = len(result)
            result.append((a, b, row, row))
    return result
