"""What differs in the works of a room: joints, tape, corner pieces, collars; its surfaces with their marks; findings that came and went."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from layout.changes.values import SAME, SAME_M, Difference, JointAt, MarkChange, SurfaceChange
from layout.vectors import cross, pair, unit

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence

    from layout.changes.match import Motion
    from layout.setout.values import RoomSetOut, SetOut, SurfaceSetOut
    from layout.vectors import Floats

N = TypeVar("N", int, float)
FAR = 3000.0
"""A joint that moved further is another one, mm."""
CORNERS = {
    "internal": "internal corner pieces",
    "external": "external corner pieces",
    "made": "corners made from tape",
}


def sums_changed(before: RoomSetOut, after: RoomSetOut) -> Iterable[Difference]:
    """Joints, tape, corner pieces and collars of a room, where their sums differ."""
    old, new = _sums(before), _sums(after)
    for key in dict.fromkeys([*new, *old]):
        kind, unit_, words = key
        was, now = old.get(key, 0.0), new.get(key, 0.0)
        if abs(was - now) >= {"m": SAME_M, "mm": SAME}.get(unit_, 0.5):
            form = "{:.2f} m" if unit_ == "m" else "{:.0f} mm" if unit_ == "mm" else "{:.0f}"
            yield Difference(what=words, before=form.format(was), after=form.format(now), kind=kind)


def _sums(room: RoomSetOut) -> dict[tuple[str, str, str], float]:
    """By kind, unit and words."""
    own: dict[tuple[str, str, str], float] = {}
    for joint in room.joints:
        key = ("joint", "m", f"{joint.kind} joints")
        own[key] = own.get(key, 0.0) + joint.length / 1000.0
    for run in room.tape.runs:
        key = ("tape", "m", f"tape, {run.kind}")
        own[key] = own.get(key, 0.0) + run.length / 1000.0
    for kind, words in CORNERS.items():
        own["corner piece", "", words] = float(room.tape.count(kind))
    own["collar", "", "collars"] = float(len(room.tape.collars))
    own["flange", "", "flanges"] = float(len(room.tape.flanges))
    own["bay", "", "bays of the floor"] = float(len(room.floor.bays))
    own["cut", "mm", "narrowest cut of the floor"] = room.floor.start.smallest
    return own


def joints_moved(before: RoomSetOut, after: RoomSetOut, motion: Motion) -> Iterator[Difference]:
    """Movement joints of the floor that lie elsewhere, came or went; one that is only longer or shorter is told by the sums."""
    old = _centre_lines(before, motion)
    new = _centre_lines(after, None)
    ranked = sorted((_off(one, other), a, b) for a, one in enumerate(old) for b, other in enumerate(new))
    found: dict[int, int] = {}
    for off, a, b in ranked:
        if off < FAR and b not in found and a not in found.values():
            found[b] = a
    for b, line in enumerate(new):
        if b not in found:
            yield _joint(f"movement joint {b + 1}", "", _where_it_lies(line), line)
            continue
        other = old[found[b]]
        if _off(other, line) >= SAME:
            by = float(cross(unit(other[1] - other[0]), line.mean(axis=0) - other[0]))
            words = f"{_where_it_lies(line)}, moved by {abs(by):.1f}"
            yield _joint(f"movement joint {b + 1}", _where_it_lies(other), words, line)
    for a, line in enumerate(old):
        if a not in found.values():
            yield _joint(f"movement joint {a + 1}, as it was", _where_it_lies(line), "", line)


def _joint(what: str, before: str, after: str, line: Floats) -> Difference:
    """A joint of the floor that differs, seen along a line of the new room, (2, 2) mm."""
    at = JointAt((pair(line[0]), pair(line[1])))
    return Difference(what=what, before=before, after=after, kind="joint", surface="floor", at=at)


def _centre_lines(room: RoomSetOut, motion: Motion | None) -> list[Floats]:
    """Centre lines of joints through the floor, those in one line as one, (2, 2) each."""
    lines: list[Floats] = []
    for joint in room.joints:
        if joint.surface.kind != "floor" or joint.kind not in ("intermediate", "structural"):
            continue
        line = joint.line[[0, -1]] if motion is None else motion.moved(joint.line[[0, -1]])
        for k, other in enumerate(lines):
            if _off(other, line) < SAME:
                ends = np.vstack([other, line])
                along = ends @ unit(other[1] - other[0])
                lines[k] = ends[[int(along.argmin()), int(along.argmax())]]
                break
        else:
            lines.append(line)
    return lines


def _off(one: Floats, other: Floats) -> float:
    """How far one line stands off the other's, mm; infinite if they are not parallel or do not run beside each other."""
    way, its = unit(one[1] - one[0]), unit(other[1] - other[0])
    if abs(float(cross(way, its))) > 1e-3:
        return math.inf
    return abs(float(cross(way, other.mean(axis=0) - one[0])))


