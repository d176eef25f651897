"""Sheet 1, floor setting-out: the lines to snap, the first whole tile, the cut at every wall."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.sheets.draft import Draft, Job, in_plan, layers_of
from layout.sheets.edge_figures import BAND_WALL, cut_sizes, running_dimensions, wall_dimensions
from layout.sheets.lettering import text_width
from layout.sheets.room_view import block_shape, entrance, name_things, name_walls
from layout.sheets.scene import Dimension, Fill, Label, Primitive, Stroke, Symbol, View, bubble_ring, readable
from layout.sheets.snap_points import along_its_wall, measured, struck_between
from layout.sheets.spots import REACHES, Spot, leader_spots
from layout.sheets.start_words import words
from layout.vectors import pair
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.place import Placer
    from layout.sheets.room_view import Base
    from layout.start.start_lines import StartLine

    Floats = NDArray[np.float64]

LINE_BEYOND = 8.0
FAR_OFF = 9.0
"""A figure that stands so far off its line needs a leader to it, paper mm."""
MOST_MEASURED_LINE = 40.0
"""Longer measuring lines, paper mm, are left out, as they would cross the floor; the figure names its wall instead."""
NAMED_FROM = 12.0
"""A part of a floor through which so much of a line runs names it, paper mm."""
ON_JOINT = 30.0
"""A start line this near a movement joint is drawn outside the room only, mm: the joint shows where it is."""


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of the lines to snap."""

    def draw(view: View, placer: Placer, column: Column) -> tuple[Primitive, ...]:
        room = job.only.room
        drawn, crowded = scene(room, job.only.base, view, placer)
        words(room, column, layers_of(drawn), view.scale, crowded)
        return drawn

    yield from in_plan(job, "setting-out", say("Floor setting-out"), draw)


def scene(room: RoomSetOut, base: Base, view: View, placer: Placer) -> tuple[tuple[Primitive, ...], list[tuple[str, str]]]:
    """The room scene of the setting-out sheet, and saw sizes that found no free place: at what, and which."""
    result: list[Primitive] = [*base.tiles, *base.outline, *base.services, *base.joints]
    result += _first_tile(room, view, placer)
    result += entrance(room, view, placer)
    result += _start_lines(room, view, placer)
    result += wall_dimensions(room, view, placer)
    running_dimensions(room, view, placer, result)
    unplaced = cut_sizes(room, view, placer)
    name_walls(room, view, placer, out=BAND_WALL)
    _joint_names(room, view, placer)
    name_things(room, view, placer)
    return tuple(result), unplaced


def _first_tile(room: RoomSetOut, view: View, placer: Placer) -> list[Primitive]:
    """The first whole tile of every bay that has a start of its own; no words stand on it."""
    floor = room.floor
    result: list[Primitive] = []
    bays = {line.bay for line in floor.start.lines}
    for bay in sorted(bays):
        whole = floor.field.bays[bay].whole
        if len(whole) == 0:
            continue
        ring = floor.field.outlines(np.concatenate([[bay], whole[0]]))[0]
        block_shape(placer, view, ring, 0.0)
        result += [Fill(shapely.Polygon(ring), "FIRST-TILE", 0.45), Stroke(ring, "FIRST-TILE", closed=True)]
    return result


def _start_lines(room: RoomSetOut, view: View, placer: Placer) -> list[Primitive]:
    result: list[Primitive] = []
    heads: list[Primitive] = []  # over every line, or a line that runs on in the next bay strikes a name out
    for line in room.floor.start.lines:
        a, b = np.array(line.start), np.array(line.end)
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        ends = (a - way * _beyond(a, -way, view, placer), b + way * _beyond(b, way, view, placer))
        if _on_joint(room, line):
            result += [Stroke(np.array([ends[0], a]), "START-LINE"), Stroke(np.array([b, ends[1]]), "START-LINE")]
        else:
            result.append(Stroke(np.array(ends), "START-LINE"))
        bubbles = [end + way * side * 3.6 * view.scale for end, side in ((ends[0], -1.0), (ends[1], 1.0))]
        kept = [each for each in bubbles if placer.keeps(_box_round(each, view))]
        if not kept:
            _named_beside(line.name, view.to_paper(np.array(ends)), placer)
        for centre in kept:
            at = (float(centre[0]), float(centre[1]))
            heads.append(Symbol("bubble", at, 7.2, "START-LINE"))
            paper = view.to_paper(centre)[0]
            height = 3.5 if len(line.name) == 1 else 2.5
            placer.fix(Label(line.name, pair(paper), height, "START-LINE", "centre", "middle", bold=True))
            block_shape(placer, view, np.array([centre - 3.6 * view.scale, centre + 3.6 * view.scale]), 0.0)
    result += heads
    for line in room.floor.start.lines:
        _block_line(line, view, placer)
    for line in room.floor.start.lines:
        _line_offsets(room, line, view, placer, result)
    return result


