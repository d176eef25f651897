"""The scale bar of a drawing, where nothing of it is struck by what is drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.sheets.paper import drawing_space, frame
from layout.sheets.scene import Dimension, Fill, Label, Primitive, Stroke, Symbol, View, exploded
from layout.sheets.spots import Box, label_box

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from layout.vectors import Floats

STEPS = (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0, 50000.0, 1e9)
"""Lengths of one field of a bar, room mm."""
LEAST = 12.0
"""A field is no shorter than this, paper mm."""
HIGH, FIGURE = 1.6, 2.5
"""Height of the bar and of its figures, paper mm."""
CLEAR = 1.0
"""Kept free round it, paper mm."""


def scale_bar(view: View, size: tuple[float, float], drawn: Iterable[Primitive] = (), words: Iterable[Primitive] = ()) -> list[Primitive]:
    """A scale bar in metres, clear of the frame: under the drawing, or in a corner that it and the words on the paper leave free.

    `drawn` is in room mm, seen through the view, `words` are in paper mm.
    """
    step = next(s for s in STEPS if s / view.scale >= LEAST)
    places = [(at, fields) for fields in (4, 2) for at in _corners(view, size, step / view.scale * fields)]
    paper = View((0.0, 0.0), (0.0, 0.0), 1.0, size)
    taken = shapely.STRtree([*_on_paper(view, drawn), *_on_paper(paper, [*frame(size)[1:], *words])])
    boxes = shapely.box(*np.array([bar_box(at, step / view.scale * fields) for at, fields in places]).T)
    met = set(taken.query(boxes, predicate="intersects")[0].tolist())
    at, fields = next((each for k, each in enumerate(places) if k not in met), places[0])
    return _bar(at, step, view.scale, fields)


def bar_box(at: tuple[float, float], length: float) -> Box:
    """What a bar of a length takes with its figures, and a little round it, paper mm."""
    x, y = at
    return x - 3.0 - CLEAR, y - CLEAR, x + length + 6.0 + CLEAR, y + HIGH + 1.0 + FIGURE + CLEAR


def _corners(view: View, size: tuple[float, float], length: float) -> Iterator[tuple[float, float]]:
    """Places of a bar's left end in the window: below, from the left to the right; above beside the heading; then up the left side."""
    (x, y), (w, h) = view.at, view.size
    left, right = x - w / 2 + 6.0, x + w / 2 - length - 9.0
    low = max(y - h / 2 + 1.5, drawing_space(size)[1] + 3.0)
    high = drawing_space(size)[3] - 12.0
    yield left, low
    yield right, low
    yield right, high
    yield from ((across, high - 6.0 * k) for k in range(1, 4) for across in (left, right))


def _on_paper(view: View, drawn: Iterable[Primitive]) -> Iterator[shapely.Geometry]:
    """What is drawn as shapes on paper, mm; a closed line is all that lies in it."""

    def ring(points: Floats) -> shapely.Geometry:
        return shapely.Polygon(view.to_paper(points))

    for item in drawn:
        for part in exploded(item, view.scale) if isinstance(item, Dimension) else (item,):
            match part:
                case Stroke() if part.closed and len(part.points) > 2:
                    yield ring(part.points)
                case Stroke() if len(part.points) > 1:
                    yield shapely.LineString(view.to_paper(part.points))
                case Fill():
                    yield ring(shapely.get_coordinates(part.polygon.exterior))
                case Label():
                    x0, y0, x1, y1 = label_box(part, view.scale)
                    yield ring(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
                case Symbol():
                    x, y = view.to_paper(np.array([part.at]))[0]
                    yield shapely.box(x - part.size / 2, y - part.size / 2, x + part.size / 2, y + part.size / 2)
                case _:
                    pass  # tiles and drains lie inside walls


def _bar(at: tuple[float, float], step: float, scale: float, fields: int) -> list[Primitive]:
    """Fields of a bar, high and low in turn, and their ends in metres."""
    (x, y), length = at, step / scale
    result: list[Primitive] = []
    for k in range(fields):
        high = HIGH if k % 2 else HIGH / 2
        x0, x1 = x + k * length, x + (k + 1) * length
        result.append(Stroke(np.array([[x0, y], [x1, y], [x1, y + high], [x0, y + high]]), "TITLE", closed=True))
    for k in range(fields + 1):
        text = f"{k * step / 1000:g}" + (" m" if k == fields else "")
        result.append(Label(text, (x + k * length, y + HIGH + 1.0), FIGURE, "TEXT", "centre", "bottom"))
    return result
