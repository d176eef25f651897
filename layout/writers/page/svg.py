"""Sheets as SVG for the page: words are text, what several sheets of a room share stands in the file once.

Translates and decides nothing: places, heights and layers come with the scene. Colours, pens and dashes are classes, of which
`palette` makes the style, so that a page needs no style of its own on any element. All coordinates are whole numbers: tenths of a
millimetre on paper, millimetres in the room for what is shared.
"""

from __future__ import annotations

import html
import math
from typing import TYPE_CHECKING, assert_never

import numpy as np
import shapely

from layout.shapes import rings_of, turned
from layout.sheets.lettering import cap_part
from layout.sheets.paper import BLOCK_HEIGHT, BLOCK_WIDTH, COLUMN, MARGIN, has_column
from layout.sheets.scene import Block, Dimension, Fill, Label, Primitive, Sheet, Shown, Stroke, Symbol, Tiles, exploded, symbol_strokes
from layout.sheets.spots import label_box
from layout.writers.page.palette import LAYER_CLASS, tone_class
from layout.writers.page.tilework import cell, ground, outlines, rows_of_cell

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Place = Callable[[Floats], Floats]

FINE = 10.0
"""Units of a drawing in a millimetre of paper."""
ANCHORS = {"left": "", "centre": " text-anchor=middle", "right": " text-anchor=end"}
SMALL = 4.0
"""Lower words are left out while a sheet is so small on the screen that nobody reads them, mm."""
CARD_TOP = 11.7
"""From the foot of a mark on a card up to the top of the name over its row, mm."""
_UNSEEN = dict.fromkeys((*range(9), 11, 12, *range(14, 32), 127), "�")


def shown(text: str) -> str:
    """Text as it may stand in the page, between tags or in quotes: no markup gets through, nor a control character.

    >>> shown('<b title="x">')
    '&lt;b title=&quot;x&quot;&gt;'
    """
    return html.escape(text.translate(_UNSEEN), quote=True)


def path_of(rings: Iterable[tuple[Floats, bool]]) -> str:
    """A path of points (n, 2) and whether each line is closed: whole numbers, relative, level and upright steps by one number.

    Slanted steps that follow each other share one letter, as the path grammar of SVG 2 (9.3.2, W3C) lets them; from memory.

    >>> path_of([(np.array([[0, 0], [4, 0], [4, 3]]), True)])
    'M0 0h4v3z'
    >>> path_of([(np.array([[0, 0], [1, -2], [4, 0], [3, -1]]), False)])
    'M0 0l1-2 3 2-1-1'
    """
    parts = []
    for points, closed in rings:
        whole = np.round(points).astype(np.int64)
        steps = np.diff(whole, axis=0)
        x, y = whole[0].tolist()
        drawn = [_step(dx, dy) for dx, dy in steps[np.any(steps != 0, axis=1)].tolist()]
        after = ["", *drawn]
        body = "".join(f" {step[1:]}" if step[0] == last[:1] == "l" else step for last, step in zip(after, drawn, strict=False)) or "h0"
        parts.append(f"M{x} {y}{body}{'z' if closed else ''}".replace(" -", "-"))
    return "".join(parts)


def _step(dx: int, dy: int) -> str:
    return f"h{dx}" if dy == 0 else f"v{dy}" if dx == 0 else f"l{dx} {dy}"


