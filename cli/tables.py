"""How tables are set for the terminal: width, colour, and all text taken as data."""

from __future__ import annotations

import io
import os
import shutil
import sys
from typing import TYPE_CHECKING, Any

from rich import box
from rich.console import Console
from rich.table import Table

from cli.streams import printable

if TYPE_CHECKING:
    from rich.text import Text

WIDTH = 100
"""Columns where nobody looks on."""


def console_for(plain: bool) -> tuple[Console, io.StringIO]:
    """A console that prints into a text, and that text."""
    text = io.StringIO()
    tty = sys.stdout is not None and sys.stdout.isatty()
    colour = not plain and "NO_COLOR" not in os.environ and tty
    width = shutil.get_terminal_size((WIDTH, 24)).columns if tty or "COLUMNS" in os.environ else WIDTH
    return _Plain(
        file=text, force_terminal=colour, no_color=not colour, width=max(60, min(width, 140)), highlight=False, markup=False, emoji=False
    ), text


class _Plain(Console):
    """A console that takes all text as data: no mark-up in it, no character that a terminal would obey."""

    def render_str(self, text: str, **options: Any) -> Text:  # noqa: ANN401  # handed on as they come
        return super().render_str(printable(text), **options)


def table_of(title: str, *columns: str, right: tuple[int, ...] = ()) -> Table:
    """A table with a title; columns in `right` are set to the right."""
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False)
    for k, column in enumerate(columns):
        table.add_column(column, justify="right" if k in right else "left")
    return table
