"""Rooms for tests: as plan text, turned, shifted, typed the other way round, and at random."""

from __future__ import annotations

import json
import math
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from shapely import Polygon

from layout.joints.lines import border_joints, corner_joints, foot_joints
from layout.lining.build import build_lining
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.shapes import cleaned_ring
from layout.tanking.tape import reinforce

if TYPE_CHECKING:
    from layout.joints.lines import MovementJoint
    from layout.lining.build import Lining
    from layout.plan.values import Plan
    from layout.setout.values import RoomSetOut, SetOut
    from layout.tanking.tape import Tape

Ring = list[list[float]]


def toml_value(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml_value(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(each) for each in value) + "]"
    return json.dumps(value)


def plan_text(room: dict[str, Any], *, tiles: dict[str, Any] | None = None, rules: dict[str, Any] | None = None) -> str:
    """A plan of one room as TOML; lists of tables in `room` become arrays of tables."""
    lines: list[str] = []
    for name, tile in (tiles or {"floor": {"size": [200, 200], "joint": 6}}).items():
        lines.append(f"[tiles.{name}]")
        lines += [f"{key} = {toml_value(value)}" for key, value in tile.items()]
    lines.append("[rules]")
    lines += [f"{key} = {toml_value(value)}" for key, value in (rules or {}).items()]
    lines.append("[[rooms]]")
    tables = {
        key: value for key, value in room.items() if isinstance(value, list) and value and isinstance(value[0], dict) and key != "outline"
    }
    lines += [f"{key} = {toml_value(value)}" for key, value in room.items() if key not in tables]
    for key, rows in tables.items():
        for row in rows:
            lines.append(f"[[rooms.{key}]]")
            lines += [f"{name} = {toml_value(value)}" for name, value in row.items()]
    return "\n".join(lines) + "\n"


def plan_of(room: dict[str, Any], **given: Any) -> Plan:
    """A plan of one room."""
    return parse_plan(plan_text({"name": "Room", **room}, **given), "test.toml")


def set_out_room(room: dict[str, Any], **given: Any) -> RoomSetOut:
    """One room, set out."""
    return set_out(plan_of(room, **given)).rooms[0]


class Lined(NamedTuple):
    """What of a room no start and no tile decides: its lining, the joints along borders, feet and corners, and the tape."""

    lining: Lining
    joints: list[MovementJoint]
    tape: Tape


def lined_room(room: dict[str, Any], **given: Any) -> Lined:
    """One room as far as its lining goes: a tenth of the time of a set-out."""
    plan = plan_of(room, **given)
    lining = build_lining(plan, 0)
    joints = [joint for each in lining.surfaces for joint in (*border_joints(each), *foot_joints(each, plan.rules))]
    joints += corner_joints(lining)
    return Lined(lining, joints, reinforce(lining, joints))


def moved(room: dict[str, Any], *, turn: float = 0.0, shift: tuple[float, float] = (0.0, 0.0)) -> dict[str, Any]:
    """The room turned about the origin, then shifted; coordinates are rounded as a plan's are."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    if turn % 90.0 == 0.0:
        cos, sin = round(cos), round(sin)

    def at(point: list[float]) -> list[float]:
        x, y = point
        return [round(x * cos - y * sin + shift[0], 3), round(x * sin + y * cos + shift[1], 3)]

    result = {**room, "outline": [{**p, "to": at(p["to"])} if isinstance(p, dict) else at(p) for p in room["outline"]]}
    for key in ("plinths", "columns"):
        if key in room:
            result[key] = [{**each, "outline": [at(p) for p in each["outline"]]} for each in room[key]]
    for key in ("structural_joints", "day_joints"):
        if key in room:
            result[key] = [{**each, "line": [at(p) for p in each["line"]]} for each in room[key]]
    for key in ("pipes", "drains", "fixings", "pulls"):
        if key in room:
            result[key] = [
                {
                    **each,
                    **{name: at(each[name]) for name in ("at", "from", "to") if isinstance(each.get(name), list)},
                    **({"turn": turn} if key == "fixings" or each.get("kind") == "gully" else {}),
                }
                for each in room[key]
            ]
    return result


def reversed_outline(room: dict[str, Any]) -> dict[str, Any]:
    """The same room typed the other way round: wall i becomes wall n - i; openings follow."""
    n = len(room["outline"])
    corners = [corner if isinstance(corner, dict) else {"to": corner} for corner in room["outline"]]
    # an arc is typed at the corner where it arrives
    bulges = [-corners[(k + 1) % n].get("bulge", 0.0) for k in range(n)]
    outline = [{"to": corners[k]["to"], "bulge": bulges[k]} if bulges[k] else corners[k]["to"] for k in (0, *range(n - 1, 0, -1))]
    result = {**room, "outline": outline}
    if "openings" in room:
        lengths = [math.dist(room["outline"][k], room["outline"][(k + 1) % n]) for k in range(n)]
        result["openings"] = [
            {**each, "wall": n + 1 - each["wall"], "offset": round(lengths[each["wall"] - 1] - each["offset"] - each["width"], 3)}
            for each in room["openings"]
        ]
    return result


def summary(room: RoomSetOut, setout: SetOut | None = None) -> dict[str, Any]:
    """What must not change when a room is turned, shifted or typed otherwise."""
    floor = room.floor
    joints: Counter[str] = Counter()
    for joint in room.joints:
        joints[joint.kind] += round(joint.length, 1)  # type: ignore[assignment]
    tape: Counter[str] = Counter()
    for run in room.tape.runs:
        tape[run.kind] += round(run.length, 1)  # type: ignore[assignment]
    areas = sorted(round(p.area) for p in floor.field.pieces())
    return {
        "whole": len(floor.field.whole),
        "cut": floor.field.places_cut(),
        "pieces": len(floor.field.cut),
        "smallest": round(floor.start.smallest, 1),
        "worst": round(floor.start.worst, 1),
        "joints": {key: round(value) for key, value in joints.items()},
        "tape": {key: round(value) for key, value in tape.items()},
        "corners": {kind: room.tape.count(kind) for kind in ("internal", "external", "made")},
        "areas": areas,
        "marks": len(setout.cuts) if setout else None,
    }


def random_rectilinear(rng: np.random.Generator, *, holes: bool = True) -> dict[str, Any]:
    """A random room with square corners: a union of boxes, with columns and plinths that keep off the walls."""
    step = int(rng.choice([50, 103, 206, 37]))
    while True:
        boxes = []
        for _ in range(int(rng.integers(1, 4))):
            x, y = rng.integers(0, 20, 2) * step
            w, h = rng.integers(8, 40, 2) * step
            boxes.append(shapely.box(x, y, x + w, y + h))
        shape = shapely.union_all(boxes)
        if isinstance(shape, Polygon) and not shape.interiors:
            break
    ring = cleaned_ring(shapely.get_coordinates(shapely.orient_polygons(shape).exterior)[:-1])
    room: dict[str, Any] = {"outline": [[float(x), float(y)] for x, y in ring]}
    if holes:
        inner = shape.buffer(-150.0, join_style="mitre")
        taken: list[Polygon] = []
        for kind in ("columns", "plinths", "columns"):
            if rng.random() < 0.5 or inner.is_empty:
                continue
            x0, y0, x1, y1 = inner.bounds
            w, h = rng.integers(2, 7, 2) * 100
            x, y = float(rng.integers(int(x0), int(x1) + 1)), float(rng.integers(int(y0), int(y1) + 1))
            box = shapely.box(x, y, x + w, y + h)
            if inner.covers(box) and all(other.distance(box) > 150.0 for other in taken):
                taken.append(box)
                outline = [[x, y], [x + float(w), y], [x + float(w), y + float(h)], [x, y + float(h)]]
                room.setdefault(kind, []).append({"outline": outline})
    return room


def random_skew(rng: np.random.Generator) -> dict[str, Any]:
    """A random room out of square, sometimes with a column."""
    count = int(rng.integers(4, 9))
    angles = np.sort(rng.random(count)) * 2 * math.pi
    radius = rng.uniform(1500, 4500, count)
    ring = np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]).round(0)
    polygon = Polygon(ring)
    if not polygon.is_valid or polygon.area < 3e6 or polygon.buffer(-300).is_empty or polygon.minimum_clearance < 100:
        return random_skew(rng)
    room: dict[str, Any] = {"outline": ring.tolist()}
    at = polygon.buffer(-300).representative_point()
    hole = at.buffer(120, quad_segs=2)
    if rng.random() < 0.5 and polygon.buffer(-150).covers(hole):
        room["columns"] = [{"outline": shapely.get_coordinates(hole)[:-1].round(1).tolist()}]
    return room


def bays_between_drawn_joints(room: RoomSetOut) -> list[shapely.Polygon]:
    """The floor's bays, made anew from the joints as drawn: an independent reading of the drawing."""
    strips = [
        shapely.LineString(joint.line).buffer(joint.width / 2 + 1e-6, cap_style="square")
        for joint in room.joints
        if joint.kind in ("intermediate", "structural") and joint.surface.name == "floor"
    ]
    left = shapely.difference(room.lining.floor.field, shapely.union_all(strips))
    # where a joint runs along an edge its strip is told as lost: neither tile nor joint, so no way from one bay to the next
    half = max((joint.width for joint in room.joints if joint.kind in ("intermediate", "structural")), default=0.0) / 2 + 0.5
    cores = shapely.get_parts(shapely.buffer(left, -half, join_style="mitre"))
    # each core grows back by itself: grown together, a sharp corner would reach over a joint into its neighbour
    grown = shapely.intersection(shapely.buffer(cores, half, join_style="mitre"), left)
    pieces = [part for core, whole in zip(cores, grown, strict=True) for part in shapely.get_parts(whole) if part.intersects(core)]
    return [piece for piece in pieces if piece.area >= 100.0]
