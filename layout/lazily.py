"""Public names that are loaded when they are first asked for: what the package's stub declares, found by reading it."""

from __future__ import annotations

import functools
import re
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

IMPORTED = re.compile(r"^from ([\w.]+) import (.+)$", re.MULTILINE)
NAMED = re.compile(r"^(\w+) = (\w+)$", re.MULTILINE)


@functools.cache
def homes_of(stub: Path) -> Mapping[str, tuple[str, str]]:
    """Module and name there of each name that a stub declares.

    A stub hands on what it imports `as` itself; what it imports without is private to it, and public under the name that it gives it.
    It is read line by line, as the formatter leaves it: a parse would cost as much as loading a small module.
    """
    text = stub.read_text(encoding="utf-8")
    imported: dict[str, tuple[str, str]] = {}
    public = dict(NAMED.findall(text))
    for module, names in IMPORTED.findall(text):
        for each in names.split(", "):
            own, _, name = each.partition(" as ")
            imported[own] = (module, own)
            if name:
                public[name] = own
    return {name: imported[public[name]] for name in sorted(public)}


def loaded(package: str, stub: Path, name: str) -> Any:  # noqa: ANN401  # whatever the name stands for
    """What a public name stands for.

    Raises
    ------
    AttributeError
        If the stub does not declare it.
    """
    homes = homes_of(stub)
    if name == "__all__":
        return list(homes)
    if name not in homes:
        msg = f"module {package!r} has no attribute {name!r}"
        raise AttributeError(msg)
    module, own = homes[name]
    return getattr(import_module(module), own)
