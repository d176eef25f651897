"""The findings of a programme and its batches: part of `layout.codes.CODES`."""

from __future__ import annotations

from layout.errors import Code

CODES_OF_WORKS: dict[str, Code] = {
    "window-missed": Code(
        "working hours do not let a stage start inside its window",
        "stop",
        "a coat over its latest time no longer bonds: it is ground and primed again",
        "start on another day, put more hands on it, or work longer that day",
    ),
    "done-early": Code(
        "a stage was begun before what it lies on had cured",
        "stop",
        "resin that is covered too soon stays soft, or its solvent lifts what is over it",
        "test whether it has cured, and ask the product's maker before it is covered",
    ),
    "done-cold": Code(
        "a stage was done in air or on a surface in which resin may not be laid",
        "stop",
        "it may not have cured or bonded: later stages would hide it",
        "test it, pull-off and hardness, before it is covered",
    ),
    "done-gap": Code(
        "a stage before those that were done is not told",
        "look",
        "its windows cannot be looked at",
        "write down when it was done, with its temperature",
    ),
    "too-cold": Code(
        "a stage waits for a day on which resin may be laid",
        "note",
        "below its least temperature, over its greatest or near the dew point resin does not cure or bond",
        "warm, cool or dry the room, or wait for the day that the finding names",
    ),
    "weather-ends": Code(
        "the works go on after the last day whose temperature is given",
        "note",
        "cure, windows and pot lives after it rest on the temperature of that day",
        "give the days that follow as they are forecast or measured",
    ),
    "figures-asked": Code(
        "times, pot lives or outputs that the programme rests on are generic",
        "look",
        "each maker's resin has its own windows: a generic one may be too long by days",
        "put the data sheets' figures under [products]; works.ask_figures refuses a programme without them",
    ),
    "works-wait": Code(
        "a room is begun later, since working hours would miss its windows",
        "note",
        "begun at once, a coat would fall due when nobody works",
        "nothing; or work on that day",
    ),
    "batch-hands": Code(
        "a pack sets before the crew has laid it",
        "look",
        "resin that thickens in the tin is thrown away or laid too thick",
        "smaller packs, or more hands",
    ),
    "batch-packs": Code(
        "more packs are mixed than are ordered by weight",
        "look",
        "a mixed rest keeps to no other day or area, so the last packs run out",
        "order as many more, or smaller packs",
    ),
    "wash-late": Code(
        "grout is to be washed up when nobody works",
        "stop",
        "resin that sets on a tile's face comes off by grinding only",
        "mix the last sooner, or work longer that day",
    ),
}
