"""The front of a set for several rooms: a key plan of each storey, and which sheets there are."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.sheets.draft import Draft, Job
from layout.sheets.key_plan import LIST, KeyPlan, key_plan, ranges, scale_for
from layout.sheets.lettering import fitted, wrapped
from layout.sheets.paper import BLOCK_HEIGHT, MARGIN, SIZES, drawing_space, has_column, heading, revision_table, table
from layout.sheets.scene import Label, Primitive
from layout.sheets.schedule_sheet import Pages
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.setout.values import SetOut

    Rows = list[list[str]]

ROWS_OVER = 8
"""Rows that headings of the lists take, paper."""
ROW = 2.5 * 1.9
"""Height of a row, paper mm."""
ROOM_COLUMNS, SHEET_COLUMNS = (68.0, 18.0, 76.0), (14.0, 66.0, 52.0, 14.0, 18.0)
"""Widths of the columns of rooms and of sheets, paper mm."""
PAPERS = ("A3", "A2", "A1")
"""Papers for key plans of several storeys, the smallest first that names all of its rooms and lists them beside."""


def cover_drafts(job: Job, drafts: Sequence[Draft]) -> list[Draft]:
    """The front of a set whose other sheets are drafted: a key plan for each storey, and lists.

    Rooms and sheets are listed on pages of their own where a key plan does not hold their lists.
    """
    storeys = len(by_storey(job.setout))
    if storeys == 1:
        return _one_storey(job, drafts)
    made = _storeys(job, drafts, storeys + 1)
    # how many sheets are before the rooms' decides their numbers, and these how long the lists are
    return made if len(made) == storeys + 1 else _storeys(job, drafts, len(made))


def by_storey(setout: SetOut) -> dict[str, list[int]]:
    """Numbers of the rooms on each storey, in the order of the plan; "" for those that name none."""
    result: dict[str, list[int]] = {}
    for k, room in enumerate(setout.rooms, 1):
        result.setdefault(room.lining.room.storey, []).append(k)
    return result


def _listed(drafts: Sequence[Draft], before: int) -> Rows:
    """The rows of the list of sheets that follow so many others."""
    head = [say("sheet"), say("title"), say("room"), say("paper"), say("scale")]
    shown = ((each.title, each.room, each.paper, f"1:{each.view.scale:g}" if each.view else "—") for each in drafts)
    return [head, *([f"{k}", *each] for k, each in enumerate(shown, before + 1))]


def _shown(drafts: Sequence[Draft], before: int) -> dict[int, str]:
    """By a room's number which sheets show it, where so many others are before these."""
    numbers: dict[int, list[int]] = {}
    for k, each in enumerate(drafts, before + 1):
        for room in each.shows:
            numbers.setdefault(room + 1, []).append(k)
    return {room: ranges(each) for room, each in numbers.items()}


def _room_rows(setout: SetOut, shown: dict[int, str], numbers: Sequence[int], wide: float = ROOM_COLUMNS[2]) -> Rows:
    """Rooms with the area of their floors and the sheets that show each, which go on in rows below where they are many."""
    rows = [[say("room"), say("floor m²"), say("sheets")]]
    for k in numbers:
        room = setout.rooms[k - 1]
        first, *more = wrapped(shown.get(k, "—"), 2.5, wide - 1.8)
        rows.append([f"{k} {room.name}", f"{room.lining.floor.gross.area / 1e6:.2f}", first])
        rows += [["", "", line] for line in more]
    return rows


def _one_storey(job: Job, drafts: Sequence[Draft]) -> list[Draft]:
    """The cover of a set whose rooms are on one storey: its key plan, and beside it all lists if they go there."""
    setout, paper = job.setout, job.paper or "A3"
    size = SIZES[paper]
    numbers = range(1, len(setout.rooms) + 1)
    _, height = revision_table(setout.plan.project, size)
    shown = _shown(drafts, 1)
    rows = len(_room_rows(setout, shown, numbers)) + len(drafts) + ROWS_OVER
    beside = rows <= (size[1] - 2 * MARGIN - BLOCK_HEIGHT - height) / ROW
    pages: list[list[Primitive]] = []
    if not beside:
        count = len(_list_pages(job, drafts, size, 1, numbers))
        pages = _list_pages(job, drafts, size, 1 + count, numbers)
        shown = _shown(drafts, 1 + count)
    drawn, words = cover(setout, size, shown, _listed(drafts, 1) if beside else None, beside=beside)
    title = say("Key plan and sheet list") if beside else say("Key plan")
    first = _draft("cover", title, job.named, paper, drawn, words)
    return [first, *_lists(job, paper, pages)]


