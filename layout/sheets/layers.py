"""One table of layers: plain trade names, pens, dashes, colours.

Line widths from the ISO 128 series; dashes in multiples that tell joints, tape and start lines apart
without colour. Colours are the eight of Okabe and Ito, published as safe for colour-blind eyes.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    Layer("TONE", 0.13, (), GREY, "tints behind drawings"),
    Layer("TILE", 0.18, (), GREY, "whole tiles"),
    Layer("TILE-CUT", 0.18, (), BLACK, "cut tiles"),
    Layer("WALL", 0.7, (), BLACK, "bare walls and columns"),
    Layer("FACE", 0.25, (), GREY, "finished faces"),
    Layer("PLINTH", 0.5, (), BLACK, "plinths, kerbs and upstands"),
    Layer("OPENING", 0.35, (), BLACK, "doors and thresholds"),
    Layer("DRAIN", 0.5, (), BLUE, "gullies and channels"),
    Layer("PIPE", 0.35, (), BLUE, "pipes and fixings"),
    Layer("MOVEMENT-JOINT", 0.7, (6.0, 1.5, 1.0, 1.5), BLUE, "movement joints in the field"),
    Layer("STRUCTURAL-JOINT", 1.0, (6.0, 1.5, 1.0, 1.5, 1.0, 1.5), BLUE, "joints of the structure"),
    Layer("SEALANT", 0.35, (1.2, 1.2), BLUE, "sealant at walls, plinths, columns, pipes"),
    Layer("START-LINE", 1.0, (), VERMILION, "lines to snap"),
    Layer("FIRST-TILE", 0.5, (), VERMILION, "the first whole tile"),
    Layer("CUT-SIZE", 0.25, (), BLACK, "saw sizes at walls"),
    Layer("MARK", 0.25, (), BLACK, "marks of cut tiles"),
    Layer("HIP", 0.5, (4.0, 1.5), VERMILION, "hips and high lines of falls"),
    Layer("VALLEY", 0.5, (), BLUE, "valleys and low lines of falls"),
    Layer("STEP", 0.7, (1.2, 1.2), BLACK, "steps in the floor"),
    Layer("FALL", 0.5, (), BLUE, "arrows the way that water runs"),
    Layer("LEVEL", 0.35, (), BLACK, "spot levels"),
    Layer("EDGE-TRIM", 0.7, (), ORANGE, "trims on external arrises"),
    Layer("TAPE-INTERNAL", 0.7, (3.0, 1.5), GREEN, "tape in internal corners"),
    Layer("TAPE-EXTERNAL", 0.7, (1.2, 1.2), PURPLE, "tape on edges and thresholds"),
    Layer("TAPE-BRIDGE", 1.0, (6.0, 1.5, 1.0, 1.5), ORANGE, "tape bridging structural joints"),
    Layer("CORNER-PIECE", 0.35, (), GREEN, "corner pieces"),
    Layer("COLLAR", 0.5, (), GREEN, "collars and flanges"),
    Layer("TEST-POINT", 0.35, (), BLACK, "places to test the membrane"),
    Layer("DIMENSION", 0.25, (), BLACK, "dimensions"),
    Layer("TEXT", 0.25, (), BLACK, "words"),
    Layer("MATCH-LINE", 0.5, (6.0, 1.5, 1.0, 1.5), PURPLE, "where a part of a floor ends and the next sheet goes on"),
    Layer("AS-IT-WAS", 0.35, (3.0, 2.0), GREY, "what an earlier issue had there"),
    Layer("REVISION", 0.5, (), VERMILION, "clouds round what changed"),
    Layer("DAY-PIECE", 0.7, (4.0, 1.5), VERMILION, "where a day's piece ends"),
    Layer("FRAME", 0.7, (), BLACK, "frame of the sheet"),
    Layer("TITLE", 0.35, (), BLACK, "title block, tables"),
    Layer("VIEWPORT", 0.13, (), GREY, "windows onto the room"),
)
