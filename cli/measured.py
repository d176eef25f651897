"""A plan with as-measured figures put into it: by wall, diagonal, pair of corners or offset of a line; lines kept if wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import layout
from cli.keeping import kept_of, lines_text

if TYPE_CHECKING:
    from pathlib import Path


def measured_text(plan_file: Path, given: Path, keep: tuple[str, ...] = ()) -> tuple[str, str]:
    """A plan's text with as-measured figures put into its outline, its comments kept; and what that changes, in words."""
    import numpy as np

    text = layout.read_text(plan_file)
    before = layout.parse_plan(text, plan_file.name, folder=plan_file.parent)
    if len(before.rooms) != 1:
        raise layout.PlanError(plan_file.name, f"{len(before.rooms)} rooms found", "as-measured figures go into a plan of one room")
    setout = layout.set_out(before)
    room = before.rooms[0]
    lines = {line.name: (np.array(line.start), np.array(line.end)) for line in setout.rooms[0].floor.start.lines}
    rows, metres = layout.figures_in_room(layout.read_figures_of(given), room, lines)
    drawn = np.array([v.to for v in room.outline])
    readings = layout.readings_of(rows)
    doubts = layout.off_the_plan(drawn, readings, before.budgets)
    points = layout.shifted_by_lines(rows, drawn, lines)
    points = layout.refit(points, readings) if readings else points
    changed = layout.with_values(text, _values(room, drawn, np.round(points, 1) + 0.0, rows), make=True)
    after = layout.parse_plan(changed, plan_file.name, folder=plan_file.parent)
    built = layout.set_out(after)
    said = ["look:", *(f"  {doubt}" for doubt in doubts)] if doubts else []
    if metres:
        said.append("figures without a unit are taken as metres: so they agree with the plan")
    said += [f"  {row.what}: {row.drawn:.0f} drawn, {row.length:.0f} measured ({row.length - row.drawn:+.0f})" for row in rows]
    if keep:
        kept = kept_of(setout, built, keep)
        changed = layout.with_kept(changed, after, kept.setout.plan)
        said += [_cuts_text(setout, kept.setout), kept.cost_text().strip("\n")]
    else:
        said += [_cuts_text(setout, built), lines_text(layout.compare_setouts(setout, built))]
    return changed, "\n".join(said)


def _values(room: Any, drawn: Any, points: Any, rows: tuple[Any, ...]) -> dict[tuple[str | int, ...], Any]:  # noqa: ANN401
    """What changes in the plan's text: corners, solids that stand on walls, and the figures themselves."""
    import numpy as np

    corners = [[float(x), float(y)] for x, y in points]
    more = [{key: value for key, value in (("bulge", v.bulge), ("wall", v.wall)) if value} for v in room.outline]
    values: dict[tuple[str | int, ...], Any] = {
        ("rooms", 0, "outline"): [{"to": at, **own} if own else at for at, own in zip(corners, more, strict=True)]
    }
    for kind in ("plinths", "columns"):
        for k, solid in enumerate(getattr(room, kind)):
            if any(v.bulge for v in solid.outline):
                continue
            ring = np.array([v.to for v in solid.outline])
            moved = layout.carried_along(ring, drawn, np.array(corners))
            if np.abs(moved - ring).max() > 0.05:
                values["rooms", 0, kind, k, "outline"] = [[float(x), float(y)] for x, y in np.round(moved, 3) + 0.0]
    told = {each.what: {"what": each.what, "drawn": each.drawn, "measured": each.length} for each in room.measured}
    for row in rows:
        first = told.get(row.what, {}).get("drawn", round(row.drawn, 1))  # measured twice: beside what was drawn at first
        told[row.what] = {"what": row.what, "drawn": first, "measured": round(row.length, 1)}
    values["rooms", 0, "measured"] = list(told.values())
    return values


def _cuts_text(before: layout.SetOut, after: layout.SetOut) -> str:
    """What differs between two set-outs of a room: the cut at each wall, orders in packs."""
    setouts = (before, after)
    cuts = [{c.label: (round(c.start), round(c.end)) for c in setout.rooms[0].floor.wall_cuts} for setout in setouts]
    lines = ["cuts of the floor, saw size at both ends, before -> as measured:"]
    for label in cuts[1]:
        old, new = cuts[0].get(label), cuts[1][label]
        lines.append(
            f"  {label}: {f'{old[0]} to {old[1]}' if old else 'none'} -> {new[0]} to {new[1]}" + ("" if old != new else ", as before")
        )
    orders = [{order.item.key: order.packs for order in layout.place_orders(layout.take_off(setout))} for setout in setouts]
    more = [f"  {key}: {orders[0].get(key, 0)} -> {packs} packs" for key, packs in orders[1].items() if packs != orders[0].get(key, 0)]
    return "\n".join([*lines, "orders:", *(more or ["  as before"])])
