"""What a record or a sheet of one surface looks up grows with that surface, never with the job."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from layout.writers.records import setout_record


class Counted(dict[Any, str]):
    """Marks that count how often one is looked up, and are not to be walked."""

    looked = 0

    def __getitem__(self, key: Any) -> str:
        self.looked += 1
        return super().__getitem__(key)

    def items(self):
        pytest.fail("all marks of the job are walked for a part of it")

    __iter__ = values = keys = items


@pytest.fixture(scope="module")
def setout():
    rooms = (f"[[rooms]]\noutline = [[0, 0], [{w}, 0], [{w}, 1400], [0, 1400]]\n" for w in (1500, 1570, 1640, 1710))
    done = set_out(parse_plan("".join(rooms)))
    return replace(done, marks=Counted(done.marks))


@pytest.mark.parametrize("each", [setout_record, lambda setout: [setout.cuts_of(k, 0) for k in range(4)]], ids=["record", "sheets"])
def test_marks_are_looked_up_surface_by_surface(setout, each):
    setout.marks.looked = 0
    each(setout)
    assert 0 < setout.marks.looked <= len(setout.marks) + 4
