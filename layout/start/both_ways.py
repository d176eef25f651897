"""Starts found in both directions at once, where short edges make the directions hang together: on a floor of one bay or of several.

A wall, nib or column hardly longer than a tile is met by some courses only, so what it cuts hangs on the start of both directions. The bays
of a division keep their places to each other: their edges are laid over one another, and one start is searched for all.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from layout.joints.divide import divide
from layout.shapes import turned
from layout.start.offsets import snapped
from layout.start.search import Searched, proof_most, search_offsets
from layout.start.settled import Settled, cut_faces
from layout.tiles.widths import Play, narrowest_many
from layout.units import TOUCH
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    import shapely

    from layout.errors import Point
    from layout.joints.values import Division, Undivided
    from layout.start.faces import Faces
    from layout.vectors import Floats, Ints

SEARCHED_SIDES = 200
"""Starts tried on a side of a plinth or column and in a reveal: narrow faces, of which a room has many."""
LOOKED, FINER = 4.0, 0.5
"""How far apart starts along one direction are looked at, first and beside the best of those, mm."""
PROOF = 0.9
"""Up to so much of what a better start could give the search goes on, mm: less than what is told as proved, as the start told may give a trifle less."""
ASIDE = 0.5
"""How far a start found in both directions steps aside from where an edge begins to cut a tile right across, mm."""
ROUNDED = 0.02
"""How far a start may be off where it is told and laid, mm."""


def found_both_ways(faces: Faces, division: Division | None = None, start: Point = (0.0, 0.0)) -> Point:
    """The best start both ways of a surface undivided; or of its bays, standing to each other as they do for `start`, in the joint frame, mm.

    Bays that start for themselves along a direction do not move with the others: they are left out. Faces of given joints are edges like walls.
    """
    rows = _in_view(faces)
    edges, play = faces.edges[rows], faces.play.of(rows)
    if division is not None:
        edges, play = _of_bays(faces, division, start)
    local = turned(edges.reshape(-1, 2), faces.frame - faces.turn).reshape(-1, 2, 2)
    most = None if faces.surface.kind in ("floor", "wall") else SEARCHED_SIDES
    found = search_offsets(local, play, faces.pattern, faces.pattern.widest, most=most)
    x, y = turned(np.array([_steady(faces, (local, play), found, ASIDE)]), faces.turn - faces.frame)[0]
    return snapped(float(x)), snapped(float(y))


def found_along(faces: Faces, division: Division, start: Point, axis: int) -> Point | None:
    """The best start along an axis of bays that start for themselves along the other one, of those looked at, in the joint frame, mm; None if there are none.

    What short edges cut there hangs on where the bays stand the other way. Starts are looked at every few millimetres, then more closely.
    """
    alone = division.own or ((False, False),) * len(division.bays)
    if not any(itself[1 - axis] and not itself[axis] for itself in alone):
        return None
    edges, play = _edges_of([bay for bay, itself in zip(division.bays, alone, strict=True) if not itself[axis]], faces, division, start)
    local = turned(edges.reshape(-1, 2), faces.frame - faces.turn).reshape(-1, 2, 2)
    pitch, at, width = faces.lattice[axis].pitch, 0.0, 1.0
    for step in (LOOKED, FINER):
        by = at + np.arange(-width / 2, width / 2, step / pitch) * pitch
        moves = turned(np.array(start) + by[:, None] * np.eye(2)[axis], faces.frame - faces.turn)
        values = narrowest_many(local, play, faces.pattern, faces.pattern.widest, moves)
        best = values >= values.max() - TOUCH
        # of those that are as good the one well among its like: at the edge of them a cut is a strip by the last digit
        among = np.abs(by[:, None] - by[~best]).min(axis=1, initial=pitch)
        at, width = float(by[int(np.lexsort((np.abs(by), -np.where(best, among, -1.0)))[0])]), 2.0 * step / pitch
    found = [start[0], start[1]]
    found[axis] = snapped((start[axis] + at) % pitch)
    return found[0], found[1]


def _in_view(faces: Faces) -> Ints:
    """The edges that a search in both directions weighs: those in view, or all where none is."""
    seen = np.flatnonzero(faces.counts & ~faces.hidden)
    return seen if len(seen) else np.flatnonzero(faces.counts)


def _of_bays(faces: Faces, division: Division, start: Point) -> tuple[Floats, Play]:
    """Edges of all bays that a start moves both ways, each as if its bay's lattice stood at the start, and their play."""
    alone = division.own or ((False, False),) * len(division.bays)
    return _edges_of([bay for bay, itself in zip(division.bays, alone, strict=True) if not any(itself)], faces, division, start)


def _edges_of(bays: Sequence[tuple[shapely.Polygon, Point]], faces: Faces, division: Division, start: Point) -> tuple[Floats, Play]:
    """Edges of some bays, each as if its bay's lattice stood at the start, and their play."""
    rows = _in_view(faces)
    fixed = _faces_of_cuts(replace(division, cuts=tuple(cut for cut in division.cuts if cut.fixed)))
    every = np.concatenate([faces.edges[rows], fixed])
    own = faces.play.of(rows)
    none = Play.plain(np.zeros(len(fixed)))
    play = Play(*(np.append(getattr(own, name), getattr(none, name)) for name in ("play", "out", "into", "partly")))
    edges, which = [np.empty((0, 2, 2))], [np.empty(0, dtype=np.int64)]
    for region, origin in bays:
        hit = np.flatnonzero(faces.touching(region, every))
        edges.append(every[hit] - (np.array(origin) - np.array(start)))
        which.append(hit)
    return np.concatenate(edges), play.of(np.concatenate(which))