def _storeys(job: Job, drafts: Sequence[Draft], before: int) -> list[Draft]:
    """A key plan for each storey, all to one scale, and the list of sheets, where so many sheets are `before` the rooms'.

    A larger paper is taken where a number finds no place or the rooms of a storey are too many to be listed beside it.
    """
    shown = _shown(drafts, before)
    papers = (job.paper,) if job.paper else PAPERS
    fit = [paper for paper in papers if _goes_beside(job.setout, shown, SIZES[paper])]
    made: list[Draft] = []
    for paper in (*fit, papers[-1]):
        made = _key_plans(job, shown, paper, beside=paper in fit)
        if not any(draft.missing for draft in made):
            break
    numbers = () if made[0].paper in fit else range(1, len(job.setout.rooms) + 1)
    pages = _list_pages(job, drafts, SIZES[made[0].paper], before, numbers)
    return [*made, *_lists(job, made[0].paper, pages)]


def _goes_beside(setout: SetOut, shown: dict[int, str], size: tuple[float, float]) -> bool:
    """Whether the rooms of each storey can be listed beside its key plan."""
    height = size[1] - 2 * MARGIN - BLOCK_HEIGHT - revision_table(setout.plan.project, size)[1]
    most = max(len(_room_rows(setout, shown, numbers)) for numbers in by_storey(setout).values())
    return has_column(size) and most + ROWS_OVER // 2 <= height / ROW


def _key_plans(job: Job, shown: dict[int, str], paper: str, *, beside: bool) -> list[Draft]:
    """A key plan for each storey on a paper."""
    setout, size, storeys = job.setout, SIZES[paper], by_storey(job.setout)
    scale = max(scale_for([setout.rooms[k - 1] for k in numbers], size, beside=beside) for numbers in storeys.values())
    made = []
    for k, (storey, numbers) in enumerate(storeys.items(), 1):
        title = say("Key plan, {storey}", storey=storey) if storey else say("Key plan, no storey given")
        drawn, words = cover(setout, size, shown, None, beside=beside, rooms=numbers, scale=scale, title=title, revised=k == 1)
        made.append(_draft(f"key-plan-{k}", title, job.named, paper, drawn, words))
    return made


def _draft(key: str, title: str, room: str, paper: str, drawn: KeyPlan, words: list[Primitive]) -> Draft:
    return Draft(key, title, room, paper, None, (), words, scale=drawn.scale, needed=drawn.needed, missing=drawn.missing)


def _lists(job: Job, paper: str, pages: Sequence[list[Primitive]]) -> list[Draft]:
    return [Draft(f"list-{k}", say("Rooms and sheets"), job.named, paper, None, (), page) for k, page in enumerate(pages, 1)]


def _list_pages(job: Job, drafts: Sequence[Draft], size: tuple[float, float], before: int, numbers: Sequence[int]) -> list[list[Primitive]]:
    """Pages with rooms, unless they are listed elsewhere, and the sheets that follow so many others."""
    result = Pages(size)
    if numbers:
        result.head(say("Rooms"))
        wide = result.width * ROOM_COLUMNS[2] / math.fsum(ROOM_COLUMNS)
        result.rows(ROOM_COLUMNS, _room_rows(job.setout, _shown(drafts, before), numbers, wide), right=(1,))
    result.head(say("Sheets"))
    result.rows((9, 42, 33, 8, 8), _listed(drafts, before))
    return result.pages


def cover(
    setout: SetOut,
    size: tuple[float, float],
    shown: dict[int, str],
    listed: Rows | None,
    *,
    beside: bool = True,
    rooms: Sequence[int] = (),
    scale: float | None = None,
    title: str = "",
    revised: bool = True,
) -> tuple[KeyPlan, list[Primitive]]:
    """A key plan of rooms, all if none are named, and its words with it: its heading, and `beside` it the rooms, and the sheets if `listed`."""
    numbers = rooms or range(1, len(setout.rooms) + 1)
    own = [(k, setout.rooms[k - 1]) for k in numbers]
    drawn = key_plan(own, shown, size, scale=scale or scale_for([room for _, room in own], size, beside=beside), beside=beside)
    x0, _, x1, y1 = drawing_space(size)
    name = f"{title or say('Key plan')} · 1:{drawn.scale:g}"
    name = fitted(name, 5.0, size[0] / 2 - x0 - 8.0, bold=True)  # clear of the centring mark of the upper edge
    words: list[Primitive] = [Label(name, (x0 + 5.0, y1 - 8.5), 5.0, "TEXT", bold=True), *drawn.scene]
    if revised:
        words += revision_table(setout.plan.project, size)[0]
    if not beside:
        return drawn, words
    made, y = heading(say("Rooms"), x1 - LIST, y1 - 4.0, LIST - 4.0)
    rows, y = table(x1 - LIST, y, ROOM_COLUMNS, _room_rows(setout, shown, numbers), right=(1,))
    words += [*made, *rows]
    if listed is not None:
        made, y = heading(say("Sheets"), x1 - LIST, y - 1.0, LIST - 4.0)
        rows, _ = table(x1 - LIST, y, SHEET_COLUMNS, listed)
        words += [*made, *rows]
    return drawn, words
