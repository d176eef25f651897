"""Reads a drawing (DXF): walls, closed outlines, door swings, names, pipes and columns by layer, units told or found out.

Blocks are exploded, curves flattened. What a layer holds is told by a small table of rules on its name, or by the person.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import shapely
from shapely import Polygon

from layout.budgets import BUDGETS, Budgets, within
from layout.errors import PlanError
from layout.readers.drawingcontent import Content, read_content
from layout.shapes import parts_of
from layout.survey.bows import Circle, bows_of
from layout.survey.evidence import LEAST_CONFIDENCE, evidence_of
from layout.survey.found import Found, FoundRoom, openings_of, tidied, unique_names
from layout.survey.spaces import ROOM_AREA
from layout.survey.tracing import trace

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Outline: TypeAlias = "tuple[Floats, tuple[Floats, ...], tuple[Floats, ...]]"
"""A room's ring, the rings of what stands in it, its doors as two ends each, mm."""
Role: TypeAlias = Literal["walls", "rooms", "doors", "columns", "pipes", "gullies", "names"]
ROLES: tuple[Role, ...] = ("walls", "rooms", "doors", "columns", "pipes", "gullies", "names")
UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4, "foot": 304.8}
DOOR_RADIUS = (550.0, 1350.0)
"""A door swing has a radius between these, mm."""
DRAWN = (2_000.0, 400_000.0)
"""A plan of rooms measures between these over all, mm."""
FLAT = 0.5
"""Curves are flattened to this, mm."""
_RULES: tuple[tuple[Role, str], ...] = (
    ("rooms", r"(^|[-_ ])(rooms?|spaces?|raum|raeume|räume|local|pieces?|room[-_ ]?outlines?|gaugerod[-_ ]rooms?)$"),
    ("walls", r"(^|[-_ ])(walls?|wand|waende|wände|murs?|muros?|pared(es)?|muri|vegg(er)?)$"),
    ("columns", r"(^|[-_ ])(cols?|columns?|pillars?|stuetzen?|stützen?|poteaux?|pilares?)$"),
    ("doors", r"(^|[-_ ])(doors?|door[-_ ]?fram(es?)?|tueren?|türen?|portes?|puertas?)$"),
    ("pipes", r"(^|[-_ ])(pipes?|penetrations?|rohre?|tuyaux?)$"),
    ("gullies", r"(^|[-_ ])(gull(y|ies)|drains?|floor[-_ ]?drains?|flor[-_ ]dran|abl(ae|ä)ufe?)$"),
)
"""What a layer holds, by the end of its name; prefixes of bound references (up to $0$) are cut off first."""
_BELOW = r"stem|fndn|found|footing|retain|curtain|patt|hatch|above|over"
"""Walls that do not bound rooms on this floor: foundations, patterns, what is over."""
_FEET = re.compile(r"\d+'\s*-?\s*\d*")
_NOT_A_NAME = re.compile(
    r"^[\d\s.,'\"x×/-]+(sf|m2|m²|mm|cm|m)?$|^\d|%%c|^(\w{2,4}\s*)?([+±]|%%p)\s*\d|^[-−–]\s*\d|^\w{2,4}\s+[-−–]\s*\d+[.,]\d", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, eq=False)
class _Walls:
    """Lines (n, 2, 2) and bodies of walls, mm; whether rooms were drawn as such instead, and whether a person named the walls."""

    lines: Floats
    bodies: tuple[Polygon, ...]
    drawn: bool
    told: bool


def role_of(layer: str) -> Role | None:
    """What a layer holds by its name.

    >>> role_of("xref-plan$0$A-WALL"), role_of("S-COLS"), role_of("A-WALL-PATT")
    ('walls', 'columns', None)
    """
    name = layer.rsplit("$", 1)[-1].lower()
    if re.search(_BELOW, name):
        return None
    return next((role for role, rule in _RULES if re.search(rule, name)), None)


