"""Where things stand on the page's drawings: the frames of surfaces on each sheet, and places of things in them, as data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from layout.shapes import turned
from layout.sheets.draft import fit_of
from layout.sheets.elevation_pages import pages
from layout.sheets.face_rows import papers_for, unfolded_on
from layout.sheets.paper import SIZES
from layout.sheets.shared import sharers
from layout.words import spelt
from layout.writers.page.svg import FINE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from layout.record.things import Thing
    from layout.setout.values import SetOut
    from layout.sheets.scene import Sheet, View

    Floats = NDArray[np.float64]

BEND = 5.0
"""Lines of things are told to this, mm: the nearest is found, not measured."""
IN_PLAN = ("setting-out", "levels", "cuts", "tape", "joints", "pieces")
"""Sheets that show a room in plan, or a part of it."""


def kind_and_room(sheet: Sheet, rooms: int) -> tuple[str, int]:
    """What a sheet is and which room's, from 0; -1 for sheets of the whole set."""
    rest = sheet.name.split("-", 1)[1]
    bare = rest.lstrip("0123456789")
    number = rest[: len(rest) - len(bare)]
    return bare, (int(number) - 1 if number else 0 if rooms == 1 and sheet.view is not None else -1)


def frames(setout: SetOut, sheets: Sequence[tuple[int, Sheet]]) -> dict[str, dict[str, Any]]:
    """For each surface its name, room, bounds, and on which drawings it stands: number of the sheet and a matrix from its own axes.

    The matrix a, b, c, d, e, f takes (x, y) to (a x + c y + e, b x + d y + f) in the drawing's units, y down. Where the sheet shows a part
    of a surface its window stands behind it: x0, y0, x1, y1.
    """
    result: dict[str, dict[str, Any]] = {}
    for index, room in enumerate(setout.rooms):
        for surface in room.lining.surfaces:
            shape = surface.gross if not surface.gross.is_empty else surface.tanked
            box = [round(value) for value in shape.bounds] if not shape.is_empty else [0, 0, 0, 0]
            result[surface.id.key] = {"n": spelt(surface.name), "r": index, "b": box, "on": []}
    for number, sheet in sheets:
        kind, index = kind_and_room(sheet, len(setout.rooms))
        if sheet.view is None or index < 0:
            continue
        if kind.split("-")[0] in ("elevations", "unfolded"):
            for key, turn, at, part in _standing(setout, index, kind):
                window = _window(sheet, sheet.view.to_paper(part)) if part is not None else []
                result[key]["on"].append([number, *_matrix(sheet, sheet.view, turn, at), *window])
        elif kind.startswith(IN_PLAN):
            flat = [s.id.key for s in setout.rooms[index].lining.surfaces if s.placing.line is None]
            for key in flat:
                for seen in sheet.shown:
                    window = _window(sheet, _ends(seen.view)) if sheet.cut_off else []
                    result[key]["on"].append([number, *_matrix(sheet, seen.view, 0.0, np.zeros(2)), *window])
    return result


def _standing(setout: SetOut, index: int, kind: str) -> list[tuple[str, float, Floats, Floats | None]]:
    """Upright faces on a sheet of elevations or of unfolded membrane: key, turn, where their own origin stands in the room's space.

    With a part of a face, the two ends of its box there, (2, 2).
    """
    room = setout.rooms[index]
    if kind == "unfolded":
        _, sharing = sharers(setout, None, None)
        paper, _ = fit_of(room, None, None, alone=index not in sharing)
        _, _, unfolded = unfolded_on(room, papers_for(paper), None)
        faces = ((face, np.array(face.at), np.array(face.shown.bounds).reshape(2, 2)) for face in unfolded.faces)
        return [(face.surface.id.key, 0.0, at, box + at if face.letter else None) for face, at, box in faces]
    number = int(kind.split("-")[1])
    page = pages(setout, index, None, None)[number - 1]
    return [(room.surfaces[k].surface.id.key, placed.turn, placed.at, None) for placed in page.faces for k in placed.stands_for]


def _matrix(sheet: Sheet, view: View, turn: float, at: Floats) -> list[float]:
    ends = turned(np.array([[0.0, 0.0], [1000.0, 0.0], [0.0, 1000.0]]), turn) + at
    paper = view.to_paper(ends) * np.array([FINE, -FINE]) + np.array([0.0, sheet.size[1] * FINE])
    (a, b), (c, d) = (paper[1] - paper[0]) / 1000.0, (paper[2] - paper[0]) / 1000.0
    return [_brief(float(f"{value:.6g}")) for value in (a, b, c, d)] + [_brief(round(float(v), 1)) for v in paper[0]]


def _ends(view: View) -> Floats:
    """Two corners of a window on paper, mm, (2, 2)."""
    at, half = np.array(view.at), np.array(view.size) / 2.0
    return np.array([at - half, at + half])


def _window(sheet: Sheet, ends: Floats) -> list[int]:
    """What is seen of a surface that a sheet shows in part, from two corners on paper: x0, y0, x1, y1, drawing units, y down."""
    (x0, y0), (x1, y1) = ends.tolist()
    return [round(value * FINE) for value in (x0, sheet.size[1] - y1, x1, sheet.size[1] - y0)]


def _brief(value: float) -> float:
    """A number as the file has it in the fewest letters: a whole one without its point."""
    return int(value) if value.is_integer() else value


def windows(sheets: Iterable[tuple[int, Sheet]]) -> dict[int, list[int]]:
    """The window of each drawing on its sheet, drawing units: x, y, width, height."""
    result = {}
    for number, sheet in sheets:
        width, height = SIZES.get(sheet.paper, sheet.size)
        box = [0.0, 0.0, width, height]
        if sheet.shown:
            at, half = np.array([part.view.at for part in sheet.shown]), np.array([part.view.size for part in sheet.shown]) / 2.0
            (x0, y0), (x1, y1) = (at - half).min(axis=0).tolist(), (at + half).max(axis=0).tolist()
            box = [x0, height - y1, x1 - x0, y1 - y0]
        result[number] = [round(value * FINE) for value in box]
    return result


def pieces_record(things: Iterable[Thing]) -> dict[str, str]:
    """Pieces by surface: those of one mark, width, height, bay and member together, as ``mark w h bay.member:i.j x y,i.j x y;…``.

    x, y is the lower left corner of a piece's box in the surface's own axes; further pieces of one tile have a number behind i.j.
    """
    result: dict[str, dict[str, list[str]]] = {}
    for thing in things:
        if thing.kind == "piece":
            key, ((x0, y0), (x1, y1)) = thing.at[0]
            bay, member, place = thing.id.rsplit(":", 1)[1].split(".", 2)
            group = f"{thing.name} {x1 - x0:.0f} {y1 - y0:.0f} {bay}.{member}"
            result.setdefault(key, {}).setdefault(group, []).append(f"{place} {x0:.0f} {y0:.0f}")
    return {key: ";".join(f"{head}:{','.join(rows)}" for head, rows in groups.items()) for key, groups in result.items()}


def places_record(thing: Thing) -> list[list[Any]]:
    """Places of a thing that is no piece: the surface's key, then x, y, x, y … in its own axes, whole mm; bends as near as a finger."""
    found = [(key, shapely.get_coordinates(shapely.LineString(line).simplify(BEND)) if len(line) > 2 else line) for key, line in thing.at]
    return [[key, *(int(v) for v in np.round(line).ravel())] for key, line in found]
