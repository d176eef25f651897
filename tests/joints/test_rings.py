"""The sealant ring round a pipe: its figure is the circle's, and the line that is listed and drawn is as long, point by point."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.rooms import set_out_room


@pytest.mark.parametrize(("diameter", "joint"), [(32, 8), (110, 8), (50, 12)])
def test_the_listed_line_of_a_ring_is_as_long_as_its_circle(diameter, joint):
    room = {"outline": [[0, 0], [2000, 0], [2000, 1500], [0, 1500]], "pipes": [{"at": [700, 610], "diameter": diameter}]}
    rings = [each for each in set_out_room(room, rules={"pipe_joint": joint}).joints if each.kind == "pipe"]
    assert len(rings) == 1
    assert rings[0].length == pytest.approx(math.pi * (diameter + joint))
    assert np.hypot(*np.diff(rings[0].line, axis=0).T).sum() == pytest.approx(rings[0].length, abs=1e-6)
    # nowhere further from the circle than arcs are flattened to
    assert np.hypot(*(rings[0].line - [700, 610]).T) == pytest.approx(np.full(len(rings[0].line), (diameter + joint) / 2), abs=0.06)
