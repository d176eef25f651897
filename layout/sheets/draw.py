"""Composes the sheet set of a plan: the sheets there are, in the order of the works."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from layout.errors import OutputError
from layout.plan.agree_rooms import like_a_mark
from layout.programme.stages import plan_works, start_of
from layout.sheets import (
    basis_sheet,
    batch_sheet,
    cover_sheet,
    cut_sheet,
    detail_sheet,
    elevation_sheet,
    joint_sheet,
    level_sheet,
    pieces_sheet,
    programme_sheet,
    saw_sheet,
    schedule_sheet,
    start_sheet,
    tape_sheet,
    template_sheet,
    unfold_sheet,
)
from layout.sheets.clipboard import on_clipboard
from layout.sheets.draft import Draft, Job, fit_of, room_job, with_further
from layout.sheets.lettering import fitted, text_width
from layout.sheets.paper import SIZES, block_primitives, drawing_space, frame, has_column, title_block
from layout.sheets.scale_bar import scale_bar
from layout.sheets.scene import Label, Primitive, Sheet
from layout.sheets.shared import share, sharers
from layout.sheets.strips import windowed
from layout.words import say, speaking

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from layout.programme.values import Programme
    from layout.quantities.values import TakeOff
    from layout.setout.values import SetOut

SHEETS: tuple[Callable[[Job], Iterator[Draft]], ...] = (
    start_sheet.drafts,
    level_sheet.drafts,
    cut_sheet.drafts,
    tape_sheet.drafts,
    joint_sheet.drafts,
    unfold_sheet.drafts,
    elevation_sheet.drafts,
    detail_sheet.drafts,
    pieces_sheet.drafts,
)
"""Sheets of each room, in the order of the works."""
BESIDE = (unfold_sheet.drafts, elevation_sheet.drafts, detail_sheet.drafts)
"""Sheets whose drawings stand in rows, as many as the paper takes: those of small rooms are laid out for the paper that they share."""
SET_SHEETS: tuple[Callable[[Job], Iterator[Draft]], ...] = (
    saw_sheet.drafts,
    programme_sheet.drafts,
    batch_sheet.drafts,
    schedule_sheet.drafts,
)
"""Sheets of the whole set, after the rooms'."""


def draw_sheets(
    setout: SetOut,
    takeoff: TakeOff,
    works: Programme | None = None,
    *,
    paper: str | None = None,
    scale: float | None = None,
    templates: bool = False,
    language: str | None = None,
) -> tuple[Sheet, ...]:
    """The sheet set: for each room the sheets of `SHEETS`, then those of the set; a cover where there are several rooms.

    `works` is the programme; if not given it is planned by the plan's keys, where they or the date say when it begins. A date that
    nobody gave would be printed, and built to. `paper` (A4 to A0) and `scale` (50 for 1:50) are chosen to fit if not given.
    With `templates` pieces with arcs follow at true size. In another `language` than English (the plan's own if not given) what its
    catalogue has is in it, and a note says so under the frame of each sheet.

    Raises
    ------
    OutputError
        If needed words find no place on a paper or at a scale that was asked for, or the language has no catalogue.
    """
    with speaking(setout.plan.project.language if language is None else language):
        return _set(setout, takeoff, works, paper, scale, templates=templates)


def _set(
    setout: SetOut, takeoff: TakeOff, works: Programme | None, paper: str | None, scale: float | None, *, templates: bool
) -> tuple[Sheet, ...]:
    """The sheet set in the language that is spoken."""
    shared, sharing = sharers(setout, paper, scale)
    clipped = paper is not None and not has_column(SIZES[paper])
    rooms = tuple(
        replace(room_job(setout, k, paper, scale, alone=k not in sharing), together=clipped or k in sharing)
        for k in range(len(setout.rooms))
    )
    together = [room for room in rooms if room.together and not clipped]
    if works is None and start_of(setout.plan) is not None:
        works = plan_works(takeoff)
    whole = Job(setout, takeoff, rooms, shared, scale, works)
    drafts = (
        [each for room in rooms for each in on_clipboard(_drafts_of(Job(setout, takeoff, (room,), paper, scale, works)), room.prefix)]
        if clipped
        else []
    )
    drafts += [
        each
        for room in rooms
        if not room.together
        for sheet in SHEETS
        for draft in sheet(Job(setout, takeoff, (room,), paper, scale, works))
        for each in with_further(replace(draft, shows=(room.index,)))
    ]
    if together and shared is not None:
        kinds = [
            [
                (room, replace(draft, shows=(room.index,)))
                for room in together
                for draft in sheet(Job(setout, takeoff, (room,), shared if sheet in BESIDE else paper, scale, works))
            ]
            for sheet in SHEETS
        ]
        drafts += [each for draft in share(kinds, shared) for each in with_further(draft)]
    drafts += [draft for sheet in SET_SHEETS for draft in sheet(whole)]
    if templates:
        drafts += template_sheet.drafts(whole)
    drafts += basis_sheet.drafts(whole, drafts)
    if paper or scale:
        _refuse_illegible(setout, drafts)
    if len(rooms) > 1:
        drafts = [*cover_sheet.cover_drafts(whole, drafts), *drafts]
    return sheets_of(setout, drafts)


