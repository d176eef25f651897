"""Words for the crew: no codes of rule sets, no sources, no coordinates; those stand on the page "Basis of this set".

A place is told by the start lines where two are square to each other, else by the two nearest walls: what a person can measure from.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import shapely

from layout.sheets.by_lines import beside, square_pair
from layout.standards.rules import RULE_SETS
from layout.words import say, spelt

if TYPE_CHECKING:
    from layout.setout.values import RoomSetOut

SOURCE = re.compile(
    r"[,;:]?\s*\((?:[^()]*\b)?(?:from memory|no source|common practice|a page|page on|article|standard's excerpt"
    r"|(?:DIN|ISO|EN|ANSI|BS|AS|TCNA|NCC|VOB|NHBC|NRM2|SMM7|AMTIL)\s?[\dA-Z])[^()]*\)|,? (?:from memory|common practice, no source)\b"
)
"""A source in brackets, or trailing after a comma."""
PLACE = re.compile(r"\[\s*(-?\d+(?:\.\d+)?),?\s+(-?\d+(?:\.\d+)?)\s*\]")
CODES = re.compile("|".join(sorted((re.escape(name) for name in RULE_SETS if "_" in name), key=len, reverse=True)))
TURNS = 0.3
"""Sine of the angle by which a second wall turns from the first, for two distances to fix a place."""
KEY = re.compile(r"\s*\((?:rules|tiles|rooms|products|sealant|works)\.[\w.]+\)")
"""A key of the plan in brackets: it tells who made the plan what to change, and the crew nothing."""
KEY_AND_FIGURE = re.compile(r"\((?:rules|tiles|rooms|products|sealant|works)\.[\w.]+: ")
"""The same with words after it, which the crew keeps."""
CORNER = re.compile(r"\((?:[IE]{3}), ")


def place_in_words(room: RoomSetOut, at: tuple[float, float]) -> str:
    """A place of the floor as a person measures it: by lines A and B, or off the two nearest walls.

    Walls of one direction give one distance only: the second is the nearest that turns from the first.
    """
    pair = square_pair(room)
    if pair is not None:
        return say("{one} and {other}", one=beside(pair[1], at), other=beside(pair[0], at))
    walls = [wall for wall in room.lining.outline.walls if wall.run.straight]
    if not walls:
        return say("as drawn")
    far = [float(shapely.LineString(wall.run.points).distance(shapely.Point(at))) for wall in walls]
    ways = [(wall.run.points[-1] - wall.run.points[0]) / wall.run.length for wall in walls]
    order = sorted(range(len(walls)), key=lambda k: (far[k], walls[k].run.number))
    first = order[0]
    turns = [k for k in order if abs(ways[k][0] * ways[first][1] - ways[k][1] * ways[first][0]) > TURNS]
    chosen = [first, *turns[:1]]
    return say(" and ").join(say("{far:.0f} from {label}", far=far[k], label=walls[k].label) for k in chosen)


def for_crew(text: str, room: RoomSetOut | None = None) -> str:
    """A sentence without sources and codes; places in words where the room is given.

    >>> for_crew("bay 1 is over the edge of DE_INTERIOR (ZDB, from memory)")
    'bay 1 is over the edge of the rule set'
    >>> for_crew("the joint is 5 for 6 (rules.frame_joint_play)")
    'the joint is 5 for 6'
    >>> for_crew("buy smaller packs (products.primer_small_pack_kg: up to 5.0 kg is sure to be laid)")
    'buy smaller packs (up to 5.0 kg is sure to be laid)'
    """
    text = KEY.sub("", KEY_AND_FIGURE.sub("(", CORNER.sub("(", CODES.sub(say("the rule set"), SOURCE.sub("", spelt(text))))))
    if room is None:
        return text
    return PLACE.sub(lambda found: place_in_words(room, (float(found[1]), float(found[2]))), text)
