"""The keys of a plan file, as one table: what each may hold, what it is for, what it is if left out.

The file's JSON Schema and its messages both come from here.
"""

from __future__ import annotations

from layout.plan.patterns import PATTERN_NAMES
from layout.plan.wishes import CRITERIA
from layout.readers.fields import (
    Among,
    Choice,
    Day,
    Either,
    Flag,
    Key,
    Many,
    Named,
    Number,
    Pair,
    Table,
    Text,
    Wall,
)
from layout.setout.checks import CODES
from layout.standards.measure import MEASURE_RULES
from layout.standards.products import PRODUCT_KEYS
from layout.standards.rules import DEFAULT_RULE_SET, FALL_RANGES, FLOOR_SETS, WALL_SETS
from layout.standards.sealants import CLASSES

POSITIVE = Number(0.0, above=True)
NOT_NEGATIVE = Number(0.0)
PLAIN = Number(length=False)
SIZE = Pair(POSITIVE, "two sizes as [w, h]")
POINT = Pair()
BULGED = Table(
    {
        "to": Key(POINT, "the corner that the edge arrives at", must=True),
        "bulge": Key(Number(-1000, 1000, length=False), "tangent of a quarter of the included angle, as in DXF", default=0),
    }
)
OUTLINE = Many(Either(((list, POINT), (dict, BULGED))), 3)
SIDE = Choice(("first", "left", "right"))

