"""Tables as offices save them: semicolons, tabs, decimal commas, byte-order marks; metres that were meant to be millimetres."""

from __future__ import annotations

import itertools
import math

import pytest
from typer.testing import CliRunner

from cli.main import app
from layout.errors import LayoutError
from layout.readers.planfile import parse_plan
from layout.readers.surveyfile import read_levels, read_points, read_survey

PLAIN = "from,to,length\nA,B,3620.5\nB,C,5185\nA,C,6341\n"


@pytest.mark.parametrize("text", [
    PLAIN, PLAIN.replace(",", ";"), PLAIN.replace(",", ";").replace(".", ","), PLAIN.replace(",", "\t").replace(".", ","),
    PLAIN.replace("\n", "\r\n"), PLAIN.replace("3620.5", "3.6205 m"), PLAIN.replace("3620.5", "11' 10 137/254\""),
])  # fmt: skip
@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "utf-16"])
def test_every_dialect_says_the_same(tmp_path, text, code):
    (tmp_path / "s.csv").write_bytes(text.encode(code))
    found = read_survey(tmp_path / "s.csv")
    assert [(r.first, r.second) for r in found] == [("A", "B"), ("B", "C"), ("A", "C")]
    assert [r.length for r in found] == pytest.approx([3620.5, 5185, 6341], abs=0.001)


@pytest.mark.parametrize(("reader", "text", "words"), [
    (read_survey, "from,to,length\nA,B,3.62\nB,C,5185\n", 'write 3620 or "3.62 m"'),
    (read_survey, "from;to;length\nA;B;3,62\nB;C;5,185\n", 'write 3620 or "3.62 m"'),
    (read_survey, "from,to,length\nA,B,4\nB,C,5\n", 'write 4000 or "4 m"'),
    (read_points, "name,x,y\nA,0,0\nB,4.2,0\nC,4.2,3\n", 'write 4200 or "4.2 m"'),
    (read_levels, "from,to,rise\nA,B\n", "line 2"),
    (read_levels, "at,reading\nA,high\n", "give a rise or a reading"),
    (read_levels, "a,b,c\n", "from,to,rise or at,reading"),
])  # fmt: skip
def test_metres_and_slips_are_noticed(tmp_path, reader, text, words):
    (tmp_path / "s.csv").write_text(text, encoding="utf-8")
    with pytest.raises(LayoutError, match=words):
        reader(tmp_path / "s.csv")


def test_a_short_wall_among_long_ones_is_no_slip(tmp_path):
    (tmp_path / "s.csv").write_text("from,to,length\nA,B,3620\nB,C,85\nA,C,3621\n", encoding="utf-8")
    assert read_survey(tmp_path / "s.csv")[1].length == 85


@pytest.mark.parametrize(("room", "words"), [
    ("outline = [[0, 0], [7.15, 0], [7.15, 4.2], [0, 4.2]]", 'outline: its longest side is 7.15 mm; metres? write 7150 or "7.15 m"'),
    ("outline = [[0, 0], [7150, 0], [7150, 4200], [0, 4200]]\nopenings = [{ wall = 1, offset = 900, width = 0.9 }]", 'write 900 or "0.9 m"'),
    ("outline = [[0, 0], [7150, 0], [7150, 4200], [0, 4200]]\ntanking_height = 2.1", 'tanking_height: 2.1 mm; metres? write 2100 or "2.1 m"'),
])  # fmt: skip
def test_a_plan_in_metres_is_noticed(room, words):
    with pytest.raises(LayoutError) as said:
        parse_plan(f'[[rooms]]\nname = "A"\n{room}\n')
    assert words in str(said.value)


def test_many_short_sides_round_a_large_room_are_no_metres():
    ring = [[round(1000 * math.cos(k * math.pi / 36), 1), round(1000 * math.sin(k * math.pi / 36), 1)] for k in range(72)]
    plan = parse_plan(f'[[rooms]]\nname = "A"\noutline = {ring}\n')
    assert max(math.dist(a, b) for a, b in itertools.pairwise(ring)) < 100
    assert len(plan.rooms[0].outline) == 72


def test_levels_come_into_a_new_plan_as_remarks(tmp_path):
    # by hand: against A, B is 4 lower, C 6 higher; 25 at C leaves 35 at B
    (tmp_path / "l.csv").write_text("at;reading\nA;1204,0\nB;1208,0\nC;1198,0\n", encoding="utf-8")
    said = CliRunner().invoke(app, ["new", "-", "--rectangle", "3000x2000", "--levels", str(tmp_path / "l.csv")])
    assert said.exit_code == 0, said.stderr
    assert said.stdout.startswith("# Levels of the slab against A, mm: A +0.0, B -4.0, C +6.0 (nothing checks them")
    assert "a screed that is 25 thick at C is 35 at B" in said.stdout
    assert parse_plan(said.stdout).rooms[0].name == "Room"


def test_a_survey_that_does_not_close_gives_no_plan_unless_anyway(tmp_path, monkeypatch):
    monkeypatch.setattr("layout.save_png", lambda _sheet, path, **_: path.write_bytes(b"picture"))
    monkeypatch.setattr("layout.draw_first", lambda setout, _: setout)
    rows = "from,to,length\n1,2,3620\n2,3,5185\n3,4,3650\n4,1,5210\n1,3,6341\n2,4,6394\n"
    (tmp_path / "s.csv").write_text(rows, encoding="utf-8")
    ask = ["new", str(tmp_path / "a.toml"), "--survey", str(tmp_path / "s.csv")]
    said = CliRunner().invoke(app, ask)
    assert said.exit_code == 2
    assert "or say --anyway" in said.stderr
    assert not (tmp_path / "a.toml").exists()
    assert CliRunner().invoke(app, [*ask, "--anyway"]).exit_code == 0
