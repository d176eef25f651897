"""Findings as they are told: the weightiest first, kinds together, those that say the same of several surfaces in one.

Screen, sheets and records read findings in this order. Nothing is left out: what is told in one names every surface.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, get_args

from layout.codes import CODES
from layout.errors import Weight
from layout.words import Worded, listed, worded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from layout.errors import Finding
    from layout.identity import SurfaceId
    from layout.setout.values import RoomSetOut

WEIGHTS: tuple[Weight, ...] = get_args(Weight)
"""Weightiest first."""
PLACES = {code: (WEIGHTS.index(each.weight), k) for k, (code, each) in enumerate(CODES.items())}


@dataclass(frozen=True, slots=True)
class Told:
    """What is told once: a code with its weight, the words, and the findings behind them."""

    code: str
    weight: Weight
    text: str
    findings: tuple[Finding, ...]


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings by weight, then by kind, else as they were found."""
    return tuple(sorted(findings, key=lambda finding: PLACES[finding.code]))


def as_told(findings: Iterable[Finding]) -> tuple[Told, ...]:
    """Findings in order; those of one kind that say the same of several surfaces are one, which names them all."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in in_order(findings):
        groups.setdefault((finding.code, _rest(finding)), []).append(finding)
    result = []
    for (code, rest), own in groups.items():
        surfaces = [finding.surface for finding in own if finding.surface is not None]
        alike = len(own) > 1 and len(surfaces) == len(own)
        texts = [_of_all(own[0].text, surface_names(surfaces), rest)] if alike else list(dict.fromkeys(finding.text for finding in own))
        result += [Told(code, CODES[code].weight, text, tuple(own)) for text in texts]
    return tuple(result)


def told_of_rooms(rooms: Sequence[RoomSetOut]) -> list[tuple[Told, str]]:
    """What is told of all rooms, weightiest first, and its words: with the room's name where there are several."""
    found = [
        (told, listed((room.name, told.text), ": ") if len(rooms) > 1 else told.text) for room in rooms for told in as_told(room.findings)
    ]
    return sorted(found, key=lambda each: PLACES[each[0].code])


def _of_all(text: str, names: str, rest: str) -> str:
    """What a finding says of one surface, said of several."""
    if isinstance(text, Worded) and text.sentence.startswith("{name}: "):
        return worded(text.sentence, **{**text.fields, "name": names})
    return f"{names}: {rest}"


def _rest(finding: Finding) -> str:
    """What a finding says of its surface, without the surface's name; all of it if it does not begin with that."""
    return finding.text.removeprefix(f"{finding.surface.name}: ") if finding.surface is not None else finding.text


def surface_names(surfaces: Sequence[SurfaceId]) -> str:
    """Surfaces in few words, sides of a thing together and things of like sides together.

    >>> from layout.identity import SurfaceId
    >>> sides = [SurfaceId(0, "column-side", n, s, f"column {n} side {s}") for n in (1, 2, 3) for s in (1, 2, 4)]
    >>> surface_names([*sides, SurfaceId(0, "wall", 2, 0, "wall 2")])
    'columns 1 to 3 sides 1, 2, 4; wall 2'
    """
    sides: dict[tuple[str, str, int], list[int]] = {}
    for each in surfaces:
        own = f" side {each.side}" if each.side else ""
        stem = each.name.removesuffix(own) if own and each.name.endswith(own) else each.name
        named = each.side if stem != each.name else 0
        sides.setdefault((each.kind, stem, each.number), []).append(named)
    things: dict[tuple[str, tuple[int, ...]], list[tuple[str, int]]] = {}
    for (kind, stem, number), own_sides in sides.items():
        things.setdefault((kind, tuple(sorted({side for side in own_sides if side}))), []).append((stem, number))
    return listed([_sides(_things(own), each) for (_, each), own in things.items()], "; ")


def _things(own: Sequence[tuple[str, int]]) -> str:
    """Things by name; those that have no name but their kind's and a number are counted off."""
    kinds: dict[str, list[int]] = {}
    result = []
    for stem, number in own:
        kind = stem.removesuffix(f" {number}")
        if kind != stem and number:
            kinds.setdefault(kind, []).append(number)
        else:
            result.append(stem)
    counted = [f"{kind}{'s' if len(set(numbers)) > 1 else ''} {_run(sorted(set(numbers)))}" for kind, numbers in kinds.items()]
    return listed([*counted, *dict.fromkeys(result)])


def _sides(things: str, sides: Sequence[int]) -> str:
    if len(sides) == 1:
        return worded("{things} side {sides}", things=things, sides=_run(sides))
    return worded("{things} sides {sides}", things=things, sides=_run(sides)) if sides else things


def _run(numbers: Sequence[int]) -> str:
    """Rising numbers in words: 1 to 4, 7."""
    parts = []
    for _, each in itertools.groupby(enumerate(numbers), key=lambda item: item[1] - item[0]):
        own = [number for _, number in each]
        parts.append(f"{own[0]} to {own[-1]}" if len(own) > 2 else ", ".join(map(str, own)))
    return ", ".join(parts)
