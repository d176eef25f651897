"""A floor's runs from wall to wall, counted in tiles and joints as a tiler counts them off on his rod.

A run is a straight line through the middle of a course, or across the courses, from one edge of the surface to the next;
movement joints that it crosses belong to it. Runs with the same ends that count alike are one, with how many lines have them.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from layout.shapes import turned, turned_shape
from layout.units import TOUCH
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from layout.setout.values import SurfaceSetOut
    from layout.vectors import Floats

COUNTED = ("stack", "running", "diagonal")
"""Patterns whose tiles stand in straight courses of one height and one joint."""
JOINT_MOST = 60.0
"""What parts two bays along a run is a movement joint up to this, mm; the frame of a drain is wider."""
NEAR = 25.0
"""An edge this near to the end of a run is what it ends at, mm: frames' joints may have been narrowed."""


@dataclass(frozen=True, slots=True)
class Run:
    """A run from edge to edge.

    `axis` is 0 along the courses, 1 across them; `ends` what stands at its two ends; `length` from joint face to joint face, mm; `tiles`
    whole ones, `gaps` tile joints of `joint` mm, `moves` movement joints, `moving` mm wide together; `cuts` the cut at each end, 0 where
    that tile is whole, and `within` how many cuts stand at joints between; `lines` so many courses run so; `edges` are the far edges of its
    tiles one after the other, cumulated from its first end, mm.
    """

    axis: int
    ends: tuple[str, str]
    length: float
    tiles: int
    gaps: int
    joint: float
    moves: int
    moving: float
    cuts: tuple[float, float]
    within: int
    lines: int
    edges: tuple[float, ...]

    def words(self, plain: float) -> str:
        """The run as a tiler says it; `plain` is the joint that the plan gives, mm."""
        joint = worded("{joint:.3g}", joint=self.joint)
        if abs(self.joint - plain) > 0.005:
            joint = worded("{joint:.2f} for {plain:g}", joint=self.joint, plain=plain)
        cuts = [cut for cut in self.cuts if cut > 0.0]
        told = worded("no cut")
        if self.within:
            told = worded("{count} cuts", count=self.within + len(cuts))
        elif len(cuts) == 2:
            told = worded("cuts {one:.0f} and {other:.0f}", one=math.floor(cuts[0] + 1e-6), other=math.floor(cuts[1] + 1e-6))
        elif cuts:
            told = worded("one cut of {one:.0f}", one=math.floor(cuts[0] + 1e-6))
        if self.moves:
            told = worded("{moving:.3g} of movement joints, {told}", moving=self.moving, told=told)
        return worded(
            "{one} to {other}: {tiles} tiles, {gaps} joints of {joint}, {told}",
            one=self.ends[0],
            other=self.ends[1],
            tiles=self.tiles,
            gaps=self.gaps,
            joint=joint,
            told=told,
        )


class _Stretch(NamedTuple):
    """What one line has in one bay: the bay, from where to where, the lines of tiles there as (n, 2) lows and highs, how many are whole."""

    bay: int
    low: float
    high: float
    tiles: Floats
    whole: int


