"""What tests of the command share."""

from __future__ import annotations

from contextlib import contextmanager

import pytest


@pytest.fixture
def undrawn(monkeypatch):
    """Leave pictures and pages unpainted, where a test asks for records, words, names or the status alone.

    Sheets are made, and the drawing is written as CAD reads it; `test_every_verb_takes_every_example` paints two examples whole.
    """

    def save(_sheet, path, **_):
        path.write_bytes(b"picture")

    @contextmanager
    def pages(path, **_):
        path.write_bytes(b"pages")
        yield lambda _figure: None

    monkeypatch.setattr("layout.writers.plot.figure_of", lambda _sheet: object())
    monkeypatch.setattr("layout.writers.plot.save_png", save)
    monkeypatch.setattr("layout.writers.plot.save_svg", save)
    monkeypatch.setattr("layout.writers.plot.pdf_pages", pages)
