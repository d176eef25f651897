"""Wall tile by the coverings of a building model: a small model made by hand, a real one, and a plan that says otherwise."""

from __future__ import annotations

import numpy as np
import pytest

from layout.readers.foundplans import plans_of, reread
from layout.readers.modelfile import read_ifc
from layout.survey.drafts import found_plan
from tests.readers.test_ways_in import unpacked

__all__ = ["unpacked"]

FACE = 12.0
"""Thickness of the coverings, mm."""


def maker():
    """An empty model in millimetres; how an entity is made in it, and one with the shape of a box from one corner to the other."""
    ifcopenshell = pytest.importorskip("ifcopenshell")
    model = ifcopenshell.file(schema="IFC4")
    new = ifcopenshell.guid.new

    def make(kind, **values):
        return model.create_entity(kind, **values)

    def rooted(kind, **values):
        return make(kind, GlobalId=new(), **values)

    def placed(x, y, z):
        origin = make("IfcCartesianPoint", Coordinates=(x, y, z))
        return make("IfcLocalPlacement", RelativePlacement=make("IfcAxis2Placement3D", Location=origin))

    axes = make("IfcAxis2Placement3D", Location=make("IfcCartesianPoint", Coordinates=(0.0, 0.0, 0.0)))
    context = make(
        "IfcGeometricRepresentationContext", ContextType="Model", CoordinateSpaceDimension=3, Precision=1e-5, WorldCoordinateSystem=axes
    )
    units = make("IfcUnitAssignment", Units=[make("IfcSIUnit", UnitType="LENGTHUNIT", Prefix="MILLI", Name="METRE")])
    rooted("IfcProject", Name="Demo", RepresentationContexts=[context], UnitsInContext=units)

    def box(kind, low, high, **values):
        w, d, h = (float(b - a) for a, b in zip(low, high, strict=True))
        middle = make("IfcAxis2Placement2D", Location=make("IfcCartesianPoint", Coordinates=(w / 2, d / 2)))
        profile = make("IfcRectangleProfileDef", ProfileType="AREA", Position=middle, XDim=w, YDim=d)
        up = make("IfcDirection", DirectionRatios=(0.0, 0.0, 1.0))
        solid = make("IfcExtrudedAreaSolid", SweptArea=profile, Position=axes, ExtrudedDirection=up, Depth=h)
        shape = make(
            "IfcShapeRepresentation",
            ContextOfItems=context,
            RepresentationIdentifier="Body",
            RepresentationType="SweptSolid",
            Items=[solid],
        )
        body = make("IfcProductDefinitionShape", Representations=[shape])
        return rooted(kind, ObjectPlacement=placed(*(float(x) for x in low)), Representation=body, **values)

    return model, rooted, box


def made(path):
    """Two rooms of 3000 x 2000 x 2500 with a wall of 100 between them; coverings as (box, name, kind, room)."""
    model, rooted, box = maker()
    wash = box("IfcSpace", (0, 0, 0), (3000, 2000, 2500), Name="Wash")
    box("IfcSpace", (0, 2100, 0), (3000, 4100, 2500), Name="Store")
    # Wash: 2100 high on its south and east walls, 1200 on its west; the far wall has a strip of 400 only. The floor is no wall tile.
    told = box("IfcCovering", (0, 0, 0), (3000, FACE, 2100), Name="finish A", PredefinedType="CLADDING")
    box("IfcCovering", (3000 - FACE, 0, 0), (3000, 2000, 2100), Name="Wall tile 200", PredefinedType="USERDEFINED", ObjectType="tile")
    box("IfcCovering", (0, 0, 0), (FACE, 2000, 1200), Name="Wall tile 200", PredefinedType="CLADDING")
    box("IfcCovering", (1000, 2000 - FACE, 0), (1400, 2000, 2100), Name="Wall tile 200", PredefinedType="CLADDING")
    box("IfcCovering", (0, 0, 0), (3000, 2000, FACE), Name="Floor tile", PredefinedType="FLOORING")
    box("IfcCovering", (0, 0, 2400), (3000, 2000, 2410), Name="Board", PredefinedType="CEILING")
    # lies on the store's wall, but is said to be the wash-up's: none of the store's
    stray = box("IfcCovering", (0, 2100, 0), (3000, 2100 + FACE, 2100), Name="Wall tile 200", PredefinedType="CLADDING")
    rooted("IfcRelCoversSpaces", RelatingSpace=wash, RelatedCoverings=[told, stray])
    model.write(str(path))
    return path


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    return read_ifc(made(tmp_path_factory.mktemp("model") / "made.ifc"))


