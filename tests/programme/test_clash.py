"""What stands in the way of a window: named as a chain, proved against a solver of another kind; what cures it is tried."""

from __future__ import annotations

import dataclasses
import datetime as dt

import highspy
import pytest

from layout.programme.calendar import Calendar
from layout.programme.clash import never_kept, room_network
from layout.programme.network import Clash, keep
from layout.programme.site import plain_site
from layout.programme.stages import plan_works
from layout.programme.task import After, Task
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from tests.rooms import plan_text

MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone
ROOM = {"name": "A", "outline": [[0, 0], [5000, 0], [5000, 4000], [0, 4000]], "tanking_height": 150}


def coat_and_tile(tile: float, *, stands: float = 24.0, window: float | None = 72.0) -> list[Task]:
    """A coat of 4 h, 24 h until water, a flood test, then so many hours of tile within a window of the coat."""
    return [
        Task(room=0, key="coat 2", hours=8.0, whole=True, chain=0, opens=True),
        Task(room=0, key="flood", hours=0.0, alone=stands, after=(After(0, 24.0),)),
        Task(room=0, key="floor", hours=tile, after=(After(1, 0.0), After(0, 0.0, window))),
    ]


def test_a_flood_test_on_a_coat_that_is_not_broadcast_by_hand():
    """24 h to water and 24 h of test leave 24 of 72 h after the coat's end: 9 h of tile fit, 20 h (9, 9 and 2 h, two nights of 15 h) do not.

    20 + 30 + 48 = 98 h, 26 too long. A test of 72 h leaves nothing at all.
    """
    site = plain_site(2, Calendar())
    assert never_kept(coat_and_tile(18.0), site) == {}
    (words,) = never_kept(coat_and_tile(40.0), site).values()
    for each in (
        "24 h after membrane, second coat crosswise", "flood test stands 24 h", "takes 20 h in 3 shifts",
        "must be done within 72 h of membrane, second coat crosswise: 26 h too long",
    ):  # fmt: skip
        assert each in words
    assert "flood test stands 72 h" in never_kept(coat_and_tile(1.0, stands=72.0), site)[0]
    assert never_kept(coat_and_tile(40.0, window=None), site) == {}


@pytest.mark.parametrize("tile", [2.0, 18.0, 30.0, 47.0, 49.0, 90.0])
def test_rooms_against_linear_programming(tile):
    tasks, site = coat_and_tile(tile), plain_site(2, Calendar())
    moments, limits = room_network(tasks, range(3), site)
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    at = [solver.addVariable(lb=0.0, ub=1e4) for _ in range(moments)]
    for limit in limits:
        solver.addConstr(at[limit.to] - at[limit.of] <= limit.most)
    solver.run()
    possible = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    assert isinstance(keep(moments, limits), Clash) == (not possible)


def test_each_cure_that_is_told_keeps_the_window_when_it_is_taken():
    """20 m² of floor at 0.71 m² an hour take 28 h of one hand; what is told to keep the window is put into the plan, and keeps it."""
    text = plan_text(ROOM) + "[products]\nadhesive_m2_h = 0.71\nfixing_cut_min = 0\n"
    takeoff = take_off(set_out(parse_plan(text)))
    works = plan_works(takeoff, start=MONDAY)
    (missed,) = [each for each in works.findings if each.code == "window-missed"]
    assert "Each of these was planned again and keeps it" in missed.text
    assert "hands more" in missed.text
    assert "broadcast the last coat (rules.quartz_last)" in missed.text
    plan = takeoff.setout.plan
    broadcast = dataclasses.replace(
        takeoff,
        setout=dataclasses.replace(takeoff.setout, plan=dataclasses.replace(plan, rules=dataclasses.replace(plan.rules, quartz_last=True))),
    )
    assert not [each for each in plan_works(broadcast, start=MONDAY).findings if each.code == "window-missed"]
    hands = int(missed.text.split(" hands more (")[1].split(")")[0])
    assert not [each for each in plan_works(takeoff, start=MONDAY, hands=hands).findings if each.code == "window-missed"]
    assert [each for each in plan_works(takeoff, start=MONDAY, hands=3).findings if each.code == "window-missed"]  # no fewer than is told


def test_a_window_that_only_the_weekend_closes_is_followed_back():
    """Where nobody works but on Mondays the chain has each task with its times and why it waits."""
    takeoff = take_off(set_out(parse_plan(plan_text(ROOM, rules={"quartz_last": True}))))
    works = plan_works(takeoff, start=MONDAY, calendar=Calendar(days=(0,)))
    first = next(each.text for each in works.findings if each.code == "window-missed")
    assert "The chain: prime, broadcast quartz on the floor Mon 30 Nov 07:00 to Mon 30 Nov 07:" in first
    assert "12 h after prime, broadcast quartz on the floor; nobody is there before" in first
