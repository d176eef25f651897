"""The plan: what a person said about the rooms, valid, snapped, in millimetres; each key of its file declared once.

`PlanFile` is the file as typed; `Plan` is it settled: tile names, rules and figures of products worked in. Nothing else is
derived here beyond names and numbers as typed; the lining does that.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypeAlias

from layout.budgets import BUDGETS, Budgets
from layout.fields import Among, Day, Many, Text, WallName, words_of
from layout.keys import Form, Named, declared, key
from layout.plan.kept import KEPT_JOINT, KEPT_LINE, KEPT_MARK, MEASURED, KeptJoint, KeptLine, KeptMark, Measured
from layout.plan.ruling import Foot, Rules
from layout.plan.things import (
    OUTLINE,
    Break,
    Column,
    DayJoint,
    Drain,
    Fall,
    Fixing,
    Opening,
    Pipe,
    Plinth,
    RoomLevels,
    Solid,
    StructuralJoint,
    Vertex,
    WallNote,
    Wanted,
)
from layout.plan.tile import DEGREES, NOT_NEGATIVE, POINT, POSITIVE, BorderCourse, Cell, GivenLine, Tile, WallRef
from layout.plan.works import Works
from layout.standards.products import FIGURES, Products
from layout.standards.sealants import Sealant
from layout.words import Language

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Point, Rule

__all__ = [
    "BorderCourse", "Break", "Cell", "Column", "DayJoint", "Delivery", "Drain", "Fall", "Fixing", "Foot", "GivenLine", "Include", "KeptJoint",
    "KeptLine", "KeptMark", "Measured", "Opening",
    "Pipe", "Plan", "PlanFile", "Plinth", "Project", "Revision", "Room", "RoomLevels", "Rules", "Solid", "StructuralJoint", "Tile", "Vertex",
    "WallNote", "WallRef", "Wanted",
]  # fmt: skip

Stage: TypeAlias = Literal["preparation", "membrane", "fixing", "grouting", "sealing", "general"]
"""Stages of the works that a take-off is parted by."""
Tables: TypeAlias = Literal["agree", "job"]
Beside: TypeAlias = Literal["nothing", "feet"]
OutlineIs: TypeAlias = Literal["substrate", "finished"]
FORMATS = (1.0,)
"""Formats of plan files that this release reads."""


Status: TypeAlias = Literal["preliminary", "for approval", "for construction", "as built"]


@declared
class Revision:
    """One row of the revision table: what an issue of the set changed."""

    letter: str = key(Text(1, 4), "letter or number of the revision", since="0.2", example="B")
    date: dt.date = key(Day(), "day of its issue", since="0.2", example=dt.date(2026, 11, 24))
    what: str = key(Text(1), "what changed with it", since="0.2", example="Gully moved 120 towards wall 2")


@declared
class Project:
    """Title block words; the date is the plan's, never the clock's."""

    title: str = key(Text(), "title of the job", default="Untitled")
    number: str = key(Text(), "drawing number", default="", example="AQ-014")
    date: dt.date | None = key(Day(), "date of issue; the programme starts from it", default=None, example=dt.date(2026, 11, 24))
    revision: str = key(Text(), "revision letter", default="", left_out="that of the last row of revisions", example="A")
    client: str = key(Text(), "for whom", default="", example="an invented client")
    drawn_by: str = key(Text(), "who drew it up", default="", example="N. N.")
    approved_by: str = key(Text(), "who approves it", default="", example="N. N.")
    prepared: str = key(Text(), "who worked the setting-out out", default="", since="0.2", example="N. N.")
    checked: str = key(Text(), "who checked it", default="", since="0.2", example="M. M.")
    status: Status | None = key(words_of(Status), "what the set may be used for", default=None, since="0.2", example="for construction")
    beside: Beside = key(
        words_of(Beside),
        "what start lines are told in beside millimetres, on the terminal and the setting-out sheet",
        default="nothing",
        since="0.2",
    )
    language: Language = key(
        words_of(Language),
        "language of the words of sheets and page; --language goes before it",
        default="en",
        since="0.2",
        example="de",
    )
    revisions: tuple[Revision, ...] = key(
        Many(Form(Revision)),
        "revision table, oldest first; the last row is this issue",
        default=(),
        since="0.2",
        example=[{"letter": "A", "date": dt.date(2026, 11, 24), "what": "First issue"}],
    )


@declared
class Room:
    """One room as typed: outline corners in the user's order and direction."""

    name: str = key(Text(1), "name of the room", default="", left_out="Room and its place in the list", example="Wash-up")
    outline: tuple[Vertex, ...] = key(
        OUTLINE,
        "corners in order; wall 1 runs from the first to the second. A corner may be { to = [x, y], bulge = b, wall = 'name' }: "
        "the edge that arrives there is an arc, or has a name",
        unit="mm",
        example=[[0, 0], [6500, 0], [6500, 2900], [0, 2900]],
    )
    outline_is: OutlineIs = key(words_of(OutlineIs), "the face that was measured", default="substrate")
    tanking_height: float = key(NOT_NEGATIVE, "height of tanking above the substrate floor", unit="mm", default=150.0)
    tile_height: float = key(NOT_NEGATIVE, "height of tile above the substrate floor; 0 leaves the walls untiled", unit="mm", default=0.0)
    floor_tile: str = key(Text(1), "tile for the floor", default="floor")
    wall_tile: str = key(Text(1), "tile for the walls", default="wall")
    at: Point = key(POINT, "place of the room's origin on a key plan", unit="mm", default=(0.0, 0.0))
    turn: float = key(DEGREES, "turn of the room on a key plan", unit="degrees", default=0.0)
    storey: str = key(
        Text(), "storey it is on: bills and deliveries are told by it, and rooms of two storeys share no door", default="", since="0.2",
        left_out="the storey of its include", example="Level 1",
    )  # fmt: skip
    height: float | None = key(
        POSITIVE, "clear height of the room; nothing is tanked or tiled above it", unit="mm", default=None, example=2700
    )
    levels: RoomLevels = key(Form(RoomLevels), "finished levels, datum, screed", default=RoomLevels(), example={"screed": 25})
    walls: tuple[WallNote, ...] = key(
        Many(Form(WallNote)), "only where a wall differs", default=(), example=[{"wall": 2, "tile_height": 0}]
    )
    openings: tuple[Opening, ...] = key(
        Many(Form(Opening)), "doors, hatches, windows", default=(), example=[{"wall": 1, "offset": 900, "width": 1000}]
    )
    drains: tuple[Drain, ...] = key(Many(Form(Drain)), "gullies and channels", default=(), example=[{"kind": "gully", "at": [1500, 1500]}])
    plinths: tuple[Plinth, ...] = key(
        Many(Form(Plinth)), "plinths, kerbs and upstands", default=(), example=[{"outline": [[0, 0], [400, 0], [400, 400], [0, 400]]}]
    )
    columns: tuple[Column, ...] = key(
        Many(Form(Column)), "columns", default=(), example=[{"outline": [[0, 0], [400, 0], [400, 400], [0, 400]]}]
    )
    pipes: tuple[Pipe, ...] = key(
        Many(Form(Pipe)), "pipes through floor or wall", default=(), example=[{"at": [600, 600], "diameter": 110}]
    )
    fixings: tuple[Fixing, ...] = key(
        Many(Form(Fixing)), "machine feet, posts, sockets", default=(), example=[{"at": [600, 600], "size": [120, 120]}]
    )
    structural_joints: tuple[StructuralJoint, ...] = key(
        Many(Form(StructuralJoint)), "joints of the structure", default=(), example=[{"line": [[3600, 0], [3600, 4700]]}]
    )
    day_joints: tuple[DayJoint, ...] = key(
        Many(Form(DayJoint)), "where one day's or phase's membrane ends", default=(), example=[{"line": [[3000, 0], [3000, 2000]]}]
    )
    falls: tuple[Fall, ...] = key(Many(Form(Fall)), "falls to drains", default=(), example=[{"to": "gully 1", "ratio": 60}])
    pulls: tuple[Wanted, ...] = key(
        Many(Form(Wanted)),
        "what the start of the floor is drawn to, before its narrowest cut",
        default=(),
        example=[{"want": "tile", "to": "gully 1"}],
    )
    hidden: tuple[WallRef, ...] = key(
        Many(WallName()),
        "walls, columns, plinths that stand out of view, behind machines or below them: cuts of the floor there count after those in view",
        default=(),
        since="0.2",
        example=[3, "column 1"],
    )
    kept_lines: tuple[KeptLine, ...] = key(
        Many(KEPT_LINE), "lines that are snapped and stay, bay by bay", default=(), since="0.2", example=[{"at": [2031, 1025]}]
    )
    kept_joints: tuple[KeptJoint, ...] = key(
        Many(KEPT_JOINT),
        "movement joints of the floor that stay; more are made where the rules ask for them",
        default=(),
        since="0.2",
        example=[{"line": [[3600, 0], [3600, 4700]]}],
    )
    measured: tuple[Measured, ...] = key(
        Many(MEASURED),
        "figures as measured that the outline was fitted to, beside what was drawn; they are told and change nothing more",
        default=(),
        since="0.2",
        example=[{"what": "wall 7", "drawn": 7133, "measured": 7145}],
    )

    def edge_of(self, ref: WallRef, *, noted: bool = True) -> int | None:
        """Number of the typed edge that a reference means: its number, its own name, the one noted, or "wall 3"; None if there is none.

        A name goes before a number in words. The edge that arrives at the first corner is the last.
        """
        if isinstance(ref, int):
            return ref
        for k, vertex in enumerate(self.outline):
            if vertex.wall == ref:
                return k or len(self.outline)
        for note in self.walls if noted else ():
            if note.name == ref:
                return self.edge_of(note.wall, noted=False)
        number = ref.removeprefix("wall ")
        return int(number) if number.isascii() and number.isdecimal() and len(number) < 7 else None


