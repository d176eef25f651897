"""What part of a run the audit of a set-out by its pieces takes, for each plan given: of the run without its sheets, and of all of it.

Run: python -m tests.benchmarks.auditing PLAN...
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from typer.testing import CliRunner

import layout
from layout.memo import afresh


def shares(plan: str) -> tuple[float, float, float]:
    """CPU of the audit, s; its part of set-out, take-off, works and their records; its part of the whole `run`, all files written."""
    from cli.main import app  # after what it is timed against was imported

    with afresh():
        start = time.process_time()
        setout = layout.set_out(layout.read_plan(plan))
        before = time.process_time()
        checked = layout.audited(setout)
        after = time.process_time()
        takeoff = layout.take_off(checked)
        layout.plan_works(takeoff)
        layout.setout_record(checked, pieces=True)
        layout.takeoff_record(takeoff, layout.place_orders(takeoff))
        bare = time.process_time() - start
    with afresh(), tempfile.TemporaryDirectory() as folder:
        start = time.process_time()
        done = CliRunner().invoke(app, ["run", plan, "-o", str(Path(folder) / "run"), "--dpi", "60", "-q"])
        whole = time.process_time() - start
    assert done.exit_code == 0, done.output
    return after - before, (after - before) / bare, (after - before) / whole


def main(plans: list[str]) -> None:
    """Measure and print."""
    for plan in plans:
        seconds, bare, whole = shares(plan)
        print(f"{Path(plan).stem}: audit {seconds * 1000:.0f} ms of CPU, {bare:.1%} of a run without sheets, {whole:.1%} with", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
