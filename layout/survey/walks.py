"""A room from a walk round it: lengths with turns between them, and what is done with what does not close.

Lengths are taped, right angles are looked at: so a walk that comes back near its start keeps every typed length and lets the
angles give, as little as they can. Where they would have to give too much, the misclosure is shared among the walls in
proportion to their lengths: the compass rule (Bowditch 1808; see any textbook of plane surveying).
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from layout.errors import PlanError
from layout.units import metres_typed, parse_length

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.errors import Point

    Floats = NDArray[np.float64]

CLOSES = 50.0
"""A walk that ends farther from its start than this does not close, mm."""
GIVES_DEG = 1.0
"""An angle that was looked at may be so far off, degrees: 17 mm a metre (common practice, no source)."""
ROUNDS = 30


class Walk(NamedTuple):
    """Corners of a walk, mm; how far it ended from its start as typed; what was done about that, in words."""

    corners: list[Point]
    gap: float
    said: str = ""


def walk(text: str) -> Walk:
    """Corners of a walk round the room, closed.

    Lengths with turns between them: "6500 L 2900 L 2400 R 1800 L 4100 L 4700"; L or R is a right angle to the left or
    right, L45 another. A length that is left out at the end is closed by itself.

    Raises
    ------
    PlanError
        If a word is neither, or the walk does not close.
    """
    lengths, headings, open_end = _typed(text)
    steps = np.array(lengths)[:, None] * np.array([_way(each) for each in headings])
    points = np.vstack([np.zeros(2), np.cumsum(steps, axis=0)])
    gap = float(np.hypot(*points[-1]))
    if len(lengths) < 3:
        raise PlanError("--walk", f"{len(lengths)} walls found", "a room has three at least")
    if gap <= CLOSES:
        return _closed(np.array(lengths), np.array(headings), gap)
    x, y = points[-1]
    last = math.degrees(math.atan2(-y, -x))
    if abs(math.remainder(last - (open_end if open_end is not None else headings[-1]), 90.0)) > 1.0:
        found = f"it ends {gap:.0f} from where it began, at [{x:.0f}, {y:.0f}]"
        raise PlanError("--walk", found, f"check the lengths; the walk must come back to within {CLOSES:g}")
    return Walk(_as_points(points), 0.0)


def compass_rule(steps: Floats) -> Floats:
    """Steps (n, 2) of a walk with its misclosure taken off them in proportion to their lengths, so that they close."""
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    adjusted: Floats = steps - np.outer(lengths / lengths.sum(), steps.sum(axis=0))
    return adjusted


def _closed(lengths: Floats, headings: Floats, gap: float) -> Walk:
    """A walk that ends near its start, closed; by its angles if they need give little, else by the compass rule."""
    plain = lengths[:, None] * np.array([_way(each) for each in headings])
    angles = np.radians(headings)
    turned = angles_giving(lengths, angles) if gap > 1e-6 else None
    most = math.inf if turned is None else float(np.degrees(np.abs(turned - angles)).max())
    if gap <= 1e-6:
        steps, said = plain, ""
    elif turned is not None and most <= GIVES_DEG:
        steps = lengths[:, None] * np.column_stack([np.cos(turned), np.sin(turned)])
        said = f"the walk ended {gap:.0f} mm from its start: every length is kept, angles give by {most:.2f}° at the most"
    else:
        steps = compass_rule(plain)
        shares = np.abs(lengths - np.hypot(steps[:, 0], steps[:, 1]))
        worst = int(shares.argmax())
        said = (
            f"the walk ended {gap:.0f} mm from its start, more than angles can give: it is shared by the compass rule, in proportion to "
            f"lengths, {shares[worst]:.1f} mm at the most, on wall {worst + 1}"
        )
    return Walk(_as_points(np.vstack([np.zeros(2), np.cumsum(steps[:-1], axis=0)])), gap, said)


def angles_giving(lengths: Floats, angles: Floats) -> Floats | None:
    """Directions (n,) near the given ones, radians, with which walls of these lengths close; None if none do.

    The first wall keeps its way; the least sum of squares of the changes of direction, by Newton's way with the two
    conditions of closing.
    """
    turned = angles.copy()
    for _ in range(ROUNDS):
        gap = np.array([float(lengths @ np.cos(turned)), float(lengths @ np.sin(turned))])
        if float(np.hypot(*gap)) < 1e-9:
            break
        slope = np.vstack([-lengths * np.sin(turned), lengths * np.cos(turned)])[:, 1:]
        change = turned[1:] - angles[1:]
        normal = slope @ slope.T
        if abs(float(np.linalg.det(normal))) < 1e-6:
            return None
        turned[1:] = angles[1:] + slope.T @ np.linalg.solve(normal, slope @ change - gap)
    closes = math.hypot(float(lengths @ np.cos(turned)), float(lengths @ np.sin(turned))) < 1e-6
    return turned if closes else None


def _typed(text: str) -> tuple[list[float], list[float], float | None]:
    """Lengths, the heading of each, degrees; and the heading that a turn at the end leaves open."""
    words: list[str] = []
    lengths: list[float] = []
    headings: list[float] = []
    heading, expects = 0.0, "length"
    for word in _joined(text):
        turn = re.fullmatch(r"([LRlr])(\d+(?:\.\d+)?)?", word)
        if turn:
            if expects == "length":
                mend = "write lengths with turns between them: 6500 L 2900 L …"
                raise PlanError("--walk", f"{word!r} found where a length is wanted", mend)
            heading += float(turn[2] or 90.0) * (1.0 if turn[1] in "Ll" else -1.0)
            expects = "length"
            continue
        try:
            length = parse_length(word)
        except ValueError:
            raise PlanError("--walk", f"{word!r} found", "write lengths in mm with L or R between them: 6500 L 2900 L …") from None
        if expects == "turn":
            raise PlanError("--walk", f"{word!r} follows a length", "put L or R between two walls")
        if not 0.0 < length < 1e9:
            raise PlanError("--walk", f"{word!r} found", "give lengths above 0")
        words.append(word)
        lengths.append(length)
        headings.append(heading)
        expects = "turn"
    if words and all(metres_typed(word) for word in words):
        raise PlanError("--walk", f"{words[0]!r} found", metres_typed(words[0]))
    return lengths, headings, heading if expects == "length" else None


def _joined(text: str) -> list[str]:
    """The words of a walk, a length written in several words drawn together: 21' 4", 6 ft 3 in, 2.9 m."""
    parts = re.split(r"(?:^|[\s,]+)([LRlr](?:\d+(?:\.\d+)?)?)(?=$|[\s,])", text.strip())
    words = []
    for k, part in enumerate(parts):
        part = part.strip(" ,\t\n")
        if k % 2 or _is_length(part):
            words.append(part)
        else:
            words += part.replace(",", " ").split()
    return [word for word in words if word]


def _is_length(text: str) -> bool:
    try:
        parse_length(text)
    except ValueError:
        return False
    return True


def _way(heading: float) -> tuple[float, float]:
    angle = math.radians(heading)
    return round(math.cos(angle), 12), round(math.sin(angle), 12)


def _as_points(points: Floats) -> list[Point]:
    return [(float(round(x, 3)) + 0.0, float(round(y, 3)) + 0.0) for x, y in points]
