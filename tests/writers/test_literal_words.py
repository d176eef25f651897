"""Names are words: the codes of drawing programs in them are shown as typed, not obeyed."""

from __future__ import annotations

from typing import Any

import pytest
from ezdxf import recover

import layout
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.dxf_entities import literal

NAMES = ["50%%c pipe", "%%uWash%%u", "100%", "100%%", "%%%", "a\\Pb", "{\\C1;red}", "^I tab", "x^2 y", "Küche {2}"]


def plan_of(name):
    quoted = name.replace("\\", "\\\\")
    return parse_plan(
        f'[project]\ntitle = "{quoted}"\n[[rooms]]\nname = "{quoted}"\noutline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]\n'
        f'pipes = [{{ name = "{quoted}", at = [1000, 1000], diameter = 110 }}]\n'
    )


@pytest.mark.parametrize("name", NAMES)
def test_a_text_read_back_by_its_library_is_as_typed(name):
    # the library decodes the codes as the public reference tells: a second way, sharing nothing with the writer
    from ezdxf.entities.mtext import MText
    from ezdxf.entities.text import Text

    assert Text.new(dxfattribs={"text": literal(name)}).plain_text() == name
    several = MText.new()
    several.text = literal(name, several=True)
    assert several.plain_text() == name


@pytest.mark.parametrize("name", ["50%%c pipe", "a\\Pb {c}"])
def test_a_drawing_shows_a_room_as_it_is_called(name, tmp_path):
    path = tmp_path / "room.dxf"
    setout = set_out(plan_of(name))
    layout.write_dxf(layout.draw_sheets(setout, take_off(setout)), path)
    doc, auditor = recover.readfile(path)
    assert not auditor.errors
    entities: list[Any] = [entity for space in doc.layouts for entity in space.query("TEXT MTEXT")]
    texts = [each.plain_text() for each in entities]
    assert any(name in text for text in texts)
    assert not any("⌀" in text or "Ø50" in text for text in texts)
