"""The two streams: tables in whatever letters the terminal has, data as UTF-8, talk that never stops the work."""

from __future__ import annotations

import contextlib
import os
import re
import sys

import layout
from cli.waiting import hush

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u2028-\u202e\u2066-\u2069]")
"""What a terminal obeys instead of showing: control characters, and marks that turn the way of writing."""
_PLAIN = str.maketrans(
    {
        "─": "-", "━": "-", "│": "|", "┃": "|", "╺": "-", "╸": "-", "╶": "-", "╴": "-", "–": "-", "—": "-", "−": "-", "…": "...",
        "→": "->", "×": "x", "·": "-", "□": "[ ]", "²": "2", "³": "3", "°": " deg", "≤": "<=", "≥": ">=", "“": '"', "”": '"', "’": "'", "•": "*", "±": "+-", "ρ": "rho",
    }
)  # fmt: skip
"""Letters of ours in plainer ones, for a terminal that lacks them."""


def printable(text: str) -> str:
    """Text as a terminal may have it: what it would obey is shown by its number, as JSON does."""
    return _CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def speak(text: str) -> None:
    """A line on standard error; if that is closed or full, the work goes on."""
    hush()
    with contextlib.suppress(OSError, ValueError):
        if sys.stderr is not None:
            sys.stderr.write(f"{printable(text)}\n")
            sys.stderr.flush()


def put_table(text: str) -> None:
    """Tables on standard output, with plainer letters where it has not ours.

    Raises
    ------
    OutputError
        If it is closed or full.
    """
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    if not _fits(text, encoding):
        text = "".join(each if _fits(each, encoding) else _plainer(each) for each in text)
        text = text.encode(encoding, "replace").decode(encoding)
    _put(text, raw=False)


def put_data(text: str) -> None:
    """JSON and CSV on standard output, as UTF-8 whatever the terminal speaks; as `put_table` otherwise."""
    tty = sys.stdout is not None and sys.stdout.isatty()
    _put(printable(text) if tty else text, raw=True)


def _fits(text: str, encoding: str) -> bool:
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _plainer(letter: str) -> str:
    """A letter in ours that a terminal lacks in plainer ones: from the table, else without its accent."""
    import unicodedata

    return letter.translate(_PLAIN) if ord(letter) in _PLAIN else unicodedata.normalize("NFKD", letter)[:1]


def _put(text: str, *, raw: bool) -> None:
    hush()
    if sys.stdout is None:
        raise layout.OutputError("standard output", "it is closed", "name a file with --out")
    try:
        if raw and hasattr(sys.stdout, "buffer"):
            sys.stdout.flush()
            sys.stdout.buffer.write(text.encode("utf-8", "replace"))
        else:
            sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        turn_aside()
        raise
    except OSError as error:
        turn_aside()
        found = f"it cannot be written ({error.strerror or error})"
        raise layout.OutputError("standard output", found, "make room there, or name a file with --out") from None


def turn_aside() -> None:
    """Let what is still held for standard output go nowhere, else the interpreter's own end fails over it."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        if sys.stdout.fileno() == 1:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.close(nowhere)
    with contextlib.suppress(OSError, ValueError, AttributeError):
        sys.stdout.close()  # what is held is tried once more here; later the interpreter would say that it failed (from 3.13 on)
    sys.stdout = None  # as where it is closed from the start


def hold_streams() -> None:
    """Have something stand at descriptors 0 to 2, so that no file of ours is opened at a closed one and written to as a stream."""
    for descriptor in range(3):
        try:
            os.fstat(descriptor)
        except OSError:
            with contextlib.suppress(OSError):
                os.open(os.devnull, os.O_RDWR)
