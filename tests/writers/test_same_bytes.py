"""Same plan in, same bytes out: whatever the hash seed, the time zone, the language, the home, the working folder, the hour."""

from __future__ import annotations

import os
import subprocess
import sys
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


def test_all_formats_are_the_same_byte_for_byte(tmp_path):
    results = []
    for k, env in enumerate(
        (
            {"PYTHONHASHSEED": "3", "TZ": "UTC", "LC_ALL": "C", "HOME": str(tmp_path), "OMP_NUM_THREADS": "1"},
            {
                "PYTHONHASHSEED": "4",
                "TZ": "Asia/Kathmandu",
                "LC_ALL": "C.UTF-8",
                "HOME": "/",
                "LANG": "de_DE.UTF-8",
                "OMP_NUM_THREADS": "2",
            },
        )
    ):
        folder = tmp_path / f"place-{k}"
        folder.mkdir()
        (folder / "k.toml").write_text(PLAN, encoding="utf-8")
        results.append(made(folder, env, "k.toml" if k else str(folder / "k.toml")))
    (first, _), (second, _) = results
    kinds = {name.rpartition(".")[2] for name in first}
    assert kinds >= {"dxf", "pdf", "png", "svg", "json", "csv", "xlsx", "toml"}
    assert set(first) == set(second)
    assert [name for name in first if first[name] != second[name]] == []
