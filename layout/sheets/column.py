"""The column of words and tables at the right of a sheet: legend, notes, findings, cautions."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

import numpy as np
from shapely import box

from layout.setout.told import as_told
from layout.sheets.crew_words import for_crew
from layout.sheets.lettering import text_width, wrapped
from layout.sheets.paper import BLOCK_HEIGHT, COLUMN, GUTTER, drawing_space, fair, has_column, heading, paragraph, table
from layout.sheets.scene import Fill, Label, Primitive, Stroke, Symbol, moved
from layout.words import say, worded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.setout.values import RoomSetOut

CAUTIONS = (
    worded("Resin systems sensitise skin: gloves, goggles, long sleeves, ventilation; a person once allergic stays away from them."),
    worded("Dry cutting makes respirable silica dust: cut wet or with extraction."),
    worded("Wet membrane, slurry and wash water are slippery: mark off, keep drains covered."),
    worded("No resin, solvent or slurry down a gully."),
    worded(
        "Electrical zones, structure, drainage, falls and slip resistance follow local codes and licensed "
        "practice. The product's data sheet and the responsible professional decide."
    ),
)
LEGEND: dict[str, tuple[tuple[str, str], ...]] = {
    "start": (
        ("START-LINE", worded("start line: snap along tile edges")),
        ("FIRST-TILE", worded("first whole tile")),
        ("TILE-CUT", worded("cut tile")),
        ("MOVEMENT-JOINT", worded("movement joint in the field")),
        ("STRUCTURAL-JOINT", worded("joint of the structure, carried through")),
        ("SEALANT", worded("sealant joint at edges and pipes")),
    ),
    "joints": (
        ("MOVEMENT-JOINT", worded("movement joint in the field")),
        ("STRUCTURAL-JOINT", worded("joint of the structure, carried through")),
        ("SEALANT", worded("sealant at walls, plinths, columns, pipes")),
    ),
    "falls": (
        ("VALLEY", worded("valley or low line: water gathers here")),
        ("HIP", worded("hip or high line: water parts here")),
        ("STEP", worded("step in the floor")),
        ("FALL", worded("way that water runs, its ratio")),
        ("LEVEL", worded("spot level, finished, in mm")),
    ),
    "elevations": (
        ("START-LINE", worded("datum line")),
        ("TILE-CUT", worded("cut tile")),
        ("FACE", worded("finished floor")),
        ("COLLAR", worded("top of the tanking")),
        ("TAPE-INTERNAL", worded("tape behind the tile")),
        ("SEALANT", worded("sealant joint")),
        ("EDGE-TRIM", worded("trim on an external arris")),
    ),
    "tape": (
        ("TAPE-INTERNAL", worded("tape in an internal corner")),
        ("TAPE-EXTERNAL", worded("tape across a threshold or on an edge")),
        ("TAPE-BRIDGE", worded("bridge with a loop over a structural joint")),
        ("COLLAR", worded("collar of a pipe, flange of a drain")),
    ),
}


PIECE = 150.0
"""Tables of an endless column are broken into pieces no taller than this, paper mm."""
PARAGRAPH = 60.0
"""A paragraph no higher is kept whole, paper mm."""
LEAST_LEFT = 80.0
"""What is left over goes on in a column with so much height left, paper mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """Words from one heading to the next: pieces that stay whole, each with its top and height, paper mm; `told` is all its text."""

    pieces: tuple[tuple[tuple[Primitive, ...], float, float], ...]
    told: tuple[str, ...]


