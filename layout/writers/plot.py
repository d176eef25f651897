"""Plots: PNG, PDF and SVG from one scene, by one matplotlib figure of the paper's size.

Translates and decides nothing: widths, dashes, heights and places come with the scene.
"""

from __future__ import annotations

import io
import math
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, assert_never

import numpy as np
import shapely

from layout.shapes import rectangles, turned
from layout.sheets.layers import LAYERS
from layout.sheets.lettering import BOLD_FILE, FONT_FILE, FONT_NAME, cap_part
from layout.sheets.scene import Block, Dimension, Fill, Label, Primitive, Sheet, Stroke, Symbol, Tiles, View, exploded, symbol_strokes
from layout.sheets.spots import label_box
from layout.units import EPS
from layout.writers.gate import check_figure

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Place = Callable[[Floats], Floats]

POINT = 72.0 / 25.4
"""Points in a millimetre."""
PLAIN_LETTERS = ("-liga", "-clig", "-kern")
"""Letters stand as they were measured, each by its own advance."""


def _colour(layer: str, tone: float = 1.0) -> tuple[float, float, float]:
    red, green, blue = (1.0 - (1.0 - channel / 255.0) * tone for channel in LAYERS[layer].colour)
    return red, green, blue


class _Plotter:
    """Draws one sheet onto one set of axes in paper mm."""

    def __init__(self, axes: Axes) -> None:
        from matplotlib.font_manager import FontProperties  # noqa: PLC0415

        self.axes = axes
        self.fonts = {
            bold: FontProperties(family=FONT_NAME, weight="bold" if bold else "normal", fname=str(BOLD_FILE if bold else FONT_FILE))
            for bold in (False, True)
        }
        self.order = 0.0
        self.lines: list[Floats] = []
        self.line_layer = ""
        self.areas: list[Any] = []
        self.area_look: tuple[str, float] = ("", 0.0)

    def draw(self, scene: Iterable[Primitive], place: Place, unit: float) -> None:
        """Draw primitives; `unit` is their space's mm per paper mm. Strokes, and fills, that follow each other alike are drawn as one."""
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
                case Block():
                    for each in item.standing():
                        if isinstance(each, Fill):
                            self._fill(each, place)
                        else:
                            self._stroke(place(each.points), each.layer, closed=each.closed)
                case _:
                    assert_never(item)
        self._flush()
        for label in labels:
            self._label(label, place)

    def _next(self) -> float:
        self.order += 0.001
        return 1.0 + self.order

    def _flush(self) -> None:
        """Draw the strokes and fills that wait for others alike."""
        from matplotlib.collections import LineCollection, PathCollection  # noqa: PLC0415

        if self.lines:
            pen = LAYERS[self.line_layer]
            dashes = (0.0, tuple(d / pen.pen for d in pen.dash)) if pen.dash else "solid"
            width = pen.pen * POINT
            lines = LineCollection(
                self.lines, linewidths=width, colors=[_colour(self.line_layer)], linestyles=[dashes], zorder=self._next()
            )
            lines.set_capstyle("butt")
            lines.set_joinstyle("miter")
            self.axes.add_collection(lines, autolim=False)
            self.lines = []
        if self.areas:
            areas = PathCollection(
                self.areas,
                facecolors=[_colour(*self.area_look)],
                edgecolors="none",
                linewidths=0,
                transform=self.axes.transData,
                zorder=self._next(),
            )
            self.axes.add_collection(areas, autolim=False)
            self.areas = []

    def _stroke(self, points: Floats, layer: str, *, closed: bool) -> None:
        if self.areas or (self.lines and layer != self.line_layer):
            self._flush()
        self.line_layer = layer
        self.lines.append(np.vstack([points, points[:2]]) if closed and len(points) > 2 else points)

    def _fill(self, item: Fill, place: Place) -> None:
        from matplotlib.path import Path as Outline  # noqa: PLC0415

        if self.lines or (self.areas and (item.layer, item.tone) != self.area_look):
            self._flush()
        self.area_look = (item.layer, item.tone)
        rings = [item.polygon.exterior, *item.polygon.interiors]
        outlines = [Outline(place(shapely.get_coordinates(ring)), closed=True) for ring in rings]
        self.areas.append(Outline.make_compound_path(*outlines) if len(outlines) > 1 else outlines[0])

    def _tiles(self, item: Tiles, place: Place) -> None:
        """Whole tiles by the middles of their joints: as lines right across where the pattern has such, else outlines in one collection."""
        for line in joint_lines(item):
            self._stroke(place(turned(line, item.turn) + np.array(item.origin)), item.layer, closed=False)

    def _symbol(self, item: Symbol, place: Place, unit: float) -> None:
        self._flush()
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
        here = Label(
            label.text, (float(at[0]), float(at[1])), label.height, label.layer, label.across, label.upward, label.angle, bold=label.bold
        )
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
            fontproperties=self.fonts[label.bold],
            fontsize=size,
            color=_colour(label.layer),
            rotation=label.angle,
            rotation_mode="anchor",
            horizontalalignment="center" if label.across == "centre" else label.across,
            verticalalignment="baseline",
            zorder=order + 0.0005,
            parse_math=False,
        )
        if hasattr(text, "set_fontfeatures"):  # a ligature is one glyph for two letters: words with one are not found in a PDF
            text.set_fontfeatures(PLAIN_LETTERS)

    def _clear(self, label: Label, order: float) -> None:
        """White behind a boxed label, turned with it."""
        from matplotlib.patches import Polygon as Patch  # noqa: PLC0415

        level = Label(label.text, (0.0, 0.0), label.height, label.layer, label.across, label.upward, bold=label.bold)
        x0, y0, x1, y1 = label_box(level)
        pad = 0.5
        corners = np.array([[x0 - pad, y0 - pad * 0.6], [x1 + pad, y0 - pad * 0.6], [x1 + pad, y1 + pad], [x0 - pad, y1 + pad]])
        self.axes.add_patch(
            Patch(turned(corners, label.angle) + np.array(label.at), closed=True, facecolor="white", edgecolor="none", zorder=order)
        )


