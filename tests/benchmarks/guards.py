"""What trust costs: the time in bounds, manifest, journal, hashes and the change of hands, to a whole `run`: `python -m tests.benchmarks.guards [PLAN]`.

Each run replaces the set of the one before it, which costs more than a first one. CPU of this process, and time by the clock, in which
waiting for the disk counts.
"""

from __future__ import annotations

import functools
import importlib
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from typer.testing import CliRunner

if TYPE_CHECKING:
    from collections.abc import Callable

PLAN = Path(__file__).parent.parent.parent / "plans" / "canteen.toml"
GUARDS = {
    "layout.budgets": ("heed", "in_force"),
    "layout.readers.texts": ("check_text",),
    "layout.plan.plausible": ("size_faults",),
    "layout.lining.references": ("_check_shape", "_check_count"),
    "layout.writers.handover": ("recover", "clear"),
    "layout.writers.manifest": ("digest", "digest_of", "read_manifest", "manifest_text", "seen_from"),
}
"""Functions that guard, by their module."""
OF_A_BATCH = ("__init__", "finish", "drop")
"""The same of `layout.writers.files.Batch`; the change of hands and its waiting for the disk is within the second."""


class Clock:
    """Time within what is wrapped, the outermost alone: CPU and by the clock, s."""

    def __init__(self) -> None:
        self.cpu = self.wall = 0.0
        self.calls = self._depth = 0

    def wrapped(self, work: Callable[..., Any]) -> Callable[..., Any]:
        """A function that is timed."""

        @functools.wraps(work)
        def timed(*given: Any, **named: Any) -> Any:
            if self._depth:
                return work(*given, **named)
            self._depth, self.calls = 1, self.calls + 1
            cpu, wall = time.process_time(), time.perf_counter()
            try:
                return work(*given, **named)
            finally:
                self.cpu += time.process_time() - cpu
                self.wall += time.perf_counter() - wall
                self._depth = 0

        return timed

    def watch(self) -> None:
        """Put a timed one in the place of each guard, wherever it was imported to."""
        for name, functions in GUARDS.items():
            for function in functions:
                plain = getattr(importlib.import_module(name), function)
                timed = self.wrapped(plain)
                for module in [each for key, each in sys.modules.items() if key.partition(".")[0] in ("layout", "cli")]:
                    for own in [key for key, value in vars(module).items() if value is plain]:
                        setattr(module, own, timed)
        batch = importlib.import_module("layout.writers.files").Batch
        for method in OF_A_BATCH:
            setattr(batch, method, self.wrapped(getattr(batch, method)))


def main(given: list[str] | None = None, repeats: int = 5) -> tuple[float, float]:
    """Shares of CPU and of time by the clock, medians over runs that each replace the set before."""
    from cli.main import app  # after what it is timed against was imported

    plan = (given or [str(PLAN)])[0]
    clock = Clock()
    clock.watch()
    shares: list[tuple[float, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        for k in range(repeats + 1):
            clock.cpu, clock.wall, clock.calls = 0.0, 0.0, 0
            cpu, wall = time.process_time(), time.perf_counter()
            said = CliRunner().invoke(app, ["run", plan, "-o", folder, "--force"])
            if said.exit_code not in (0, 1):
                raise SystemExit(said.output)
            cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
            if k:  # the first loads the libraries
                shares.append((clock.cpu / cpu, clock.wall / wall))
            print(
                f"run {k}: {clock.calls:,} calls, {clock.cpu:.3f} of {cpu:.1f} s of CPU, {clock.wall:.3f} of {wall:.1f} s by the clock",
                flush=True,
            )
    found = statistics.median(share for share, _ in shares), statistics.median(share for _, share in shares)
    print(f"medians: {found[0]:.4f} of the CPU, {found[1]:.4f} by the clock (goal 0.02)")
    return found


if __name__ == "__main__":
    main(sys.argv[1:] or None)
