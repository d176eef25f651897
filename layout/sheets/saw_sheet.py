"""The saw list: from which tile which pieces are cut, alike tiles together, with boxes to tick."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.quantities.cutting import plan_cuts
from layout.sheets.draft import Draft
from layout.sheets.lettering import text_width
from layout.sheets.paper import SIZES
from layout.sheets.scene import Fill, Label, Stroke
from layout.sheets.schedule_sheet import Pages
from layout.units import EPS, TOUCH
from layout.vectors import pair
from layout.words import say, worded

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from layout.quantities.cutting import CutPiece, CutTile, CuttingPlan, TileCutting
    from layout.sheets.draft import Job
    from layout.sheets.scene import Primitive

    Floats = NDArray[np.float64]
    Way = tuple[CutTile, ...]  # tiles that are cut alike

TILE = 26.0
"""Longer side of a tile on its card, mm on paper."""
LINE = 4.0
"""From one line of a card's words to the next, mm."""
CAUTION = worded(
    "Cut wet or with extraction: dry cutting makes respirable silica dust. Eye, ear and hand protection; "
    "guards on; the saw's own instructions and local rules come first."
)
MARKS = ((3.5, "MARK"), (2.5, "TEXT"))
"""Letters of a mark inside a piece, mm, with their layer: the first that has room, as large as other words at the least."""
MOST_CARDS = 40
"""Cards of a tile; where there are more ways to cut it, those that need no drawing and come once or twice are lines of a table."""
MOST_BOXES = 16
"""Boxes to tick on a card; more tiles are counted by hand."""
STEP = 1.0
"""How far apart points of what a tile loses are looked at, mm."""
WIDE = 44.0
"""Least width of a card, mm."""


def drafts(job: Job) -> Iterator[Draft]:
    """The saw list of the whole set; none where nothing is cut."""
    paper = job.paper or "A3"
    plan = plan_cuts(job.setout)
    if not any(batch.tiles for batch in plan.batches):
        return
    for k, page in enumerate(pages(plan, SIZES[paper]), 1):
        yield Draft(f"saw-list-{k}", say("Saw list"), job.named, paper, None, (), page)


def pages(plan: CuttingPlan, size: tuple[float, float]) -> list[list[Primitive]]:
    """The paper scenes of the saw list."""
    result = Pages(size)
    result.head(say("How to read this list"))
    result.words(
        say(
            "Each card is one way to cut a tile, face up, and how many tiles are cut so. Set the fence once for a "
            "card. Grey is what is left over. The outer edges of a tile are factory edges: they go to open joints, "
            "cut edges to walls, coves and sealant."
        )
    )
    result.words(
        say(
            "Allowed for the blade: {kerf:g} mm. Sizes are saw sizes in mm: width × height as drawn; * sawn to the "
            "shape drawn, its card is on the cut sheets.",
            kerf=plan.rules.between_pieces,
        )
    )
    result.words(CAUTION)
    for batch in plan.batches:
        if batch.tiles:
            _batch(result, batch, plan.rules.least_bite)
    return result.pages


def _batch(result: Pages, batch: TileCutting, least_bite: float) -> None:
    """Tiles of one name and size: cards, lines of a table where there are too many, and what no saw takes off."""
    least = say("no fewer would do") if batch.proved else say("at least {bound}", bound=batch.bound)
    title = say(
        "Tile “{name}” {size:g} × {size_2:g}: {tiles} to cut, {least}; {whole} whole",
        name=batch.name,
        size=batch.size[0],
        size_2=batch.size[1],
        tiles=len(batch.tiles),
        least=least,
        whole=batch.whole,
    )
    result.y -= 4.0
    result.head(title, 2.0 * batch.size[1] * TILE / max(batch.size))
    # pieces of one row are alike but for a few tenths: each by itself is a bite or not
    bites = {tile.number: is_bite(tile, batch.size, least_bite) for own in batch.ways for tile in own}
    bitten, sawn = ([part for own in batch.ways if (part := tuple(t for t in own if bites[t.number] == bite))] for bite in (True, False))
    listed, drawn = _parted(sawn, lambda own: len(sawn) > MOST_CARDS and _needs_no_drawing(own, batch.size))
    _cards(result, batch, drawn)
    if listed:
        _lines(result, listed)
    if bitten:
        marks: Counter[str] = Counter()
        for own in bitten:
            marks[own[0].pieces[0].mark] += len(own)
        result.words(
            say(
                "Not sawn: {count} tiles that lose no more than {bite:g} mm. Let the joint there take it up, else grind it off: {marks}.",
                count=marks.total(),
                bite=least_bite,
                marks=", ".join(mark if many == 1 else f"{many}×{mark}" for mark, many in marks.items()),
            )
        )


def _parted(ways: Iterable[Way], are: Callable[[Way], bool]) -> tuple[list[Way], list[Way]]:
    """Ways to cut a tile that are so, and the others."""
    parted: tuple[list[Way], list[Way]] = [], []
    for own in ways:
        parted[0 if are(own) else 1].append(own)
    return parted


def is_bite(tile: CutTile, size: tuple[float, float], most: float) -> bool:
    """Whether a tile gives one piece, and nothing that it loses lies further than so much from that, mm."""
    if len(tile.pieces) > 1 or not most:
        return False
    own, full = tile.pieces[0].outline, shapely.box(0.0, 0.0, *size)
    if not own.buffer(most + TOUCH).covers(full):
        return False  # tells of most at once, and of a hole, whose outline is nowhere off the piece
    lost = shapely.segmentize(shapely.difference(full, own), STEP)
    return bool(shapely.distance(shapely.points(shapely.get_coordinates(lost)), own).max(initial=0.0) <= most + EPS)


