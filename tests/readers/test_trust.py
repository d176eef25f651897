"""What a slip of the pen, a damaged file or a strange name must not do: crash, run without end, or steer the terminal."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import numpy as np
import pytest
from ezdxf.filemanagement import new
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.budgets import BUDGETS, Budgets, budgets_of, heed, peak_mb, within
from layout.errors import BudgetError, PlanError, PlanFaults
from layout.fields import clean, shown, unseen
from layout.keys import rows_of
from layout.readers.planfile import parse_plan, read_plan
from layout.setout.freeing import what_would_free
from layout.survey.adjust import adjust
from layout.survey.found import unique_names
from layout.survey.readings import Reading
from layout.survey.remeasured import off_the_plan
from tests.fuzz.mutations import MODEL

ROOM = '[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n'


def told(text):
    with pytest.raises((PlanError, PlanFaults)) as caught:
        parse_plan(text, "plan.toml")
    return str(caught.value)


# --- numbers and nesting


def test_a_number_of_thousands_of_digits_is_told_with_its_line():
    message = told(f"[rules]\n# a remark\nwall_tolerance = {'9' * 5000}\n{ROOM}")
    assert message.startswith("plan.toml: line 3 holds a number of 5,000 digits; ")


@pytest.mark.parametrize("key", ["sealant.movement_class", "products.tape_roll_m", "tiles.floor.joint", "rules.max_tiles"])
def test_a_number_of_400_digits_is_told(key):
    table, _, name = key.rpartition(".")
    message = told(f"[{table}]\n{name} = {'9' * 400}\n{ROOM}")
    assert message.startswith(f"plan.toml: {key}: a whole number of some 400 digits found; give ")


def test_a_value_too_long_or_too_deep_is_still_shown():
    deep: list[object] = []
    for _ in range(100_000):
        deep = [deep]
    assert "too deep" in shown(deep)
    assert "too long" in shown([10**5000])
    assert shown(10**50 - 1) == "a whole number of some 50 digits"
    while deep:  # taken apart by hand: so deep a list may not be left to the interpreter
        deep = deep.pop()  # type: ignore[assignment]


def test_lists_nested_too_deep_are_told():
    assert "nested too deep" in told(f"x = {'[' * 5000}{']' * 5000}\n{ROOM}")


# --- sizes that nobody builds


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        ("[[0, 0], [3000, 0], [2000000, 2000], [0, 2000]]", "rooms[0].outline[2]: corner 3 is 1,997 m from its neighbours; is there a zero too many"),
        ("[[0, 0], [3000000, 0], [3000000, 2000], [0, 2000]]", "rooms[0].outline[1]: side 1 is 3,000 m long; is there a zero too many"),
        ("[[0, 0], [400000, 0], [400000, 1], [0, 1]]", "rooms[0].outline: it is 400.0 m long for 0.40 m² of floor"),
    ],
)  # fmt: skip
def test_a_room_of_a_size_that_nobody_builds_is_told(outline, words):
    assert words in told(f'[[rooms]]\nname = "A"\noutline = {outline}\n')


def test_a_bound_can_be_raised_in_the_plan():
    text = '[[rooms]]\nname = "A"\noutline = [[0, 0], [600000, 0], [600000, 9000], [0, 9000]]\n'
    assert "raise budgets.side" in told(text)
    plan = parse_plan(f"[budgets]\nside = 700_000\n{text}")
    assert plan.budgets.side == 700_000
    assert parse_plan(layout.plan_toml(plan), plan.source) == plan


@pytest.mark.parametrize("size", ["1e-9", "0.5", "60000"])
def test_a_tile_of_a_size_that_nobody_lays_is_told(size):
    message = told(f"[tiles.floor]\nsize = [200, {size}]\njoint = 0\n{ROOM}")
    assert message.startswith("plan.toml: tiles.floor.size[1]: ")
    assert "mm is no side of a tile" in message


def test_cuts_without_end_are_told_before_they_are_made():
    assert "cut tiles, as estimated," in told(f"[tiles.floor]\nsize = [10, 10]\njoint = 1\n[budgets]\ncuts = 500\n{ROOM}")
    assert parse_plan(f"[tiles.floor]\nsize = [10, 10]\njoint = 1\n{ROOM}").rooms


def test_too_many_things_rooms_and_corners_are_told():
    pipes = "".join(f"[[rooms.pipes]]\nat = [{100 + k}, 500]\ndiameter = 10\n" for k in range(4))
    assert "rooms[0].pipes: 4 of one kind are over the bound of 3" in told(f"[budgets]\nthings = 3\n{ROOM}{pipes}")
    assert "rooms: 2 rooms are over the bound of 1" in told(f"[budgets]\nrooms = 1\n{ROOM}{ROOM.replace('A', 'B')}")
    assert "rooms[0].outline: 4 corners are over the bound of 3" in told(f"[budgets]\ncorners = 3\n{ROOM}")


@pytest.mark.parametrize(("bound", "found"), [("seconds = 0.000001", "s of work"), ("memory_mb = 0.001", "MB of memory")])
def test_work_over_its_time_or_memory_is_refused_with_nothing_written(tmp_path, monkeypatch, bound, found):
    memory = iter(range(1, 100_000))
    monkeypatch.setattr("layout.budgets.peak_mb", lambda: float(next(memory)))  # it grows as the work goes on
    (tmp_path / "a.toml").write_text(f"[budgets]\n{bound}\n{ROOM}")
    said = CliRunner().invoke(app, ["run", str(tmp_path / "a.toml"), "-o", str(tmp_path / "out")])
    assert said.exit_code == 2
    assert found in said.stderr
    assert f"raise budgets.{bound.partition(' ')[0]}" in said.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["a.toml"]


def test_work_within_its_time_and_memory_is_as_without():
    plain, bounded = (layout.set_out(parse_plan(f"{head}{ROOM}")) for head in ("", "[budgets]\nseconds = 100\nmemory_mb = 100_000\n"))
    assert layout.setout_record(plain) == layout.setout_record(bounded)


def test_no_bound_holds_outside_of_work_and_work_within_work_is_one():
    heed()
    tight = Budgets(seconds=1e-9)
    with within("outer", BUDGETS), within("inner", tight):
        heed()
    with pytest.raises(BudgetError, match=r"^outer: .* s of work are over"), within("outer", tight), within("inner", BUDGETS):
        heed()
    heed()
    assert peak_mb() >= 0.0


def test_what_would_free_a_start_is_not_left_out_for_want_of_time(monkeypatch):
    """A result may not depend on the time there was: the whole is refused."""
    setout = layout.set_out(parse_plan(ROOM))

    def slow(_):
        raise BudgetError("a", "too long", "part it")

    monkeypatch.setattr("layout.setout.freeing.set_out", slow)
    with pytest.raises(BudgetError):
        what_would_free(setout, 0)


def test_every_bound_can_be_set_by_name():
    for name, row in rows_of(Budgets).items():
        raised = budgets_of([f"{name}={row.default + 1}"])
        assert getattr(raised, name) == row.default + 1
        assert getattr(BUDGETS, name) == row.default
    with pytest.raises(PlanFaults, match=r"did you mean 'inserts'"):
        budgets_of(["insert=5"])
    with pytest.raises(PlanFaults, match="give a number, as rooms="):
        budgets_of(["rooms=many"])


# --- files that are none


def test_a_plan_that_names_a_pipe_does_not_wait_for_it(tmp_path):
    os.mkfifo(tmp_path / "house.toml")
    (tmp_path / "plan.toml").write_text(f'products_file = "house.toml"\n{ROOM}', encoding="utf-8")
    found: list[str] = []

    def work():
        try:
            read_plan(tmp_path / "plan.toml")
        except PlanError as error:
            found.append(str(error))

    worker = threading.Thread(target=work, daemon=True)
    worker.start()
    worker.join(timeout=20)
    assert not worker.is_alive()
    assert found == ["house.toml: it is a pipe or a device, not a file; name a file beside the plan"]


def test_a_person_may_give_a_pipe(tmp_path):
    pipe = tmp_path / "plan.toml"
    os.mkfifo(pipe)
    writer = threading.Thread(target=lambda: pipe.write_text(ROOM, encoding="utf-8"), daemon=True)
    writer.start()
    assert read_plan(pipe).rooms[0].name == "A"
    writer.join(timeout=20)


def test_no_more_is_read_than_the_bound(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text("#" * 2000 + "\n" + ROOM, encoding="utf-8")
    with pytest.raises(PlanError, match=r"larger than 0\.001 MB"):
        layout.read_text(path, budgets=Budgets(file_mb=0.001))


# --- tables of readings


def survey(tmp_path, text):
    path = tmp_path / "survey.csv"
    path.write_text(text, encoding="utf-8")
    return layout.read_survey(path)


@pytest.mark.parametrize("name", ["²", "٣", "1²", "01"])
def test_a_corner_may_have_a_strange_number(tmp_path, name):
    readings = survey(tmp_path, f"from,to,length\n{name},B,3000\nB,C,2000\nC,{name},3605.55\n")
    assert len(adjust(readings).corners) == 3


def test_corners_stay_in_the_order_of_their_numbers():
    readings = [Reading(f"P{k}", f"P{k + 1}", 1000.0) for k in range(1, 12)]
    assert layout.survey.readings.corner_names(readings) == [f"P{k}" for k in range(1, 13)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f"from,to,length\n{'1' * 5000},B,3000\n", "5,007 letters are over the bound of 1,000"),
        (f"from,to,length\n{'1' * 500},B,3000\n", "survey.csv: line 2: a corner called"),
        (f"from,to,length\nA,B,{'x' * 200_000}\n", "200,004 letters are over the bound of 1,000"),
        ("from,to,length\nA\x1b[2J,B,3000\n", "a corner called 'A\\x1b[2J'"),
    ],
)
def test_a_strange_line_of_a_survey_is_told(tmp_path, text, words):
    with pytest.raises((PlanError, PlanFaults)) as caught:
        survey(tmp_path, text)
    assert words in str(caught.value)
    assert not unseen(str(caught.value).replace("\n", ""))


BOX = np.array([[0.0, 0.0], [6500.0, 0.0], [6500.0, 3001.0], [0.0, 3001.0]])


def test_a_wrong_digit_of_an_as_measured_length_is_refused_or_told():
    assert off_the_plan(BOX, [Reading("2", "3", 3012.0)]) == []
    doubt = off_the_plan(BOX, [Reading("2", "3", 3401.0)])
    assert len(doubt) == 1
    assert "reads 3401, the plan 3001: +400" in doubt[0]
    with pytest.raises(PlanFaults, match=r"2–3 reads 30010, 27009 more than the plan's 3001; measure it again: is a digit wrong"):
        off_the_plan(BOX, [Reading("2", "3", 30010.0, "line 2")])


def test_the_command_refuses_a_wrong_digit_and_writes_nothing(tmp_path):
    plan, readings, out = tmp_path / "plan.toml", tmp_path / "measured.csv", tmp_path / "new.toml"
    plan.write_text(ROOM, encoding="utf-8")
    readings.write_text("from,to,length\n2,3,20010\n", encoding="utf-8")
    done = CliRunner().invoke(app, ["new", str(out), "--plan", str(plan), "--measured", str(readings)])
    assert done.exit_code == 2
    assert "is a digit wrong?" in done.stderr
    assert not out.exists()
    readings.write_text("from,to,length\n2,3,2401\n", encoding="utf-8")
    done = CliRunner().invoke(app, ["new", str(out), "--plan", str(plan), "--measured", str(readings)])
    assert done.exit_code == 0
    assert "reads 2401, the plan 2000: +401" in done.stdout + done.stderr


# --- drawings


def saved(doc, tmp_path, name="plan.dxf"):
    doc.saveas(tmp_path / name)
    return tmp_path / name


def walls(space):
    for a, b in (((0, 0), (6500, 0)), ((6500, 0), (6500, 2900)), ((6500, 2900), (0, 2900)), ((0, 2900), (0, 0))):
        space.add_line(a, b, dxfattribs={"layer": "A-WALL"})


@pytest.mark.parametrize(("rows", "columns", "spacing"), [(30_000, 30_000, 10), (2, 450_000_000, 0)])
def test_an_insert_of_millions_of_copies_is_told_at_once(tmp_path, rows, columns, spacing):
    copies = {"row_count": rows, "column_count": columns}
    doc = new("R2000")
    doc.blocks.new("DOT").add_circle((0, 0), 1)
    walls(doc.modelspace())
    doc.modelspace().add_blockref("DOT", (0, 0), dxfattribs={**copies, "row_spacing": 10, "column_spacing": spacing})
    with pytest.raises(PlanError, match=r"900,000,000 copies of the block 'DOT' in rows and columns are over the bound of 10,000"):
        layout.read_dxf(saved(doc, tmp_path))


def test_blocks_within_blocks_are_opened_no_further_than_the_bound(tmp_path):
    # each block shows the one before ten times: 10 to the 7th copies in a file of a few lines
    doc = new("R2000")
    doc.blocks.new("B0").add_line((0, 0), (1, 1))
    for k in range(1, 8):
        block = doc.blocks.new(f"B{k}")
        for j in range(10):
            block.add_blockref(f"B{k - 1}", (j, 0))
    doc.modelspace().add_blockref("B7", (0, 0))
    path = saved(doc, tmp_path)
    with pytest.raises(PlanError, match=r"entities are over the bound of 5,000; save the layers of the rooms alone"):
        layout.read_dxf(path, budgets=Budgets(entities=5_000))
    done = CliRunner().invoke(app, ["read", str(path), "-o", str(tmp_path / "out"), "--budget", "nesting=2"])
    assert done.exit_code == 2
    assert "blocks are nested over 2 deep" in done.stderr


def test_names_out_of_a_drawing_do_not_steer(tmp_path):
    doc = new("R2010")  # UTF-8
    space = doc.modelspace()
    walls(space)
    space.add_line((0, 0), (1, 0), dxfattribs={"layer": "A-\x9b31mX"})
    space.add_text("Wash\x9bup", height=200, dxfattribs={"insert": (3000, 1500)})
    found = layout.read_dxf(saved(doc, tmp_path))
    assert [room.name for room in found.rooms] == ["Wash up"]
    assert not any(unseen(text) for text in (*found.left, *found.taken, *found.warnings, *(s for r in found.rooms for s in r.says)))
    assert layout.plans_of(found)[0].rooms[0].name == "Wash up"


def test_names_are_cleaned_and_stay_apart():
    assert unique_names(["a\x1bb", "a b", "\ud800", "a b"]) == ["a b", "a b 2", "Room 3", "a b 3"]
    assert clean("Küche 2 – Süd") == "Küche 2 – Süd"
    many = unique_names(["Kitchen"] * 5000)
    assert len(set(many)) == 5000
    assert many[-1] == "Kitchen 5000"


@pytest.mark.parametrize("name", ["a\\u009b2J", "a\\u001b[2J", "a\\u202eb", "a\\u2028b", "a\\nb"])
@pytest.mark.parametrize("key", ["name = ", 'pipes = [{ at = [500, 500], diameter = 50, name = ', "openings = [{ wall = 1, offset = 0, width = 900, name = "])  # fmt: skip
def test_a_name_that_steers_a_terminal_is_refused(name, key):
    end = " }]" if "[{" in key else ""
    text = f'[[rooms]]\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n{key}"{name}"{end}\n'
    message = told(text)
    assert "holds line breaks or control characters" in message
    assert not unseen(message)


def test_the_fuzz_corpus_is_kept():
    assert len(list((Path(__file__).parent.parent / "fuzz" / "corpus").iterdir())) >= 20


MODEL_FAULTS = {"a-door-of-no-place": ("1 Wash-up", "#43 IfcDoor"), "a-name-of-two-words": ("2 Store", "#26 IfcSpace")}


@pytest.mark.parametrize("name", MODEL_FAULTS)
def test_a_damaged_thing_of_a_model_takes_no_other_along(name):
    room, thing = MODEL_FAULTS[name]
    found = layout.read_ifc(Path(__file__).parent.parent / "fuzz" / "corpus" / f"{name}-rooms.ifc")
    assert room in [each.name for each in found.rooms]
    assert found.left == (f"{thing}: it is damaged and left out",)


def test_a_pipe_of_a_model_is_counted_once(tmp_path):
    path = tmp_path / "a.ifc"
    path.write_bytes(MODEL)
    found = layout.read_ifc(path)
    assert "pipes: 1" in found.taken  # a pipe segment is a flow segment too
    assert [(room.name, len(room.holes), len(room.pipes)) for room in found.rooms] == [("1 Wash-up", 1, 1), ("2 Store", 0, 0)]
    assert found.rooms[0].area_m2 == pytest.approx(4.2 * 3.0 - 0.3 * 0.3)  # less its column
    assert found.rooms[1].area_m2 == pytest.approx(3.0 * 2.0 / 2)  # a triangle


def test_tiles_of_a_cell_that_lie_many_cells_apart_are_told_at_once():
    tiles = "[[0, 0], [200, 0], [200, 200], [0, 200]], [[2000000, 0], [2000200, 0], [2000200, 200], [2000000, 200]]"
    cell = f"cell = {{ tiles = [{tiles}], vectors = [[206, 0], [0, 206]] }}"
    assert "lie many cells apart" in told(f'[tiles.floor]\nsize = [200, 200]\npattern = "own"\n{cell}\n{ROOM}')
