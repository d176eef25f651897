"""`python -m tests.recount PLAN… [--json FILE]`: 0 if every figure agrees, 1 if one does not.

Plans are set out by the installed command, as a reader would; `--seconds` stops after so much time.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import subprocess
import sys
import time
from functools import partial
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from tests.recount.mends import count_mends
from tests.recount.plans import count_plan
from tests.recount.tally import Tally


class RefusedError(Exception):
    """What the command says of a plan that it does not take."""


def record(path: Path, verb: str, *flags: str) -> dict[str, Any]:
    """What a verb of the command prints of a plan as JSON."""
    command = Path(sys.executable).with_name("gaugerod")
    done = subprocess.run([command, verb, path, "--json", "--quiet", *flags], capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        raise RefusedError(done.stderr.strip())
    result: dict[str, Any] = json.loads(done.stdout)
    return result


def again(path: Path, text: str) -> dict[str, Any]:
    """A changed plan set out, from a file beside its own: it may name others there."""
    with NamedTemporaryFile("w", encoding="utf-8", suffix=".toml", dir=path.parent) as file:
        file.write(text)
        file.flush()
        return record(Path(file.name), "setout", "--pieces")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("plans", nargs="+", type=Path)
    parser.add_argument("--json", type=Path, help="counts and what does not agree, as JSON")
    parser.add_argument("--seconds", type=float, default=1e9)
    given = parser.parse_args()
    tally, began, done = Tally(), time.monotonic(), 0
    for path in given.plans:
        if time.monotonic() - began > given.seconds:
            break
        text = path.read_text(encoding="utf-8")
        try:
            setout, bill = record(path, "setout", "--pieces"), record(path, "takeoff")
        except RefusedError as refused:
            tally.unjudged[f"{path.name}: {refused}"] += 1
            continue
        count_plan(tally, path.stem, text, setout, bill)
        count_mends(tally, text, setout, partial(again, path))
        done += 1
    print(f"{done} plans\n{tally.words()}")
    if given.json:
        found = {
            "plans": done,
            "right": tally.right,
            "unjudged": tally.unjudged,
            "wrong": [dataclasses.asdict(each) for each in tally.wrong],
        }
        given.json.write_text(json.dumps(found, ensure_ascii=False, default=float), encoding="utf-8")
    return 1 if tally.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
