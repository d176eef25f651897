"""The gate, and the files read back by other programs: PDFium for letters and pixels, ezdxf for what each window shows."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from layout.errors import OutputError
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.sheets.draw import draw_sheets
from layout.sheets.scene import Label
from layout.writers.save import write_dxf, write_pdf, write_png
from tests.examples import example_doc, example_pdf, example_sheets
from tests.rooms import plan_of

PLANS = sorted((Path(__file__).parent.parent.parent / "plans").glob("*.toml"))


@pytest.fixture(scope="module", params=PLANS, ids=lambda p: p.stem)
def sheets(request):
    return tuple(sheet for sheet in example_sheets(request.param) if sheet.view is not None)


def squeezed(text):
    return "".join(text.split())


@pytest.mark.parametrize("plan", PLANS, ids=lambda p: p.stem)
def test_pdfium_finds_every_needed_label_within_the_frame(plan):
    document = pypdfium2.PdfDocument(example_pdf(plan))
    assert len(document) == len(example_sheets(plan))
    drawings = [(page, sheet) for page, sheet in zip(document, example_sheets(plan), strict=True) if sheet.view is not None]
    assert drawings
    for page, sheet in drawings:
        letters = page.get_textpage()
        found = squeezed(letters.get_text_range())
        assert sheet.needed
        assert not [text for text in sheet.needed if squeezed(text) not in found]
        # true boxes of all letters: inside the frame, points to mm
        boxes = np.array([letters.get_charbox(k) for k in range(letters.count_chars())]) / 72 * 25.4
        boxes = boxes[(boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1]) > 0]
        assert len(boxes) > 100
        assert boxes[:, 0].min() >= 20.0 - 0.1
        assert boxes[:, 1].min() >= 10.0 - 0.1
        assert boxes[:, 2].max() <= sheet.size[0] - 10.0 + 0.1
        assert boxes[:, 3].max() <= sheet.size[1] - 10.0 + 0.1


def test_the_pdf_rendered_by_pdfium_is_the_png(sheets, tmp_path):
    page = pypdfium2.PdfDocument(write_pdf(sheets[:1], tmp_path / "one.pdf"))[0]
    theirs = np.asarray(page.render(scale=100 / 72).to_pil().convert("L")) < 200
    with Image.open(write_png(sheets[:1], tmp_path, dpi=100)[0]) as picture:
        ours = np.asarray(picture.convert("L")) < 200
    rows, columns = (min(a, b) for a, b in zip(ours.shape, theirs.shape, strict=True))
    ours, theirs = ours[:rows, :columns], theirs[:rows, :columns]

    def near(ink):
        return np.any([np.roll(ink, (dy, dx), axis=(0, 1)) for dy in (-1, 0, 1) for dx in (-1, 0, 1)], axis=0)

    assert float((ours & near(theirs)).sum()) / float(ours.sum()) > 0.98
    assert float((theirs & near(ours)).sum()) / float(theirs.sum()) > 0.98


@pytest.mark.parametrize("plan", PLANS, ids=lambda p: p.stem)
def test_each_window_of_the_dxf_shows_the_needed_labels(plan):
    doc = example_doc(plan)
    sheets = [sheet for sheet in example_sheets(plan) if sheet.view is not None]
    assert sheets
    for sheet in sheets:
        window: Any = next(each for each in doc.layout(sheet.name).query("VIEWPORT") if each.dxf.id != 1)
        hidden = {name.upper() for name in window.frozen_layers}
        items: Any = doc.modelspace().query("TEXT MTEXT")
        shown = Counter(item.dxf.text if item.dxftype() == "TEXT" else item.text for item in items if item.dxf.layer.upper() not in hidden)
        assert not Counter(sheet.needed) - shown


def test_a_sheet_that_lacks_a_needed_label_is_not_written(sheets, tmp_path):
    lost = sheets[0].needed[-1]
    spoilt = replace(sheets[0], room=tuple(item for item in sheets[0].room if not (isinstance(item, Label) and item.text == lost)))
    for write, name in ((write_dxf, "a.dxf"), (write_pdf, "a.pdf")):
        with pytest.raises(OutputError, match="is not on it"):
            write((spoilt,), tmp_path / name)
        assert not (tmp_path / name).exists()


def test_a_paper_on_which_the_set_is_illegible_is_refused():
    pipes = [{"at": [300 + 190 * k, 300 + 170 * k], "diameter": 50} for k in range(20)]
    setout = set_out(plan_of({"outline": [[0, 0], [5000, 0], [5000, 4000], [0, 4000]], "pipes": pipes}))
    with pytest.raises(OutputError, match=r"A4 at 1:500: there is no room for .*pipe.*A\d at 1:\d+ is taken then"):
        draw_sheets(setout, take_off(setout), paper="A4", scale=500.0)
    assert not any(sheet.missing for sheet in draw_sheets(setout, take_off(setout)))