def unit_of(content: Content, told: str | None) -> tuple[str, str, list[str]]:
    """The unit of a drawing, why, and warnings: told, else by door swings, sizes in feet and extent, else by its header."""
    if told is not None:
        return told, "as told", []
    points = [line for lines in content.lines.values() for line in lines] + [loop for loops in content.loops.values() for loop in loops]
    every = np.concatenate(points) if points else np.zeros((1, 2))
    extent = float(np.ptp(every, axis=0).max())
    radii = np.array([radius for _, _, radius in content.arcs])
    feet = sum(bool(_FEET.search(text)) for text, *_ in content.texts)
    scores: dict[str, float] = {}
    swings: dict[str, float] = {}
    for name, factor in UNITS.items():
        swings[name] = float(((radii * factor >= DOOR_RADIUS[0]) & (radii * factor <= DOOR_RADIUS[1])).mean()) if len(radii) else 0.0
        fits = DRAWN[0] <= extent * factor <= DRAWN[1]
        imperial = 0.5 if feet >= 3 and name in ("inch", "foot") else 0.0
        scores[name] = 2.0 * swings[name] + float(fits) + imperial + (0.75 if name == content.declared else 0.0)
    order = ["m", "mm", "inch", "cm", "foot"]
    best = max(order, key=lambda name: (round(scores[name], 3), -order.index(name)))
    why = []
    size = 0.0
    if swings[best] > 0.0:
        size = float(np.median(radii[(radii * UNITS[best] >= DOOR_RADIUS[0]) & (radii * UNITS[best] <= DOOR_RADIUS[1])])) * UNITS[best]
        why.append(f"door swings are {size:.0f} mm then")
    if feet >= 3 and best in ("inch", "foot"):
        why.append(f"{feet} sizes stand in feet")
    why.append(f"the drawing is {extent * UNITS[best] / 1000:.1f} m over all")
    warnings = []
    if content.declared is None:
        what = f"its header's unit ({content.header}) is not a length for plans" if content.header else "its unit is nowhere stated"
        warnings.append(f"{what}; read as {best}, since {', '.join(why)}. If that is wrong, give --units")
    elif best != content.declared:
        off = "sizes do not fit"
        if swings[best] > 0.0:
            off = f"door swings would be {size / UNITS[best] * UNITS[content.declared]:.0f} mm"
        warnings.append(
            f"its header says {content.declared}, but {off}; read as {best}, since {', '.join(why)}. If that is wrong, give --units"
        )
    else:
        why.insert(0, "its header says so")
    return best, ", ".join(why), warnings


def read_dxf(
    path: str | Path,
    *,
    units: str | None = None,
    layers: Mapping[str, Role] | None = None,
    gap: float = 10.0,
    content: Content | None = None,
    budgets: Budgets = BUDGETS,
) -> Found:
    """Rooms of a DXF drawing.

    Parameters
    ----------
    units : mm, cm, m, inch or foot; found out if not given.
    layers : what named layers hold; the rules on names decide for the others.
    gap : ends of lines no further apart meet, mm.

    Raises
    ------
    PlanError
        If it cannot be read, its layers tell nothing of rooms, or none is found.
    """
    path = Path(path)
    with within(path.name, budgets):
        content = read_content(path, budgets=budgets) if content is None else content
        unit, why, warnings = unit_of(content, units)
        factor = UNITS[unit]
        roles = _roles(path, content, layers or {})

        def of(role: Role) -> list[str]:
            return sorted(name for name, own in roles.items() if own == role)

        taken = [f"{role}: {', '.join(of(role))}" for role in ROLES if of(role)]
        left = [f"{name} ({count})" for name, count in content.layers().items() if roles[name] is None]
        left += [f"{kind} on {layer or 'no layer'} ({count})" for (kind, layer), count in sorted(content.skipped.items())]
        bodies = [polygon for name in of("walls") for loop in content.hatches.get(name, ()) if (polygon := Polygon(loop * factor)).is_valid]
        lines = _both(content, of("walls"))
        hatched = [name for name in of("walls") if name in content.hatches and name not in content.layers()]
        lines = np.concatenate([lines, _segments(content.hatches, hatched)]) * factor
        outlines: list[Outline] = []
        drawn = True
        if loops := [loop * factor for name in of("rooms") for loop in content.loops.get(name, ())]:
            outlines = _closed_rooms(loops)
        elif len(lines):
            drawn = False
            outlines = _traced(content, lines, of, factor, gap, warnings)
        else:
            every = [loop * factor for loops_ in content.loops.values() for loop in loops_]
            outlines = _closed_rooms([loop for loop in every if Polygon(loop).area >= ROOM_AREA])
            taken = [f"rooms: closed outlines of {', '.join(sorted(content.loops))}"]
            warnings.append(
                "no layer's name says what it holds: closed outlines are taken as rooms; give --rooms LAYER if others are meant"
            )
        if not outlines:
            raise _nothing(path, content, [f"read in {unit}", *warnings])
        found = _dressed(outlines, content, factor, of, _Walls(lines, tuple(bodies), drawn=drawn, told="walls" in (layers or {}).values()))
        rooms = tuple(room for room in found if room.confidence >= LEAST_CONFIDENCE)
        doubtful = tuple(room for room in found if room.confidence < LEAST_CONFIDENCE)
        source = _both(content, list(content.layers())) * factor
        return Found(path.name, rooms, unit, why, tuple(taken), tuple(left), tuple(warnings), doubtful, source)


