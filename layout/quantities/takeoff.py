"""The take-off: every row of the table of items, measured.

Quantities are net as built, from the set-out itself; whole packs are the orders' matter.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from layout.quantities.items import ROWS
from layout.quantities.values import TakeOff

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.quantities.values import Item, Row
    from layout.setout.values import SetOut


def take_off(setout: SetOut) -> TakeOff:
    """Measure a set-out."""
    items: list[Item] = []
    for _, rows in groupby(ROWS, key=lambda row: row.block or row.key):
        items += _block(tuple(rows), setout)
    return TakeOff(setout, tuple(items))


def _block(rows: Iterable[Row], setout: SetOut) -> list[Item]:
    """Items of rows that stand together, by group and then by row; nothing where nothing was measured."""
    found = [(quantity, row) for row in rows for quantity in row.measure(setout) if quantity.parts]
    groups = dict.fromkeys(quantity.group for quantity, _ in found)
    return [row.item(quantity, setout) for group in groups for quantity, row in found if quantity.group == group]
