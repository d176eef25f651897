"""Stages that are asked once for one input: a stage is a function from frozen values to frozen values, known by all that it reads.

An input is known by its digest: types, field names and figures to the last bit, arrays and shapes by their bytes. What no
digest is known for (a function, an open file) is refused, so that nothing that a stage reads can be left out in silence.
"""

from __future__ import annotations

import datetime as dt
import functools
import struct
from collections import OrderedDict
from collections.abc import Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, fields, is_dataclass
from hashlib import blake2b
from threading import Lock
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from layout.words import Worded

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

Made = TypeVar("Made")

SIZE = 16
"""Bytes of a digest: two inputs of 10^9 meet in one by a chance of under 10^-20."""
KNOWN = 512
"""How many values of many parts are kept with their digest: one set of rules is read by every surface of a plan."""
MANY = 8
"""Parts from which on a value is kept with its digest."""
NOTHING: Mapping[type, tuple[str, ...]] = MappingProxyType({})


@dataclass(slots=True, eq=False)
class Memo:
    """What a stage made, by the digest of its input, the latest last; `ran` counts how often it was made anew, `met` how often it was there."""

    name: str
    most: int
    ran: int = 0
    met: int = 0
    made: OrderedDict[bytes, Any] = field(default_factory=OrderedDict, repr=False)


_MEMOS: dict[str, Memo] = {}
_LOCK = Lock()
_ON: ContextVar[bool] = ContextVar("memo", default=True)
_digests: OrderedDict[tuple[int, int], tuple[object, bytes]] = OrderedDict()


def by_input(most: int, without: Mapping[type, tuple[str, ...]] = NOTHING) -> Callable[[Callable[..., Made]], Callable[..., Made]]:
    """A stage that keeps what it made for the last `most` inputs; what is raised is not kept.

    The function must read its arguments alone, and no one may write to what it gives. `without` names fields of frozen values that
    what it gives does not hang on: it may read them for the words of a fault, and for nothing else.
    """

    def kept(stage: Callable[..., Made]) -> Callable[..., Made]:
        memo = _MEMOS.setdefault(stage.__qualname__.lstrip("_"), Memo(stage.__qualname__.lstrip("_"), most))

        @functools.wraps(stage)
        def asked(*given: object) -> Made:
            if not _ON.get():
                return stage(*given)
            key = digest(given, without)
            with _LOCK:
                if key in memo.made:
                    memo.met += 1
                    memo.made.move_to_end(key)
                    found: Made = memo.made[key]
                    return found
            made = stage(*given)
            with _LOCK:
                memo.ran += 1
                memo.made[key] = made
                while len(memo.made) > memo.most:
                    memo.made.popitem(last=False)
            return made

        return asked

    return kept


@contextmanager
def afresh() -> Iterator[None]:
    """Work in which every stage is made anew: to measure it, or to compare."""
    token = _ON.set(False)
    try:
        yield
    finally:
        _ON.reset(token)


def forget() -> None:
    """Forget all that was made, and set the counts to nothing."""
    with _LOCK:
        _digests.clear()
        for memo in _MEMOS.values():
            memo.made.clear()
            memo.ran = memo.met = 0


def counts() -> dict[str, tuple[int, int]]:
    """For each stage how often it was made anew and how often it was there."""
    return {memo.name: (memo.ran, memo.met) for memo in _MEMOS.values()}


def digest(value: object, without: Mapping[type, tuple[str, ...]] = NOTHING) -> bytes:
    """What a value is known by, `without` some fields of frozen values, by their type.

    Raises
    ------
    TypeError
        If it holds something that has no figures of its own.

    >>> digest((1.0, "a")) == digest((1.0, "a")), digest(0.0) == digest(-0.0), digest((1, 2)) == digest((1, (2,)))
    (True, False, False)
    """
    return _sum(_part(value, without))


def _sum(parts: bytes) -> bytes:
    return blake2b(parts, digest_size=SIZE).digest()


def _part(value: Any, without: Mapping[type, tuple[str, ...]]) -> bytes:  # noqa: ANN401  # whatever a stage reads
    """A value as bytes that no other value has beside any others."""
    kind = type(value)
    if kind is float:
        figure: bytes = struct.pack("<d", value)
        return b"f" + figure
    if kind is str:
        text: bytes = value.encode("utf-8", "surrogatepass")
        return b"s" + struct.pack("<q", len(text)) + text
    if kind is Worded:
        return b"w" + _part(value.sentence, without) + _part(value.fields, without)
    if value is None or kind is bool or kind is int:
        return f"{kind.__name__}{value};".encode()
    if kind is tuple or kind is list:
        return b"(" + _sum(b"".join([_part(each, without) for each in value]))
    if is_dataclass(kind):
        return _of_fields(value, without)
    if isinstance(value, np.ndarray):
        inside = b"".join([_part(each, without) for each in value.ravel().tolist()]) if value.dtype == object else value.tobytes()
        return b"a" + _sum(f"{value.dtype.str}{value.shape};".encode() + inside)
    if isinstance(value, BaseGeometry):
        return b"g" + _sum(f"{value.geom_type};".encode() + shapely.to_wkb(value))
    if isinstance(value, Mapping):
        return b"{" + _sum(b"".join(_part(key, without) + _part(each, without) for key, each in value.items()))
    if isinstance(value, tuple):  # of named parts
        return b"n" + _sum(f"{kind.__module__}.{kind.__qualname__};".encode() + b"".join([_part(each, without) for each in value]))
    if isinstance(value, (dt.date, dt.time, np.generic)):
        return b"r" + _part(repr(value), without)
    raise TypeError(f"no digest is known for {kind.__module__}.{kind.__qualname__}")


def _of_fields(value: Any, without: Mapping[type, tuple[str, ...]]) -> bytes:  # noqa: ANN401  # any frozen value
    place = (id(value), id(without))
    known = _digests.get(place)
    if known is not None and known[0] is value:
        return known[1]
    kind: type = type(value)
    head, names = _fields_of(kind)
    left_out = without.get(kind, ())
    parts = b"".join([_part(getattr(value, name), without) for name in names if name not in left_out])
    made = b"d" + _sum(head + parts)
    if len(parts) > MANY * (SIZE + 1):  # so long as it is kept here no other value has its place in memory
        with _LOCK:
            _digests[place] = (value, made)
            while len(_digests) > KNOWN:
                _digests.popitem(last=False)
    return made


@functools.cache
def _fields_of(kind: type) -> tuple[bytes, tuple[str, ...]]:
    return f"{kind.__module__}.{kind.__qualname__};".encode(), tuple(each.name for each in fields(kind))
