"""Pixels as PNG, and the faces that an SVG carries: what plots need beyond drawing.

A sheet is opaque, so its PNG has three channels. Compression is where the time goes: zlib-ng's second level makes a file of
the size of zlib's sixth in a fifth of the time (measured on sheets); without that library zlib's first level is used.
"""

from __future__ import annotations

import base64
import io
import struct
import zlib
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.sheets.lettering import BOLD_FILE, FONT_FILE, FONT_NAME

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from numpy.typing import NDArray

SIGNATURE = b"\x89PNG\r\n\x1a\n"
"""First bytes of a PNG (ISO/IEC 15948)."""
MM_PER_M = 1000.0


def png_bytes(pixels: NDArray[np.uint8], dpi: float) -> bytes:
    """A PNG of 24 bits from pixels (rows, columns, 3), with its density; every row unfiltered.

    Source: ISO/IEC 15948 (PNG): chunks IHDR, pHYs, IDAT, IEND.
    """
    height, width, _ = pixels.shape
    per_metre = round(dpi / 25.4 * MM_PER_M)
    chunks = (
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)),
        (b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)),
        (b"IDAT", _packed(pixels)),
        (b"IEND", b""),
    )
    return SIGNATURE + b"".join(_chunk(name, body) for name, body in chunks)


BAND = 64
"""Rows that are packed together: so many stay near the processor, and a sheet is never in memory twice."""


def _chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def _packed(pixels: NDArray[np.uint8]) -> bytes:
    """Rows of pixels, each behind the number of its filter (0, none), as one stream.

    Channels are copied one by one: a copy of threes out of fours, as numpy makes it, takes five times as long as the packing.
    """
    height, width, _ = pixels.shape
    rows = np.zeros((BAND, 1 + 3 * width), dtype=np.uint8)
    body = rows[:, 1:].reshape(BAND, width, 3)
    packer = _packer()
    result = []
    for y in range(0, height, BAND):
        band = pixels[y : y + BAND]
        for channel in range(3):
            body[: len(band), :, channel] = band[..., channel]
        result.append(packer.compress(rows[: len(band)].data))
    return b"".join([*result, packer.flush()])


def _packer() -> Any:  # noqa: ANN401  # two libraries, one interface
    try:
        from zlib_ng import zlib_ng  # noqa: PLC0415  # heavy work only: where a picture is written
    except ImportError:
        return zlib.compressobj(1)
    return zlib_ng.compressobj(2)


def save_pixels(pixels: NDArray[np.uint8], path: Path, dpi: float) -> None:
    """Write pixels as PNG."""
    path.write_bytes(png_bytes(pixels, dpi))


def faces(texts: Iterable[tuple[str, bool]]) -> str:
    """The style of an SVG that carries the letters it uses: each face cut down to them; `texts` are words and whether bold."""
    used: dict[bool, set[str]] = {}
    for text, bold in texts:
        used.setdefault(bold, set()).update(text)
    rules = [
        f"@font-face{{font-family:'{FONT_NAME}';font-weight:{'bold' if bold else 'normal'};"
        f"src:url(data:font/ttf;base64,{base64.b64encode(_cut_down(BOLD_FILE if bold else FONT_FILE, letters)).decode()})}}"
        for bold, letters in sorted(used.items())
    ]
    return "".join(rules)


def _cut_down(face: Path, letters: set[str]) -> bytes:
    """A face with some letters only; no time of making, so that the same letters give the same bytes."""
    from fontTools import subset  # noqa: PLC0415  # heavy: only for SVG
    from fontTools.ttLib import TTFont  # noqa: PLC0415

    options = subset.Options(layout_features=[], hinting=False, name_IDs=[0, 1, 2, 13, 14])
    options.drop_tables += ["MATH", "FFTM", "GSUB", "GPOS", "GDEF", "kern"]
    with TTFont(face, recalcTimestamp=False) as font:
        cutter = subset.Subsetter(options)
        cutter.populate(text="".join(sorted(letters)))
        cutter.subset(font)
        out = io.BytesIO()
        font.save(out)
    return out.getvalue()
