"""Programme and hold points: a bar chart of the stages over days with their windows, their table, what is signed before each."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.sheets.draft import Draft
from layout.sheets.hold_points import CAUTIONS, RULES, all_holds, group_of
from layout.sheets.lettering import fitted, text_width, wrapped
from layout.sheets.paper import BLOCK_HEIGHT, SIZES, box_strokes, drawing_space, heading, paragraph
from layout.sheets.scene import Fill, Label, Stroke
from layout.sheets.schedule_sheet import Pages
from layout.words import dated, say, spelt, worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.programme.calendar import Calendar
    from layout.programme.values import Programme, Stage
    from layout.quantities.values import TakeOff
    from layout.sheets.draft import Job
    from layout.sheets.hold_points import Hold
    from layout.sheets.scene import Primitive

SHORT = {
    "prime": worded("prime, broadcast quartz"),
    "details": worded("drains, collars, tape"),
    "coat 1": worded("membrane, first coat"),
    "coat 2": worded("membrane, second coat"),
    "flood": worded("flood test"),
    "walls": worded("wall tile"),
    "floor": worded("floor tile"),
    "bottom": worded("bottom course of walls"),
    "grout": worded("grout"),
    "sealant": worded("sealant"),
}
"""Stages in few words, for the chart and the table."""
ROW = 5.6
"""Height of a row of the chart, mm."""
NAMES_WIDE = 66.0
"""Width of the names left of the chart, mm."""
LEAST_BAR = 0.9
"""Shortest bar that is seen, mm."""
DAY = dt.timedelta(days=1)
MOMENT = "%d %b %H:%M"
MONTH = "%b %Y"

CHART_KEY = worded(
    "Black: work. White: it stands by itself. Grey box: begun no sooner and no later. Thin line: it could begin sooner. "
    "Pale bands: nobody works. !: too late."
)


def drafts(job: Job) -> Iterator[Draft]:
    """The programme of the whole set; none for a plan without a start, or where nothing is to be done."""
    if job.works is None or not job.works.stages:
        return
    paper = job.paper or "A3"
    for k, page in enumerate(pages(job.works, job.takeoff, SIZES[paper]), 1):
        yield Draft(f"programme-{k}", say("Programme and hold points"), job.named, paper, None, (), page)


def pages(programme: Programme, takeoff: TakeOff, size: tuple[float, float]) -> list[list[Primitive]]:
    """The paper scenes of the programme's sheets."""
    result = UnderChart(size)
    chart(result, programme, programme.calendar)
    _stages(result, programme)
    _in_use(result, programme)
    _findings(result, programme)
    _hold_points(result, programme, takeoff)
    return result.pages


class UnderChart(Pages):
    """Columns that begin below what stands across the page, and at the top again on the next."""

    def __init__(self, size: tuple[float, float]) -> None:
        super().__init__(size)
        x0, y0, x1, self.highest = *drawing_space(size)[:3], self.top
        self.across = (x0 + 5.0, x1 - 5.0)
        self.lowest = y0 + BLOCK_HEIGHT + 5.0

    def need(self, height: float) -> None:
        before = len(self.pages)
        super().need(height)
        if len(self.pages) > before:
            self.top = self.y = self.highest

    def below(self, y: float) -> None:
        """Go on in columns below a height; on a new page if little is left."""
        self.top = self.y = y
        if y - self.lowest < 40.0:
            self.turn()

    def turn(self) -> None:
        """A new page."""
        self.pages.append([])
        self.at, self.top, self.y = 0, self.highest, self.highest


