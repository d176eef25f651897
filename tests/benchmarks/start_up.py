"""Start-up as ratios in one run: processor time of fresh interpreters, medians of interleaved repeats.

Run: python -m tests.benchmarks.start_up. Goals: `--help` at most 2.5 times `import typer`; `setout --json` of
the canteen at most 2 times `import numpy, shapely, typer`.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
from pathlib import Path

PLAN = Path(__file__).parent.parent.parent / "plans" / "canteen.toml"
CASES = {
    "import typer": ["-c", "import typer"],
    "gaugerod --help": ["-m", "cli.main", "--help"],
    "import numpy, shapely, typer": ["-c", "import numpy, shapely, typer"],
    "gaugerod setout --json": ["-m", "cli.main", "setout", str(PLAN), "--json"],
}
RATIOS = [("gaugerod --help", "import typer", 2.5), ("gaugerod setout --json", "import numpy, shapely, typer", 2.0)]


def cpu(arguments: list[str]) -> float:
    """Processor seconds of one fresh interpreter."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=True, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(repeats: int = 11) -> None:
    """Measure and print."""
    times: dict[str, list[float]] = {name: [] for name in CASES}
    for _ in range(repeats):
        for name, arguments in CASES.items():
            times[name].append(cpu(arguments))
    for name, peer, goal in RATIOS:
        ratio = statistics.median(times[name]) / statistics.median(times[peer])
        print(f"{name}: {ratio:.2f} times {peer} (goal {goal:g})")


if __name__ == "__main__":
    main()
