"""Whether the pictures of the README show what is drawn: all that they name stand, and a cheap one of them is up to date."""

from __future__ import annotations

import re

import layout
from tests.gallery import FOLDER, PICTURES, PLANS, TOP, digest, kept


def test_every_picture_that_the_readme_shows_is_drawn_by_the_command():
    shown = set(re.findall(r"plans/gallery/([\w-]+)\.png", (TOP / "README.md").read_text(encoding="utf-8")))
    assert shown == set(PICTURES)
    assert {path.stem for path in FOLDER.glob("*.png")} == set(PICTURES) == set(kept())
    assert {plan for plan, _ in PICTURES.values()} == {path.stem for path in PLANS.glob("*.toml")}


def test_the_kitchens_picture_is_not_stale():
    """CI asks all of them: python -m tests.gallery --check."""
    setout = layout.set_out(layout.read_plan(PLANS / "kitchen.toml"))
    sheet = layout.draw_first(setout, layout.take_off(setout))
    assert digest(sheet) == kept()["kitchen-setting-out"], "stale: python -m tests.gallery draws the gallery anew"


def test_a_changed_sheet_is_seen():
    room = '[[rooms]]\nname = "A"\noutline = [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]\n'
    setouts = [layout.set_out(layout.parse_plan(text)) for text in (room, room.replace("2000", "2001"))]
    one, other = (digest(layout.draw_first(setout, layout.take_off(setout))) for setout in setouts)
    assert one == digest(layout.draw_first(setouts[0], layout.take_off(setouts[0]))) != other
