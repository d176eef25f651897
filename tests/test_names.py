"""Names of files: safe on every system, told apart, and left as typed where they are safe."""

from __future__ import annotations

import json
import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.names import portable_stem, told_apart
from layout.survey.found import file_stem

WORDS = [
    "con",
    "NUL",
    "com1",
    "lpt9.x",
    "aux ",
    "a.",
    "..",
    "",
    " ",
    "a:b",
    "x" * 300,
    "é" * 120,
    "e\u0301",
    "a\u202eb",
    "\ud800",
    "a/b\\c",
    "漢" * 90,
    ".hidden",
]


@pytest.mark.parametrize("make", [portable_stem, file_stem], ids=["stem", "room"])
@given(st.one_of(st.sampled_from(WORDS), st.text(max_size=300)))
def test_a_stem_is_safe_everywhere(make, text):
    """By the published rules, written down once more: no forbidden letter, no device, no dot or space at an end, no long name."""
    stem = make(text)
    assert stem
    assert not set(stem) & set('<>:"/\\|?*')
    assert not [each for each in stem if unicodedata.category(each) in ("Cc", "Cs")]
    assert stem[0] not in ". "
    assert stem[-1] not in ". "
    assert not re.fullmatch(r"(?i)(con|prn|aux|nul|(com|lpt)[0-9¹²³])\s*(\..*)?", stem)
    assert len(f"{stem}-07-setting-out-of-the-floor-1.png".encode()) < 255
    assert make(text) == stem


@given(
    st.lists(
        st.one_of(st.sampled_from(["Bar", "bar", "BAR", "bar-2", "Straße", "STRASSE", "e\u0301", "é", "ﬁ", "fi"]), st.text(max_size=4)),
        max_size=12,
    )
)
def test_no_two_stems_are_one_file_anywhere(texts):
    stems = told_apart(portable_stem(text) for text in texts)
    assert len(stems) == len(texts)
    for fold in (str.lower, str.casefold, str.upper, lambda s: unicodedata.normalize("NFD", s), lambda s: unicodedata.normalize("NFC", s)):
        assert len({fold(stem) for stem in stems}) == len(stems)


def test_safe_names_stay_as_typed():
    for text in ("canteen", "Küche 2", "a.b-c_d", "漢字"):
        assert portable_stem(text) == text


def test_rooms_of_like_names_get_plans_of_their_own(tmp_path):
    names = ["Bar", "BAR", "bar!", "CON", "e\u0301", "é", "..", "x" * 200]
    outline = {"type": "Polygon", "coordinates": [[[0, 0], [3000, 0], [3000, 2000], [0, 2000], [0, 0]]]}
    features = [{"type": "Feature", "properties": {"name": name}, "geometry": outline} for name in names]
    (tmp_path / "d.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    said = CliRunner().invoke(app, ["read", str(tmp_path / "d.geojson"), "-o", str(tmp_path / "out"), "--units", "mm", "--split", "--json"])
    assert said.exit_code == 0, said.stderr
    files = [row["file"] for row in json.loads(said.stdout)["rooms"]]
    assert len({file.casefold() for file in files}) == len(names)
    assert {path.name for path in (tmp_path / "out").glob("*.toml")} == set(files)
    assert "con.toml" not in files


def test_a_plan_with_an_awkward_name_is_drawn(tmp_path):
    for name in ("con", "x" * 240, "a:b"):
        plan = tmp_path / f"{name}.toml"
        plan.write_text('[[rooms]]\nname = "A"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]\n')
        said = CliRunner().invoke(app, ["sheets", str(plan), "-o", str(tmp_path / "out"), "--format", "dxf"])
        assert said.exit_code == 0, said.stderr
        (written,) = (tmp_path / "out").glob("*.dxf")
        assert portable_stem(written.stem) == written.stem
        written.unlink()
