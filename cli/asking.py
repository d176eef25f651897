"""Questions to a person, one after the other: wrong answers asked again with the reason, a step back at any time.

A dialogue is a function that asks and comes to a result. Every answer is kept in order; a step back forgets the last one and goes through
the dialogue again with the others. So the dialogue itself knows nothing of going back, and no half-made state can be left over.
"""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from typing import TYPE_CHECKING, TypeVar

import layout
from cli.streams import printable, speak
from cli.waiting import hush

if TYPE_CHECKING:
    from collections.abc import Callable

    T = TypeVar("T")

R = TypeVar("R")
BACK = ("<", "back")
"""What takes a step back."""
LEAST_WIDTH, MOST_WIDTH = 24, 100


class StepBack(Exception):  # noqa: N818  # no error: a person's wish
    """The last answer is to be forgotten."""


class LeftOpen(Exception):  # noqa: N818  # told by the verb in its own words
    """Standard input ended before the questions did."""


def width() -> int:
    """Columns of the terminal that questions are put on: COLUMNS first, as everywhere."""
    return max(LEAST_WIDTH, min(shutil.get_terminal_size((80, 24)).columns, MOST_WIDTH))


class Asking:
    """Asks on standard error, reads from standard input; `again` is what was answered before a step back."""

    def __init__(self) -> None:
        self.given: list[str] = []
        self.again = ""
        self._at = 0

    @property
    def fresh(self) -> bool:
        """Whether the next question is put to the person, and not answered from what is kept."""
        return self._at >= len(self.given)

    @property
    def count(self) -> int:
        """How many answers there are so far."""
        return len(self.given)

    def hold(self, dialogue: Callable[[Asking], R]) -> R:
        """A dialogue to its end, with as many steps back as the person takes."""
        while True:
            self._at = 0
            try:
                return dialogue(self)
            except StepBack:
                self.again = self.given.pop() if self.given else ""

    def tell(self, text: str) -> None:
        """Words between questions, where they are not a repetition."""
        if self.fresh:
            speak(text)

    def __call__(self, words: str, read: Callable[[str], T], default: str | None = None) -> T:
        """The answer to a question, as `read` takes it; asked again with the reason for as long as that refuses it."""
        if not self.fresh:
            kept = self.given[self._at]
            self._at += 1
            return read(kept)
        default = self.again or default
        self.again = ""
        while True:
            answer = self._answer(words, default)
            if answer.lower() in BACK:
                if not self.given:
                    speak("this is the first question")
                    continue
                raise StepBack
            try:
                value = read(answer)
            except layout.LayoutError as error:
                for line in str(error).splitlines():
                    speak(f"  {line}")
                continue
            self.given.append(answer)
            self._at += 1
            return value

    def _answer(self, words: str, default: str | None) -> str:
        """One line of a person; the default where it is empty."""
        shown = f" [{default}]" if default else ""
        lines = textwrap.wrap(printable(f"{words}{shown}:"), width() - 2, break_long_words=False) or [":"]
        for line in lines[:-1]:
            speak(line)
        hush()
        if sys.stderr is not None:
            sys.stderr.write(lines[-1])
            sys.stderr.flush()
        try:
            typed = input(" ") if _by_hand() else _line()
            if not _by_hand():
                speak("")
        except UnicodeDecodeError:
            return "\ufffd"
        except EOFError:
            speak("")
            raise LeftOpen from None
        return typed.strip() or (default or "")


def _by_hand() -> bool:
    return (
        sys.stdin is not None and sys.stdin.isatty() and sys.stdout is not None and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"
    )


def _line() -> str:
    """A line of standard input that is no terminal."""
    line = sys.stdin.readline() if sys.stdin is not None else ""
    if not line:
        raise EOFError
    return line
