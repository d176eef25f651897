"""The house itself: the map agrees with the files, the wheel holds what it should, the README's words are true."""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent


def modules():
    for path in sorted([*(TOP / "layout").rglob("*.py"), *(TOP / "cli").rglob("*.py")]):
        if path.name != "__init__.py":
            yield path.relative_to(TOP).as_posix()


def test_the_map_names_every_module_and_no_other():
    text = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"^\| `((?:layout|cli)/[\w/]+\.py)` \|", text, flags=re.MULTILINE))
    assert named == set(modules())


def test_the_top_level_is_fixed():
    tracked = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False).stdout.splitlines()
    if not tracked:
        pytest.skip("not a clone")
    top = {name.split("/")[0] for name in tracked}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "layout",
        "cli",
        "tests",
        "plans",
    }


def test_the_readme_opens_with_the_job_and_two_commands():
    text = (TOP / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, flags=re.DOTALL)
    assert "gaugerod run plans/canteen.toml" in blocks[0]
    assert "pytest" in blocks[1]
    first = text.split("\n\n")[1]
    assert len(first) > 200
    for picture in re.findall(r"!\[[^]]*\]\(([^)]+)\)", text):
        assert (TOP / picture).exists(), picture


def test_a_wheel_holds_the_two_packages_and_their_data(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    names = zipfile.ZipFile(next(tmp_path.glob("*.whl"))).namelist()
    tops = {name.split("/")[0] for name in names}
    assert {t for t in tops if not t.endswith(".dist-info")} == {"layout", "cli"}
    assert {"layout/py.typed", "layout/fonts/DejaVuSans.ttf", "layout/fonts/LICENCE-DejaVu.txt"} <= set(names)
    assert any("licenses" in name and "MIT" in name for name in names)


def test_public_names_are_no_modules():
    import layout

    files = {Path(name).stem for name in modules()}
    assert not files & set(layout.__all__)
    for name in layout.__all__:
        assert getattr(layout, name) is not None
