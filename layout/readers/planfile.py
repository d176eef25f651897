"""Reads a plan file (TOML) and prints its JSON Schema.

Two passes: the table of keys checks form and kind; then names, references and geometry are
checked by `layout.outlines`. All faults of a pass are told at once.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from layout.errors import PlanError, PlanFaults, Rule
from layout.lining.references import check_plan
from layout.plan import values as forms
from layout.plan.patterns import cover_fault, pattern_of, small_of
from layout.readers.fields import Faults
from layout.readers.plan_keys import PLAN
from layout.readers.texts import read_text
from layout.standards.measure import MEASURE_RULES
from layout.standards.products import Products
from layout.standards.rules import DEFAULT_RULE_SET, RULE_SETS, RuleSet
from layout.standards.sealants import Sealant, exterior_extra

SCHEMA_NAME = "gaugerod/plan/1"


def plan_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a plan file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_NAME,
        "title": "gaugerod plan file",
        **PLAN.schema(),
    }


def read_plan(path: str | Path) -> forms.Plan:
    """Read a plan file.

    Raises
    ------
    PlanError, PlanFaults
        With file, table, key, value found and what would be right; all faults at once.
    """
    path = Path(path)
    return parse_plan(read_text(path), path.name, folder=path.parent)


def parse_plan(text: str, source: str = "plan", *, folder: Path | None = None) -> forms.Plan:
    """Read a plan from TOML text; `source` names it in messages, `folder` is where files that it names stand."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(source, f"not TOML: {error}", "mend the line named") from None
    except RecursionError:
        raise PlanError(source, "lists are nested too deep", "an outline is a list of points") from None
    faults = Faults(source)
    values = PLAN.read(raw, "", faults)
    if values is None:
        raise PlanFaults(tuple(faults.found))
    plan = _build(values, source, faults, folder)
    if plan is not None:
        faults.found += check_plan(plan)
    if plan is None or faults.found:
        raise PlanFaults(tuple(faults.found))
    return plan


def _build(values: dict[str, Any], source: str, faults: Faults, folder: Path | None) -> forms.Plan | None:
    tiles = {name: _tile(name, each, faults) for name, each in (values.get("tiles") or {}).items()}
    tiles.setdefault("floor", forms.Tile(name="floor"))
    _check_borders(tiles, faults)
    rules = _rules({**(values.get("rules") or {}), "sealant": _sealant(values.get("sealant") or {}, faults)}, faults)
    products = Products()
    if "products_file" in values:
        from layout.readers.officefile import read_products  # noqa: PLC0415  # few plans name one

        products = read_products((folder or Path()) / values["products_file"])
    own = {key: Rule(value, getattr(products, key).unit, "the plan") for key, value in (values.get("products") or {}).items()}
    products = replace(products, **own)
    _check_products(products, rules, faults)
    rooms = tuple(_room(each, k, tiles, faults) for k, each in enumerate(values["rooms"]))
    _check_bays(rooms, tiles, rules, faults)
    names = [room.name for room in rooms]
    for k, name in enumerate(names):
        if name in names[:k]:
            faults.add(f"rooms[{k}].name", f'"{name}" names an earlier room too', "give each room a name of its own")
    if faults.found:
        return None
    return forms.Plan(
        source=source,
        project=forms.Project(**(values.get("project") or {})),
        tiles=tiles,
        rules=rules,
        products=products,
        rooms=rooms,
    )


def _tile(name: str, values: dict[str, Any], faults: Faults) -> forms.Tile:
    given = dict(values)
    size = given.get("size", (200.0, 200.0))
    least = given.pop("least_cut", 0.5)
    shorter = _shorter_side(given, size)
    given["least_cut"] = least * shorter if least <= 1.0 else least
    given["directional"] = given.pop("face", "plain") == "directional"
    if given.get("joint", 6.0) > shorter:
        faults.add(f"tiles.{name}.joint", f"{given.get('joint', 6.0):g} is wider than the tile", f"give at most {shorter:g}")
    if given["least_cut"] > shorter:
        faults.add(f"tiles.{name}.least_cut", f"{least:g} mm is more than the tile", f"give at most {shorter:g}")
    if "start_line" in given:
        given["start_line"] = forms.GivenLine(**given["start_line"])
        if "start" in given:
            faults.add(f"tiles.{name}.start_line", "the start is fixed already", "give start or start_line")
    if "border" in given:
        border = given["border"]
        given["border"] = forms.BorderCourse(tile=border["tile"], courses=int(border.get("courses", 1)))
    cell = given.pop("cell", None)
    if cell is not None:
        given |= {"cell": cell["tiles"], "vectors": cell["vectors"]}
    if (cell is not None) != (given.get("pattern") == "own"):
        faults.add(f"tiles.{name}.cell", 'a cell goes with pattern = "own", and only with it', "give both or neither")
        return forms.Tile(name=name)
    if "small" in given and given.get("pattern") != "two-size":
        faults.add(f"tiles.{name}.small", 'a small tile goes with pattern = "two-size"', "leave it out or give that pattern")
    tile = forms.Tile(name=name, **given)
    _check_cell(tile, faults)
    return tile