def _box_round(centre: Floats, view: View) -> tuple[float, float, float, float]:
    """Box of a bubble about a point of the room, paper mm."""
    x, y = pair(view.to_paper(centre[None])[0])
    return x - 3.6, y - 3.6, x + 3.6, y + 3.6


def _named_beside(name: str, ends: Floats, placer: Placer) -> None:
    """The name of a line (2, 2) paper mm, beside it where it runs through a part of the floor that shows neither of its ends."""
    seen = shapely.intersection(shapely.linestrings(ends), shapely.box(*(placer.core or placer.bounds)))
    if shapely.length(seen) < NAMED_FROM:
        return
    a, b = shapely.get_coordinates(seen)[[0, -1]]
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    normal = np.array([-way[1], way[0]])
    middle = (a + b) / 2.0
    spots = [
        Spot(pair(a + (b - a) * part + normal * far * (4.0 + abs(normal[0]) * 5.0)))
        for far in (1.0, -1.0, 1.5, -1.5)
        for part in (0.1, 0.9, 0.5, 0.2, 0.8, 0.3, 0.7, 0.4, 0.6)
    ]
    placer.place(say("line {name}", name=name), 3.5, "START-LINE", spots, boxed=True, bold=True, needed=True, foot=middle)


def _beyond(end: Floats, way: Floats, view: View, placer: Placer) -> float:
    """How far beyond its end a line is drawn, room mm: so far that its name stands free of other lines' names."""
    for far in (LINE_BEYOND, 16.0, 24.0, 32.0, 40.0):
        centre = view.to_paper((end + way * (far + 3.6) * view.scale)[None])[0]
        if placer.overlap((float(centre[0]) - 3.0, float(centre[1]) - 3.0, float(centre[0]) + 3.0, float(centre[1]) + 3.0)) <= 0.0:
            return far * view.scale
    return LINE_BEYOND * view.scale


def _on_joint(room: RoomSetOut, line: StartLine) -> bool:
    """Whether a start line runs along a movement joint, where it would hide it."""
    a, b = np.array(line.start), np.array(line.end)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    beside = 0.0
    for joint in room.joints:
        if joint.surface.kind == "floor" and joint.kind in ("intermediate", "structural"):
            off = np.abs(way[0] * (joint.line - a)[:, 1] - way[1] * (joint.line - a)[:, 0])
            beside += joint.length if float(off.max()) < ON_JOINT else 0.0
    return beside > 0.5 * float(np.hypot(*(b - a)))