@declared
class Include:
    """Rooms of another plan file, which stands beside this one; tiles, rules and products are this plan's."""

    file: str = key(Text(1), "plan file whose rooms are taken in, by its path from this plan's folder", example="level-1.toml")
    storey: str = key(Text(), "storey of its rooms that name none", default="", example="Level 1")
    prefix: str = key(Text(), "words before the names of its rooms, which tell rooms of one name apart", default="", example="L1 ")
    rooms: tuple[str, ...] = key(Many(Text(1)), "only these of its rooms", default=(), left_out="all", example=["Wash-up"])
    tables: Tables = key(
        words_of(Tables),
        "what holds where the file has tiles, rules, sealant or products too: agree, and what differs is refused; or job, and this plan's hold",
        default="agree",
    )
    at: Point = key(POINT, "how far its rooms are moved on the key plan", unit="mm", default=(0.0, 0.0))


@declared
class Delivery:
    """What comes to site together: the parts of the take-off for which all that is said here holds; no word on rooms means every room."""

    name: str = key(Text(1), "name of the delivery", example="Level 1, tile")
    date: dt.date | None = key(Day(), "day on which it is wanted", default=None, example=dt.date(2027, 1, 11))
    storeys: tuple[str, ...] = key(Many(Text(1)), "storeys that it is for", default=(), left_out="all", example=["Level 1"])
    rooms: tuple[str, ...] = key(Many(Text(1)), "rooms that it is for", default=(), left_out="all", example=["Wash-up"])
    stages: tuple[Stage, ...] = key(
        Many(words_of(Stage)), "stages of the works that it is for", default=(), left_out="all", example=["fixing"]
    )


