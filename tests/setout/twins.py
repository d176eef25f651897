"""Two records of one room compared: figures as printed, places mapped back from the twin to the room."""

from __future__ import annotations

import json
import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.setout.conduct import set_out
from layout.writers.quantity_records import takeoff_record
from layout.writers.records import setout_record
from tests.rooms import plan_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from shapely.geometry.base import BaseGeometry

NEAR = 0.003
"""Places are printed in thousandths in both records and turned between them, mm."""
FLAT = ("floor", "border", "plinth-top")


class Back(NamedTuple):
    """How a twin's record is read as the room's: its places, and its numbers of walls."""

    place: Callable[[Any], Any] = lambda points: points
    walls: Mapping[int, int] = {}

    def words(self, text: str) -> str:
        """Words with the numbers that the room's own walls have, in no order where several walls are named."""
        own = re.sub(r"\bwall (\d+)", lambda found: f"wall {self.number(int(found[1]))}", text)
        return ", ".join(sorted(re.split(r" and | / |, ", own)))

    def number(self, wall: int) -> int:
        """A wall of the twin as the room numbers it."""
        return self.walls.get(wall, wall)


class Thing(NamedTuple):
    """Something of a record: what is printed of it, and where it is."""

    told: str
    at: BaseGeometry


def records(room: dict[str, Any], tiles: dict[str, Any], rules: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """The records of a room's set-out, with every piece, and of its take-off."""
    setout = set_out(plan_of(room, tiles=tiles, rules=rules))
    bill = take_off(setout)
    return setout_record(setout, pieces=True)["rooms"][0], takeoff_record(bill, place_orders(bill))


def _line(points: Any, back: Back | None) -> BaseGeometry:
    own = np.array(points, dtype=float)[:, :2]
    own = back.place(own) if back else own
    return shapely.LineString(own) if len(own) > 1 else shapely.Point(own[0])


def _told(*values: Any) -> str:
    return json.dumps(values, sort_keys=True, ensure_ascii=False)


def things_of(made: dict[str, Any], back: Back, upright: bool = True) -> list[Thing]:
    """What a record of a set-out tells, thing by thing; without the upright faces where those are another instruction."""
    result: list[Thing] = []
    nowhere = shapely.Point(0, 0)
    flat = {each["name"] for each in made["surfaces"] if each["kind"] in FLAT}
    for each in made["surfaces"]:
        if each["kind"] in FLAT or upright:
            result += _surface(each, back, upright)
    for each in made["movement_joints"]:
        if each["surface"] in flat or upright:
            told = _told("joint", each["kind"], back.words(each["surface"]), each["length_mm"], each["width_mm"], back.words(each["at"]))
            result.append(Thing(told, _line(each["line"], back if each["surface"] in flat else None)))
    for each in made["bays"]:
        if each["surface"] in flat or upright:
            told = _told("bay", back.words(each["surface"]), each["area_m2"], each["longest_mm"], each["aspect"])
            result.append(Thing(told, nowhere))
    for each in made["tape"]:
        levels = sorted({z for *_, z in each["line"]}) if len(each["line"][0]) == 3 else []
        result.append(Thing(_told("tape", each["kind"], each["junction"], each["length_mm"], levels), _line(each["line"], back)))
    for each in made["collars"]:
        own = back if each["surface"] in flat else None
        result.append(Thing(_told("collar", each["for"], each["diameter_mm"]), _line([each["at"]], own)))
    for each in made["membrane"]["terminations"]:
        result.append(Thing(_told("end", each["kind"], back.words(each["where"]), each["length_mm"], each["how"]), nowhere))
    kinds = [each for each in made["joint_types"] if upright or each["kind"] != "corner"]
    result += [Thing(_told("type", {**each, **({} if upright else {"length_mm": 0, "moving_mm": 0})}), nowhere) for each in kinds]
    codes = Counter(each["code"] for each in made["warnings"] if upright or each["surface"] in flat)
    rest = (made["corner_pieces"], made["flanges"], made["membrane"]["film"], made["membrane"]["clear"], made["floor_m2"], codes)
    result.append(Thing(_told("rest", *rest), nowhere))
    if made["levels"]:
        result.append(Thing(_told("levels", _levels(made["levels"])), nowhere))
    return result


def _levels(levels: dict[str, Any]) -> dict[str, Any]:
    """What is printed of a floor that falls, its spots by their levels."""
    spots = sorted((spot["what"] == "grid", spot["level_mm"]) for spot in levels["spots"])
    return {key: value for key, value in levels.items() if isinstance(value, (int, float))} | {"spots": spots}


def _surface(each: dict[str, Any], back: Back, marks: bool) -> list[Thing]:
    """A surface, its start, its lines and its pieces; marks are one series over all surfaces, so they are told where all are compared.

    Starts told beside the best are left out: each is laid as a plan that fixes it, from the corner and in the axes in which it would be typed.
    """
    own = back if each["kind"] in FLAT else None
    name, start = back.words(each["name"]), each["start"]
    figures = {key: each[key] for key in ("gross_m2", "tiled_m2", "lost_mm2", "pattern", "tile", "tiles", "necks")}
    if start is None:  # no tile on it
        return [Thing(_told(name, each["part"], each["kind"], figures), shapely.Point())]
    piece = start["narrowest_piece"]
    figures |= {key: start[key] for key in start if key.endswith("_mm") or key in ("method", "tried", "known")}
    figures |= {"at": back.words(start["smallest_cut_at"]), "mark": piece["mark"] if piece and marks else None}
    figures |= {"pulls": sorted(back.words(_told(pull)) for pull in start["pulls"])}
    cuts = sorted(_told(cut["mark"] if marks else "", cut["count"], cut["shape"], sorted(cut["size"])) for cut in each["cuts"])
    result = [Thing(_told(name, each["part"], each["kind"], figures, cuts), _line([*each["outline"], each["outline"][0]], own))]
    result += [Thing(_told("hole", name), _line([*hole, hole[0]], own)) for hole in each["holes"]]
    for line in start["lines"]:
        walls = sorted(
            (back.number(off["wall"]), off["bare_mm"], off["membrane_mm"], off["finished_mm"]) for off in line["offsets"] if off["wall"]
        )
        result.append(Thing(_told("line", name, walls), _line([line["from"], line["to"]], own)))
    result += [
        Thing(
            _told("piece", name, one["mark"] if marks else one["mark"] is None, len(one["holes"])),
            _line([*one["outline"], one["outline"][0]], own),
        )
        for one in each["pieces"]
    ]
    return result


def items_of(record: dict[str, Any], back: Back) -> dict[str, str]:
    """What a record of a take-off tells, by key; its parts under the room's own numbers of walls."""
    result = {}
    for each in record["items"]:
        parts = sorted((back.words(part["where"]), part["quantity"]) for part in each["parts"])
        result[each["key"]] = _told({key: value for key, value in each.items() if key != "parts"}, parts)
    result["batches"] = _told(record["batches"])
    rolls = (record["cutting_list"] or {"rolls": []})["rolls"]
    result["rolls"] = _told(len(rolls), sorted((run["length_mm"], run["part"], run["parts"]) for roll in rolls for run in roll))
    return result


def unlike(room: list[Thing], twin: list[Thing]) -> list[str]:
    """What two records tell otherwise, or have elsewhere; empty where they are of one room."""
    one, two = (Counter(each.told for each in things) for things in (room, twin))
    result = [f"{n} only in the room: {told}" for told, n in (one - two).items()]
    result += [f"{n} only in the twin: {told}" for told, n in (two - one).items()]
    there: dict[str, list[BaseGeometry]] = {}
    for each in twin:
        there.setdefault(each.told, []).append(each.at)
    for each in room:
        if each.at.is_empty or each.told not in there:
            continue
        apart = min(float(shapely.hausdorff_distance(each.at, at)) for at in there[each.told])
        if apart > NEAR:
            result.append(f"{apart:.3f} mm apart: {each.told}")
    return result
