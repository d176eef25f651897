"""DXF: the room scene in model space at 1:1 in millimetres, the sheets as paper-space layouts.

Whole tiles are blocks inserted as arrays, one for each rectangle of lattice indices. What several
sheets of a room share stands in model space once; each viewport freezes the layers its sheet does not
show. Rooms stand side by side.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from ezdxf._options import options
from ezdxf.lldxf import const
from ezdxf.sections.classes import REQ_R2004, REQUIRED_CLASSES

from layout.errors import OutputError
from layout.sheets.scene import Primitive, Sheet, Shown, Stroke, Tiles
from layout.writers.dxf_entities import Entities
from layout.writers.gate import check_drawing

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ezdxf.document import Drawing
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST_PLAIN = 20_000
"""Whole tiles that may stand as outlines of their own: more make a file that no program opens gladly."""
LONGEST = 255
"""Letters of a layer's name at most, as the published reference of the format has it (from memory)."""
ROOM_GAP = 3000.0
"""Rooms stand this far apart in model space, mm."""


def drawing_of(sheets: tuple[Sheet, ...], *, plain: bool = False) -> Drawing:
    """A drawing with the rooms in model space and one layout for each sheet."""
    if plain:
        once = {id(item): len(item.index) for sheet in sheets for item in _scene(sheet) if isinstance(item, Tiles)}
        count = sum(once.values())
        if count > MOST_PLAIN:
            mend = "leave --plain-dxf out: arrays of blocks hold any number"
            raise OutputError("--plain-dxf", f"{count:,} tiles are over the bound of {MOST_PLAIN:,}", mend)
    writer = Entities(plain=plain)
    model = writer.doc.modelspace()
    writer.names, kinds_of = _layer_names(sheets)
    for name, layer in sorted({(name, layer) for (layer, _), name in writer.names.items()}):
        if name != layer:
            writer.copy_layer(layer, name)
    shifts: dict[str, tuple[float, float]] = {}
    right = 0.0
    for sheet in sheets:
        if sheet.view is None:
            continue
        if sheet.room_name not in shifts:
            low, high = _extent(tuple(item for each in sheets if each.room_name == sheet.room_name for item in _scene(each)))
            shift = 0.0 if not shifts else right + ROOM_GAP - low
            shifts[sheet.room_name] = (shift, 0.0)
            right = high + shift
        writer.kinds = kinds_of
        for shown in sheet.shown:
            writer.scene(model, shown.room, shifts[sheet.room_name], shown.view.scale, writer.done)
    writer.kinds = {}
    for sheet in sheets:
        layout = writer.doc.layouts.new(sheet.name)
        layout.page_setup(size=sheet.size, margins=(0, 0, 0, 0), units="mm")
        writer.scene(layout, sheet.paper_scene, (0.0, 0.0), 1.0, set())
        writer.title_block(layout, sheet)
        for number, shown in enumerate(sheet.shown):
            view = shown.view
            shift_x, shift_y = shifts[sheet.room_name]
            window = layout.add_viewport(
                center=view.at,
                size=view.size,
                view_center_point=(view.centre[0] + shift_x, view.centre[1] + shift_y),
                view_height=view.size[1] * view.scale,
                status=2 + number,
                dxfattribs={"layer": "VIEWPORT"},
            )
            window.dxf.flags = window.dxf.flags | const.VSF_LOCK_ZOOM
            kind = _kind_shown(sheet, shown)
            window.frozen_layers = sorted({name for (_, kinds), name in writer.names.items() if kind not in kinds})
    if "Layout1" in writer.doc.layouts and len(sheets):
        writer.doc.layouts.delete("Layout1")
    return writer.doc


BESIDE_THE_PLAN = frozenset({"unfolded", "elevations", "details", "key"})
"""Sheets whose drawing stands beside the plan of the room, not on it."""


def kind_of(sheet: Sheet) -> str:
    """What kind of sheet it is, whichever room and number: the name less its figures."""
    return sheet.name.strip("0123456789-")


def _kind_shown(sheet: Sheet, shown: Shown) -> str:
    """What a window shows: the kind of its sheet, with the letter of the part where it is not the sheet's first."""
    return f"{kind_of(sheet)}-{shown.letter}" if shown.letter else kind_of(sheet)


def _scene(sheet: Sheet) -> tuple[Primitive, ...]:
    """All that a sheet shows of its room, through one window or several."""
    return tuple(item for shown in sheet.shown for item in shown.room)


def _layer_names(sheets: tuple[Sheet, ...]) -> tuple[dict[tuple[str, frozenset[str]], str], dict[int, frozenset[str]]]:
    """Layer names so that each viewport can freeze what its sheet does not show.

    Keyed by layer and the kinds of sheet that show a primitive. Of the sets seen in plan the one that shows most keeps
    the plain name; others carry the kind of their sheet.
    """
    where: dict[int, set[str]] = {}
    layer_of: dict[int, str] = {}
    for sheet, shown in ((each, shown) for each in sheets for shown in each.shown):
        for item in shown.room:
            where.setdefault(id(item), set()).add(_kind_shown(sheet, shown))
            layer_of[id(item)] = item.layer
    kinds_of = {key: frozenset(kinds) for key, kinds in where.items()}
    count: dict[tuple[str, frozenset[str]], int] = {}
    for key, kinds in kinds_of.items():
        count[layer_of[key], kinds] = count.get((layer_of[key], kinds), 0) + 1
    names: dict[tuple[str, frozenset[str]], str] = {}
    for layer in sorted({layer for layer, _ in count}):
        sets = sorted((kinds for each, kinds in count if each == layer), key=lambda kinds: (-len(kinds), sorted(kinds)))
        plan_views = [kinds for kinds in sets if not kinds <= BESIDE_THE_PLAN]
        for kinds in sets:
            plain = kinds == plan_views[0] and (len(plan_views) == 1 or len(kinds) > 1) if plan_views else len(sets) == 1
            names[layer, kinds] = layer if plain else _name_for(layer, kinds, sets)
    return names, kinds_of


def _name_for(layer: str, kinds: frozenset[str], sets: Sequence[frozenset[str]]) -> str:
    """A layer's name with the kinds of sheet that show it; where they are too many for a name, the first and how many more, and its place in the sets."""
    named = f"{layer}-{'-'.join(sorted(kinds)).upper()}"
    return named if len(named) <= LONGEST else f"{layer}-{min(kinds).upper()}-AND-{len(kinds) - 1}-{sets.index(kinds) + 1}"


def _extent(scene: tuple[Primitive, ...]) -> tuple[float, float]:
    """Least and greatest x of a scene's strokes."""
    xs = np.concatenate([item.points[:, 0] for item in scene if isinstance(item, Stroke)])
    return float(xs.min()), float(xs.max())


def save_dxf(sheets: tuple[Sheet, ...], path: Path, *, plain: bool = False) -> None:
    """Write sheets as one DXF file; the same plan gives the same bytes. With `plain` each whole tile is an outline of its own.

    Raises
    ------
    OutputError
        If plain tiles are more than `MOST_PLAIN`.
    """
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        doc = drawing_of(sheets, plain=plain)
        for name in [*REQUIRED_CLASSES.get(doc.dxfversion, REQ_R2004), *sorted(doc.entitydb.dxf_types_in_use())]:
            doc.classes.add_class(name)  # saving would add them in the order of a set, which the hash seed decides
        check_drawing(doc, sheets)
        doc.saveas(path)
    finally:
        options.write_fixed_meta_data_for_testing = before
