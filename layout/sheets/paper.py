"""Paper: sizes, frames, scales and the title block, after the ISO standards.

Sizes ISO 216; frame ISO 5457 (20 mm on the left, 10 mm elsewhere, line 0.7, centring marks) and scales
ISO 5455 from memory; title block fields ISO 7200, 180 mm wide, bottom right.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from shapely import box

from layout.sheets.lettering import fitted, text_width, wrapped
from layout.sheets.scene import Fill, Label, Primitive, Stroke, TitleBlock
from layout.words import note, say, spelt, worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.plan.values import Project

SIZES = {"A4": (210.0, 297.0), "A3": (420.0, 297.0), "A2": (594.0, 420.0), "A1": (841.0, 594.0), "A0": (1189.0, 841.0)}
"""Trimmed sizes, mm (ISO 216): across, but for A4, which stands upright (ISO 5457, from memory) and goes on a clipboard so."""
SIZES |= {f"{name}-upright": (SIZES[name][1], SIZES[name][0]) for name in ("A2", "A1", "A0")}
SCALES = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
"""Reductions of ISO 5455 (from memory)."""
PLAN_SCALES = (20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0, 125.0, 150.0, 200.0)
"""Reductions of a room in plan: those of ISO 5455 and what building practice puts between, so that the drawing fills its sheet."""
OWN_SCALES = (10.0, 15.0, *PLAN_SCALES)
"""Scales of a room with sheets of its own: a small one would lie lost on its sheet at a plan's. Rooms that share sheets keep to few scales."""
MARGIN_LEFT, MARGIN = 20.0, 10.0
BLOCK_WIDTH, BLOCK_HEIGHT = 180.0, 50.0
COLUMN = 180.0
CAPTION = 2.5
"""Height of the captions in the title block: the least on a sheet, mm."""
GUTTER = 5.0
SMALLEST = 50.0
"""Scale down to which a room is drawn so that it goes on a smaller paper, or takes fewer parts on one that was asked for."""
ENOUGH, HARDLY_LESS = 0.4, 0.8
"""A drawing that fills so much of its sheet stays on it; else it goes on a larger one, if less than this of what it fills there."""
PADDING = 1.6
"""Kept free beside the words of a table's cell, mm."""
LEAST_BESIDE = 400.0
"""Narrower sheets have no column beside the drawing, mm."""
MARGIN_ROUND = 26.0
"""Kept round a room for what stands outside its walls, paper mm."""


def drawing_space(size: tuple[float, float]) -> tuple[float, float, float, float]:
    """Inside of the frame: x0, y0, x1, y1 in paper mm."""
    return MARGIN_LEFT, MARGIN, size[0] - MARGIN, size[1] - MARGIN


def has_column(size: tuple[float, float]) -> bool:
    """Whether a sheet has room for words beside its drawing: on A4 they go on a sheet of their own."""
    return size[0] >= LEAST_BESIDE


def drawing_window(size: tuple[float, float]) -> tuple[float, float, float, float]:
    """Where a drawing stands: x0, y0, x1, y1 in paper mm; left of the column, or above the title block where there is none."""
    x0, y0, x1, y1 = drawing_space(size)
    return (x0, y0, x1 - COLUMN - GUTTER, y1) if has_column(size) else (x0, y0 + BLOCK_HEIGHT + 2.0, x1, y1)


def for_drawing(size: tuple[float, float]) -> float:
    """What a drawing's share of its sheet is taken of: the frame less the title block, which every sheet must have, mm².

    The words beside a drawing are not taken off: a sheet of words with a small drawing shows as one.
    """
    x0, y0, x1, y1 = drawing_space(size)
    return (x1 - x0) * (y1 - y0) - BLOCK_WIDTH * BLOCK_HEIGHT


def well_filled(drawn: Sequence[tuple[str, float, float]]) -> int:
    """Which to take of some papers with the width and height that a drawing takes on each, paper mm; smaller papers come first.

    >>> well_filled([("A3", 200.0, 200.0), ("A2", 370.0, 380.0)]), well_filled([("A3", 150.0, 150.0), ("A2", 370.0, 380.0)])
    (0, 1)
    """
    shares = [wide * tall / for_drawing(SIZES[paper]) for paper, wide, tall in drawn]
    return next(k for k, share in enumerate(shares) if share >= min(ENOUGH, HARDLY_LESS * max(shares)))


