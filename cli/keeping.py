"""What is kept of an earlier set: lines, joints and marks, from a plan or the folder of a run, and what that costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import layout

if TYPE_CHECKING:
    from pathlib import Path


class Kept(NamedTuple):
    """A set-out with things kept, the best free one, what was kept, and of which earlier set-out."""

    setout: layout.SetOut
    free: layout.SetOut
    what: tuple[str, ...]
    before: layout.SetOut

    def cost_text(self, rates: layout.Rates | None = None) -> str:
        """What keeping costs, in words."""
        from cli.differences import cost_of_keeping

        return cost_of_keeping(layout.keeping_costs(self.setout, self.free), self.against_free(rates), self.what)

    def against_free(self, rates: layout.Rates | None = None) -> layout.Changes:
        """What differs from the free set-out."""
        return layout.compare_setouts(self.free, self.setout, rates=rates)


def what_to_keep(text: str) -> tuple[str, ...]:
    """`lines,marks` as what is kept, in the order that it is told in."""
    found = [word.strip().lower() for word in text.split(",")]
    for word in found:
        if word not in layout.KEEP:
            raise layout.PlanError("--keep", f"{word!r} found", "give some of " + ", ".join(layout.KEEP) + ", with commas between")
    return tuple(word for word in layout.KEEP if word in found)


def set_out_with(plan: layout.Plan, text: str, earlier: Path | None) -> Kept:
    """A plan set out with what is kept of an earlier plan or run.

    Raises
    ------
    PlanError
        If there is no earlier one, or what is kept does not lie in the new rooms.
    """
    what = what_to_keep(text)
    if earlier is None:
        raise layout.PlanError(
            "--keep", "nothing tells what is built", "give --from with the earlier plan, or the folder of an earlier run"
        )
    before, free = layout.set_out(layout.read_plan(plan_in(earlier))), layout.set_out(plan)
    return kept_of(before, free, what)


def kept_of(before: layout.SetOut, free: layout.SetOut, what: tuple[str, ...]) -> Kept:
    """A free set-out with things kept of an earlier one."""
    return Kept(layout.set_out(layout.keep_built(before, free, what)), free, what, before)  # type: ignore[arg-type]  # asked of layout.KEEP


def plan_in(place: Path) -> Path:
    """A plan file, or the plan that an earlier run kept in its folder."""
    if not place.is_dir():
        return place
    found = sorted(place.glob("*-plan.toml"))
    if len(found) != 1:
        what = "no plan of an earlier run is in it" if not found else f"{len(found)} plans are in it"
        raise layout.PlanError(str(place), what, "name the plan file itself, or a folder that `gaugerod run` wrote")
    return found[0]


def plan_before(folder: Path) -> Path | None:
    """The plan of the set that stood in a folder before the one that stands there now; None if there was none."""
    found = sorted(folder.glob("*-plan-before.toml")) if folder.is_dir() else []
    return found[0] if len(found) == 1 else None


def kept_in(plan: layout.Plan) -> tuple[str, ...]:
    """What a plan says is built and stays."""
    lines = any(room.kept_lines for room in plan.rooms)
    joints = any(room.kept_joints for room in plan.rooms)
    found = {"lines": lines, "joints": joints and not lines, "marks": bool(plan.kept_marks)}
    return tuple(word for word in layout.KEEP if found[word])


def plan_with_kept(file: Path, kept: Kept) -> str:
    """A plan's own text with what is kept as keys in it, its comments as they were."""
    plan = layout.read_plan(file)
    if plan.places:
        return layout.plan_toml(kept.setout.plan)
    return layout.with_kept(layout.read_text(file), plan, kept.setout.plan)


def lines_text(changes: layout.Changes, most: int = 12) -> str:
    """Which lines that are snapped would move, in plain words, and how to leave them."""
    moves = [(room, line) for room in changes.rooms for line in room.lines]
    if not moves:
        return "no line that is snapped moves"
    told = []
    for room, line in moves[:most]:
        figures = (
            "" if line.before != line.before or line.after != line.after else f": {line.before:.1f} from {line.face} → {line.after:.1f}"
        )
        turned = f", turned by {line.turned:+.2f} degrees" if abs(line.turned) >= 1e-3 else ""
        told.append(f"  {room.name}, {line.surface}: line {line.name} by {abs(line.moved):.1f}{turned}{figures}")
    more = [f"  and {len(moves) - most} more"] if len(moves) > most else []
    return "\n".join(
        ["lines that are snapped would move:", *told, *more, "--keep lines leaves them where they are and tells what that costs"]
    )
