"""`gaugerod add`: a door, a drain, a pipe and the like into a plan, where two distances say it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

import layout
from cli.options import JsonFlag, OutFile, PlanArg
from cli.talk import DONE, Talk

if TYPE_CHECKING:
    from cli.things import Floor, Kind

EXAMPLES = (
    ("add kitchen.toml gully --from-walls 1:1546 6:2947", "off two walls"),
    ("add kitchen.toml pipe diameter=110 --from-corners 3:2400 4:1800", "by two tapes"),
    ("add kitchen.toml door wall=1 from=left offset=900 width=1000", "a door"),
)

PairOption = Annotated[
    tuple[str, str] | None,
    typer.Option("--from-walls", metavar="W:D W:D", help="two distances, square off two walls: 1:1546 6:2947", show_default=False),
]


ThingArg = Annotated[
    str,
    typer.Argument(
        metavar="THING",
        help="door, window, gully, channel, pipe, fixing, plinth, column, fall, joint, day-joint, pull, wall",
        show_default=False,
    ),
]
SideOption = Annotated[
    str | None,
    typer.Option("--side", metavar="SIDE", help="left or right of the way from the first corner to the second", show_default=False),
]


def command(
    plan: PlanArg,
    thing: ThingArg,
    values: Annotated[
        list[str] | None, typer.Argument(metavar="[KEY=VALUE]...", help="its keys, as in the plan", show_default=False)
    ] = None,
    *,
    say: Talk,
    from_walls: PairOption = None,
    to_walls: Annotated[
        tuple[str, str] | None,
        typer.Option("--to-walls", metavar="W:D W:D", help="the other end of a channel or joint, off two walls", show_default=False),
    ] = None,
    from_corners: Annotated[
        tuple[str, str] | None,
        typer.Option("--from-corners", metavar="C:D C:D", help="two tapes from two corners: 3:2400 4:1800", show_default=False),
    ] = None,
    side: SideOption = None,
    size: Annotated[
        str | None, typer.Option("--size", metavar="WxD", help="a plinth or column: along the first wall x off it", show_default=False)
    ] = None,
    room: Annotated[
        str | None, typer.Option("--room", metavar="NAME", help="name or number, where there are several rooms", show_default=False)
    ] = None,
    as_json: JsonFlag = False,
    out: OutFile = None,
) -> int:
    """A thing into a plan, its comments kept."""
    from cli.edits import edit, own_room, room_index
    from cli.things import Floor, kind_of

    kind = kind_of(thing)
    given = _given(kind, values or [], thing)
    flags = Flags(from_walls, to_walls, from_corners, side, size)
    said: list[str] = []

    def change(text: str) -> str:
        before = layout.parse_plan(text, layout.source_name(plan), folder=plan.parent)
        index = own_room(text, before, room_index(before, room))
        where = placed(kind, Floor(before.rooms[index]), thing, flags, said)
        return layout.with_thing(text, index, kind.table, {**given, **where}, kind.form)

    after = edit(plan, change, out, say)
    for words in said:
        say.tell(words)
    if as_json and str(plan) != "-":
        own = getattr(after.rooms[room_index(after, room)], kind.table)[-1]
        say.data(
            layout.to_json(
                {"schema": "gaugerod/add/1", "plan": str(out or plan), "added": thing, "table": kind.table, "values": kind.form.write(own)}
            )
        )
    say.tell(f"added a {thing} to {out or plan}; next: gaugerod check {out or plan}")
    return DONE


def _given(kind: Kind, values: list[str], thing: str) -> dict[str, Any]:
    """Keys as a person writes them behind the thing, as a plan holds them."""
    from cli.things import read_key

    given = dict(kind.given)
    for text in values:
        name, sign, value = text.partition("=")
        if not sign:
            raise layout.PlanError(thing, f"{text!r} found", "write its keys as KEY=VALUE: diameter=110")
        given[name.strip()] = read_key(kind.form, name.strip(), value, thing)
    return given


class Flags(NamedTuple):
    """Where a thing stands, as the flags say it."""

    from_walls: tuple[str, str] | None = None
    to_walls: tuple[str, str] | None = None
    from_corners: tuple[str, str] | None = None
    side: str | None = None
    size: str | None = None


def placed(kind: Kind, floor: Floor, word: str, flags: Flags, said: list[str]) -> dict[str, Any]:
    """The keys that the flags of a place give; what two tapes found goes into `said`.

    Raises
    ------
    PlanError
        If flags contradict, or a thing of that kind is not placed so.
    """
    from cli.things import as_pair, side_of, sized

    walls, corners = flags.from_walls, flags.from_corners
    if walls is not None and corners is not None:
        raise layout.PlanError("--from-walls", "--from-corners is given too", "give one of them")
    if flags.to_walls is not None and not kind.line:
        raise layout.PlanError("--to-walls", f"a {word} has no other end", "it goes with a channel or a joint")
    if kind.solid:
        if walls is None and flags.size is None and corners is None:
            return {}
        if walls is None or flags.size is None:
            raise layout.PlanError(word, "its size or its place is missing", "give --from-walls 1:1200 4:600 --size 1300x800")
        return {"outline": floor.box(*walls, sized(flags.size, "--size"))}
    if flags.size is not None:
        raise layout.PlanError("--size", "it goes with a plinth or a column", "write size= or frame= as the plan does")
    points: list[list[float]] = []
    if corners is not None:
        place = floor.from_corners(*corners)
        said.append(place.said)
        points.append(as_pair(side_of(place, flags.side)))
    for pair in (walls, flags.to_walls):
        if pair is not None:
            points.append(as_pair(floor.off_walls(*pair).points[0]))
    if not points:
        return {}
    keys = set(kind.form.rows)
    if "line" in keys and len(points) == 2:
        return {"line": points}
    names = ("from", "to") if kind.line and "line" not in keys else ("at",)
    if len(points) != len(names) or names[0] not in keys or not kind.spot:
        how = "by two ends, --from-walls and --to-walls" if kind.line else "by wall=, offset= and from="
        raise layout.PlanError(word, f"{len(points)} places given", f"it is placed {how}" if not kind.spot else "give each end once")
    return dict(zip(names, points, strict=True))