def _where_it_lies(line: Floats) -> str:
    """A centre line in words: the x or y that it runs along, or its two ends, (2, 2) mm."""
    if abs(line[0][0] - line[1][0]) < SAME:
        return f"x = {line[0][0]:.1f}"
    if abs(line[0][1] - line[1][1]) < SAME:
        return f"y = {line[0][1]:.1f}"
    return f"from {line[0][0]:.0f}, {line[0][1]:.0f} to {line[1][0]:.0f}, {line[1][1]:.0f}"


def marks_by_surface(setout: SetOut) -> dict[tuple[int, int], Counter[str]]:
    """Pieces under each mark, by index of room and surface."""
    found: dict[tuple[int, int], Counter[str]] = {}
    for key, mark in setout.marks.items():
        found.setdefault((key.room, key.surface), Counter())[mark] += 1
    return found


def surface_changes(
    pairs: Sequence[tuple[SurfaceSetOut | None, SurfaceSetOut | None]],
    rooms: tuple[RoomSetOut, RoomSetOut],
    marks: tuple[Mapping[int, Counter[str]], Mapping[int, Counter[str]]],
    sizes: tuple[Mapping[str, Hashable], Mapping[str, Hashable]],
) -> Iterator[SurfaceChange]:
    """Tiled surfaces that differ.

    `marks` are the pieces under each mark by the surface's index, before and after; `sizes` what is cut under each mark.
    """
    places = [{id(each): k for k, each in enumerate(room.surfaces)} for room in rooms]
    sealant = [_sealant(room) for room in rooms]
    for both in pairs:
        own = [Counter() if each is None else marks[k].get(places[k][id(each)], Counter()) for k, each in enumerate(both)]
        names = ["" if each is None else each.surface.name for each in both]
        cut = [_by_size(each, known) for each, known in zip(own, sizes, strict=True)]
        change = SurfaceChange(
            name=names[1],
            was=names[0],
            whole=_two(0 if each is None else len(each.field.whole) for each in both),
            pieces=_two(0 if each is None else len(each.field.cut) for each in both),
            narrowest=_two(math.nan if each is None else each.start.smallest for each in both),
            sealant=_two(0.0 if each is None else sealant[k].get(each.surface.id.key, 0.0) for k, each in enumerate(both)),
            marks=tuple(
                MarkChange(mark=mark, before=own[0][mark], after=own[1][mark])
                for mark in sorted({*own[0], *own[1]}, key=lambda mark: (mark[:1], len(mark), mark))
                if own[0][mark] != own[1][mark]
            ),
        )
        plain = replace(change, marks=())
        change = replace(change, renumbered=bool(change.marks) and not plain.changed and cut[0] == cut[1])
        if change.changed:
            yield change


def _by_size(marks: Counter[str], sizes: Mapping[str, Hashable]) -> Counter[Hashable]:
    found: Counter[Hashable] = Counter()
    for mark, count in marks.items():
        found[sizes[mark]] += count
    return found


def sizes_of(setout: SetOut) -> dict[str, Hashable]:
    """What is cut under each mark: tile, sides of the saw size, shape."""
    return {cut.mark: (cut.tile, *sorted(cut.size), cut.shape) for cut in setout.cuts}


def _two(values: Iterable[N]) -> tuple[N, N]:
    one, other = values
    return one, other


def _sealant(room: RoomSetOut) -> dict[str, float]:
    """Metres of joint by surface."""
    own: dict[str, float] = {}
    for joint in room.joints:
        own[joint.surface.key] = own.get(joint.surface.key, 0.0) + joint.length / 1000.0
    return own


def findings_changed(before: RoomSetOut, after: RoomSetOut) -> tuple[list[str], list[str]]:
    """Findings that came and that went: told apart by code and surface, in their own words."""
    old, new = ([(f.code, f.where, f.text) for f in room.findings] for room in (before, after))
    had, has = (Counter((code, where) for code, where, _ in each) for each in (old, new))
    came = [text for code, where, text in new if has[code, where] > had[code, where]]
    went = [text for code, where, text in old if had[code, where] > has[code, where]]
    return came, went
