"""How help is set: options in groups, what a verb has of its own first, and examples that can be typed as they stand."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

from typer.core import TyperArgument, TyperCommand

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable


def examples_of(work: Callable[..., int]) -> tuple[tuple[str, str], ...]:
    """Command lines of a verb with what they do, without the command's own name: the `EXAMPLES` of its file."""
    found: tuple[tuple[str, str], ...] = sys.modules[work.__module__].EXAMPLES
    return found


def told(examples: Iterable[tuple[str, str]]) -> str:
    """Examples as the end of a help: each command line, and under it what it does."""
    return "\n".join(f"gaugerod {line}\n{words}" for line, words in examples)


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
            for k, line in enumerate((self.epilog or "").splitlines()):
                formatter.write(f"{'':>{formatter.current_indent + 4 * (k % 2)}}{line}\n")