class _Pen:
    """Writes primitives as elements; strokes and fills that follow each other alike are one path."""

    def __init__(self, patterns: list[str], place: Place, unit: float) -> None:
        self.patterns, self.place, self.unit = patterns, place, unit
        self.out: list[str] = []
        self.labels: list[Label] = []
        self.tones: set[tuple[str, float]] = set()
        self.waiting: dict[str, list[tuple[Floats, bool]]] = {}
        self.ink = ""

    def draw(self, scene: Iterable[Primitive]) -> None:
        """Draw primitives in their order; labels are kept for the end."""
        for item in scene:
            match item:
                case Stroke():
                    self._add(LAYER_CLASS[item.layer], item.layer, [(item.points, item.closed)])
                case Fill():
                    self._fill(item)
                case Label():
                    self.labels.append(item)
                case Dimension():
                    for part in exploded(item, self.unit):
                        self.draw((part,))
                case Tiles():
                    self._tiles(item)
                case Symbol():
                    self._symbol(item)
                case Block():
                    self.draw(item.standing())
                case _:
                    assert_never(item)

    def _fill(self, item: Fill) -> None:
        self.tones.add((item.layer, item.tone))
        ink = item.layer if item.tone == 1.0 else f"{item.layer} {item.tone}"
        self._add(tone_class(item.layer, item.tone), ink, [(ring, True) for ring in rings_of(item.polygon)])

    def _add(self, look: str, ink: str, lines: list[tuple[Floats, bool]]) -> None:
        """Keep lines for a path of this look; what is of one ink may wait together, for it does not matter which is drawn first."""
        if ink != self.ink:
            self.flush()
        self.ink = ink
        self.waiting.setdefault(look, []).extend((self.place(points), closed) for points, closed in lines if len(points) > 1)

    def flush(self) -> None:
        """Write the lines that wait for others alike; areas and the outlines round them that follow are one path with both looks."""
        for look, lines in self.waiting.items():
            path = path_of(lines)
            last = self.out[-1] if self.out else ""
            if last.endswith(f' d="{path}"/>') and last.startswith("<path class=f"):
                self.out[-1] = f'<path class="{last[12 : last.index(" d=")]} {look}" d="{path}"/>'
            else:
                self.out.append(f'<path class={look} d="{path}"/>')
        self.waiting = {}
        self.ink = ""

    def _tiles(self, item: Tiles) -> None:
        self.flush()
        rows = rows_of_cell(item)
        if rows == 0:
            path = path_of([(self.place(ring), True) for ring in outlines(item)])
            self.out.append(f'<path class="ti {LAYER_CLASS[item.layer]}" d="{path}"/>')
            return
        (width, height), corners, (w, h) = cell(item, rows)
        name = f"t{len(self.patterns)}"
        at = self.place(np.array([item.origin, np.array(item.origin) + turned(np.array([[1000.0, 0.0]]), item.turn)[0]]))
        up = self.place(np.array([np.array(item.origin) + turned(np.array([[0.0, 1000.0]]), item.turn)[0]]))[0]
        a, b = (at[1] - at[0]) / 1000.0
        c, d = (up - at[0]) / 1000.0
        matrix = " ".join(f"{value:.6g}" for value in (a, b, c, d, at[0][0], at[0][1]))
        tiles = "".join(f"M{x:g} {y:g}h{w:g}v{h:g}h-{w:g}z" for x, y in corners)
        self.patterns.append(
            f'<pattern id={name} width={width:g} height={height:g} patternUnits=userSpaceOnUse patternTransform="matrix({matrix})">'
            f'<path class=ti d="{tiles}"/></pattern>'
        )
        area = path_of([(self.place(ring), True) for ring in ground(item)])
        self.out.append(f'<g class={LAYER_CLASS[item.layer]}><path class=gr d="{area}"/><path fill=url(#{name}) class=pa d="{area}"/></g>')

    def _symbol(self, item: Symbol) -> None:
        self.flush()
        for ring, filled in symbol_strokes(item, self.unit):
            tone = 1.0 if filled else 0.0
            self.tones.add((item.layer, tone))
            path = path_of([(self.place(ring), True)])
            self.out.append(f'<path class="{tone_class(item.layer, tone)} {LAYER_CLASS[item.layer]}" d="{path}"/>')


def _words(labels: Iterable[tuple[Label, tuple[float, float]]], height: float) -> list[str]:
    """Labels with their places on paper, mm, as text: alike ones in one group, for they do not cover each other."""
    groups: dict[str, list[str]] = {}
    boxes: list[tuple[Floats, bool]] = []
    for label, at in labels:
        drop = {"bottom": 0.0, "middle": label.height / 2, "top": label.height}[label.upward]
        angle = math.radians(label.angle)
        x = round((at[0] + math.sin(angle) * drop) * FINE)
        y = round((height - at[1] + math.cos(angle) * drop) * FINE)
        weight = " font-weight=700" if label.bold else ""
        size = f" font-size={round(label.height / cap_part() * FINE)}"
        small = f"{LAYER_CLASS[label.layer]} sm" if label.height < SMALL else LAYER_CLASS[label.layer]
        look = f'<g class="{small}"{size}{weight}{ANCHORS[label.across]}>'
        if label.boxed:
            boxes.append((_box(label, at, height), True))
        turn = f' transform="rotate({-label.angle:.4g} {x} {y})"' if label.angle else ""
        groups.setdefault(look, []).append(f"<text x={x} y={y}{turn}>{shown(label.text)}</text>")
    back = [f'<path class="f0 bx" d="{path_of(boxes)}"/>'] if boxes else []
    return [*back, *(f"{look}{''.join(words)}</g>" for look, words in groups.items())]


