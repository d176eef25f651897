"""What a verb says: answers on standard output or into a file, talk and progress on standard error; and its exit status."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

import layout
from cli.streams import put_data, put_table, speak
from cli.waiting import go_on, hush

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path
    from typing import TypeVar

    T = TypeVar("T")

DONE = 0
BINDING = 1
BAD_INPUT = 2


class Talk(NamedTuple):
    """How a verb speaks: `quiet` without talk, `plain` without colour; and whether it may write over (`force`)."""

    quiet: bool = False
    plain: bool = False
    force: bool = False

    def tell(self, text: str) -> None:
        """Talk, unless it is unwanted."""
        if not self.quiet:
            speak(text)

    def warn(self, text: str) -> None:
        """A fault of what was given: said in any case."""
        speak(text)

    def answer(self, text: str, out: Path | None = None, *, plan: Path | None = None, inputs: Sequence[Path] = ()) -> None:
        """Print tables, or write them whole to a file, never over what they were made from."""
        text = text if text.endswith("\n") else f"{text}\n"
        if _is_stream(out):
            put_table(text)
        else:
            self._write(text, out, plan, inputs)

    def data(self, text: str, out: Path | None = None, *, plan: Path | None = None, inputs: Sequence[Path] = ()) -> None:
        """Print what programs read, or write it; UTF-8 in any case."""
        if _is_stream(out):
            put_data(text if text.endswith("\n") else f"{text}\n")
        else:
            self._write(text, out, plan, inputs)

    def _write(self, text: str, out: Path | None, plan: Path | None, inputs: Sequence[Path]) -> None:
        assert out is not None  # asked by the callers
        data = text.encode("utf-8", "replace")
        layout.write_whole(out, data, plan=plan, inputs=[*inputs, *read_beside(plan)], force=self.force)

    @contextmanager
    def batch(
        self, folder: Path, *, plan: Path | None = None, inputs: Sequence[Path] = (), whole_set: bool = True
    ) -> Iterator[layout.Batch]:
        """A folder's files, whole or nothing; what became of an earlier run's files is told."""
        read = [*inputs, *read_beside(plan)]
        with layout.whole_or_nothing(folder, plan=plan, inputs=read, force=self.force, whole_set=whole_set) as batch:
            yield batch
        for line in batch.said:
            self.tell(line)

    def bare(self, out: Path | None) -> bool:
        """Whether an answer goes without colour."""
        return self.plain or not _is_stream(out)

    def status(self, setout: layout.SetOut) -> int:
        """1 if a binding rule is broken, which is said."""
        broken = setout.binding_findings()
        for finding in broken:
            self.tell(f"binding: {finding.code}: {finding.text}")
        return BINDING if broken else DONE

    def watched(self, rows: Iterable[T], count: int, words: str) -> list[T]:
        """All of some rows, with a progress bar on standard error where a person looks on."""
        if self.quiet or not _looked_on():
            return list(rows)
        from rich.console import Console
        from rich.progress import track

        hush()
        return list(track(rows, total=count, description=words, console=Console(stderr=True), transient=True))

    @contextmanager
    def progress(self, count: int, words: str) -> Iterator[Callable[[], None]]:
        """A progress bar where a person looks on, else one line; gives what to call after each step."""
        if self.quiet or not _looked_on():
            self.tell(f"{words} …")
            go_on()
            yield lambda: None
            return
        from rich.console import Console
        from rich.progress import Progress

        hush()
        with Progress(console=Console(stderr=True), transient=True) as bar:
            task = bar.add_task(words, total=count)
            yield lambda: bar.advance(task)
        go_on()


def _is_stream(out: Path | None) -> bool:
    """Whether an answer goes to standard output: where no file is named, or - is."""
    return out is None or str(out) == "-"


def _looked_on() -> bool:
    return sys.stderr is not None and sys.stderr.isatty()


def read_beside(plan: Path | None) -> list[Path]:
    """Files that a plan names and that are read with it."""
    return layout.files_with(plan) if plan is not None else []