def _check_borders(tiles: dict[str, forms.Tile], faults: Faults) -> None:
    for name, tile in tiles.items():
        course = tiles.get(tile.border.tile) if tile.border else None
        place = f"tiles.{name}.border.tile"
        if tile.border and course is None:
            faults.add(place, f'there is no tile "{tile.border.tile}"', "tiles are " + ", ".join(sorted(tiles)))
        elif course and (course.pattern != "stack" or course.turn or course.border or course is tile):
            faults.add(
                place, f'"{course.name}" is not laid in plain stack', "a border takes another tile, in stack, not turned, without a border"
            )


def _shorter_side(given: dict[str, Any], size: tuple[float, float]) -> float:
    """Shorter side of a tile, of the smallest one where laying takes several, mm."""
    if "cell" in given:
        boxes = [[max(c) - min(c) for c in zip(*outline, strict=True)] for outline in given["cell"]["tiles"]]
        return float(max(min(min(box) for box in boxes), 0.0))
    if given.get("pattern") == "two-size":
        return float(given.get("small", (size[0] - given.get("joint", 6.0)) / 2.0))
    return float(min(size))


def _check_cell(tile: forms.Tile, faults: Faults) -> None:
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
    if tile.pattern == "two-size" and not 0.0 < small_of(tile) < tile.size[0]:
        faults.add(f"tiles.{tile.name}.small", f"{small_of(tile):g} is not a smaller tile", f"give less than {tile.size[0]:g}")
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


def _rules(values: dict[str, Any], faults: Faults) -> forms.Rules:
    given = dict(values)
    given["movement_given"] = "movement" in given
    base = RULE_SETS[given.pop("movement", DEFAULT_RULE_SET)]
    limits: dict[str, Any] = {}
    for key, known in (("max_edge", base.max_edge), ("max_area", base.max_area_m2), ("max_aspect", base.max_aspect)):
        wanted = given.pop(key, None)
        if wanted is None:
            continue
        if known is not None and wanted > known:
            faults.add(f"rules.{key}", f"{wanted:g} is looser than {base.name} ({known:g})", "a plan may only tighten its rule set")
        limits["max_area_m2" if key == "max_area" else key] = wanted
    if "measurement" in given:
        given["measurement"] = MEASURE_RULES[given["measurement"]]
    if "wall_movement" in given:
        given["wall_movement"] = RULE_SETS[given["wall_movement"]]
    movement = RuleSet(**{**{k: getattr(base, k) for k in base.__dataclass_fields__}, **limits})
    order = given.get("start_order", ())
    if len(set(order)) < len(order):
        faults.add("rules.start_order", f"{', '.join(order)} names a criterion twice", "name each once")
    if "start_weights" in given:
        given["start_weights"] = tuple(given["start_weights"].items())
        if order:
            faults.add("rules.start_weights", "an order is given too", "give start_order or start_weights")
    sealant: Sealant = given["sealant"]
    if movement.name.startswith("EJ171_EXTERIOR") and sealant.temperatures is not None:
        wider = movement.min_width + exterior_extra(sealant.temperatures[1] - sealant.temperatures[0])
        movement = replace(movement, min_width=wider)
    width = movement.joint_width()
    for key in ("movement_joint", "perimeter_joint"):
        wanted = given.setdefault(key, width)
        if wanted < movement.min_width - 0.5:
            faults.add(f"rules.{key}", f"{wanted:g} is under the least width of {base.name}", f"give at least {movement.min_width:g}")
    return forms.Rules(movement=movement, **given)


def _check_products(products: Products, rules: forms.Rules, faults: Faults) -> None:
    lap, roll = products.tape_lap.value, products.tape_roll_m.value * 1000.0
    if products.tape_width.value < lap:
        faults.add("products.tape_width", f"{products.tape_width.value:g} is narrower than its lap of {lap:g}", f"give at least {lap:g}")
    least = 2 * (lap + rules.tape_joint_clear)
    if roll <= least:
        found = f"{products.tape_roll_m.value:g} m is too short for laps of {lap:g} kept {rules.tape_joint_clear:g} from corners"
        faults.add("products.tape_roll_m", found, f"give more than {least / 1000:g}")


