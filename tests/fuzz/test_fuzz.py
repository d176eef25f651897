"""The short profile: kept cases, and mutations with fixed seeds. The long one: `python -m tests.fuzz.long`."""

from __future__ import annotations

import numpy as np
import pytest

from tests.fuzz import rooms
from tests.fuzz.mutations import CORPUS, READERS, asked, cases, seeds

KEPT = sorted(path for path in CORPUS.iterdir() if path.suffix != ".md")
SHORT = 90
"""Mutations of each kind."""


def kind_of(name):
    return next(kind for kind in READERS if name.endswith(f"-{kind}") or name == kind)


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.name)
@pytest.mark.filterwarnings("ignore")  # a library may warn of a damaged file
def test_a_kept_case_is_answered_or_told(path, tmp_path):
    error = asked(kind_of(path.name), path.read_bytes(), tmp_path)
    assert error is None, repr(error)


@pytest.mark.parametrize("kind", READERS)
@pytest.mark.filterwarnings("ignore")
def test_mutations_are_answered_or_told(kind, tmp_path):
    stream = cases(kind, np.random.default_rng(2026))
    assert SHORT > 0
    for k in range(SHORT):
        error = asked(kind, next(stream), tmp_path)
        assert error is None, f"{kind}, mutation {k}: {error!r}; the file lies in {tmp_path}"


@pytest.mark.parametrize("kind", READERS)
def test_the_seeds_are_sound(kind, tmp_path):
    # else mutations would only show that a bad file is refused at its first line
    for seed in seeds()[kind]:
        path = tmp_path / kind
        path.write_bytes(seed)
        READERS[kind](path)


def test_the_question_can_be_answered_with_no(tmp_path, monkeypatch):
    def broken(path):
        raise KeyError(path.name)

    monkeypatch.setitem(READERS, "points.csv", broken)
    assert isinstance(asked("points.csv", b"name,x,y\n", tmp_path), KeyError)


def test_every_kind_has_a_kept_case():
    assert {kind_of(path.name) for path in KEPT} >= {"plan.toml", "products.toml", "rates.toml", "survey.csv", "rooms.geojson", "plan.dxf"}


def test_the_long_profile_of_rooms_counts_what_it_compares(capsys):
    assert rooms.main(["--rooms", "14", "--seed", "4"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("14 rooms, ")
    assert "0 faults" in said
    assert int(said.split(" pieces")[0].rpartition(", ")[2].replace(",", "")) > 100


def test_the_long_profile_of_rooms_tells_what_differs(capsys, monkeypatch):
    def another(region, *_):
        assert region.area < 0.0, "the area of a tile is another"

    monkeypatch.setattr("tests.fuzz.rooms.against_geos", another)
    assert rooms.main(["--rooms", "2", "--seed", "4"]) == 1
    said = capsys.readouterr().out
    assert said.count("the area of a tile is another") == 2
    assert "POLYGON" in said
    assert "2 faults" in said