def _traced(
    content: Content, lines: Floats, of: Callable[[Role], list[str]], factor: float, gap: float, warnings: list[str]
) -> list[Outline]:
    """Rooms between wall lines; what was closed or does not meet is added to the warnings."""
    doors = _both(content, of("doors")) * factor
    swings = np.array(content.arcs, dtype=float).reshape(-1, 3) * factor
    words = np.array([(x, y) for _, x, y, _ in content.texts], dtype=float).reshape(-1, 2) * factor
    traced = trace(lines, swings, door_lines=doors, words=words, gap=gap)
    if traced.outside:
        warnings.append(f"{len(traced.outside)} gaps lead outside without a door drawn there: taken as windows and closed")
    if traced.loose:
        warnings.append(f"{traced.loose} ends of wall lines are loose; the larger --gap, the more of them meet (now {gap:g} mm)")
    return list(traced.rooms)


def _roles(path: Path, content: Content, told: Mapping[str, Role]) -> dict[str, Role | None]:
    """What each layer holds: as told, else by its name; told walls are all the walls."""
    roles = {name: role_of(name) for name in sorted({*content.layers(), *content.circles, *content.blocks, *content.hatches})}
    for name, role in told.items():
        if name not in roles:
            close = ", ".join(sorted(roles)[:12])
            raise PlanError(path.name, f"there is no layer {name!r}", f"layers are {close}")
        roles[name] = role
    if "walls" in told.values():
        roles = {name: (None if role == "walls" and name not in told else role) for name, role in roles.items()}
    return roles


def _nothing(path: Path, content: Content, warnings: Sequence[str]) -> PlanError:
    """That no room was found, with what there is and what to do."""
    layers = sorted(content.layers().items(), key=lambda item: -item[1])
    names = ", ".join(f"{name} ({count})" for name, count in layers[:12]) or "none with lines"
    what = "no room was found"
    if content.references and not content.layers():
        what = f"it holds references to other drawings alone ({', '.join(sorted(set(content.references))[:4])})"
        mend = "bind the references into it (not as an attachment), or read the drawing that it refers to"
        return PlanError(path.name, "; ".join([what, *warnings]), mend)
    if not content.loops and 0 < sum(count for _, count in layers) <= 200:
        every = np.concatenate([line[[0, -1]] for lines in content.lines.values() for line in lines])
        _, count = np.unique(np.round(every, 6), axis=0, return_counts=True)
        if (count == 1).sum() == 2:
            what = "its lines are one open chain, which closes no room"
    mend = "name the layer of the walls with --walls LAYER, or draw each room as a closed polyline and name it with --rooms LAYER"
    return PlanError(path.name, "; ".join([what, f"layers with lines are {names}", *warnings]), mend)


def _both(content: Content, layers: Sequence[str]) -> Floats:
    """Lines and loops of some layers as segments (n, 2, 2)."""
    return np.concatenate([_segments(content.lines, layers), _segments(content.loops, layers)])


def _segments(drawn: Mapping[str, Sequence[Floats]], layers: Sequence[str]) -> Floats:
    """What is drawn on some layers as segments (n, 2, 2)."""
    result = [np.stack([points[:-1], points[1:]], axis=1) for name in layers for points in drawn.get(name, ())]
    return np.concatenate(result) if result else np.empty((0, 2, 2))


def _closed_rooms(loops: Sequence[Floats]) -> list[Outline]:
    """Rooms drawn as closed outlines; one that lies in another is a hole in it."""
    polygons = sorted((Polygon(loop) for loop in loops), key=lambda p: -p.area)
    polygons = [p for p in polygons if p.is_valid and p.area > 0.0]
    rooms: list[tuple[Polygon, list[Floats]]] = []
    for polygon in polygons:
        inside = next((room for room in rooms if room[0].contains(polygon.representative_point())), None)
        if inside is not None:
            inside[1].append(tidied(shapely.get_coordinates(polygon.exterior)[:-1]))
        elif polygon.area >= ROOM_AREA:
            rooms.append((polygon, []))
    rooms.sort(key=lambda room: (-round(room[0].bounds[3] / 500), round(room[0].bounds[0])))
    return [(tidied(shapely.get_coordinates(room.exterior)[:-1]), tuple(holes), ()) for room, holes in rooms]


