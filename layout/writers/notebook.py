"""A picture for a notebook: a set-out's first sheet, or any of them, as the notebook shows it."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.setout.values import SetOut
    from layout.sheets.scene import Sheet


class Picture:
    """One sheet; a notebook shows it as PNG."""

    def __init__(self, sheet: Sheet, dpi: int) -> None:
        self.sheet, self.dpi = sheet, dpi

    def _repr_png_(self) -> bytes:
        from layout.writers.plot import save_png  # noqa: PLC0415  # heavy; only when shown

        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "sheet.png"
            save_png(self.sheet, path, dpi=self.dpi)
            return path.read_bytes()

    def __repr__(self) -> str:
        return f"<{self.sheet.title}, {self.sheet.room_name}, {self.sheet.paper}>"


def view(setout: SetOut, sheet: str = "Floor setting-out", *, dpi: int = 110) -> Picture:
    """A sheet of a set-out as a picture that a notebook shows; `sheet` is its title.

    Raises
    ------
    ValueError
        If there is no sheet of that title.
    """
    from layout.quantities.takeoff import take_off  # noqa: PLC0415
    from layout.sheets.draw import draw_sheets  # noqa: PLC0415
    from layout.words import say, speaking  # noqa: PLC0415

    sheets = draw_sheets(setout, take_off(setout))
    with speaking(setout.plan.project.language):
        titles_of_it = (sheet, say(sheet))
    found = next((each for each in sheets if each.title in titles_of_it), None)
    if found is None:
        titles = ", ".join(dict.fromkeys(each.title for each in sheets))
        msg = f"there is no sheet {sheet!r}; sheets are {titles}"
        raise ValueError(msg)
    return Picture(found, dpi)
