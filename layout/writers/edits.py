"""Changes in a person's own plan text: values set, keys taken out, things added; comments, order and layout stay.

Whatever way a text is changed, it is read again and must say what it said before with the change in it, and nothing else.
"""

from __future__ import annotations

import copy
import re
import tomllib
from typing import TYPE_CHECKING, Any

from layout.errors import PlanError
from layout.plan.kept import KEPT_JOINT, KEPT_LINE, KEPT_MARK
from layout.plan.values import PLAN_FILE
from layout.writers.planfile import container_of, item_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Point
    from layout.keys import Form
    from layout.plan.values import Plan
    from layout.survey.merging import Merge

    Steps = tuple[str | int, ...]

_ROOM = re.compile(r"^[ \t]*\[\[[ \t]*rooms[ \t]*\]\]", re.MULTILINE)
_TABLE = re.compile(r"^[ \t]*\[", re.MULTILINE)
_STEP = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([^."'\[\]]+)|\[(\d+)\])\s*(?:\.|(?=\[)|$)""")


def path_of(key: str) -> Steps:
    """A key as a person writes it, as a path: dots between steps, numbers in lists, names in quotes where they hold a dot.

    >>> path_of("tiles.floor.size"), path_of("rooms[0].drains.1.at"), path_of('rooms."Bay 1.2".name')
    (('tiles', 'floor', 'size'), ('rooms', 0, 'drains', 1, 'at'), ('rooms', 'Bay 1.2', 'name'))

    Raises
    ------
    PlanError
        If it is no such path.
    """
    steps: list[str | int] = []
    at = 0
    while at < len(key):
        found = _STEP.match(key, at)
        if found is None or found.end() == at:
            raise PlanError("KEY", f"{key!r} found", _MEND)
        quoted, single, bare, number = found.groups()
        if number is not None:
            steps.append(int(number[:9]))
        elif bare is not None:
            bare = bare.strip()
            steps.append(int(bare) if bare.isascii() and bare.isdecimal() and len(bare) < 10 else bare)
        else:
            steps.append(quoted if quoted is not None else single)
        at = found.end()
    if not steps or "" in steps:
        raise PlanError("KEY", f"{key!r} found", _MEND)
    return tuple(steps)


_MEND = "write the key as it stands in the plan: tiles.floor.size, rooms.0.tanking_height, or a room by its name"


def with_values(text: str, values: Mapping[Steps, Any], *, make: bool = False) -> str:
    """A plan's text with some values changed; comments, order and layout stay.

    `values` maps paths as ("rooms", 0, "tanking_height") to new values; None takes the key out. A step into a list may be
    the name of what is meant. `make`: tables that are missing on the way are made.

    Raises
    ------
    KeyError, IndexError, TypeError
        If a path leads nowhere.
    """
    import tomlkit  # noqa: PLC0415  # only where a plan is changed

    document: Any = tomlkit.parse(text)
    wanted: Any = tomllib.loads(text)
    for path, value in values.items():
        _put(document, path, value, make=make, made=tomlkit.table)
        _put(wanted, path, value, make=make, made=dict)
    return _checked(tomlkit.dumps(document), wanted)


def _put(table: Any, path: Steps, value: Any, *, make: bool, made: Any) -> None:  # noqa: ANN401  # tables of either library
    """Set one value, or take it out."""
    *way, last = path
    for step in way:
        if make and isinstance(table, dict) and step not in table:
            table[step] = made()
        table = table[_index(table, step)]
    at = _index(table, last)
    if value is None:
        del table[at]
    else:
        table[at] = copy.deepcopy(value) if made is dict else item_of(value)


def _index(table: Any, step: str | int) -> str | int:  # noqa: ANN401
    """A step as the table knows it: in a list by place or by name; a number that names a key as words."""
    if isinstance(table, list) and isinstance(step, str):
        names = [each.get("name") if isinstance(each, dict) else None for each in table]
        if names.count(step) != 1:
            raise KeyError(step)
        return names.index(step)
    if isinstance(table, dict) and isinstance(step, int):
        return str(step)
    return step


def with_thing(text: str, room: int, table: str, values: Mapping[str, Any], form: Form[Any]) -> str:
    """A plan's text with one more table in a list of a room's things: `[[rooms.drains]]` with its keys.

    It stands behind the last of its kind, else at the room's end. `values` are as a file holds them; `form` gives their order.
    """
    import tomlkit  # noqa: PLC0415

    wanted = tomllib.loads(text)
    wanted["rooms"][room].setdefault(table, []).append(dict(values))
    ordered = {name: values[name] for name in form.rows if name in values}
    lines = tomlkit.dumps(container_of(tomlkit.document(), form, ordered)).strip("\n")
    ends = "\r\n" if "\r\n" in text else "\n"
    block = f"[[rooms.{table}]]\n{lines}\n".replace("\n", ends)
    try:
        return _checked(_inserted(text, room, table, block, ends), wanted)
    except (PlanError, tomllib.TOMLDecodeError, IndexError):  # rooms written on one line, or headers within quotes
        document: Any = tomlkit.parse(text)
        own = document["rooms"][room]
        if table not in own:
            own[table] = item_of([])
        own[table].append(item_of(ordered))
        return _checked(tomlkit.dumps(document), wanted)


def with_starts(text: str, starts: Mapping[int, tuple[str, Point]]) -> str:
    """A plan's text with the start of some rooms' floors fixed: the name of the floor's tile by room, and a corner to start from.

    A tile that lies on other surfaces too stays as it is: the room gets one of its own, the same but for the start.
    """
    had = tomllib.loads(text)
    used = [room.get(key, kind) for room in had["rooms"] for key, kind in (("floor_tile", "floor"), ("wall_tile", "wall"))]
    values: dict[Steps, Any] = {}
    for room, (name, at) in starts.items():
        start = [round(at[0], 1), round(at[1], 1)]
        tile = {key: value for key, value in had.get("tiles", {}).get(name, {}).items() if key != "start_line"}
        if used.count(name) == 1:
            values[("tiles", name, "start")] = start
            if "start_line" in had.get("tiles", {}).get(name, {}):
                values[("tiles", name, "start_line")] = None
        else:
            own = f"{name} of room {room + 1}"
            values[("tiles", own)] = {**tile, "start": start}
            values[("rooms", room, "floor_tile")] = own
    return with_values(text, values, make=True)


def with_merge(text: str, merge: Merge) -> str:
    """A plan's text with what a drawing read again changes in it; comments, order and layout stay."""
    rooms: Any = PLAN_FILE.rows["rooms"].key.check
    for kind, values in merge.added:
        text = with_thing(text, merge.room, kind, values, rooms.part.rows[kind].key.check.part)
    return with_values(text, merge.values) if merge.values else text


def with_kept(text: str, plan: Plan, kept: Plan) -> str:
    """A plan's text with what is kept as keys of its own (`kept_lines`, `kept_joints`, `kept_marks`) in place of those that it had."""
    import tomlkit  # noqa: PLC0415

    had = tomllib.loads(text)
    out: dict[Steps, Any] = {}
    for k, (own, new) in enumerate(zip(plan.rooms, kept.rooms, strict=True)):
        for name in ("kept_lines", "kept_joints"):
            if getattr(own, name) != getattr(new, name) and name in had["rooms"][k]:
                out["rooms", k, name] = None
    if plan.kept_marks != kept.kept_marks and "kept_marks" in had:
        out["kept_marks",] = None
    text = with_values(text, out) if out else text
    for k, (own, new) in enumerate(zip(plan.rooms, kept.rooms, strict=True)):
        if own.kept_lines != new.kept_lines:
            for line in new.kept_lines:
                text = with_thing(text, k, "kept_lines", KEPT_LINE.write(line), KEPT_LINE)
        if own.kept_joints != new.kept_joints:
            for joint in new.kept_joints:
                text = with_thing(text, k, "kept_joints", KEPT_JOINT.write(joint), KEPT_JOINT)
    if plan.kept_marks == kept.kept_marks:
        return text
    wanted = tomllib.loads(text)
    wanted["kept_marks"] = {mark: KEPT_MARK.write(each) for mark, each in kept.kept_marks.items()}
    ends = "\r\n" if "\r\n" in text else "\n"
    blocks = [
        f"[kept_marks.{mark}]\n" + tomlkit.dumps(container_of(tomlkit.document(), KEPT_MARK, values)).strip("\n")
        for mark, values in wanted["kept_marks"].items()
    ]
    return _checked(text.rstrip() + ends * 2 + "\n\n".join(blocks).replace("\n", ends) + ends, wanted)


def _inserted(text: str, room: int, table: str, block: str, ends: str) -> str:
    """The text with a block put into a room's stretch of it."""
    heads = [found.start() for found in _ROOM.finditer(text)]
    start, stop = heads[room], heads[room + 1] if room + 1 < len(heads) else len(text)
    own = re.compile(rf"^[ \t]*\[\[[ \t]*rooms\.{table}[ \t]*\]\]", re.MULTILINE)
    last = [found.end() for found in own.finditer(text, start, stop)]
    if last:  # behind the last of its kind: up to the next table of another
        after = next((found.start() for found in _TABLE.finditer(text, last[-1], stop)), stop)
        stop = after
    head, tail = text[:stop], text[stop:]
    remarks = re.search(r"(?:[ \t]*#[^\n]*\r?\n)+\Z", head) if tail else None  # what stands above the next table belongs to it
    if remarks is not None:
        head, tail = head[: remarks.start()], head[remarks.start() :] + tail
    return head.rstrip() + ends * 2 + block + (ends + tail if tail else "")


def _checked(text: str, wanted: Mapping[str, Any]) -> str:
    """A changed text, if it says what it should and nothing else."""
    if tomllib.loads(text) != wanted:
        raise PlanError("the plan", "its text cannot be changed without touching what stands beside", "change it by hand")
    return text
