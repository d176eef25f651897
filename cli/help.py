"""How help is set: options in groups, what a verb has of its own first, and examples that can be typed as they stand."""

from __future__ import annotations

from typing import Any

from typer.core import TyperArgument, TyperCommand

EXAMPLES: dict[str, tuple[tuple[str, str], ...]] = {
    "run": (
        ("run kitchen.toml -o out", "everything into a folder"),
        ("run - -o out --paper A3 < kitchen.toml", "a plan from standard input"),
    ),
    "setout": (
        ("setout kitchen.toml", "start lines, cuts, joints, tape"),
        ("setout kitchen.toml --compare patterns", "patterns side by side"),
        ("setout kitchen.toml --why", "what limits the start, and what would free it"),
        ("setout kitchen.toml --set 'tiles.floor.size=[300,300]'", "what if the tile were another"),
    ),
    "takeoff": (
        ("takeoff kitchen.toml --rates rates.csv", "quantities, priced"),
        ("takeoff kitchen.toml -o bill.xlsx", "a workbook for the office"),
    ),
    "cuts": (("cuts kitchen.toml", "the fewest tiles, the saw list"), ("cuts kitchen.toml --stock floor=640", "what is short")),
    "changes": (
        ("changes old.toml new.toml", "what differs, room by room"),
        ("changes out/ new.toml --keep lines", "against an earlier run, its lines kept"),
    ),
    "programme": (
        ("programme kitchen.toml --start 2026-11-30T07:00", "stages and windows"),
        ("programme kitchen.toml --start 2026-11-30T07:00 --ical -o works.ics", "a calendar for the phone"),
    ),
    "sheets": (
        ("sheets kitchen.toml -o drawings", "DXF, PNG, PDF"),
        ("sheets kitchen.toml -o drawings --format pdf --paper A3", "one PDF on A3"),
    ),
    "page": (
        ("page kitchen.toml", "a page beside you, named after the plan"),
        ("page kitchen.toml -o phone.html", "under a name of your own"),
    ),
    "record": (
        ("record kitchen.toml --from ticks.json -o handing-over", "sheets and JSON from a phone's ticks"),
        ("record kitchen.toml --from ana.json --from bo.csv", "two phones, what is open"),
    ),
    "check": (("check kitchen.toml", "slips, and what to look at"), ("check --explain pond", "what a finding means")),
    "new": (
        ("new kitchen.toml", "questions, one after the other"),
        ("new kitchen.toml --walk '6500 L 2900 L 2400 R 1800 L 4100 L'", "a walk round the room"),
        ("new kitchen.toml --survey readings.csv", "walls and diagonals by tape"),
    ),
    "add": (
        ("add kitchen.toml gully --from-walls 1:1546 6:2947", "off two walls"),
        ("add kitchen.toml pipe diameter=110 --from-corners 3:2400 4:1800", "by two tapes"),
        ("add kitchen.toml door wall=1 from=left offset=900 width=1000", "a door"),
    ),
    "set": (
        ("set kitchen.toml tiles.floor.size '[300, 300]'", "another tile"),
        ("set kitchen.toml rooms.Wash-up.tanking_height 2000", "a room by its name"),
    ),
    "watch": (
        ("watch kitchen.toml", "a picture beside the plan, redrawn on each save"),
        ("watch kitchen.toml -o now.png --json", "for a program"),
    ),
    "read": (("read drawing.dxf -o plans", "a plan of each room"), ("read model.ifc --room Kitchen", "one room of a model")),
    "batch": (("batch plans", "every plan of a folder"), ("batch plans --json -o all.json", "as JSON into a file")),
    "schema": (("schema -o plan.schema.json", "for editors"), ("schema --table", "all keys, to read")),
    "doctor": (("doctor", "whether all is well"), ("doctor --licences", "what it is built on")),
}
"""Command lines of each verb with what they do, without the command's own name."""

ANSWER = ("as_json", "as_csv", "as_xlsx", "ical", "comma", "out", "keys")
ALWAYS = ("quiet", "no_colour", "force", "trace", "help")


class TradeCommand(TyperCommand):
    """A command whose help has its options in groups and its examples at the end."""

    def format_options(self, ctx: Any, formatter: Any) -> None:  # noqa: ANN401  # of the library's own, which it keeps private
        groups: dict[str, list[tuple[str, str]]] = {"Arguments": [], "Options": [], "The answer": [], "Always": []}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is None:
                continue
            if isinstance(param, TyperArgument):
                group = "Arguments"
            else:
                group = "The answer" if param.name in ANSWER else "Always" if param.name in ALWAYS else "Options"
            groups[group].append(record)
        for name, records in groups.items():
            if records:
                with formatter.section(name):
                    formatter.write_dl(records)

    def format_epilog(self, ctx: Any, formatter: Any) -> None:  # noqa: ANN401, ARG002  # as above
        with formatter.section("Examples"):
            for line, words in EXAMPLES.get(self.name or "", ()):
                formatter.write(f"{'':>{formatter.current_indent}}gaugerod {line}\n{'':>{formatter.current_indent + 4}}{words}\n")