def searched(faces: Faces, undivided: Undivided) -> Settled:
    """Start of a lattice whose directions do not part: searched over one cell, with the joints that are sawn through it.

    What is told counts cuts right across alone; the search prefers a start whose walls leave no narrow corner of a tile either, then one
    that does so out of view too, where what is told of it is within the walls' tolerance of the best. What a better start could give is
    bounded by what is told, among the joints the search began with. Where the start that is found moves them the bound says nothing: then
    it is the best of those that were tried.
    """
    cuts = _faces_of_cuts(divide(undivided, (0.0, 0.0)))
    seen, every = (_search_over(faces, rows, cuts) for rows in (_in_view(faces), np.flatnonzero(faces.counts)))
    found, held = _searched(faces, seen, every)
    start = turned(np.array([[snapped(held[0]), snapped(held[1])]]), faces.turn - faces.frame)[0]
    at = pair(start)
    division = divide(undivided, at)
    after = _faces_of_cuts(division)
    same = after.shape == cuts.shape and bool(np.allclose(after, cuts, atol=TOUCH))
    if not same:
        return Settled(at, ((), ()), "tried", division, tried=found.evaluations)
    return Settled(at, ((), ()), "search", division, found.gap, tried=found.evaluations, promised=found.value)


def _searched(faces: Faces, seen: tuple[Floats, Play], every: tuple[Floats, Play]) -> tuple[Searched, Point]:
    """The start that is taken over the edges in view and over all: what is told of it, with what none gives more than, and where it holds, mm."""
    pattern, cap = faces.pattern, faces.pattern.widest
    most = None if faces.surface.kind in ("floor", "wall") else SEARCHED_SIDES
    told = (seen[0], replace(seen[1], partly=np.zeros(len(seen[0]), dtype=bool)))
    tried = [
        (search_offsets(*over, pattern, cap, most=most), over) for over in ((every, seen) if len(seen[0]) < len(every[0]) else (seen,))
    ]
    values = narrowest_many(*told, pattern, cap, np.array([one.at for one, _ in tried])).tolist()
    most = most or proof_most(len(told[0]))
    best = search_offsets(*told, pattern, cap, good_to=PROOF, most=most, begin=tried[int(np.argmax(values))][0].at)
    count, top = best.evaluations + sum(one.evaluations for one, _ in tried), best.value + best.gap
    for (one, over), value in zip(tried, values, strict=True):
        if value >= best.value - faces.rules.wall_tolerance:
            return Searched(one.at, value, max(top - value, 0.0), count), _steady(faces, over, one)
    return replace(best, evaluations=count), _steady(faces, told, best)


def _steady(faces: Faces, seen: tuple[Floats, Play], found: Searched, by: float = TOUCH / 2) -> Point:
    """A searched start, or one `by` mm beside it, that holds what it gives where it is rounded, mm.

    What a wall takes off a tile counts from `TOUCH` on. A start that is moved up to that edge falls over it with its last digit: then it is
    taken back to where the same cuts hold all round.
    """
    aside = np.array([(x, y) for x in (0.0, by, -by) for y in (0.0, by, -by)])
    round_it = np.array([(0.0, 0.0), (ROUNDED, ROUNDED), (ROUNDED, -ROUNDED), (-ROUNDED, ROUNDED), (-ROUNDED, -ROUNDED)])
    places = np.array(found.at) + aside
    moves = (places[:, None] + round_it).reshape(-1, 2)
    held = narrowest_many(*seen, faces.pattern, faces.pattern.widest, moves).reshape(len(aside), -1).min(axis=1)
    return found.at if held[0] >= found.value - TOUCH or held.max() <= held[0] + TOUCH else pair(places[int(held.argmax())])


def _search_over(faces: Faces, rows: Ints, cuts: Floats) -> tuple[Floats, Play]:
    """Some edges of a field and the faces of its cuts, in the lattice's axes, and their play."""
    edges = np.concatenate([faces.edges[rows], cuts])
    # where directions do not part, a wall that cuts a tile in part is worth as much: short walls are the rule
    own, walls = faces.play.of(rows), faces.joints[rows] > 0.0
    more = Play.plain(np.zeros(len(cuts)))
    play = Play(np.append(own.play, more.play), np.append(own.out, more.out), np.append(own.into, more.into), np.append(walls, more.partly))
    if faces.surface.placing.line is not None:  # a wall typed at an odd angle is longer or shorter by a rounding: one search for both
        edges = np.round(edges, 2) + 0.0
    return turned(edges.reshape(-1, 2), faces.frame - faces.turn).reshape(-1, 2, 2), play


def _faces_of_cuts(division: Division) -> Floats:
    """Both faces of every cut of a division, (n, 2, 2), mm."""
    faces = [face for cut in division.cuts for segment in cut.segments for face in cut_faces(segment, cut.width)]
    return np.array(faces).reshape(-1, 2, 2)