def chart(result: UnderChart, programme: Programme, calendar: Calendar) -> None:
    """The bar chart, as many pages as it takes; each has the days of its own rows."""
    first = min(stage.start for stage in programme.stages)
    title = say("Programme from {first}", first=dated(first, "%a %d %b %Y"))
    crew = _crew_words(programme, calendar)
    rows = _chart_rows(programme)
    low, high = result.across
    while rows:
        words, y = heading(title, low, result.highest, high - low)
        result.pages[-1] += words
        more, y = paragraph(f"{crew} {say(CHART_KEY)}", low, y, high - low)
        result.pages[-1] += more
        y -= 3.0
        fit = max(int((y - 10.0 - result.lowest) / ROW), 2)
        if len(rows) > fit and isinstance(rows[fit - 1], str):  # a room's name goes with its first stage
            fit -= 1
        now, rows = rows[:fit], rows[fit:]
        result.pages[-1] += _chart_page(now, calendar, (low, high), y)
        y -= 10.0 + ROW * len(now) + 5.0
        if rows:
            result.turn()
        else:
            result.below(y)


def _warmth(programme: Programme) -> str:
    """How warm the substrate is taken to be."""
    days = [day.temperature for day in programme.works.weather]
    if not days:
        return say("substrate at {temperature:g} °C", temperature=programme.temperature)
    return say("substrate day by day at {days:g} to {days_2:g} °C", days=min(days), days_2=max(days))


def _chart_rows(programme: Programme) -> list[str | Stage]:
    """Rows of the chart: stages in the order of the works, above them the room where there are several."""
    rows: list[str | Stage] = []
    room = -1
    for stage in programme.stages:
        if len(programme.rooms) > 1 and stage.room != room:
            room = stage.room
            rows.append(programme.rooms[stage.room])
        rows.append(stage)
    return rows


def _chart_page(rows: list[str | Stage], calendar: Calendar, across: tuple[float, float], top: float) -> list[Primitive]:
    """Rows of the chart under the days that they take."""
    stages = [row for row in rows if not isinstance(row, str)]
    begin = min(stage.start for stage in stages).date()
    days = (max(stage.end for stage in stages).date() - begin).days + 1
    left = across[0] + NAMES_WIDE
    unit = min((across[1] - left) / days, 24.0)
    scale = _Days(begin, days, left, unit)
    foot = top - 10.0 - ROW * len(rows)
    result = _days(scale, calendar, top, foot)
    y = top - 10.0
    for row in rows:
        if isinstance(row, str):
            result.append(
                Label(fitted(row, 2.5, NAMES_WIDE - 2.0, bold=True), (across[0], y - ROW / 2), 2.5, "TEXT", "left", "middle", bold=True)
            )
        else:
            name = fitted(short(row), 2.5, NAMES_WIDE - 5.0)
            result.append(Label(name, (across[0] + 2.0, y - ROW / 2), 2.5, "TEXT", "left", "middle"))
            result += _bar(row, scale, y)
        y -= ROW
        result.append(Stroke(np.array([[across[0], y], [left + unit * days, y]]), "TONE"))
    result.append(box_strokes(left, foot, left + unit * days, top - 10.0, "TITLE"))
    return result


class _Days:
    """Days across the chart: where a moment stands, mm."""

    def __init__(self, begin: dt.date, days: int, left: float, unit: float) -> None:
        self.begin, self.days, self.left, self.unit = begin, days, left, unit

    def at(self, moment: dt.datetime) -> float:
        """Where a moment stands, never outside the chart."""
        passed = (moment - dt.datetime.combine(self.begin, dt.time())) / DAY
        return self.left + self.unit * min(max(passed, 0.0), float(self.days))


def _days(scale: _Days, calendar: Calendar, top: float, foot: float) -> list[Primitive]:
    """Heads of the days, a line for each, bands where nobody works."""
    result: list[Primitive] = []
    wide = scale.unit >= 7.0
    weeks = 1
    while not wide and scale.unit * 7 * weeks < 16.0:
        weeks *= 2
    for k in range(scale.days):
        day, x = scale.begin + k * DAY, scale.left + k * scale.unit
        if not calendar.works_on(day):
            result.append(Fill(shapely.box(x, foot, x + scale.unit, top - 10.0), "TONE", 0.16))
        monday = day.weekday() == 0
        if wide:
            result.append(Label(dated(day, "%a"), (x + scale.unit / 2, top - 4.9), 2.5, "TEXT", "centre"))
            result.append(Label(f"{day.day}", (x + scale.unit / 2, top - 9.0), 2.5, "TEXT", "centre"))
            if day.day == 1 or (k == 0 and not _soon_next_month(scale, day)):
                result.append(Label(dated(day, MONTH), (x + 0.6, top - 1.0), 2.5, "TEXT", bold=True))
        elif monday and day.toordinal() // 7 % weeks == 0 and x + 16.0 < scale.left + scale.unit * scale.days:
            result.append(Label(dated(day, "%d %b"), (x + 0.6, top - 9.0), 2.5, "TEXT"))
        if k and (scale.unit >= 2.5 or monday):
            result.append(Stroke(np.array([[x, foot], [x, top - 10.0]]), "TITLE" if monday and wide else "TONE"))
    return result


