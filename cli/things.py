"""Things that a person adds to a room in few words: what they are called, which keys they have, and where they stand."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import layout
from layout.fields import Choice, Faults, Field, Number, Pair
from layout.keys import Form, told_unknown
from layout.plan.things import Column, DayJoint, Drain, Fall, Fixing, Opening, Pipe, Plinth, StructuralJoint, WallNote, Wanted
from layout.plan.tile import SIZE
from layout.survey import placing
from layout.units import metres_typed, parse_length

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from layout.plan.values import Room


@dataclass(frozen=True)
class Kind:
    """A thing by the word that a person calls it: its list in the plan, its form, keys that the word itself gives, keys worth a question.

    A `solid` has an outline, a `line` two ends, a `spot` one point or two that two distances each give.
    """

    table: str
    form: Form[Any]
    given: dict[str, Any] = field(default_factory=dict)
    asked: tuple[str, ...] = ()
    solid: bool = False
    line: bool = False
    spot: bool = False


KINDS: dict[str, Kind] = {
    "door": Kind("openings", Form(Opening), asked=("wall", "from", "offset", "width", "head")),
    "window": Kind("openings", Form(Opening), {"sill": 900.0}, asked=("wall", "from", "offset", "width", "sill", "head")),
    "gully": Kind("drains", Form(Drain), {"kind": "gully"}, asked=("at", "frame"), spot=True),
    "drain": Kind("drains", Form(Drain), {"kind": "gully"}, asked=("at", "frame"), spot=True),
    "channel": Kind("drains", Form(Drain), {"kind": "channel"}, asked=("from", "to", "width"), line=True, spot=True),
    "pipe": Kind("pipes", Form(Pipe), asked=("at", "diameter"), spot=True),
    "fixing": Kind("fixings", Form(Fixing), asked=("at", "size"), spot=True),
    "plinth": Kind("plinths", Form(Plinth), asked=("outline", "height"), solid=True),
    "column": Kind("columns", Form(Column), asked=("outline",), solid=True),
    "fall": Kind("falls", Form(Fall), asked=("to", "ratio")),
    "joint": Kind("structural_joints", Form(StructuralJoint), line=True, spot=True),
    "day-joint": Kind("day_joints", Form(DayJoint), line=True, spot=True),
    "pull": Kind("pulls", Form(Wanted), spot=True),
    "wall": Kind("walls", Form(WallNote)),
}
"""What can be added, by its word in the trade."""


def kind_of(word: str) -> Kind:
    """A kind by its word.

    Raises
    ------
    PlanError
        If there is none, with the one that may be meant.
    """
    word = {"hatch": "window", "opening": "door"}.get(word.strip().lower(), word.strip().lower())
    if word not in KINDS:
        near = difflib.get_close_matches(word[:40], KINDS, n=1)
        raise layout.PlanError("THING", f"{word[:40]!r} found", f"did you mean {near[0]}?" if near else "add one of " + ", ".join(KINDS))
    return KINDS[word]


def typed(check: Field[Any], text: str) -> Any:  # noqa: ANN401  # whatever a plan file may hold
    """Words of a person as a plan file would hold them, by what the key wants; TOML where they are TOML.

    >>> typed(Number(), "1.2 m"), typed(Pair(), "300x200"), typed(Pair(), "[1, 2]")
    ('1.2 m', [300.0, 200.0], [1, 2])
    """
    import tomllib

    text = text.strip()
    if isinstance(check, (Number, Choice)) or text.startswith(("'", '"')):
        try:
            return tomllib.loads(f"value = {text}")["value"]
        except tomllib.TOMLDecodeError:
            return text
    if isinstance(check, Pair) and not text.startswith("["):
        parts = re.split(r"\s*[xX×,]\s*|\s+(?=[\d.-])", text)
        try:
            return [parse_length(part) for part in parts]
        except ValueError:
            return text
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError):
        return text


def read_key(form: Form[Any], name: str, text: str, word: str) -> Any:  # noqa: ANN401
    """A key's value as the file holds it, from words, checked by its own declaration; `word` is what the thing is called.

    Raises
    ------
    PlanError
        If there is no such key, or the value is not what it may be.
    """
    faults = Faults(word)
    if name not in form.rows:
        told_unknown(name, tuple(form.rows), name, faults)
        raise faults.found[0]
    check = form.rows[name].key.check
    read = check.read(typed(check, text), name, faults)
    if faults.found:
        raise faults.found[0]
    return check.write(read)


def sized(text: str, place: str) -> layout.Point:
    """Two sizes as 1300x800.

    Raises
    ------
    PlanError
        If they are not two lengths above 0.
    """
    faults = Faults(place)
    read = SIZE.read(typed(SIZE, text), "", faults)
    if read is None:
        raise layout.PlanError(place, f"{text!r} found", "write two sizes as 1300x800")
    return read


def as_pair(point: layout.Point) -> list[float]:
    """A point as a person would write it in a plan."""
    return [Number().write(each) for each in point]


@dataclass(frozen=True)
class Place:
    """Where a thing stands: a point, or both points that two tapes give; and how that was said."""

    points: tuple[layout.Point, ...]
    said: str


class Floor:
    """A room's typed outline, as far as places are measured from it."""

    def __init__(self, room: Room) -> None:
        import numpy as np

        self.room = room
        self.corners: NDArray[np.float64] = np.array([vertex.to for vertex in room.outline], dtype=float)
        self.bent = [vertex.bulge != 0.0 for vertex in (*room.outline[1:], room.outline[0])]

    def wall(self, text: str) -> int:
        """A wall by number, name, or the letter of its side; counted from 0.

        Raises
        ------
        PlanError
            If there is none.
        """
        ref: int | str = int(text) if text.isascii() and text.isdecimal() and len(text) < 7 else text
        number = self.room.edge_of(ref) or self.room.edge_of(f"side {text}") or self.room.edge_of(f"side {text.upper()}")
        if number is None or not 1 <= number <= len(self.corners):
            raise layout.PlanError("wall", f"{text!r} found", f"walls are numbered 1 to {len(self.corners)}, or called by their names")
        return number - 1

    def straight_wall(self, text: str) -> int:
        """A wall to measure off, which must be straight."""
        edge = self.wall(text)
        if self.bent[edge]:
            raise layout.PlanError("wall", f"wall {edge + 1} is an arc", "measure off a straight wall, or from two corners")
        return edge

    def corner(self, text: str) -> int:
        """A corner by number, counted from 0."""
        number = int(text) if text.isascii() and text.isdecimal() and len(text) < 7 else 0
        if not 1 <= number <= len(self.corners):
            raise layout.PlanError("corner", f"{text!r} found", f"corners are numbered 1 to {len(self.corners)}, in the plan's order")
        return number - 1

    def along(self, opening: Opening) -> list[layout.Point]:
        """Both ends of an opening on its wall, arcs taken as their chords."""
        edge = self.wall(str(opening.wall))
        a, b = self.corners[edge], self.corners[(edge + 1) % len(self.corners)]
        inward, _ = placing.face_of(self.corners, edge)
        way = (b - a) / max(float(((b - a) ** 2).sum()) ** 0.5, 1e-9)
        leftward = float(inward[0] * way[1] - inward[1] * way[0]) < 0.0  # facing the wall from inside, its end is on the left
        from_end = opening.measured_from == ("left" if leftward else "right")
        start, way = (b, -way) if from_end else (a, way)
        ends = (start + way * opening.offset, start + way * (opening.offset + opening.width))
        return [(float(x), float(y)) for x, y in ends]

    def ends(self, drain: Drain) -> list[layout.Point]:
        """Both ends of a channel."""
        return [end for end in (drain.begin, drain.end) if end is not None]

    def off_walls(self, first: str, second: str) -> Place:
        """A point off two walls: each as WALL:DISTANCE."""
        a, b = (self._reading(each, self.straight_wall, low=0.0) for each in (first, second))
        point = placing.off_walls(self.corners, a, b)
        if a[1] and b[1] and not placing.inside(self.corners, point):  # on a wall nothing can be asked: the plan's own check tells
            found = f"{first} and {second} meet at {point[0]:.0f}, {point[1]:.0f}, outside the room"
            raise layout.PlanError("two walls", found, "measure both again, square to each wall")
        return Place((point,), f"{point[0]:.0f}, {point[1]:.0f}")

    def box(self, first: str, second: str, size: layout.Point) -> list[list[float]]:
        """Corners of a solid whose near faces lie off two walls."""
        a, b = (self._reading(each, self.straight_wall, low=0.0) for each in (first, second))
        return [as_pair(point) for point in placing.box_off_walls(self.corners, a, b, size)]

    def from_corners(self, first: str, second: str) -> Place:
        """The points that two tapes from corners give, both told: those in the room, the left one first."""
        a, b = (self._reading(each, self.corner) for each in (first, second))
        both = placing.from_corners(self.corners, a, b)
        within = [placing.inside(self.corners, point) for point in both]
        words = [
            f"{side} of the way from corner {a[0] + 1} to {b[0] + 1}: {x:.0f}, {y:.0f}{'' if ok else ', outside the room'}"
            for side, (x, y), ok in zip(("left", "right"), both, within, strict=True)
        ]
        if not any(within):
            raise layout.PlanError("two corners", "; ".join(words), "measure both again: one of them must lie in the room")
        points = both if all(within) and both[0] != both[1] else (both[0] if within[0] else both[1],)
        return Place(points, "; ".join(words))

    def _reading(self, text: str, named: Any, low: float = 1e-9) -> tuple[int, float]:  # noqa: ANN401  # a method of this class
        """`6:2947` as a place and a distance."""
        name, sign, length = text.rpartition(":")
        if not sign or not name.strip():
            raise layout.PlanError("place", f"{text!r} found", "write number and distance as 6:2947")
        try:
            value = parse_length(length)
        except ValueError as error:
            raise layout.PlanError("place", f"{length!r} found", str(error).rpartition("; ")[2]) from None
        meant = metres_typed(length) if "." in length else ""
        if meant or not low <= value < 1e6:
            raise layout.PlanError("place", f"{length.strip()!r} found", meant or "give a distance above 0, in mm or with its unit")
        return named(name.strip()), value


def side_of(place: Place, side: str | None) -> layout.Point:
    """The point meant of those that a place may be; both are told where none is.

    Raises
    ------
    PlanError
        If both lie in the room and no side is named.
    """
    if len(place.points) == 1:
        return place.points[0]
    if side not in ("left", "right"):
        raise layout.PlanError("--side", "both points lie in the room: " + place.said, "say which: --side left or --side right")
    return place.points[0 if side == "left" else 1]
