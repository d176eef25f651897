"""Every metre of joint of random rooms recounted from the plan's own figures: bent walls, channels through, columns near walls, joints of the structure, feet.

Nothing of the engine is called for what is expected: outlines are shrunk and grown by their build-up with shapely, the rest is sums.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.rooms import set_out_room

MEMBRANE, LINING, GAP, COVE, HEIGHT = 2.0, 15.0, 8.0, 30.0, 900.0
"""Membrane; membrane, bed and tile; the gap under wall tile; the foot of a cove; height of wall tile, mm."""
JOINT, WIDE, CHANNEL = 8.0, 20.0, 150.0
"""Width of sealant joints, of a joint of the structure, of a channel's frame, mm."""


@st.composite
def rooms(draw: st.DrawFn) -> dict[str, Any]:
    """A room by its figures: width and depth, how far its third wall is bent, what stands in it."""
    return {
        "w": draw(st.integers(2600, 4600)),
        "h": draw(st.integers(2400, 4200)),
        "bend": draw(st.sampled_from([0, 6, -7, 12])),
        "channel": draw(st.booleans()),
        "structural": draw(st.booleans()),
        "column": draw(st.sampled_from([0, 90, 160, 700])),
        "foot": draw(st.sampled_from(["wall-through", "floor-through", "cove"])),
        "tiled": draw(st.booleans()),
    }


def typed(room: dict[str, Any]) -> dict[str, Any]:
    w, h = room["w"], room["h"]
    outline = [[0, 0], [w, 0], [w, h], [w // 2, h + room["bend"]], [0, h]]
    plan: dict[str, Any] = {"outline": outline if room["bend"] else [outline[k] for k in (0, 1, 2, 4)]}
    plan["tile_height"] = HEIGHT if room["tiled"] else 0
    if room["channel"]:
        plan["drains"] = [{"kind": "channel", "from": [0, 600], "to": [w, 600], "width": CHANNEL, "joint": JOINT}]
    if room["structural"]:
        plan["structural_joints"] = [{"line": [[w - 900, -50], [w - 900, h + 50]], "width": WIDE}]
    if room["column"]:
        x, y = room["column"], 1100
        plan["columns"] = [{"outline": [[x, y], [x + 300, y], [x + 300, y + 400], [x, y + 400]]}]
    return plan


def expected(room: dict[str, Any]) -> Counter[str]:
    """Metres of each kind, on the floor and up its walls, mm: centre lines, by the plan's figures."""
    w, h, bend, tiled = room["w"], room["h"], room["bend"], room["tiled"]
    foot = room["foot"] if tiled else "wall-through"
    face = LINING if tiled else MEMBRANE
    # from the bare wall to the middle of the joint, and to where tile begins
    middle, tile = {
        "wall-through": (face + JOINT / 2, face + JOINT),
        "floor-through": (face, MEMBRANE + GAP),
        "cove": (MEMBRANE + COVE + JOINT / 2, MEMBRANE + COVE + JOINT),
    }[foot]
    outline = shapely.Polygon([(0, 0), (w, 0), (w, h), (w / 2 if w % 2 == 0 else w // 2, h + bend), (0, h)])
    found: Counter[str] = Counter()

    def add(kind: str, length: float) -> None:
        found[kind] += length  # type: ignore[assignment]

    add("perimeter", shapely.buffer(outline, -middle, join_style="mitre", mitre_limit=20.0).length)
    if room["column"]:
        add("column", 2 * (300 + 400) + 8 * middle)
    if room["channel"]:
        add("drain", 2 * (w - 2 * tile))  # at its ends the joint along the wall goes on
    if room["structural"]:
        inner = shapely.buffer(outline, -tile, join_style="mitre", mitre_limit=20.0)
        line = shapely.intersection(shapely.LineString([(w - 900, -99), (w - 900, h + 99)]), inner).length
        add("structural", line - (CHANNEL + 2 * JOINT if room["channel"] else 0.0))
    if tiled:
        add("corner", 4 * HEIGHT)
    if foot == "cove":
        # at each corner the one face runs on to the membrane, the other ends before its tile and joint; at a column's the one runs past
        # by the lining, the other ends behind its tile of 10 and their joint of 4
        turn = 2.0 * math.degrees(math.atan(2.0 * abs(bend) / w))
        bent = 4.0 if turn >= 0.5 else 0.0  # two walls with a joint of their tile between them; less is one wall
        add("perimeter", outline.length - 4 * (MEMBRANE + LINING + JOINT) - bent)
        if room["column"]:
            add("column", 2 * (300 + 400) + 4 * (LINING + LINING - 10 - 4))
    return found


@settings(max_examples=12, deadline=None)
@given(room=rooms())
def test_every_metre_of_joint_is_that_of_the_plan(room):
    done = set_out_room(
        typed(room),
        tiles={"floor": {"size": [400, 400], "joint": 6}, "wall": {"size": [600, 450], "joint": 4}},
        rules={"movement": "UK_FLOOR", "perimeter_joint": JOINT, "foot": room["foot"], "cove": [100, COVE]},
    )
    told: Counter[str] = Counter()
    for joint in done.joints:
        if joint.kind == "structural" and joint.surface.kind != "floor":
            continue  # how far one is carried up a face hangs on its arrises: tests/joints/test_narrow.py
        told[joint.kind] += joint.length  # type: ignore[assignment]
    assert dict(told) == pytest.approx(dict(expected(room)), abs=0.6)
