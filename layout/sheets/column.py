"""The column of words and tables at the right of a sheet: legend, notes, findings, cautions."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from shapely import box

from layout.sheets.paper import BLOCK_HEIGHT, COLUMN, drawing_space, heading, paragraph, table
from layout.sheets.scene import Fill, Label, Primitive, Stroke, Symbol

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.setout.values import RoomSetOut

CAUTIONS = (
    "Resin systems sensitise skin: gloves, goggles, long sleeves, ventilation; a person once allergic stays away from them.",
    "Dry cutting makes respirable silica dust: cut wet or with extraction.",
    "Wet membrane, slurry and wash water are slippery: mark off, keep drains covered.",
    "No resin, solvent or slurry down a gully.",
    "Electrical zones, structure, drainage, falls and slip resistance follow local codes and licensed practice. "
    "The product's data sheet and the responsible professional decide.",
)
LEGEND: dict[str, tuple[tuple[str, str], ...]] = {
    "start": (
        ("START-LINE", "start line: snap along tile edges"),
        ("FIRST-TILE", "first whole tile"),
        ("TILE-CUT", "cut tile"),
        ("MOVEMENT-JOINT", "movement joint in the field"),
        ("STRUCTURAL-JOINT", "joint of the structure, carried through"),
        ("SEALANT", "sealant joint at edges and pipes"),
    ),
    "joints": (
        ("MOVEMENT-JOINT", "movement joint in the field"),
        ("STRUCTURAL-JOINT", "joint of the structure, carried through"),
        ("SEALANT", "sealant at walls, plinths, columns, pipes"),
    ),
    "falls": (
        ("VALLEY", "valley or low line: water gathers here"),
        ("HIP", "hip or high line: water parts here"),
        ("STEP", "step in the floor"),
        ("FALL", "way that water runs, its ratio"),
        ("LEVEL", "spot level, finished, in mm"),
    ),
    "elevations": (
        ("START-LINE", "datum line"),
        ("TILE-CUT", "cut tile"),
        ("FACE", "finished floor"),
        ("COLLAR", "top of the tanking"),
        ("TAPE-INTERNAL", "tape behind the tile"),
        ("SEALANT", "sealant joint"),
        ("EDGE-TRIM", "trim on an external arris"),
    ),
    "tape": (
        ("TAPE-INTERNAL", "tape in an internal corner"),
        ("TAPE-EXTERNAL", "tape across a threshold or on an edge"),
        ("TAPE-BRIDGE", "bridge with a loop over a structural joint"),
        ("COLLAR", "collar of a pipe, flange of a drain"),
    ),
}


@dataclass(slots=True)
class Column:
    """Fills the column from the top down and says when it is full."""

    size: tuple[float, float]
    scene: list[Primitive] = field(default_factory=list)
    y: float = 0.0

    def __post_init__(self) -> None:
        _, y0, x1, y1 = drawing_space(self.size)
        self.x = x1 - COLUMN
        self.y = y1 - 4.0
        self.foot = y0 + BLOCK_HEIGHT + 4.0
        self.width = COLUMN - 4.0
        self.scene.append(Stroke(np.array([[self.x - 3.0, y1], [self.x - 3.0, y0]]), "TITLE"))

    x: float = field(init=False)
    foot: float = field(init=False)
    width: float = field(init=False)

    @property
    def left(self) -> float:
        """Height left above the title block, paper mm."""
        return self.y - self.foot

    def head(self, text: str) -> None:
        """A heading."""
        made, self.y = heading(text, self.x, self.y, self.width)
        self.scene += made

    def words(self, text: str, height: float = 2.5, bullet: str = "") -> None:
        """A paragraph."""
        made, self.y = paragraph(text, self.x, self.y, self.width, height, bullet=bullet)
        self.scene += made

    def rows(self, widths: Sequence[float], rows: Sequence[Sequence[str]], *, height: float = 2.5, right: Sequence[int] = ()) -> None:
        """A table; rows that do not fit above the title block are counted in a last line."""
        step = height * 1.9
        room = int((self.left - 4.0) / step)
        shown = list(rows)
        if len(shown) > room:
            kept = max(room - 1, 1)
            left = len(shown) - kept
            shown = [*shown[:kept], [f"… {left} more: see the schedules", *[""] * (len(widths) - 1)]]
        made, self.y = table(self.x, self.y, widths, shown, height=height, right=right)
        self.scene += made

    def gap(self, space: float = 2.0) -> None:
        """A little air."""
        self.y -= space

    def legend(self, kind: str, present: set[str]) -> None:
        """Samples of the lines that the drawing uses, each with words; two columns."""
        entries = [(layer, words) for layer, words in LEGEND[kind] if layer in present]
        half = self.width / 2
        top = self.y
        for k, (layer, words) in enumerate(entries):
            x = self.x + (k % 2) * half
            y = top - (k // 2) * 5.5 - 2.5
            if layer in ("TILE-CUT", "FIRST-TILE"):
                patch = box(x, y - 1.7, x + 14.0, y + 1.7)
                self.scene.append(Fill(patch, layer, 0.14 if layer == "TILE-CUT" else 0.45))
                self.scene.append(Stroke(np.array(patch.exterior.coords)[:-1], layer, closed=True))
            else:
                self.scene.append(Stroke(np.array([[x, y], [x + 14.0, y]]), layer))
            self.scene.append(Label(words, (x + 16.0, y), 2.5, "TEXT", "left", "middle"))
        self.y = top - ((len(entries) + 1) // 2) * 5.5 - 2.0

    def symbols(self, entries: Sequence[tuple[str, str, str]]) -> None:
        """Symbols with words: (symbol, layer, words); two columns."""
        half = self.width / 2
        top = self.y
        for k, (name, layer, words) in enumerate(entries):
            x = self.x + (k % 2) * half
            y = top - (k // 2) * 5.5 - 2.5
            self.scene.append(Symbol(name, (x + 7.0, y), 3.6, layer))  # type: ignore[arg-type]
            self.scene.append(Label(words, (x + 16.0, y), 2.5, "TEXT", "left", "middle"))
        self.y = top - ((len(entries) + 1) // 2) * 5.5 - 2.0

    def cautions(self) -> None:
        """The usual cautions, at the foot of the column, if there is room."""
        self.head("Cautions")
        for text in CAUTIONS:
            self.words(text, bullet="•")

    def findings(self, room: RoomSetOut, floor_only: bool = False, most: int = 8, codes: tuple[str, ...] = ()) -> None:
        """What the tool found, as a list to tick off; of some codes only if any are given."""
        own = [f for f in room.findings if (not floor_only or f.where == "floor") and (not codes or f.code in codes)]
        if not own:
            return
        self.head("Look at these before work starts")
        for k, finding in enumerate(own):
            if k == most or self.left < 16.0:
                self.words(f"… {len(own) - k} more on the schedules")
                break
            self.words(finding.text, bullet="□")


def told(level: float) -> str:
    """A level as people write it: whole mm with its sign.

    >>> told(-41.7), told(0.2), told(12.4)
    ('−42', '±0', '+12')
    """
    whole = round(level)
    return "±0" if whole == 0 else f"{'+' if whole > 0 else '−'}{abs(whole)}"