def _soon_next_month(scale: _Days, day: dt.date) -> bool:
    """Whether the name of the next month would stand on that of the first; the chart's heading tells the first day."""
    first = (day.replace(day=1) + 31 * DAY).replace(day=1)
    left = (first - day).days
    return left < scale.days and left * scale.unit < text_width(dated(day, MONTH), 2.5, bold=True) + 1.0


def _bar(stage: Stage, scale: _Days, y: float) -> list[Primitive]:
    """A stage in its row: its window, and its work within it."""
    result: list[Primitive] = []
    start, end, earliest = scale.at(stage.start), scale.at(stage.end), scale.at(stage.earliest)
    low, high = y - ROW + 0.7, y - 0.7
    if stage.latest is not None and stage.latest < stage.earliest:
        closed = scale.at(stage.latest)
        result.append(Stroke(np.array([[closed, low - 0.4], [closed, high + 0.4]]), "TITLE"))
        result.append(Label("!", (closed + 0.8, y - ROW / 2), 2.5, "TEXT", "left", "middle", bold=True))
    elif stage.latest is not None:
        latest = max(scale.at(stage.latest), earliest + LEAST_BAR)
        result += [Fill(shapely.box(earliest, low, latest, high), "TONE", 0.45), box_strokes(earliest, low, latest, high, "TONE")]
        result.append(Stroke(np.array([[latest, low - 0.4], [latest, high + 0.4]]), "TITLE"))
    elif start > earliest:
        result.append(Stroke(np.array([[earliest, y - ROW / 2], [start, y - ROW / 2]]), "TITLE"))
    work = shapely.box(start, low + 0.7, max(end, start + LEAST_BAR), high - 0.7)
    result.append(Fill(work, "TEXT", 1.0 if stage.hours else 0.0))
    result.append(Stroke(shapely.get_coordinates(work)[:-1], "TITLE", closed=True))
    return result


def _crew_words(programme: Programme, calendar: Calendar) -> str:
    """How many work, from when to when, and how warm it is."""
    own = {"hands": programme.works.hands, "start": f"{calendar.start:%H:%M}", "end": f"{calendar.end:%H:%M}", "warmth": _warmth(programme)}
    if calendar.overnight:
        return say("A crew of {hands}, {start} to {end} next day on working days, {warmth}.", **own)
    return say("A crew of {hands}, {start} to {end} on working days, {warmth}.", **own)


def short(stage: Stage) -> str:
    """A stage in few words, with its area."""
    return short_name(stage.key, stage.area, stage.areas)


def short_name(key: str, area: int, areas: int) -> str:
    """A stage in few words, with its area where there are several."""
    words = SHORT.get(key, say("membrane, {key}", key=key))
    return words if areas == 1 else say("{words}, area {area} of {areas}", words=words, area=area, areas=areas)


def _stages(result: Pages, programme: Programme) -> None:
    """The table of stages, room by room."""
    result.head(say("Stages and when each may be begun"))
    for room in dict.fromkeys(stage.room for stage in programme.stages):
        rows = [[programme.rooms[room], say("from"), say("to"), say("earliest"), say("latest")]]
        for stage in programme.stages:
            if stage.room == room:
                latest = "–" if stage.latest is None else dated(stage.latest, MOMENT) + (" !" if stage.start > stage.latest else "")
                rows.append([short(stage), *(dated(at, MOMENT) for at in (stage.start, stage.end, stage.earliest)), latest])
        result.rows((74, 28, 28, 28, 30), rows)
    low, high = programme.wash
    result.words(
        say("Wash grout up {low:.0f} to {high:.0f} minutes after it is worked in: grout no more than that allows.", low=low, high=high)
    )
    result.words(say("Comb no more adhesive at once than {spread_m2:.1f} m² a hand.", spread_m2=programme.spread_m2))


