"""How findings are told: weightiest first, kinds together, the same of several surfaces once; where ±0 is."""

from __future__ import annotations

import re

import numpy as np
import pytest
from typer.testing import CliRunner

from cli.main import app
from layout.codes import CODES
from layout.errors import Finding
from layout.identity import SurfaceId
from layout.setout.conduct import set_out
from layout.setout.told import as_told, surface_names
from layout.writers.records import setout_record
from tests.rooms import plan_of

BOX = [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]
COLUMNS = [{"outline": [[x, 900], [x + 150, 900], [x + 150, 1050], [x, 1050]]} for x in (700, 1600)]


@pytest.fixture(scope="module")
def setout():
    """A room with a shut-off corner (stop), narrow columns (look) and corners made from tape (note)."""
    room = {
        "outline": [*BOX[:3], [150, 2400]],
        "tile_height": 1000,
        "columns": COLUMNS,
        "tanking_height": 200,
        "walls": [{"wall": 2, "tanking_height": 800}],
        "drains": [{"kind": "gully", "at": [2200, 1600]}],
        "plinths": [{"outline": [[400, 0], [500, 0], [600, 2400], [500, 2400]], "height": 100}],
        "falls": [{"to": "gully 1", "ratio": 60, "perimeter": "free"}],
    }
    return set_out(plan_of(room))


def test_records_tell_the_weightiest_first_and_kinds_together(setout):
    warnings = setout_record(setout)["rooms"][0]["warnings"]
    weights = [{"stop": 0, "look": 1, "note": 2}[each["weight"]] for each in warnings]
    assert weights == sorted(weights)
    assert set(weights) == {0, 1, 2}
    codes = [each["code"] for each in warnings]
    assert len({code for code, after in zip(codes, [*codes[1:], ""], strict=True) if code != after}) == len(set(codes))


def test_the_same_of_several_surfaces_is_told_once_and_names_them(setout):
    findings = setout.rooms[0].findings
    narrow = [finding for finding in findings if finding.code == "tile-larger-than-face"]
    told = [each for each in as_told(findings) if each.code == "tile-larger-than-face"]
    assert len(narrow) >= 8
    assert len(told) == 1
    assert "columns 1, 2 sides 1 to 4" in told[0].text
    assert set(told[0].findings) == set(narrow)
    # nothing is lost: every finding stands behind exactly one that is told, or says the same words
    assert {finding for each in as_told(findings) for finding in each.findings} == set(findings)


def test_surfaces_that_differ_are_told_apart():
    """Names of a person's own are not counted off, and two things are not given each other's sides."""
    own = [SurfaceId(0, "plinth-side", 1, side, f"boiler side {side}") for side in (1, 2)]
    own += [
        SurfaceId(0, "plinth-side", 3, 2, "plinth 3 side 2"),
        SurfaceId(0, "wall", 4, 0, "wall 4"),
        SurfaceId(0, "wall", 5, 0, "wall 5"),
    ]
    assert surface_names(own) == "boiler sides 1, 2; plinth 3 side 2; walls 4, 5"
    same = [Finding(code="joint-narrow", text=f"{each.name}: {what}", surface=each) for each, what in zip(own, "aabab", strict=True)]
    assert [each.text for each in as_told(same)] == ["boiler sides 1, 2; wall 4: a", "plinth 3 side 2; wall 5: b"]


def test_the_screen_shows_each_weight_once(tmp_path):
    path = tmp_path / "p.toml"
    path.write_text(CODES["pond"].example, encoding="utf-8")
    shown = CliRunner().invoke(app, ["check", str(path)]).stdout
    heads = [line.split()[0] for line in shown.splitlines() if re.match(r" ?(stop|look|note) ", line)]
    assert heads == sorted(heads, key=["stop", "look", "note"].index)
    assert len(set(heads)) == len(heads)
    assert heads[0] == "stop"


@pytest.mark.parametrize("perimeter", ["level", "free"])
@pytest.mark.parametrize("floor", [0.0, -12.0])
def test_the_point_that_is_zero_lies_at_zero(perimeter, floor):
    """The place that is named is looked up in the facets: the floor there lies as far from ±0 as is told."""
    room = {
        "outline": BOX,
        "openings": [{"wall": 2, "offset": 700, "width": 900}],
        "drains": [{"kind": "gully", "at": [900, 1500]}],
        "falls": [{"to": "gully 1", "ratio": 60, "perimeter": perimeter}],
        "levels": {"floor": floor},
    }
    done = set_out(plan_of(room)).rooms[0]
    outline = done.lining.outline
    assert done.levels is not None
    assert done.lining.falls is not None
    words = done.levels.datum
    off = re.search(r"lies (\d+) (above|below)", words)
    told = 0.0 if off is None else float(off[1]) * (-1.0 if off[2] == "above" else 1.0)
    if perimeter == "level":
        assert words.endswith("the finished floor at the walls")
        at = np.array([wall.run.at(wall.run.length * part) for wall in outline.walls for part in (0.0, 0.3, 0.5)])
    elif "threshold" in words:
        at = np.array([[3000.0, 1150.0]])
    else:
        wall = next(wall for wall in outline.walls if words.endswith(wall.label))
        at = wall.run.points[:1]
    assert done.lining.falls.at(at) == pytest.approx(told, abs=0.51)