def runs_of(done: SurfaceSetOut) -> tuple[Run, ...]:
    """The runs of a flat surface, those that most lines have first, along the courses before across them; none where courses are not straight."""
    pattern = done.field.pattern
    if pattern.name not in COUNTED:
        return ()
    edges, labels = _ends(done)
    found: dict[tuple[object, ...], list[Run]] = {}
    for axis in (0, 1):
        for run in _along(done, axis, edges, labels):
            key = (axis, run.ends, run.tiles, run.gaps, run.moves, run.within, *(cut > 0.0 for cut in run.cuts))
            found.setdefault(key, []).append(run)
    result = []
    for same in found.values():
        middle = sorted(same, key=lambda run: (min(run.cuts), run.length))[len(same) // 2]
        result.append(Run(**{**{name: getattr(middle, name) for name in Run.__slots__}, "lines": len(same)}))
    return tuple(sorted(result, key=lambda run: (run.axis, -run.lines, -run.length, run.ends)))


def _ends(done: SurfaceSetOut) -> tuple[Floats, list[str]]:
    """What runs may end at: edges (n, 2, 2) in the lattice's axes and what they are called."""
    edges, borders = done.surface.bordered()
    found, labels = list(edges), [border.label for border in borders]
    for each in done.surface.breaks:
        ring = shapely.get_coordinates(each.hole)
        found += [ring[k : k + 2] for k in range(len(ring) - 1)]
        labels += [each.name] * (len(ring) - 1)
    flat = turned(np.array(found).reshape(-1, 2), -done.turn).reshape(-1, 2, 2)
    return flat, labels


def _along(done: SurfaceSetOut, axis: int, edges: Floats, labels: Sequence[str]) -> Iterable[Run]:
    """The runs along one axis of the lattice, line by line: each with the bay that it begins in."""
    field = done.field
    pitch, size = float(field.pattern.vectors[1 - axis, 1 - axis]), field.pattern.box[1 - axis]
    regions = np.array([turned_shape(bay.region, -field.turn) for bay in done.bays])
    origins = [turned(np.array([origin]), -field.turn)[0] for origin in field.origins]
    bounds: Floats = shapely.bounds(regions)
    for k, origin in enumerate(origins):
        low, high = bounds[k, 1 - axis], bounds[k, 3 - axis]
        first = float(origin[1 - axis]) + size / 2.0
        lines = first + pitch * np.arange(math.ceil((low - first) / pitch), math.floor((high - first) / pitch) + 1)
        stretches = _stretches(done, axis, lines, regions, bounds, origins)
        for at, own in zip(lines.tolist(), stretches, strict=True):
            for group in _grouped(sorted(own, key=lambda each: each.low)):
                if group[0].bay == k and any(len(each.tiles) for each in group):
                    yield _run(done, axis, at, group, edges, labels)


def _stretches(
    done: SurfaceSetOut, axis: int, lines: Floats, regions: NDArray[np.object_], bounds: Floats, origins: Sequence[Floats]
) -> list[list[_Stretch]]:
    """What each of some lines (k,) across the other axis has in every bay, with its tiles."""
    vectors, size = done.field.pattern.vectors, done.field.pattern.box[axis]
    pitch = float(vectors[axis, axis])
    line, bay = np.nonzero((bounds[None, :, 1 - axis] < lines[:, None]) & (lines[:, None] < bounds[None, :, 3 - axis]))
    ends = np.empty((len(line), 2, 2))
    ends[:, :, 1 - axis] = lines[line, None]
    ends[:, 0, axis], ends[:, 1, axis] = bounds[bay, axis] - 1.0, bounds[bay, 2 + axis] + 1.0
    parts, of = shapely.get_parts(shapely.intersection(regions[bay], shapely.linestrings(ends)), return_index=True)
    straight = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & (shapely.length(parts) > TOUCH)
    result: list[list[_Stretch]] = [[] for _ in lines]
    spans: Floats = shapely.bounds(parts[straight]).reshape(-1, 4)
    for pair, (low, high) in zip(of[straight].tolist(), spans[:, [axis, 2 + axis]].tolist(), strict=True):
        k, n = int(line[pair]), int(bay[pair])
        start = float(origins[n][axis])
        if axis == 0:
            start += math.floor((float(lines[k]) - float(origins[n][1])) / float(vectors[1, 1])) * float(vectors[1, 0])
        first = start + pitch * np.arange(math.floor((low - start) / pitch), math.floor((high - start) / pitch) + 1)
        tiles = np.column_stack([np.maximum(first, low), np.minimum(first + size, high)])
        wide = tiles[:, 1] - tiles[:, 0]
        result[k].append(_Stretch(n, low, high, tiles[wide > TOUCH], int((wide >= size - TOUCH).sum())))
    return result


def _grouped(stretches: Sequence[_Stretch]) -> list[list[_Stretch]]:
    """Stretches that only a movement joint parts, together."""
    result: list[list[_Stretch]] = []
    for each in stretches:
        if result and each.low - result[-1][-1].high <= JOINT_MOST and each.bay != result[-1][-1].bay:
            result[-1].append(each)
        else:
            result.append([each])
    return result


def _run(done: SurfaceSetOut, axis: int, at: float, group: Sequence[_Stretch], edges: Floats, labels: Sequence[str]) -> Run:
    size = done.field.pattern.box[axis]
    tiles = np.concatenate([each.tiles for each in group])
    wide = tiles[:, 1] - tiles[:, 0]
    cut = wide < size - TOUCH
    low, high = group[0].low, group[-1].high
    ends = tuple(_called(edges, labels, axis, at, end) for end in (low, high))
    return Run(
        axis=axis,
        ends=(ends[0], ends[1]),
        length=high - low,
        tiles=sum(each.whole for each in group),
        gaps=sum(max(len(each.tiles) - 1, 0) for each in group),
        joint=done.tile.joints[axis],
        moves=len(group) - 1,
        moving=math.fsum(after.low - before.high for before, after in itertools.pairwise(group)),
        cuts=(float(wide[0]) if cut[0] else 0.0, float(wide[-1]) if cut[-1] and len(wide) > 1 else 0.0),
        within=int(cut[1:-1].sum()),
        lines=1,
        edges=tuple(float(edge) for edge in np.round(tiles[:, 1] - low, 3)),
    )


def _called(edges: Floats, labels: Sequence[str], axis: int, at: float, end: float) -> str:
    """What stands nearest to the end of a run."""
    point = shapely.Point((end, at) if axis == 0 else (at, end))
    away = np.asarray(shapely.distance(shapely.linestrings(edges), point))
    nearest = int(np.argmin(away))
    return labels[nearest] if away[nearest] <= NEAR else worded("a joint")
