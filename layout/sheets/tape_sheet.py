"""Sheet 3, membrane and tape: every run with its number, corner pieces, collars, flanges."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.sheets.draft import Draft, Job, in_plan, layers_of
from layout.sheets.lettering import text_width
from layout.sheets.room_view import block_line, block_shape, block_walls, entrance, name_things, name_walls
from layout.sheets.scene import Primitive, Stroke, Symbol, View, readable
from layout.sheets.spots import REACHES, Spot, leader_spots
from layout.words import say

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from layout.setout.values import RoomSetOut
    from layout.sheets.column import Column
    from layout.sheets.place import Placer
    from layout.sheets.room_view import Base
    from layout.tanking.tape import Collar, TapeRun

    Floats = NDArray[np.float64]

LAYER_OF = {"internal": "TAPE-INTERNAL", "external": "TAPE-EXTERNAL", "bridge": "TAPE-BRIDGE"}
LARGE = 10.0
"""Letters that are read from three metres, mm: a capital of a three-hundredth of the distance (common practice, no source)."""
INSET = 2.2
"""How far inside the bare wall a run is drawn, paper mm: the run itself lies on the corner."""


def level(run: TapeRun) -> bool:
    """Whether a run lies level, seen as a line in plan."""
    return not run.upright


def numbered(room: RoomSetOut) -> list[tuple[str, TapeRun]]:
    """Runs in the order of the table: R1, R2 …."""
    return [(f"R{k}", run) for k, run in enumerate(room.tape.runs, 1)]


def drafts(job: Job) -> Iterator[Draft]:
    """The sheet of the membrane."""

    def draw(view: View, placer: Placer, column: Column) -> tuple[Primitive, ...]:
        drawn = scene(job.only.room, job.only.base, view, placer)
        words(job.only.room, column, layers_of(drawn))
        return drawn

    yield from in_plan(job, "tape", say("Membrane and tape"), draw, around=14.0)


def scene(room: RoomSetOut, base: Base, view: View, placer: Placer) -> tuple[Primitive, ...]:
    """The room scene of the tape sheet."""
    result: list[Primitive] = [*base.outline, *base.services]
    uprights: list[tuple[str, TapeRun]] = []
    labels: list[tuple[str, Floats, float]] = []
    result += entrance(room, view, placer)
    for name, run in numbered(room):
        if not level(run):
            uprights.append((name, run))
            continue
        line = run.line[:, :2]
        if run.junction != "bridge":
            line = _inset(room, line, view)
        result.append(Stroke(line, LAYER_OF[run.junction]))
        labels.append((name, line, run.length))
    for corner in room.tape.corners:
        result.append(Symbol(f"corner-{corner.kind}", _off_corner(room, corner.at[:2], view, 4.4), 3.6, "CORNER-PIECE"))  # type: ignore[arg-type]
    for name, run in uprights:
        at = (float(run.line[0][0]), float(run.line[0][1]))
        result.append(Symbol("upright", at, 2.4, LAYER_OF[run.junction]))
        block_shape(placer, view, np.array([at]), 1.4)
        _upright_label(name, run, at, room, view, placer)
    for surface in room.lining.surfaces:
        if surface.placing.line is None:
            for each in surface.breaks:
                grow = each.reach(room.lining.plan.products.collar_lap.value)
                ring = shapely.get_coordinates(shapely.buffer(each.shape, grow, join_style="mitre" if each.flange else "round"))[:-1]
                result.append(Stroke(ring, "COLLAR", closed=True))
                block_shape(placer, view, ring, 0.0)
    for joint in room.lining.room.day_joints:
        result.append(Stroke(np.array(joint.line), "TAPE-EXTERNAL"))
    for test in room.membrane.tests:
        result.append(Symbol("test", test.at, 3.0, "TEST-POINT"))
        block_shape(placer, view, np.array([test.at]), 1.6)
    for name, line, true in labels:
        _run_label(name, line, true, view, placer)
    name_walls(room, view, placer, out=9.0)
    name_things(room, view, placer)
    block_walls(placer, view, room)
    for _, line, _ in labels:
        block_line(placer, view, line)
    for test in room.membrane.tests:
        paper = view.to_paper(np.array([test.at]))[0]
        spots = [
            Spot((float(paper[0] + dx * far), float(paper[1] + dy * far)))
            for far in (4.0, 6.5, 9.5, 13.0)
            for dx, dy in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 0.8), (-1, 0.8), (1, -0.8), (-1, -0.8))
        ]
        placer.place(test.name, 2.5, "TEST-POINT", spots, needed=True, foot=paper)
    return tuple(result)


def _inset(room: RoomSetOut, line: Floats, view: View) -> Floats:
    """The line moved a little into the open, so that it is seen beside the wall."""
    way = np.gradient(line, axis=0)
    way /= np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)[:, None]
    normal = np.column_stack([-way[:, 1], way[:, 0]])
    middle = line[len(line) // 2 - 1 : len(line) // 2 + 1].mean(axis=0)
    test = middle + normal[len(normal) // 2] * 5.0
    domain = room.lining.outline.domain
    inside = domain.covers(shapely.Point(test))
    plinths = [ring.polygon() for ring in room.lining.outline.plinth_rings]
    other = middle - normal[len(normal) // 2] * 5.0
    if (
        inside
        and any(p.covers(shapely.Point(test)) for p in plinths)
        and not any(p.covers(shapely.Point(other)) for p in plinths)
        and domain.covers(shapely.Point(other))
    ):
        inside = False
    moved: Floats = line + normal * (INSET if inside else -INSET) * view.scale
    trim = way[[0, -1]] * INSET * view.scale
    if float(np.hypot(*(line[-1] - line[0]))) > 4 * INSET * view.scale:
        moved[0] += trim[0]
        moved[-1] -= trim[1]
    return moved


def _off_corner(room: RoomSetOut, at: tuple[float, ...], view: View, far: float) -> tuple[float, float]:
    """A place near a corner, well inside the room."""
    domain = room.lining.outline.domain
    best, place = -1.0, (at[0], at[1])
    for k in range(16):
        angle = k * math.pi / 8
        spot = (at[0] + math.cos(angle) * far * view.scale, at[1] + math.sin(angle) * far * view.scale)
        point = shapely.Point(spot)
        if domain.covers(point):
            clear = float(domain.boundary.distance(point))
            if clear > best + 1e-6:
                best, place = clear, spot
    return place


def _upright_label(name: str, run: TapeRun, at: tuple[float, float], room: RoomSetOut, view: View, placer: Placer) -> None:
    paper = view.to_paper(np.array([at]))[0]
    inner = view.to_paper(np.array([_off_corner(room, at, view, 10.0)]))[0]
    way = inner - paper
    outer = paper - way / max(float(np.hypot(*way)), 1e-9) * 5.0
    text = say("{name} up {length:.0f}", name=name, length=run.length)
    spots = [
        Spot((float(outer[0]), float(outer[1])), "right" if outer[0] < paper[0] else "left", "middle"),
        *[
            Spot((float(paper[0] + dx), float(paper[1] + dy)), "left" if dx > 0 else "right", "middle")
            for far in (1.0, 2.0, 3.2, 4.6, 6.2)
            for dx, dy in ((3.0 * sx * far**0.5, 3.0 * sy * far) for sx in (1, -1) for sy in (1, -1))
        ],
    ]
    placer.place(text, 2.5, "TEXT", spots, boxed=True, needed=True, foot=paper)


def _run_label(name: str, line: Floats, true: float, view: View, placer: Placer) -> None:
    """The run's number and true length beside its line."""
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    total = float(steps[-1])
    beside: list[tuple[Floats, Floats, float]] = []
    for part in (0.5, 0.35, 0.65, 0.2, 0.8):
        s = total * part
        at = np.array([np.interp(s, steps, line[:, 0]), np.interp(s, steps, line[:, 1])])
        k = min(int(np.searchsorted(steps, s)), len(line) - 1) or 1
        way = line[k] - line[k - 1]
        way = way / max(float(np.hypot(*way)), 1e-9)
        beside.append((view.to_paper(at)[0], np.array([-way[1], way[0]]), readable(math.degrees(math.atan2(way[1], way[0])))))
    spots = []
    for side in (4.0, 7.5, 0.0, 11.0, 15.0):
        for middle, normal, angle in beside:
            for sign in (1.0, -1.0):
                x, y = (middle + normal * side * sign).tolist()
                spots.append(Spot((x, y), angle=angle))
    text = f"{name} · {true / 1000:.2f} m"
    foot = view.to_paper(np.array([[np.interp(total / 2, steps, line[:, 0]), np.interp(total / 2, steps, line[:, 1])]]))[0]
    own = spots if text_width(text, 3.5, bold=True) < total / view.scale else []
    small = [replace(spot, height=2.5) for spot in spots]
    spots = [*own, *leader_spots(foot, reaches=REACHES[:6]), *small]
    placer.place(text, 3.5, "TEXT", spots, boxed=True, bold=True, needed=True, foot=foot)


