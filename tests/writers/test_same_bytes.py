"""Same plan in, same bytes out: whatever the hash seed, the time zone, the language, the home, the working folder, the hour."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

PLAN = """
[project]
title = "Same bytes"
number = "SB-1"
date = 2026-11-24
revision = "A"
[tiles.floor]
size = [200, 200]
joint = 6
[[rooms]]
name = "Küche"
outline = [[0, 0], [3000, 0], [3000, 2000], [1800, 2000], [1800, 2600], [0, 2600]]
tanking_height = 300
[[rooms.openings]]
wall = 1
offset = 900
width = 900
[[rooms.drains]]
kind = "gully"
at = [1500, 1000]
[[rooms.falls]]
to = "gully 1"
ratio = 60
[[rooms.pipes]]
at = [600, 600]
diameter = 110
"""
CODE = "import sys; sys.argv[0] = 'gaugerod'; import cli.verbs.run as run; run.KINDS += ('svg',); from cli.main import run_app; run_app()"


def made(folder, env, plan):
    env = {**os.environ, "PYTHONPATH": str(Path.cwd()), **env}
    line = [sys.executable, "-c", CODE, "run", plan, "-o", str(folder / "out"), "--dpi", "40"]
    done = subprocess.run(line, cwd=folder, env=env, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    files = {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    return files, done.stdout.decode(errors="replace")


ZONES, TONGUES, HOMES = ("UTC", "Asia/Kathmandu", "America/St_Johns"), ("C", "C.UTF-8", "de_DE.UTF-8"), ("/", "/nowhere", None)


def under(top, seed):
    """The files of a run with a hash seed, its zone, language, home, threads, cores and way of naming the plan by the seed."""
    folder = top / f"place-{seed}"
    folder.mkdir()
    (folder / "k.toml").write_text(PLAN, encoding="utf-8")
    tongue = TONGUES[seed % 3]
    env = {
        "PYTHONHASHSEED": str(seed),
        "TZ": ZONES[seed % 3],
        "LC_ALL": tongue,
        "LANG": tongue,
        "HOME": HOMES[seed // 3 % 3] or str(top),
        "OMP_NUM_THREADS": str(1 + seed % 2),
    }
    cores = os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else set()
    if len(cores) > 1 and seed % 2:
        os.sched_setaffinity(0, {min(cores)})  # the run is given it too
    try:
        return made(folder, env, "k.toml" if seed % 2 else str(folder / "k.toml"))[0]
    finally:
        if len(cores) > 1:
            os.sched_setaffinity(0, cores)


def differing(top, seeds):
    """Names of files that are not the same byte for byte under all seeds; and all names."""
    first, *others = (under(top, seed) for seed in seeds)
    return sorted({name for other in others for name in {*first, *other} if first.get(name) != other.get(name)}), sorted(first)


def test_all_formats_are_the_same_byte_for_byte(tmp_path):
    """Two settings that differ in everything; `python -m tests.writers.test_same_bytes` tries hash seeds 0 to 9."""
    other, names = differing(tmp_path, (3, 4))
    assert {name.rpartition(".")[2] for name in names} >= {"dxf", "pdf", "png", "svg", "json", "csv", "xlsx", "toml"}
    assert other == []


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        found, every = differing(Path(place), range(10))
    print(f"{len(every)} files under hash seeds 0 to 9: {', '.join(found) or 'all the same'}")
    sys.exit(1 if found else 0)
