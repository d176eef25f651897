"""Labels: every needed one has a place, none covers another, leaders cross nothing; found again by shapes of true letters."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest
import shapely
from fontTools.ttLib import TTFont

from layout.quantities.takeoff import take_off
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out
from layout.sheets.draw import draw_sheets
from layout.sheets.place import Placer
from layout.sheets.scene import Dimension, Label, Stroke, View, exploded
from layout.sheets.spots import Spot, label_box, leader_spots
from tests.rooms import plan_of
from tests.setout.test_real_rooms import doors_of

PLANS = sorted((Path(__file__).parent.parent.parent / "plans").glob("*.toml"))
ROOMS = json.loads((Path(__file__).parent.parent / "data" / "real-rooms-sample.json").read_text())["rooms"]
ROOMS = [record for record in ROOMS if record["area_m2"] < 300.0][:20]
"""Rooms of the size of a wet room: in the sample is one whole storey of a building too."""
FACES = Path(__file__).parent.parent.parent / "layout" / "fonts"


def sheets_of(plan):
    setout = set_out(plan)
    return draw_sheets(setout, take_off(setout))


def glyph_box(label, fonts={}):  # noqa: B006  # a store
    """A label's letters as one turned rectangle, from the outlines of its glyphs: no code of the placing."""
    face = "DejaVuSans-Bold.ttf" if label.bold else "DejaVuSans.ttf"
    if face not in fonts:
        font = TTFont(FACES / face)
        fonts[face] = (font.getBestCmap(), font["glyf"], font["hmtx"].metrics)
    cmap, glyphs, advances = fonts[face]
    unit = label.height / glyphs["H"].yMax
    x, low, high = 0.0, 0.0, 0.0
    for letter in label.text:
        glyph = glyphs[cmap[ord(letter)]]
        low, high = min(low, getattr(glyph, "yMin", 0) * unit), max(high, getattr(glyph, "yMax", 0) * unit)
        x += advances[cmap[ord(letter)]][0] * unit
    dx = {"left": 0.0, "centre": -x / 2, "right": -x}[label.across]
    dy = {"bottom": 0.0, "middle": -label.height / 2, "top": -label.height}[label.upward]
    ring = np.array([[dx, dy + low], [dx + x, dy + low], [dx + x, dy + high], [dx, dy + high]])
    cos, sin = math.cos(math.radians(label.angle)), math.sin(math.radians(label.angle))
    return shapely.Polygon(ring @ np.array([[cos, sin], [-sin, cos]]) + np.array(label.at))


def on_paper(sheet):
    """Labels of a sheet's drawing on paper, in all its windows: text and turned rectangle of its letters."""
    result = []
    for view, item in ((shown.view, item) for shown in sheet.shown for item in shown.room):
        for part in exploded(item, view.scale) if isinstance(item, Dimension) else (item,):
            if isinstance(part, Label) and part.text.strip():
                at = view.to_paper(np.array([part.at]))[0]
                own = Label(
                    part.text, (float(at[0]), float(at[1])), part.height, part.layer, part.across, part.upward, part.angle, bold=part.bold
                )
                result.append((part.text, glyph_box(own)))
    return result


def on_the_bar(sheet):
    """Kinds of lines that run through the scale bar, by its figures: from its 0 to its metres."""
    figures = [item for item in sheet.paper_scene if isinstance(item, Label) and item.across == "centre" and item.height == 2.5]
    end = next(item for item in reversed(figures) if re.fullmatch(r"[\d.]+ m", item.text))
    start = next(item for item in reversed(figures) if item.text == "0" and item.at[1] == end.at[1])
    bar = shapely.box(start.at[0], end.at[1] - 2.6, end.at[0] + 2.0, end.at[1] + 2.5)
    found = []
    for view, item in ((shown.view, item) for shown in sheet.shown for item in shown.room):
        for part in exploded(item, view.scale) if isinstance(item, Dimension) else (item,):
            if isinstance(part, Stroke):
                points = np.vstack([part.points, part.points[:1]]) if part.closed else part.points
                (x, y), (w, h) = view.at, view.size
                window = shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
                seen = bar.intersection(window) if sheet.cut_off else bar  # a strip shows what lies in its window
                if shapely.LineString(view.to_paper(points)).intersects(seen):
                    found.append(part.layer)
    return found


def whited(sheet):
    """Whether white lies under the bar: on a part of a floor that has a sheet of its own, whose drawing goes on under it."""
    return sheet.cut_off and not sheet.further