def _needs_no_drawing(own: Way, size: tuple[float, float]) -> bool:
    """Whether a way that comes once or twice is told by its figures: one piece, or two strips of one direction."""
    pieces = own[0].pieces
    strips = any(all(piece.plain and piece.box[axis] == size[axis] for piece in pieces) for axis in (0, 1))
    return len(own) <= 2 and (len(pieces) == 1 or (len(pieces) == 2 and strips))


def _lines(result: Pages, ways: list[Way]) -> None:
    """Ways to cut a tile as lines, two beside each other: boxes to tick, the first tile's number, its pieces; the widest first."""
    ways = sorted(ways, key=lambda own: (-max(own[0].pieces[0].box), -min(own[0].pieces[0].box), own[0].number))
    cells = [
        ["□" * len(own), f"{own[0].number}", *(_words(piece) for piece in own[0].pieces), *([""] if len(own[0].pieces) == 1 else [])]
        for own in ways
    ]
    cells += [[""] * 4] * (len(cells) % 2)
    head = ["", say("no."), say("piece"), say("and")]
    result.y -= 4.0
    result.words(say("Cut once or twice, the widest first: tick each. Two pieces are two sides of one tile."))
    result.rows([7, 9, 30, 30] * 2, [head * 2, *(a + b for a, b in zip(cells[::2], cells[1::2], strict=True))])


def _words(piece: CutPiece) -> str:
    """Mark and saw size; a star where the shape is sawn."""
    return f"{piece.mark}  {piece.box[0]:g} × {piece.box[1]:g}" + ("" if piece.plain else " *")


def _cards(result: Pages, batch: TileCutting, ways: Sequence[Way]) -> None:
    per_row = max(1, int(result.width // WIDE))
    cell = result.width / per_row
    tall = batch.size[1] * TILE / max(batch.size)
    for k in range(0, len(ways), per_row):
        lines = max(len(own[0].pieces) for own in ways[k : k + per_row])
        height = 11.0 + tall + LINE * (lines + 1) + 4.0
        result.need(height)
        made: list[Primitive] = []
        for c, own in enumerate(ways[k : k + per_row]):
            made += _card(own, batch, result.x + c * cell, result.y, cell - 3.0)
        result.add(made, result.y - height)


def _card(own: Way, batch: TileCutting, x: float, y: float, width: float) -> list[Primitive]:
    """One way to cut a tile, top left at (x, y): how many, the tile with its pieces, their sizes, boxes to tick."""
    unit = TILE / max(batch.size)
    low = np.array([x + 1.0, y - 9.0 - batch.size[1] * unit])
    first = own[0]
    numbers = say("no. {number}", number=first.number) if len(own) == 1 else say("nos. {number} …", number=first.number)
    result: list[Primitive] = [
        Label(f"{len(own)} ×", (x + 1.0, y - 6.5), 5.0, "MARK", bold=True),
        Label(numbers, (x + width, y - 6.5), 2.5, "TEXT", "right"),
        Fill(shapely.box(*low, *(low + np.array(batch.size) * unit)), "TONE", 0.35),
        Stroke(_box(low, np.array(batch.size) * unit), "TITLE", closed=True),
    ]
    for piece in first.pieces:
        corner, size = low + np.array(piece.at) * unit, np.array(piece.box) * unit
        rings = [shapely.get_coordinates(ring)[:-1] * unit + low for ring in (piece.outline.exterior, *piece.outline.interiors)]
        result += [Fill(shapely.Polygon(rings[0], rings[1:]), "TILE-CUT", 0.0), *(Stroke(ring, "TITLE", closed=True) for ring in rings)]
        result += _mark(piece.mark, shapely.Polygon(rings[0], rings[1:]), corner + size / 2)
    foot = float(low[1]) - 2.0
    for k, piece in enumerate(first.pieces):
        result.append(Label(_words(piece), (x + 1.0, foot - LINE * k), 2.5, "TEXT", "left", "top"))
    return result + _boxes(len(own), x + 1.0, foot - LINE * len(first.pieces), width)


def _mark(mark: str, shape: shapely.Polygon, middle: Floats) -> list[Primitive]:
    """The mark inside a piece, as large and as upright as it goes; none where there is no room: the list names it."""
    widest = shapely.get_coordinates(shapely.maximum_inscribed_circle(shape, tolerance=0.1))[0]
    for height, layer in MARKS:
        for at in (middle, widest):
            for angle in (0.0, 90.0):
                half = np.array([text_width(mark, height, bold=True) + 0.6, height + 1.0])[:: -1 if angle else 1] / 2
                if shape.buffer(1e-6).covers(shapely.box(*(at - half), *(at + half))):
                    return [Label(mark, pair(at), height, layer, "centre", "middle", angle, bold=True)]
    return []


def _boxes(count: int, x: float, y: float, width: float) -> list[Primitive]:
    """Boxes to tick, one a tile; where they are too many, a line to write on."""
    each = 3.4
    if count <= min(MOST_BOXES, int(width // each)):
        return [Stroke(_box(np.array([x + k * each, y - 2.8]), np.array([2.6, 2.6])), "TEXT", closed=True) for k in range(count)]
    return [Label(say("cut: ........ of {count}", count=count), (x, y), 2.5, "TEXT", "left", "top")]


def _box(corner: Floats, size: Floats) -> Floats:
    return corner + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size
