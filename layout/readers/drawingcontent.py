"""What a drawing (DXF) holds: its lines, loops, arcs, circles and texts by layer, blocks opened, curves flattened, damage left out."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.budgets import BUDGETS, Budgets, heed, over, within
from layout.errors import PlanError
from layout.fields import clean, shown
from layout.readers.texts import check_file
from layout.survey.bows import Circle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

DECLARED = {1: "inch", 2: "foot", 4: "mm", 5: "cm", 6: "m"}
"""$INSUNITS of the public DXF reference."""
WIDE = 0.8
"""A letter of a drawing's text with the space after it is about so wide, in its height; common practice, no source."""
FARTHEST = 1e12
"""A coordinate beyond this is damaged, whatever the unit."""


@dataclass(slots=True)
class Content:
    """What a drawing holds, in its own units."""

    lines: dict[str, list[Floats]] = field(default_factory=dict)
    loops: dict[str, list[Floats]] = field(default_factory=dict)
    arcs: list[tuple[float, float, float]] = field(default_factory=list)
    circles: dict[str, list[tuple[float, float, float]]] = field(default_factory=dict)
    blocks: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    texts: list[tuple[str, float, float, float]] = field(default_factory=list)
    """Each line of text: what, where it begins, its height."""
    middles: list[tuple[float, float]] = field(default_factory=list)
    """About where the middle of each of them lies."""
    declared: str | None = None
    header: int | None = None
    hatches: dict[str, list[Floats]] = field(default_factory=dict)
    references: list[str] = field(default_factory=list)
    skipped: dict[tuple[str, str], int] = field(default_factory=dict)
    repaired: int = 0
    bows: list[Circle] = field(default_factory=list)
    """Circles that arcs of lines and outlines lie on, in the drawing's own units."""

    def skip(self, entity: Any, layer: str = "") -> None:  # noqa: ANN401
        """Count an entity that is not taken, by its kind and layer."""
        key = (clean(str(entity.dxftype())), layer)
        self.skipped[key] = self.skipped.get(key, 0) + 1

    def layers(self) -> dict[str, int]:
        """Lines and loops of each layer."""
        names = {*self.lines, *self.loops}
        return {name: len(self.lines.get(name, ())) + len(self.loops.get(name, ())) for name in sorted(names)}


def read_content(path: str | Path, *, budgets: Budgets = BUDGETS) -> Content:
    """The entities of a DXF file, blocks exploded; layers and texts without characters that are not seen.

    Raises
    ------
    PlanError
        If it cannot be read, or is beyond the bounds of size, number and nesting.
    """
    path = Path(path)
    check_file(path, budgets.drawing_mb, "drawing_mb", "save the layers of the rooms alone, or a part of the plan")
    with within(path.name, budgets):
        return _content(path, budgets)


def _content(path: Path, budgets: Budgets) -> Content:
    doc, repaired = _opened(path)
    content = Content(repaired=repaired)
    content.header = doc.header.get("$INSUNITS")
    content.declared = DECLARED.get(content.header or 0)
    for count, (entity, layer) in enumerate(_exploded(path, doc.modelspace(), content, budgets), 1):
        heed()
        if count > budgets.entities:
            raise over(path.name, count, "entities", "entities", "save the layers of the rooms alone, or a part of the plan", budgets)
        try:
            _take(entity, clean(layer), content)
        except damage():
            content.skip(entity, clean(layer))
    return content


def damage() -> tuple[type[Exception], ...]:
    """What the library of the format ends with where an entity is damaged: its own errors, and those it did not foresee."""
    from ezdxf.lldxf.const import DXFError  # noqa: PLC0415  # heavy; only when a drawing is read

    return (DXFError, ArithmeticError, AssertionError, AttributeError, LookupError, RecursionError, TypeError, ValueError)


