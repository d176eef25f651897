"""Writes plans: a whole plan as TOML, or changed values in a person's own text with its comments kept."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import MISSING, fields
from typing import TYPE_CHECKING, Any

from layout.plan import values as forms
from layout.standards.rules import RULE_SETS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.plan.values import Plan, Room, Tile


def plan_toml(plan: Plan) -> str:
    """A plan as TOML that reads back to the same plan; values that are the default are left out."""
    lines: list[str] = []
    _table(lines, "project", _given(plan.project))
    for name, tile in plan.tiles.items():
        _table(lines, f"tiles.{_key(name)}", _tile(tile), always=True)
    _table(lines, "rules", _rules(plan))
    _table(lines, "sealant", _given(plan.rules.sealant))
    products = {f.name: getattr(plan.products, f.name) for f in fields(plan.products)}
    _table(lines, "products", {name: rule.value for name, rule in products.items() if rule.source == "the plan"})
    for room in plan.rooms:
        _room(lines, room)
    return "\n".join(lines).lstrip("\n") + "\n"


def with_values(text: str, values: Mapping[tuple[str | int, ...], Any]) -> str:
    """A plan's text with some values changed; comments, order and layout stay.

    `values` maps paths as ("rooms", 0, "tanking_height") to new values.

    Raises
    ------
    KeyError, IndexError
        If a path leads nowhere.
    """
    import tomlkit  # noqa: PLC0415  # only where a plan is changed

    document: Any = tomlkit.parse(text)
    for path, value in values.items():
        *way, last = path
        table = document
        for step in way:
            table = table[step]
        table[last] = value
    return tomlkit.dumps(document)


def _given(thing: Any, *, leave: tuple[str, ...] = ()) -> dict[str, Any]:  # noqa: ANN401
    """Fields of a form that differ from their default."""
    result = {}
    for each in fields(thing):
        value = getattr(thing, each.name)
        default = (
            each.default if each.default is not MISSING else each.default_factory() if each.default_factory is not MISSING else MISSING
        )
        if each.name not in leave and value is not None and (default is MISSING or value != default):
            result[each.name] = value
    return result


def _tile(tile: Tile) -> dict[str, Any]:
    given = _given(tile, leave=("name", "directional", "cell", "vectors", "start_line", "border", "least_cut"))
    if tile.directional:
        given["face"] = "directional"
    # a least cut up to 1 mm would read as a part of the tile: write it as a part
    given["least_cut"] = tile.least_cut if tile.least_cut > 1.0 else tile.least_cut / min(tile.size)
    if tile.cell:
        given["cell"] = {"tiles": tile.cell, "vectors": tile.vectors}
    if tile.start_line is not None:
        given["start_line"] = _given(tile.start_line)
    if tile.border is not None:
        given["border"] = _given(tile.border)
    return given


def _rules(plan: Plan) -> dict[str, Any]:
    rules = plan.rules
    given = _given(rules, leave=("movement", "movement_given", "wall_movement", "measurement", "sealant", "start_weights"))
    if rules.movement_given:
        given["movement"] = rules.movement.name
    base = RULE_SETS[rules.movement.name]
    for key, name in (("max_edge", "max_edge"), ("max_area", "max_area_m2"), ("max_aspect", "max_aspect")):
        if getattr(rules.movement, name) != getattr(base, name):
            given[key] = getattr(rules.movement, name)
    given["movement_joint"], given["perimeter_joint"] = rules.movement_joint, rules.perimeter_joint
    if rules.wall_movement is not None:
        given["wall_movement"] = rules.wall_movement.name
    given["measurement"] = rules.measurement.name
    if rules.start_weights:
        given["start_weights"] = dict(rules.start_weights)
    return given


def _room(lines: list[str], room: Room) -> None:
    tables = ("walls", "openings", "drains", "plinths", "columns", "pipes", "fixings", "structural_joints", "day_joints", "falls", "pulls")
    own = _given(room, leave=(*tables, "levels", "outline"))
    own["outline"] = _outline(room.outline)
    lines += ["", "[[rooms]]", *[f"{_key(key)} = {_value(value)}" for key, value in own.items()]]
    levels = _given(room.levels)
    if "slab" in levels:
        levels.pop("screed", None)
    _table(lines, "rooms.levels", levels)
    for kind in tables:
        for each in getattr(room, kind):
            rows = _drain(each) if kind == "drains" else _row(each)
            lines += ["", f"[[rooms.{kind}]]", *[f"{_key(key)} = {_value(value)}" for key, value in rows.items()]]


def _row(thing: Any) -> dict[str, Any]:  # noqa: ANN401
    given = _given(thing)
    if isinstance(thing, forms.Solid):
        given["outline"] = _outline(thing.outline)
    if isinstance(thing, forms.Break):
        for key in ("offset", "level"):  # a wall's break must name them even where they are 0
            if thing.wall is not None:
                given[key] = getattr(thing, key)
    if "measured_from" in given:
        given["from"] = given.pop("measured_from")
    return {key: value for key, value in given.items() if value != ()}


def _drain(drain: forms.Drain) -> dict[str, Any]:
    given = _given(drain)
    if drain.kind == "channel":
        from layout.units import turn_of  # noqa: PLC0415

        cos, sin = turn_of(drain.turn)
        half = drain.frame[0] / 2
        (x, y) = drain.at
        given = {key: value for key, value in given.items() if key not in ("at", "turn", "frame")}
        given |= {"from": (x - cos * half, y - sin * half), "to": (x + cos * half, y + sin * half), "width": drain.frame[1]}
    return given


def _outline(vertices: tuple[forms.Vertex, ...]) -> list[Any]:
    return [{"to": (v.x, v.y), "bulge": v.bulge} if v.bulge else (v.x, v.y) for v in vertices]


def _table(lines: list[str], name: str, values: dict[str, Any], *, always: bool = False) -> None:
    if values or always:
        lines += ["", f"[{name}]", *[f"{_key(key)} = {_value(value)}" for key, value in values.items()]]


def _key(name: str) -> str:
    return name if name.replace("_", "").replace("-", "").isalnum() and name.isascii() else json.dumps(name, ensure_ascii=False)


def _value(value: Any) -> str:  # noqa: ANN401
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        short = f"{value:.15g}"
        return short if float(short) == value else repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {_value(each)}" for key, each in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(each) for each in value) + "]"
    return json.dumps(str(value), ensure_ascii=False)
