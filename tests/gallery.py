"""The pictures of the README: python -m tests.gallery draws them anew, all or those of the plans named; with --check says which are stale.

What a picture shows is kept beside it as a digest of its scene, rounded, so that saying whether it is stale needs no drawing.
"""

from __future__ import annotations

import hashlib
import json
import sys
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np

import layout

TOP = Path(__file__).parent.parent
PLANS = TOP / "plans"
FOLDER = PLANS / "gallery"
KEPT = FOLDER / "gallery.json"
DPI = 80
PICTURES = {
    "canteen-setting-out": ("canteen", "Floor setting-out"),
    "canteen-elevations": ("canteen", "Elevations"),
    "canteen-details": ("canteen", "Details"),
    "canteen-tape": ("canteen", "Membrane and tape"),
    "brewhouse-cuts": ("brewhouse", "Cuts and marks"),
    "brewhouse-falls": ("brewhouse", "Falls and levels"),
    "brewhouse-joints": ("brewhouse", "Movement joints and sealant"),
    "washbay-setting-out": ("washbay", "Floor setting-out"),
    "laboratory-tape": ("laboratory", "Membrane and tape"),
    "coldlobby-falls": ("coldlobby", "Falls and levels"),
    "kitchen-setting-out": ("kitchen", "Floor setting-out"),
}
"""Each picture: the example it is of, and the title that its sheet begins with."""


def plain(value: Any) -> Any:
    """A value of a scene as plain lists, lengths to a tenth: what differs less is not seen."""
    if is_dataclass(value) and not isinstance(value, type):
        return [type(value).__name__, *(plain(getattr(value, each.name)) for each in fields(value))]
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, (list, tuple)):
        return [plain(each) for each in value]
    if isinstance(value, dict):
        return [[str(key), plain(value[key])] for key in sorted(value, key=str)]
    if isinstance(value, float):
        return round(value, 1) + 0.0
    return value if isinstance(value, (int, str, bool)) or value is None else str(value)


def digest(sheet: layout.Sheet) -> str:
    """What a sheet shows: its drawing in the room's millimetres, or what stands on paper where it has no other."""
    shown = [sheet.paper, plain(sheet.room or sheet.paper_scene)]
    return hashlib.sha256(json.dumps(shown, ensure_ascii=False).encode()).hexdigest()[:16]


def sheets_of(plan: str) -> tuple[layout.Sheet, ...]:
    """The sheet set of an example."""
    setout = layout.set_out(layout.read_plan(PLANS / f"{plan}.toml"))
    return layout.draw_sheets(setout, layout.take_off(setout))


def titled(sheets: tuple[layout.Sheet, ...], title: str) -> layout.Sheet:
    """The first sheet whose title begins so."""
    return next(sheet for sheet in sheets if sheet.title.startswith(title))


def kept() -> dict[str, str]:
    """Digests of the pictures as they were drawn."""
    return json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.is_file() else {}


def main(check: bool, wanted: list[str]) -> int:
    """Draw pictures, or say which are stale."""
    now: dict[str, str] = {}
    for plan in wanted or dict.fromkeys(plan for plan, _ in PICTURES.values()):
        sheets = sheets_of(plan)
        for name, (own, title) in PICTURES.items():
            if own == plan:
                sheet = titled(sheets, title)
                now[name] = digest(sheet)
                if not check:
                    layout.save_png(sheet, FOLDER / f"{name}.png", dpi=DPI)
                    print(f"drawn: {name}.png")
    stale = [name for name, value in now.items() if kept().get(name) != value]
    if check:
        print(f"stale: {', '.join(stale)}; python -m tests.gallery draws them anew" if stale else "the gallery shows what is drawn")
        return 1 if stale else 0
    now = {name: value for name, value in {**kept(), **now}.items() if name in PICTURES}
    KEPT.write_text(json.dumps(now, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main("--check" in sys.argv, [each for each in sys.argv[1:] if each != "--check"]))