def _dressed(
    outlines: Sequence[Outline], content: Content, factor: float, of: Callable[[Role], list[str]], walls: _Walls
) -> list[FoundRoom]:
    """Rooms with their names, pipes, gullies and columns, and what speaks for each."""
    shapes = [Polygon(ring) for ring, _, _ in outlines]
    names: list[str] = []
    says: list[tuple[str, ...]] = []
    for inside in _written_in(shapes, content, factor):
        names.append(_name(inside))
        says.append(tuple(t[0] for t in inside))
    circles = [Circle(bow.x * factor, bow.y * factor, bow.radius * factor, bow.flat * factor) for bow in content.bows]
    result = []
    for (ring, holes, doors), shape, given, name, own in zip(outlines, shapes, names, unique_names(names), says, strict=True):
        pipes = [((x * factor, y * factor), 2 * r * factor) for layer in of("pipes") for x, y, r in content.circles.get(layer, ())]
        gullies = [(x * factor, y * factor) for layer in of("gullies") for x, y, _ in content.circles.get(layer, ())]
        gullies += [(x * factor, y * factor) for layer in of("gullies") for x, y in content.blocks.get(layer, ())]
        columns = [*holes, *(c for c in _columns(content, of("columns"), factor) if shape.contains(Polygon(c)) and not _in_any(c, holes))]
        result.append(
            FoundRoom(
                name,
                ring,
                tuple(columns),
                doors,
                tuple((at, d) for at, d in pipes if shape.contains(shapely.Point(at))),
                tuple(at for at in gullies if shape.contains(shapely.Point(at))),
                says=own,
                bows=bows_of(ring, circles),
            )
        )
        solids = [body for body in walls.bodies if body.intersects(shape)]
        seen = evidence_of(
            shape,
            named=bool(given),
            doors=len(openings_of(result[-1])),
            texts=own,
            walls=walls.lines,
            solids=solids,
            drawn=walls.drawn,
            told=walls.told,
        )
        result[-1] = replace(result[-1], confidence=seen.confidence, evidence=seen.words)
    return result


def _written_in(shapes: Sequence[Polygon], content: Content, factor: float) -> list[list[tuple[str, float, float, float]]]:
    """The texts in each shape: those that begin there, and those whose middle lies there though they begin in no shape, as in a wall."""
    told = [(text, middle) for text, middle in zip(content.texts, content.middles, strict=True) if text[0]]
    begin = shapely.points(np.array([text[1:3] for text, _ in told], dtype=float).reshape(-1, 2) * factor)
    middle = shapely.points(np.array([middle for _, middle in told], dtype=float).reshape(-1, 2) * factor)
    within = [shapely.contains(shape, begin) for shape in shapes]
    free = ~np.any(within, axis=0) if within else np.empty(0, dtype=bool)
    own = [inside | (free & shapely.contains(shape, middle)) for shape, inside in zip(shapes, within, strict=True)]
    return [[told[k][0] for k in np.flatnonzero(inside)] for inside in own]


def _in_any(ring: Floats, holes: Sequence[Floats]) -> bool:
    return any(Polygon(hole).intersects(Polygon(ring)) for hole in holes)


def _columns(content: Content, layers: Sequence[str], factor: float) -> list[Floats]:
    """Closed shapes of the columns' layers, of loops, circles and loose lines."""
    lines = _both(content, layers) * factor
    if len(lines) < 3:
        return []
    middle = np.round(lines.reshape(-1, 2).mean(axis=0))
    faces = shapely.get_parts(shapely.polygonize([shapely.unary_union(shapely.linestrings(np.round(lines - middle, 1)))]))
    whole = parts_of(shapely.union_all(faces))
    return [tidied(shapely.get_coordinates(face.exterior)[:-1] + middle) for face in whole if 2500.0 < face.area < 4e6]


def _name(texts: Sequence[tuple[str, float, float, float]]) -> str:
    """A room's name: lines that stand close under each other are one; one over a size or an area comes before notes."""
    words = sorted((t for t in texts if _may_name(t[0])), key=lambda t: (-t[2], t[1]))
    groups: list[list[tuple[str, float, float, float]]] = []
    for text in words:
        near = next((g for g in groups if abs(g[-1][1] - text[1]) < 8 * text[3] and 0 < g[-1][2] - text[2] < 2.6 * text[3]), None)
        if near is not None:
            near.append(text)
        else:
            groups.append([text])
    sizes = [t for t in texts if not _may_name(t[0])]

    def over_a_size(group: Sequence[tuple[str, float, float, float]]) -> bool:
        _, x, y, high = group[-1]
        return any(abs(t[1] - x) < 8 * high and 0 < y - t[2] < 3.5 * high and any(c.isdigit() for c in t[0]) for t in sizes)

    short = [g for g in groups if len(g) <= 3] or groups
    labels = [g for g in short if over_a_size(g)] or short
    names = list(dict.fromkeys(" ".join(t[0] for t in group) for group in labels))
    return " / ".join(names[:2])[:60]


def _may_name(text: str) -> bool:
    """Whether a text may be a room's name: words, no size, number, level, or sentence."""
    return (
        len(text) < 40
        and (not _NOT_A_NAME.search(text) or len(re.findall(r"[^\W\d_]{3,}", text)) > 1)
        and text.rstrip(":").lower() != "note"
    )