def _clear(room: RoomSetOut, collar: Collar) -> str:
    """How far a collar keeps from the next or from a corner, in words."""
    found = next((c for c in room.membrane.clearances if (c.label, c.surface) == (collar.label, collar.surface)), None)
    return (
        "" if found is None or found.clear < 0.0 else say(", clear of {nearest} by {clear:.0f}", nearest=found.nearest, clear=found.clear)
    )


def words(room: RoomSetOut, column: Column, present: set[str]) -> None:
    """The column: runs, corner pieces, collars, order of work."""
    tape = room.tape
    products = room.lining.plan.products
    total = math.fsum(run.length for run in tape.runs) / 1000.0
    column.gap(4.0)
    column.words(say("Tape {total:.1f} m", total=total), LARGE)
    column.gap(2.0)
    column.head(say("Tape runs: lengths on the substrate, laps not included"))
    rows = [[say("run"), say("where"), say("up to"), "m"]]
    for name, run in numbered(room):
        top = "" if level(run) and run.line[:, 2].min() <= 0.0 else f"{run.line[:, 2].max():.0f}"
        rows.append([name, run.name, top, f"{run.length / 1000:.2f}"])
    rows.append(
        [
            "",
            say(
                "internal {corners:.1f} m, edges and thresholds {thresholds:.1f} m, bridges {bridges:.1f} m",
                corners=tape.metres("internal"),
                thresholds=tape.metres("external"),
                bridges=tape.metres("bridge"),
            ),
            "",
            "",
        ]
    )
    column.rows((14, 118, 20, 22), rows, right=(2, 3))
    _pieces(room, column)
    column.legend("tape", present)
    column.head(say("Order of work"))
    column.words(
        say(
            "Prime, broadcast quartz on the floor. Set drains and flanges; collars; corner pieces; tape lapped onto "
            "both by {tape_lap:g}, in a detail coat under and over. Then {membrane_coats:g} full coats, crosswise, "
            "each to the consumption on the schedules; measure the wet film at the test points and sign. Flood test "
            "before tile; no tile before the membrane's own curing time.",
            tape_lap=products.tape_lap.value,
            membrane_coats=products.membrane_coats.value,
        )
    )
    column.findings(room, most=2)