def choose(
    width: float, height: float, *, margin: float = MARGIN_ROUND, column: float = COLUMN, scales: tuple[float, ...] = PLAN_SCALES
) -> tuple[str, float]:
    """Paper and scale for a room of a given size in mm, beside a column of tables.

    A3 and A2 each with the largest of the `scales` that fits, down to 1:50: the smaller where the drawing with what stands round it
    fills enough of it, or hardly less of it than of the larger; A1 for a room that goes on neither.
    """

    def taken(scale: float) -> tuple[float, float]:
        return width / scale + 2 * margin, height / scale + 2 * margin

    def fits(paper: str, scale: float) -> bool:
        x0, y0, x1, y1 = drawing_space(SIZES[paper])
        wide, tall = taken(scale)
        return wide <= x1 - x0 - column - GUTTER and tall <= y1 - y0 - 14.0

    fine = [scale for scale in scales if scale <= SMALLEST]
    found = [(paper, scale) for paper in ("A3", "A2") if (scale := next((s for s in fine if fits(paper, s)), None)) is not None]
    if found:
        return found[well_filled([(paper, *taken(scale)) for paper, scale in found])]
    every = (*scales, *[s for s in SCALES if s > PLAN_SCALES[-1]])
    return "A1", next((scale for scale in every if fits("A1", scale)), SCALES[-1])


def box_strokes(x0: float, y0: float, x1: float, y1: float, layer: str) -> Stroke:
    """A rectangle."""
    return Stroke(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]), layer, closed=True)


def frame(size: tuple[float, float]) -> list[Primitive]:
    """Frame line and centring marks."""
    x0, y0, x1, y1 = drawing_space(size)
    w, h = size
    marks = [
        ((w / 2, h), (w / 2, h - MARGIN - 5)),
        ((w / 2, 0), (w / 2, MARGIN + 5)),
        ((0, h / 2), (MARGIN_LEFT + 5, h / 2)),
        ((w, h / 2), (w - MARGIN - 5, h / 2)),
    ]
    return [box_strokes(x0, y0, x1, y1, "FRAME"), *[Stroke(np.array(mark), "FRAME") for mark in marks]]


def title_block(project: Project, title: str, room: str, number: int, total: int, paper: str, scale: str) -> TitleBlock:
    """Fields of the title block (ISO 7200: owner, number, title, sheet, dates, people)."""
    return TitleBlock(
        (
            (worded("Title"), project.title),
            (worded("Supplementary title"), f"{room} · {title}"),
            (worded("Legal owner"), project.client or "—"),
            (worded("Identification number"), project.number or "—"),
            (worded("Revision"), project.revision or "—"),
            (worded("Date of issue"), project.date.isoformat() if project.date else "—"),
            (worded("Sheet"), f"{number}/{total}"),
            (worded("Creator"), project.drawn_by or "—"),
            (worded("Approved by"), project.approved_by or "—"),
            (worded("Prepared"), project.prepared or "—"),
            (worded("Checked"), project.checked or "—"),
            (worded("Status"), project.status or "—"),
            (worded("Document type"), say("Setting-out sheet")),
            (worded("Scale"), scale),
            (worded("Paper"), paper.removesuffix("-upright")),
            (worded("Latest revision"), _latest(project)),
        )
    )


def revision_table(project: Project, size: tuple[float, float]) -> tuple[list[Primitive], float]:
    """All revisions above the title block, the latest on top, and the height that they take, mm; nothing where there are fewer than two."""
    if len(project.revisions) < 2:
        return [], 0.0
    rows = [[say("revision"), say("date"), say("what changed")]]
    rows += [[row.letter, row.date.isoformat(), row.what] for row in reversed(project.revisions)]
    height = len(rows) * 2.5 * 1.9 + 4.0
    _, y0, x1, _ = drawing_space(size)
    made, _ = table(x1 - BLOCK_WIDTH + 1.0, y0 + BLOCK_HEIGHT + height - 1.0, (20.0, 26.0, BLOCK_WIDTH - 48.0), rows)
    return made, height


def _latest(project: Project) -> str:
    """The last row of the revision table in one line."""
    if not project.revisions:
        return "—"
    row = project.revisions[-1]
    return f"{row.letter} · {row.date.isoformat()} · {row.what}"