def _opened(path: Path) -> tuple[Any, int]:
    """The document, and how many faults its reader mended."""
    import logging  # noqa: PLC0415

    from ezdxf import recover  # noqa: PLC0415  # heavy; only when a drawing is read
    from ezdxf.lldxf.const import DXFError  # noqa: PLC0415

    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)
    mend = "save it anew as DXF (R2000 or later) from the program that made it"
    try:
        doc, auditor = recover.readfile(path)
    except (OSError, UnicodeDecodeError) as error:
        raise PlanError(path.name, f"it is not a DXF file ({type(error).__name__})", mend) from None
    except DXFError as error:
        raise PlanError(path.name, f"it cannot be read as DXF: {clean(str(error)) or type(error).__name__}", mend) from None
    except damage() as error:
        raise PlanError(path.name, f"it is damaged beyond mending ({type(error).__name__})", mend) from None
    return doc, len(auditor.fixes) + len(auditor.errors)


def _exploded(path: Path, space: Any, content: Content, budgets: Budgets) -> Iterator[tuple[Any, str]]:  # noqa: ANN401
    """Entities with their layer, blocks exploded; what lies on layer 0 in a block takes the block's layer.

    Blocks are opened one entity at a time, so that what is too much is told before it is made.
    """
    stack: list[tuple[Iterator[Any], str, Any]] = [(iter(space), "0", None)]
    while stack:
        entities, layer, insert = stack[-1]
        try:
            entity = next(entities, None)
        except PlanError:
            raise
        except damage():
            content.skip(insert)
            entity = None
        if entity is None:
            stack.pop()
            continue
        try:
            own = entity.dxf.get("layer", "0")
        except damage():  # a kind of entity that has none
            content.skip(entity)
            continue
        own = layer if own == "0" and len(stack) > 1 else own
        yield entity, own
        if entity.dxftype() == "INSERT":
            if len(stack) > budgets.nesting:
                mend = "explode the outer ones and save again, or raise budgets.nesting"
                raise PlanError(path.name, f"blocks are nested over {budgets.nesting} deep", mend)
            block = entity.block()
            if block is not None and block.block.is_xref:
                content.references.append(clean(str(block.block.dxf.get("xref_path", "") or entity.dxf.name)))
            stack.append((_parts(path, entity, budgets), own, entity))


def _parts(path: Path, insert: Any, budgets: Budgets) -> Iterator[Any]:  # noqa: ANN401
    """What an insert shows, in all its rows and columns."""
    several = insert.mcount > 1
    copies = abs(int(insert.dxf.row_count) * int(insert.dxf.column_count)) if several else 1
    if copies > budgets.inserts:
        what = f"copies of the block {shown(insert.dxf.name)} in rows and columns"
        raise over(path.name, copies, what, "inserts", "check the rows and columns of that insert", budgets)
    for part in insert.multi_insert() if several else (insert,):
        yield from part.virtual_entities()


