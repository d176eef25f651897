"""Hold points: what is checked and signed before a stage goes on, with the figure that is wanted, and the cautions of the stage."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from layout.errors import Rule
from layout.plan.works import work_of
from layout.programme.air import DEW_MARGIN, HUMIDITY
from layout.programme.task import name_of
from layout.words import worded

if TYPE_CHECKING:
    from layout.programme.values import Programme
    from layout.quantities.values import TakeOff
    from layout.setout.values import RoomSetOut

SCREED_MOISTURE = Rule(2.0, "CM-% at most, cement screed", "joint statement of the German screed associations, 2005")
CONCRETE_MOISTURE = Rule(4.0, "% by mass at most, concrete under resin", "common limit of makers; the data sheet decides")
BOND = Rule(1.5, "N/mm² at least, trafficked (1.0 light)", "from memory")
CONTACT = Rule(95.0, "% of the back in the bed", "ANSI A108.5, wet areas, from memory")
LIFTED = Rule(50.0, "tiles: one in so many is lifted while the bed is fresh, and the first", "common practice, no source")
RULES = (DEW_MARGIN, HUMIDITY, SCREED_MOISTURE, CONCRETE_MOISTURE, BOND, CONTACT, LIFTED)
WET_FILM: Final = "wet film"
"""The kind of test points at which wet film is read."""
MOST_READINGS = 4
"""Readings of one kind that go into the boxes of a line; more are written on the schedule of test points."""

CAUTIONS = {
    "prime": worded(
        "Resin sensitises skin: gloves, goggles, long sleeves, ventilation. Dust off by vacuum, not by broom. Keep gullies plugged."
    ),
    "coat": worded("Gloves, goggles, ventilation. Wet membrane is slippery: mark off. No resin or solvent down a gully."),
    "flood": worded(
        "Standing water is slippery and heavy: the load on the slab is the structural engineer's question. No power in the wet area."
    ),
    "fixing": worded(
        "Cut wet or with extraction: dry cutting makes respirable silica dust. Eye and ear protection. Gloves: resin sensitises skin."
    ),
    "grout": worded("Gloves that keep wash water out. Slurry and wash water are slippery and go into a tub, never down a gully."),
    "sealant": worded("Ventilate; no open flame near primers and cleaners. Falls, drainage and electrical zones follow local codes."),
}
STAGES = {"details": "coat", "walls": "fixing", "floor": "fixing", "bottom": "fixing"}
"""Stages that share the cautions of others; every coat has those of a coat."""


@dataclass(frozen=True, slots=True)
class Hold:
    """One check: what is read, what is wanted, and what stands in the boxes for its readings.

    `test` is the kind of test points at which it is read, "" where it is read wherever the stage is.
    """

    check: str
    wanted: str
    readings: tuple[str, ...] = ("",)
    test: str = ""


@dataclass(frozen=True, slots=True)
class StageHolds:
    """A stage of a room with what is checked for it, in order."""

    room: int
    key: str
    name: str
    holds: tuple[Hold, ...]


def group_of(key: str) -> str:
    """Which cautions a stage has.

    >>> [group_of(key) for key in ("coat 2", "walls", "grout")]
    ['coat', 'fixing', 'grout']
    """
    work = work_of(key)
    return STAGES.get(work, work)


def all_holds(programme: Programme, takeoff: TakeOff) -> list[StageHolds]:
    """What is checked for each stage of each room, in the order of the stages; areas of a stage are checked together."""
    products = takeoff.setout.plan.products
    result = []
    for number, key in dict.fromkeys((stage.room, stage.key) for stage in programme.stages):
        holds = _holds(key, takeoff.setout.rooms[number], products.flood_test_h.value)
        result.append(StageHolds(number, key, name_of(key), holds))
    return result


def _numbered(count: int) -> tuple[str, ...]:
    """Boxes for so many readings of one kind, no more than go on a line."""
    return tuple(f"{k}" for k in range(1, min(count, MOST_READINGS) + 1)) if count > 1 else ("",)


def _holds(key: str, room: RoomSetOut, flood_h: float) -> tuple[Hold, ...]:
    """Checks of one stage of one room."""
    kinds = [test.test for test in room.membrane.tests]
    wanted = worded(
        "surface {dew_margin:g} K over dew point, RH {humidity:g} % at most", dew_margin=DEW_MARGIN.value, humidity=HUMIDITY.value
    )
    dew = Hold(worded("air and surface before work"), wanted, (worded("air °C"), "RH %", worded("floor °C")))
    if key == "prime":
        moisture = worded(
            "{screed_moisture:g} CM-% cement screed, {concrete_moisture:g} % concrete, at most",
            screed_moisture=SCREED_MOISTURE.value,
            concrete_moisture=CONCRETE_MOISTURE.value,
        )
        bond = Hold(
            worded("pull-off of the substrate, N/mm²"),
            worded("{bond:g} at least, 1.0 where not trafficked", bond=BOND.value),
            _numbered(kinds.count("pull-off")),
            "pull-off",
        )
        return (Hold(worded("moisture of the substrate, %"), moisture, _numbered(kinds.count("moisture")), "moisture"), bond, dew)
    if key == "details":
        return (Hold(worded("loose quartz swept and vacuumed off"), worded("nothing loose under the hand")), dew)
    if work_of(key) == "coat":
        return (
            dew,
            Hold(
                worded("wet film, mm"),
                worded("{wet:.2f} at least", wet=room.membrane.film.wet),
                _numbered(kinds.count(WET_FILM)),
                WET_FILM,
            ),
        )
    if key == "flood":
        places = [test.thing for test in room.membrane.tests if test.test == "flood level"] or [worded("the threshold")]
        return tuple(
            Hold(
                worded("water level at {place}, mm", place=place),
                worded("no fall in {flood_h:g} h", flood_h=flood_h),
                (worded("before"), worded("after")),
            )
            for place in places
        )
    if key in ("walls", "floor"):
        dry = Hold(worded("membrane dry and clean; quartz on it swept off"), worded("no water, dust or loose grain"))
        wanted = worded("{contact:g} % of the back in the bed, corners full", contact=CONTACT.value)
        lift = Hold(worded("lift the first tile and one in {lifted:g}, contact %", lifted=LIFTED.value), wanted, _numbered(MOST_READINGS))
        return (
            (Hold(worded("start lines and squareness"), worded("as the setting-out sheet")), dry, lift) if key == "walls" else (dry, lift)
        )
    if key == "grout":
        return (dew, Hold(worded("joints clean to the bed, rod set"), worded("in every sealant joint")))
    return (Hold(worded("joints dry and clean, edges masked"), worded("every joint")),) if key == "sealant" else ()
