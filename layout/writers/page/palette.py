"""Colours of the page, light and dark, and the style that pens and tones take from them.

The sheets' colours are made for white paper and a pen; on a screen in the sun words want more contrast. Each colour of the
table of layers has two of the page: on light and on dark, every line 4.5:1 and more against what lies under it, words too
(WCAG 2.2, 1.4.3 asks 4.5 for words, 1.4.11 asks 3 for lines).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.sheets.layers import BLACK, BLUE, GREEN, GREY, LAYERS, ORANGE, PURPLE, SKY, VERMILION
from layout.words import worded

if TYPE_CHECKING:
    from collections.abc import Iterable

    Colour = tuple[int, int, int]

PAPER: tuple[Colour, Colour] = ((255, 255, 255), (18, 20, 22))
"""What lies under all, light and dark."""
INKS: dict[Colour, tuple[Colour, Colour]] = {
    BLACK: ((0, 0, 0), (242, 242, 240)),
    GREY: ((88, 88, 88), (176, 178, 180)),
    ORANGE: ((138, 84, 0), (240, 176, 48)),
    SKY: ((0, 96, 150), (120, 196, 240)),
    GREEN: ((0, 100, 72), (64, 210, 160)),
    BLUE: ((0, 84, 150), (112, 190, 255)),
    VERMILION: ((168, 48, 0), (255, 148, 100)),
    PURPLE: ((140, 48, 104), (236, 160, 206)),
}
"""Each colour of the layers, on light and on dark."""
GROUND: tuple[Colour, Colour] = ((130, 130, 130), (120, 124, 128))
"""The joints between whole tiles."""
TILE: tuple[Colour, Colour] = ((255, 255, 255), (30, 33, 36))
"""Whole tiles."""
TRADES: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("tiles", worded("tiles"), ("TILE", "TILE-CUT")),
    ("marks", worded("marks and saw sizes"), ("MARK", "CUT-SIZE")),
    ("start", worded("start lines"), ("START-LINE", "FIRST-TILE")),
    ("joints", worded("joints and sealant"), ("MOVEMENT-JOINT", "STRUCTURAL-JOINT", "SEALANT")),
    ("tape", worded("tape, corner pieces, collars"), ("TAPE-INTERNAL", "TAPE-EXTERNAL", "TAPE-BRIDGE", "CORNER-PIECE", "COLLAR")),
    ("drains", worded("drains and pipes"), ("DRAIN", "PIPE")),
    ("falls", worded("falls and levels"), ("HIP", "VALLEY", "STEP", "FALL", "LEVEL")),
    ("tests", worded("test points"), ("TEST-POINT",)),
    ("figures", worded("dimensions"), ("DIMENSION",)),
    ("words", worded("words"), ("TEXT",)),
)
"""Layers that are shown and hidden together: key, words, layers."""
LAYER_CLASS = {name: f"l{k}" for k, name in enumerate(LAYERS)}
"""Class of each layer's pen."""


def mixed(layer: str, tone: float, dark: int) -> Colour:
    """Colour of an area: `tone` 0 is the paper, 1 the layer's ink."""
    ink, paper = INKS[LAYERS[layer].colour][dark], PAPER[dark]
    red, green, blue = (round(p + (i - p) * tone) for i, p in zip(ink, paper, strict=True))
    return red, green, blue


def css(colour: Colour) -> str:
    """As written in a style.

    >>> css((255, 255, 255)), css((18, 20, 22))
    ('#fff', '#121416')
    """
    text = "".join(f"{channel:02x}" for channel in colour)
    return f"#{text[::2]}" if text[::2] == text[1::2] else f"#{text}"


def contrast(one: Colour, other: Colour) -> float:
    """Contrast of two colours, 1 to 21. Source: WCAG 2.2, relative luminance and contrast ratio.

    >>> contrast((0, 0, 0), (255, 255, 255))
    21.0
    """
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: Colour) -> float:
    parts = [c / 255.0 for c in colour]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def tone_class(layer: str, tone: float) -> str:
    """Class of an area on a layer."""
    return "f0" if tone == 0.0 else f"f{list(LAYERS).index(layer)}-{round(tone * 100)}"


def drawing_style(tones: Iterable[tuple[str, float]]) -> str:
    """The style of all drawings: pens by layer (mm on paper times `--s`, which a drawing sets), tones, both themes, layers that hide.

    What several sheets share is drawn by `use`, into which only what is inherited reaches: so colours and whether a layer shows
    are properties of the page, and classes only ask for them. Paper is light in any case.
    """
    used = sorted({(name, tone) for name, tone in tones if tone})
    trade_of = {name: key for key, _, layers in TRADES for name in layers}
    inks = list(INKS)
    rules = ["svg{fill:none}"]  # inherited: the attribute that names a pattern is stronger than that, and weaker than any rule
    alike: dict[str, list[str]] = {}  # what layers have alike is written once
    for name, layer in LAYERS.items():
        own, ink = LAYER_CLASS[name], inks.index(layer.colour)
        dash = f";stroke-dasharray:{' '.join(f'calc(var(--s)*{d:g}px)' for d in layer.dash)}" if layer.dash else ""
        alike.setdefault(f"stroke:var(--i{ink});stroke-width:calc(var(--s)*{layer.pen:g}px){dash}", []).append(f"path.{own}")
        alike.setdefault(f"fill:var(--i{ink})", []).append(f"g.{own}")
        if name in trade_of:
            tinted = "".join(f",.{tone_class(each, tone)}" for each, tone in used if each == name)
            rules.append(f".{own}{tinted}{{display:var(--{trade_of[name]},inline)}}")
    rules += [f"{','.join(own)}{{{pen}}}" for pen, own in alike.items()]
    rules += [f".no-{key}{{--{key}:none}}" for key, _, _ in TRADES]
    rules += [f"path.{tone_class(name, tone)}{{fill:var(--{tone_class(name, tone)})}}" for name, tone in used]
    rules.append("path.f0{fill:var(--f0)}path.gr{fill:var(--gr)}path.ti{fill:var(--ti)}")
    light, dark = (_theme(used, k) for k in (0, 1))
    return f"{''.join(rules)}:root{{{light}}}@media screen{{.dark{{{dark}}}}}"


def _theme(used: list[tuple[str, float]], dark: int) -> str:
    values = [f"--i{k}:{css(pair[dark])}" for k, pair in enumerate(INKS.values())]
    values += [f"--{tone_class(name, tone)}:{css(mixed(name, tone, dark))}" for name, tone in used]
    values += [f"--f0:{css(PAPER[dark])}", f"--gr:{css(GROUND[dark])}", f"--ti:{css(TILE[dark])}"]
    return ";".join(values)
