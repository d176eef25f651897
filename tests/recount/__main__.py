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
from pathlib import Path
from typing import Any

from tests.recount.plans import count_plan
from tests.recount.tally import Tally


def records(path: Path) -> tuple[dict[str, Any], dict[str, Any]] | str:
    """What `setout --json --pieces` and `takeoff --json` print; what the command says where it refuses the plan."""
    command = Path(sys.executable).with_name("gaugerod")
    made = []
    for verb in (["setout", str(path), "--json", "--pieces", "--quiet"], ["takeoff", str(path), "--json", "--quiet"]):
        done = subprocess.run([command, *verb], capture_output=True, text=True, check=False)
        if done.returncode not in (0, 1):
            return done.stderr.strip()
        made.append(json.loads(done.stdout))
    return made[0], made[1]


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
        made = records(path)
        if isinstance(made, str):
            tally.unjudged[f"{path.name}: {made}"] += 1
            continue
        count_plan(tally, path.stem, path.read_text(encoding="utf-8"), *made)
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
