"""Schedules: cuts of every surface, quantities and orders, findings, cautions; as many sheets as it takes."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from layout.quantities.mixing import mixing_plan
from layout.quantities.orders import place_orders, tape_list
from layout.setout.told import told_of_rooms
from layout.sheets.column import CAUTIONS
from layout.sheets.crew_words import for_crew, place_in_words
from layout.sheets.draft import Draft, Job
from layout.sheets.lettering import text_width, wrapped
from layout.sheets.paper import BLOCK_HEIGHT, BLOCK_WIDTH, SIZES, drawing_space, fair, heading, paragraph, table
from layout.standards.rules import TEST_POINTS
from layout.words import in_sense, say, spelt, worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from layout.quantities.orders import Order
    from layout.quantities.values import TakeOff
    from layout.setout.values import SetOut
    from layout.sheets.scene import Primitive

TESTS = {
    "wet film": worded("wet film"),
    "pull-off": worded("pull-off"),
    "moisture": worded("moisture"),
    "flood level": worded("flood level"),
}
"""Kinds of tests by their English."""
HEADS = {"stop": worded("Stop: not to be built so"), "look": worded("To be looked at and decided"), "note": worded("Good to know")}
"""What findings of each weight stand under."""
COLUMN_LEAST = 182.0
"""So many columns go on a page as are this wide, paper mm."""
STEP = 2.5 * 1.9
LINE = 2.5 * 1.6


@dataclass(slots=True)
class Pages:
    """Two columns a page, filled from the top down; the right one ends above the title block. `sources` if they may be told."""

    size: tuple[float, float]
    sources: bool = False
    pages: list[list[Primitive]] = field(default_factory=lambda: [[]])
    at: int = 0
    y: float = 0.0

    def __post_init__(self) -> None:
        x0, y0, x1, y1 = drawing_space(self.size)
        columns = max(int((x1 - x0) // COLUMN_LEAST), 1)
        between, inset = (8.0, 5.0) if columns > 1 else (2.0, 2.0)  # a page of one column uses all its width
        self.width = (x1 - x0 - 2.0 - between * columns) / columns
        self.lefts = [x0 + inset + k * (self.width + between) for k in range(columns)]
        self.top = y1 - 6.0
        under = [left + self.width > x1 - BLOCK_WIDTH for left in self.lefts]  # on A4 both columns end above the title block
        self.feet = [y0 + (BLOCK_HEIGHT + 5.0 if each else 6.0) for each in under]
        self.y = self.top

    width: float = field(init=False)
    lefts: list[float] = field(init=False)
    top: float = field(init=False)
    feet: list[float] = field(init=False)

    @property
    def x(self) -> float:
        """Left edge of the column being filled."""
        return self.lefts[self.at]

    @property
    def left(self) -> float:
        """Height left in the column."""
        return self.y - self.feet[self.at]

    def need(self, height: float) -> None:
        """Go on in the next column or page if so much height is not left."""
        if self.left >= height or self.y == self.top:
            return
        self.at += 1
        if self.at == len(self.lefts):
            self.at = 0
            self.pages.append([])
        self.y = self.top

    def add(self, made: list[Primitive], y: float) -> None:
        """Take primitives and go on below them."""
        self.pages[-1] += made
        self.y = y

    def head(self, text: str, room: float = 24.0) -> None:
        """A heading with room for something under it."""
        self.need(room)
        self.add(*heading(text, self.x, self.y, self.width))

    def rows(self, parts: Sequence[float], rows: list[list[str]], right: Sequence[int] = ()) -> None:
        """A table broken over columns, its head repeated; `parts` are shares of the width."""
        widths = fair([self.width * part / math.fsum(parts) for part in parts], rows)
        head, body = rows[0], rows[1:]
        while body:
            self.need(3 * STEP)
            fit = max(int((self.left - 3.0) / STEP) - 1, 1)
            self.add(*table(self.x, self.y, widths, [head, *body[:fit]], right=right))
            body = body[fit:]

    def words(self, text: str, bullet: str = "") -> None:
        """A paragraph, in words for the crew unless this page tells sources; a long one goes on in the next column."""
        indent = text_width(bullet + " ", 2.5) if bullet else 0.0
        lines = wrapped(text if self.sources else for_crew(text), 2.5, self.width - indent)
        while lines:
            self.need(10.0)
            fit = max(int(self.left // LINE), 1)
            off = 0.0 if bullet else indent
            made, y = paragraph(" ".join(lines[:fit]), self.x + off, self.y, self.width - off, bullet=bullet)
            self.add(made, y)
            lines, bullet = lines[fit:], ""


def drafts(job: Job) -> Iterator[Draft]:
    """The schedules of the whole set."""
    paper = job.paper or "A3"
    for k, page in enumerate(pages(job.setout, job.takeoff, place_orders(job.takeoff), SIZES[paper]), 1):
        yield Draft(f"schedules-{k}", say("Schedules"), job.named, paper, None, (), page)


def pages(setout: SetOut, takeoff: TakeOff, orders: tuple[Order, ...], size: tuple[float, float]) -> list[list[Primitive]]:
    """The paper scenes of the schedule sheets."""
    result = Pages(size)
    _quantities(result, takeoff, orders)
    _mixing(result, takeoff, orders)
    _cutting_list(result, setout)
    _tests(result, setout)
    _findings(result, setout)
    result.head(say("Cautions"))
    for text in CAUTIONS:
        result.words(say(text), "•")
    return result.pages


def _quantities(result: Pages, takeoff: TakeOff, orders: tuple[Order, ...]) -> None:
    by_key = {order.item.key: order for order in orders}
    result.head(say("Quantities and orders: net as built, whole packs"))
    rows = [[say("item"), say("quantity"), say("order")]]
    rows += [[item.name, item.shown, _ordered(by_key.get(item.key))] for item in takeoff.items]
    result.rows((46, 16, 38), rows, right=(1,))
    result.words(
        say(
            "Pack sizes and consumptions are generic defaults unless the plan gives the supplier's; the page Basis of "
            "this set lists them all."
        )
    )


def _mixing(result: Pages, takeoff: TakeOff, orders: tuple[Order, ...]) -> None:
    """Whole packs to mix, what each covers, and the hands that lay it in time."""
    rows = [[say("mixed whole"), say("packs"), say("m² a pack"), say("pot life, min"), say("hands")]]
    for each in mixing_plan(takeoff, orders):
        rows.append(
            [
                each.name,
                say("{packs} of {pack_kg:g} kg", packs=each.packs, pack_kg=each.pack_kg),
                f"{each.m2_each:.1f}",
                f"{each.pot_min:.0f}",
                f"{each.hands}",
            ]
        )
    if len(rows) > 1:
        result.head(say("Mixing: a pack is never split; pot life at 20 °C by the data sheet"))
        result.rows((40, 20, 14, 16, 10), rows, right=(2, 3, 4))


def _cutting_list(result: Pages, setout: SetOut) -> None:
    """Which lengths of tape come off which roll."""
    cutting = tape_list(setout)
    if not cutting.rolls:
        return
    least = say("no fewer would do") if len(cutting.rolls) == cutting.bound else say("at least {bound} are needed", bound=cutting.bound)
    result.head(say("Tape off the rolls: {rolls} of {roll:g} m, {least}", rolls=len(cutting.rolls), roll=cutting.roll / 1000, least=least))
    rows = [[say("roll"), say("cut in this order, m"), in_sense("of a roll", "left")]]
    for number, roll in enumerate(cutting.rolls):
        lengths = []
        for each in roll:
            part = say(" ({part} of {parts})", part=each.part, parts=each.parts) if each.parts > 1 else ""
            lengths.append(f"{each.run}{part} {each.length / 1000:.2f}")
        step = 5
        for k in range(0, len(lengths), step):
            last = k + step >= len(lengths)
            rows.append(
                [f"{number + 1}" if k == 0 else "", ", ".join(lengths[k : k + step]), f"{cutting.rest(number) / 1000:.2f}" if last else ""]
            )
    result.rows((8, 82, 10), rows, right=(2,))


def _tests(result: Pages, setout: SetOut) -> None:
    """Test points with lines to sign."""
    tests = [(room, test) for room in setout.rooms for test in room.membrane.tests]
    if not tests:
        return
    result.head(say("Test points: value, date, signature"))
    rows = [[say("point"), say("test"), say("where"), say("wanted"), say("found, date, signature")]]
    film = setout.rooms[0].membrane.film
    wanted = {
        "wet film": say("{wet:.2f} mm a coat", wet=film.wet),
        "pull-off": say("data sheet"),
        "moisture": say("data sheet"),
    }
    for room, test in tests:
        where = spelt(test.thing) or place_in_words(room, test.at)
        label = f"{room.name}: {test.name}" if len(setout.rooms) > 1 else test.name
        rows.append([label, TESTS.get(test.test, test.test), where, wanted.get(test.kind, say("no fall in 24 h")), "." * 34])
    result.rows((10, 12, 34, 18, 26), rows)
    rules = "; ".join(
        say("{kind}: one per {rule:g} {unit}", kind=TESTS.get(kind, kind), rule=rule.value, unit=rule.unit)
        for kind, rule in TEST_POINTS.items()
    )
    result.words(say("How many: {rules}.", rules=rules))


def _ordered(order: Order | None) -> str:
    """An order with the first thing that it allows for."""
    if order is None:
        return ""
    shown = spelt(order.shown)
    return f"{shown}, {spelt(order.first)}" if order.first else shown


def _findings(result: Pages, setout: SetOut) -> None:
    for weight, own in itertools.groupby(told_of_rooms(setout.rooms), key=lambda each: each[0].weight):
        result.head(HEADS[weight])
        for told, text in own:
            result.words(for_crew(text, next(room for room in setout.rooms if told.findings[0] in room.findings)), "□")
