"""The long profile, by command: `python -m tests.fuzz.long --seconds 600 --seed 1 [--kind plan.dxf] [--keep FOLDER]`.

Each fault is told once by where it came from, and kept with its file, so that it can become a case of the corpus.
"""

from __future__ import annotations

import argparse
import hashlib
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

import numpy as np

from tests.fuzz.mutations import READERS, asked, cases

LONGEST = 20
"""A reader that takes longer for one small file is a fault too, s."""


def _too_long(*_: object) -> None:
    msg = f"over {LONGEST} s"
    raise TimeoutError(msg)


def main() -> int:
    """Mutate until the time is up; 1 if anything was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=sorted(READERS), action="append")
    parser.add_argument("--keep", type=Path, default=None)
    given = parser.parse_args()
    kinds = given.kind or sorted(READERS)
    rng = np.random.default_rng(given.seed)
    streams = {kind: cases(kind, rng) for kind in kinds}
    found: Counter[str] = Counter()
    counts: Counter[str] = Counter()
    slow = (0.0, "")
    signal.signal(signal.SIGALRM, _too_long)
    end = time.monotonic() + given.seconds
    with tempfile.TemporaryDirectory() as name:
        while time.monotonic() < end:
            for kind in kinds:
                data = next(streams[kind])
                begun = time.monotonic()
                signal.alarm(LONGEST)
                error = asked(kind, data, Path(name))
                signal.alarm(0)
                slow = max(slow, (time.monotonic() - begun, f"{kind} {hashlib.sha256(data).hexdigest()[:8]}"))
                counts[kind] += 1
                if error is None:
                    continue
                frames = traceback.extract_tb(error.__traceback__)
                own = [f for f in frames if "layout" in f.filename] or frames
                where = (
                    f"{kind}: {type(error).__name__} in {Path(own[-1].filename).name}:{own[-1].lineno}"
                    if own
                    else f"{kind}: words that steer the terminal"
                )
                if not found[where]:
                    print(f"{where}: {str(error)[:200]}", flush=True)
                    if given.keep is not None:
                        given.keep.mkdir(parents=True, exist_ok=True)
                        (given.keep / f"{hashlib.sha256(data).hexdigest()[:8]}-{kind}").write_bytes(data)
                found[where] += 1
    print(", ".join(f"{kind} {count:,}" for kind, count in sorted(counts.items())), f"slowest {slow[0]:.2f} s ({slow[1]})")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