def _box(label: Label, at: tuple[float, float], height: float) -> Floats:
    """What a boxed label clears behind it, drawing units (4, 2)."""
    level = Label(label.text, (0.0, 0.0), label.height, label.layer, label.across, label.upward, bold=label.bold)
    x0, y0, x1, y1 = label_box(level)
    ring = turned(np.array([[x0 - 0.5, y0 - 0.3], [x1 + 0.5, y0 - 0.3], [x1 + 0.5, y1 + 0.5], [x0 - 0.5, y1 + 0.5]]), label.angle)
    return _down(ring + np.array(at), height)


class Drawings:
    """All sheets of a set as SVG, with what they share."""

    def __init__(self, sheets: Sequence[Sheet]) -> None:
        self.sheets = tuple(sheets)
        self.patterns: list[str] = []
        self.shared: dict[tuple[int, ...], tuple[str, str]] = {}
        self.tones: set[tuple[str, float]] = set()
        shows: dict[int, list[int]] = {}
        for number, sheet in enumerate(self.sheets):
            for item in (item for shown in sheet.shown for item in shown.room):
                shows.setdefault(id(item), []).append(number)
        self.on = {key: tuple(dict.fromkeys(numbers)) for key, numbers in shows.items()}

    def definitions(self) -> str:
        """Patterns and what sheets share; to be called when all sheets are drawn."""
        groups = "".join(f"<g id={name}>{body}</g>" for name, body in self.shared.values())
        return f"<defs>{''.join(self.patterns)}{groups}</defs>"

    def _runs(self, scene: Sequence[Primitive]) -> list[tuple[bool, list[Primitive]]]:
        """A scene in stretches, in its order: what other sheets show too, and what is this sheet's own."""
        result: list[tuple[bool, list[Primitive]]] = []
        before: tuple[int, ...] = ()
        for item in scene:
            on = self.on.get(id(item), ())
            shared = len(on) > 1 or isinstance(item, Tiles)
            own = on if shared else ()
            if not result or own != before or result[-1][0] != shared:
                result.append((shared, []))
            result[-1][1].append(item)
            before = own
        return result

    def _shared(self, run: list[Primitive]) -> str:
        key = tuple(id(item) for item in run)
        if key not in self.shared:
            pen = _Pen(self.patterns, lambda points: points, 1.0)
            pen.draw(run)
            pen.flush()
            self.tones |= pen.tones
            self.shared[key] = (f"b{len(self.shared)}", "".join(pen.out))
        return self.shared[key][0]

    def sheet(self, number: int) -> str:
        """One sheet as an SVG element."""
        sheet = self.sheets[number]
        height = sheet.size[1]
        body: list[str] = []
        labels: list[tuple[Label, tuple[float, float]]] = []
        for part in sheet.shown:
            drawn = self._room(sheet, part, labels)
            if sheet.cut_off:
                (x, y), (w, h) = part.view.at, part.view.size
                window = path_of(
                    [(_down(shapely.get_coordinates(shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2))[:-1], height), True)]
                )
                body.append(
                    f'<clipPath id=c{number}{part.letter}><path d="{window}"/></clipPath><g clip-path=url(#c{number}{part.letter})>{"".join(drawn)}</g>'
                )
            else:
                body += drawn
        pen = _Pen(self.patterns, lambda points: _down(points, height), 1.0)
        pen.draw(_for_page(sheet))
        pen.flush()
        self.tones |= pen.tones
        labels += [(label, label.at) for label in pen.labels]
        name = shown(f"{sheet.title}, {sheet.room_name}")
        return (
            f'<svg class=p viewBox="0 0 {column_left(sheet) * FINE:.0f} {height * FINE:.0f}" role=img aria-label="{name}">'
            f"{''.join(body)}{''.join(pen.out)}{''.join(_words(labels, height))}</svg>"
        )

    def _room(self, sheet: Sheet, part: Shown, labels: list[tuple[Label, tuple[float, float]]]) -> list[str]:
        """The room scene of a sheet, or of a part on it; its labels are added to those given, at their places on paper."""
        height, view = sheet.size[1], part.view
        unit = FINE / view.scale
        (cx, cy), (x, y) = view.centre, view.at
        matrix = f"matrix({unit:.6g} 0 0 {-unit:.6g} {x * FINE - cx * unit:.2f} {(height - y) * FINE + cy * unit:.2f})"
        drawn: list[str] = []
        for shared, run in self._runs(part.room):
            if shared:
                words = [item for item in run if isinstance(item, Label)]
                names = self._shared([item for item in run if not isinstance(item, Label)])
                drawn.append(f'<use href="#{names}" class={scale_class(view.scale)} transform="{matrix}"/>')
                found = words
            else:
                pen = _Pen(self.patterns, lambda points: _down(view.to_paper(points), height), view.scale)
                pen.draw(run)
                pen.flush()
                self.tones |= pen.tones
                drawn += pen.out
                found = pen.labels
            for label in found:
                at = view.to_paper(np.array([label.at]))[0]
                labels.append((label, (float(at[0]), float(at[1]))))
        return drawn

    def picture(self, scene: Sequence[Primitive], box: tuple[float, float, float, float], name: str) -> str:
        """Primitives in paper mm as an SVG of their own that shows a box x0, y0, x1, y1, and is called `name`."""
        x0, y0, x1, y1 = box
        pen = _Pen(self.patterns, lambda points: _down(points, y1), 1.0)
        pen.draw(scene)
        pen.flush()
        self.tones |= pen.tones
        words = _words([(label, label.at) for label in pen.labels], y1)
        frame = f"{x0 * FINE:.0f} 0 {(x1 - x0) * FINE:.0f} {(y1 - y0) * FINE:.0f}"
        return f'<svg class="p card" viewBox="{frame}" role=img aria-label="{shown(name)}">{"".join(pen.out)}{"".join(words)}</svg>'

    def scale_style(self) -> str:
        """What a millimetre on paper is in the units of each drawing: of paper, and of rooms by their scale."""
        scales = sorted({sheet.view.scale for sheet in self.sheets if sheet.view is not None})
        return ".p{--s:10}" + "".join(f".{scale_class(scale)}{{--s:{scale:g}}}" for scale in scales)


