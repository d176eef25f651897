"""Templates: pieces with arcs at true size, to print, cut out and lay on the tile.

Not part of a set unless asked for: paper moves with damp, and printers scale. A bar of 100 mm on every page shows whether the
print is true; the piece is scribed from what stands there where it is not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon

from layout.sheets.cut_places import laid_cuts
from layout.sheets.draft import Draft
from layout.sheets.paper import BLOCK_HEIGHT, BLOCK_WIDTH, SIZES, drawing_space
from layout.sheets.scene import Fill, Label, Stroke
from layout.words import say, worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from layout.sheets.cut_places import LaidCut
    from layout.sheets.draft import Job
    from layout.sheets.scene import Primitive
    from layout.vectors import Floats

PAPERS = ("A4", "A3", "A2", "A1", "A0")
TOP, APART, UNDER = 26.0, 8.0, 12.0
"""Kept over the templates for heading and bar, between them, and under each for its words, paper mm."""
ABOVE, BESIDE = BLOCK_HEIGHT + 4.0, BLOCK_WIDTH + 4.0
"""What the title block takes of a page's lower right corner, paper mm."""
BAR = 100.0
"""Length of the bar that shows whether a print is true, mm."""
TITLE = worded("Templates at true size")


def drafts(job: Job) -> Iterator[Draft]:
    """Templates of every piece with an arc or a round hole, on the smallest paper that takes the largest; none where there is no arc."""
    own = curved(job)
    if not own:
        return
    size = np.max([each.box for each in own], axis=0) + np.array([0.0, UNDER])
    paper = job.paper or next((name for name in PAPERS if _fits(name, *size)), PAPERS[-1])
    for k, page in enumerate(_pages(own, paper), 1):
        yield Draft(
            f"templates-{k}",
            say(TITLE),
            job.named,
            paper,
            None,
            (),
            page,
            scale=1.0,
            heading=say("{title}: print at 100 %, then measure the bar", title=TITLE),
        )


def curved(job: Job) -> list[LaidCut]:
    """Marks with an arc or a round hole, each once, in the order of marks."""
    found: dict[str, LaidCut] = {}
    for room in job.rooms:
        for number in range(len(room.room.surfaces)):
            for each in laid_cuts(job.setout, room.index, [number]):
                if any(line.arc is not None for line in each.lines):
                    found.setdefault(each.cut.mark, each)
    return [found[cut.mark] for cut in job.setout.cuts if cut.mark in found]


def _space(paper: str) -> Floats:
    """Where templates stand on a paper: x0, y0, x1, y1, mm."""
    x0, y0, x1, y1 = drawing_space(SIZES[paper])
    return np.array([x0 + 6.0, y0 + 4.0, x1 - 6.0, y1 - TOP])


def _fits(paper: str, wide: float, tall: float) -> bool:
    """Whether a piece goes on a paper: over the title block, or left of it."""
    x0, y0, x1, y1 = _space(paper)
    return bool((wide <= x1 - x0 and tall <= y1 - y0 - ABOVE) or (wide <= x1 - x0 - BESIDE and tall <= y1 - y0))


def _pages(own: Sequence[LaidCut], paper: str) -> list[list[Primitive]]:
    """Templates in rows from the upper left; a piece that is larger than the paper is left out and named."""
    x0, y0, x1, y1 = _space(paper)
    result: list[list[Primitive]] = []
    large = [each.cut.mark for each in own if not _fits(paper, each.box[0], each.box[1] + UNDER)]
    x, y, row = x0, y1, 0.0
    for each in (each for each in own if each.cut.mark not in large):
        wide, tall = each.box[0], each.box[1] + UNDER
        right = x1 - (BESIDE if y - tall < y0 + ABOVE else 0.0)
        if x > x0 and x + wide > right:
            x, y, row = x0, y - row - APART, 0.0
        if not result or y - tall < y0 or (y - tall < y0 + ABOVE and x + wide > x1 - BESIDE):
            result.append(_bar(x0, y1 + 8.0, large))
            x, y, row = x0, y1, 0.0
        result[-1] += _template(each, x, y)
        x, row = x + wide + APART, max(row, tall)
    return result


def _bar(x: float, y: float, large: Sequence[str]) -> list[Primitive]:
    ends = [Stroke(np.array([[at, y - 1.5], [at, y + 1.5]]), "DIMENSION") for at in (x, x + BAR)]
    left = say("; larger than this paper: {large}", large=", ".join(large)) if large else ""
    return [
        Stroke(np.array([[x, y], [x + BAR, y]]), "DIMENSION"),
        *ends,
        Label(say("{bar:g} mm on a true print{left}", bar=BAR, left=left), (x + BAR + 4.0, y), 3.5, "TEXT", "left", "middle"),
    ]


def _template(each: LaidCut, x: float, y: float) -> list[Primitive]:
    """A piece at 1:1 in its tile, top left at (x, y); crosses at the centres of its arcs that lie on it."""
    low = np.array([x, y - each.box[1]])
    result: list[Primitive] = [
        Stroke(each.tile + low, "TONE", closed=True),
        Fill(Polygon(each.ring + low, [hole + low for hole in each.holes]), "TILE-CUT", 0.05),
        Stroke(each.ring + low, "TITLE", closed=True),
        *[Stroke(hole + low, "TITLE", closed=True) for hole in each.holes],
    ]
    for line in each.lines:
        if line.arc is not None and (0.0 < line.arc[0] < each.box[0]) and (0.0 < line.arc[1] < each.box[1]):
            at = np.array(line.arc[:2]) + low
            result += [Stroke(np.array([at - way, at + way]), "TITLE") for way in (np.array([3.0, 0.0]), np.array([0.0, 3.0]))]
    radii = ", ".join(f"R {line.arc[2]:.0f}" for line in each.lines if line.arc is not None)
    words = say("{count} off · face up · {radii}", count=each.count, radii=radii)
    mark = Label(each.cut.mark, (x, y - each.box[1] - 7.0), 5.0, "MARK", bold=True)
    return [*result, mark, Label(words, (x + 18.0, y - each.box[1] - 6.0), 2.5, "TEXT")]