def _pieces(room: RoomSetOut, column: Column) -> None:
    """Corner pieces, collars and flanges."""
    tape = room.tape
    column.head(say("Corner pieces, collars, flanges"))
    counts = {kind: tape.count(kind) for kind in ("internal", "external", "made")}
    entries = [
        ("corner-internal", "CORNER-PIECE", say("internal piece: {counts}", counts=counts["internal"])),
        ("corner-external", "CORNER-PIECE", say("external piece: {counts}", counts=counts["external"])),
    ]
    if counts["made"]:
        entries.append(("corner-made", "CORNER-PIECE", say("made from tape: {counts}", counts=counts["made"])))
    entries.append(("upright", "TAPE-INTERNAL", say("upright run, with its height")))
    entries.append(("test", "TEST-POINT", say("test: W film, P pull-off, M moisture, F flood")))
    column.symbols(entries)
    if tape.collars:
        column.words(
            say("Collars: ")
            + "; ".join(
                say(
                    "{label} ({surface}), pipe {diameter:.0f}{clear}",
                    label=c.label,
                    surface=c.surface,
                    diameter=c.diameter,
                    clear=_clear(room, c),
                )
                for c in tape.collars
            )
            + "."
        )
    if tape.flanges:
        column.words(
            say("Flanges: ")
            + "; ".join(
                say("{label}, {length:.2f} m round, {width:.0f} wide", label=f.label, length=f.length / 1000, width=f.width)
                for f in tape.flanges
            )
            + "."
        )
