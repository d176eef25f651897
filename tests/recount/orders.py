"""The take-off against the set-out: every line that follows from pieces, rings and lines, its parts and its packs."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any

import shapely

if TYPE_CHECKING:
    from tests.recount.tally import Tally


def count_orders(tally: Tally, setout: dict[str, Any], bill: dict[str, Any]) -> None:
    """Sums of parts, packs, and each quantity that the set-out gives."""
    items = {item["key"]: item for item in bill["items"]}
    for item in bill["items"]:
        parts = math.fsum(part["quantity"] for part in item["parts"])
        tally.same("a quantity is the sum of its parts", item["quantity"], parts, 1e-6 * (1 + len(item["parts"])), where=item["key"])
        _packs(tally, item)
    for key, told in counted(setout).items():
        item = items.pop(key, None)
        play = 2e-5 + 2e-6 * abs(told)
        tally.same(_kind(key), 0.0 if item is None else item["quantity"], told, play, where=key)
    for key in items:
        if key.split(".")[0] in ("joints", "tape", "tiled", "corner_pieces"):
            tally.holds("nothing is billed that is not drawn", items[key]["quantity"] == 0.0, items[key]["quantity"], where=key)
    _tiles(tally, setout, bill)
    _grout(tally, setout, bill)
    _sealant(tally, setout, bill)
    _rolls(tally, setout, bill)


def _kind(key: str) -> str:
    return f"quantity: {key.split('.', maxsplit=1)[0]}" if key.split(".", maxsplit=1)[0] in ("tiled", "backer_rod") else f"quantity: {key}"


def counted(setout: dict[str, Any]) -> dict[str, float]:
    """Quantities that follow from the set-out, by the keys of the take-off: m², m, pieces."""
    result: defaultdict[str, float] = defaultdict(float)
    for room in setout["rooms"]:
        for part in room["surfaces"]:
            if part.get("pieces"):
                result[f"tiled.{part['tile']['name']}"] += part["tiled_m2"]
        for joint in room["movement_joints"]:
            result[f"joints.{joint['kind']}"] += joint["length_mm"] / 1e3
        for row in room["joint_types"]:
            if row["kind"] != "pipe":
                result[f"backer_rod.{row['rod_mm']:g}"] += row["length_mm"] / 1e3
        for run in room["tape"]:
            result[f"tape.{run['junction']}"] += run["length_mm"] / 1e3
        for kind, number in room["corner_pieces"].items():
            result[f"corner_pieces.{kind}"] += number
        result["collars"] += len(room["collars"])
        result["flanges"] += math.fsum(each["length_mm"] for each in room["flanges"]) / 1e3
        for end in room["membrane"]["terminations"]:
            result[f"terminations.{end['kind'].replace(' ', '_')}"] += end["length_mm"] / 1e3
    return result


def _packs(tally: Tally, item: dict[str, Any]) -> None:
    """Packs hold what is needed, and one fewer would not."""
    order = item.get("order")
    if order is None:
        return
    tally.same(
        "what is needed, with spares, is what is ordered in packs", order["need"], item["amounts"]["with_spares"], 1e-6, where=item["key"]
    )
    tally.same("packs times their size", item["amounts"]["in_packs"], order["packs"] * order["pack_size"], 1e-6, where=item["key"])
    tally.no_more("what is needed fits the packs", order["need"], order["packs"] * order["pack_size"], 1e-6, where=item["key"])
    if "runs" not in order["allowance"] and "run whole" not in order["allowance"]:  # rolls and lengths are cut, not poured
        tally.holds("no pack too many", (order["packs"] - 1) * order["pack_size"] < order["need"] + 1e-6, order["packs"], where=item["key"])


def _tiles(tally: Tally, setout: dict[str, Any], bill: dict[str, Any]) -> None:
    """Tiles bought: one for each whole tile and each place with a cut one, and never less than the area laid."""
    need: defaultdict[str, int] = defaultdict(int)
    area: defaultdict[str, float] = defaultdict(float)
    for room in setout["rooms"]:
        for part in room["surfaces"]:
            for piece in part.get("pieces", ()):
                area[part["tile"]["name"]] += shapely.Polygon(piece["outline"], piece["holes"]).area
            if part.get("pieces"):
                need[part["tile"]["name"]] += part["tiles"]["whole"] + part["tiles"]["cut"]
    told: defaultdict[str, float] = defaultdict(float)
    size: dict[str, float] = {}
    for item in bill["items"]:
        if item["key"].startswith("tiles."):
            name = item["key"].split(".")[1]
            told[name] += item["quantity"]
            found = re.search(r"([\d.]+) × ([\d.]+)", item["name"])
            if found:
                size[name] = max(size.get(name, 0.0), float(found[1]) * float(found[2]))
    for name in sorted(need):
        tally.same("quantity: tiles, one for each whole and each cut place", told[name], need[name], 0.0, where=name)
        if name in size:
            tally.no_more("area laid, in tiles, no more than tiles bought", area[name] / size[name], told[name], 0.0, where=name)


def _grout(tally: Tally, setout: dict[str, Any], bill: dict[str, Any]) -> None:
    """Grout fills what is between the tiles as deep as they are: by the density and waste that its formula says."""
    item = next((item for item in bill["items"] if item["key"] == "grout"), None)
    if item is None:
        return
    rates = re.search(r"× ([\d.]+) kg/l × ([\d.]+)", item["formula"])
    if rates is None:
        tally.unjudged["grout by another formula"] += 1
        return
    total = 0.0
    for room in setout["rooms"]:
        for part in room["surfaces"]:
            if part.get("pieces"):
                laid = math.fsum(shapely.Polygon(piece["outline"], piece["holes"]).area for piece in part["pieces"])
                total += max(part["tiled_m2"] * 1e6 - laid - part["lost_mm2"], 0.0) * part["tile"]["thickness"] / 1e6
    counted_kg = total * float(rates[1]) * float(rates[2])
    tally.same("quantity: grout, kg", item["quantity"], counted_kg, 0.005 + 2e-3 * counted_kg)


def _sealant(tally: Tally, setout: dict[str, Any], bill: dict[str, Any]) -> None:
    """Sealant: metres of each kind by width and depth, with the waste that the formula says."""
    item = next((item for item in bill["items"] if item["key"] == "sealant"), None)
    rate = re.search(r"× ([\d.]+); by section", item["formula"]) if item else None
    if item is None or rate is None:
        return
    ml = math.fsum(row["length_mm"] / 1e3 * row["width_mm"] * row["depth_mm"] for room in setout["rooms"] for row in room["joint_types"])
    tally.same("quantity: sealant, ml", item["quantity"], ml * float(rate[1]), 0.01 + 1e-5 * ml)


def _rolls(tally: Tally, setout: dict[str, Any], bill: dict[str, Any]) -> None:
    """Tape off the rolls: no roll holds more than its length, every part of every run is cut once, and runs are as long as drawn with their laps."""
    made = bill["cutting_list"]
    parts: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for roll in made["rolls"]:
        tally.no_more("tape cut from a roll, mm", math.fsum(cut["length_mm"] for cut in roll), made["roll_mm"], 0.02)
        for cut in roll:
            parts[cut["run"]].append(cut)
    for name, own in parts.items():
        tally.holds("each part of a run is cut once", sorted(cut["part"] for cut in own) == list(range(1, own[0]["parts"] + 1)), name)
    runs = [run for room in setout["rooms"] for run in room["tape"]]
    drawn = math.fsum(run["length_mm"] for run in runs)
    cut_mm = math.fsum(cut["length_mm"] for roll in made["rolls"] for cut in roll)
    if runs:
        tally.no_more("tape drawn, no more than cut off rolls, mm", drawn, cut_mm, 1.0)