@dataclass(slots=True)
class Column:
    """The words of a sheet, from the top down: beside its drawing, and what is left over on further pages; nothing is dropped.

    A further page has as many columns as go on it; the last ends above the title block. `spare` are places that a drawing leaves
    free on its own sheet, filled before a further page is begun: left, top and foot of each, paper mm. What is left over goes on
    where that of the column `before` ends, under the heading `rest`.
    `reserve` is kept free above the title block beside the drawing, mm. An `endless` column has no foot: its sections are taken into
    the columns of shared sheets.
    """

    size: tuple[float, float]
    scene: list[Primitive] = field(default_factory=list)
    further: list[list[Primitive]] = field(default_factory=list)
    reserve: float = 0.0
    y: float = 0.0
    x: float = field(init=False)
    foot: float = field(init=False)
    width: float = field(init=False)
    at: int = -1
    spare: list[tuple[float, float, float]] = field(default_factory=list)
    before: Column | None = None
    rest: str = ""
    endless: bool = False
    breaks: list[tuple[int, float, bool]] = field(default_factory=list)

    def __post_init__(self) -> None:
        _, y0, x1, y1 = drawing_space(self.size)
        self.width = COLUMN - 4.0
        self.x, self.y, self.foot = x1 - COLUMN, y1 - 4.0, y0 + BLOCK_HEIGHT + 4.0 + self.reserve
        if self.endless:
            self.x, self.y = 0.0, 0.0
        elif has_column(self.size):
            self.scene.append(Stroke(np.array([[self.x - 3.0, y1], [self.x - 3.0, y0]]), "TITLE"))
        else:
            self._next()

    @property
    def now(self) -> list[Primitive]:
        """The page that is being filled."""
        return self.further[-1] if self.further else self.scene

    @property
    def left(self) -> float:
        """Height left in the column, paper mm."""
        return PIECE if self.endless else self.y - self.foot

    def take_over(self, other: Column) -> None:
        """Hold the words of another column of the same paper, filled from the same start."""
        for each in fields(self):
            value = getattr(other, each.name)
            setattr(self, each.name, [*value] if isinstance(value, list) else value)
        self.further = [[*page] for page in other.further]

    def _next(self) -> None:
        """Go on in the next column, or on a further page."""
        if self.spare and not self.further:
            self.x, self.y, self.foot = self.spare.pop(0)
            return
        fresh = not self.further
        if self.before is not None and fresh:
            last = self.before
            self.further, self.at, self.x, self.y, self.foot = last.further, last.at, last.x, last.y, last.foot
            if self.left > LEAST_LEFT:
                self._under_rest()
                return
        self._new_column()
        if fresh:
            self._under_rest()

    def _under_rest(self) -> None:
        if self.rest:
            made, self.y = heading(self.rest, self.x, self.y, self.width)
            self.now.extend(made)

    def _new_column(self) -> None:
        x0, y0, x1, y1 = drawing_space(self.size)
        columns = max(int((x1 - x0) // (COLUMN + GUTTER)), 1)
        self.at += 1
        if not self.further or self.at >= columns:
            self.further.append([])
            self.at = 0
        last = self.at == columns - 1
        inset = 0.0 if x1 - COLUMN - x0 > GUTTER else 2.0  # a page no wider than its column: off the frame
        self.x = x1 - COLUMN + inset if last else x0 + 5.0 + self.at * (COLUMN + GUTTER)
        self.y, self.foot = y1 - 14.0, y0 + BLOCK_HEIGHT + 4.0 if last else y0 + 6.0

    def need(self, height: float) -> None:
        """Go on in the next column if so much height is not left, paper mm."""
        if self.endless:
            self.breaks.append((len(self.scene), self.y, False))
            return
        while self.left < height and self.spare:
            self._next()
        if self.left < height:
            adopted = self.before is not None and not self.further
            self._next()
            if adopted and self.left < height:
                self._next()

    def head(self, text: str, room: float = 18.0) -> None:
        """A heading, with room for something under it."""
        self.need(room)
        if self.endless:
            self.breaks[-1] = (len(self.scene), self.y, True)
        made, self.y = heading(text, self.x, self.y, self.width)
        self.now.extend(made)

    def words(self, text: str, height: float = 2.5, bullet: str = "") -> None:
        """A paragraph in words for the crew, kept whole; a long one in pieces of so much height at most."""
        indent = text_width(bullet + " ", height) if bullet else 0.0
        lines = wrapped(for_crew(text), height, self.width - indent)
        most = int(PARAGRAPH // (height * 1.6))
        for first in range(0, len(lines), most):
            piece = lines[first : first + most]
            self.need(len(piece) * height * 1.6)
            off = 0.0 if first == 0 else indent
            made, self.y = paragraph(" ".join(piece), self.x + off, self.y, self.width - off, height, bullet=bullet if first == 0 else "")
            self.now.extend(made)

    def rows(self, widths: Sequence[float], rows: Sequence[Sequence[str]], *, height: float = 2.5, right: Sequence[int] = ()) -> None:
        """A table; rows that do not fit go on in the next column under the same head."""
        step = height * 1.9
        widths = fair(widths, rows, height)
        head, body = rows[0], list(rows[1:])
        while True:
            self.need(min(len(body) + 1, 3) * step + 2.0)
            fit = max(int((self.left - 2.0) / step) - 1, 1)
            made, self.y = table(self.x, self.y, widths, [head, *body[:fit]], height=height, right=right)
            self.now.extend(made)
            body = body[fit:]
            if not body:
                return

    def sections(self) -> list[Section]:
        """What an endless column holds, from heading to heading."""
        ends = [*[(k, y) for k, y, _ in self.breaks[1:]], (len(self.scene), self.y)]
        result: list[list[tuple[tuple[Primitive, ...], float, float]]] = []
        for (k, y, head), (stop, low) in zip(self.breaks, ends, strict=True):
            if head or not result:
                result.append([])
            result[-1].append((tuple(self.scene[k:stop]), y, y - low))
        return [Section(tuple(own), tuple(item.text for made, _, _ in own for item in made if isinstance(item, Label))) for own in result]

    def take(self, section: Section) -> None:
        """Set a section of an endless column here, each piece whole; its heading stays with the first piece under it."""
        for k, (made, top, height) in enumerate(section.pieces):
            below = section.pieces[1][2] if k == 0 and len(section.pieces) > 1 else 0.0
            self.need(height + min(below, 40.0))
            self.now.extend(moved(item, (self.x, self.y - top)) for item in made)
            self.y -= height

    def gap(self, space: float = 2.0) -> None:
        """A little air."""
        self.y -= space

    def legend(self, kind: str, present: set[str]) -> None:
        """Samples of the lines that the drawing uses, each with words; two columns."""
        entries = [(layer, say(words)) for layer, words in LEGEND[kind] if layer in present]
        self.need((len(entries) + 1) // 2 * 5.5)
        half = self.width / 2
        top = self.y
        for k, (layer, words) in enumerate(entries):
            x = self.x + (k % 2) * half
            y = top - (k // 2) * 5.5 - 2.5
            if layer in ("TILE-CUT", "FIRST-TILE"):
                patch = box(x, y - 1.7, x + 14.0, y + 1.7)
                self.now.append(Fill(patch, layer, 0.14 if layer == "TILE-CUT" else 0.45))
                self.now.append(Stroke(np.array(patch.exterior.coords)[:-1], layer, closed=True))
            elif layer == "LEVEL":  # a place, not a line
                arms = np.array([[x + 7.0, y]]) + 1.0 * np.array([[[-1.0, 0.0], [1.0, 0.0]], [[0.0, -1.0], [0.0, 1.0]]])
                self.now.extend(Stroke(arm, layer) for arm in arms)
            else:
                self.now.append(Stroke(np.array([[x, y], [x + 14.0, y]]), layer))
            self.now.append(Label(words, (x + 16.0, y), 2.5, "TEXT", "left", "middle"))
        self.y = top - ((len(entries) + 1) // 2) * 5.5 - 2.0

    def symbols(self, entries: Sequence[tuple[str, str, str]]) -> None:
        """Symbols with words: (symbol, layer, words); two columns."""
        self.need((len(entries) + 1) // 2 * 5.5)
        half = self.width / 2
        top = self.y
        for k, (name, layer, words) in enumerate(entries):
            x = self.x + (k % 2) * half
            y = top - (k // 2) * 5.5 - 2.5
            self.now.append(Symbol(name, (x + 7.0, y), 3.6, layer))  # type: ignore[arg-type]
            self.now.append(Label(words, (x + 16.0, y), 2.5, "TEXT", "left", "middle"))
        self.y = top - ((len(entries) + 1) // 2) * 5.5 - 2.0

    def cautions(self) -> None:
        """The usual cautions, at the foot of the column, if there is room."""
        self.head(say("Cautions"))
        for text in CAUTIONS:
            self.words(say(text), bullet="•")

    def findings(self, room: RoomSetOut, floor_only: bool = False, most: int = 8, codes: tuple[str, ...] = ()) -> None:
        """What the tool found, as a list to tick off; of some codes only if any are given."""
        own = as_told(
            f
            for f in room.findings
            if (not floor_only or f.surface is None or f.surface.kind == "floor") and (not codes or f.code in codes)
        )
        if not own:
            return
        self.head(say("Look at these before work starts"))
        for k, told in enumerate(own):
            if k == most:
                self.words(say("… {own} more on the schedules", own=len(own) - k))
                break
            text = for_crew(told.text, room)
            self.words(say("Stop: {text}", text=text) if told.weight == "stop" else text, bullet="□")


def told(level: float) -> str:
    """A level as people write it: whole mm with its sign.

    >>> told(-41.7), told(0.2), told(12.4)
    ('−42', '±0', '+12')
    """
    whole = round(level)
    return "±0" if whole == 0 else f"{'+' if whole > 0 else '−'}{abs(whole)}"