START_LINE = Table(
    {
        "wall": Key(Wall(), "wall that the line is measured from", must=True),
        "at": Key(POSITIVE, "distance from the wall's face, mm", must=True),
        "face": Key(Choice(("bare", "membrane", "finished")), "the face that `at` counts from", default="finished"),
    }
)
CELL = Table(
    {
        "tiles": Key(Many(Many(POINT, 3), 1, 64), "outlines of the cell's tiles, convex, mm", must=True),
        "vectors": Key(Many(POINT, 2, 2), "the two vectors that repeat the cell, mm", must=True),
    }
)
BORDER = Table(
    {
        "tile": Key(Text(1), "tile of the border, its first side along the wall, laid in stack", must=True),
        "courses": Key(Number(1, 20, length=False, whole=True), "how many courses", default=1),
    }
)
TILE = Table(
    {
        "size": Key(SIZE, "measured work size [w, h], mm", default=[200, 200]),
        "thickness": Key(POSITIVE, "mm", default=10),
        "joint": Key(NOT_NEGATIVE, "joint between tiles, mm", default=6),
        "pattern": Key(Choice(PATTERN_NAMES), "how tiles are laid", default="stack"),
        "offset": Key(Number(0, 1, length=False), "shift of a running bond, part of the pitch", default=0.5),
        "turn": Key(Number(-360, 360, length=False), "degrees anticlockwise from `along`", default=0),
        "along": Key(Wall(), "the wall that the pattern follows; the longest straight wall if not given"),
        "least_cut": Key(Number(0), "least cut: up to 1 a part of the tile's shorter side, above 1 mm", default=0.5),
        "bed": Key(NOT_NEGATIVE, "thickness of the adhesive bed, mm", default=3),
        "face": Key(Choice(("plain", "directional")), "a directional face is never turned", default="plain"),
        "scatter": Key(NOT_NEGATIVE, "greatest less smallest size of a measured sample, mm"),
        "rectified": Key(Flag(), "saw sizes to half a millimetre instead of whole ones", default=False),
        "start": Key(POINT, "fix the start: a tile's lower-left corner in the floor's own mm"),
        "start_line": Key(START_LINE, "fix one start line; the other way the best start is found"),
        "small": Key(POSITIVE, 'side of the small tile, for pattern = "two-size"; half the large one\'s module if not given'),
        "border": Key(BORDER, "courses of another tile along the walls, round the field of a floor"),
        "cell": Key(CELL, 'a cell of one\'s own, for pattern = "own"'),
    }
)
PROJECT = Table(
    {
        "title": Key(Text(), "title of the job", default="Untitled"),
        "number": Key(Text(), "drawing number"),
        "date": Key(Day(), "date of issue"),
        "revision": Key(Text(), "revision letter"),
        "client": Key(Text(), "for whom"),
        "drawn_by": Key(Text(), "who drew it up"),
        "approved_by": Key(Text(), "who approves it"),
    }
)
WEIGHTS = Table({name: Key(Number(0.0, length=False), "weight of a millimetre of it; of a metre of wall for cuts") for name in CRITERIA})
RULES = Table(
    {
        "movement": Key(Choice(FLOOR_SETS), "movement joint rule set by its published source and condition", default=DEFAULT_RULE_SET),
        "wall_movement": Key(Choice(WALL_SETS), "rule set for joints in tiled walls; none if not given"),
        "measurement": Key(Choice(tuple(MEASURE_RULES)), "rule of measurement for tiled areas, beside the net figures", default="NET"),
        "bays": Key(Choice(("shift", "cut")), "beyond a joint whole tiles start afresh, or one lattice is cut through", default="shift"),
        "carry_joints": Key(
            Choice(("structural", "all", "none")), "floor joints that run on up tiled walls and over plinths", default="structural"
        ),
        "max_edge": Key(POSITIVE, "tighten the set: longest side of a bay, mm"),
        "max_area": Key(Number(0, above=True, length=False), "tighten the set: greatest bay, m2"),
        "max_aspect": Key(Number(1, length=False), "tighten the set: long over short side of a bay"),
        "movement_joint": Key(POSITIVE, "width of intermediate joints, mm; never under the set's least"),
        "perimeter_joint": Key(POSITIVE, "width of perimeter, plinth and column joints, mm"),
        "edge_gap": Key(
            NOT_NEGATIVE, 'gap between the floor tile and the wall, under the wall tile, where foot = "floor-through", mm', default=8
        ),
        "pipe_joint": Key(NOT_NEGATIVE, "sealant ring round pipes, mm", default=8),
        "drain_joint": Key(NOT_NEGATIVE, "sealant joint round drain frames, mm; 0 for none; by frame length if not given"),
        "wall_tolerance": Key(NOT_NEGATIVE, "how far a wall may stand from the drawing, mm", default=5),
        "tolerance": Key(Number(0, 20), "the saw's: cuts alike within it share a mark, mm", default=1),
        "foot": Key(Choice(("wall-through", "floor-through", "cove")), "which runs through at the foot of a wall", default="wall-through"),
        "cove": Key(SIZE, "rise and foot of the cove, mm", default=[100, 30]),
        "cove_set": Key(
            Choice(("fall", "level")), "the top of a cove follows the floor's fall, or is level at its highest", default="fall"
        ),
        "skirting": Key(SIZE, 'length and height of skirting pieces: coved ones with foot = "cove", else sit-on ones on untiled walls, mm'),
        "datum": Key(Many(Wall()), "walls that do not move: offsets are measured from them"),
        "start_order": Key(Many(Choice(CRITERIA), 1, len(CRITERIA)), "criteria of the start in order; those left out come behind"),
        "start_weights": Key(WEIGHTS, "criteria of the start weighed against each other, instead of an order"),
        "binding": Key(Many(Choice(tuple(CODES))), "finding codes whose presence gives exit status 1", default=[]),
        "membrane": Key(NOT_NEGATIVE, "thickness of the membrane, mm", default=2),
        "tape_external": Key(Flag(), "the system tapes external edges too", default=False),
        "tape_joints": Key(Flag(), "runs of tape may be joined anywhere; else only where they are longer than a roll", default=True),
        "tape_joint_clear": Key(NOT_NEGATIVE, "how far a lap in a run keeps from a corner, mm", default=150),
        "membrane_type": Key(
            Choice(("reaction-resin", "dispersion", "polymer-cement")), "for its least dry film", default="reaction-resin"
        ),
        "exposure": Key(Choice(("W0-I", "W1-I", "W2-I", "W3-I")), "class of exposure to water", default="W3-I"),
        "quartz_last": Key(Flag(), "broadcast quartz on the floor's last coat too", default=False),
        "courses": Key(
            Choice(("best", "floor", "datum", "head")),
            "where wall courses start, level round the room: for the widest cuts, on the floor, on the datum line, on the widest opening's head",
            default="best",
        ),
        "datum_line": Key(NOT_NEGATIVE, "level line that walls are measured from, above the finished floor, mm", default=1000),
        "wall_joints": Key(
            Choice(("balanced", "floor")), "upright joints of a wall: balanced by itself, or in line with the floor's", default="balanced"
        ),
        "falls": Key(Choice(("cut", "accept")), "tiles too long for a hip or valley are cut along it, or laid over it", default="cut"),
        "fall_range": Key(Choice(tuple(FALL_RANGES)), "published range of falls to check against", default="UK_WET_FLOOR"),
        "max_tiles": Key(Number(1, 50_000_000, length=False, whole=True), "refuse surfaces with more tiles", default=2_000_000),
    }
)
SEALANT = Table(
    {
        "temperatures": Key(Pair(Number(-60, 150, length=False), "[lowest, highest] in degrees C"), "of the tile's surface"),
        "expansion": Key(Number(0, 100, above=True, length=False), "of the tile, 1e-6 per K", default=7),
        "shrinkage": Key(Number(0, 5, length=False), "of what the tile is fixed to, mm per m", default=0),
        "movement_class": Key(Among(CLASSES), "of the sealant, ISO 11600, percent of its width", default=25),
        "tolerance": Key(Number(0, 20), "of the building, mm", default=0),
    }
)
WALL_NOTE = Table(
    {
        "wall": Key(Wall(), "number of the wall", must=True),
        "name": Key(Text(1), "name to show and to refer to"),
        "tanking_height": Key(NOT_NEGATIVE, "mm above the substrate floor"),
        "tile_height": Key(NOT_NEGATIVE, "mm above the substrate floor; 0 for no tile"),
        "tile": Key(Text(1), "tile to use on this wall"),
    }
)
OPENING = Table(
    {
        "wall": Key(Wall(), "wall it stands in", must=True),
        "offset": Key(NOT_NEGATIVE, "from the wall's first typed corner, or from the side named", must=True),
        "width": Key(POSITIVE, "mm", must=True),
        "head": Key(POSITIVE, "mm above the substrate floor", default=2100),
        "sill": Key(NOT_NEGATIVE, "mm above the substrate floor; 0 is a door", default=0),
        "depth": Key(NOT_NEGATIVE, "depth of the reveal, mm", default=0),
        "from": Key(SIDE, "side that `offset` counts from, seen from inside facing the wall", default="first"),
        "name": Key(Text(1), "name to show"),
        "threshold": Key(
            Choice(("strip", "upstand", "step", "floor")),
            "how the membrane ends at a door: strip, upstand, step, or another floor's",
            default="strip",
        ),
        "threshold_height": Key(NOT_NEGATIVE, "height of the upstand or step, mm", default=0),
        "level": Key(Number(), "finished level wanted at a threshold, mm"),
    }
)
DRAIN = Table(
    {
        "kind": Key(Choice(("gully", "channel")), "a point or a line drain", must=True),
        "at": Key(POINT, "centre of a gully"),
        "from": Key(POINT, "one end of a channel's centre line"),
        "to": Key(POINT, "other end of a channel's centre line"),
        "frame": Key(SIZE, "visible frame [w, h] of a gully", default=[200, 200]),
        "width": Key(POSITIVE, "visible width of a channel", default=160),
        "turn": Key(Number(-360, 360, length=False), "turn of a gully's frame, degrees", default=0),
        "flange": Key(NOT_NEGATIVE, "flange outside the frame that the membrane laps, mm", default=50),
        "joint": Key(NOT_NEGATIVE, "sealant joint round the frame, mm; 0 for none"),
        "level": Key(Number(), "finished level of the frame, mm; by the fall if not given"),
        "name": Key(Text(1), "name to show"),
    }
)
_SOLID = {
    "outline": Key(OUTLINE, "corners in order, mm", must=True),
    "name": Key(Text(1), "name to show"),
    "tile": Key(Text(1), "tile to use"),
}
PLINTH = Table(
    {
        **_SOLID,
        "height": Key(POSITIVE, "mm above the substrate floor", default=150),
        "on": Key(Choice(("slab", "membrane")), "on the slab the membrane goes up and over", default="slab"),
    }
)
COLUMN = Table(
    {
        **_SOLID,
        "tile_height": Key(NOT_NEGATIVE, "mm; the room's if not given"),
        "tanking_height": Key(NOT_NEGATIVE, "mm; the room's if not given"),
    }
)
_BREAK = {
    "at": Key(POINT, "centre, through the floor"),
    "wall": Key(Wall(), "wall it goes through, with offset and level"),
    "offset": Key(NOT_NEGATIVE, "along the wall, mm"),
    "level": Key(NOT_NEGATIVE, "above the substrate floor, mm"),
    "from": Key(SIDE, "side that `offset` counts from", default="first"),
    "name": Key(Text(1), "name to show"),
}
PIPE = Table(
    {
        **_BREAK,
        "diameter": Key(POSITIVE, "outside diameter, mm", must=True),
        "collar": Key(POSITIVE, "collar's outside diameter, mm; pipe plus two laps if not given"),
    }
)
FIXING = Table(
    {
        **_BREAK,
        "size": Key(SIZE, "size [w, h] of the foot, mm", must=True),
        "turn": Key(Number(-360, 360, length=False), "degrees", default=0),
    }
)
STRUCTURAL = Table(
    {
        "line": Key(Many(POINT, 2, 2), "two points of the joint", must=True),
        "width": Key(POSITIVE, "mm", default=20),
        "name": Key(Text(1), "name to show"),
        "of": Key(Choice(("structure", "substrate", "finish")), "what ends there; a change of finish is not bridged", default="structure"),
    }
)
DAY_JOINT = Table(
    {
        "line": Key(Many(POINT, 2, 2), "two points of the line", must=True),
        "name": Key(Text(1), "name to show"),
    }
)
FALL = Table(
    {
        "to": Key(Text(1), "name of the drain; a plane may do without"),
        "ratio": Key(
            Number(1, 10_000, length=False),
            "one in this many: on the longest way of a level perimeter, else of every plane; 80 if not given",
        ),
        "drop": Key(POSITIVE, "from the floor's level down to the drain, mm, instead of a ratio"),
        "region": Key(Many(POINT, 3), "corners of the floor that falls so; all that no other fall claims if not given"),
        "perimeter": Key(
            Choice(("level", "free", "threshold")),
            "level at the walls; free to follow the planes; or so, with the threshold at the floor's level; gullies level, channels free",
        ),
        "plane": Key(Many(Many(Number(), 3, 3), 3, 3), "three points [x, y, level] of a given plane: a ramp, a cross fall"),
        "name": Key(Text(1), "name to show"),
    }
)
LEVELS = Table(
    {
        "floor": Key(Number(), "finished level at the walls, mm", default=0),
        "datum": Key(Number(length=False), "level of ±0 on the site, m"),
        "screed": Key(NOT_NEGATIVE, "least thickness of the screed, mm", default=25),
        "slab": Key(Number(), "level of a flat slab under the screed, mm; instead of the least thickness"),
        "steps": Key(Flag(), "falls may meet at different levels", default=False),
    }
)
PULL = Table(
    {
        "want": Key(
            Choice(("tile", "crossing", "joint", "whole", "axis", "carry")),
            "tile or crossing: centred on it; joint: tile joints at its faces; whole: a whole tile at a wall or door; "
            "axis: balanced about the middle of a wall or door; carry: joints run on, through a door or onto a plinth",
            must=True,
        ),
        "to": Key(Wall(), "name of a drain, pipe, fixing, plinth, column or door, or a wall"),
        "at": Key(POINT, "a point instead, for tile and crossing"),
        "room": Key(Text(1), "for carry through a door: an earlier room, placed by at and turn"),
        "weight": Key(Number(0.0, above=True, length=False), "weight against other pulls", default=1),
    }
)
ROOM = Table(
    {
        "name": Key(Text(1), "name of the room"),
        "outline": Key(OUTLINE, "corners in order, mm; wall 1 runs from the first to the second", must=True),
        "outline_is": Key(Choice(("substrate", "finished")), "the face that was measured", default="substrate"),
        "tanking_height": Key(NOT_NEGATIVE, "mm above the substrate floor", default=150),
        "tile_height": Key(NOT_NEGATIVE, "mm; 0 leaves the walls untiled", default=0),
        "floor_tile": Key(Text(1), "tile for the floor", default="floor"),
        "wall_tile": Key(Text(1), "tile for the walls", default="wall"),
        "at": Key(POINT, "place of the room's origin on a key plan", default=[0, 0]),
        "turn": Key(Number(-360, 360, length=False), "turn of the room on a key plan, degrees", default=0),
        "walls": Key(Many(WALL_NOTE), "only where a wall differs"),
        "openings": Key(Many(OPENING), "doors, hatches, windows"),
        "drains": Key(Many(DRAIN), "gullies and channels"),
        "plinths": Key(Many(PLINTH), "plinths, kerbs and upstands"),
        "columns": Key(Many(COLUMN), "columns"),
        "pipes": Key(Many(PIPE), "pipes through floor or wall"),
        "fixings": Key(Many(FIXING), "machine feet, posts, sockets"),
        "structural_joints": Key(Many(STRUCTURAL), "joints of the structure"),
        "falls": Key(Many(FALL), "falls to drains"),
        "levels": Key(LEVELS, "finished levels, datum, screed"),
        "day_joints": Key(Many(DAY_JOINT), "where one day's or phase's membrane ends"),
        "height": Key(POSITIVE, "clear height of the room, mm; nothing is tanked or tiled above it"),
        "pulls": Key(Many(PULL), "what the start of the floor is drawn to, before its narrowest cut"),
    }
)
PRODUCTS = Table({name: Key(Number(0, above=True, length=False), "replaces the default figure") for name in PRODUCT_KEYS})
PLAN = Table(
    {
        "project": Key(PROJECT, "title block"),
        "tiles": Key(Named(TILE), "tiles by name; wall and plinth fall back to floor"),
        "rules": Key(RULES, "what governs the setting-out"),
        "sealant": Key(SEALANT, "what the width of sealant joints is worked out from"),
        "products_file": Key(Text(1), "file of supplier's figures, beside the plan; [products] goes before it"),
        "products": Key(PRODUCTS, "supplier's figures"),
        "rooms": Key(Many(ROOM, 1), "the rooms", must=True),
    }
)
