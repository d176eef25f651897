"""As-measured figures the way the sheet asks for them, by hand on the canteen."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.main import app
from cli.measured import measured_text
from layout.errors import PlanFaults
from layout.readers.measuredfile import read_figures_of
from layout.readers.planfile import read_plan

PLAN = """# a remark
[tiles.floor]
size = [300, 300]
joint = 6
[[rooms]]
name = "Store"
outline = [[0, 0], [3000, 0], { to = [3000, 2000], wall = "servery" }, [0, 2000]]
"""


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("p.toml").write_text(PLAN, encoding="utf-8")


def new(measured, *more):
    return CliRunner().invoke(app, ["new", "m.toml", "--plan", "p.toml", "--measured", str(measured), "--force", *more])


def put(measured):
    """As `new` does, without its picture: what is said."""
    text, said = measured_text(Path("p.toml"), Path(measured))
    Path("m.toml").write_text(text, encoding="utf-8")
    return said


def sides():
    points = [v.to for v in read_plan("m.toml").rooms[0].outline]
    return [math.dist(points[k], points[(k + 1) % 4]) for k in range(4)], math.dist(points[0], points[2])


@pytest.mark.parametrize(
    "text",
    [
        "what,measured\nwall 1,3012\nservery,2007\ndiagonal 1-3,3619\n",
        "wall 1;3012,0\nservery;2007\n1-3;3619\n",
        "wall 1;3,012\nservery;2,007\ncorners 1 3;3,619\n",
        "what\tmeasured\nwall 1\t3.012 m\nwall 2\t200.7 cm\n1\t3\t3619 mm\n",
        "from,to,length\n1,2,3012\n2,3,2007\n1,3,3619\n",
    ],
    ids=["commas", "semicolons", "metres with a comma", "units and tabs", "a survey"],
)
def test_walls_and_diagonals_in_any_office_s_table(text):
    Path("m.csv").write_text(text, encoding="utf-8")
    said = put("m.csv")
    lengths, diagonal = sides()
    assert (lengths[0], lengths[1], diagonal) == pytest.approx((3012, 2007, 3619), abs=0.6)
    assert "# a remark" in Path("m.toml").read_text(encoding="utf-8")
    rows = {row.what: (row.drawn, row.length) for row in read_plan("m.toml").rooms[0].measured}
    assert sorted(rows.values()) == [(2000, 2007), (3000, 3012), (pytest.approx(math.dist((0, 0), (3000, 2000)), abs=0.1), 3619)]
    assert ("taken as metres" in said) is ("3,012" in text)


def test_words_instead_of_a_file():
    made = new("wall 1 measured 3012; servery = 2007; 1-3 reads 3619")
    assert made.exit_code == 0, made.stderr
    assert sides()[0][:2] == pytest.approx([3012, 2007], abs=0.6)


def test_an_offset_of_a_line_tells_where_its_wall_stands():
    before = read_plan("p.toml")
    put("line A from wall 1 measured 190")
    (row,) = read_plan("m.toml").rooms[0].measured
    # wall 1 lies at y = 0 and the line above it: measured less, the wall stands nearer to the line
    wanted = row.drawn - 190
    assert [v.y for v in read_plan("m.toml").rooms[0].outline][:2] == pytest.approx([wanted, wanted], abs=0.1)
    assert [v.y for v in read_plan("m.toml").rooms[0].outline][2:] == [v.y for v in before.rooms[0].outline][2:]
    put("line A from wall 1 at 2 measured 190")
    assert [v.y for v in read_plan("m.toml").rooms[0].outline][:2] == pytest.approx([0, wanted], abs=0.1)


def test_what_was_drawn_first_stays_beside_what_is_measured_again():
    put("wall 1 measured 3012")
    Path("p.toml").write_text(Path("m.toml").read_text(encoding="utf-8"), encoding="utf-8")
    put("wall 1 measured 3015; servery = 2004")
    rows = {row.what: (row.drawn, row.length) for row in read_plan("m.toml").rooms[0].measured}
    assert (rows["wall 1"], rows["servery"][1]) == ((3000, 3015), 2004)


def test_lines_that_move_are_told_and_kept_if_wanted():
    told = put("servery = 2060; wall 4 = 2060")
    assert "lines that are snapped would move:" in told
    assert "--keep lines leaves them" in told
    made = new("servery = 2060; wall 4 = 2060", "--keep", "lines")
    assert "lines kept, against the best free set-out" in made.stdout
    assert read_plan("m.toml").rooms[0].kept_lines


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("wall 9 measured 3000", "is no wall, no pair of corners and no line"),
        ("1-7 reads 3000", "corners are numbered 1 to 4"),
        ("line Q from wall 1 = 200", "there is no line Q"),
        ("line A from servery = 200", "does not run along servery"),
        ("line A from wall 1 at 3 = 200", "is no end of wall 1"),
        ("wall 1 measured 3.012; servery = 2007", "metres? write"),
        ("nothing at all 1", "is no wall"),
    ],
)
def test_figures_that_mean_nothing_here_are_told(given, words):
    made = new(given)
    assert made.exit_code == 2
    assert words in made.stderr
    assert not Path("m.toml").exists()


def test_decimals_by_a_comma_want_another_mark_between_cells():
    Path("m.csv").write_text("what,measured\nwall 1,3012,5\n", encoding="utf-8")
    with pytest.raises(PlanFaults, match="want cells parted by ;"):
        read_figures_of("m.csv")