def _sealant(values: dict[str, Any], faults: Faults) -> Sealant:
    low, high = values.get("temperatures", (0.0, 1.0))
    if low >= high:
        faults.add("sealant.temperatures", f"[{low:g}, {high:g}] does not rise", "give the lowest first, then the highest, in degrees C")
        return Sealant()
    return Sealant(**values)


def _check_bays(rooms: tuple[forms.Room, ...], tiles: dict[str, forms.Tile], rules: forms.Rules, faults: Faults) -> None:
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


def _vertices(values: tuple[Any, ...]) -> tuple[forms.Vertex, ...]:
    result = []
    for each in values:
        if isinstance(each, dict):
            result.append(forms.Vertex(x=each["to"][0], y=each["to"][1], bulge=each.get("bulge", 0.0)))
        else:
            result.append(forms.Vertex(x=each[0], y=each[1]))
    if len(result) > 3 and (result[-1].x, result[-1].y) == (result[0].x, result[0].y):
        last = result.pop()
        if last.bulge:
            result[0] = forms.Vertex(x=last.x, y=last.y, bulge=last.bulge)
    return tuple(result)


def _room(values: dict[str, Any], index: int, tiles: dict[str, forms.Tile], faults: Faults) -> forms.Room:
    place = f"rooms[{index}]"
    given = dict(values)
    given["name"] = given.get("name") or f"Room {index + 1}"
    given["outline"] = _vertices(given["outline"])
    given["walls"] = tuple(forms.WallNote(**each) for each in given.get("walls", ()))
    given["openings"] = tuple(
        forms.Opening(**_named({**each, "measured_from": each.get("from", "first")}, f"opening {k + 1}"))
        for k, each in enumerate(given.get("openings", ()))
    )
    for k, each in enumerate(given["openings"]):
        if each.head <= each.sill:
            faults.add(f"{place}.openings[{k}].head", f"{each.head:g} is not above the sill", f"give more than {each.sill:g}")
    given["drains"] = _drains(given.get("drains", ()), place, faults)
    given["plinths"] = tuple(_solid(each, f"plinth {k + 1}", 150.0) for k, each in enumerate(given.get("plinths", ())))
    given["columns"] = tuple(_solid(each, f"column {k + 1}", None) for k, each in enumerate(given.get("columns", ())))
    for kind, word in (("pipes", "pipe"), ("fixings", "fixing")):
        given[kind] = tuple(_break(each, f"{word} {k + 1}", f"{place}.{kind}[{k}]", faults) for k, each in enumerate(given.get(kind, ())))
    given["structural_joints"] = tuple(
        forms.StructuralJoint(**_named(each, f"structural joint {k + 1}")) for k, each in enumerate(given.get("structural_joints", ()))
    )
    given["day_joints"] = tuple(forms.DayJoint(**_named(each, f"day joint {k + 1}")) for k, each in enumerate(given.get("day_joints", ())))
    given["falls"] = tuple(_fall(each, f"fall {k + 1}", f"{place}.falls[{k}]", faults) for k, each in enumerate(given.get("falls", ())))
    levels = given.get("levels", {})
    if "slab" in levels and "screed" in levels:
        faults.add(f"{place}.levels.slab", "the least screed is given too", "give slab or screed")
    given["levels"] = forms.RoomLevels(**levels)
    given["pulls"] = tuple(forms.Wanted(**each) for each in given.get("pulls", ()))
    _check_names(given, place, tiles, faults)
    _check_heights(given, place, faults)
    return forms.Room(**given)


def _fall(values: dict[str, Any], name: str, place: str, faults: Faults) -> forms.Fall:
    if "to" not in values and "plane" not in values:
        faults.add(place, "it goes to no drain", 'give to = "gully 1", or plane = three points [x, y, level]')
    elif "plane" in values and any(key in values for key in ("ratio", "drop", "perimeter")):
        faults.add(f"{place}.plane", "a given plane has its own ratio and perimeter", "give the plane alone, with region and to at most")
    elif "ratio" in values and "drop" in values:
        faults.add(f"{place}.drop", "a ratio is given too", "give ratio or drop")
    return forms.Fall(**{"name": name, **values})


