"""Least rectangles of pieces, tiles made anew from the whole ones, and what a straight edge leaves of a tile."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

SPAN = 0.9
"""A piece that spans this part of a side of its tile is a strip; an edge over this part of the line that it draws through a tile cuts it right across."""


def turned(points: Any, degrees: float) -> Any:
    """Points turned anticlockwise about the origin."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.asarray(points, dtype=float) @ np.array([[c, s], [-s, c]])


def least_width(outline: Any) -> float:
    """Lesser side of the least rectangle round an outline; of several as small, of the narrowest."""
    hull = shapely.convex_hull(shapely.MultiPoint(np.asarray(outline, dtype=float)))
    if not isinstance(hull, shapely.Polygon):
        return 0.0
    points = np.array(hull.exterior.coords)[:-1]
    points -= points[0]
    way = np.roll(points, -1, axis=0) - points
    long = np.hypot(way[:, 0], way[:, 1])
    way = way[long > 1e-6] / long[long > 1e-6][:, None]
    a = np.ptp(points @ way.T, axis=0)
    b = np.ptp(points @ np.column_stack([-way[:, 1], way[:, 0]]).T, axis=0)
    alike = a * b <= (a * b).min() * (1.0 + 1e-6)
    return float(np.minimum(a, b)[alike].min())


def widths_of(pieces: list[dict[str, Any]]) -> Any:
    """Least width of each piece; pieces of one shape are measured once, (n,)."""
    known: dict[bytes, float] = {}
    result = []
    for piece in pieces:
        ring = np.array(piece["outline"])
        key = (np.round(ring - ring[0], 3) + 0.0).tobytes()
        if key not in known:
            known[key] = least_width(ring)
        result.append(known[key])
    return np.array(result)


@dataclass(frozen=True, slots=True)
class Lattice:
    """Where the whole tiles of a surface stand: member outlines at index (0, 0) of each bay, and the two ways they repeat."""

    ways: Any
    members: dict[tuple[int, int], Any]

    def outline(self, tile: list[int]) -> Any | None:
        """The outline of the tile with an index; None where no whole tile tells."""
        member = self.members.get((tile[0], tile[1]))
        return None if member is None else member + tile[2] * self.ways[0] + tile[3] * self.ways[1]


def lattice_of(surface: list[dict[str, Any]], origins: list[Any]) -> Lattice | None:
    """Fitted to the whole tiles of a surface's parts by least squares; `origins` of its bays stand in where a bay has no whole tile."""
    first = surface[0]
    whole = [piece for part in surface for piece in part["pieces"] if piece["mark"] is None]
    groups: dict[tuple[int, int], list[dict[str, Any]]] = {}
    for piece in whole:
        groups.setdefault((piece["tile"][0], piece["tile"][1]), []).append(piece)
    ways = _ways(groups)
    w, h = first["tile"]["size"]
    joint, turn = first["tile"]["joint"], first["turn_deg"]
    if ways is None and first["pattern"] in ("stack", "diagonal"):
        ways = turned([[w + joint, 0.0], [0.0, h + joint]], turn)
    if ways is None:
        return None
    members = {}
    for key, own in groups.items():
        at = np.array([piece["tile"][2] * ways[0] + piece["tile"][3] * ways[1] for piece in own])
        rings = np.array([piece["outline"] for piece in own])
        members[key] = (rings - at[:, None, :]).mean(axis=0)
    box = turned([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], turn)
    bays = sorted({piece["tile"][0] for part in surface for piece in part["pieces"]})
    for bay in bays:
        for (other, member), ring in list(members.items()):
            if (bay, member) not in members and bay < len(origins) and other < len(origins):
                members[bay, member] = ring + np.array(origins[bay]) - np.array(origins[other])
        if (bay, 0) not in members and first["pattern"] in ("stack", "diagonal") and bay < len(origins):
            members[bay, 0] = box + np.array(origins[bay])
    return Lattice(ways, members)