def _take(entity: Any, layer: str, content: Content) -> None:  # noqa: ANN401
    """Sort one entity into the content."""
    from ezdxf.path import from_hatch, make_path  # noqa: PLC0415

    kind = entity.dxftype()
    if kind in ("TEXT", "MTEXT", "ATTRIB"):
        text = entity.plain_text() if kind == "MTEXT" else entity.dxf.text
        height = float(entity.dxf.get("char_height" if kind == "MTEXT" else "height", 1.0))
        at = entity.dxf.insert if kind == "MTEXT" else _in_world(entity, entity.dxf.insert)
        for k, line in enumerate(re.sub(r"%%[uUoO]", "", text).splitlines()):
            words = clean(line).strip()
            content.texts.append((words, float(at.x), float(at.y) - 1.6 * height * k, height))
            content.middles.append(_middle(entity, content.texts[-1]))
        return
    if kind == "INSERT":
        at = _in_world(entity, entity.dxf.insert)
        content.blocks.setdefault(layer, []).append((float(at.x), float(at.y)))
        return
    if kind == "HATCH":
        for outline in from_hatch(entity):
            if (points := _flat(outline)) is not None and len(points) > 3:
                content.hatches.setdefault(layer, []).append(points)
        return
    if kind == "CIRCLE":
        at = _in_world(entity, entity.dxf.center)
        content.circles.setdefault(layer, []).append((float(at.x), float(at.y), float(entity.dxf.radius)))
    if kind == "ARC":
        sweep = (entity.dxf.end_angle - entity.dxf.start_angle) % 360.0
        if 60.0 <= sweep <= 120.0:
            at = _in_world(entity, entity.dxf.center)
            content.arcs.append((float(at.x), float(at.y), float(entity.dxf.radius)))
    if kind not in ("LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE"):
        content.skip(entity, layer)
        return
    path = make_path(entity)
    points = _flat(path)
    if points is None:
        content.skip(entity, layer)
    elif len(points) >= 2:
        content.bows += _circles(entity, _fineness(path))
        closed = _closed(points) and len(points) > 3
        (content.loops if closed else content.lines).setdefault(layer, []).append(points)


def _in_world(entity: Any, at: Any) -> Any:  # noqa: ANN401
    """A place in the entity's own axes (mirrored blocks turn them) as one of the drawing's."""
    return entity.ocs().to_wcs(at)


def _closed(points: Floats) -> bool:
    """Whether a path ends where it begins: an arc that closes it ends there but for the last digits."""
    return float(np.abs(points[-1] - points[0]).max()) <= 1e-9 * max(float(np.abs(points).max()), 1.0)


def _circles(entity: Any, flat: float) -> list[Circle]:  # noqa: ANN401
    """The circles that an entity's arcs lie on; `flat` is how far its flattened edges lie off them at most."""
    kind = entity.dxftype()
    if kind in ("LWPOLYLINE", "POLYLINE"):
        parts = [part for part in entity.virtual_entities() if part.dxftype() == "ARC"] if entity.has_arc else []
    else:
        parts = [entity] if kind in ("ARC", "CIRCLE") else []
    middles = [_in_world(part, part.dxf.center) for part in parts]
    return [Circle(float(at.x), float(at.y), float(part.dxf.radius), flat) for part, at in zip(parts, middles, strict=True)]


def _middle(entity: Any, text: tuple[str, float, float, float]) -> tuple[float, float]:  # noqa: ANN401
    """About where the middle of a line of text lies, by its height, its turn and the side it is set to."""
    from ezdxf.math import Vec3  # noqa: PLC0415

    words, x, y, height = text
    many = entity.dxftype() == "MTEXT"
    side = (int(entity.dxf.get("attachment_point", 1)) - 1) % 3 if many else 0  # left, middle, right
    way = Vec3.from_deg_angle(float(entity.get_rotation() if many else entity.dxf.get("rotation", 0.0)))
    along = (way if many else _in_world(entity, way)) * (len(words) * WIDE * height * (0.5, 0.0, -0.5)[side])
    return x + float(along.x), y + float(along.y)


def _fineness(path: Any) -> float:  # noqa: ANN401
    """How far a flattened edge of a path lies off its curve at most."""
    box = np.array([[p.x, p.y, p.z] for p in path.control_vertices()])
    reach = float(np.ptp(box, axis=0).max()) if len(box) else 0.0
    return max(reach * 2e-4, 1e-9)


def _flat(path: Any) -> Floats | None:  # noqa: ANN401
    """A path as points (n, 2), curves flattened; None where it is not a number, or beyond all plans: flattening it would never end."""
    box = np.array([[p.x, p.y, p.z] for p in path.control_vertices()])
    if not (np.abs(box) < FARTHEST).all():
        return None
    points = np.array([[p.x, p.y] for p in path.flattening(_fineness(path))]).reshape(-1, 2)
    return points if np.isfinite(points).all() else np.empty((0, 2))
