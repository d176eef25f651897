"""The as-built record: what ticks say of a plan, beside what was wanted, and where the two part.

A tick counts where it was made for the size that the thing has now; one of another size is told as such. Nothing is judged that has
no figure to judge it by: moisture is told, for what is allowed depends on the screed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout.errors import PlanError
from layout.record.things import issue_of, things_of
from layout.record.values import counted, latest, merged
from layout.sheets.hold_points import BOND

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from layout.quantities.values import TakeOff
    from layout.record.things import Field, Kind, Thing
    from layout.record.values import Event, Issue, Ticks
    from layout.setout.values import RoomSetOut


@dataclass(frozen=True, slots=True)
class Entry:
    """One field of one thing as it was told: `value` in words with its unit, by which phone, when its clock said; "" where nothing was.

    `good` is None where nothing says what is right; `old` is the size that it was done to, if not today's; `number` is the value as a
    number in `unit`, where it is one. `field` is what a person reads, `code` the key of the field; `at_points` whether a hold point's
    readings stand with test points.
    """

    id: str
    kind: Kind
    room: str
    name: str
    field: str
    value: str
    wanted: str = ""
    good: bool | None = None
    by: str = ""
    at: str = ""
    old: str = ""
    number: float | None = None
    unit: str = ""
    code: str = ""
    at_points: bool = False


@dataclass(frozen=True, slots=True)
class AsBuilt:
    """The record of a plan: its issue, every entry in the order of the works, deviations in words.

    `events` are all that were merged, `strange` those of things that are not in this issue; `earlier` whether some ticks are of
    another issue of the plan.
    """

    issue: Issue
    entries: tuple[Entry, ...]
    deviations: tuple[str, ...]
    events: tuple[Event, ...]
    strange: int
    earlier: bool

    def of(self, *kinds: Kind) -> list[Entry]:
        """Entries of some kinds of things."""
        return [entry for entry in self.entries if entry.kind in kinds]


def as_built(takeoff: TakeOff, given: Sequence[Ticks]) -> AsBuilt:
    """What ticks, of one phone or several, say of a plan.

    Raises
    ------
    PlanError
        If ticks are of another plan.
    """
    things = things_of(takeoff)
    issue = issue_of(takeoff.setout, things)
    for ticks in given:
        if not ticks.issue.same_plan(issue):
            raise PlanError(
                "ticks",
                f"they are of {ticks.issue.words or 'a plan without a name'}, not of {issue.words}",
                "give the plan that they are of",
            )
    events = merged(event for ticks in given for event in ticks.events)
    known = {thing.id: thing for thing in things}
    sizes = {thing.id: thing.size for thing in things}
    now = latest(event for event in events if sizes.get(event.id) == event.size)
    before = latest(event for event in events if event.id in known and (event.id, event.field) not in now)
    sums = counted(event for event in events if event.id in known)
    entries: list[Entry] = []
    for thing in things:
        room = takeoff.setout.rooms[thing.room]
        entries += [_entry(thing, field, room, now, before, sums) for field in thing.fields]
    strange = sum(event.id not in known for event in events)
    earlier = any(ticks.issue.digest != issue.digest for ticks in given)
    return AsBuilt(issue, tuple(entries), tuple(_deviations(entries, takeoff)), events, strange, earlier)


def _entry(
    thing: Thing,
    field: Field,
    room: RoomSetOut,
    now: dict[tuple[str, str], Event],
    before: dict[tuple[str, str], Event],
    sums: dict[tuple[str, str], float],
) -> Entry:
    key = (thing.id, field.key)
    event = now.get(key)
    old = before[key].size if key in before and before[key].value not in (False, "") else ""
    wanted = dict(thing.figures).get("wanted", "")
    plain = Entry(thing.id, thing.kind, room.name, thing.name, field.words, "", wanted, old=old, code=field.key, at_points=bool(thing.test))
    if field.kind == "sum":
        count = sums.get(key, 0.0)
        return replace(plain, wanted="", old="", value=f"{count:g}", number=count) if count else replace(plain, wanted="", old="")
    if event is None or event.value is False or event.value == "":
        return plain
    value = "yes" if event.value is True else f"{event.value:g}" if isinstance(event.value, float) else str(event.value)
    unit = f" {field.unit}" if field.unit and event.value is not True else ""
    wanted, good = _verdict(thing, field, event, room, now) or (wanted, None)
    read = event.value if isinstance(event.value, float) else None
    told = replace(plain, value=value + unit, wanted=wanted, good=good, by=event.by, at=event.at, old="")
    return replace(told, number=read, unit=field.unit if read is not None else "")


def _verdict(
    thing: Thing, field: Field, event: Event, room: RoomSetOut, now: dict[tuple[str, str], Event]
) -> tuple[str, bool | None] | None:
    """What was wanted of a reading and whether it is so; None where nothing says."""
    if isinstance(event.value, (bool, str)):
        return None
    value = event.value
    if thing.kind == "test" and thing.size == "wet film":
        least = round(room.membrane.film.wet, 2)
        return f"{least:.2f} mm at least", value >= least
    if thing.kind == "test" and thing.size == "pull-off":
        return f"{BOND.value:g} {BOND.unit}", value >= BOND.value
    if field.key == "after":
        first = now.get((thing.id, "before"))
        if first is not None and isinstance(first.value, float):
            return "no fall", value >= first.value
    if thing.kind == "wall":
        play = room.lining.plan.rules.wall_tolerance
        return f"{thing.size} ± {play:g} mm", abs(value - float(thing.size)) <= play
    return None


NOT_YET = {"run": "runs not taped", "corner": "corner pieces not set", "collar": "collars not set", "drain": "flanges not dressed"}
"""Kinds of the membrane, and what is said of those that are not ticked."""


def _deviations(entries: Sequence[Entry], takeoff: TakeOff) -> Iterable[str]:
    """What is not as wanted, or not told, in words."""
    for entry in entries:
        where = f"{entry.room}, {entry.name}" if len(takeoff.setout.rooms) > 1 else entry.name
        if entry.good is False:
            yield f"{where}: {entry.field} {entry.value}, wanted {entry.wanted}"
        if entry.old and entry.kind != "piece":
            yield f"{where}: {entry.field} for the old size {entry.old}"
    old = [entry for entry in entries if entry.kind == "piece" and entry.code == "sawn" and entry.old]
    if old:
        yield f"cut to an old size: {len(old)}: " + ", ".join(dict.fromkeys(f"{e.name} {e.old}" for e in old))
    for kind, words in NOT_YET.items():
        open_ones = [entry.name for entry in entries if entry.kind == kind and not entry.value and not entry.old]
        if open_ones:
            yield f"{words}: {', '.join(open_ones)}"
    unread = list(dict.fromkeys(entry.name for entry in entries if entry.kind == "test" and not entry.value))
    if unread:
        yield f"tests not read in full: {', '.join(unread)}"
    unsigned = [entry.name for entry in entries if entry.kind == "hold" and entry.code == "signed" and not entry.value]
    if unsigned:
        yield f"hold points not signed: {len(unsigned)}: " + ", ".join(dict.fromkeys(unsigned))
