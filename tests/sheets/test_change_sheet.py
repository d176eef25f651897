"""The sheet of changes: both outlines, clouds round what changed and nothing else, tables that say it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from typer.testing import CliRunner

from cli.main import app
from layout.changes.compare import compare_setouts
from layout.changes.revision import revision_words
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.sheets.change_sheet import change_sheets
from layout.sheets.scene import Label, Stroke
from tests.rooms import plan_of, plan_text

ROOM: dict[str, Any] = {
    "name": "Wash-up",
    "outline": [[0, 0], [3400, 0], [3400, 1500], [2200, 1500], [2200, 2500], [0, 2500]],
    "drains": [{"kind": "gully", "at": [1500, 800]}],
    "pipes": [{"at": [300, 2100], "diameter": 110}],
}
WIDE = {
    **ROOM,
    "outline": [[x + 120 if x == 3400 else x, y] for x, y in ROOM["outline"]],
    "pipes": [{"at": [420, 2100], "diameter": 110}],
}


@pytest.fixture(scope="module")
def made():
    before, after = (set_out(plan_of(room)) for room in (ROOM, WIDE))
    changes = compare_setouts(before, after)
    return before, after, changes, change_sheets(before, after, changes)


def strokes(sheet, layer):
    return [each for each in sheet.room if isinstance(each, Stroke) and each.layer == layer]


def test_both_outlines_are_drawn(made):
    _, after, _, (sheet, *_) = made
    ring = np.array([[float(x), float(y)] for x, y in ROOM["outline"]])
    dashed = [shapely.Polygon(each.points) for each in strokes(sheet, "AS-IT-WAS") if each.closed and len(each.points) >= 4]
    assert any(each.symmetric_difference(shapely.Polygon(ring)).area < 1 for each in dashed)
    walls = shapely.union_all([shapely.LineString(each.points) for each in strokes(sheet, "WALL")])
    assert shapely.Point(3520, 700).distance(walls) < 0.1
    assert after.rooms[0].lining.outline.outer.polygon().bounds[2] == 3520


def test_clouds_go_round_what_changed_and_round_nothing_else(made):
    *_, (sheet, *_) = made
    clouds = [shapely.Polygon(each.points).buffer(0) for each in strokes(sheet, "REVISION") if len(each.points) > 12]
    inside = [shapely.Point(at) for at in ((3460, 700), (300, 2100), (420, 2100))]
    assert all(any(cloud.covers(at) for cloud in clouds) for at in inside), "the wall, the pipe as it was and as it is"
    far = [shapely.Point(at) for at in ((1500, 800), (2200, 2200), (1000, 2500))]
    assert not any(cloud.covers(at) for cloud in clouds for at in far), "gully and walls that stay"


def test_each_cloud_has_the_number_of_its_row(made):
    *_, changes, (sheet, *_) = made
    labels = [each for each in (*sheet.room, *sheet.paper_scene) if isinstance(each, Label)]
    numbers = {n for each in labels if each.layer == "REVISION" for n in each.text.replace("–", ", ").split(", ")}
    rows = [each.what for each in changes.rooms[0].shape]
    wanted = {str(k) for k, what in enumerate(rows, 1) if what.startswith(("line of", "pipe 1"))}
    assert len(wanted) == 2
    assert wanted <= numbers
    texts = " ".join(each.text for each in labels)
    assert "pipe 1: at" in texts
    assert "300, 2100" in texts
    assert "420, 2100" in texts


def test_the_words_for_the_revision_table_name_what_was_done_not_what_follows(made):
    *_, changes, _ = made
    words = revision_words(changes)
    assert words.startswith("wall 2 moved -120.0 out of the room, pipe 1 at 300, 2100 to 420, 2100")
    assert "perimeter" not in words
    assert revision_words(compare_setouts(made[0], made[0])) == "no change"


def test_the_verb_writes_sheet_record_and_the_plan_with_what_is_kept(tmp_path):
    for name, room in (("a", ROOM), ("b", WIDE)):
        (tmp_path / f"{name}.toml").write_text("# a remark that stays\n" + plan_text(room), encoding="utf-8")
    out = tmp_path / "out"
    args = ["changes", str(tmp_path / "a.toml"), str(tmp_path / "b.toml"), "--keep", "lines", "-o", str(out), "--dpi", "40"]
    ran = CliRunner().invoke(app, args)
    assert ran.exit_code == 0, ran.stderr
    assert {path.suffix for path in out.iterdir()} >= {".dxf", ".pdf", ".png", ".json", ".csv", ".toml"}
    kept = out / "b-kept.toml"
    assert "# a remark that stays" in kept.read_text(encoding="utf-8")
    again = set_out(read_plan(kept))
    assert compare_setouts(set_out(plan_of(ROOM)), again).rooms[0].lines == ()