def block_primitives(block: TitleBlock, size: tuple[float, float]) -> list[Primitive]:
    """The title block as drawn, bottom right inside the frame."""
    _, y0, x1, _ = drawing_space(size)
    x0 = x1 - BLOCK_WIDTH
    values = dict(block.fields)
    rows: list[tuple[float, list[tuple[str, float, float]]]] = [
        (11.0, [("Title", 108, 5.0), ("Status", 72, 5.0)]),
        (9.8, [("Supplementary title", 134, 3.5), ("Document type", 46, 2.5)]),
        (9.4, [("Legal owner", 56, 2.5), ("Creator", 31, 2.5), ("Prepared", 31, 2.5), ("Checked", 31, 2.5), ("Approved by", 31, 2.5)]),
        (
            10.4,
            [
                ("Identification number", 54, 3.5),
                ("Revision", 20, 3.5),
                ("Date of issue", 38, 3.5),
                ("Scale", 28, 3.5),
                ("Paper", 18, 3.5),
                ("Sheet", 22, 3.5),
            ],
        ),
        (9.4, [("Latest revision", BLOCK_WIDTH, 2.5)]),
    ]
    result: list[Primitive] = [Fill(box(x0, y0, x1, y0 + BLOCK_HEIGHT), "TITLE", 0.0)]
    y = y0 + BLOCK_HEIGHT
    for height, cells in rows:
        x = x0
        for name, width, letters in cells:
            result.append(box_strokes(x, y - height, x + width, y, "TITLE"))
            result.append(Label(say(name), (x + 1.2, y - 1.0), CAPTION, "TITLE", "left", "top"))
            result.append(
                Label(
                    fitted(values[name], letters, width - 2.4, bold=letters >= 5.0),
                    (x + 1.2, y - height + 1.4),
                    letters,
                    "TITLE",
                    bold=letters >= 5.0,
                )
            )
            x += width
        y -= height
    return [*result, *_translated(size)]


def _translated(size: tuple[float, float]) -> list[Primitive]:
    """Under the frame, what of the sheet is translated; nothing on an English sheet."""
    return [Label(note(), (size[0] - MARGIN, 4.5), CAPTION, "TITLE", "right")] if note() else []


def paragraph(
    text: str, x: float, y: float, width: float, height: float = 2.5, *, layer: str = "TEXT", bullet: str = ""
) -> tuple[list[Primitive], float]:
    """Words broken to a width, from the top down; the primitives and the y below them."""
    indent = text_width(bullet + " ", height) if bullet else 0.0
    result: list[Primitive] = []
    for k, line in enumerate(wrapped(text, height, width - indent)):
        if bullet and k == 0:
            result.append(Label(bullet, (x, y), height, layer, "left", "top"))
        result.append(Label(line, (x + indent, y), height, layer, "left", "top"))
        y -= height * 1.6
    return result, y - height * 0.25


def heading(text: str, x: float, y: float, width: float) -> tuple[list[Primitive], float]:
    """A heading with a line under it; the primitives and the y below."""
    lines = wrapped(text, 3.5, width, bold=True)
    made: list[Primitive] = [Label(line, (x, y - 4.1 - 4.6 * k), 3.5, "TEXT", bold=True) for k, line in enumerate(lines)]
    low = y - 5.4 - 4.6 * (len(lines) - 1)
    return [*made, Stroke(np.array([[x, low], [x + width, low]]), "TITLE")], low - 2.6


def fair(widths: Sequence[float], rows: Sequence[Sequence[str]], height: float = 2.5) -> list[float]:
    """Widths of a table's columns, mm: those too narrow for a cell take what others have to spare, so that no word is cut short for it.

    >>> [round(each) for each in fair((20.0, 20.0), [["what", "m"], ["reinforcing tape", "3"]])]
    [29, 11]
    >>> fair((40.0, 20.0), [["what", "m"], ["tape", "3"]])
    [40.0, 20.0]
    """
    needs = [max(text_width(spelt(row[c]), height, k == 0) for k, row in enumerate(rows)) + PADDING for c in range(len(widths))]
    lacks = [max(need - width, 0.0) for need, width in zip(needs, widths, strict=True)]
    spare = [max(width - need, 0.0) for need, width in zip(needs, widths, strict=True)]
    lack, over = math.fsum(lacks), math.fsum(spare)
    if not lack or not over:
        return list(widths)
    taken = min(lack, over)
    return [width + own * taken / lack - extra * taken / over for width, own, extra in zip(widths, lacks, spare, strict=True)]


def table(
    x: float,
    y: float,
    widths: Sequence[float],
    rows: Sequence[Sequence[str]],
    *,
    height: float = 2.5,
    right: Sequence[int] = (),
    head: bool = True,
) -> tuple[list[Primitive], float]:
    """A table from the top down: the first row is its head; columns in `right` are set to the right."""
    step = height * 1.9
    total = math.fsum(widths)
    result: list[Primitive] = []
    for k, row in enumerate(rows):
        at = x
        for c, (cell, width) in enumerate(zip(row, widths, strict=True)):
            text = fitted(cell, height, width - PADDING + 1e-6, bold=head and k == 0)
            if c in right:
                result.append(Label(text, (at + width - 0.8, y - step / 2), height, "TEXT", "right", "middle", bold=head and k == 0))
            else:
                result.append(Label(text, (at + 0.8, y - step / 2), height, "TEXT", "left", "middle", bold=head and k == 0))
            at += width
        y -= step
        if k == 0 and head:
            result.append(Stroke(np.array([[x, y], [x + total, y]]), "TITLE"))
        elif k < len(rows) - 1:
            result.append(Stroke(np.array([[x, y], [x + total, y]]), "TONE"))
    return result, y - 2.0
