"""One declaration of the plan: reader, schema, writer and the table of keys say the same, for every key."""

from __future__ import annotations

import json
from dataclasses import MISSING
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import tomlkit
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layout.errors import PlanError, PlanFaults
from layout.fields import Faults, Many, unseen
from layout.keys import Form, Named, key_rows
from layout.plan.values import PLAN_FILE
from layout.readers.planfile import parse_plan, plan_schema, read_plan
from layout.standards.products import Products
from layout.writers.planfile import plan_keys, plan_toml

PLANS = Path(__file__).parent.parent.parent / "plans"
ROWS = dict(key_rows(PLAN_FILE))
SCHEMA = json.loads(json.dumps(plan_schema()))
ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n'


def schema_at(path: str) -> dict[str, Any]:
    """The part of the schema that a path of keys leads to: a way of its own, over the schema as printed."""
    here: dict[str, Any] = SCHEMA
    for step in path.replace("[]", ".[]").split("."):
        if step == "[]":
            here = here["items"]
            here = next((each for each in here.get("anyOf", ()) if each.get("type") == "object"), here)
        elif step == "NAME":
            here = here["additionalProperties"]
        else:
            here = here["properties"][step]
    return here


def plain(value: Any) -> Any:
    return json.loads(json.dumps(value, default=lambda day: day.isoformat()))


def test_the_declaration_is_whole():
    assert len(ROWS) > 120
    for path, row in ROWS.items():
        assert row.key.words, path
        assert row.key.since in ("0.1", "0.2"), path
        assert row.default is not MISSING or row.key.example is not None, f"{path} has no example"
        assert row.key.unit or not row.key.words.endswith((" mm", " m2")), f"{path} says its unit in its words"


@pytest.mark.parametrize("path", ROWS)
def test_each_example_passes_its_own_check_and_the_schema(path):
    row = ROWS[path]
    assert row.default is not None or row.key.example is not None or row.key.shown is not None, f"{path} has no example"
    example = row.key.example if row.key.example is not None else row.key.shown
    if example is None:
        example = row.key.check.write(row.default)
    typed = tomlkit.parse(tomlkit.dumps({"value": example})).unwrap()["value"]  # as a file would hold it
    faults = Faults("example")
    read = row.key.check.read(typed, path, faults)
    assert not faults.found, str(faults.found[0])
    assert read is not None
    jsonschema.validate(plain(example), schema_at(path))
    written = tomlkit.parse(tomlkit.dumps({"value": row.key.check.write(read)})).unwrap()["value"]  # a file holds dates as such
    assert row.key.check.read(written, path, faults) == read


@pytest.mark.parametrize("path", [path for path, row in ROWS.items() if row.default is not MISSING])
def test_a_default_in_the_schema_is_the_default_of_the_plan(path):
    row, part = ROWS[path], schema_at(path)
    if "default" not in part:
        assert row.default in (None, (), "") or isinstance(row.key.check, Form), f"{path} hides its default"
        return
    read = row.key.check.read(part["default"], path, Faults("default"))
    assert read is not None
    if row.default is not None:
        assert read == row.default


def test_what_the_schema_shows_where_a_key_is_left_out_is_what_the_plan_does():
    # keys whose absence means something of its own, against what the plan then holds
    text = f'{ROOM}[[rooms.drains]]\nkind = "gully"\nat = [500, 500]\n[[rooms.drains]]\nkind = "channel"\nfrom = [1500, 1000]\nto = [2500, 1000]\n'
    plan = parse_plan(text)
    gully, channel = plan.rooms[0].drains
    assert schema_at("rooms[].drains[].frame")["default"] == list(gully.frame)
    assert schema_at("rooms[].drains[].width")["default"] == channel.frame[1]
    assert schema_at("rooms[].levels.screed")["default"] == plan.rooms[0].levels.screed
    assert schema_at("rules.movement")["default"] == plan.rules.movement.name
    assert {path for path, row in ROWS.items() if row.key.shown is not None} == {
        "rooms[].drains[].frame",
        "rooms[].drains[].width",
        "rooms[].levels.screed",
        "rules.movement",
    }


def test_figures_of_products_say_unit_default_and_source():
    products, part = Products(), schema_at("products")["properties"]
    assert set(part) == set(Products.__dataclass_fields__)
    for name, said in part.items():
        rule = getattr(products, name)
        assert said["default"] == rule.value
        assert said["description"] == f"{rule.unit}; default: {rule.source}"


def test_the_table_of_keys_beside_the_plans_is_the_tools_own():
    # made anew by: gaugerod schema --table -o plans/keys.md --force
    text = (PLANS / "keys.md").read_text(encoding="utf-8")
    assert text.rstrip("\n") == plan_keys().rstrip("\n")
    assert all(f"`{path}`" in text for path in ROWS)


