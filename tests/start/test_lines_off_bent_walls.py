"""Start lines off a wall that is bent a little: told as they are measured, square off the face that stands there."""

from __future__ import annotations

import pytest
import shapely

from tests.rooms import set_out_room


@pytest.mark.parametrize("off", [-6, 0, 6])
def test_an_offset_is_the_distance_to_the_face(off):
    outline = [[0, 0], [1000, off], [6000, 0], [6000, 3100], [2500, 3100]]
    tile = {"size": [200, 200], "joint": 6, "along": 4}
    room = set_out_room({"outline": outline}, tiles={"floor": tile}, rules={"movement": "DE_INTERIOR", "datum": [1, 3]})
    line = next(line for line in room.floor.start.lines if line.name == "A")
    assert [offset.wall for offset in line.offsets] == [1, 1]
    face = shapely.LineString(outline[:3])
    counted = [face.distance(shapely.Point(offset.at)) for offset in line.offsets]
    assert [offset.bare for offset in line.offsets] == pytest.approx(counted, abs=0.01)
    assert abs(line.offsets[0].bare - line.offsets[0].at[1] + off / 1000 * line.offsets[0].at[0]) < 0.02
