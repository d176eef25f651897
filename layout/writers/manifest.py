"""What a folder holds of ours: each file with its hash, the plan it came from and the version that wrote it.

The manifest is a hidden file of the output folder. A file that it does not know, or whose bytes are others by now, was
made or changed by a person and is never written over. No time stands in it: the same plan gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

NAME = ".gaugerod.json"
SCHEMA = "gaugerod/manifest/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One file of ours: its hash; the plan it came from, as seen from the folder, and that plan's hash; the version of the tool.

    `kind` is the ending of a file that belongs to a set, empty for a file that was named by a person.
    """

    sha256: str
    plan: str = ""
    plan_sha256: str = ""
    kind: str = ""
    version: str = ""


def digest(path: Path) -> str:
    """SHA-256 of a file's bytes, in hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def digest_of(plan: Path | None) -> str:
    """The same for a plan; empty where there is none, or where it is a pipe, which can be read once only."""
    try:
        return digest(plan) if plan is not None and plan.is_file() else ""
    except OSError:
        return ""


def seen_from(folder: Path, plan: Path | None) -> str:
    """A plan's path as seen from a folder, so that both can be moved together."""
    if plan is None:
        return ""
    try:
        return Path(os.path.relpath(plan.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return plan.resolve().as_posix()


def read_manifest(folder: Path) -> dict[str, Entry]:
    """The files of ours in a folder, by name; none where the manifest is missing or is none."""
    try:
        record = json.loads((folder / NAME).read_text(encoding="utf-8"))
        if record["schema"] != SCHEMA:
            return {}
        return {str(name): Entry(**{key: str(value) for key, value in entry.items()}) for name, entry in record["files"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def manifest_text(entries: dict[str, Entry]) -> str:
    """The manifest as it is written."""
    files: dict[str, Any] = {name: {key: value for key, value in asdict(entries[name]).items() if value} for name in sorted(entries)}
    return json.dumps({"schema": SCHEMA, "files": files}, indent=1, ensure_ascii=False) + "\n"
