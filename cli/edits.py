"""A plan changed in place: read, changed, checked, and only then written; with `-` from standard input to standard output."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import layout

if TYPE_CHECKING:
    from collections.abc import Callable

    from cli.talk import Talk


def edit(file: Path, change: Callable[[str], str], out: Path | None, say: Talk) -> layout.Plan:
    """Change a plan's text and write it: into `out`, else into the plan itself; the plan as it is then.

    Raises
    ------
    PlanError, PlanFaults
        If the changed plan is not valid; then nothing is written.
    OutputError
        If the file changed under the hand, or cannot be written.
    """
    text = layout.read_text(file)
    changed = change(text)
    plan = layout.parse_plan(changed, layout.source_name(file), folder=file.parent)
    streams = [each for each in (file, out) if each is not None]
    target = out or file
    if str(target) == "-" or (out is None and any(str(each) == "-" for each in streams)):
        say.data(changed)
        return plan
    if out is not None:
        layout.write_whole(out, changed.encode(), inputs=[file], force=say.force)
        return plan
    if layout.read_text(file) != text:
        raise layout.OutputError(str(file), "it was changed by another program meanwhile", "give the command again")
    layout.write_whole(file, changed.encode(), force=True)  # the plan is named to be changed: its own text, with one thing in it
    return plan


def room_index(plan: layout.Plan, wanted: str | None) -> int:
    """The place of a room that is named or numbered from 1; the only one where none is.

    Raises
    ------
    PlanError
        If it is not told which, or there is no such room.
    """
    names = [room.name for room in plan.rooms]
    if wanted is None:
        if len(names) == 1:
            return 0
        raise layout.PlanError("--room", f"{plan.source} has {len(names)} rooms", "say which: --room NAME, of " + ", ".join(names[:12]))
    if wanted in names:
        return names.index(wanted)
    if wanted.isascii() and wanted.isdecimal() and 1 <= int(wanted[:6]) <= len(names):
        return int(wanted) - 1
    import difflib

    near = difflib.get_close_matches(wanted[:100], names, n=1)
    mend = f"did you mean {near[0]!r}?" if near else "rooms are " + ", ".join(names[:12])
    raise layout.PlanError("--room", f"there is no room {wanted[:100]!r}", mend)


def own_room(text: str, plan: layout.Plan, index: int) -> int:
    """The place of a room in the plan's own text.

    Raises
    ------
    PlanError
        If the room stands in a file that the plan includes.
    """
    import tomllib

    if index < len(tomllib.loads(text).get("rooms", [])):
        return index
    raise layout.PlanError(plan.source, f"{plan.rooms[index].name!r} stands in a file that it includes", "name that file instead")
