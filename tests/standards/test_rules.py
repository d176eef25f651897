from __future__ import annotations

import pytest

from layout.standards.rules import RULE_SETS
from layout.standards.sealants import sealant_depth


@pytest.mark.parametrize(("name", "edge", "width"), [
    # TCNA EJ171 as reported by TileLetter, Aug 2018, p 24: 25 ft, 12 ft; joint not below 1/4 in
    ("EJ171_INTERIOR", 25 * 304.8, 8.0),
    ("EJ171_INTERIOR_WET_SUN", 12 * 304.8, 8.0),
    # The Tile Association, Tiling Guide p 14: 8-10 m, joints at least 6 mm
    ("UK_FLOOR", 10_000, 6.0),
    # German and Austrian secondary sources: 8 m, 40 m2, 1:2
    ("DE_INTERIOR", 8_000, 6.0),
    # a trade glossary on AS 3958.1: 4.5 m
    ("AU_FLOOR_INTERNAL", 4_500, 6.0),
    # EJ171 exterior as reported by "Expansion joints - width and spacing": 8 ft with 3/8 in, 12 ft with 1/2 in
    ("EJ171_EXTERIOR_8FT", 8 * 304.8, 10.0),
    ("EJ171_EXTERIOR_12FT", 12 * 304.8, 15.0),
    # trade magazine on BS 5385-3:2024: 3-5 m outside
    ("UK_FLOOR_EXTERNAL", 5_000, 6.0),
    # dealer's page on bay joints: 25 m2, 5 m
    ("DE_EXTERIOR", 5_000, 8.0),
    # Tiling Guide p 14: walls 3-4.5 m both ways
    ("UK_WALL", 4_500, 6.0),
])  # fmt: skip
def test_rule_sets_hold_their_published_limits(name, edge, width):
    rule = RULE_SETS[name]
    assert rule.max_edge == pytest.approx(edge)
    assert rule.joint_width() == width
    assert rule.source
    assert rule.status
    assert rule.condition
    assert rule.perimeter


@pytest.mark.parametrize(("width", "depth"), [(6, 6), (10, 6), (12, 6), (16, 8), (20, 10), (25, 12.5), (32, 13)])
def test_sealant_depth_is_half_the_width_clamped(width, depth):
    # "Architectural detailing": half the width, 6 to 13 mm (6 x 6, 19 x 9, 32 x 13)
    assert sealant_depth(width) == depth
