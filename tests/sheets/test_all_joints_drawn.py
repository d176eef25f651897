"""Each joint of a room is drawn once, on the floor's sheet or on its face's elevation, in its own length; what is drawn is billed."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import pytest

from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.sheets import elevation_sheet, joint_sheet
from layout.sheets.draft import Job, room_job
from layout.sheets.scene import Stroke
from tests.quantities.test_drawn_is_billed import KITCHEN

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.sheets.draft import Draft

LAYERS = ("SEALANT", "MOVEMENT-JOINT", "STRUCTURAL-JOINT")


def lengths(drafts: Iterable[Draft]) -> Counter[int]:
    """Lengths of the joints that drawings show, mm."""
    found: Counter[int] = Counter()
    for draft in drafts:
        for each in draft.scene:
            if isinstance(each, Stroke) and each.layer in LAYERS:
                points = np.vstack([each.points, each.points[:1]]) if each.closed else np.asarray(each.points)
                found[round(float(np.hypot(*np.diff(points, axis=0).T).sum()))] += 1
    return found


@pytest.mark.parametrize("foot", ["floor-through", "cove"])
def test_every_joint_is_drawn_and_every_drawn_one_is_billed(foot):
    setout = set_out(parse_plan(KITCHEN.replace("FOOT", foot)))
    takeoff = take_off(setout)
    room = setout.rooms[0]
    job = Job(setout, takeoff, (room_job(setout, 0, None, None),), None, None)
    laid = {done.surface.id for done in room.surfaces}  # a face so low that no tile is laid on it has no drawing
    parts = [part for item in takeoff.items if item.key.startswith("joints.") for part in item.parts if part.place.room == 0]
    billed = [(room.joints[part.place.number - 1].surface, round(1000.0 * part.quantity)) for part in parts]
    on_floor = Counter(length for surface, length in billed if surface.kind == "floor")
    upright = Counter(length for surface, length in billed if surface.kind != "floor" and surface in laid)
    assert (sum(on_floor.values()), sum(upright.values()) > 8) == (sum(joint.surface.kind == "floor" for joint in room.joints), True)
    assert lengths(joint_sheet.drafts(job)) == on_floor
    faces = lengths(elevation_sheet.drafts(job))
    assert faces == upright
    if foot == "cove":
        # along the top of the cove on wall 6, 5200 less 23 at each end, under a window whose sill has no cove
        assert upright[5200 - 2 * 23] == 1
        assert not [joint for joint in room.joints if joint.surface.kind == "reveal" and joint.line[:, 1].min() > 900.0]
