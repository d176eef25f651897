"""`gaugerod set`: one key of a plan given another value, its comments kept."""

from __future__ import annotations

from typing import Annotated, Any

import typer

import layout
from cli.options import JsonFlag, OutFile, PlanArg
from cli.talk import DONE, Talk

EXAMPLES = (
    ("set kitchen.toml tiles.floor.size '[300, 300]'", "another tile"),
    ("set kitchen.toml rooms.Wash-up.tanking_height 2000", "a room by its name"),
)


def command(
    plan: PlanArg,
    key: Annotated[str, typer.Argument(metavar="KEY", help="as tiles.floor.size, or rooms.Wash-up.tanking_height", show_default=False)],
    value: Annotated[
        str | None, typer.Argument(metavar="VALUE", help="as in the plan: 300, [300, 300], a word", show_default=False)
    ] = None,
    *,
    say: Talk,
    remove: Annotated[bool, typer.Option("--remove", help="take the key out: its default holds again")] = False,
    as_json: JsonFlag = False,
    out: OutFile = None,
) -> int:
    """One key of a plan set, its comments kept."""
    from cli.edits import edit

    if (value is None) != remove:
        raise layout.PlanError(
            "VALUE", "it is missing" if not remove else "--remove is given too", "give KEY and VALUE, or KEY and --remove"
        )
    path = layout.path_of(key)
    wanted = None if value is None else as_toml(value)

    def change(text: str) -> str:
        try:
            return layout.with_values(text, {path: wanted}, make=not remove)
        except (KeyError, IndexError, TypeError, ValueError):
            raise layout.PlanError(layout.source_name(plan), f"{key} leads nowhere", meant(text, path)) from None

    edit(plan, change, out, say)
    if as_json and str(plan) != "-":
        say.data(layout.to_json({"schema": "gaugerod/set/1", "plan": str(out or plan), "key": key, "value": wanted}))
    say.tell(f"{key} {'taken out of' if remove else f'is {value} in'} {out or plan}")
    return DONE


def meant(text: str, path: tuple[str | int, ...]) -> str:
    """What may be meant by a path that leads nowhere: the nearest key or name where it first goes astray."""
    import difflib
    import tomllib

    table: Any = tomllib.loads(text)
    for step in path:
        if isinstance(table, list):
            known = {str(each.get("name", k)): each for k, each in enumerate(table) if isinstance(each, dict)}
            known |= {str(k): each for k, each in enumerate(table)}
        else:
            known = {str(name): each for name, each in table.items()} if isinstance(table, dict) else {}
        if str(step) not in known:
            near = difflib.get_close_matches(str(step)[:100], known, n=1)
            if near:
                return f"did you mean {near[0]!r} for {str(step)!r}?"
            break
        table = known[str(step)]
    return "write it as it stands in the plan, as tiles.floor.size or rooms.0.drains.0.at; plans/keys.md lists all keys"


def as_toml(text: str) -> Any:  # noqa: ANN401  # whatever a plan file may hold
    """A value as TOML writes it; a word without quotes is a word.

    >>> as_toml("[300, 300]"), as_toml("running"), as_toml("true")
    ([300, 300], 'running', True)
    """
    import tomllib

    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError, KeyError):
        return text.strip()
