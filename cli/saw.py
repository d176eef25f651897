"""Tables of the cutting plan for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cli.tables import console_for, table_of

if TYPE_CHECKING:
    from rich.console import Console

    from layout import CuttingPlan, SawGroup, Shortage, TileOrder

MOST_WAYS = 12
MOST_RESTS = 6


def cuts_text(
    plan: CuttingPlan, orders: tuple[TileOrder, ...], short: tuple[Shortage, ...], groups: tuple[SawGroup, ...] = (), *, plain: bool
) -> str:
    """Tiles by batch, the commonest ways to cut one, groups in the order of the works, and what a stock is short of."""
    console, text = console_for(plain)
    table = table_of(
        "Tiles needed", "tile", "size", "whole", "places cut", "tiles to cut", "broken", "needed", "no fewer than", right=(2, 3, 4, 5, 6, 7)
    )
    for batch in plan.batches:
        least = f"{batch.whole + batch.bound + batch.broken}"
        size = f"{batch.size[0]:g} × {batch.size[1]:g}"
        table.add_row(batch.name, size, *(f"{n}" for n in (batch.whole, batch.places, len(batch.tiles), batch.broken, batch.needed)), least)
    console.print(table)
    bought = table_of(
        "\nOrder, in tiles",
        "tile",
        "whole",
        "cut",
        "broken",
        "spare",
        "ordered",
        "boxes",
        "surplus",
        "by usual allowance",
        right=(1, 2, 3, 4, 5, 6, 7, 8),
    )
    for each in orders:
        usual = "—" if each.usual is None else f"{each.usual[0]} to {each.usual[1]}"
        counts = (each.whole, each.cut, each.broken, each.spare, each.ordered, each.boxes, each.surplus)
        bought.add_row(each.name, *(f"{n}" for n in counts), usual)
    console.print(bought)
    for words in dict.fromkeys(batch.bound_of for batch in plan.batches if batch.tiles):
        play = f", saw's play {plan.rules.saw_play:g} mm" if plan.rules.saw_play else ""
        console.print(f"least number over {words}; kerf {plan.rules.kerf:g} mm{play}")
    for batch in plan.batches:
        if not batch.tiles:
            continue
        ways = table_of(f"\nSaw list, tile “{batch.name}”", "tiles", "numbers", "cut from each: mark, saw size, mm", right=(0,))
        for own in batch.ways[:MOST_WAYS]:
            pieces = " + ".join(f"{p.mark} {p.size[0]:g} × {p.size[1]:g}" for p in own[0].pieces)
            ways.add_row(f"{len(own)}", spans([each.number for each in own]), pieces)
        console.print(ways)
        if len(batch.ways) > MOST_WAYS:
            console.print(f"… and {len(batch.ways) - MOST_WAYS} more ways: --csv, --json and the saw sheet list them all")
        kept = batch.kept()
        if kept:
            rests = ", ".join(f"{many} of {size[0]:g} × {size[1]:g}" for size, many, _ in kept[:MOST_RESTS])
            console.print(f"rests to keep: {rests}" + (f" and {len(kept) - MOST_RESTS} more sizes" if len(kept) > MOST_RESTS else ""))
    if groups:
        _grouped(groups, console)
    if short:
        _short(short, console)
    return text.getvalue()


def _grouped(groups: tuple[SawGroup, ...], console: Console) -> None:
    """Which tiles are sawn together, and how many of their pieces are put by."""
    table = table_of("\nIn the order of the works", "cut for", "tile", "tiles", "numbers", "pieces put by for later", right=(2, 4))
    for group in groups:
        for k, (batch, tiles) in enumerate(group.tiles):
            later = f"{group.later}" if k == 0 else ""
            table.add_row(group.name if k == 0 else "", batch.name, f"{len(tiles)}", spans([tile.number for tile in tiles]), later)
    console.print(table)


def _short(short: tuple[Shortage, ...], console: Console) -> None:
    """What is missing of each tile, and what kept rests could still give."""
    stock = table_of("\nStock", "tile", "broken", "at hand", "needed", "short", "boxes to buy", right=(1, 2, 3, 4, 5))
    for lack in short:
        stock.add_row(lack.name, f"{lack.broken}", f"{lack.stock}", f"{lack.needed}", f"{lack.short}", f"{lack.boxes}")
    console.print(stock)
    for lack in short:
        if lack.again:
            pieces = ", ".join(f"{mark} ({many})" for mark, many in lack.again[:MOST_RESTS])
            more = f" and {len(lack.again) - MOST_RESTS} more" if len(lack.again) > MOST_RESTS else ""
            console.print(f"{lack.name}: if cut pieces break, kept rests give at the most, each rest once: {pieces}{more}")
    console.print("buy of the same shade and calibre")


def spans(numbers: list[int]) -> str:
    """Numbers as people write them, runs drawn together, cut short after a few.

    >>> spans([1, 2, 3, 7, 9, 10])
    '1–3, 7, 9–10'
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = [f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs]
    return ", ".join(words[:6]) + (" …" if len(words) > 6 else "")
