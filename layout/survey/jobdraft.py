"""The plan of a job whose rooms were found in one drawing: tiles and rules once, each room's own file taken in."""

from __future__ import annotations

import hashlib
from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

MARK = "# as written: "
"""Head of the line that tells whether a person has changed the plan since."""


def job_text(title: str, rooms: Sequence[tuple[str, str]], *, tile: tuple[float, float] = (200.0, 200.0)) -> str:
    """A commented plan that takes in a file for each of `rooms` (file, name of the room); rooms of one name get a number before it."""
    seen: Counter[str] = Counter()
    includes = []
    for file, name in rooms:
        seen[name] += 1
        prefix = f'prefix = "{seen[name]} "          # another room is called so too\n' if seen[name] > 1 else ""
        includes.append(
            f'[[include]]\nfile = "{file}"\ntables = "job"          # tiles and rules of this plan hold\n{prefix}# storey = "Level 1"\n'
        )
    quoted = title.replace("\\", "\\\\").replace('"', '\\"')
    body = f"""# The whole job: `gaugerod takeoff` orders and prices all of its rooms, `--by room` or `--by storey` parts them.
# A room's own shape stands in its own file; tiles, rules and products stand here, once for all of them.

[project]
title = "{quoted}"

[tiles.floor]
size = [{tile[0]:g}, {tile[1]:g}]        # work size: measured, not the label on the box
thickness = 10
joint = 6

[rules]
wall_tolerance = 5            # how far walls may stand off the drawing; 3 after a survey

# [[deliveries]]
# name = "first delivery"
# storeys = ["Level 1"]

""" + "\n".join(includes)
    return f"{MARK}{_digest(body)}\n{body}"


def job_changed(text: str) -> bool:
    """Whether a plan that `job_text` made was changed since."""
    head, _, body = text.partition("\n")
    return head != f"{MARK}{_digest(body)}"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
