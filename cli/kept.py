"""What a batch keeps while it runs, so that it can go on where it was stopped: one line for each plan that is done.

A line counts as long as the plan, the files read with it, the rates and the tool's version are what they were.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import layout

if TYPE_CHECKING:
    from pathlib import Path

NAME = ".gaugerod-batch.jsonl"


def state_of(plan: Path, rates: Path | None) -> str:
    """What a plan's result hangs on, as a hash."""
    found = hashlib.sha256(layout.__version__.encode())
    for path in (plan, *layout.files_with(plan), *([rates] if rates else [])):
        found.update(path.name.encode())
        with suppress(OSError):
            found.update(hashlib.sha256(path.read_bytes()).digest())
    return found.hexdigest()


class Kept:
    """The results of one folder's plans, read with `resume`, else begun anew; each is written as it comes."""

    def __init__(self, folder: Path, rates: Path | None, *, resume: bool) -> None:
        self.path, self.rates = folder / NAME, rates
        self.known: dict[str, Any] = {}
        if resume:
            with suppress(OSError):
                for line in self.path.read_text(encoding="utf-8").splitlines():
                    with suppress(ValueError, TypeError, KeyError):  # the line that was being written when it stopped
                        entry = json.loads(line)
                        self.known[entry["state"]] = layout.plan_work(entry["work"])
        else:
            self.drop()

    def of(self, plan: Path) -> layout.PlanWork | None:
        """The result of a plan as it is now."""
        found: layout.PlanWork | None = self.known.get(state_of(plan, self.rates))
        return found

    def add(self, plan: Path, work: layout.PlanWork) -> None:
        """Keep a result; one with a fault is done again the next time. A folder that cannot be written keeps nothing."""
        if work.fault:
            return
        line = json.dumps({"state": state_of(plan, self.rates), "work": asdict(work)}, default=sorted)
        with suppress(OSError), self.path.open("a", encoding="utf-8") as file:
            file.write(f"{line}\n")

    def drop(self) -> None:
        """Nothing is left to go on with."""
        with suppress(OSError):
            self.path.unlink(missing_ok=True)
