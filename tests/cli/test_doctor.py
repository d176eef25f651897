"""The doctor finds what is broken, says what mends it, and looks at the rest all the same."""

from __future__ import annotations

import importlib.metadata
import json
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

import layout
from cli import examine
from cli.main import app


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def look(*arguments):
    said = CliRunner().invoke(app, ["doctor", "--json", *arguments])
    return said, {row["what"]: row for row in json.loads(said.stdout)["looked_at"]}


def test_a_sound_installation(here):
    said, rows = look()
    assert said.exit_code == 0, said.stdout
    assert said.stderr == "all is well\n"
    assert {
        "gaugerod",
        "Python",
        "numpy",
        "shapely",
        "ezdxf",
        "highspy",
        "ifcopenshell",
        "fonts",
        "solver",
        "writing here",
        "self-test",
    } <= set(rows)
    assert not list(here.iterdir())


def wrong(name, value):
    def spoil(monkeypatch):
        monkeypatch.setattr(layout, name, value, raising=False)

    return spoil


def boom(*_, **__):
    raise OSError(5, "worn out")


def installed(name, found):
    """Another version of a package than is there, or none."""

    def spoil(monkeypatch):
        known = importlib.metadata.version

        def version(asked):
            if asked != name:
                return known(asked)
            if found is None:
                raise importlib.metadata.PackageNotFoundError(name)
            return found

        monkeypatch.setattr(importlib.metadata, "version", version)

    return spoil


def not_yours(*_, **__):
    raise PermissionError(13, "Permission denied")


FAULTS = [
    ("highspy", "pip install 'highspy", installed("highspy", None)),
    ("shapely", "pip install 'shapely", installed("shapely", "1.0")),
    ("fonts", "install it anew", wrong("text_width", lambda *_: 5.0)),
    ("solver", "maintainers", wrong("cut_stock", lambda *_: SimpleNamespace(stocks=(1, 2, 3, 4), proved=False))),
    ("writing here", "go to a folder that you may write to", lambda monkeypatch: monkeypatch.setattr("tempfile.TemporaryDirectory", not_yours)),
    ("fonts", "install it anew", wrong("text_width", boom)),
    ("solver", "install it anew", wrong("cut_stock", boom)),
    ("writing here", "go to a folder that you may write to", wrong("write_whole", boom)),
    ("self-test", "maintainers", wrong("take_off", boom)),
    ("self-test", "maintainers", lambda monkeypatch: monkeypatch.setitem(examine.BY_HAND, "whole tiles", 105)),
    ("self-test", "maintainers", wrong("write_dxf", boom)),
    ("Python", "install Python", lambda monkeypatch: monkeypatch.setattr(examine, "LEAST_PYTHON", (4, 0))),
    ("numpy", "pip install 'numpy>=99,<100'", lambda monkeypatch: monkeypatch.setattr(examine, "requirements", lambda: [("numpy", ">=99,<100", False)])),
    ("nowhere", "pip install 'nowhere>=1'", lambda monkeypatch: monkeypatch.setattr(examine, "requirements", lambda: [("nowhere", ">=1", False)])),
]  # fmt: skip


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize(("what", "mend", "spoil"), FAULTS, ids=[f"{k}-{what}" for k, (what, _, _) in enumerate(FAULTS)])
def test_each_fault_is_told_with_its_mend(monkeypatch, what, mend, spoil):
    if what != "self-test":  # the slowest of them, once is enough
        monkeypatch.setattr(examine, "_self_test", lambda: examine.Looked("self-test", "left out"))
    spoil(monkeypatch)
    said, rows = look()
    assert said.exit_code == 2
    assert [name for name, row in rows.items() if not row["well"]] == [what]
    assert mend in rows[what]["mend"]
    assert "self-test" in rows
    plain = CliRunner().invoke(app, ["doctor"])
    assert f"FAULT {what}: " in plain.stdout
    assert mend in plain.stdout


def test_an_extra_that_is_missing_is_no_fault():
    for extra, what in (("ifc", "to read building models"), ("cluster", "for a batch on a cluster")):
        found = examine._package("surely-not-there", ">=1", extra)
        assert found.well
        assert what in found.found
        assert f"gaugerod[{extra}]" in found.found
    assert not examine._package("surely-not-there", ">=1", "").well


def test_every_extra_is_known_by_what_it_is_for():
    own = {extra for _, _, extra in examine.requirements() if extra}
    assert own == set(examine.EXTRAS) == {"ifc", "cluster"}
    assert ("distributed", "cluster") in {(name, extra) for name, _, extra in examine.requirements()}


@pytest.mark.parametrize(("version", "bounds", "kept"), [
    ("2.0", ">=2.0", True), ("2.0.0", ">2", False), ("0.28.0", ">=0.15,<0.29", True), ("0.29.0", ">=0.15,<0.29", False),
    ("10.0", ">=9.1", True), ("1.9rc1", ">=1.9", True), ("1.8", ">=1.9", False), ("3", "==3.0", True), ("3.1", "!=3.1", False), ("1", "", True),
])  # fmt: skip
def test_bounds_on_versions(version, bounds, kept):
    assert examine.within(version, bounds) == kept


def test_licences_of_all_it_is_built_on():
    said = CliRunner().invoke(app, ["doctor", "--licences", "--json"])
    rows = {row["package"].lower(): row for row in json.loads(said.stdout)["packages"]}
    assert {"numpy", "shapely", "ezdxf", "matplotlib", "fonttools", "highspy", "typer", "rich", "tomlkit", "xlsxwriter"} <= set(rows)
    assert "pillow" in rows, "what is built on is listed down to the ground"
    assert "pytest" not in rows
    for row in rows.values():
        assert row["licence"] != "not stated by the package", row
    plain = CliRunner().invoke(app, ["doctor", "--licences"]).stdout
    assert f"shapely {rows['shapely']['version']}: BSD" in plain
