"""One table of layers: plain trade names, pens, dashes, colours.

Line widths from the ISO 128 series; dashes in multiples that tell joints, tape and start lines apart
without colour. Colours are the eight of Okabe and Ito, published as safe for colour-blind eyes.
"""

from __future__ import annotations

from dataclasses import dataclass

from layout.words import worded

BLACK = (0, 0, 0)
GREY = (110, 110, 110)
ORANGE = (230, 159, 0)
SKY = (86, 180, 233)
GREEN = (0, 158, 115)
BLUE = (0, 114, 178)
VERMILION = (176, 62, 0)
PURPLE = (204, 121, 167)


@dataclass(frozen=True, slots=True)
class Layer:
    """Name, pen in mm, dash pattern in paper mm (empty: continuous), colour, and what it carries."""

    name: str
    pen: float
    dash: tuple[float, ...]
    colour: tuple[int, int, int]
    carries: str


def _table(*layers: Layer) -> dict[str, Layer]:
    return {layer.name: layer for layer in layers}


LAYERS = _table(
    Layer("TONE", 0.13, (), GREY, worded("tints behind drawings")),
    Layer("TILE", 0.18, (), GREY, worded("whole tiles")),
    Layer("TILE-CUT", 0.18, (), BLACK, worded("cut tiles")),
    Layer("WALL", 0.7, (), BLACK, worded("bare walls and columns")),
    Layer("FACE", 0.25, (), GREY, worded("finished faces")),
    Layer("PLINTH", 0.5, (), BLACK, worded("plinths, kerbs and upstands")),
    Layer("OPENING", 0.35, (), BLACK, worded("doors and thresholds")),
    Layer("DRAIN", 0.5, (), BLUE, worded("gullies and channels")),
    Layer("PIPE", 0.35, (), BLUE, worded("pipes and fixings")),
    Layer("MOVEMENT-JOINT", 0.7, (6.0, 1.5, 1.0, 1.5), BLUE, worded("movement joints in the field")),
    Layer("STRUCTURAL-JOINT", 1.0, (6.0, 1.5, 1.0, 1.5, 1.0, 1.5), BLUE, worded("joints of the structure")),
    Layer("SEALANT", 0.35, (1.2, 1.2), BLUE, worded("sealant at walls, plinths, columns, pipes")),
    Layer("START-LINE", 1.0, (), VERMILION, worded("lines to snap")),
    Layer("FIRST-TILE", 0.5, (), VERMILION, worded("the first whole tile")),
    Layer("CUT-SIZE", 0.25, (), BLACK, worded("saw sizes at walls")),
    Layer("MARK", 0.25, (), BLACK, worded("marks of cut tiles")),
    Layer("HIP", 0.5, (4.0, 1.5), VERMILION, worded("hips and high lines of falls")),
    Layer("VALLEY", 0.5, (), BLUE, worded("valleys and low lines of falls")),
    Layer("STEP", 0.7, (1.2, 1.2), BLACK, worded("steps in the floor")),
    Layer("FALL", 0.5, (), BLUE, worded("arrows the way that water runs")),
    Layer("LEVEL", 0.35, (), BLACK, worded("spot levels")),
    Layer("EDGE-TRIM", 0.7, (), ORANGE, worded("trims on external arrises")),
    Layer("TAPE-INTERNAL", 0.7, (3.0, 1.5), GREEN, worded("tape in internal corners")),
    Layer("TAPE-EXTERNAL", 0.7, (1.2, 1.2), PURPLE, worded("tape on edges and thresholds")),
    Layer("TAPE-BRIDGE", 1.0, (6.0, 1.5, 1.0, 1.5), ORANGE, worded("tape bridging structural joints")),
    Layer("CORNER-PIECE", 0.35, (), GREEN, worded("corner pieces")),
    Layer("COLLAR", 0.5, (), GREEN, worded("collars and flanges")),
    Layer("TEST-POINT", 0.35, (), BLACK, worded("places to test the membrane")),
    Layer("DIMENSION", 0.25, (), BLACK, worded("dimensions")),
    Layer("TEXT", 0.25, (), BLACK, worded("words")),
    Layer("MATCH-LINE", 0.5, (6.0, 1.5, 1.0, 1.5), PURPLE, worded("where a part of a floor ends and the next sheet goes on")),
    Layer("AS-IT-WAS", 0.35, (3.0, 2.0), GREY, worded("what an earlier issue had there")),
    Layer("REVISION", 0.5, (), VERMILION, worded("clouds round what changed")),
    Layer("DAY-PIECE", 0.7, (4.0, 1.5), VERMILION, worded("where a day's piece ends")),
    Layer("FRAME", 0.7, (), BLACK, worded("frame of the sheet")),
    Layer("TITLE", 0.35, (), BLACK, worded("title block, tables")),
    Layer("VIEWPORT", 0.13, (), GREY, worded("windows onto the room")),
)
