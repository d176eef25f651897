"""Names that people type, as names of files: safe on every system, and told apart where one system would take two for one."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST = 100
"""Letters of a stem, and twice as many bytes: with what is set behind it, it stays under the 255 bytes that file systems hold."""
RESERVED = frozenset(["con", "prn", "aux", "nul", "conin$", "conout$", *(f"{port}{k}" for port in ("com", "lpt") for k in "0123456789¹²³")])
"""Names of devices, with any ending. Source: Microsoft Learn, Naming Files, Paths, and Namespaces."""
_UNSAFE = re.compile('[<>:"/\\\\|?*\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]')


def portable_stem(text: str, instead: str = "plan") -> str:
    """A name as the stem of files: as typed where that is safe everywhere.

    Letters that some system forbids or hides become hyphens, dots and spaces at either end go, a device's name gets a low
    line, a long name is cut and keeps a mark of what was cut.

    >>> portable_stem("canteen"), portable_stem("CON"), portable_stem(" a:b. "), portable_stem("..")
    ('canteen', 'CON_', 'a-b', 'plan')
    """
    stem = _UNSAFE.sub("-", unicodedata.normalize("NFC", text)).strip(". ") or instead
    if stem.split(".")[0].rstrip(" ").casefold() in RESERVED:
        head, dot, tail = stem.partition(".")
        stem = f"{head}_{dot}{tail}"
    if len(stem) > MOST or len(stem.encode()) > 2 * MOST:
        mark = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]
        while len(stem) > MOST - 9 or len(stem.encode()) > 2 * MOST - 9:
            stem = stem[:-1]
        stem = f"{stem.rstrip('. ')}-{mark}"
    return stem


def told_apart(stems: Iterable[str]) -> list[str]:
    """Stems with a number behind those that some system takes for an earlier one: other case, other way to write an accent.

    >>> told_apart(["Bar", "bar", "BAR", "bar-2"])
    ['Bar', 'bar-2', 'BAR-3', 'bar-2-2']
    """
    seen: set[str] = set()
    result = []
    for stem in stems:
        name, k = stem, 1
        while _folded(name) in seen:
            k += 1
            name = f"{stem}-{k}"
        seen.add(_folded(name))
        result.append(name)
    return result


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
