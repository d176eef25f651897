"""Widths of text from the shipped faces, plain and bold, so that text is the same on every machine."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from layout.words import spelt

FONT_FILE = Path(__file__).parent.parent / "fonts" / "DejaVuSans.ttf"
BOLD_FILE = FONT_FILE.with_name("DejaVuSans-Bold.ttf")
FONT_NAME = "DejaVu Sans"
HEIGHTS = (1.8, 2.5, 3.5, 5.0, 7.0, 10.0)
"""Lettering heights after ISO 3098 (from memory), mm of capitals."""


@cache
def _font(bold: bool = False) -> tuple[dict[int, str], dict[str, tuple[int, int]], float, float]:
    """Glyph names by character, their advances, units per em and the height of a capital."""
    from fontTools.ttLib import TTFont  # noqa: PLC0415  # heavy; only when something is drawn

    with TTFont(BOLD_FILE if bold else FONT_FILE, lazy=True) as font:
        units = float(font["head"].unitsPerEm)
        return dict(font.getBestCmap()), dict(font["hmtx"].metrics), units, float(font["glyf"]["H"].yMax)


def cap_part() -> float:
    """Height of capitals as a part of the font's em."""
    _, _, units, cap = _font()
    return cap / units


@cache
def text_width(text: str, height: float, bold: bool = False) -> float:
    """Width of a line of text whose capitals are `height` mm high, mm."""
    cmap, metrics, _, cap = _font(bold)
    total = sum(metrics[cmap.get(ord(char), ".notdef")][0] for char in text)
    return float(total / cap * height)


def fitted(text: str, height: float, width: float, bold: bool = False) -> str:
    """Text cut short with an ellipsis if it is wider than `width`."""
    text = spelt(text)
    if text_width(text, height, bold) <= width:
        return text
    while text and text_width(text + "…", height, bold) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, height: float, width: float, bold: bool = False) -> list[str]:
    """Text broken into lines no wider than `width`; a longer word stands alone."""
    lines: list[str] = []
    line = ""
    for word in spelt(text).split():
        longer = f"{line} {word}".strip()
        if line and text_width(longer, height, bold) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines
