"""The questions that make a plan of one room, from its shape to its last pipe; words and checks come from the keys' declarations."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import layout
from cli.asking import Asking, width
from cli.drafting import SHAPES, Draft, adjusted, pointed, shaped, surveyed
from cli.things import KINDS, Floor, Kind, as_pair, kind_of, read_key, side_of, sized
from layout.fields import Choice, Number
from layout.keys import Form, plain_default
from layout.plan.ruling import Rules
from layout.plan.tile import Tile
from layout.plan.values import Room
from layout.survey import drafts
from layout.survey.readings import Reading
from layout.survey.sketch import Stroke, sketch
from layout.units import metres_typed, parse_length

if TYPE_CHECKING:
    from collections.abc import Callable

WAYS = (*SHAPES, "survey", "points")
SAMPLES = {"rectangle": "6000x4200", "walk": "6500 L 2900 L 2400 R 1800 L 4100 L"}
WHERE = "where: off two walls as 1:1546 2:2947, by tape from two corners as corners 3:2400 4:1800, or x, y"
IN_WALL = "; or in a wall as wall 2 800 500: along it, and up"
ROOM, TILE, RULES = Form(Room), Form(Tile), Form(Rules)


def whole_plan(ask: Asking, source: str, seen: Callable[[str], None]) -> str:
    """A plan's text, from questions; `seen` is shown the text each time it has grown."""
    if ask.count == 0:
        ask.tell("an empty answer takes what stands in brackets; < takes a step back")
    draft = _outline(ask)
    ask.tell(sketch(draft.outline, width=min(48, width() - 2)))
    if draft.said:
        ask.tell(draft.said)
    name = ask("name of the room", _name, "Room")
    size = ask("floor tile, width x length", lambda text: sized(text, "tile"), "200x200")
    joint = _key(ask, TILE, "joint", "tile")
    keys = {"tile_height": _key(ask, ROOM, "tile_height", "room")}
    keys["tanking_height"] = _key(ask, ROOM, "tanking_height", "room")
    height = ask("clear height of the room, mm; empty if nothing depends on it", lambda text: _optional(ROOM, "height", text))
    keys |= {"height": height} if height is not None else {}
    foot = _key(ask, RULES, "foot", "rules") if keys["tile_height"] else ""
    text = drafts.plan_text(draft.outline, name=name, tile=size, note=draft.note, joint=joint, keys=keys, foot=foot, examples=False)
    if ask.fresh:
        seen(text)
    words = ", ".join(word for word in KINDS if KINDS[word].asked and word != "drain")
    while True:
        word = ask(f"next: {words}; empty when all is there", _known)
        if not word:
            return text
        text = _thing(ask, text, word, source)
        if ask.fresh:
            ask.tell(drawn(layout.parse_plan(text, source)))
            seen(text)


def _outline(ask: Asking) -> Draft:
    """The outline, by whichever way the person has it."""
    way = ask("shape of the room: " + ", ".join(WAYS), lambda text: _among(text, WAYS), "rectangle")
    if way == "points":
        return ask("file of corners: name,x,y or name,along,offset", lambda text: pointed(Path(text)))
    if way != "survey":
        return ask(SHAPES[way][0], lambda text: shaped(way, text, way), SAMPLES.get(way, "6500x4700x2400x1800"))
    readings: dict[frozenset[str], Reading] = {}
    hint = "a reading between two corners, as A B 3620; or a file of them; empty when all are there"
    while True:
        found = ask(hint, lambda text: _reading(text, readings))
        if isinstance(found, Draft):
            return found
        readings[frozenset((found.first, found.second))] = found
        hint = f"reading {len(readings) + 1}, as A B 3620; the same corners again replace theirs; empty when all are there"


def _reading(text: str, readings: dict[frozenset[str], Reading]) -> Reading | Draft:
    """One reading of a survey, or the outline that all of them give."""
    if not text or text.lower() == "anyway":
        rows = list(readings.values())
        note = "From a survey by tape, by least squares: " + ", ".join(f"{r.name} {r.length:g}" for r in rows)
        return adjusted(rows, note, anyway=bool(text), wish="anyway")
    if Path(text).suffix.lower() in (".csv", ".txt"):
        return surveyed(Path(text))
    parts = text.replace(",", " ").replace("–", " ").replace("-", " ", 1).split(maxsplit=2)
    try:
        length = parse_length(parts[2])
    except (IndexError, ValueError):
        raise layout.PlanError("reading", f"{text!r} found", "write two corners and a length: A B 3620") from None
    meant = metres_typed(parts[2]) if "." in parts[2] else ""
    if meant or not 0.0 < length < 1e6 or parts[0] == parts[1]:
        mend = meant or "write two corners and a length above 0: A B 3620"
        raise layout.PlanError("reading", f"{text!r} found", mend)
    return Reading(parts[0], parts[1], length)


def _key(ask: Asking, form: Form[Any], name: str, word: str) -> Any:  # noqa: ANN401  # as the plan file holds it
    """A key, asked in the words of its declaration."""
    row = form.rows[name]
    default = plain_default(row)
    return ask(_words(row.key), lambda text: _checked(form, name, text, word), None if default is None else _plain(default))


def _words(said: Any) -> str:  # noqa: ANN401  # a key's declaration
    choice = f" ({', '.join(said.check.words)})" if isinstance(said.check, Choice) else ""
    return f"{said.words}{choice}{f', {said.unit}' if said.unit else ''}"


def _plain(value: Any) -> str:  # noqa: ANN401
    """A default as a person would type it."""
    return (
        "x".join(f"{each:g}" for each in value)
        if isinstance(value, (list, tuple))
        else f"{value:g}"
        if isinstance(value, float)
        else str(value)
    )


def _checked(form: Form[Any], name: str, text: str, word: str) -> Any:  # noqa: ANN401
    """A key's value; metres that were meant to be millimetres are noticed where a length of that kind is large."""
    said = form.rows[name].key
    value = read_key(form, name, text, word)
    usual = said.example if said.example is not None else plain_default(form.rows[name])
    large = (isinstance(said.check, Number) and isinstance(usual, (int, float)) and usual >= 500) or name == "tile_height"
    if large and metres_typed(text) and "." in text:
        raise layout.PlanError(f"{word}: {name}", f"{text} found", metres_typed(text))
    return value


def _optional(form: Form[Any], name: str, text: str) -> Any:  # noqa: ANN401
    return _checked(form, name, text, "room") if text else None


def _thing(ask: Asking, text: str, word: str, source: str) -> str:
    """The plan's text with a thing more; its last answer is asked again where the plan is not valid with it."""
    kind, plan = kind_of(word), layout.parse_plan(text, source)
    floor = Floor(plan.rooms[0])
    values: dict[str, Any] = dict(kind.given)

    def whole(more: dict[str, Any]) -> str:
        grown = layout.with_thing(text, 0, kind.table, {**values, **more}, kind.form)
        layout.parse_plan(grown, source)
        return grown

    grown = text
    for key in kind.asked:
        last = key == kind.asked[-1]
        found, grown = _one(ask, kind, key, word, floor, plan, whole if last else None)
        values |= found
    return grown


def _one(
    ask: Asking, kind: Kind, key: str, word: str, floor: Floor, plan: layout.Plan, whole: Callable[[dict[str, Any]], str] | None
) -> tuple[dict[str, Any], str]:
    """One key of a thing, or the few that say where it stands; with the whole plan's text where it is the last."""

    def tried(found: dict[str, Any]) -> tuple[dict[str, Any], str]:
        return found, whole(found) if whole is not None else ""

    if key == "outline":
        pair = ask("its near faces off two walls, as 1:1200 4:600", lambda text: _near_faces(floor, text))
        words = "its size, along the first of these walls x off it, as 1300x800"
        return ask(words, lambda text: tried({"outline": floor.box(*pair, sized(text, word))}))
    if kind.spot and key in ("at", "from", "to"):
        words = WHERE + (IN_WALL if "wall" in kind.form.rows and key == "at" else "")
        told: list[str] = []
        place = ask(f"{key}: {words}" if kind.line else words, lambda text: _place(floor, kind, key, text, tried, told))
        for words in told[-1:]:
            ask.tell(words)
        if isinstance(place, tuple):
            return place
        return ask(
            "both lie in the room: left or right", lambda text: tried({key: as_pair(side_of(place, _among(text, ("left", "right"))))})
        )
    row = kind.form.rows[key]
    default = plain_default(row)
    if key == "to" and plan.rooms[0].drains:
        default = plan.rooms[0].drains[-1].name
    if key in kind.given:
        default = kind.given[key]
    if key == "diameter" and default is None:
        default = row.key.example
    shown = None if default is None else _plain(default)
    return ask(f"{word}: {_words(row.key)}", lambda text: tried({key: _checked(kind.form, key, text, word)}), shown)


