"""The gate: no sheet leaves that lacks a word its reader needs. What was made is looked at again, label by label, before it is kept."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ezdxf.document import Drawing
    from matplotlib.figure import Figure

    from layout.sheets.scene import Sheet

MEND = "this is a fault of the tool: please report it with the plan"


def check_figure(figure: Figure, sheet: Sheet) -> None:
    """See that every needed word of a sheet is on its figure, as often as it was asked for, within the paper.

    Raises
    ------
    OutputError
        If one is not: its message names the sheet and the label.
    """
    width, height = sheet.size
    texts = [text for text in figure.axes[0].texts if 0.0 <= text.get_position()[0] <= width and 0.0 <= text.get_position()[1] <= height]
    _compare(sheet, (text.get_text() for text in texts))


def check_drawing(doc: Drawing, sheets: tuple[Sheet, ...]) -> None:
    """See that every needed word of each sheet is in the drawing, in its window and on a layer that the window shows, or on its paper.

    Raises
    ------
    OutputError
        If one is not: its message names the sheet and the label.
    """
    items: Any = doc.modelspace().query("TEXT MTEXT")
    # names are written so that a drawing program shows them as typed: what it shows is compared, not what is stored
    labels = [(item.dxf.layer.upper(), item.plain_text(), np.array(item.dxf.insert.vec2)) for item in items]
    for sheet in sheets:
        if not sheet.needed:
            continue
        if sheet.view is None:  # as a key plan, all of which is of the paper
            written: Any = doc.layout(sheet.name).query("TEXT MTEXT")
            _compare(sheet, (item.plain_text() for item in written))
            continue
        windows: Any = (each for each in doc.layout(sheet.name).query("VIEWPORT") if each.dxf.layer == "VIEWPORT")
        seen: list[str] = []
        for window in windows:
            hidden = {name.upper() for name in window.frozen_layers}
            middle = np.array(window.dxf.view_center_point)[:2]
            half = np.array([window.dxf.width, window.dxf.height]) * window.dxf.view_height / window.dxf.height / 2.0
            seen += [text for layer, text, at in labels if layer not in hidden and bool((np.abs(at - middle) <= half).all())]
        _compare(sheet, seen)


def _compare(sheet: Sheet, found: Iterable[str]) -> None:
    lacking = Counter(sheet.needed) - Counter(found)
    if lacking:
        raise OutputError(f"sheet {sheet.name}", f"{', '.join(repr(text) for text in sorted(lacking))} is not on it", MEND)