def _drafts_of(job: Job) -> list[Draft]:
    """The drafts of one room, in the order of the works."""
    return [replace(draft, shows=(job.only.index,)) for sheet in SHEETS for draft in sheet(job)]


def sheets_of(setout: SetOut, drafts: Sequence[Draft]) -> tuple[Sheet, ...]:
    """Drafts as sheets, numbered in their order, each with its title block."""
    return tuple(_sheet(setout, draft, k, len(drafts)) for k, draft in enumerate(drafts, 1))


def draw_first(setout: SetOut, takeoff: TakeOff) -> Sheet:
    """The first room's setting-out sheet alone: what a person looks at while a plan grows."""
    job = Job(setout, takeoff, (room_job(setout, 0, None, None),), None, None)
    return _sheet(setout, next(iter(start_sheet.drafts(job))), 1, 1)


def _refuse_illegible(setout: SetOut, drafts: list[Draft]) -> None:
    """A set on a paper and at a scale that were asked for must be legible: else say which sheet, which words, and what would do."""
    for draft in drafts:
        if draft.missing and draft.view is not None:
            words = ", ".join(repr(text) for text in draft.missing[:3])
            more = f" and {len(draft.missing) - 3} more" if len(draft.missing) > 3 else ""
            place = f"{draft.title}, {draft.paper} at 1:{draft.view.scale:g}"
            # rooms that share the sheet are alike small: the first speaks for them
            index = next((k for k, room in enumerate(setout.rooms) if room.name == draft.room), 0)
            own_paper, own_scale = fit_of(setout.rooms[index], None, None, alone=True)
            mend = f"leave paper and scale out: {own_paper} at 1:{own_scale:g} is taken then, with windows where it is crowded"
            raise OutputError(place, f"there is no room for {words}{more}", mend)


def _sheet(setout: SetOut, draft: Draft, number: int, total: int) -> Sheet:
    size = SIZES[draft.paper]
    scale = draft.view.scale if draft.view else draft.scale
    words = f"1:{scale:g}" if scale else "—"
    block = title_block(setout.plan.project, draft.title, room_called(draft.room), number, total, draft.paper, words)
    paper_scene: list[Primitive] = [*frame(size), *draft.words, *block_primitives(block, size)]
    if draft.missing:
        left, _, _, top = drawing_space(size)
        text = say("No room here for: {words}", words=", ".join(draft.missing))
        paper_scene.append(Label(fitted(text, 3.5, size[0] - 240.0, bold=True), (left + 5.0, top - 15.0), 3.5, "TEXT", bold=True))
    if draft.heading:
        paper_scene += _sheet_heading(draft.heading, size, None)
    if draft.view is not None:
        heading = _sheet_heading(draft.title, size, draft.view.scale)
        if draft.cut_off:  # a part of a floor, and strips, keep the place below free
            bar = scale_bar(windowed(draft.view, size) if draft.beside else draft.view, size)
        else:
            bar = scale_bar(draft.view, size, draft.scene, [*heading, *draft.words])
        paper_scene += [*heading, *bar]
    name = f"{number:02d}-{draft.key}"
    return Sheet(
        name,
        draft.title,
        draft.room,
        draft.paper,
        size,
        draft.view,
        draft.scene,
        tuple(paper_scene),
        block,
        cut_off=draft.cut_off,
        needed=draft.needed,
        missing=draft.missing,
        further=draft.beside,
    )


def room_called(name: str) -> str:
    """A room's name in a title: "room R2" where it would read as the name of a run of tape, a mark or a line.

    >>> room_called("R2"), room_called("Wash bay")
    ('room R2', 'Wash bay')
    """
    return say("room {name}", name=name) if like_a_mark(name) else name


def _sheet_heading(text: str, size: tuple[float, float], scale: float | None) -> list[Primitive]:
    left, _, _, top = drawing_space(size)
    words = text if scale is None else f"{text} · 1:{scale:g}"
    if not has_column(size):  # under the centring mark, over the whole width
        wide = size[0] - left - 20.0
        height = 5.0 if text_width(words, 5.0, bold=True) < wide else 3.5
        return [Label(fitted(words, height, wide, bold=True), (left + 5.0, top - 11.0), height, "TEXT", bold=True)]
    # the centring mark of the upper edge is not struck through it
    height = 5.0 if left + 5.0 + text_width(words, 5.0, bold=True) < size[0] / 2 - 3.0 else 3.5
    return [Label(fitted(words, height, size[0] / 2 - left - 8.0, bold=True), (left + 5.0, top - 8.5), height, "TEXT", bold=True)]