def _line_offsets(room: RoomSetOut, line: StartLine, view: View, placer: Placer, scene_: list[Primitive]) -> None:
    """How the line is found at both ends, from the face that is there when it is snapped, its figure on the room's side of the line."""
    if not along_its_wall(room, line):
        _struck(room, line, view, placer, scene_)
        return
    a, b = np.array(line.start), np.array(line.end)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    to_wall = np.array(line.wall_way)
    angle = readable(math.degrees(math.atan2(way[1], way[0])))
    for k, offset in enumerate(line.offsets):
        foot = np.array(offset.at) + way * (14.0 if k == 0 else -14.0) * view.scale
        distance, name = measured(room, offset)
        face = foot + to_wall * distance
        plain = say("{distance:.0f} from {name}", distance=distance, name=name)
        if distance / view.scale <= MOST_MEASURED_LINE:
            scene_.append(Dimension((float(face[0]), float(face[1])), (float(foot[0]), float(foot[1])), 0.0, "", "DIMENSION", 3.5))
            block_shape(placer, view, np.array([face, foot]), 0.6)
            text = plain
        else:
            text = f"{plain} {offset.wall}" if name == "bare wall" else say("{plain} of wall {wall}", plain=plain, wall=offset.wall)
        spots = []
        for far in (4.4, 8.0, -4.4, 12.0, 17.0):
            for shift in (0.0, 12.0, 24.0, -8.0, 36.0):
                here = foot - to_wall * far * view.scale + way * (shift if k == 0 else -shift) * view.scale
                spot = view.to_paper(here)[0]
                spots.append(Spot((float(spot[0]), float(spot[1])), angle=angle, leader=far > FAR_OFF))
        at = view.to_paper(foot[None])[0]
        short = f"{distance:.0f}"  # the notes say from which face
        spots += [
            *([replace(spot, text=plain) for spot in spots] if text != plain else []),
            *leader_spots(pair(at), text=plain, reaches=REACHES[:4]),
            *[replace(spot, text=short) for spot in spots],
            *leader_spots(pair(at), text=short),
        ]
        placer.place(text, 3.5, "START-LINE", spots, boxed=True, bold=True, needed=True, foot=at)


def _struck(room: RoomSetOut, line: StartLine, view: View, placer: Placer, scene_: list[Primitive]) -> None:
    """A line that runs along no wall: at each end where it meets the wall's face, from a corner."""
    for each in struck_between(room, line):
        at = np.array(each.at)
        scene_.append(Stroke(bubble_ring(each.at, 1.1 * view.scale), "START-LINE", closed=True))
        text = say("{along:.0f} along wall {wall} from wall {corner_with}", along=each.along, wall=each.wall, corner_with=each.corner_with)
        run = next(wall.run for wall in room.lining.outline.walls if wall.run.number == each.wall)
        way = (run.points[-1] - run.points[0]) / max(run.length, 1e-9)
        inward, angle = np.array([-way[1], way[0]]), readable(math.degrees(math.atan2(way[1], way[0])))
        half = text_width(text, 3.5, bold=True) / 2
        paper = view.to_paper(at)[0]
        spots = [
            Spot((float(spot[0]), float(spot[1])), angle=angle)
            for far in (6.0, 10.0, -6.0, 15.0, 20.0, -10.0)
            for on in (half + 3.0, -half - 3.0, half + 12.0, -half - 12.0)
            for spot in [paper + inward * far + way * on]
        ]
        placer.place(text, 3.5, "START-LINE", spots, boxed=True, bold=True, needed=True, foot=paper)


def _block_line(line: StartLine, view: View, placer: Placer) -> None:
    """Keep labels off a start line, piece by piece."""
    a, b = np.array(line.start), np.array(line.end)
    steps = max(2, int(np.hypot(*(b - a)) / view.scale / 6.0))
    points = a + (b - a) * np.linspace(0.0, 1.0, steps)[:, None]
    for p, q in itertools.pairwise(points):
        block_shape(placer, view, np.array([p, q]), 0.4)


def _joint_names(room: RoomSetOut, view: View, placer: Placer) -> None:
    """Width and kind beside each movement joint in the field."""
    for joint in room.joints:
        if joint.surface.kind != "floor" or joint.kind not in ("intermediate", "structural"):
            continue
        a, b = joint.line[0], joint.line[-1]
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        normal = np.array([-way[1], way[0]])
        angle = readable(math.degrees(math.atan2(way[1], way[0])))
        word = say("structural joint") if joint.kind == "structural" else say("movement joint")
        spots = []
        for part in (0.5, 0.35, 0.65, 0.25, 0.75, 0.15, 0.85):
            for side in (2.6, -2.6):
                at = view.to_paper(a + (b - a) * part)[0] + normal * side
                spots.append(Spot((float(at[0]), float(at[1])), angle=angle))
        if float(np.hypot(*(b - a))) / view.scale > 28.0:
            placer.place(f"{word} {joint.width:g}", 2.5, "MOVEMENT-JOINT", spots, boxed=True)
