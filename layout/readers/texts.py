"""Text of files that a person made, with one clear message where there is none."""

from __future__ import annotations

from pathlib import Path

from layout.errors import PlanError

MOST_BYTES = 20_000_000


def read_text(path: str | Path) -> str:
    """Text of a file a person made.

    Raises
    ------
    PlanError
        If it is missing, a folder, too big, empty or not UTF-8.
    """
    path = Path(path)
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise PlanError(name, "it is a folder", "name the plan file in it")
        if path.stat().st_size > MOST_BYTES:
            raise PlanError(name, f"it is larger than {MOST_BYTES // 1_000_000} MB", "give a plan file")
        raw = path.read_bytes()
    except FileNotFoundError:
        raise PlanError(name, "there is no such file", "check the path, or see the plans folder for examples") from None
    except OSError as error:
        raise PlanError(name, f"it cannot be read ({error.strerror})", "check the path and its permissions") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise PlanError(name, f"line {line} is not UTF-8 text", "save the file as UTF-8") from None
    if not text.strip():
        raise PlanError(name, "it is empty", "start with [[rooms]], a name and an outline")
    return text