def joint_lines(item: Tiles) -> list[Floats]:
    """The middles of the joints round whole tiles, lattice axes: lines (n, 2).

    Rectangles of tiles in a grid share their lines; in a bond the courses do; other patterns give an outline for each tile.
    """
    outline = item.pattern.members[item.member]
    low, high = outline.min(axis=0), outline.max(axis=0)
    half = item.joint / 2.0
    v1, v2 = item.pattern.vectors
    level = len(item.pattern.members) == 1 and abs(v1[1]) < EPS and len(outline) == 4
    if not level:
        grown = outline + np.sign(outline - outline.mean(axis=0)) * half
        points = grown[None] + (item.index @ item.pattern.vectors)[:, None]
        return list(np.concatenate([points, points[:, :1]], axis=1))
    result = []
    for i0, i1, j0, j1 in rectangles(item.index, joined=abs(float(v2[0])) < EPS):
        corner = i0 * v1 + j0 * v2 + low - half
        far = i1 * v1 + j1 * v2 + high + half
        for k in range(i1 - i0 + 2):
            x = corner[0] + k * v1[0]
            result.append(np.array([[x, corner[1]], [x, far[1]]]))
        for k in range(j1 - j0 + 2):
            y = corner[1] + k * v2[1]
            result.append(np.array([[corner[0], y], [far[0], y]]))
    return result


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
    for shown in sheet.shown:
        before = _artists(axes)
        plotter.draw(shown.room, shown.view.to_paper, shown.view.scale)
        if sheet.cut_off:
            _clip(axes, shown.view, before)
    plotter.draw(sheet.paper_scene, _same, 1.0)
    check_figure(figure, sheet)
    return figure


def _artists(axes: Axes) -> list[Any]:
    """All that was drawn so far."""
    return [*axes.patches, *axes.collections, *axes.texts]


def _clip(axes: Axes, view: View, before: list[Any]) -> None:
    """Show what was drawn inside a window only, but for what was there before."""
    from matplotlib.patches import Rectangle  # noqa: PLC0415

    (x, y), (w, h) = view.at, view.size
    window = Rectangle((x - w / 2, y - h / 2), w, h, transform=axes.transData)
    kept = {id(artist) for artist in before}
    for artist in _artists(axes):
        if id(artist) not in kept:
            artist.set_clip_path(window)


def _same(points: Floats) -> Floats:
    return points


class Raster:
    """Where sheets are rasterised: the memory of one serves for the next of its size."""

    def __init__(self) -> None:
        self._renderer: Any = None
        self._of: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def pixels(self, figure: Figure, dpi: float) -> NDArray[np.uint8]:
        """Pixels (rows, columns, 3) of a figure, good until the next is drawn; letters unhinted, as wide as they were measured."""
        import matplotlib as mpl  # noqa: PLC0415
        from matplotlib.backends import backend_agg  # noqa: PLC0415

        agg: Any = backend_agg
        before = figure.dpi
        figure.set_dpi(dpi)
        wide, tall = figure.bbox.size
        if self._of != (wide, tall, dpi):
            self._renderer, self._of = agg.RendererAgg(wide, tall, dpi), (wide, tall, dpi)
        self._renderer.clear()
        with mpl.rc_context({"text.hinting": "no_hinting"}):
            figure.draw(self._renderer)
        figure.set_dpi(before)
        pixels: NDArray[np.uint8] = np.asarray(self._renderer.buffer_rgba())[..., :3]
        return pixels


def save_png(sheet: Sheet, path: Path, *, dpi: int = 300, figure: Figure | None = None, raster: Raster | None = None) -> None:
    """Write a sheet as PNG, from its figure if it is drawn already, on a raster that others were drawn on if there is one."""
    from layout.writers.pictures import save_pixels  # noqa: PLC0415

    save_pixels((raster or Raster()).pixels(figure_of(sheet) if figure is None else figure, dpi), path, dpi)


def save_svg(sheet: Sheet, path: Path) -> None:
    """Write a sheet as SVG: words are text, in faces that the file carries; the same plan gives the same bytes."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415

    from layout.writers.pictures import faces  # noqa: PLC0415

    figure = figure_of(sheet)
    FigureCanvasSVG(figure)
    out = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": "gaugerod", "svg.fonttype": "none"}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": "gaugerod"})
    style = faces((text.get_text(), text.get_fontweight() == "bold") for text in figure.axes[0].texts)
    path.write_text(out.getvalue().replace("<defs>", f'<defs>\n  <style type="text/css">{style}</style>', 1), encoding="utf-8")


@contextmanager
def pdf_pages(path: Path, *, title: str) -> Iterator[Callable[[Figure], None]]:
    """One PDF, fonts embedded: gives what adds a sheet's figure as a page."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: PLC0415

    metadata = {"Title": title, "Creator": "gaugerod", "Producer": "gaugerod", "CreationDate": None, "ModDate": None}
    # fonts are embedded when the file is closed: the kind of font must be the same then as while pages were drawn
    with mpl.rc_context({"pdf.fonttype": 42}), PdfPages(path, metadata=metadata) as pages:
        yield pages.savefig