def _ways(groups: dict[tuple[int, int], list[dict[str, Any]]]) -> Any | None:
    """The two vectors that tiles of one kind repeat by; None where whole tiles stand in one row alone."""
    rows, right = [], []
    for own in groups.values():
        at = np.array([piece["tile"][2:] for piece in own], dtype=float)
        corner = np.array([np.mean(piece["outline"], axis=0) for piece in own])
        rows.append(at - at.mean(axis=0))
        right.append(corner - corner.mean(axis=0))
    if not rows:
        return None
    index, place = np.concatenate(rows), np.concatenate(right)
    if np.linalg.matrix_rank(index, tol=1e-6) < 2:
        return None
    return np.linalg.lstsq(index, place, rcond=None)[0]


@dataclass(frozen=True, slots=True)
class Left:
    """What a side of a piece, cut along a straight edge, leaves of its tile, mm: the piece's number, and the part of its line through the tile that it runs over."""

    width: float
    piece: int
    part: float


def left_by_sides(pieces: list[dict[str, Any]], lattice: Lattice, rim: Any) -> list[Left]:
    """For each side of each piece that lies on the rim of its bay: the distance from it to the tile's far factory corner.

    `rim` is the boundary of what is tiled, as line strings each straight.
    """
    sides, owner, tiles = [], [], {}
    for k, piece in enumerate(pieces):
        outline = lattice.outline(piece["tile"])
        if outline is None:
            continue
        tiles[k] = outline
        for ring in (piece["outline"], *piece["holes"]):
            points = straightened(np.array(ring))
            sides.append(np.stack([points, np.roll(points, -1, axis=0)], axis=1))
            owner += [k] * len(points)
    if not sides:
        return []
    every = np.concatenate(sides)
    long = np.hypot(*(every[:, 1] - every[:, 0]).T)
    middle = shapely.points(every.mean(axis=1))
    tree = shapely.STRtree(rim)
    near = tree.query(middle, predicate="dwithin", distance=0.2)
    on = np.unique(near[0])
    result = []
    for s in on.tolist():
        if long[s] < 0.2:
            continue
        tile = tiles[owner[s]]
        start, end = every[s]
        way = (end - start) / long[s]
        inward = np.array([-way[1], way[0]])
        off = (tile - start) @ inward
        if _on_factory_edge(tile, every[s]):
            continue
        drawn = _chord(tile, start, way)
        if off.max() > 0.1 and drawn > 0.0:
            result.append(Left(float(off.max()), owner[s], float(long[s] / drawn)))
    return result


def straightened(ring: Any) -> Any:
    """A ring without points that stand in a straight side, by less than a hundredth of a millimetre."""
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    way = after - before
    long = np.hypot(way[:, 0], way[:, 1])
    off = np.abs(way[:, 0] * (ring - before)[:, 1] - way[:, 1] * (ring - before)[:, 0]) / np.maximum(long, 1e-9)
    keep = off > 0.01
    return ring[keep] if keep.sum() >= 3 else ring


def _on_factory_edge(tile: Any, side: Any) -> bool:
    """Whether a side lies along an edge of its whole tile."""
    after = np.roll(tile, -1, axis=0)
    way = after - tile
    way = way / np.hypot(way[:, 0], way[:, 1])[:, None]
    off = np.abs(way[:, None, 0] * (side[None] - tile[:, None])[..., 1] - way[:, None, 1] * (side[None] - tile[:, None])[..., 0])
    return bool((off.max(axis=1) < 0.05).any())


def _chord(tile: Any, start: Any, way: Any) -> float:
    """Length of the line through a convex tile."""
    after = np.roll(tile, -1, axis=0)
    edge = after - tile
    outward = np.column_stack([edge[:, 1], -edge[:, 0]])
    beyond, rate = ((start - tile) * outward).sum(axis=1), outward @ way
    with np.errstate(divide="ignore", invalid="ignore"):
        t = -beyond / rate
    flat = np.abs(rate) < 1e-9 * np.hypot(edge[:, 0], edge[:, 1])
    enter = np.where(~flat & (rate < 0), t, -np.inf).max()
    leave = np.where(~flat & (rate > 0), t, np.inf).min()
    return float(max(leave - enter, 0.0))