def faults_of(sheets):
    """What a reader would miss: needed labels without a place, labels over each other, labels off the paper, a scale bar that is struck."""
    faults: list[tuple[str, ...]] = []
    for sheet in sheets:
        faults += [(sheet.name, "missing", text) for text in sheet.missing]
        if sheet.view is None:
            continue
        faults += [(sheet.name, "through the scale bar", layer) for layer in (() if whited(sheet) else on_the_bar(sheet))]
        labels = on_paper(sheet)
        texts = [text for text, _ in labels]
        faults += [(sheet.name, "not drawn", text) for text in sheet.needed if text not in texts]
        shapes = np.array([shape for _, shape in labels])
        inside = shapely.box(20.0, 10.0, sheet.size[0] - 10.0, sheet.size[1] - 10.0)
        faults += [(sheet.name, "off the frame", labels[k][0]) for k in np.flatnonzero(~shapely.covers(inside, shapes))]
        one, two = shapely.STRtree(shapes).query(shapes, predicate="intersects")
        for a, b in zip(one.tolist(), two.tolist(), strict=True):
            if a < b and shapes[a].intersection(shapes[b]).area > 0.05:
                faults.append((sheet.name, "over each other", texts[a], texts[b]))
    return faults


@pytest.mark.parametrize("path", PLANS, ids=lambda p: p.stem)
def test_nothing_needed_is_missing_or_covered_on_the_examples(path):
    sheets = sheets_of(read_plan(path))
    assert sum(len(sheet.needed) for sheet in sheets) > 100
    assert not faults_of(sheets)


@pytest.mark.parametrize("record", ROOMS, ids=[r["id"] for r in ROOMS])
def test_nothing_needed_is_missing_or_covered_on_real_rooms(record):
    room = {"outline": record["outer"], "openings": doors_of(record), "columns": [{"outline": hole} for hole in record.get("holes") or []]}
    sheets = sheets_of(plan_of({key: value for key, value in room.items() if value}))
    assert any(sheet.needed for sheet in sheets)
    assert not faults_of(sheets)


def drawn_on(placer):
    """Boxes and leaders of what a placer placed, 1:1."""
    items = placer.drawn(View((0.0, 0.0), (0.0, 0.0), 1.0, (200.0, 200.0)))
    texts = {item.text: shapely.box(*label_box(item)) for item in items if isinstance(item, Label)}
    return texts, [shapely.LineString(item.points) for item in items if isinstance(item, Stroke)]


def test_a_needed_label_pushes_another_to_its_other_place():
    placer = Placer((0.0, 0.0, 100.0, 100.0))
    placer.place("first", 3.5, "TEXT", [Spot((20.0, 20.0)), Spot((60.0, 60.0))], needed=True)
    placer.place("second", 3.5, "TEXT", [Spot((20.0, 20.0))], needed=True)  # one after the other this one would have no place
    placer.place("helpful", 3.5, "TEXT", [Spot((80.0, 80.0))])
    placer.place("third", 3.5, "TEXT", [Spot((80.0, 80.0))], needed=True)
    placer.finish()
    texts, _ = drawn_on(placer)
    assert set(texts) == {"first", "second", "third"}
    assert texts["second"].centroid.distance(shapely.Point(20, 20)) < 2.0
    assert texts["first"].centroid.distance(shapely.Point(60, 60)) < 2.0
    assert not placer.missing()


def test_what_is_blocked_later_moves_a_label_and_what_has_no_place_is_told():
    placer = Placer((0.0, 0.0, 100.0, 100.0))
    placer.place("name", 3.5, "TEXT", [Spot((20.0, 20.0)), Spot((60.0, 60.0))], needed=True)
    placer.place("stuck", 3.5, "TEXT", [Spot((20.0, 80.0))], needed=True)
    placer.block((10.0, 10.0, 30.0, 30.0))
    placer.block((0.0, 70.0, 40.0, 90.0))
    placer.finish()
    texts, _ = drawn_on(placer)
    assert texts["name"].centroid.distance(shapely.Point(60, 60)) < 2.0
    assert placer.missing() == ("stuck",)


def test_leaders_cross_neither_labels_nor_each_other():
    rng = np.random.default_rng(3)
    placer = Placer((0.0, 0.0, 120.0, 120.0))
    feet = rng.uniform(45.0, 75.0, (20, 2))
    for foot in feet:
        placer.block((foot[0] - 1.0, foot[1] - 1.0, foot[0] + 1.0, foot[1] + 1.0))
    for k, foot in enumerate(feet):
        placer.place(f"mark {k}", 3.5, "MARK", leader_spots((float(foot[0]), float(foot[1]))), needed=True, foot=foot)
    placer.finish()
    assert not placer.missing()
    texts, leaders = drawn_on(placer)
    assert len(leaders) == len(texts) == 20
    for k, leader in enumerate(leaders):
        assert not any(leader.crosses(other) for other in leaders[:k])
        assert sum(leader.intersection(box).length > 0.05 for box in texts.values()) == 0
    assert float(np.mean([leader.length for leader in leaders])) <= 30.0