def test_wall_tile_by_the_coverings_of_a_model_made_by_hand(found):
    rooms = {room.name: room for room in found.rooms}
    ring = rooms["Wash"].outline
    walls = {tuple(np.round((a + b) / 2)): h for a, b, h in zip(ring, np.roll(ring, -1, axis=0), rooms["Wash"].tiled, strict=True)}
    assert walls == {(1500, 0): 2100, (3000, 1000): 2100, (1500, 2000): 0, (0, 1000): 1200}
    assert rooms["Store"].tiled == ()
    words = [warning for warning in found.warnings if warning.startswith("Wash")]
    assert any("“finish A”" in warning for warning in words)
    assert any("400 of 3000 is tiled 2100 high; taken as not tiled" in warning for warning in words)
    assert not any(warning.startswith("Store") for warning in found.warnings)


def drawn_to_the_middle(path):
    """Two spaces that meet in the middle of a wall of 200, each face of which is covered; heights 1800 to the north, 1500 to the south.

    Faces stand 100 less 12 within the spaces' edges. A third covering lies before the outer wall of Wash and is said to be on the wall
    between Store and the yard: it is no tile of Wash.
    """
    model, rooted, box = maker()
    wash = box("IfcSpace", (0, 0, 0), (3000, 2000, 2500), Name="Wash")
    store = box("IfcSpace", (0, 2000, 0), (3000, 4000, 2500), Name="Store")
    between = box("IfcWall", (0, 1900, 0), (3000, 2100, 2500))
    outer = box("IfcWall", (0, 3900, 0), (3000, 4100, 2500))
    south = box("IfcCovering", (0, 1900 - FACE, 0), (3000, 1900, 1500), Name="Wall tile", PredefinedType="CLADDING")
    north = box("IfcCovering", (0, 2100, 0), (3000, 2100 + FACE, 1800), Name="Wall tile", PredefinedType="CLADDING")
    stray = box("IfcCovering", (0, 0, 0), (3000, FACE, 2100), Name="Wall tile", PredefinedType="CLADDING")
    for wall, spaces in ((between, (wash, store)), (outer, (store,))):
        for space in spaces:
            rooted("IfcRelSpaceBoundary", RelatingSpace=space, RelatedBuildingElement=wall)
    rooted("IfcRelCoversBldgElements", RelatingBuildingElement=between, RelatedCoverings=[south, north])
    rooted("IfcRelCoversBldgElements", RelatingBuildingElement=outer, RelatedCoverings=[stray])
    model.write(str(path))
    return path


def test_what_covers_a_wall_is_tile_of_the_spaces_that_the_wall_bounds(tmp_path):
    rooms = {room.name: room for room in read_ifc(drawn_to_the_middle(tmp_path / "middle.ifc")).rooms}
    walls = {}
    for name, room in rooms.items():
        ring = room.outline
        for a, b, height in zip(ring, np.roll(ring, -1, axis=0), room.tiled, strict=True):
            if height:
                walls[(name, *np.round((a + b) / 2).tolist())] = height
    assert walls == {("Wash", 1500.0, 2000.0): 1500, ("Store", 1500.0, 2000.0): 1800}


def test_the_plans_have_the_heights_and_say_nothing_where_the_model_does_not(found):
    wash, store = (plan.rooms[0] for plan in plans_of(found))
    assert wash.tile_height == 2100
    assert {wall.tile_height for wall in wash.walls} == {0, 1200}
    assert (store.tile_height, store.walls) == (0, ())


def test_a_plan_that_says_otherwise_is_told_and_stays(found):
    text = found_plan(found.rooms[0], note="from a test")
    mine = text.replace("tile_height = 2100", "tile_height = 2400").replace("tile_height = 1200", "tile_height = 1500")
    older = text.replace("tile_height = 2100", "tile_height = 2000").replace("tile_height = 1200", "tile_height = 1100")
    told = reread(mine, older, text, "wash.toml").left
    assert any("tile_height" in line and "2400" in line and "2100" in line for line in told)
    assert any("tile_height of wall" in line and "1500" in line and "1200" in line for line in told)
    untouched = reread(older, older, text, "wash.toml")
    assert any("tile_height: 2000 → 2100" in line for line in untouched.applied)
    assert not reread(text, text, text, "wash.toml").left


def test_wall_tile_of_a_real_model(unpacked):
    # coverings called wandtegelwerk: tops at 5260 and 4200 or 4210 in the world, floors of the spaces at 3000 less 10 of floor tile
    rooms = {room.name: room for room in read_ifc(unpacked / "schependomlaan-apartment-6.ifc").rooms}
    assert rooms["6.02 toilet"].tile_height == pytest.approx(1210, abs=11)
    assert rooms["6.07 badkamer"].tile_height == pytest.approx(2260, abs=11)
    assert rooms["6.05 slaapkamer 1"].tiled == ()
