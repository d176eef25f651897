"""The page of the Python API, from docstrings: python .ci/api.py FOLDER."""

from __future__ import annotations

import sys
from pathlib import Path

import pdoc

import layout


def main(folder: Path) -> None:
    """Write the page; every public name is loaded first, since the package loads its names only when they are asked for."""
    for name in layout.__all__:
        setattr(layout, name, getattr(layout, name))
    pdoc.render.configure(docformat="numpy", show_source=False)
    pdoc.pdoc("layout", output_directory=folder)
    text = (folder / "layout.html").read_text(encoding="utf-8")
    missing = [name for name in layout.__all__ if f'id="{name}"' not in text]
    if missing:
        sys.exit(f"not on the page: {', '.join(missing)}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
