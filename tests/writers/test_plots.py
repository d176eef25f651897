"""Plots read back: every word of a sheet is text in PDF and SVG, and a PNG holds the pixels that were drawn."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image
from pypdf import PdfReader

from layout.sheets.scene import Dimension, Label
from layout.writers import plot
from layout.writers.save import write_png, write_svg
from tests.examples import example_pdf, example_sheets

PLANS = sorted((Path(__file__).parent.parent.parent / "plans").glob("*.toml"))


@pytest.fixture(scope="module", params=PLANS, ids=lambda p: p.stem)
def sheets(request):
    return example_sheets(request.param)


def words_of(sheet):
    """Every text of a sheet's scenes."""
    texts = [item.text for item in (*sheet.room, *sheet.paper_scene) if isinstance(item, (Label, Dimension))]
    return [text for text in texts if text.strip()]


def squeezed(text):
    return "".join(text.split())


@pytest.mark.parametrize("plan", PLANS, ids=lambda p: p.stem)
def test_every_word_of_a_sheet_is_text_in_the_pdf(plan):
    sheets = example_sheets(plan)
    reader = PdfReader(example_pdf(plan))
    assert len(reader.pages) == len(sheets)
    for page, sheet in zip(reader.pages, sheets, strict=True):
        found = squeezed(page.extract_text())
        missing = [text for text in words_of(sheet) if squeezed(text) not in found]
        assert words_of(sheet)
        assert not missing
        # no letter more and none less: a ligature or a doubled letter shows in the count
        assert Counter(found) == Counter(squeezed("".join(words_of(sheet))))


def test_every_word_of_a_sheet_is_text_in_the_svg(sheets, tmp_path):
    (path,) = write_svg(sheets[:1], tmp_path)
    root = ET.parse(path).getroot()
    texts = Counter(each.text for each in root.iter("{http://www.w3.org/2000/svg}text"))
    assert texts == Counter(words_of(sheets[0]))
    faces = re.findall(r"@font-face\{font-family:'DejaVu Sans';font-weight:(\w+);src:url\(data:font/ttf", path.read_text(encoding="utf-8"))
    assert faces == ["normal", "bold"]


def test_a_png_has_24_bits_and_the_pixels_that_were_drawn(sheets, tmp_path):
    (path,) = write_png(sheets[:1], tmp_path, dpi=60)
    figure = plot.figure_of(sheets[0])
    FigureCanvasAgg(figure)
    with mpl.rc_context({"text.hinting": "no_hinting"}):
        figure.savefig(tmp_path / "theirs.png", format="png", dpi=60)
    with Image.open(path) as ours, Image.open(tmp_path / "theirs.png") as theirs:
        assert ours.mode == "RGB"
        assert ours.info["dpi"] == pytest.approx((60, 60), abs=0.1)
        assert np.array_equal(np.asarray(ours), np.asarray(theirs.convert("RGB")))
        assert np.asarray(ours).std() > 10.0


def test_a_png_is_sound_without_the_fast_library(sheets, tmp_path, monkeypatch):
    import sys

    (one,) = write_png(sheets[:1], tmp_path / "fast", dpi=40)
    monkeypatch.setitem(sys.modules, "zlib_ng", None)
    (two,) = write_png(sheets[:1], tmp_path / "plain", dpi=40)
    with Image.open(one) as fast, Image.open(two) as plain:
        assert np.array_equal(np.asarray(fast), np.asarray(plain))
