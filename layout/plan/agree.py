"""What must agree within a plan before its geometry is looked at, and what follows from it: names, rules, figures.

The keys' own checks are theirs (`layout.plan.values`); here stand those that need two keys. Whether a room can be
built is for `layout.lining.references`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from layout.plan.agree_rooms import settled_room
from layout.plan.between import check_rooms
from layout.plan.patterns import cover_fault, pattern_of
from layout.plan.plausible import size_faults
from layout.plan.tile import Tile
from layout.plan.values import Plan
from layout.plan.works import works_faults
from layout.standards.products import Products, contradictions
from layout.standards.rules import DEFAULT_RULE_SET, RULE_SETS
from layout.standards.sealants import Sealant, exterior_extra

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Rule
    from layout.fields import Faults
    from layout.plan.ruling import Rules
    from layout.plan.values import PlanFile, Project, Room

    Item = TypeVar("Item", bound=Any)  # anything with a name


def settled(typed: PlanFile, figures: Mapping[str, Rule], source: str, faults: Faults, places: tuple[str, ...] = ()) -> Plan | None:
    """The plan of a file as typed; `figures` are those of its products file, `places` where its rooms are typed.

    None with the faults noted if keys contradict.
    """
    faults.found += size_faults(typed, faults.at)
    if faults.found:
        return None
    tiles = {name: replace(tile, name=name) for name, tile in (typed.tiles or {}).items()}
    tiles.setdefault("floor", Tile(name="floor"))
    for tile in tiles.values():
        _check_tile(tile, faults)
    _check_borders(tiles, faults)
    rules = _rules(typed.rules, _sealant(typed.sealant, faults), faults)
    products = replace(Products(), **{**figures, **(typed.products or {})})
    _check_products(products, rules, faults)
    works_faults(typed.works, faults)
    rooms = tuple(settled_room(room, k, tiles, faults) for k, room in enumerate(typed.rooms))
    _check_bays(rooms, tiles, rules, faults)
    check_rooms(typed, rooms, faults)
    project = _project(typed.project, faults)
    if faults.found:
        return None
    return Plan(
        source=source,
        project=project,
        tiles=tiles,
        rules=rules,
        products=products,
        rooms=rooms,
        budgets=typed.budgets,
        deliveries=typed.deliveries,
        places=places,
        kept_marks=typed.kept_marks or {},
        works=typed.works,
    )


def _project(project: Project, faults: Faults) -> Project:
    """The title block: its revision is the last row of the revision table, if there is one."""
    letters = [row.letter for row in project.revisions]
    for k, letter in enumerate(letters):
        if letter in letters[:k]:
            faults.add(f"project.revisions[{k}].letter", f'"{letter}" is an earlier row too', "give each revision a letter of its own")
    if letters and project.revision and project.revision != letters[-1]:
        found = f'"{project.revision}" found, and the last row of project.revisions is "{letters[-1]}"'
        faults.add("project.revision", found, f'give "{letters[-1]}", or leave it out')
    return replace(project, revision=project.revision or (letters[-1] if letters else ""))


def _check_tile(tile: Tile, faults: Faults) -> None:
    place, shorter = f"tiles.{tile.name}", tile.shorter_side
    if tile.joint > shorter:
        faults.add(f"{place}.joint", f"{tile.joint:g} is wider than the tile", f"give at most {shorter:g}")
    if tile.least_cut > shorter:
        faults.add(f"{place}.least_cut", f"{tile.least:g} mm is more than the tile", f"give at most {shorter:g}")
    if tile.start_line is not None and tile.start is not None:
        faults.add(f"{place}.start_line", "the start is fixed already", "give start or start_line")
    if (tile.cell is not None) != (tile.pattern == "own"):
        faults.add(f"{place}.cell", 'a cell goes with pattern = "own", and only with it', "give both or neither")
        return
    if tile.small is not None and tile.pattern != "two-size":
        faults.add(f"{place}.small", 'a small tile goes with pattern = "two-size"', "leave it out or give that pattern")
    _check_cell(tile, faults)


def _check_borders(tiles: Mapping[str, Tile], faults: Faults) -> None:
    for name, tile in tiles.items():
        course = tiles.get(tile.border.tile) if tile.border else None
        place = f"tiles.{name}.border.tile"
        if tile.border and course is None:
            faults.add(place, f'there is no tile "{tile.border.tile}"', "tiles are " + ", ".join(sorted(tiles)))
        elif course and (course.pattern != "stack" or course.turn or course.border or course is tile):
            faults.add(
                place, f'"{course.name}" is not laid in plain stack', "a border takes another tile, in stack, not turned, without a border"
            )


def _check_cell(tile: Tile, faults: Faults) -> None:
    """Each pattern is proved to cover the plane with its joints."""
    pattern = pattern_of(tile)
    if tile.pattern == "hexagon" and abs(tile.size[1] - tile.size[0] * 2 / math.sqrt(3)) > 1.0:
        across = tile.size[0] * 2 / math.sqrt(3)
        faults.add(
            f"tiles.{tile.name}.size",
            f"{tile.size[1]:g} is not the width across corners",
            f"a regular hexagon {tile.size[0]:g} across flats is {across:.1f} across corners",
        )
        return
    if tile.pattern == "two-size" and tile.size[0] != tile.size[1]:
        faults.add(f"tiles.{tile.name}.size", f"{tile.size[0]:g} × {tile.size[1]:g} is not square", "two-size laying takes square tiles")
        return
    if tile.pattern == "two-size" and not 0.0 < tile.small_side < tile.size[0]:
        faults.add(f"tiles.{tile.name}.small", f"{tile.small_side:g} is not a smaller tile", f"give less than {tile.size[0]:g}")
        return
    fault = cover_fault(pattern, tile.joint) if tile.pattern in ("own", "basket-weave") else None
    if fault and tile.pattern == "basket-weave":
        long, short = max(tile.size), min(tile.size)
        rows = max(2, round((long + tile.joint) / (short + tile.joint)))
        faults.add(
            f"tiles.{tile.name}.pattern",
            fault,
            f"length + joint must be a whole number of width + joint: a joint of {(long - rows * short) / (rows - 1):.1f} would close it",
        )
    elif fault:
        faults.add(f"tiles.{tile.name}.cell", fault, "mend the outlines or the vectors")


def _rules(rules: Rules, sealant: Sealant, faults: Faults) -> Rules:
    base = rules.asked or RULE_SETS[DEFAULT_RULE_SET]
    limits: dict[str, float] = {}
    for name, limit, wanted, known in (
        ("max_edge", "max_edge", rules.max_edge, base.max_edge),
        ("max_area", "max_area_m2", rules.max_area, base.max_area_m2),
        ("max_aspect", "max_aspect", rules.max_aspect, base.max_aspect),
    ):
        if wanted is None:
            continue
        if known is not None and wanted > known:
            faults.add(f"rules.{name}", f"{wanted:g} is looser than {base.name} ({known:g})", "a plan may only tighten its rule set")
        limits[limit] = wanted
    movement = replace(base, **limits)  # type: ignore[arg-type]  # limits are numbers
    order = rules.start_order
    if len(set(order)) < len(order):
        faults.add("rules.start_order", f"{', '.join(order)} names a criterion twice", "name each once")
    if rules.start_weights and order:
        faults.add("rules.start_weights", "an order is given too", "give start_order or start_weights")
    if movement.wider_by_temperature and sealant.temperatures is not None:
        wider = movement.min_width + exterior_extra(sealant.temperatures[1] - sealant.temperatures[0])
        movement = replace(movement, min_width=wider)
    width = movement.joint_width()
    for name, wanted in (("movement_joint", rules.joint_asked), ("perimeter_joint", rules.perimeter_asked)):
        if wanted is not None and wanted < movement.min_width - 0.5:
            faults.add(f"rules.{name}", f"{wanted:g} is under the least width of {base.name}", f"give at least {movement.min_width:g}")
    return replace(
        rules,
        movement=movement,
        movement_joint=rules.joint_asked or width,
        perimeter_joint=rules.perimeter_asked or width,
        sealant=sealant,
    )


def _check_products(products: Products, rules: Rules, faults: Faults) -> None:
    lap, roll = products.tape_lap.value, products.tape_roll_m.value * 1000.0
    if products.tape_width.value < lap:
        faults.add("products.tape_width", f"{products.tape_width.value:g} is narrower than its lap of {lap:g}", f"give at least {lap:g}")
    least = 2 * (lap + rules.tape_joint_clear)
    if roll <= least:
        found = f"{products.tape_roll_m.value:g} m is too short for laps of {lap:g} kept {rules.tape_joint_clear:g} from corners"
        faults.add("products.tape_roll_m", found, f"give more than {least / 1000:g}")
    for name, wrong, mend in contradictions(products):
        faults.add(f"products.{name}", wrong, mend)


def _sealant(sealant: Sealant, faults: Faults) -> Sealant:
    low, high = sealant.temperatures or (0.0, 1.0)
    if low >= high:
        faults.add("sealant.temperatures", f"[{low:g}, {high:g}] does not rise", "give the lowest first, then the highest, in degrees C")
        return Sealant()
    return sealant


def _check_bays(rooms: tuple[Room, ...], tiles: Mapping[str, Tile], rules: Rules, faults: Faults) -> None:
    """A bay must hold two tiles each way, or its limits contradict the tile."""
    rule = rules.movement
    for name in dict.fromkeys(room.floor_tile for room in rooms):
        tile = tiles.get(name) or tiles["floor"]
        two = 2 * max(tile.size) + tile.joint
        area = (2 * tile.size[0] + tile.joint) * (2 * tile.size[1] + tile.joint) / 1e6
        if rule.max_edge < two:
            faults.add("rules.max_edge", f"{rule.max_edge:g} does not hold two tiles of {max(tile.size):g}", f"give at least {two:g}")
        if rule.max_area_m2 is not None and rule.max_area_m2 < area:
            faults.add("rules.max_area", f"{rule.max_area_m2:g} m² does not hold two tiles each way", f"give at least {area:.2f}")
    if rules.movement_joint > rule.max_edge / 4:
        mend = "give a narrower joint or longer bays"
        faults.add("rules.movement_joint", f"{rules.movement_joint:g} is more than a quarter of the longest bay", mend)
