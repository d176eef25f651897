"""Ways to a first plan: shapes, walks, questions, surveys by least squares."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.errors import PlanError, PlanFaults
from layout.readers.planfile import parse_plan, read_plan
from layout.readers.surveyfile import read_survey
from layout.survey.adjust import adjust
from layout.survey.drafts import l_shape, plan_text, rectangle, t_shape, u_shape
from layout.survey.readings import Reading
from layout.survey.sketch import sketch
from layout.survey.walks import walk
from tests.test_project import TOP

QUADRILATERAL = [("A", "B", 3620), ("B", "C", 5185), ("C", "D", 3650), ("D", "A", 5210), ("A", "C", 6341)]
L_ROOM = {"A": (0, 0), "B": (6500, 0), "C": (6500, 2900), "D": (4100, 2900), "E": (4100, 4700), "F": (0, 4700)}


def readings(rows):
    return [Reading(a, b, float(length)) for a, b, length in rows]


def test_a_quadrilateral_from_four_walls_and_a_diagonal():
    # computed by the law of cosines: the other diagonal is 6344 to the millimetre
    found = adjust(readings(QUADRILATERAL))
    assert found.spare == 0
    assert found.between("B", "D") == pytest.approx(6344.0, abs=1.0)
    for a, b, length in QUADRILATERAL:
        assert found.between(a, b) == pytest.approx(length, abs=1e-3)
    angle = math.acos((3620**2 + 6341**2 - 5185**2) / (2 * 3620 * 6341))
    assert found.corners[2] == pytest.approx((6341 * math.cos(angle), 6341 * math.sin(angle)), abs=0.01)


def every_distance(points, spoilt=None, by=0.0):
    rows = []
    for a, b in itertools.combinations(points, 2):
        rows.append((a, b, math.dist(points[a], points[b]) + (by if (a, b) == spoilt else 0.0)))
    return readings(rows)


@pytest.mark.parametrize("spoilt", list(itertools.combinations(L_ROOM, 2)))
@pytest.mark.parametrize("by", [50.0, -50.0])
def test_a_reading_fifty_wrong_is_named(spoilt, by):
    found = adjust(every_distance(L_ROOM, spoilt, by))
    assert [fit.reading.name for fit in found.suspects] == ["–".join(spoilt)]
    assert found.error == pytest.approx(by, abs=1.0)


def test_one_spare_reading_shows_that_it_does_not_close_but_not_where():
    found = adjust(readings([*QUADRILATERAL, ("B", "D", 6394)]))
    assert found.spare == 1
    assert len(found.suspects) > 1
    assert found.error == 0.0


@given(st.lists(st.integers(10, 200), min_size=6, max_size=6))
def test_exact_readings_give_back_the_room(shares):
    angles = np.cumsum(shares) / sum(shares) * 2 * math.pi
    points = {chr(65 + k): (4000 * math.cos(a), 3000 * math.sin(a)) for k, a in enumerate(angles)}
    assume(min(math.dist(points[a], points[b]) for a, b in itertools.combinations(points, 2)) >= 400)
    found = adjust(every_distance(points))
    for a, b in itertools.combinations(points, 2):
        assert found.between(a, b) == pytest.approx(math.dist(points[a], points[b]), abs=0.01)
    assert not found.suspects


def test_out_of_square_is_told_over_the_wall():
    # a wall of 3000 that leans 30 off square
    points = {"A": (0, 0), "B": (4000, 0), "C": (4030, 3000), "D": (0, 3000)}
    assert adjust(every_distance(points)).out_of_square()[1] == pytest.approx(30.0, abs=0.01)


@pytest.mark.parametrize(("rows", "words"), [
    ([("A", "B", 3000), ("B", "C", 1000), ("C", "A", 900)], "cannot close"),
    ([("A", "B", 3000), ("B", "C", 4000)], "measure 1 more"),
    (QUADRILATERAL[:4], "measure 1 more"),
    ([("A", "C", 3000), ("C", "B", 4000), ("C", "D", 4000), ("B", "D", 4000), ("A", "D", 4500)], "A–B is not measured"),
])  # fmt: skip
def test_readings_that_cannot_be_are_told(rows, words):
    with pytest.raises(PlanError, match=words):
        adjust(readings(rows))


@pytest.mark.parametrize(("text", "words"), [
    ("a,b\n", "from,to,length"),
    ("from,to,length\nA,B\n", "line 2"),
    ("from,to,length\nA,B,long\n", "a length above 0"),
    ("from,to,length\nA,A,100\n", "to itself"),
    ("from,to,length\nA,B,100\nB,A,101\n", "measured in line 2 already"),
])  # fmt: skip
def test_a_survey_file_that_cannot_be_is_told(tmp_path, text, words):
    (tmp_path / "s.csv").write_text(text, encoding="utf-8")
    with pytest.raises((PlanError, PlanFaults), match=words):
        read_survey(tmp_path / "s.csv")


@pytest.mark.parametrize(("outline", "area"), [
    (rectangle(6000, 4200), 25.2), (l_shape(6500, 4700, 2400, 1800), 6.5 * 4.7 - 2.4 * 1.8),
    (u_shape(6000, 5000, 2000, 3000), 24.0), (t_shape(6000, 5000, 2000, 3000), 6.0 * 2 + 2 * 3),
    (walk("6500 L 2900 L 2400 R 1800 L 4100 L 4700")[0], 6.5 * 4.7 - 2.4 * 1.8),
    (walk("3m L 400cm L 3000")[0], 12.0),
])  # fmt: skip
def test_shapes_are_plans_of_their_area(outline, area):
    plan = parse_plan(plan_text(outline, name='A "room"', tile=(200, 200), note="test"))
    ring = np.array([(v.x, v.y) for v in plan.rooms[0].outline])
    after = np.roll(ring, -1, axis=0)
    assert (ring[:, 0] * after[:, 1] - after[:, 0] * ring[:, 1]).sum() / 2e6 == pytest.approx(area)
    assert plan.rooms[0].name == 'A "room"'
    assert "#" in sketch(outline)


@pytest.mark.parametrize(("text", "words"), [
    ("6500 L 2900 R 4000 L 100", "ends"), ("6500 2900", "put L or R"), ("6500 L", "walls found"), ("L 6500", "where a length is wanted"), ("six L 3", "'six' found"),
])  # fmt: skip
def test_a_walk_that_cannot_be_is_told(text, words):
    with pytest.raises(PlanError, match=words):
        walk(text)


def new(tmp_path, *arguments, typed=""):
    return CliRunner().invoke(app, ["new", str(tmp_path / "a.toml"), *arguments], input=typed)


def test_flags_make_a_plan_and_a_picture(tmp_path):
    said = new(tmp_path, "--rectangle", "6 m x 420 cm", "--name", "Wash-up", "--tile", "150x150")
    assert said.exit_code == 0
    plan = read_plan(tmp_path / "a.toml")
    assert plan.tiles["floor"].size == (150.0, 150.0)
    assert (tmp_path / "a.png").read_bytes()[:4] == b"\x89PNG"
    again = new(tmp_path, "--rectangle", "3000x3000")
    assert again.exit_code == 2
    assert "it is there already" in again.stderr
    assert read_plan(tmp_path / "a.toml") == plan


def test_questions_with_a_step_back(tmp_path):
    said = new(tmp_path, typed="l\n6500x4700x2400x1800\nback\nback\nrectangle\nwrong\n5000x4000\nKitchen\n150x150\n\n\n\n\n\n\n")
    assert said.exit_code == 0
    plan = read_plan(tmp_path / "a.toml")
    assert plan.rooms[0].name == "Kitchen"
    assert len(plan.rooms[0].outline) == 4


def test_questions_left_open_are_told(tmp_path):
    said = new(tmp_path, typed="l\n")
    assert said.exit_code == 2
    assert "not answered to the end" in said.stderr
    assert not (tmp_path / "a.toml").exists()


def test_a_survey_becomes_a_plan(tmp_path):
    (tmp_path / "s.csv").write_text(
        "# taken with a tape\nfrom,to,length\n" + "\n".join(f"{a},{b},{d}" for a, b, d in QUADRILATERAL), encoding="utf-8"
    )
    said = new(tmp_path, "--survey", str(tmp_path / "s.csv"))
    assert said.exit_code == 0
    assert "nothing checks them" in said.stderr
    assert len(read_plan(tmp_path / "a.toml").rooms[0].outline) == 4


def test_an_example_is_copied(tmp_path):
    assert new(tmp_path, "--example", "washbay").exit_code == 0
    assert (tmp_path / "a.toml").read_bytes() == (TOP / "plans" / "washbay.toml").read_bytes()


@pytest.mark.parametrize(("arguments", "words"), [
    (("--rectangle", "6000"), "as 6000x4200"),
    (("--l", "6000x4000x7000x100"), "not smaller"),
    (("--rectangle", "3000x3000", "--walk", "1 L 2"), "2 ways"),
    (("--example", "castle"), "examples are brewhouse, canteen, coldlobby, kitchen, laboratory, washbay"),
    (("--survey", "nowhere.csv"), "no such file"),
])  # fmt: skip
def test_a_plan_that_cannot_be_made_is_told(tmp_path, arguments, words):
    said = new(tmp_path, *arguments)
    assert said.exit_code == 2
    assert words in said.stderr
    assert not (tmp_path / "a.toml").exists()


def test_force_replaces_a_plan_but_never_the_one_that_was_measured(tmp_path):
    assert new(tmp_path, "--rectangle", "3000x2000").exit_code == 0
    plan = tmp_path / "a.toml"
    plan.write_text(plan.read_text() + "# edited\n")
    (tmp_path / "r.csv").write_text("from,to,length\n1,2,3010\n")
    before = plan.read_bytes()
    said = new(tmp_path, "--plan", str(plan), "--measured", str(tmp_path / "r.csv"), "--force")
    assert said.exit_code == 2
    assert "a.toml is what this command reads" in said.stderr
    assert plan.read_bytes() == before
    assert new(tmp_path, "--rectangle", "4000x2000").exit_code == 2
    assert plan.read_bytes() == before
    assert new(tmp_path, "--rectangle", "4000x2000", "--force").exit_code == 0
    assert b"4000" in plan.read_bytes()
