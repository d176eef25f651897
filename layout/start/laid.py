"""Tiles of a surface's bays as a start lays them, and the first whole one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.budgets import heed
from layout.joints.lines import bays_of
from layout.shapes import cleaned, turned
from layout.tiles.lay import TileField, lay
from layout.tiles.weakness import weak
from layout.vectors import pair

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from layout.errors import Point
    from layout.joints.lines import Bay
    from layout.joints.values import Division
    from layout.start.faces import Faces
    from layout.tiles.lay import Laid


def laid_out(faces: Faces, division: Division) -> tuple[TileField, tuple[Bay, ...]]:
    """Tiles of every bay of a division, lowest and leftmost bay first, and the bays that take any."""
    return lay_bays(faces, bays_of(division, faces.surface.id, faces.frame)[0])


def lay_bays(faces: Faces, bays: Sequence[Bay]) -> tuple[TileField, tuple[Bay, ...]]:
    """Tiles of every bay, lowest and leftmost first, counted from the first whole one; bays that take no tile are left out."""
    heed()
    ordered = _in_turn(faces, bays)
    origins = np.array([bay.origin for bay in ordered])
    laid = [_laid(faces, bay) for bay in ordered]
    used = [k for k, each in enumerate(laid) if len(each.whole) + len(each.cut) or each.lost_mm2]
    counted = [laid[k].counted_from_first(faces.pattern) for k in used]
    shifts = turned(np.array([shift for _, shift in counted]).reshape(-1, 2), faces.turn)
    field = TileField(faces.pattern, faces.turn, origins[used] + shifts, tuple(each for each, _ in counted))
    return field, tuple(replace(ordered[k], origin=pair(origins[k] + shift)) for k, shift in zip(used, shifts, strict=True))


def weak_as_laid(faces: Faces, parts: Iterable[Division], most: float = 0.0) -> int:
    """How many weak pieces a division leaves that comes bay by bay.

    Once there are more than `most` what is left is neither cut nor laid, so that the number is only over it.
    """
    heed()
    found = 0
    for part in parts:
        for bay in own_bays(faces, bays_of(part, faces.surface.id, faces.frame)[0]):
            found += weak_in(_laid(faces, bay).pieces)
            if found > most:
                return found
    return found


def weak_in(pieces: NDArray[np.object_]) -> int:
    """How many of some pieces are weak."""
    return int(weak(pieces).sum()) if len(pieces) else 0


def _in_turn(faces: Faces, bays: Sequence[Bay]) -> list[Bay]:
    """The bays that tile is laid in, lowest and leftmost first."""
    return sorted(own_bays(faces, bays), key=lambda b: (round(b.region.bounds[1], 3), round(b.region.bounds[0], 3)))


def own_bays(faces: Faces, bays: Sequence[Bay]) -> Sequence[Bay]:
    """What of some bays tile is laid in."""
    surface = faces.surface
    if surface.joint_region is None:
        return bays
    own = [replace(bay, region=cleaned(shapely.intersection(bay.region, surface.region)), whole=bay.region) for bay in bays]
    return [bay for bay in own if not bay.region.is_empty]


def _laid(faces: Faces, bay: Bay) -> Laid:
    return lay(faces.surface.to_lay(bay.region), faces.pattern, faces.turn, np.array(bay.origin))


def first_whole(field: TileField, bays: Sequence[Bay]) -> tuple[Point, tuple[Bay, ...]]:
    """Lower-left corner of the first whole tile (of its box, in the lattice's axes), and bays whose origin is that of their own."""
    result = []
    for number, (laid, bay) in enumerate(zip(field.bays, bays, strict=True)):
        tiles = laid.whole if len(laid.whole) else laid.cut
        if len(tiles) == 0:
            result.append(bay)
            continue
        lowest = turned(field.outlines(np.concatenate([[number], tiles[0]]))[0], -field.turn).min(axis=0)
        result.append(replace(bay, origin=pair(turned(lowest[None], field.turn)[0])))
    first = next((k for k, laid in enumerate(field.bays) if len(laid.whole)), 0)
    return result[first].origin, tuple(result)