def _place(
    floor: Floor, kind: Kind, key: str, text: str, tried: Callable[[dict[str, Any]], tuple[dict[str, Any], str]], told: list[str]
) -> Any:  # noqa: ANN401
    """Where a thing stands, as keys; or both points that two tapes give, if both may be meant."""
    parts = text.split()
    first = parts[0].lower() if parts else ""
    if first == "wall" and "wall" in kind.form.rows and len(parts) >= 4:
        names = ("wall", "offset", "level")
        return tried(
            {name: read_key(kind.form, name, part, "wall") for name, part in zip(names, (" ".join(parts[1:-2]), *parts[-2:]), strict=True)}
        )
    if first in ("corners", "corner") and len(parts) == 3:
        place = floor.from_corners(parts[1], parts[2])
        told.append(place.said)
        return tried({key: as_pair(place.points[0])}) if len(place.points) == 1 else place
    if len(parts) == 2 and all(":" in part for part in parts):
        return tried({key: as_pair(floor.off_walls(*parts).points[0])})
    return tried({key: read_key(kind.form, key, text, "where")})


def _near_faces(floor: Floor, text: str) -> tuple[str, str]:
    parts = text.split()
    if len(parts) != 2:
        raise layout.PlanError("where", f"{text!r} found", "write two walls with their distances: 1:1200 4:600")
    floor.box(parts[0], parts[1], (1.0, 1.0))
    return parts[0], parts[1]


def _name(text: str) -> str:
    return str(read_key(ROOM, "name", f'"{text}"' if '"' not in text else f"'{text}'", "room"))


def _among(text: str, words: tuple[str, ...]) -> str:
    import difflib

    if text.lower() in words:
        return text.lower()
    near = difflib.get_close_matches(text.lower()[:40], words, n=1)
    raise layout.PlanError(
        "answer", f"{text[:40]!r} found", (f"did you mean {near[0]}? " if near else "") + "give one of " + ", ".join(words)
    )


def _known(text: str) -> str:
    if not text or text.lower() in ("done", "no", "none"):
        return ""
    kind = kind_of(text)
    if not kind.asked:
        raise layout.PlanError("next", f"{text!r} found", f"add it later: gaugerod add PLAN {text} KEY=VALUE")
    return text.lower()


def drawn(plan: layout.Plan) -> str:
    """The plan's first room in characters, its things with letters: G gully, = door, o pipe, P plinth, C column, x fixing."""
    room = plan.rooms[0]
    floor = Floor(room)
    strokes = [Stroke(floor.along(opening), "=" if opening.sill == 0.0 else "~") for opening in room.openings]
    strokes += [Stroke([v.to for v in solid.outline], "P", closed=True) for solid in room.plinths]
    strokes += [Stroke([v.to for v in solid.outline], "C", closed=True) for solid in room.columns]
    strokes += [Stroke([drain.at], "G") if drain.kind == "gully" else Stroke(floor.ends(drain), "-") for drain in room.drains]
    strokes += [Stroke([pipe.at], "o") for pipe in room.pipes if pipe.at is not None]
    strokes += [Stroke([fixing.at], "x") for fixing in room.fixings if fixing.at is not None]
    return sketch([v.to for v in room.outline], strokes, width=min(48, width() - 2))
