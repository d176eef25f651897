"""Primitives of a scene as entities of a DXF drawing; whole tiles as array inserts."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any, assert_never

import numpy as np
import shapely
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.lldxf import const

from layout.shapes import rectangles, turned
from layout.sheets.layers import LAYERS
from layout.sheets.lettering import FONT_FILE
from layout.sheets.paper import BLOCK_HEIGHT, BLOCK_WIDTH, CAPTION, drawing_space
from layout.sheets.scene import Block, Dimension, Fill, Label, Primitive, Sheet, Stroke, Symbol, Tiles, readable, symbol_strokes

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STYLE = "GAUGEROD"
_CODES = str.maketrans({"\\": "\\\\", "{": "\\{", "}": "\\}", "^": "^ "})
MOST_PATHS = 60
"""Outlines in one hatch: some readers grow slow with more than a hundred."""
_ALIGN = {
    ("left", "bottom"): TextEntityAlignment.LEFT,
    ("centre", "bottom"): TextEntityAlignment.CENTER,
    ("right", "bottom"): TextEntityAlignment.RIGHT,
    ("left", "middle"): TextEntityAlignment.MIDDLE_LEFT,
    ("centre", "middle"): TextEntityAlignment.MIDDLE_CENTER,
    ("right", "middle"): TextEntityAlignment.MIDDLE_RIGHT,
    ("left", "top"): TextEntityAlignment.TOP_LEFT,
    ("centre", "top"): TextEntityAlignment.TOP_CENTER,
    ("right", "top"): TextEntityAlignment.TOP_RIGHT,
}
_ATTACH = {
    (across, upward): 1 + k + 3 * row
    for row, upward in enumerate(("top", "middle", "bottom"))
    for k, across in enumerate(("left", "centre", "right"))
}
"""MTEXT attachment points, group code 71: 1 top left to 9 bottom right."""
_WIDTHS = tuple(sorted(const.VALID_DXF_LINEWEIGHTS))


def literal(text: str, *, several: bool = False) -> str:
    r"""Words as a drawing program shows them as typed: its own codes in them (%%c, ^I; \P and braces in text of several lines) disarmed.

    Source: control codes of TEXT and MTEXT in the public DXF reference: %%% is one percent sign, a caret before a space one caret.

    >>> literal("50%%c {x}"), literal("a\\P{b}^I", several=True)
    ('50%%%%%%c {x}', 'a\\\\P\\{b\\}^ I')
    """
    text = re.sub("%{2,}", lambda found: "%%%" * len(found[0]), text)
    return text.translate(_CODES) if several else text.replace("^", "^ ")


class Entities:
    """Writes scenes into one drawing."""

    def __init__(self, *, plain: bool = False) -> None:
        self.plain = plain
        self.doc: Drawing = new("R2010", setup=False)
        self.doc.header["$INSUNITS"] = 4
        self.doc.header["$MEASUREMENT"] = 1
        self.doc.header["$LTSCALE"] = 1.0
        self.doc.header["$PSLTSCALE"] = 1
        self._layers()
        self.doc.styles.add(STYLE, font=FONT_FILE.name)
        self.blocks: set[str] = set()
        self.styles: set[str] = set()
        self.names: dict[tuple[str, frozenset[str]], str] = {}
        self.kinds: dict[int, frozenset[str]] = {}
        self.done: set[int] = set()
        self.layer = "0"
        self.hatch: tuple[tuple[int, str, int, int, int], Any] | None = None

    def _layers(self) -> None:
        for layer in LAYERS.values():
            line_type = "CONTINUOUS"
            if layer.dash:
                line_type = layer.name
                pattern = [math.fsum(layer.dash), *[d if k % 2 == 0 else -d for k, d in enumerate(layer.dash)]]
                self.doc.linetypes.add(line_type, pattern=pattern, description=layer.carries)
            wanted = round(layer.pen * 100)
            weight = min(_WIDTHS, key=lambda w: abs(w - wanted))
            made = self.doc.layers.add(layer.name, linetype=line_type, lineweight=weight, true_color=_rgb(layer.colour))
            made.description = layer.carries
            if layer.name == "VIEWPORT":
                made.off()

    def copy_layer(self, layer: str, name: str) -> None:
        """A layer of another name that looks the same."""
        given = self.doc.layers.get(layer)
        made = self.doc.layers.add(name, linetype=given.dxf.linetype, lineweight=given.dxf.lineweight, true_color=given.dxf.true_color)
        made.description = LAYERS[layer].carries

    def scene(self, space: BaseLayout, scene: Iterable[Primitive], shift: tuple[float, float], unit: float, done: set[int]) -> None:
        """Write primitives; `unit` is the space's mm per paper mm, `done` what stands already."""
        self.hatch = None
        for item in scene:
            if id(item) in done:
                continue
            done.add(id(item))
            self.layer = self.names.get((item.layer, self.kinds.get(id(item), frozenset())), item.layer)
            if not isinstance(item, Fill):
                self.hatch = None
            match item:
                case Stroke():
                    self._stroke(space, item.points + shift, self.layer, closed=item.closed)
                case Fill():
                    self._fill(space, item, shift)
                case Label():
                    self._label(space, item, shift, unit)
                case Dimension():
                    self._dimension(space, item, shift, unit)
                case Tiles():
                    self._tiles(space, item, shift)
                case Symbol():
                    self._symbol(space, item, shift, unit)
                case Block():
                    self._block(space, item, shift)
                case _:
                    assert_never(item)

    @staticmethod
    def _stroke(space: BaseLayout, points: Floats, layer: str, *, closed: bool) -> None:
        if len(points) == 2 and not closed:
            space.add_line(points[0].tolist(), points[1].tolist(), dxfattribs={"layer": layer})
            return
        line = space.add_lwpolyline(points.tolist(), close=closed, dxfattribs={"layer": layer})
        line.dxf.flags |= 128  # line types run through corners

    def _fill(self, space: BaseLayout, item: Fill, shift: tuple[float, float]) -> None:
        red, green, blue = (round(255 - (255 - channel) * item.tone) for channel in LAYERS[item.layer].colour)
        look = (id(space), self.layer, red, green, blue)
        if (
            self.hatch is None or self.hatch[0] != look or len(self.hatch[1].paths) >= MOST_PATHS
        ):  # fills alike that follow each other are one hatch
            self.hatch = look, space.add_hatch(dxfattribs={"layer": self.layer})
            self.hatch[1].rgb = (red, green, blue)
        hatch = self.hatch[1]
        rings = [item.polygon.exterior, *item.polygon.interiors]
        for k, ring in enumerate(rings):
            points = shapely.get_coordinates(ring)[:-1] + shift
            flag = const.BOUNDARY_PATH_EXTERNAL if k == 0 else const.BOUNDARY_PATH_DEFAULT
            hatch.paths.add_polyline_path(points.tolist(), is_closed=True, flags=flag)

    def _label(self, space: BaseLayout, item: Label, shift: tuple[float, float], unit: float) -> None:
        at = (item.at[0] + shift[0], item.at[1] + shift[1])
        attribs = {"layer": self.layer, "style": STYLE}
        if item.boxed:  # clears the lines behind it
            text = space.add_mtext(
                literal(item.text, several=True), dxfattribs={**attribs, "char_height": item.height * unit, "rotation": item.angle}
            )
            text.dxf.attachment_point = _ATTACH[item.across, item.upward]
            text.dxf.insert = at
            text.set_bg_color("canvas", scale=1.15)
            return
        space.add_text(literal(item.text), height=item.height * unit, rotation=item.angle, dxfattribs=attribs).set_placement(
            at, align=_ALIGN[item.across, item.upward]
        )

    def _dimension(self, space: BaseLayout, item: Dimension, shift: tuple[float, float], unit: float) -> None:
        a, b = np.array(item.a) + shift, np.array(item.b) + shift
        style = self._dimension_style(unit, item.height)
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        normal = np.array([-way[1], way[0]])
        base = a + normal * item.distance * unit
        angle = math.degrees(math.atan2(way[1], way[0]))
        location = None
        if item.part != 0.5:
            turn = math.radians(readable(angle))
            middle = base + (b - a) * item.part + np.array([-math.sin(turn), math.cos(turn)]) * (0.8 + item.height / 2) * unit
            location = (float(middle[0]), float(middle[1]))
        # the figure stands as the line runs: it must run so that it is read from below or from the right
        p1, p2 = (a, b) if abs(math.remainder(readable(angle) - angle, 360.0)) < 1.0 else (b, a)
        dimension = space.add_linear_dim(
            base=base.tolist(),
            p1=p1.tolist(),
            p2=p2.tolist(),
            angle=readable(angle),
            text=item.text or " ",
            dimstyle=style,
            dxfattribs={"layer": self.layer},
            location=location,
        )
        dimension.render()
        if dimension.dimension.dxf.get("text_midpoint") is None:  # a figure that stands beside its line, as text of its own
            dimension.dimension.dxf.text_midpoint = (*((a + b) / 2 + normal * item.distance * unit).tolist(), 0.0)

    def _dimension_style(self, unit: float, height: float) -> str:
        name = f"GAUGEROD-{unit:g}-{height:g}".replace(".", "_")
        if name not in self.styles:
            self.styles.add(name)
            style = self.doc.dimstyles.add(name)
            attribs = {
                "dimtxt": height * unit,
                "dimtxsty": STYLE,
                "dimexe": 1.5 * unit,
                "dimexo": 0.8 * unit,
                "dimgap": 0.8 * unit,
                "dimtsz": 0.9 * unit,
                "dimasz": 0.9 * unit,
                "dimdle": 1.2 * unit,
                "dimtad": 1,
                "dimdec": 0,
                "dimtih": 0,
                "dimtoh": 0,
                "dimtix": 1,
                "dimtmove": 2,
                "dimscale": 1.0,
                "dimlfac": 1.0,
            }
            for key, value in attribs.items():
                style.set_dxf_attrib(key, value)
        return name

    def _tiles(self, space: BaseLayout, item: Tiles, shift: tuple[float, float]) -> None:
        """Rectangles of lattice indices as array inserts; the array runs along the first lattice vector."""
        v1, v2 = item.pattern.vectors
        if self.plain:
            corners = item.pattern.members[item.member][None] + (item.index @ item.pattern.vectors)[:, None]
            for ring in (turned(corners.reshape(-1, 2), item.turn) + item.origin + shift).reshape(corners.shape):
                self._stroke(space, ring, self.layer, closed=True)
            return
        lean = math.degrees(math.atan2(v1[1], v1[0]))
        name = item.name.upper()
        if name not in self.blocks:
            self.blocks.add(name)
            ring = turned(item.pattern.members[item.member], -lean)
            self.doc.blocks.new(name).add_lwpolyline(ring.tolist(), close=True, dxfattribs={"layer": item.layer})
        length = float(np.hypot(*v1))
        square = abs(float(v1 @ v2)) < 1e-9
        step = float(v1[0] * v2[1] - v1[1] * v2[0]) / length  # negative where the second vector turns clockwise
        for i0, i1, j0, j1 in rectangles(item.index, joined=square):
            at = turned(np.array([i0 * v1 + j0 * v2]), item.turn)[0] + item.origin + shift
            attribs: dict[str, Any] = {"layer": self.layer, "rotation": item.turn + lean}
            if i1 > i0:
                attribs |= {"column_count": i1 - i0 + 1, "column_spacing": length}
            if j1 > j0:
                attribs |= {"row_count": j1 - j0 + 1, "row_spacing": step}
            space.add_blockref(name, at.tolist(), dxfattribs=attribs)

    def _symbol(self, space: BaseLayout, item: Symbol, shift: tuple[float, float], unit: float) -> None:
        name = f"SYMBOL-{item.name.upper()}-{self.layer}"
        if name not in self.blocks:
            self.blocks.add(name)
            block = self.doc.blocks.new(name)
            for ring, filled in symbol_strokes(Symbol(item.name, (0.0, 0.0), 1.0, item.layer), 1.0):
                hatch = block.add_hatch(color=const.BYLAYER if filled else 7, dxfattribs={"layer": self.layer})
                if not filled:
                    hatch.rgb = (255, 255, 255)
                hatch.paths.add_polyline_path(ring.tolist(), is_closed=True)
                block.add_lwpolyline(ring.tolist(), close=True, dxfattribs={"layer": self.layer})
        scale = item.size * unit
        at = (item.at[0] + shift[0], item.at[1] + shift[1])
        attribs = {"layer": self.layer, "xscale": scale, "yscale": scale, "zscale": scale, "rotation": item.angle}
        space.add_blockref(name, at, dxfattribs=attribs)

    def _block(self, space: BaseLayout, item: Block, shift: tuple[float, float]) -> None:
        """A thing of true size as a block; its parts on layer 0 take the layer of where it stands."""
        name = item.name.upper()
        if name not in self.blocks:
            self.blocks.add(name)
            block, outer, self.layer = self.doc.blocks.new(name), self.layer, "0"
            for part in item.parts:
                if isinstance(part, Fill):
                    self._fill(block, part, (0.0, 0.0))
                else:
                    self._stroke(block, part.points, "0", closed=part.closed)
            self.layer, self.hatch = outer, None
        at = (item.at[0] + shift[0], item.at[1] + shift[1])
        space.add_blockref(name, at, dxfattribs={"layer": self.layer, "rotation": item.angle})

    def title_block(self, space: BaseLayout, sheet: Sheet) -> None:
        """The title block's fields once more as attributes, for programs that read them."""
        name = "TITLE-BLOCK"
        if name not in self.blocks:
            self.blocks.add(name)
            block = self.doc.blocks.new(name)
            block.add_lwpolyline(
                [(0, 0), (BLOCK_WIDTH, 0), (BLOCK_WIDTH, BLOCK_HEIGHT), (0, BLOCK_HEIGHT)], close=True, dxfattribs={"layer": "TITLE"}
            )
            for k, (field, _) in enumerate(sheet.block.fields):
                block.add_attdef(
                    _tag(field),
                    (1.0, BLOCK_HEIGHT - 2.0 - 3.0 * k),
                    height=CAPTION,
                    dxfattribs={"layer": "TITLE", "flags": const.ATTRIB_INVISIBLE, "style": STYLE},
                )
        _, y0, x1, _ = drawing_space(sheet.size)
        reference = space.add_blockref(name, (x1 - BLOCK_WIDTH, y0), dxfattribs={"layer": "TITLE"})
        for k, (field, value) in enumerate(sheet.block.fields):
            at = (x1 - BLOCK_WIDTH + 1.0, y0 + BLOCK_HEIGHT - 2.0 - 3.0 * k)
            reference.add_attrib(
                _tag(field), value, at, dxfattribs={"layer": "TITLE", "height": CAPTION, "flags": const.ATTRIB_INVISIBLE, "style": STYLE}
            )


def _tag(field: str) -> str:
    return field.upper().replace(" ", "-")


def _rgb(colour: tuple[int, int, int]) -> int:
    red, green, blue = colour
    return (red << 16) | (green << 8) | blue
