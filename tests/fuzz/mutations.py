"""Seeds, mutations and the one question asked of a reader: does it answer, or tell the person what is wrong, and nothing else."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING

from ezdxf.filemanagement import new

import layout
from layout.errors import LayoutError
from layout.readers.officefile import read_figures
from layout.survey.adjust import adjust

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import numpy as np

TOP = Path(__file__).parent.parent.parent
CORPUS = Path(__file__).parent / "corpus"

SURVEY = b"from,to,length\nA,B,6500\nB,C,2.9 m\nC,D,2400\nD,A,3620\nA,C,7117.6\nB,D,5012\n"
POINTS = b"name,x,y\nA,0,0\nB,6500,0\nC,6500,2900\nD,0,2900\n"
OFFSETS = b"name,along,offset\nA,0,0\nB,6500,0\nC,6500,2900\nD,0,2900\n"
GEO = b"""{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "Wash-up", "id": 7},
"geometry": {"type": "Polygon", "coordinates": [[[0, 0], [6.5, 0], [6.5, 2.9], [0, 2.9], [0, 0]], [[1, 1], [1.3, 1], [1.3, 1.3], [1, 1]]]}},
{"type": "Feature", "properties": null, "geometry": {"type": "GeometryCollection", "geometries": [
{"type": "MultiPolygon", "coordinates": [[[[10, 0], [14, 0], [14, 3], [10, 3], [10, 0]]]]}]}}]}"""
RATES = b'currency = "EUR"\n[rates]\nmembrane = { rate = 9.5, unit = "kg" }\n"tape" = { rate = 2, unit = "m" }\n'
FULL = b"""
format = 1
[tiles.floor]
size = [300, 150]
pattern = "running"
start_line = { wall = "south", at = "12 cm" }
[tiles.own]
pattern = "own"
cell = { tiles = [[[0, 0], [200, 0], [200, 200], [0, 200]]], vectors = [[206, 0], [0, 206]] }
[rules]
start_weights = { narrowest = 1, pulls = 0.5 }
datum = [1, "south"]
[sealant]
temperatures = [5, 60]
movement_class = 25
[products]
tape_roll_m = 25
membrane_coats = { value = 2, source = "data sheet" }
[budgets]
side = 100_000
[[rooms]]
outline = [[0, 0], { to = [5200, 0], wall = "south" }, { to = [5200, 3700], bulge = 0.1 }, [0, 3700]]
tile_height = 1800
[[rooms.openings]]
wall = "south"
offset = 700
width = 900
from = "left"
[[rooms.drains]]
kind = "channel"
from = [1000, 1500]
to = [2500, 1500]
[[rooms.plinths]]
outline = [[3000, 2000], [3600, 2000], [3600, 2600], [3000, 2600]]
[[rooms.pipes]]
wall = 1
offset = 800
level = 500
diameter = 50
[[rooms.falls]]
to = "channel 1"
ratio = 60
[[rooms.pulls]]
want = "tile"
at = [2000, 1000]
"""

MODEL = b"""ISO-10303-21;
HEADER;
FILE_DESCRIPTION(('ViewDefinition [ReferenceView]'),'2;1');
FILE_NAME('store.ifc','2026-11-25T00:00:00',(''),(''),'','','');
FILE_SCHEMA(('IFC4'));
ENDSEC;
DATA;
#1=IFCPROJECT('0000000000000000000001',$,'Invented',$,$,$,$,(#5),#8);
#2=IFCCARTESIANPOINT((0.,0.,0.));
#3=IFCDIRECTION((0.,0.,1.));
#4=IFCAXIS2PLACEMENT3D(#2,#3,$);
#5=IFCGEOMETRICREPRESENTATIONCONTEXT($,'Model',3,1.E-5,#4,$);
#6=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);
#7=IFCSIUNIT(*,.PLANEANGLEUNIT.,$,.RADIAN.);
#8=IFCUNITASSIGNMENT((#6,#7));
#10=IFCLOCALPLACEMENT($,#4);
#11=IFCBUILDINGSTOREY('0000000000000000000002',$,'Ground',$,$,#10,$,$,.ELEMENT.,0.);
#20=IFCCARTESIANPOINTLIST2D(((0.,0.),(4200.,0.),(4200.,3000.),(0.,3000.)));
#21=IFCINDEXEDPOLYCURVE(#20,(IFCLINEINDEX((1,2,3,4,1))),.F.);
#22=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#21);
#23=IFCEXTRUDEDAREASOLID(#22,#4,#3,2600.);
#24=IFCSHAPEREPRESENTATION(#5,'Body','SweptSolid',(#23));
#25=IFCPRODUCTDEFINITIONSHAPE($,$,(#24));
#26=IFCSPACE('0000000000000000000003',$,'1',$,$,#10,#25,'Wash-up',.ELEMENT.,.INTERNAL.,$);
#27=IFCCARTESIANPOINT((6000.,0.));
#28=IFCCARTESIANPOINT((9000.,0.));
#29=IFCCARTESIANPOINT((9000.,2000.));
#30=IFCPOLYLINE((#27,#28,#29,#27));
#31=IFCSHAPEREPRESENTATION(#5,'FootPrint','Curve2D',(#30));
#32=IFCBOUNDINGBOX(#2,3000.,2000.,2500.);
#33=IFCSHAPEREPRESENTATION(#5,'Box','BoundingBox',(#32));
#34=IFCPRODUCTDEFINITIONSHAPE($,$,(#31,#33));
#35=IFCSPACE('0000000000000000000004',$,'2',$,$,#10,#34,'Store',.ELEMENT.,.INTERNAL.,$);
#40=IFCCARTESIANPOINT((900.,-100.,0.));
#41=IFCAXIS2PLACEMENT3D(#40,$,$);
#42=IFCLOCALPLACEMENT(#10,#41);
#43=IFCDOOR('0000000000000000000005',$,'Door',$,$,#42,$,$,2100.,900.,.DOOR.,.SINGLE_SWING_LEFT.,$);
#44=IFCRELSPACEBOUNDARY('0000000000000000000006',$,$,$,#26,#43,$,.PHYSICAL.,.INTERNAL.);
#50=IFCCARTESIANPOINT((2000.,1500.));
#51=IFCAXIS2PLACEMENT2D(#50,$);
#52=IFCRECTANGLEPROFILEDEF(.AREA.,$,#51,300.,300.);
#53=IFCEXTRUDEDAREASOLID(#52,#4,#3,2600.);
#54=IFCSHAPEREPRESENTATION(#5,'Body','SweptSolid',(#53));
#55=IFCPRODUCTDEFINITIONSHAPE($,$,(#54));
#56=IFCCOLUMN('0000000000000000000007',$,'Column',$,$,#10,#55,$,.COLUMN.);
#60=IFCCIRCLEPROFILEDEF(.AREA.,$,#51,55.);
#61=IFCEXTRUDEDAREASOLID(#60,#4,#3,2600.);
#62=IFCSHAPEREPRESENTATION(#5,'Body','SweptSolid',(#61));
#63=IFCPRODUCTDEFINITIONSHAPE($,$,(#62));
#64=IFCPIPESEGMENT('0000000000000000000008',$,'Pipe',$,$,#42,#63,$,.RIGIDSEGMENT.);
#70=IFCQUANTITYAREA('NetFloorArea',$,$,12.6,$);
#71=IFCELEMENTQUANTITY('0000000000000000000009',$,'BaseQuantities',$,$,(#70));
#72=IFCRELDEFINESBYPROPERTIES('000000000000000000000A',$,$,$,(#26),#71);
#73=IFCRELAGGREGATES('000000000000000000000B',$,$,$,#11,(#26,#35));
ENDSEC;
END-ISO-10303-21;
"""


def drawing(version: str) -> bytes:
    """A small drawing with all that is read: walls, a swing, a block in rows and columns, names, a spline, an ellipse."""
    doc = new(version, setup=False)
    space = doc.modelspace()
    block = doc.blocks.new("GULLY")
    block.add_circle((0, 0), 100)
    block.add_text("G", height=50)
    inner = doc.blocks.new("ROW")
    inner.add_blockref("GULLY", (0, 0))
    for a, b in (((0, 0), (6500, 0)), ((6500, 0), (6500, 2900)), ((6500, 2900), (0, 2900)), ((0, 2900), (0, 900)), ((0, 0), (0, 100))):
        space.add_line(a, b, dxfattribs={"layer": "A-WALL"})
    space.add_arc((0, 100), 800, 0, 90, dxfattribs={"layer": "A-DOOR"})
    space.add_text("Wash-up", height=200, dxfattribs={"insert": (3000, 1500)})
    space.add_circle((600, 600), 55, dxfattribs={"layer": "PIPES"})
    insert = space.add_blockref("ROW", (2000, 1000), dxfattribs={"layer": "GULLIES"})
    insert.dxf.row_count, insert.dxf.column_count = 1, 2
    insert.dxf.column_spacing = 1500
    if version != "R12":
        space.add_mtext("Store\\P2", dxfattribs={"insert": (1000, 500), "char_height": 100})
        space.add_lwpolyline([(8000, 0), (12000, 0), (12000, 3000), (8000, 3000)], close=True, dxfattribs={"layer": "ROOMS"})
        space.add_spline([(0, 0), (100, 50), (200, 0), (300, 80)], dxfattribs={"layer": "A-WALL"})
        space.add_ellipse((3000, 3000), (500, 0), 0.5)
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode("utf-8", "surrogateescape")


def _plan(path: Path) -> None:
    layout.read_plan(path)


def _products(path: Path) -> None:
    read_figures(path)


def _rates(path: Path) -> None:
    layout.read_rates(path)


def _survey(path: Path) -> None:
    adjust(layout.read_survey(path))


def _points(path: Path) -> None:
    layout.read_points(path)


def _geo(path: Path) -> None:
    for plan in layout.plans_of(layout.read_geojson(path, units="m")):
        layout.plan_toml(plan)


def _dxf(path: Path) -> None:
    layout.read_dxf(path)


def _ifc(path: Path) -> None:
    layout.read_ifc(path)


READERS: dict[str, Callable[[Path], None]] = {
    "plan.toml": _plan,
    "products.toml": _products,
    "rates.toml": _rates,
    "survey.csv": _survey,
    "points.csv": _points,
    "rooms.geojson": _geo,
    "plan.dxf": _dxf,
    "rooms.ifc": _ifc,
}
"""Reader of a file by the end of its name."""


def seeds() -> dict[str, list[bytes]]:
    """Sound files to begin from, by the end of their name."""
    plans = sorted((TOP / "plans").glob("*.toml"))
    return {
        "plan.toml": [FULL, *(path.read_bytes() for path in plans)],
        "products.toml": [(TOP / "plans" / "products" / "generic.toml").read_bytes()],
        "rates.toml": [RATES],
        "survey.csv": [SURVEY],
        "points.csv": [POINTS, OFFSETS],
        "rooms.geojson": [GEO],
        "plan.dxf": [drawing("R12"), drawing("R2000")],
        "rooms.ifc": [MODEL],
    }


NASTY = [
    b"9" * 5000, b"-" + b"1" * 400, b"1e999", b"nan", b"inf", b"-0", b"1e-300", b"0x" + b"f" * 5000, b"true", b"null", b'""', b"[]", b"{}",
    b"[" * 500, b"{a=" * 200, b'"\\u0000"', b'"\\ud800"', b"\xff\xfe", b"\x1b[2J", b"\xc2\x9b", b"\xe2\x80\xae", b"\xc2\xb2", b"x" * 140_000,
    b"\n", b"\r\n", b",", b'"', b"'", b"=", b".", b"#", b"\\", b"%%", b"1979-05-27", b"07:32:00", b"[[rooms]]\n", b"wall = 99\n", b"-1", b"0", b"30000",
    b"1e-9", b"2000000",
]  # fmt: skip
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")


def mutated(seed: bytes, rng: np.random.Generator, *, lines: bool) -> bytes:
    """A file with one to four faults put in; `lines` for files whose lines are tags (DXF)."""
    data = seed
    for _ in range(int(rng.integers(1, 5))):
        data = _fault(data, rng, lines=lines)
    return data


def _fault(data: bytes, rng: np.random.Generator, *, lines: bool) -> bytes:
    if not data:
        return data
    at, nasty = int(rng.integers(len(data))), NASTY[int(rng.integers(len(NASTY)))]
    kind = int(rng.integers(5, 9) if lines and rng.random() < 0.8 else rng.integers(0, 6))
    if kind == 0:
        return data[:at] + bytes([int(rng.integers(256))]) + data[at + 1 :]
    if kind == 1:
        return data[:at] + nasty + data[at:]
    if kind == 2:
        end = min(len(data), at + int(rng.integers(1, 80)))
        return data[:at] + data[end:]
    if kind == 3:
        end = min(len(data), at + int(rng.integers(1, 200)))
        return data[:end] + data[at:end] + data[end:]
    if kind == 4:
        return data[:at]
    if kind == 5:
        found = list(_NUMBER.finditer(data))
        if not found:
            return data
        one = found[int(rng.integers(len(found)))]
        return data[: one.start()] + nasty + data[one.end() :]
    rows = data.split(b"\n")
    at = int(rng.integers(len(rows)))
    if kind == 6:  # another value for a tag
        rows[at] = nasty.replace(b"\n", b"")
    elif kind == 7:  # a pair of lines lost
        at -= at % 2
        del rows[at : at + 2]
    else:  # a pair of lines from elsewhere
        other = int(rng.integers(len(rows) // 2 + 1)) * 2
        at -= at % 2
        rows[at:at] = rows[other : other + 2]
    return b"\n".join(rows)


def cases(kind: str, rng: np.random.Generator) -> Iterator[bytes]:
    """Mutated files of a kind without end."""
    own = seeds()[kind]
    while True:
        yield mutated(own[int(rng.integers(len(own)))], rng, lines=kind.endswith((".dxf", ".ifc")))


def asked(kind: str, data: bytes, folder: Path) -> BaseException | None:
    """What a reader ends with that is no word to the person; None if it answered or told what is wrong, in words that can be shown."""
    path = folder / kind
    path.write_bytes(data)
    try:
        READERS[kind](path)
    except LayoutError as error:
        text = str(error)
        steering = [char for char in text if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0 or 0xD800 <= ord(char) < 0xE000]
        return AssertionError(f"a message steers the terminal: {text!r}") if steering else None
    except Exception as error:  # noqa: BLE001  # whatever else it is, is what is looked for
        return error
    return None
