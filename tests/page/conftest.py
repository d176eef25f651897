"""One page for all tests of this folder: the canteen with all its sheets; and a booth, small, with a bit of everything."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import layout
from layout.record.things import things_of
from layout.writers.page.assemble import page_html

TOP = Path(__file__).parent.parent.parent
BOOTH = """
[project]
title = "Invented booth"
number = "IB-1"
revision = "A"
[tiles.floor]
size = [200, 200]
joint = 6
[[rooms]]
name = "Booth"
outline = [[0, 0], [{width}, 0], [{width}, 1500], [0, 1500]]
tanking_height = 600
tile_height = 700
[[rooms.openings]]
name = "door"
wall = 1
offset = 300
width = 800
[[rooms.drains]]
kind = "gully"
name = "gully"
at = [1300, 800]
frame = [150, 150]
[[rooms.pipes]]
name = "pipe"
at = [1900, 1200]
diameter = 60
"""


def pieces_of(data):
    """Pieces of a page's data: id, mark and box (x0, y0, x1, y1) of each."""
    result = []
    for key, text in data["pieces"].items():
        for group in text.split(";"):
            head, rows = group.split(":")
            mark, width, height, bay = head.split(" ")
            for row in rows.split(","):
                place, x, y = row.split(" ")
                result.append((f"{key}:{bay}.{place}", mark, (int(x), int(y), int(x) + int(width), int(y) + int(height))))
    return result


def takeoff_of(text):
    return layout.take_off(layout.set_out(layout.parse_plan(text)))


def found(pattern, text):
    """The first group of a pattern that must be there."""
    match = re.search(pattern, text, re.DOTALL)
    assert match is not None, pattern
    return match[1]


def data_of(page):
    """What the script of a page works on, as the file holds it."""
    return json.loads(found(r"<script type=application/json id=data>(.*?)</script>", page))


@pytest.fixture(scope="session")
def canteen():
    """Take-off and page of the canteen."""
    takeoff = layout.take_off(layout.set_out(layout.read_plan(TOP / "plans" / "canteen.toml")))
    return takeoff, page_html(takeoff)


@pytest.fixture(scope="session")
def booth():
    """Take-off, things and page of the booth."""
    takeoff = takeoff_of(BOOTH.format(width=2450))
    return takeoff, things_of(takeoff), page_html(takeoff)