def test_format_1_is_read_and_another_is_told():
    assert parse_plan(f"format = 1\n{ROOM}") == parse_plan(ROOM)
    with pytest.raises(PlanFaults, match="format: 2 found; give one of 1"):
        parse_plan(f"format = 2\n{ROOM}", "plan.toml")


HOUSE = """
membrane_kg_m2 = { value = 0.95, source = "an invented data sheet" }
tape_roll_m = 50
adhesive_notch = 8
"""


def test_figures_of_a_products_file_survive_the_round_trip(tmp_path):
    (tmp_path / "house.toml").write_text(HOUSE, encoding="utf-8")
    text = f'products_file = "house.toml"\n[products]\ntape_roll_m = 25\nprimer_coats = {{ value = 2, source = "site note" }}\n{ROOM}'
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    plan = read_plan(tmp_path / "plan.toml")
    assert (plan.products.membrane_kg_m2.value, plan.products.membrane_kg_m2.source) == (0.95, "an invented data sheet")
    assert (plan.products.tape_roll_m.value, plan.products.tape_roll_m.source) == (25, "the plan")
    assert plan.products.adhesive_notch.source == "products file house.toml"
    assert plan.products.primer_coats.source == "site note"
    again = parse_plan(plan_toml(plan), "plan.toml")  # nowhere near the products file
    assert again == plan


LEAVES = [
    path
    for path, row in ROWS.items()
    if not isinstance(row.key.check, (Form, Named, Many)) and path.startswith(("tiles", "rules", "rooms"))
]
HOLDERS: dict[str, dict[str, Any]] = {
    "openings": {"wall": 1, "offset": 900, "width": 700},
    "drains": {"kind": "gully", "at": [500, 500]},
    "plinths": {"outline": [[2000, 1000], [2400, 1000], [2400, 1400], [2000, 1400]]},
    "columns": {"outline": [[1000, 1000], [1400, 1000], [1400, 1400], [1000, 1400]]},
    "pipes": {"at": [600, 1800], "diameter": 50},
    "fixings": {"at": [2700, 400], "size": [100, 100]},
    "structural_joints": {"line": [[1700, 0], [1700, 2000]]},
    "day_joints": {"line": [[1700, 0], [1700, 2000]]},
    "falls": {"plane": [[0, 0, 0], [3000, 0, 0], [0, 2000, -40]]},
    "walls": {"wall": 2},
    "pulls": {"want": "tile", "at": [1500, 1500]},
}


def put(plan: dict[str, Any], path: str, value: Any) -> None:
    """Set a key by its path, making what holds it."""
    here: Any = plan
    *way, last = path.split(".")
    for step in way:
        name = step.removesuffix("[]")
        if name == "NAME":
            name = "floor"
        here = here.setdefault(name, [dict(HOLDERS.get(name, {}))])[0] if step.endswith("[]") else here.setdefault(name, {})
    here[last] = value


@st.composite
def random_plans(draw):
    """Plans with a few keys at random, each with its example, its default or a number that its check takes."""
    plan: dict[str, Any] = {"rooms": [{"outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]}]}
    for path in draw(st.lists(st.sampled_from(LEAVES), min_size=1, max_size=4, unique=True)):
        if path in ("rooms[].outline[].to", "rooms[].outline[].bulge") or "start_line" in path or "cell" in path:
            continue
        row = ROWS[path]
        said = schema_at(path)
        value = row.key.example if row.key.example is not None else said.get("default")
        if "enum" in said:
            value = draw(st.sampled_from(said["enum"]))
        elif said.get("type") == "boolean":
            value = draw(st.booleans())
        elif isinstance(value, (int, float)) and draw(st.booleans()):
            value = draw(st.floats(0.25, 20.0).map(lambda v: round(v, 3)))
        put(plan, path, value)
    return plan


@settings(max_examples=150, deadline=None)
@given(random_plans())
def test_random_keys_survive_the_round_trip(typed):
    try:
        plan = parse_plan(tomlkit.dumps(typed), "r.toml")
    except (PlanError, PlanFaults):
        assume(False)
    written = plan_toml(plan)
    assert parse_plan(written, "r.toml") == plan
    assert not unseen(written.replace("\n", ""))


def test_the_round_trip_notices_a_lost_key():
    # the test above must be able to fail: a plan written without one of its keys is another plan
    plan = parse_plan(f"[rules]\nwall_tolerance = 3\n{ROOM}")
    lost = plan_toml(plan).replace("wall_tolerance = 3\n", "")
    assert parse_plan(lost) != plan
