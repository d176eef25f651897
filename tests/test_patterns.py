from __future__ import annotations

import numpy as np
import pytest
import shapely

from layout.patterns import PATTERN_NAMES, pattern_of
from layout.plan import Tile


@pytest.mark.parametrize("name", PATTERN_NAMES)
@pytest.mark.parametrize(("size", "joint"), [((200, 200), 6), ((240, 115), 8), ((300, 600), 3)])
def test_a_cell_covers_the_plane_joints_included(name, size, joint):
    pattern = pattern_of(Tile(name="t", size=size, joint=joint, pattern=name, offset=1 / 3))
    # each tile grown by half its joint all round: their areas are the determinant, and they do not overlap
    w, h = size[0] + joint, size[1] + joint
    assert len(pattern.members) * w * h == pytest.approx(pattern.cell_area)
    grown = []
    for i in range(-4, 5):
        for j in range(-4, 5):
            at = i * pattern.vectors[0] + j * pattern.vectors[1]
            grown += [shapely.Polygon(m + at).buffer(joint / 2, join_style="mitre") for m in pattern.members]
    union = shapely.union_all(grown)
    assert union.area == pytest.approx(sum(g.area for g in grown), rel=1e-9)
    middle = shapely.box(-abs(size[0]), -abs(size[0]), abs(size[0]), abs(size[0]))
    assert union.buffer(1e-6).covers(middle)


def test_members_are_the_tile_or_the_tile_turned():
    pattern = pattern_of(Tile(name="t", size=(240, 115), joint=8, pattern="herringbone"))
    for member, quarter in zip(pattern.members, pattern.quarter, strict=True):
        assert np.ptp(member, axis=0).tolist() == ([115, 240] if quarter else [240, 115])
