"""The works programme as values: stages with their windows, batches, findings; all moments as the site's clock shows them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from layout.notebook import html_table
from layout.plan.works import Works
from layout.programme.calendar import Calendar
from layout.programme.task import name_of
from layout.words import worded

if TYPE_CHECKING:
    import datetime as dt

    from layout.errors import Finding
    from layout.programme.piece import DayPiece


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of one area of a room, which counts from 0: when it is worked, and from when and until when the next may start.

    `hours` of one hand's work; `earliest` and `latest` for its own start, `next_from` and `next_by` for the next one's (None: no
    end); `hold` what is checked and signed before it starts; area 1 of 1 is the whole room; `spans` from when to when the crew is
    at it; `done` if it was done when the programme was made.
    """

    room: int
    key: str
    start: dt.datetime
    end: dt.datetime
    hours: float
    hands: int
    next_from: dt.datetime
    next_by: dt.datetime | None
    hold: str
    earliest: dt.datetime
    latest: dt.datetime | None
    area: int = 1
    areas: int = 1
    spans: tuple[tuple[dt.datetime, dt.datetime], ...] = ()
    done: bool = False

    @property
    def name(self) -> str:
        """The stage in words."""
        words = name_of(self.key)
        return words if self.areas == 1 else worded("{words}: area {area} of {areas}", words=words, area=self.area, areas=self.areas)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One whole pack: mixed `at`, laid `by` its pot life's end at that day's temperature, by so many `hands`.

    `covers` m² (m of tape for details) of stage, room and area, which count as in the stages; less than a whole pack does where the
    day or the area ends with it. `washed` when the last of it has to be washed up, for grout; `wash_from` when the first may be.
    """

    product: str
    name: str
    pack_kg: float
    room: int
    stage: str
    area: int
    areas: int
    at: dt.datetime
    by: dt.datetime
    hands: int
    covers: float
    measure: str
    of: str = ""
    washed: dt.datetime | None = None
    wash_from: dt.datetime | None = None
    day: dt.date | None = None

    @property
    def unit(self) -> str:
        """What its reach is counted in, in words: m², m of tape."""
        return f"{self.measure} of {self.of}" if self.of else self.measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """All stages, when rooms (by number, from 0; `rooms` are their names) may be walked on, wetted and loaded, and findings on windows.

    `batches` what is mixed when, `batch_findings` what stands in its way; `wash` minutes after grouting from which and by which it
    is washed up; `notes` what else is to be known; `pieces` what is done as one, and when; `spread_m2` what one hand may comb at once, m²; both and `temperature` at that of the first day. `works` and
    `calendar` are what it was made with.
    """

    rooms: tuple[str, ...]
    stages: tuple[Stage, ...]
    temperature: float
    foot_traffic: dict[int, dt.datetime]
    full_load: dict[int, dt.datetime]
    wash: tuple[float, float]
    spread_m2: float
    findings: tuple[Finding, ...]
    batches: tuple[Batch, ...] = ()
    batch_findings: tuple[Finding, ...] = ()
    notes: tuple[Finding, ...] = ()
    pieces: tuple[DayPiece, ...] = ()
    water: dict[int, dt.datetime] = field(default_factory=dict)
    works: Works = field(default=Works())
    calendar: Calendar = field(default=Calendar())

    def __repr__(self) -> str:
        if not self.stages:
            return "<Programme: 0 stages>"
        first, last = min(stage.start for stage in self.stages), max(stage.end for stage in self.stages)
        return f"<Programme: {len(self.stages)} stages, {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M}>"

    def _repr_html_(self) -> str:
        """Its stages, as a notebook shows them."""
        rows = [
            (
                self.rooms[stage.room] if 0 <= stage.room < len(self.rooms) else "",
                stage.name,
                f"{stage.start:%a %Y-%m-%d %H:%M}",
                f"{stage.end:%a %Y-%m-%d %H:%M}",
                stage.hands,
                f"{stage.next_by:%a %H:%M}" if stage.next_by else "",
                stage.hold,
            )
            for stage in self.stages
        ]
        return html_table("Programme of the works", ("room", "stage", "from", "to", "hands", "next by", "hold point"), rows, right=(4,))
