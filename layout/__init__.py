r"""Setting-out of tiled, tanked wet rooms, from a plan to start lines, quantities and drawings.

Names are loaded when first asked for, so that `import layout` stays light; `__init__.pyi` declares them:

>>> import layout
>>> plan = layout.parse_plan('[[rooms]]\nname = "Wash-up"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]')
>>> setout = layout.set_out(plan)
>>> len(setout.rooms[0].floor.field.whole)
104
"""

from __future__ import annotations

from typing import Any


def __getattr__(name: str) -> Any:  # noqa: ANN401
    if name == "__version__":
        from importlib.metadata import version  # noqa: PLC0415  # reads the installed package's own record: only when asked

        return version("gaugerod")
    if name.startswith("__") and name != "__all__":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")  # the import system asks for a few of its own
    from pathlib import Path  # noqa: PLC0415  # start-up: not before a name is asked for

    from layout.lazily import loaded  # noqa: PLC0415

    return loaded(__name__, Path(__file__).with_suffix(".pyi"), name)


def __dir__() -> list[str]:
    return list(__getattr__("__all__"))
