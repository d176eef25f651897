"""A floor's runs counted off again on its pieces: lines through the middles of tiles, what they cut through one after the other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from tests.recount.widths import lattice_of, turned

if TYPE_CHECKING:
    from tests.recount.tally import Tally
    from tests.recount.widths import Lattice

NEAR = 0.06
"""Places are told in thousandths and turned back, mm."""
SAWN = 40.0
"""A saw line along a fall runs through a tile at a slant: its two parts stand no further apart on a line, mm."""
ROUND = 1.0
"""A line that ends at a pipe or column by its side meets its ring at a slant, mm."""
BESIDE = 3.0
"""Where a line across a bond runs in a joint of its last course, it meets a slanted or curved wall between two tiles: their cuts differ from the one told
by so many joints."""
WHOLE = 0.11
"""A tile that a wall takes no more off is whole, mm."""


def count_runs(tally: Tally, parts: list[dict[str, Any]], room: dict[str, Any]) -> None:
    """Each run: its length is that of its tiles, joints and cuts; a line is found in the floor on which its tiles end where it says."""
    start = parts[0]["start"]
    if not start.get("runs"):
        return
    lattice = lattice_of(parts, [bay["origin"] for bay in room["bays"] if bay["surface_id"] == parts[0]["id"]] or [start["origin"]])
    if lattice is None:
        tally.unjudged["runs where no two rows of whole tiles tell the lattice"] += 1
        return
    for axis, way in enumerate(("along", "across")):
        own = [run for run in start.get("runs", ()) if run["way"] == way]
        if not own:
            continue
        lines, size = _lines(parts, lattice, axis), parts[0]["tile"]["size"][axis]
        end = BESIDE * parts[0]["tile"]["joint"] if axis == 1 and parts[0]["pattern"] == "running" else ROUND
        for run in own:
            _by_sum(tally, parts[0], run, axis)
            if not run["tiles"]:
                tally.unjudged["runs without a whole tile, but for their sums"] += 1
                continue
            where = f"{run['from']} to {run['to']}"
            tally.holds(
                "a run's tiles end on a line of the floor where it says",
                any(_met(line, run, size, end) for line in lines),
                run["tiles"],
                where=where,
            )


def _by_sum(tally: Tally, part: dict[str, Any], run: dict[str, Any], axis: int) -> None:
    """Tiles and joints of a run that has no cut within it make up its length; an end without a cut, and a side of a movement joint, may stand off by as much as a joint and its play."""
    cuts = [cut for cut in run["cuts_mm"] if cut > 0.0]
    count = run["tiles"] + len(cuts) + run["cuts_between"]
    tally.same("tiles of a run by its far edges", count, len(run["edges_mm"]))
    tally.same("joints of a run, one fewer than its tiles and cuts", run["joints"] + run["movement_joints"], count - 1)
    if run["cuts_between"]:
        return
    size = part["tile"]["size"][axis]
    made = run["tiles"] * size + run["joints"] * run["joint_mm"] + run["movement_joints_mm"] + sum(cuts)
    off = (2 - len(cuts) + 2 * run["movement_joints"]) * (run["joint_mm"] + 0.5)
    tally.no_more("length of a run, no less than its tiles, joints and cuts, mm", made, run["length_mm"], 0.25)
    tally.no_more("length of a run, no more than with a joint at each end without a cut, mm", run["length_mm"], made + off, 0.25)


def _lines(parts: list[dict[str, Any]], lattice: Lattice, axis: int) -> list[Any]:
    """What each line through the middle of a tile cuts out of tiles and pieces, in order: from and to, (n, 2) each.

    Where a line runs in a joint of the next course, what stands beside the joint counts; both sides of a saw line are one tile.
    """
    turn, beside = parts[0]["turn_deg"], parts[0]["tile"]["joint"] / 2 + 0.05
    pieces = [piece for part in parts for piece in part["pieces"]]
    shapes = np.array([shapely.Polygon(turned(p["outline"], -turn), [turned(h, -turn) for h in p["holes"]]) for p in pieces], dtype=object)
    _, number = np.unique([piece["tile"] for piece in pieces], axis=0, return_inverse=True)
    outlines = [lattice.outline(piece["tile"]) for piece in pieces]
    middles = [turned(outline, -turn).mean(axis=0)[1 - axis] for outline in outlines if outline is not None]
    at = np.unique(np.round(middles, 2))
    at = at[np.concatenate([[True], np.diff(at) > 0.02])]
    found = []
    for sawn in (0.0, SAWN):
        offs = (0.0, -beside, beside) if axis == 1 and parts[0]["pattern"] == "running" else (0.0,)
        spans = [_spans(shapes, number.ravel(), at + off, axis, sawn) for off in offs]
        found += [_beside([each[k] for each in spans]) for k in range(len(at))]
    return found


def _spans(shapes: Any, number: Any, at: Any, axis: int, sawn: float) -> list[Any]:
    """From and to of what lines at some places cut out of shapes, in order; parts of one tile no further apart than `sawn` are one."""
    low, high = shapely.total_bounds(shapes)[[axis, axis + 2]] + np.array([-1e3, 1e3])
    ends = np.array([[(low, y), (high, y)] for y in at])
    drawn: Any = shapely.linestrings(ends if axis == 0 else ends[..., ::-1])
    line, piece = shapely.STRtree(shapes).query(drawn, predicate="intersects")
    cut, owner = shapely.get_parts(shapely.intersection(drawn[line], shapes[piece]), return_index=True)
    spans = shapely.bounds(cut).reshape(-1, 4)[:, [axis, axis + 2]]
    of = line[owner]
    order = np.lexsort((spans[:, 0], of))
    result = []
    for own in np.split(order, np.searchsorted(of[order], np.arange(1, len(at)))):
        found: list[tuple[float, float, int]] = []
        for (one, two), tile in zip(spans[own].tolist(), number[piece[owner[own]]].tolist(), strict=True):
            if found and found[-1][2] == tile and one - found[-1][1] < sawn:
                found[-1] = (found[-1][0], two, tile)
            elif two - one > WHOLE:
                found.append((one, two, tile))
        result.append(np.array([each[:2] for each in found]).reshape(-1, 2))
    return result


def _beside(lines: list[Any]) -> Any:
    """A line with what stands on the lines at both sides of its joint where it has nothing itself."""
    found = lines[0]
    for other in lines[1:]:
        free = [span for span in other if not ((found[:, 0] < span[1] - 1.0) & (found[:, 1] > span[0] + 1.0)).any()]
        found = np.concatenate([found, np.array(free).reshape(-1, 2)])
    return found[np.argsort(found[:, 0])]


def _met(spans: Any, run: dict[str, Any], size: float, end: float) -> bool:
    """Whether as many tiles one after the other on a line end as the run says, either way along it, and are cut there as it says.

    A tile is whole on a line that runs over all of it, though it may have a notch or hole beside the line.
    """
    edges = np.array(run["edges_mm"])
    count = len(edges)
    if len(spans) < count:
        return False
    for own in (spans, -spans[::-1, ::-1]):
        windows = np.lib.stride_tricks.sliding_window_view(own[:, 1], count)
        off = np.abs(windows - windows[:, :1] - (edges - edges[0]))
        for k in np.flatnonzero((off[:, :-1].max(axis=1, initial=0.0) <= NEAR) & (off[:, -1] <= end)).tolist():
            wide = own[k : k + count, 1] - own[k : k + count, 0]
            full = wide >= size - WHOLE
            ends = list(zip((0, count - 1), run["cuts_mm"], strict=True))[:count]
            if all(full[n] if cut == 0.0 else abs(wide[n] - cut) <= end for n, cut in ends) and int(full.sum()) == run["tiles"]:
                return True
    return False
