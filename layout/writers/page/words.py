"""Words of a sheet as text that a phone can show: headings, paragraphs and tables, found again from how they are set on paper.

A heading is bold and 3.5 high; lines of a paragraph hang from their top and follow each other by 1.6 of their height; cells of a
table stand on one line by their middle (`layout.sheets.paper`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.sheets.scene import Label, Stroke
from layout.writers.page.svg import points_of, shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from layout.sheets.scene import Primitive

HEAD = 3.5
"""Height of a heading's capitals, mm."""
LINE = 1.6
"""From one line of a paragraph to the next, in heights."""
SAME = 0.05
"""Labels whose places differ by less stand on one line, mm."""
SAMPLE = (17.0, 2.7)
"""How far left of its words the sample of a key begins, and how far over and under their middle it reaches, mm."""


def parted(column: Sequence[Primitive]) -> tuple[list[Primitive], dict[str, list[Primitive]], list[Primitive]]:
    """A column's words, the samples of its key by what they mean, and small drawings that stand in it, as a key plan."""
    words: list[Primitive] = []
    key: dict[str, list[Primitive]] = {}
    shapes = [(item, points_of(item)) for item in column if not isinstance(item, Label)]
    free = [(item, points) for item, points in shapes if points is not None and not _rule(item)]
    taken: set[int] = set()
    for label in (item for item in column if isinstance(item, Label)):
        x, y = label.at
        own = [
            item
            for item, points in free
            if label.upward == "middle" and label.across == "left"
            and x - SAMPLE[0] < points[:, 0].min() and points[:, 0].max() < x and np.abs(points[:, 1] - y).max() < SAMPLE[1]
        ]  # fmt: skip
        if own:
            key[label.text] = [*own, label]
            taken |= {id(item) for item in own}
        else:
            words.append(label)
    rest = [(item, points) for item, points in free if id(item) not in taken]
    if not rest:
        return words, key, []
    low = np.min([points.min(axis=0) for _, points in rest], axis=0) - 6.0
    high = np.max([points.max(axis=0) for _, points in rest], axis=0) + 6.0
    inside = [
        item for item in words if isinstance(item, Label) and (item.at > low).all() and (item.at < high).all() and item.across == "centre"
    ]
    return [item for item in words if item not in inside], key, [*(item for item, _ in rest), *inside]


def bounds_of(scene: Sequence[Primitive]) -> tuple[float, float, float, float]:
    """Bounds of a small drawing with a margin for its words, mm."""
    points = np.vstack([points for item in scene if (points := points_of(item)) is not None])
    (x0, y0), (x1, y1) = points.min(axis=0) - 3.0, points.max(axis=0) + 3.0
    return float(x0), float(y0), float(x1), float(y1)


def _rule(item: Primitive) -> bool:
    """Whether it is a line of a table or under a heading."""
    return isinstance(item, Stroke) and item.layer in ("TITLE", "TONE") and not item.closed and bool(np.ptp(item.points[:, 1]) < SAME)


def words_html(scene: Iterable[Primitive]) -> str:
    """Labels of a sheet's paper, in the order in which they were set, as headings, paragraphs and tables."""
    out: list[str] = []
    rows: list[list[str]] = []
    line: list[Label] = []
    paragraph: list[str] = []
    last: Label | None = None

    def end_paragraph() -> None:
        if paragraph:
            out.append(f"<p>{shown(' '.join(paragraph))}</p>")
            paragraph.clear()

    def end_line() -> None:
        if line:
            rows.append([label.text for label in line])
            line.clear()

    def end_table() -> None:
        end_line()
        if rows:
            cells = "".join("<tr>" + "".join(f"<td>{shown(cell)}" for cell in row) for row in rows)
            out.append(f"<table class=w>{cells}</table>")
            rows.clear()

    for label in (item for item in scene if isinstance(item, Label)):
        if label.upward == "middle":
            end_paragraph()
            if line and (abs(line[-1].at[1] - label.at[1]) > SAME or label.at[0] <= line[-1].at[0]):
                end_line()
            line.append(label)
        elif label.bold and label.height >= HEAD and label.upward == "bottom":
            end_table()
            end_paragraph()
            out.append(f"<h3>{shown(label.text)}</h3>")
        else:
            end_table()
            follows = last is not None and last.upward == label.upward and -SAME < last.at[1] - label.at[1] <= LINE * label.height + SAME
            if not follows:
                end_paragraph()
            paragraph.append(label.text)
        last = label
    end_table()
    end_paragraph()
    return "".join(out)
