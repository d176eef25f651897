"""The works programme: stages in order, windows kept or told, curing round the clock, work in working hours."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
import json
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.programme.calendar import Calendar
from layout.programme.climate import slower
from layout.programme.stages import plan_works
from layout.programme.task import NAMES
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan, read_plan
from layout.setout.conduct import set_out
from tests.examples import example_takeoff
from tests.rooms import plan_text
from tests.test_project import TOP

if TYPE_CHECKING:
    from layout.quantities.values import TakeOff

CANTEEN = TOP / "plans" / "canteen.toml"
MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone


@pytest.fixture(scope="module")
def takeoff() -> TakeOff:
    return example_takeoff(CANTEEN)


@pytest.fixture(scope="module")
def broadcast() -> TakeOff:
    """The canteen with quartz on its last coat, which then takes tile for good."""
    plan = read_plan(CANTEEN)
    return take_off(set_out(dataclasses.replace(plan, rules=dataclasses.replace(plan.rules, quartz_last=True))))


def test_stages_follow_each_other_and_keep_their_windows(broadcast):
    works = plan_works(broadcast, start=MONDAY)
    assert list(dict.fromkeys(stage.key for stage in works.stages)) == list(NAMES)
    for before, after in zip(works.stages, works.stages[1:], strict=False):
        if after.key == before.key:  # another area of it
            assert after.start >= before.end
            continue
        assert after.start >= before.next_from
        if before.next_by is not None:
            assert after.start <= before.next_by
    assert not works.findings


def test_hours_by_hand(takeoff):
    # primer: 69.27 m2 at 15 m2 an hour and hand, two hands: 2.309 h, 07:00 to 09:19; then 12 h at 20 degrees before the tape
    works = plan_works(takeoff, start=MONDAY)
    prime = works.stages[0]
    assert prime.hours == pytest.approx(69.27 / 15, rel=1e-3)
    assert (prime.end - prime.start).total_seconds() / 3600 == pytest.approx(69.27 / 30, rel=1e-3)
    assert (prime.next_from - prime.end).total_seconds() == pytest.approx(12 * 3600)
    # tape: 35.6 m at 10 m an hour and hand
    assert works.stages[1].hours == pytest.approx(3.56, rel=1e-3)
    # each coat: 69.27 m2 at 8 m2 an hour and hand
    assert [stage.hours for stage in works.stages if stage.key.startswith("coat")] == pytest.approx([8.659, 8.659], rel=1e-3)


def test_the_canteens_tiling_by_hand(takeoff):
    # 77.1 m2 of tile at 1.2 to 1.6 h/m2 on a resin bed: 93 to 123 hours of one hand. 1 m2 an hour with 200 mm tile: 77.14 h;
    # 499 cut tiles at 3 min: 24.95 h; 8.81 m2 of wall above 2 m take 1 / 0.8 as long, 2.20 h more: 104.3 h
    tiled = sum(item.quantity for item in takeoff.items if item.row.work == "tiled")
    assert tiled == pytest.approx(77.14, abs=0.01)
    works = plan_works(takeoff, start=MONDAY)
    hours = {key: sum(stage.hours for stage in works.stages if stage.key == key) for key in NAMES}
    assert hours["walls"] + hours["floor"] + hours["bottom"] == pytest.approx(77.14 + 24.95 + 2.20, abs=0.05)
    assert hours["grout"] == pytest.approx(0.4 * tiled, rel=1e-6)
    # the bill has the same hours
    assert takeoff.item("labour.fixing").quantity == pytest.approx(hours["walls"] + hours["floor"] + hours["bottom"])
    assert takeoff.item("labour.grout").quantity == pytest.approx(hours["grout"])
    assert takeoff.item("labour.membrane").quantity == pytest.approx(hours["coat 1"] + hours["coat 2"])


def test_cold_makes_windows_longer_and_heat_shorter(takeoff):
    assert [slower(t) for t in (20.0, 10.0, 30.0)] == [1.0, 2.0, 0.5]
    cold, warm = (plan_works(takeoff, start=MONDAY, temperature=t) for t in (10.0, 20.0))
    firsts = [{stage.key: stage for stage in reversed(works.stages)} for works in (cold, warm)]  # cold grout goes in more areas
    assert list(firsts[0]) == list(firsts[1])
    for one, two in zip(firsts[0].values(), firsts[1].values(), strict=True):
        if one.key not in ("flood", "walls"):
            assert one.next_from - one.end == 2 * (two.next_from - two.end)
    assert cold.wash == (30.0, 90.0)
    assert cold.full_load[0] > warm.full_load[0]


def test_a_window_that_the_weekend_closes_is_told(takeoff):
    # primed on Friday, its window of 48 h at 20 degrees is 39 h at 23: closed on Saturday evening, so it waits for Monday
    friday = MONDAY + dt.timedelta(days=4)
    works = plan_works(takeoff, start=friday, temperature=23.0)
    assert [finding.code for finding in works.findings] == ["works-wait", "window-missed"]
    assert "begun on Fri 04 Dec 07:00" in works.findings[0].text
    assert "it waits until Mon 07 Dec 07:00" in works.findings[0].text
    assert works.stages[0].start == dt.datetime(2026, 12, 7, 7, 0)  # noqa: DTZ001
    # where nobody works but on Mondays no day will do: it is begun and what it misses is told
    works = plan_works(takeoff, start=MONDAY, calendar=Calendar(days=(0,)))
    assert works.stages[0].start == MONDAY
    assert {finding.code for finding in works.findings} == {"window-missed"}
    assert "the window of prime, broadcast quartz on the floor closes at Wed 02 Dec 07:00" in works.findings[0].text


def test_tile_has_a_latest_time_after_an_unbroadcast_coat(takeoff, broadcast):
    """The flood test goes over the weekend: 92 h after the last coat, which takes tile for 72."""
    works = plan_works(takeoff, start=MONDAY)
    (finding,) = works.findings
    stages = {stage.key: stage for stage in works.stages}
    assert (stages["walls"].start - stages["coat 2"].start).total_seconds() / 3600 == pytest.approx(96)
    assert finding.code == "window-missed"
    for words in (
        "fix wall tile",
        "comes at Mon 07 Dec 07:00",
        "second coat crosswise, not broadcast, takes tile until Sun 06 Dec 07:00",
        "rules.quartz_last",
    ):
        assert words in finding.text
    assert not plan_works(broadcast, start=MONDAY).findings


def test_tile_that_begins_in_time_and_ends_too_late_is_told(takeoff):
    """With work on every day the flood test ends on Saturday; the walls then go on for four days."""
    works = plan_works(takeoff, start=MONDAY, calendar=Calendar(days=(0, 1, 2, 3, 4, 5, 6)))
    stages = {stage.key: stage for stage in works.stages}
    assert (stages["walls"].start - stages["coat 2"].start).total_seconds() / 3600 < 72
    (finding,) = works.findings
    assert "goes on to" in finding.text


def test_a_flood_test_ends_when_somebody_is_there(takeoff):
    ends = []
    for day in range(14):
        works = plan_works(takeoff, start=MONDAY + dt.timedelta(days=day))
        (flood,) = [stage for stage in works.stages if stage.key == "flood"]
        assert flood.end - flood.start >= dt.timedelta(hours=24)
        for moment in (flood.start, flood.end):
            assert moment.weekday() < 5
            assert dt.time(7) <= moment.time() <= dt.time(16)
        ends.append(flood.end - flood.start)
    assert max(ends) > dt.timedelta(hours=60)  # one goes over a weekend


def test_a_hall_is_coated_in_areas_that_keep_their_windows():
    """600 m2 take two people 20 h to prime and 38 h a coat: by areas, each within the windows of that area."""
    hall = {"name": "Hall", "outline": [[0, 0], [30000, 0], [30000, 20000], [0, 20000]], "tanking_height": 150}
    text = plan_text(hall, tiles={"floor": {"size": [600, 600], "joint": 6}}, rules={"quartz_last": True, "movement": "UK_FLOOR"})
    works = plan_works(take_off(set_out(parse_plan(text))), start=MONDAY)
    assert not [finding for finding in works.findings if finding.code == "window-missed"]
    coats = [stage for stage in works.stages if stage.key in ("prime", "details", "coat 1", "coat 2")]
    assert {stage.areas for stage in coats} == {5}  # 615 m2 of coat at 8 m2 an hour and hand: 38.4 h, days of 9 h
    for area in range(1, 6):
        own = {stage.key: stage for stage in coats if stage.area == area}
        for key, after, wait, by in (("prime", "details", 12, 48), ("details", "coat 1", 6, 36), ("coat 1", "coat 2", 6, 36)):
            assert dt.timedelta(hours=wait) <= own[after].start - own[key].end
            assert own[after].start - own[key].start <= dt.timedelta(hours=by)
            assert own[after].end - own[key].end <= dt.timedelta(hours=by)
            assert own[after].start.date() == own[after].end.date()


def test_three_coats_are_three_stages():
    text = plan_text({"name": "A", "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]}) + "[products]\nmembrane_coats = 3\n"
    works = plan_works(take_off(set_out(parse_plan(text))), start=MONDAY)
    assert [stage.name for stage in works.stages if stage.key.startswith("coat")][2] == "membrane, coat 3"


def test_one_crew_does_one_thing_at_a_time():
    rooms = "".join(
        f'[[rooms]]\nname = "R{k}"\noutline = [[0, 0], [{3000 + 400 * k}, 0], [{3000 + 400 * k}, 2600], [0, 2600]]\n' for k in range(1, 5)
    )
    text = plan_text({"name": "A", "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]}, rules={"quartz_last": True}) + rooms
    works = plan_works(take_off(set_out(parse_plan(text))), start=MONDAY)
    assert not [finding for finding in works.findings if finding.code == "window-missed"]
    whole = sorted((stage.start, stage.end) for stage in works.stages if stage.key in ("prime", "details", "coat 1", "coat 2", "grout"))
    assert len(whole) == 5 * 5
    for (_, end), (start, _) in itertools.pairwise(whole):
        assert start >= end


def test_a_coat_is_not_left_overnight(takeoff):
    for hour in range(7, 16):
        works = plan_works(takeoff, start=MONDAY.replace(hour=hour, minute=30))
        coats = [stage for stage in works.stages if stage.key in ("prime", "coat 1", "coat 2", "grout")]
        assert {stage.key for stage in coats} == {"prime", "coat 1", "coat 2", "grout"}
        for stage in coats:
            assert stage.start.date() == stage.end.date()


@given(st.datetimes(dt.datetime(2026, 1, 1), dt.datetime(2027, 1, 1)), st.floats(0.1, 60.0))  # noqa: DTZ001
def test_work_is_done_in_working_hours_only(at, hours):
    calendar = Calendar()
    begins = calendar.opens(at)
    ends = calendar.worked(at, hours)
    assert begins >= at
    assert begins.weekday() < 5
    assert calendar.start <= begins.time() < calendar.end
    assert ends.time() <= calendar.end
    worked = dt.timedelta()
    moment = begins
    while moment.date() < ends.date():
        worked += dt.datetime.combine(moment.date(), calendar.end) - moment
        moment = calendar.opens(dt.datetime.combine(moment.date() + dt.timedelta(days=1), calendar.start))
    worked += ends - moment
    assert worked.total_seconds() == pytest.approx(hours * 3600, abs=1)


def test_rooms_have_programmes_of_their_own():
    text = plan_text({"name": "A", "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]})
    text += '[[rooms]]\nname = "B"\noutline = [[0, 0], [8000, 0], [8000, 6000], [0, 6000]]\n'
    works = plan_works(take_off(set_out(parse_plan(text))), start=MONDAY)
    first = {stage.room: stage for stage in works.stages if stage.key == "coat 1"}
    assert first[1].hours > 3 * first[0].hours
    assert set(works.full_load) == {0, 1}
    assert works.rooms == ("A", "B")


def test_the_programme_as_json():
    said = CliRunner().invoke(app, ["programme", str(CANTEEN), "--start", "2026-11-30T07:00", "--json"])
    assert said.exit_code == 0
    record = json.loads(said.stdout)
    assert record["schema"] == "gaugerod/programme/1"
    assert record["stages"][0]["start"] == "2026-11-30T07:00"
    assert all(stage["hold"] for stage in record["stages"] if stage["stage"] in ("prime", "flood", "sealant"))


@pytest.mark.parametrize(("more", "words"), [
    (("--start", "soon"), "'soon' found"),
    (("--start", "2026-11-30T07:00", "--hands", "0"), "give 1 to 50"),
    (("--start", "9999-12-30T07:00"), "9999-12-30 found"),
    (("--start", "2026-11-30T07:00", "--temperature", "60"), "from -20 to 50"),
    (("--start", "2026-11-30T07:00", "--temperature", "40"), "greatest_temperature_c is 35"),
    (("--start", "2026-11-30T07:00", "--temperature", "warm"), "'warm' found"),
    (("--start", "2026-11-30T07:00", "--temperature", "no.csv"), "no.csv"),
    (("--start", "2026-11-30T07:00", "--shift", "7 to 4"), "as 07:00-16:00"),
    (("--start", "2026-11-30T07:00", "--shift", "07:00-07:00"), "as 07:00-16:00"),
    (("--start", "2026-11-30T07:00", "--holidays", "2027-01-02 to 2026-12-24"), "2026-12-24 to 2027-01-03"),
    (("--start", "2026-11-30T07:00", "--zone", "Alder/Quay"), "no time zone"),
    (("--start", "2026-03-29T02:30", "--zone", "Europe/Berlin"), "02:30 does not exist in Europe/Berlin"),
    (("--start", "2026-03-29T02:30+01:00",), "offset of its own"),
    (("--start", "2026-11-30T07:00", "--days", "mon-someday"), "as mon-sat"),
])  # fmt: skip
def test_a_programme_that_cannot_be_is_told(more, words):
    said = CliRunner().invoke(app, ["programme", str(CANTEEN), *more])
    assert said.exit_code == 2
    assert words in said.stderr


def test_a_start_that_nobody_gave_is_asked_for(tmp_path):
    """The works begin at `works.start`, else on the plan's date; without both --start is wanted."""
    room = plan_text({"name": "A", "outline": [[0, 0], [2000, 0], [2000, 2000], [0, 2000]]}, rules={"quartz_last": True})
    for head, begins in (
        ("", None),
        ("[project]\ndate = 2026-03-02\n", "2026-03-02T07:00"),
        ('[project]\ndate = 2026-03-02\n[works]\nstart = 2026-03-04T09:30:00\nshift = "06:00-14:00"\n', "2026-03-04T09:30"),
    ):
        (tmp_path / "a.toml").write_text(head + room, encoding="utf-8")
        said = CliRunner().invoke(app, ["programme", str(tmp_path / "a.toml"), "--json"])
        assert said.exit_code == (2 if begins is None else 0)
        if begins is None:
            assert "--start: it is missing" in said.stderr
        else:
            assert json.loads(said.stdout)["stages"][0]["start"] == begins


@pytest.mark.parametrize(
    ("days", "worked"), [("mon-sat", {0, 1, 2, 3, 4, 5}), ("Sat-Mon", {5, 6, 0}), ("mon,wed, friday", {0, 2, 4}), ("sun", {6})]
)
def test_shift_and_days_are_kept(days, worked):
    said = CliRunner().invoke(
        app, ["programme", str(CANTEEN), "--start", "2026-11-30T07:00", "--shift", "06:30-18:00", "--days", days, "--json"]
    )
    assert said.exit_code == 0, said.stderr
    stages = json.loads(said.stdout)["stages"]
    moments = [dt.datetime.fromisoformat(stage[key]) for stage in stages for key in ("start", "end")]
    assert {moment.weekday() for moment in moments} <= worked
    assert all(dt.time(6, 30) <= moment.time() <= dt.time(18) for moment in moments)
    assert min(moment.time() for moment in moments) == dt.time(6, 30)