@declared
class PlanFile:
    """A plan file as typed."""

    format: float = key(Among(FORMATS), "format of the plan file", default=1.0, since="0.2")
    project: Project = key(Form(Project), "title block", default=Project(), example={"title": "Alder Quay canteen"})
    tiles: Mapping[str, Tile] | None = key(
        Named(Form(Tile)), "tiles by name; wall and plinth fall back to floor", default=None, example={"floor": {"size": [200, 200]}}
    )
    rules: Rules = key(Form(Rules), "what governs the setting-out", default=Rules(), example={"wall_tolerance": 3})
    sealant: Sealant = key(
        Form(Sealant), "what the width of sealant joints is worked out from", default=Sealant(), example={"temperatures": [5, 60]}
    )
    products_file: str = key(
        Text(1), "file of supplier's figures, beside the plan; [products] goes before it", default="", example="products/house.toml"
    )
    products: Mapping[str, Rule] | None = key(
        FIGURES, "supplier's figures, each a number, or a table with value and source", default=None, example={"tape_roll_m": 50}
    )
    works: Works = key(Form(Works), "when and by whom the works are done", default=Works(), since="0.2", example={"hands": 4})
    budgets: Budgets = key(
        Form(Budgets), "how much is worked on before it is taken for a slip", default=BUDGETS, since="0.2", example={"side": 800_000}
    )
    include: tuple[Include, ...] = key(
        Many(Form(Include)), "rooms of other plan files, so that one plan holds a whole job", default=(), since="0.2",
        example=[{"file": "level-1.toml", "storey": "Level 1"}],
    )  # fmt: skip
    deliveries: tuple[Delivery, ...] = key(
        Many(Form(Delivery)), "deliveries in their order: each part of the take-off comes with the first that it fits, the rest at the end",
        default=(), since="0.2", example=[{"name": "Level 1", "storeys": ["Level 1"]}],
    )  # fmt: skip
    kept_marks: Mapping[str, KeptMark] | None = key(
        Named(KEPT_MARK),
        "marks that were issued: pieces like these keep them, others get numbers beyond",
        default=None,
        since="0.2",
        example={"C1": {"tile": "floor", "shape": "straight", "outline": [[0, 0], [137, 0], [137, 200], [0, 200]]}},
    )
    rooms: tuple[Room, ...] = key(
        Many(Form(Room), 1),
        "the rooms; they must stand unless some are included",
        default=(),
        example=[{"name": "Wash-up", "outline": [[0, 0], [6500, 0], [6500, 2900], [0, 2900]]}],
    )


PLAN_FILE = Form(PlanFile)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole plan. `source` is the file's name and `places` where each room is typed if files are included, for messages only."""

    source: str
    project: Project
    tiles: dict[str, Tile]
    rules: Rules
    products: Products
    rooms: tuple[Room, ...]
    budgets: Budgets = field(default=BUDGETS)
    deliveries: tuple[Delivery, ...] = ()
    places: tuple[str, ...] = field(default=(), compare=False)
    kept_marks: Mapping[str, KeptMark] = field(default_factory=dict)
    place: tuple[str, ...] = field(default=())
    works: Works = field(default=Works())

    def __repr__(self) -> str:
        return f"<Plan {self.source}: {', '.join(room.name for room in self.rooms[:3])}{', …' if len(self.rooms) > 3 else ''}>"

    def place_of(self, room: int) -> str:
        """File and table of a room, which counts from 0: the plan's own, or the one it is included from."""
        return self.places[room] if self.places else f"{self.source}: rooms[{room}]"

    def tile(self, name: str) -> Tile:
        """The tile of a name; wall and plinth fall back to floor."""
        return self.tiles.get(name) or self.tiles["floor"]
