"""The batch list: what is mixed when, day by day, with boxes to tick; what stands in its way, and the cautions of mixing."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from layout.sheets.crew_words import for_crew
from layout.sheets.draft import Draft, Job
from layout.sheets.lettering import wrapped
from layout.sheets.paper import SIZES
from layout.sheets.programme_sheet import short_name
from layout.sheets.schedule_sheet import Pages
from layout.words import dated, say, spelt, worded

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from layout.programme.values import Batch, Programme
    from layout.sheets.scene import Primitive

PRODUCTS = {each: each for each in (worded("primer"), worded("membrane"), worded("adhesive"), worded("grout"))}
"""What is mixed, by its key."""
CAUTION = worded(
    "Gloves, goggles, long sleeves, ventilation where resin is mixed: it sensitises skin. Tins get hot when "
    "resin stands in them: spread it at once. No resin, solvent or wash water down a gully. The product's "
    "data sheet and local rules decide."
)


def drafts(job: Job) -> Iterator[Draft]:
    """The batch list of the whole set; none for a plan without a start, or where nothing is mixed."""
    if job.works is None or not job.works.batches:
        return
    paper = job.paper or "A3"
    for k, page in enumerate(pages(job.works, SIZES[paper]), 1):
        yield Draft(f"batches-{k}", say("Batch list"), job.named, paper, None, (), page)


def pages(programme: Programme, size: tuple[float, float]) -> list[list[Primitive]]:
    """The paper scenes of the batch list."""
    result = Pages(size)
    result.head(say("Batches: whole packs, mixed when the last is laid"), 40.0)
    result.words(
        say(
            "Mix at, on the floor by: the pot life at that day's temperature. Hands: so many lay a pack by then. A "
            "pack is never split, and no rest is kept for another day or area. Washed: from when the first may be, "
            "and by when the last must be washed up."
        )
    )
    result.words(CAUTION, "△")
    for finding in programme.batch_findings:
        result.need(5.0 + 4.0 * len(wrapped(finding.text, 2.5, result.width - 4.0)))
        result.words(for_crew(finding.text), "□")
    for day, group in groupby(programme.batches, key=lambda batch: batch.day or batch.at.date()):
        _day(result, programme, day, list(group))
    return result.pages


def _day(result: Pages, programme: Programme, day: dt.date, batches: list[Batch]) -> None:
    """One day: its head says how much of what, then a row for each pack."""
    several = len(programme.rooms) > 1
    packs: dict[str, int] = {}
    for batch in batches:
        words = f"{spelt(PRODUCTS[batch.product])} {batch.pack_kg:g} kg"
        packs[words] = packs.get(words, 0) + 1
    result.y -= 2.0
    result.head(f"{dated(day, '%a %d %b')}: {', '.join(f'{count} × {words}' for words, count in packs.items())}", 30.0)
    rows = [[say("mix at"), say("laid by"), say("washed"), say("pack"), say("for"), say("covers"), say("hands"), say("done")]]
    for batch in batches:
        where = f"{programme.rooms[batch.room]}: " if several else ""
        wash = f"{batch.wash_from:%H:%M}–{batch.washed:%H:%M}" if batch.wash_from and batch.washed else ""
        rows.append([
            f"{batch.at:%H:%M}", f"{batch.by:%H:%M}", wash, f"{spelt(PRODUCTS[batch.product])} {batch.pack_kg:g} kg",
            where + spelt(short_name(batch.stage, batch.area, batch.areas)), f"{batch.covers:.1f} {batch.measure}", f"{batch.hands}", "□",
        ])  # fmt: skip
    result.rows((14, 15, 24, 31, 52, 19, 13, 11), rows, right=(5, 6, 7))
