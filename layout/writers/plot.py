"""Plots: PNG, PDF and SVG from one scene, by one matplotlib figure of the paper's size.

Translates and decides nothing: widths, dashes, heights and places come with the scene.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, assert_never

import numpy as np
import shapely

from layout.shapes import turned
from layout.sheets.layers import LAYERS
from layout.sheets.lettering import FONT_FILE, cap_part
from layout.sheets.place import label_box
from layout.sheets.scene import Dimension, Fill, Label, Primitive, Sheet, Stroke, Symbol, Tiles, View, exploded, symbol_strokes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Place = Callable[[Floats], Floats]

POINT = 72.0 / 25.4
"""Points in a millimetre."""


def _colour(layer: str, tone: float = 1.0) -> tuple[float, float, float]:
    red, green, blue = (1.0 - (1.0 - channel / 255.0) * tone for channel in LAYERS[layer].colour)
    return red, green, blue


class _Plotter:
    """Draws one sheet onto one set of axes in paper mm."""

    def __init__(self, axes: Axes) -> None:
        from matplotlib.font_manager import FontProperties  # noqa: PLC0415

        self.axes = axes
        self.font = FontProperties(fname=str(FONT_FILE))
        self.order = 0.0

    def draw(self, scene: Iterable[Primitive], place: Place, unit: float) -> None:
        """Draw primitives; `unit` is their space's mm per paper mm."""
        labels: list[Label] = []
        for item in scene:
            match item:
                case Stroke():
                    self._stroke(place(item.points), item.layer, closed=item.closed)
                case Fill():
                    self._fill(item, place)
                case Label():
                    labels.append(item)
                case Dimension():
                    for part in exploded(item, unit):
                        if isinstance(part, Label):
                            labels.append(part)
                        else:
                            self._stroke(place(part.points), part.layer, closed=False)
                case Tiles():
                    self._tiles(item, place)
                case Symbol():
                    self._symbol(item, place, unit)
                case _:
                    assert_never(item)
        for label in labels:
            self._label(label, place)

    def _next(self) -> float:
        self.order += 0.001
        return 1.0 + self.order

    def _stroke(self, points: Floats, layer: str, *, closed: bool) -> None:
        from matplotlib.lines import Line2D  # noqa: PLC0415

        pen = LAYERS[layer]
        if closed:
            points = np.vstack([points, points[:1]])
        width = pen.pen * POINT
        line = Line2D(points[:, 0].tolist(), points[:, 1].tolist(), linewidth=width, color=_colour(layer), zorder=self._next())
        line.set_solid_capstyle("butt")
        line.set_dash_capstyle("butt")
        line.set_solid_joinstyle("miter")
        if pen.dash:
            line.set_linestyle((0, tuple(d / pen.pen for d in pen.dash)))
        self.axes.add_line(line)

    def _fill(self, item: Fill, place: Place) -> None:
        from matplotlib.patches import PathPatch  # noqa: PLC0415
        from matplotlib.path import Path as Outline  # noqa: PLC0415

        rings = [item.polygon.exterior, *item.polygon.interiors]
        outlines = [Outline(place(shapely.get_coordinates(ring)), closed=True) for ring in rings]
        path = Outline.make_compound_path(*outlines)
        self.axes.add_patch(PathPatch(path, facecolor=_colour(item.layer, item.tone), edgecolor="none", linewidth=0, zorder=self._next()))

    def _tiles(self, item: Tiles, place: Place) -> None:
        """Whole tiles as one collection of outlines, each grown to the middle of its joints."""
        from matplotlib.collections import LineCollection  # noqa: PLC0415

        outline = item.pattern.members[item.member]
        centre = outline.mean(axis=0)
        grown = outline + np.sign(outline - centre) * item.joint / 2.0
        at = item.index @ item.pattern.vectors
        points = (grown[None] + at[:, None]).reshape(-1, 2)
        moved = place(turned(points, item.turn) + np.array(item.origin)).reshape(-1, len(outline), 2)
        closed = np.concatenate([moved, moved[:, :1]], axis=1)
        pen = LAYERS[item.layer]
        self.axes.add_collection(
            LineCollection(list(closed), linewidths=pen.pen * POINT, colors=[_colour(item.layer)], zorder=self._next()), autolim=False
        )

    def _symbol(self, item: Symbol, place: Place, unit: float) -> None:
        from matplotlib.patches import Polygon as Patch  # noqa: PLC0415

        for ring, filled in symbol_strokes(item, unit):
            face = _colour(item.layer) if filled else (1.0, 1.0, 1.0)
            width = LAYERS[item.layer].pen * POINT * (0.7 if item.name == "bubble" else 1.0)
            self.axes.add_patch(
                Patch(place(ring), closed=True, facecolor=face, edgecolor=_colour(item.layer), linewidth=width, zorder=self._next())
            )

    def _label(self, label: Label, place: Place) -> None:
        at = place(np.array([label.at]))[0]
        size = label.height / cap_part() * POINT
        here = Label(label.text, (float(at[0]), float(at[1])), label.height, label.layer, label.across, label.upward, label.angle)
        order = self._next() + 1.0
        if label.boxed:
            self._clear(here, order)
        # the font's own baseline and capitals decide where a line stands, not its box
        drop = {"bottom": 0.0, "middle": label.height / 2, "top": label.height}[label.upward]
        angle = math.radians(label.angle)
        x, y = at[0] + math.sin(angle) * drop, at[1] - math.cos(angle) * drop
        text = self.axes.text(
            float(x),
            float(y),
            label.text,
            fontproperties=self.font,
            fontsize=size,
            color=_colour(label.layer),
            rotation=label.angle,
            rotation_mode="anchor",
            horizontalalignment="center" if label.across == "centre" else label.across,
            verticalalignment="baseline",
            zorder=order + 0.0005,
            parse_math=False,
        )
        if label.bold:
            from matplotlib.patheffects import withStroke  # noqa: PLC0415

            text.set_path_effects([withStroke(linewidth=label.height / 14.0 * POINT, foreground=_colour(label.layer))])

    def _clear(self, label: Label, order: float) -> None:
        """White behind a boxed label, turned with it."""
        from matplotlib.patches import Polygon as Patch  # noqa: PLC0415

        level = Label(label.text, (0.0, 0.0), label.height, label.layer, label.across, label.upward)
        x0, y0, x1, y1 = label_box(level)
        pad = 0.5
        corners = np.array([[x0 - pad, y0 - pad * 0.6], [x1 + pad, y0 - pad * 0.6], [x1 + pad, y1 + pad], [x0 - pad, y1 + pad]])
        self.axes.add_patch(
            Patch(turned(corners, label.angle) + np.array(label.at), closed=True, facecolor="white", edgecolor="none", zorder=order)
        )