def without_block(sheet: Sheet) -> list[Primitive]:
    """What a sheet's paper shows but for frame and title block, whose words stand at the head of the page."""
    left, low = sheet.size[0] - MARGIN - BLOCK_WIDTH - 0.5, MARGIN + BLOCK_HEIGHT + 0.5
    return [
        item
        for item in sheet.paper_scene
        if not (isinstance(item, Stroke) and item.layer == "FRAME")
        and not ((points := points_of(item)) is not None and (points[:, 0] > left).all() and (points[:, 1] < low).all())
    ]


def points_of(item: Primitive) -> Floats | None:
    """Points (n, 2) that a primitive stands at, in its own space; None for those that only rooms have."""
    match item:
        case Stroke():
            return item.points
        case Fill():
            points: Floats = shapely.get_coordinates(item.polygon)
            return points
        case Label() | Symbol():
            return np.array([item.at])
        case _:
            return None


def column_left(sheet: Sheet) -> float:
    """Where the column of words beside a drawing begins on a sheet, paper mm; its right edge where it has none."""
    return sheet.size[0] - (MARGIN + COLUMN + 0.5 if sheet.view is not None and has_column(sheet.size) else 0.0)


def _for_page(sheet: Sheet) -> list[Primitive]:
    """What a sheet's paper shows in its drawing on the page: what stands left of the column, whose words are text there."""
    left = column_left(sheet)
    return [item for item in without_block(sheet) if (points := points_of(item)) is None or not (points[:, 0] > left).all()]


def column_of(sheet: Sheet) -> list[Primitive]:
    """What stands in the column beside a drawing, but for cards of cuts, of which the page has each once in its table of cuts.

    Cards are the last in their column. The words of a floor in parts stand with its first part.
    """
    if sheet.cut_off and not sheet.further and not sheet.name.endswith("-a"):
        return []
    left = column_left(sheet)
    marks = [item.at for item in sheet.paper_scene if isinstance(item, Label) and item.layer == "MARK" and item.at[0] > left]
    cards = max((y for _, y in marks), default=-1.0) + CARD_TOP
    found = [(item, points_of(item)) for item in without_block(sheet)]
    return [item for item, points in found if points is not None and (points[:, 0] > left).all() and not (points[:, 1] < cards).all()]


def scale_class(scale: float) -> str:
    """Class of what is drawn at 1:`scale`."""
    return f"s{scale:g}".replace(".", "_")


def _down(points: Floats, height: float) -> Floats:
    """Paper mm, y up, to drawing units, y down."""
    result: Floats = np.asarray(points, dtype=float) * np.array([FINE, -FINE]) + np.array([0.0, height * FINE])
    return result