def _check_heights(given: dict[str, Any], place: str, faults: Faults) -> None:
    """Nothing is tanked or tiled above the ceiling."""
    height = given.get("height")
    if height is None:
        return
    mend = f"the room is {height:g} high; give at most that"
    for key in ("tanking_height", "tile_height"):
        if given.get(key, 0.0) > height:
            faults.add(f"{place}.{key}", f"{given[key]:g} is above the ceiling", mend)
        for k, note in enumerate(given["walls"]):
            if (getattr(note, key) or 0.0) > height:
                faults.add(f"{place}.walls[{k}].{key}", f"{getattr(note, key):g} is above the ceiling", mend)
    for k, opening in enumerate(given["openings"]):
        if opening.head > height:
            faults.add(f"{place}.openings[{k}].head", f"{opening.head:g} is above the ceiling", mend)


def _named(values: dict[str, Any], name: str) -> dict[str, Any]:
    return {"name": name, **{key: value for key, value in values.items() if key != "from"}}


def _solid(values: dict[str, Any], name: str, height: float | None) -> forms.Solid:
    return forms.Solid(**{"name": name, "height": height, **values, "outline": _vertices(values["outline"])})


def _drains(values: tuple[dict[str, Any], ...], place: str, faults: Faults) -> tuple[forms.Drain, ...]:
    result = []
    counts = {"gully": 0, "channel": 0}
    for k, each in enumerate(values):
        kind = each["kind"]
        counts[kind] += 1
        here = f"{place}.drains[{k}]"
        common = {
            "kind": kind,
            "name": each.get("name", f"{kind} {counts[kind]}"),
            "flange": each.get("flange", 50.0),
            "joint": each.get("joint"),
            "level": each.get("level"),
        }
        if kind == "gully":
            if "at" not in each:
                faults.add(f"{here}.at", "it is missing", "give the centre of the gully as [x, y]")
                continue
            result.append(forms.Drain(at=each["at"], frame=each.get("frame", (200.0, 200.0)), turn=each.get("turn", 0.0), **common))
            continue
        if "from" not in each or "to" not in each or each["from"] == each["to"]:
            faults.add(here, "a channel needs two different ends", "give from = [x, y] and to = [x, y]")
            continue
        result.append(_channel(each, common))
    return tuple(result)


def _channel(each: dict[str, Any], common: dict[str, Any]) -> forms.Drain:
    (x0, y0), (x1, y1) = each["from"], each["to"]
    width = each.get("width", min(each["frame"]) if "frame" in each else 160.0)
    length = math.hypot(x1 - x0, y1 - y0)
    turn = math.degrees(math.atan2(y1 - y0, x1 - x0)) if y1 != y0 and x1 != x0 else (0.0 if y1 == y0 else 90.0)
    return forms.Drain(at=((x0 + x1) / 2, (y0 + y1) / 2), frame=(length, width), turn=turn, **common)


def _break(values: dict[str, Any], name: str, place: str, faults: Faults) -> forms.Break:
    given = _named({**values, "measured_from": values.get("from", "first")}, name)
    if ("at" in given) == ("wall" in given):
        faults.add(place, "it needs one place", "give either at = [x, y] on the floor, or wall, offset and level")
    elif "wall" in given and ("offset" not in given or "level" not in given):
        faults.add(place, "its place on the wall is not complete", "give offset and level")
    return forms.Break(**given)


def _check_names(given: dict[str, Any], place: str, tiles: dict[str, forms.Tile], faults: Faults) -> None:
    seen: set[str] = set()
    for kind in ("drains", "plinths", "columns", "pipes", "fixings"):
        for k, each in enumerate(given[kind]):
            if each.name in seen:
                faults.add(f"{place}.{kind}[{k}].name", f'"{each.name}" is used twice', "give each a name of its own")
            seen.add(each.name)
    known = {"floor", "wall", "plinth", *tiles}
    wanted = [(f"{place}.{key}", given[key]) for key in ("floor_tile", "wall_tile") if key in given]
    for kind in ("walls", "plinths", "columns"):
        wanted += [(f"{place}.{kind}[{k}].tile", each.tile) for k, each in enumerate(given[kind]) if each.tile]
    for where, name in wanted:
        if name not in known:
            faults.add(where, f'there is no tile "{name}"', "tiles are " + ", ".join(sorted(known)))
    drains = [each.name for each in given["drains"]]
    for k, each in enumerate(given["falls"]):
        if each.to and each.to not in drains:
            faults.add(f"{place}.falls[{k}].to", f'there is no drain "{each.to}"', "drains are " + (", ".join(drains) or "none"))
