"""Tables that results show of themselves in a notebook: plain HTML, everything in it taken as text."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

MOST_ROWS = 200
"""Rows of a table that are shown; more are counted."""


def html_table(title: str, head: Sequence[str], rows: Iterable[Sequence[object]], *, right: tuple[int, ...] = ()) -> str:
    """A table under a title; columns in `right` are set to the right.

    >>> html_table("T", ["a"], [["<b>"]])
    '<p><strong>T</strong></p><table><thead><tr><th>a</th></tr></thead><tbody><tr><td>&lt;b&gt;</td></tr></tbody></table>'
    """

    def cell(tag: str, k: int, value: object) -> str:
        style = ' style="text-align:right"' if k in right else ""
        return f"<{tag}{style}>{escape(str(value))}</{tag}>"

    listed = [list(row) for row in rows]
    body = "".join(f"<tr>{''.join(cell('td', k, value) for k, value in enumerate(row))}</tr>" for row in listed[:MOST_ROWS])
    header = "".join(cell("th", k, word) for k, word in enumerate(head))
    more = f"<p>… and {len(listed) - MOST_ROWS} more</p>" if len(listed) > MOST_ROWS else ""
    return f"<p><strong>{escape(title)}</strong></p><table><thead><tr>{header}</tr></thead><tbody>{body}</tbody></table>{more}"
