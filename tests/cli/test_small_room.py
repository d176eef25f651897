"""What verbs answer to seldom given flags, asked of a closet of 1.5 by 1.2 m: the message or the record is read, the status too."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

import layout
from cli.main import app
from layout.record.things import issue_of, things_of
from layout.writers.site_records import ticks_record
from tests.rooms import plan_text

CLOSET = {"name": "Closet", "outline": [[0, 0], [1500, 0], [1500, 1200], [0, 1200]], "drains": [{"kind": "gully", "at": [700, 600]}]}
WIDE = {**CLOSET, "outline": [[0, 0], [1590, 0], [1590, 1200], [0, 1200]]}
RATES = 'currency = "EUR"\n[rates]\n"tiles.floor" = { rate = 2.0, unit = "pcs" }\n'


def text_of(room):
    return "# a remark that stays\n" + plan_text(room, rules={"binding": []})


@pytest.fixture
def folder(tmp_path):
    for name, room in (("a", CLOSET), ("b", WIDE), ("c", {**WIDE, "name": "Far", "outline": [[0, 0], [4400, 0], [4400, 900], [0, 900]]})):
        (tmp_path / f"{name}.toml").write_text(text_of(room), encoding="utf-8")
    both = text_of(CLOSET) + "[[rooms]]\n" + plan_text({**WIDE, "name": "Far"}).partition("[[rooms]]\n")[2]
    (tmp_path / "both.toml").write_text(both, encoding="utf-8")
    (tmp_path / "rates.toml").write_text(RATES, encoding="utf-8")
    return tmp_path


def run(folder, *args, status=0):
    told = CliRunner().invoke(app, [str(folder / arg) if arg.endswith((".toml", ".csv", ".json", ".html")) else arg for arg in args])
    assert told.exit_code == status, (told.stdout, told.stderr)
    return told


REFUSED = [
    (("add", "a.toml", "pipe", "--from-walls", "1:300", "4:300", "--from-corners", "1:500", "2:900"), "--from-walls: --from-corners is given too; give one of them"),
    (("add", "a.toml", "pipe", "--to-walls", "1:300", "4:300"), "--to-walls: a pipe has no other end; it goes with a channel or a joint"),
    (("add", "a.toml", "pipe", "--from-walls", "1:300", "4:300", "--size", "100x100"), "--size: it goes with a plinth or a column"),
    (("add", "a.toml", "plinth", "--size", "100x100"), "plinth: its size or its place is missing; give --from-walls"),
    (("add", "a.toml", "plinth", "height=100"), "outline"),
    (("add", "a.toml", "pipe", "--from-walls", "1:300", "300"), "place: '300' found; write number and distance as 6:2947"),
    (("add", "a.toml", "pipe", "--from-corners", "1:500", "9:500"), "corner: '9' found; corners are numbered 1 to 4, in the plan's order"),
    (("add", "a.toml", "pipe", "--from-corners", "1:5000", "2:5000"), "two corners: left of the way from corner 1 to 2: 750, 4943, outside the room"),
    (("takeoff", "a.toml", "-o", "bill.xls"), "--out: bill.xls: .xls is not written; give .xlsx, .csv or .json"),
    (("takeoff", "a.toml", "--rates", "rates.csv"), "rates.csv: rates are not read from tables; give a .toml file with [rates]"),
    (("watch", "-"), "PLAN: standard input cannot be saved again; name a plan file"),
    (("new", "n.toml", "--rectangle", "1500x1200", "--keep", "lines"), "--keep: nothing is built from a plan that is new; give it with --plan and --measured"),
    (("record", "a.toml"), "--from: it is missing; give the file of ticks that the page exported: Done, Export"),
    (("schema", "--table", "--json"), "--table: --json is given too"),
    (("set", "a.toml", "tiles.flor.size.x", "--remove"), "tiles.flor.size.x leads nowhere; did you mean 'floor' for 'flor'?"),
    (("set", "a.toml", "project.title", "--remove"), "project.title leads nowhere; write it as it stands in the plan"),
    (("set", "a.toml", "tiles.floor.size.x.y", "5"), "tiles.floor.size.x.y leads nowhere; write it as it stands in the plan"),
    (("changes", "a.toml", "c.toml"), "no room of it is one of"),
]  # fmt: skip


@pytest.mark.parametrize(("args", "words"), REFUSED, ids=[" ".join(args) for args, _ in REFUSED])
def test_what_cannot_be_asked_for_is_told_and_nothing_is_changed(folder, args, words):
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    told = run(folder, *args, status=2)
    assert words in " ".join(told.stderr.split())
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_an_arc_is_no_wall_to_measure_off(folder):
    bent = [[0, 0], [1500, 0], {"to": [1500, 1200], "bulge": 0.2}, [0, 1200]]
    (folder / "bent.toml").write_text(plan_text({**CLOSET, "outline": bent}), encoding="utf-8")
    told = run(folder, "add", "bent.toml", "pipe", "--from-walls", "2:300", "4:300", status=2)
    assert "wall: wall 2 is an arc; measure off a straight wall, or from two corners" in told.stderr


def test_one_key_set_is_told_as_json(folder):
    told = run(folder, "set", "a.toml", "tiles.floor.joint", "4", "--json")
    assert json.loads(told.stdout) == {"schema": "gaugerod/set/1", "plan": str(folder / "a.toml"), "key": "tiles.floor.joint", "value": 4}
    assert "joint = 4" in (folder / "a.toml").read_text(encoding="utf-8")
    assert "# a remark that stays" in (folder / "a.toml").read_text(encoding="utf-8")


def test_a_plan_that_another_program_changed_meanwhile_is_left(folder, monkeypatch):
    plan = folder / "a.toml"
    texts = iter([text_of(CLOSET), text_of(WIDE)])
    monkeypatch.setattr(layout, "read_text", lambda _path: next(texts))
    told = run(folder, "set", "a.toml", "tiles.floor.joint", "4", status=2)
    assert "it was changed by another program meanwhile; give the command again" in told.stderr
    assert plan.read_text(encoding="utf-8") == text_of(CLOSET)


@pytest.mark.usefixtures("undrawn")
def test_a_new_plan_and_a_page_are_told_as_json(folder):
    made = json.loads(run(folder, "new", "n.toml", "--rectangle", "1500x1200", "--json").stdout)
    assert made == {"schema": "gaugerod/new/1", "plan": str(folder / "n.toml"), "picture": "n.png"}
    told = run(folder, "page", "a.toml", "-o", "p.html", "--json")
    page = (folder / "p.html").read_text(encoding="utf-8")
    assert json.loads(told.stdout) == {"schema": "gaugerod/page/1", "file": str(folder / "p.html"), "bytes": len(page.encode())}
    assert "KB: open it in a browser" in told.stderr
    assert "Closet" in page


@pytest.mark.usefixtures("undrawn")
def test_changes_as_rows_and_into_a_folder_without_sheets(folder):
    rows = run(folder, "changes", "a.toml", "b.toml", "--csv").stdout.splitlines()
    assert rows[0] == "room,kind,what,before,after"
    assert "Closet,shape,length of wall 1,1500.0,1590.0" in rows
    # what is ordered differs, and no room
    (folder / "d.toml").write_text("[products]\ntile_spare = 0.5\n" + text_of(CLOSET), encoding="utf-8")
    told = run(folder, "changes", "a.toml", "d.toml", "-o", f"{folder}/out")
    assert "no room that stood before differs: there is no sheet to draw" in told.stderr


@pytest.mark.usefixtures("undrawn")
def test_changes_into_a_folder_write_sheet_record_and_rows(folder):
    run(folder, "changes", "a.toml", "b.toml", "-o", f"{folder}/out")
    assert {path.suffix for path in (folder / "out").iterdir() if not path.name.startswith(".")} == {
        ".dxf",
        ".png",
        ".pdf",
        ".json",
        ".csv",
    }
    record = json.loads((folder / "out" / "b-changes.json").read_text(encoding="utf-8"))
    assert [room["name"] for room in record["rooms"]] == ["Closet"]


def test_a_take_off_by_rooms_as_rows_and_priced(folder):
    rows = run(folder, "takeoff", "both.toml", "--by", "room", "--csv").stdout.splitlines()
    assert {row.partition(",")[0] for row in rows[1:]} >= {"Closet", "Far"}
    priced = run(folder, "takeoff", "both.toml", "--by", "room", "--rates", "rates.toml").stdout
    assert "Total " in priced
    assert "EUR" in priced


@pytest.mark.usefixtures("undrawn")
def test_a_set_with_what_is_kept_tells_what_that_costs(folder):
    for verb, more in (("run", ("--json",)), ("sheets", ("--format", "dxf"))):
        told = run(folder, verb, "b.toml", "-o", f"{folder}/{verb}", "--keep", "lines", "--from", "a.toml", "--dpi", "30", *more)
        assert "lines kept, against the best free set-out:" in told.stderr
        if verb == "run":
            record = json.loads(told.stdout)
            assert record["rooms"][0]["name"] == "Closet"


def test_ticks_of_another_issue_and_of_other_things_are_told(folder):
    takeoff = layout.take_off(layout.set_out(layout.read_plan(folder / "a.toml")))
    record = layout.to_json(ticks_record(layout.as_built(takeoff, [])))
    ticks = json.loads(record)
    things = things_of(takeoff)
    run_ = next(thing for thing in things if thing.kind == "run")
    ticks["events"] = [
        {"id": key, "field": "taped", "value": True, "size": run_.size, "n": 1, "by": "Ana-1", "at": "2026-12-01T10:00"}
        for key in (run_.id, "0/run/none")
    ]
    assert ticks["issue"]["digest"] == issue_of(takeoff.setout, things).digest
    (folder / "now.json").write_text(json.dumps(ticks), encoding="utf-8")
    ticks["issue"]["digest"] = "0"
    (folder / "then.json").write_text(json.dumps(ticks), encoding="utf-8")
    told = run(folder, "record", "a.toml", "--from", "now.json", "--json")
    assert "look: 1 ticks are of things that are not in this issue" in told.stderr
    assert "another issue" not in told.stderr
    assert json.loads(told.stdout)["not_in_this_issue"] == 1
    told = run(folder, "record", "a.toml", "--from", "then.json")
    assert "look: some ticks are of another issue of the plan: they count where the size is the same" in told.stderr
    assert told.stdout.startswith("2 ticks; deviations and what is open:\n")


def test_as_measured_figures_go_into_a_plan_of_one_room(folder):
    (folder / "m.csv").write_text("wall 1,1503\n", encoding="utf-8")
    told = run(folder, "new", "n.toml", "--plan", "both.toml", "--measured", "m.csv", status=2)
    assert "2 rooms found; as-measured figures go into a plan of one room" in told.stderr
    solids = {**CLOSET, "drains": [], "columns": [{"outline": [[1300, 0], [1500, 0], [1500, 200], [1300, 200]]},
              {"outline": [[600, 600], [700, 600], {"to": [650, 700], "bulge": 0.1}]}]}  # fmt: skip
    (folder / "s.toml").write_text(plan_text(solids), encoding="utf-8")
    (folder / "m.csv").write_text("wall 1,1512\n", encoding="utf-8")
    run(folder, "new", "n.toml", "--plan", "s.toml", "--measured", "m.csv")
    room = layout.read_plan(folder / "n.toml").rooms[0]
    assert abs(max(v.to[0] for v in room.outline) - min(v.to[0] for v in room.outline) - 1512) < 6
    assert max(v.to[0] for v in room.columns[0].outline) == pytest.approx(max(v.to[0] for v in room.outline), abs=0.1)
    assert [v.bulge for v in room.columns[1].outline] == [0.0, 0.0, 0.1]


def test_a_bill_by_room_tells_the_unit_of_a_rate_where_it_is_another_than_the_items(folder):
    # two closets: a pack is 18.50, their shares of it come to what the bill asks
    rates = 'currency = "EUR"\n[rates]\nadhesive = { rate = 18.5, unit = "pack" }\n"tiles.floor" = { rate = 2.0, unit = "pcs" }\n'
    (folder / "packs.toml").write_text(rates, encoding="utf-8")
    lines = [
        line.split() for line in run(folder, "takeoff", "both.toml", "--rates", "packs.toml", "--by", "room", "--keys").stdout.splitlines()
    ]
    packs = [line for line in lines if line[:1] == ["adhesive"]]
    assert [line[4:7] for line in packs] == [["18.50", "a", "pack"]] * 2
    pieces = [line for line in lines if line[:1] == ["tiles.floor"]]
    assert [line[4] for line in pieces] == ["2.00"] * 2
    assert all(float(line[1]) * 2.0 == float(line[5]) for line in pieces)
