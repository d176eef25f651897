"""Mends that a finding offers, put into the plan; weak pieces are counted again by GEOS here."""

import shapely
from typer.testing import CliRunner

import layout
from cli.main import app

ROOM = """# our canteen
[tiles.floor]
size = [600, 300]  # from the warehouse
joint = 4
start = [100, 50]
pattern = "running"
offset = 0.33
[[rooms]]
name = "Room"
outline = [[0, 0], [6000, 0], [6000, 3000], [3500, 3000], [3500, 5000], [0, 5000]]
[[rooms.plinths]]
outline = [[2500, 2100], [3500, 2100], [3500, 3000], [2500, 3000]]
height = 100
[[rooms.plinths]]
outline = [[0, 309], [200, 309], [200, 1209], [0, 1209]]
height = 100
"""


def run(*args):
    return CliRunner().invoke(app, [str(arg) for arg in args])


def necks(path):
    """Floor pieces that fall apart or vanish when 15 mm are eaten off all round: a count of our own."""
    floor = layout.set_out(layout.read_plan(path)).rooms[0].floor
    eaten = shapely.buffer(floor.field.pieces(), -15.0, join_style="mitre")
    return sum(piece.is_empty or piece.geom_type != "Polygon" for piece in eaten)


def test_a_mend_is_taken_with_comments_kept(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(ROOM, encoding="utf-8")
    before = necks(path)
    result = run("check", path, "--mend", "--json")
    assert result.exit_code == 0, result.output
    text = path.read_text(encoding="utf-8")
    (added,) = set(text.splitlines()) - set(ROOM.splitlines())
    assert added.startswith("start = [")
    assert "# from the warehouse" in text
    assert '"weak_before": 2' in result.stdout
    assert necks(path) < before


def test_a_tile_that_lies_elsewhere_too_is_left_as_it_is(tmp_path):
    path = tmp_path / "two.toml"
    other = '[[rooms]]\nname = "Other"\nat = [9000, 0]\noutline = [[0, 0], [2415, 0], [2415, 1811], [0, 1811]]\n'
    path.write_text(ROOM + other, encoding="utf-8")
    was = layout.set_out(layout.read_plan(path)).rooms[1].floor.start
    assert run("check", path, "--mend").exit_code == 0
    plan = layout.read_plan(path)
    assert plan.tiles["floor"].start == (100.0, 50.0)
    assert plan.rooms[0].floor_tile == "floor of room 1"
    assert plan.tiles["floor of room 1"].pattern == "running"
    assert layout.set_out(plan).rooms[1].floor.start == was


def test_where_nothing_is_offered_the_plan_stays(tmp_path):
    path = tmp_path / "plain.toml"
    path.write_text('[[rooms]]\nname = "R"\noutline = [[0, 0], [2415, 0], [2415, 1811], [0, 1811]]\n', encoding="utf-8")
    before = path.read_bytes()
    result = run("check", path, "--mend")
    assert result.exit_code == 2
    assert "no finding offers a mend" in " ".join(result.output.split())
    assert path.read_bytes() == before