def figure_of(sheet: Sheet) -> Figure:
    """A figure of the paper's size with the sheet drawn on it."""
    from matplotlib.figure import Figure  # noqa: PLC0415

    width, height = sheet.size
    figure = Figure(figsize=(width / 25.4, height / 25.4), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, height)
    plotter = _Plotter(axes)
    if sheet.view is not None:
        plotter.draw(sheet.room, sheet.view.to_paper, sheet.view.scale)
        if sheet.cut_off:
            _clip(axes, sheet.view)
    plotter.draw(sheet.paper_scene, _same, 1.0)
    return figure


def _clip(axes: Axes, view: View) -> None:
    """Show what was drawn so far inside a window only."""
    from matplotlib.patches import Rectangle  # noqa: PLC0415

    (x, y), (w, h) = view.at, view.size
    window = Rectangle((x - w / 2, y - h / 2), w, h, transform=axes.transData)
    for artist in (*axes.patches, *axes.lines, *axes.collections, *axes.texts):
        artist.set_clip_path(window)


def _same(points: Floats) -> Floats:
    return points


def save_png(sheet: Sheet, path: Path, *, dpi: int = 300) -> None:
    """Write a sheet as PNG; letters unhinted, so that they are as wide as they were measured."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415

    figure = figure_of(sheet)
    FigureCanvasAgg(figure)
    with mpl.rc_context({"text.hinting": "no_hinting"}):
        figure.savefig(path, format="png", dpi=dpi, metadata={"Software": None})


def save_svg(sheet: Sheet, path: Path) -> None:
    """Write a sheet as SVG; the same plan gives the same bytes."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415

    figure = figure_of(sheet)
    FigureCanvasSVG(figure)
    with mpl.rc_context({"svg.hashsalt": "gaugerod", "svg.fonttype": "path"}):
        figure.savefig(path, format="svg", metadata={"Date": None, "Creator": "gaugerod"})


def save_pdf(sheets: Iterable[Sheet], path: Path, *, title: str, told: Callable[[], None] | None = None) -> None:
    """Write sheets as pages of one PDF, fonts embedded."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: PLC0415

    metadata = {"Title": title, "Creator": "gaugerod", "Producer": "gaugerod", "CreationDate": None, "ModDate": None}
    with mpl.rc_context({"pdf.fonttype": 42}), PdfPages(path, metadata=metadata) as pages:
        for sheet in sheets:
            pages.savefig(figure_of(sheet))
            if told is not None:
                told()