def _in_use(result: Pages, programme: Programme) -> None:
    """When each room may be walked on and loaded."""
    rows = [[say("room"), say("walked on"), say("water"), say("chemicals, full load")]]
    for room, at in programme.full_load.items():
        foot = programme.foot_traffic.get(room)
        wet = programme.water.get(room)
        rows.append([programme.rooms[room], f"{foot:{MOMENT}}" if foot else "–", f"{wet:{MOMENT}}" if wet else "–", f"{at:{MOMENT}}"])
    if len(rows) > 1:
        result.y -= 3.0
        result.head(say("In use"))
        result.rows((50, 33, 33, 40), rows)


def _findings(result: Pages, programme: Programme) -> None:
    """Windows that are missed and rooms that wait."""
    if programme.findings or programme.notes:
        result.y -= 3.0
        result.head(say("Findings on windows"))
        for finding in (*programme.findings, *programme.notes):
            result.need(5.0 + 4.0 * len(wrapped(finding.text, 2.5, result.width - 4.0)))
            result.words(finding.text, "□")


def _hold_points(result: Pages, programme: Programme, takeoff: TakeOff) -> None:
    """Stage by stage: its caution, then a line to fill and sign for each check of each room."""
    holds = all_holds(programme, takeoff)
    result.y -= 3.0
    result.head(say("Hold points: signed before a stage goes on"), 40.0)
    told: set[str] = set()
    for key in dict.fromkeys(each.key for each in holds):
        own = [each for each in holds if each.key == key]
        group = group_of(key)
        if not any(each.holds for each in own) and group in told:
            continue
        result.need(30.0)
        result.add(
            [Label(fitted(say(own[0].name), 2.5, result.width, bold=True), (result.x, result.y - 3.0), 2.5, "TEXT", bold=True)],
            result.y - 5.2,
        )
        if group not in told:
            result.words(say(CAUTIONS[group]), "△")
            told.add(group)
        for each in own:
            for hold in each.holds:
                _line(result, hold, programme.rooms[each.room] if len(programme.rooms) > 1 else "")
        result.y -= 2.0
    result.words(say("Figures: ") + "; ".join(f"{rule.value:g} {rule.unit}" for rule in RULES) + ".")
    result.words(
        say(
            "More readings than boxes go on the schedule of test points. The data sheet, local rules and the "
            "responsible professional decide."
        )
    )


def _line(result: Pages, hold: Hold, room: str) -> None:
    """One check: words at the left, boxes for readings, date and signature at the right."""
    boxes = 0.54 * result.width
    wide = result.width - boxes - 2.0
    first = f"{room}: {spelt(hold.check)}" if room else hold.check
    lines = [(0.0, line) for line in wrapped(first, 2.5, wide)] + [(3.0, line) for line in wrapped(hold.wanted, 2.5, wide - 3.0)]
    tall = 1.0 + 4.0 * max(len(lines), 2)
    result.need(tall + 1.0)
    x, y = result.x, result.y
    made: list[Primitive] = [Label(line, (x + inset, y - 3.2 - 4.0 * k), 2.5, "TEXT") for k, (inset, line) in enumerate(lines)]
    at = x + result.width - boxes
    parts = [*(0.52 / len(hold.readings) for _ in hold.readings), 0.18, 0.3]
    names = [*(spelt(each) for each in hold.readings), say("date"), say("signed")]
    for part, name in zip(parts, names, strict=True):
        made.append(box_strokes(at, y - tall + 0.4, at + boxes * part, y, "TITLE"))
        made.append(Label(name, (at + 0.8, y - 0.8), 2.5, "TEXT", "left", "top"))
        at += boxes * part
    result.add(made, y - tall - 0.8)
