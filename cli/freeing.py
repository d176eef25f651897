"""Tables of what limits a start and what would free it, for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cli.tables import console_for, table_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from layout import StartFigures, Why


def why_text(found: Sequence[Why], *, plain: bool, tolerance: float) -> str:
    """Room by room: what holds the narrowest cut down, what decided, and the changes that bear."""
    console, text = console_for(plain)
    for why in found:
        _room(console, why, tolerance)
    return text.getvalue()


def _room(console: Console, why: Why, tolerance: float) -> None:
    before = why.before
    console.print(f"{why.room}: what limits the start, and what would free it", style="bold")
    if why.limits:
        edges = ", ".join(f"{limit.called} with {limit.width:.0f}" for limit in why.limits)
        console.print(
            f"The narrowest cut is {before.smallest:.0f} mm, {before.worst:.0f} if walls stand off by {tolerance:g}; "
            f"it is held down by {edges}; weak pieces: {before.weak}."
        )
    console.print(f"What decided: {why.decided}.")
    if why.freed:
        table = table_of(
            f"Changes that would free it, each set out to see: {len(why.freed)} of {why.tried}",
            "change", "narrowest", "over play", "now at", "weak", "whole", "tiles cut", right=(1, 2, 4, 5, 6),
        )  # fmt: skip
        table.add_row("as planned", *_figures(before))
        for each in why.freed:
            table.add_row(each.what, *_figures(each.after))
        console.print(table)
        for each in why.freed:
            if each.worse:
                console.print(f"  for the worse with {each.what}: {'; '.join(each.worse)}")
    elif why.tried:
        console.print(
            f"{why.tried} changes were set out; none raises the narrowest cut by more than {tolerance:g} or leaves no weak piece."
        )
    for words in why.left:
        console.print(f"  not tried: {words}")
    console.print()


def _figures(figures: StartFigures) -> tuple[str, ...]:
    """A floor's figures as cells."""
    return (
        f"{figures.smallest:.0f}",
        f"{figures.worst:.0f}",
        figures.at or "no cut",
        f"{figures.weak}",
        f"{figures.whole}",
        f"{figures.cut}",
    )
