"""Files read back by other programs: GDAL for the DXF's geometry, ezdxf's audit, pictures that can fail."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf.entities.viewport import Viewport
from ezdxf.filemanagement import readfile

from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.shapes import rectangles
from layout.sheets.draw import draw_sheets
from layout.writers.save import write_dxf, write_pdf, write_png, write_svg
from tests.examples import example, example_doc, example_dxf, example_pdf, example_sheets
from tests.rooms import plan_of

PLANS = sorted((Path(__file__).parent.parent.parent / "plans").glob("*.toml"))


def sheets_of(setout):
    return draw_sheets(setout, take_off(setout))


@pytest.fixture(scope="module", params=PLANS, ids=lambda p: p.stem)
def made(request):
    return example(request.param), example_sheets(request.param), example_dxf(request.param)


@pytest.fixture(scope="module")
def doc(made):
    """The drawing read back by its own library: read once, since a large one takes seconds, and only looked at."""
    return example_doc(next(plan for plan in PLANS if plan.stem == made[2].stem))


def gdal_polygons(path, layer):
    frame = pyogrio.read_dataframe(path)
    own = frame[(frame["Layer"] == layer) & frame["PaperSpace"].isna()] if "PaperSpace" in frame else frame[frame["Layer"] == layer]
    # closed polylines come back as lines
    return [shapely.Polygon(g.coords) for g in own.geometry if g.geom_type == "LineString" and g.is_ring]


def test_an_audit_finds_nothing(made):
    _, sheets, path = made
    doc = readfile(path)
    audit = doc.audit()
    assert not audit.errors
    assert not audit.fixes
    assert doc.header["$INSUNITS"] == 4
    assert doc.dxfversion >= "AC1024"  # R2010
    assert list(doc.layout_names_in_taborder())[1:] == [sheet.name for sheet in sheets]


def test_gdal_reads_the_same_areas(made):
    setout, _, path = made
    floor = setout.rooms[0].floor
    whole = gdal_polygons(path, "TILE")
    assert len(whole) == len(floor.field.whole)
    assert sum(p.area for p in whole) == pytest.approx(shapely.area(floor.field.whole_polygons()).sum(), rel=1e-6)
    union = shapely.union_all(whole)
    assert union.symmetric_difference(shapely.union_all(floor.field.whole_polygons())).area < 1.0
    cut = gdal_polygons(path, "TILE-CUT")
    inner, outer = shapely.STRtree(cut).query(cut, predicate="within")  # a hole is a ring of its own, within its piece
    holes = {int(k) for k, of in zip(inner, outer, strict=True) if k != of}
    assert sum(-p.area if k in holes else p.area for k, p in enumerate(cut)) == pytest.approx(
        shapely.area(floor.field.pieces()).sum(), rel=1e-6
    )


def test_viewports_are_to_scale_and_locked(made, doc):
    _, sheets, _ = made
    assert len(sheets) > 3
    for sheet in sheets:
        windows = [v for v in doc.layout(sheet.name).query("VIEWPORT") if v.dxf.status > 0 and v.dxf.id != 1]
        if sheet.view is None:
            assert not windows
            continue
        # scale = code 45 / code 41 (public DXF reference, VIEWPORT)
        assert windows[0].dxf.view_height / windows[0].dxf.height == pytest.approx(sheet.view.scale)
        assert windows[0].dxf.flags & 16384


def test_dimensions_are_real_and_say_what_they_measure(made, doc):
    setout, _, _ = made
    dimensions = list(doc.modelspace().query("DIMENSION"))
    assert dimensions
    lengths = {f"{w.run.length:.0f}" for w in setout.rooms[0].lining.outline.walls}
    texts = {item.dxf.text.removeprefix("tanked ") for item in dimensions if item.dxf.text.strip()}
    assert lengths <= texts
    for item in dimensions:
        if item.dxf.text.strip():
            own, _, whole = item.dxf.text.removeprefix("tanked ").removesuffix(" from bare floor").partition(" of ")
            assert item.get_measurement() == pytest.approx(float(own), abs=0.6)
            assert not whole or whole in lengths  # a part of a long face tells how long the face is


def test_title_blocks_have_attributes(made, doc):
    setout, sheets, _ = made
    assert len(sheets) > 3
    for sheet in sheets:
        block = doc.layout(sheet.name).query('INSERT[name=="TITLE-BLOCK"]').first
        assert block.get_attrib_text("TITLE") == setout.plan.project.title
        assert block.get_attrib_text("DATE-OF-ISSUE") == setout.plan.project.date.isoformat()


def test_each_viewport_hides_the_other_sheets_words(made, doc):
    _, sheets, _ = made
    window = next(v for v in doc.layout(sheets[0].name).query("VIEWPORT") if v.dxf.id != 1)
    assert isinstance(window, Viewport)
    frozen = set(window.frozen_layers)
    for word in ("MARK", "TAPE-INTERNAL", "CORNER-PIECE"):
        used = {item.dxf.layer for item in doc.modelspace() if item.dxf.layer.startswith(word)}
        assert used
        assert used <= frozen
    assert not {"START-LINE", "WALL", "TILE"} & frozen


@pytest.mark.parametrize("turn", [7, 45])
@pytest.mark.parametrize("pattern", ["stack", "running", "herringbone"])
def test_turned_array_inserts_land_where_the_tiles_are(turn, pattern, tmp_path):
    tile = {"size": [300, 150], "joint": 5, "pattern": pattern, "turn": turn}
    setout = set_out(plan_of({"outline": [[0, 0], [3000, 0], [3000, 2500], [0, 2500]]}, tiles={"floor": tile}))
    path = write_dxf(sheets_of(setout), tmp_path / "turned.dxf")
    union = shapely.union_all(gdal_polygons(path, "TILE"))
    ours = shapely.union_all(setout.rooms[0].floor.field.whole_polygons())
    assert union.symmetric_difference(ours).area < 1.0


def test_rooms_stand_side_by_side(tmp_path):
    text = Path(PLANS[0]).read_text(encoding="utf-8")
    from layout.readers.planfile import parse_plan

    two = parse_plan(text + '\n[[rooms]]\nname = "Store"\noutline = [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]\n')
    setout = set_out(two)
    path = write_dxf(sheets_of(setout), tmp_path / "two.dxf")
    walls = list(pyogrio.read_dataframe(path).query("Layer == 'TILE'").geometry)
    xs = [g.bounds[0] for g in walls]
    assert max(xs) - min(xs) > 15_000


def test_the_same_plan_gives_the_same_bytes(made, tmp_path):
    _, sheets, path = made
    again = write_dxf(sheets, tmp_path / path.name)
    assert again.read_bytes() == path.read_bytes()
    small = sheets[:1]
    one, two = (write_svg(small, tmp_path / name)[0].read_bytes() for name in ("a", "b"))
    assert one == two
    one, two = (write_pdf(small, tmp_path / name).read_bytes() for name in ("a.pdf", "b.pdf"))
    assert one == two


def test_a_picture_shows_the_room_and_a_wrong_one_differs(made, tmp_path):
    from matplotlib.image import imread

    _, sheets, _ = made
    one = imread(write_png(sheets[:1], tmp_path / "one", dpi=50)[0])[..., :3]
    width, height = sheets[0].size
    assert one.shape[:2] == (pytest.approx(height / 25.4 * 50, abs=1), pytest.approx(width / 25.4 * 50, abs=1))
    other = imread(write_png(sheets[1:2], tmp_path / "two", dpi=50)[0])[..., :3]
    # there is ink in the drawing, and another sheet does not pass for this one
    assert 0.02 < float((one.mean(axis=2) < 0.9).mean()) < 0.6
    if one.shape == other.shape:
        assert float(np.abs(one - other).mean()) > 0.005


def test_rectangles_of_indices_cover_each_index_once():
    rng = np.random.default_rng(1)
    index = np.unique(rng.integers(-5, 12, (120, 2)), axis=0)
    for joined in (True, False):
        seen = [(i, j) for i0, i1, j0, j1 in rectangles(index, joined=joined) for i in range(i0, i1 + 1) for j in range(j0, j1 + 1)]
        assert sorted(seen) == sorted(map(tuple, index.tolist()))


def grown(ink):
    """Ink with two dots more on every side."""
    result = ink.copy()
    for dx in range(-2, 3):
        for dy in range(-2, 3):
            result |= np.roll(ink, (dx, dy), axis=(0, 1))
    return result


def test_the_drawing_rendered_by_its_own_library_looks_like_our_picture(tmp_path):
    """The DXF's first layout, drawn by ezdxf's own drawing add-on, against our PNG of the same sheet: ink stands in the same places."""
    from ezdxf.addons.drawing.frontend import Frontend
    from ezdxf.addons.drawing.matplotlib import MatplotlibBackend
    from ezdxf.addons.drawing.properties import RenderContext
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.image import imread

    setout = set_out(
        plan_of({"outline": [[0, 0], [3000, 0], [3000, 2500], [0, 2500]], "openings": [{"wall": 1, "offset": 300, "width": 900}]})
    )
    sheets = sheets_of(setout)[:1]
    doc = readfile(write_dxf(sheets, tmp_path / "room.dxf"))
    ours = imread(write_png(sheets, tmp_path, dpi=50)[0])[..., :3].mean(axis=2) < 0.9
    width, height = sheets[0].size
    figure = Figure(figsize=(width / 25.4, height / 25.4))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    layout = doc.layout(sheets[0].name)
    Frontend(RenderContext(doc), MatplotlibBackend(axes, adjust_figure=False)).draw_layout(layout)
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, height)
    axes.set_axis_off()
    FigureCanvasAgg(figure)
    figure.savefig(tmp_path / "theirs.png", dpi=50)
    theirs = imread(tmp_path / "theirs.png")[..., :3].mean(axis=2)
    theirs = np.abs(theirs - np.median(theirs)) > 0.1  # the add-on may draw on a dark ground
    assert ours.shape == theirs.shape
    found = float((ours & grown(theirs)).sum()) / float(ours.sum())
    back = float((theirs & grown(ours)).sum()) / float(theirs.sum())
    assert found > 0.93
    assert back > 0.93


@pytest.mark.parametrize("plan", PLANS, ids=lambda p: p.stem)
def test_pages_are_true_to_scale_and_fonts_are_in(plan):
    from pypdf import PdfReader

    setout, sheets = example(plan), example_sheets(plan)
    reader = PdfReader(example_pdf(plan))
    assert len(reader.pages) == len(sheets)
    for page, sheet in zip(reader.pages, sheets, strict=True):
        size = [float(v) / 72 * 25.4 for v in (page.mediabox.width, page.mediabox.height)]
        assert size == pytest.approx(sheet.size, abs=0.1)
    assert reader.metadata is not None
    assert reader.metadata.title == setout.plan.project.title
    resources: Any = dict(reader.pages[0])["/Resources"]
    fonts = resources["/Font"]
    assert fonts
    assert all("/FontDescriptor" in str(font.get_object()) or "/DescendantFonts" in font.get_object() for font in fonts.values())


def test_drains_are_blocks_where_they_stand(made, doc):
    setout, _, _ = made
    inserts = [i for i in doc.modelspace().query("INSERT") if i.dxf.name.startswith(("GULLY-", "CHANNEL-"))]
    drains = setout.rooms[0].lining.room.drains
    assert len(inserts) == len(drains)
    for drain in drains:
        assert any(np.allclose((i.dxf.insert.x, i.dxf.insert.y), drain.at) and i.dxf.layer == "DRAIN" for i in inserts)


def test_plain_tiles_up_to_a_bound(tmp_path):
    from layout.errors import OutputError
    from layout.writers.dxf import save_dxf

    room = {"outline": [[0, 0], [3000, 0], [3000, 2500], [0, 2500]]}
    setout = set_out(plan_of(room))
    save_dxf(sheets_of(setout), tmp_path / "plain.dxf", plain=True)
    tiles = gdal_polygons(tmp_path / "plain.dxf", "TILE")
    assert len(tiles) == len(setout.rooms[0].floor.field.whole)
    assert shapely.union_all(tiles).symmetric_difference(shapely.union_all(setout.rooms[0].floor.field.whole_polygons())).area < 1.0
    many = set_out(
        plan_of({"outline": [[0, 0], [16000, 0], [16000, 16000], [0, 16000]]}, tiles={"floor": {"size": [100, 100], "joint": 5}})
    )
    with pytest.raises(OutputError, match="bound"):
        save_dxf(sheets_of(many)[:1], tmp_path / "many.dxf", plain=True)
    assert not (tmp_path / "many.dxf").exists()
