"""The site: keys of the plan, nights, holidays, clocks that change, days that are too cold, what was really done."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.errors import PlanError, PlanFaults, Rule
from layout.plan.works import DayWeather, Works
from layout.programme.calendar import Calendar
from layout.programme.climate import Air, Climate, climate_of, slower
from layout.programme.done import DoneRow
from layout.programme.stages import plan_works
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.readers.worksfile import read_done, read_weather
from layout.setout.conduct import set_out
from layout.standards.products import Products
from layout.writers.planfile import plan_toml
from tests.rooms import plan_text

HOUR = dt.timedelta(hours=1)
ROOM = plan_text(
    {"name": "A", "outline": [[0, 0], [3000, 0], [3000, 2000], [0, 2000]], "tanking_height": 150},
    tiles={"floor": {"size": [300, 300], "joint": 6}}, rules={"quartz_last": True},
)  # fmt: skip


def moment(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


@pytest.fixture(scope="module")
def takeoff():
    return take_off(set_out(parse_plan(ROOM)))


def works_of(text: str) -> Works:
    return parse_plan(f"[works]\n{text}\n{ROOM}").works


def test_keys_of_the_plan_come_back_as_they_were():
    text = (
        'start = 2026-11-30T07:00:00\nzone = "Europe/Berlin"\nshift = "22:00-06:00"\ndays = "sun-thu"\nhands = 3\nstage_hands = { grout = 4 }\n'
        'holidays = ["2026-12-24 to 2027-01-03", 2027-04-02]\ntemperature = 16\nhumidity = 60\nair = 17\nareas = 2\nask_figures = true\n'
        'weather = [{ date = "2026-12-01", temperature = 14 }, { date = 2026-12-02, temperature = 12, humidity = 70 }]'
    )
    plan = parse_plan(f"[works]\n{text}\n{ROOM}")
    assert plan.works.days == (0, 1, 2, 3, 6)
    assert plan.works.hands_at("coat 2") == 3
    assert plan.works.hands_at("grout") == 4
    assert plan.works.holidays[0] == (dt.date(2026, 12, 24), dt.date(2027, 1, 3))
    assert parse_plan(plan_toml(plan)).works == plan.works


@pytest.mark.parametrize(("text", "words"), [
    ('shift = "7-4"', "07:00-16:00"),
    ('days = "mon-someday"', "mon-sat"),
    ("hands = 0", "give 1 to 50"),
    ("stage_hands = { flor = 2 }", "'floor'"),
    ('holidays = ["2027-01-03 to 2026-12-24"]', "2026-12-24 to 2027-01-03"),
    ("start = 2026-11-30T07:00:00+01:00", "works.zone"),
    ("temperature = 80", "from -20 to 50"),
    ("air = 12", "give both"),
    ('weather = [{ date = "2026-12-02", temperature = 14 }, { date = "2026-12-01", temperature = 12 }]', "order of their dates"),
])  # fmt: skip
def test_keys_that_cannot_be_are_told(text, words):
    with pytest.raises(PlanFaults, match=words):
        works_of(text)


@pytest.mark.parametrize(("text", "words"), [
    ("membrane_recoat_from_h = 40", "membrane_recoat_by_h.*comes no later than membrane_recoat_from_h of 40"),
    ("primer_recoat_by_h = 12", "give more than 12"),
    ("grout_wash_by_min = 10", "grout_wash_from_min"),
    ("greatest_temperature_c = 8", "least_temperature_c"),
    ("times_at_10_c = 0.5", "sets faster when warm"),
    ("pot_at_30_c = 2", "sets faster when warm"),
    ("adhesive_m2_h = 0", "above 0"),
])  # fmt: skip
def test_windows_that_contradict_each_other_and_outputs_of_nothing_are_refused(text, words):
    with pytest.raises(PlanFaults, match=words):
        parse_plan(f"{ROOM}[products]\n{text}\n")


def test_figures_that_nobody_gave_are_told_and_asked_for(takeoff):
    told = plan_works(takeoff, start=moment("2026-11-30T07:00"))
    (note,) = told.notes
    assert note.code == "figures-asked"
    assert "primer_recoat_by_h" in note.text
    asked = take_off(set_out(parse_plan(f"[works]\nask_figures = true\n{ROOM}[products]\nprimer_recoat_by_h = 40\n")))
    with pytest.raises(PlanError, match=r"25 figures are not given: primer_pot_min.*under \[products\]") as refused:
        plan_works(asked, start=moment("2026-11-30T07:00"))
    assert "primer_recoat_by_h" not in str(refused.value)


def test_a_night_shift_goes_on_after_midnight(takeoff):
    """From Sunday 22:00 to Monday 06:00, eight hours that belong to Sunday; Friday and Saturday nights are off."""
    night = Calendar(start=dt.time(22), end=dt.time(6), days=(0, 1, 2, 3, 6))
    assert night.hours == 8
    assert night.opens(moment("2026-11-30T02:00")) == moment("2026-11-30T02:00")
    assert night.closes(moment("2026-11-30T02:00")) == moment("2026-11-30T06:00")
    assert night.opens(moment("2026-11-30T06:00")) == moment("2026-11-30T22:00")
    assert night.worked(moment("2026-12-03T23:00"), 9.0) == moment("2026-12-07T00:00")  # 7 h until Friday 06:00, 2 h from Sunday 22:00
    works = plan_works(takeoff, start=moment("2026-11-30T22:00"), works=works_of('shift = "22:00-06:00"\ndays = "sun-thu"'))
    assert works.stages[0].start == moment("2026-11-30T22:00")
    assert all(not 6 <= begin.hour < 22 for stage in works.stages for begin, _ in stage.spans)


def test_holidays_are_kept_and_a_year_of_them_is_refused(takeoff):
    works = plan_works(takeoff, start=moment("2026-12-22T07:00"), works=works_of('holidays = ["2026-12-24 to 2027-01-03"]'))
    worked = {begin.date() for stage in works.stages for begin, _ in stage.spans}
    assert min(worked) == dt.date(2027, 1, 4)  # begun on the 22nd, the first coat would fall due on Christmas Eve
    assert "works-wait" in {each.code for each in works.findings}
    assert not [day for day in worked if dt.date(2026, 12, 24) <= day <= dt.date(2027, 1, 3)]
    with pytest.raises(PlanError, match="no shift begins within 400 days"):
        plan_works(
            takeoff, start=moment("2027-01-04T07:00"), works=works_of('holidays = ["2027-01-01 to 2028-01-01", "2028-01-02 to 2028-12-31"]')
        )


def test_clocks_that_change():
    """On 29 March 2026 clocks in Berlin go from 02:00 to 03:00, on 25 October from 03:00 back to 02:00."""
    night = Calendar(start=dt.time(22), end=dt.time(6), days=(0, 1, 2, 3, 4, 5, 6), zone="Europe/Berlin")
    for day, hours in (("2026-03-28", 7), ("2026-10-24", 9), ("2026-11-24", 8)):
        begin, end = night.shift_on(dt.date.fromisoformat(day))
        assert (end - begin) / HOUR == hours
        assert night.shown(end).time() == dt.time(6)
    # 24 h of cure from Saturday noon end at Sunday 13:00 of summer time
    late = Calendar(zone="Europe/Berlin")
    ended = late.shown(late.running(moment("2026-03-28T12:00")) + 24 * HOUR)
    assert ended == moment("2026-03-29T13:00")


def test_a_start_that_the_clock_leaves_out_is_refused(takeoff):
    with pytest.raises(PlanError, match=r"02:30 does not exist in Europe/Berlin.*give 03:30 or later"):
        plan_works(takeoff, start=moment("2026-03-29T02:30"), works=works_of('zone = "Europe/Berlin"'))
    plan_works(takeoff, start=moment("2026-03-29T02:30"))  # without a zone nobody knows


def test_more_hands_at_a_stage_take_less_time(takeoff):
    works = plan_works(takeoff, start=moment("2026-11-30T07:00"), works=works_of("hands = 1\nstage_hands = { coat = 2, floor = 3 }"))
    assert works.stages
    for stage in works.stages:
        own = {"coat 1": 2, "coat 2": 2, "floor": 3}.get(stage.key, 1)
        worked = sum((end - begin) / HOUR for begin, end in stage.spans)
        assert stage.hands == own
        assert worked * own == pytest.approx(stage.hours)


@pytest.mark.parametrize(("degrees", "times"), [(10.0, 2.0), (15.0, 1.41421), (16.0, 1.31951), (25.0, 0.70711), (30.0, 0.5)])
def test_times_by_the_rule(degrees, times):
    assert slower(degrees) == pytest.approx(times, abs=1e-5)


def test_the_products_table_goes_before_the_rule():
    own = Products(times_at_10_c=Rule(3.0, "x", "data sheet"), pot_at_10_c=Rule(1.5, "x", "data sheet"))
    assert slower(10.0, own) == 3.0
    assert slower(15.0, own) == pytest.approx(3.0**0.5)  # halfway in degrees, halfway in ratio
    assert slower(20.0, own) == 1.0
    assert slower(0.0, own) == pytest.approx(6.0)  # beyond it by the rule
    assert slower(10.0, own, pot=True) == 1.5


@given(st.lists(st.integers(8, 32), min_size=1, max_size=8), st.floats(0.0, 200.0), st.integers(0, 200))
@settings(max_examples=25, deadline=None)
def test_cure_over_days_that_differ_is_the_sum_of_their_rates(days, hours, begin):
    """Hour by hour: each adds 2^((T - 20)/10) of an hour at 20 degrees."""
    first = dt.date(2026, 11, 30)
    told = tuple((first + n * dt.timedelta(days=1), Air(float(t))) for n, t in enumerate(days))
    climate = Climate(Air(20.0), told, Products(), Calendar())
    at = dt.datetime.combine(first, dt.time()) + begin * HOUR
    ended = climate.after(at, hours)
    step, gone = at, 0.0
    while step < ended:
        upto = min(dt.datetime.combine(step.date(), dt.time(step.hour)) + HOUR, ended)
        gone += (upto - step) / HOUR * 2.0 ** ((days[min((step.date() - first).days, len(days) - 1)] - 20.0) / 10.0)
        step = upto
    assert gone == pytest.approx(hours, abs=1e-6)


def test_a_day_that_is_too_cold_is_refused_with_the_day_on_which_it_can_be_done(takeoff):
    days = (("2026-11-30", 8.0), ("2026-12-01", 7.0), ("2026-12-02", 12.0))
    weather = tuple(DayWeather(date=dt.date.fromisoformat(day), temperature=t) for day, t in days)
    works = plan_works(takeoff, start=moment("2026-11-30T07:00"), works=Works(weather=weather, days=(0, 1, 2, 3, 4, 5, 6)))
    assert works.stages[0].start == moment("2026-12-02T07:00")
    (told,) = [each for each in works.findings if each.code == "too-cold"]
    for words in (
        "prime",
        "refused on Mon 30 Nov",
        "8 found",
        "least_temperature_c is 10",
        "can be done on Wed 02 Dec",
        "warm the room to 10",
    ):
        assert words in told.text
    # 12 h of primer at 12 degrees are 12 * 2^0.8
    prime = works.stages[0]
    assert (prime.next_from - prime.end) / HOUR == pytest.approx(12 * 2**0.8)
    assert any(note.code == "weather-ends" for note in works.notes)
    with pytest.raises(PlanError, match=r"the last day that is given and goes on.*9 found"):
        plan_works(
            takeoff, start=moment("2026-11-30T07:00"), works=Works(weather=(DayWeather(date=dt.date(2026, 12, 1), temperature=9.0),))
        )


def test_pot_lives_go_by_the_day(takeoff):
    weather = tuple(
        DayWeather(date=dt.date(2026, 11, 30) + n * dt.timedelta(days=1), temperature=t) for n, t in enumerate((20.0, 10.0, 30.0, 20.0))
    )
    works = plan_works(takeoff, start=moment("2026-11-30T07:00"), works=Works(weather=weather))
    minutes = {"prime": 25.0, "details": 30.0, "coat 1": 30.0, "coat 2": 30.0}
    seen = set()
    for batch in works.batches:
        if batch.stage in minutes:
            degrees = {0: 20.0, 1: 10.0, 2: 30.0}.get((batch.at.date() - dt.date(2026, 11, 30)).days, 20.0)
            seen.add(degrees)
            assert (batch.by - batch.at) / HOUR * 60 == pytest.approx(minutes[batch.stage] * 2 ** ((20 - degrees) / 10))
    assert seen == {10.0, 20.0, 30.0}


def test_weather_from_a_file(tmp_path):
    path = tmp_path / "days.csv"
    path.write_text('date,temperature,humidity\n2026-11-30,14,65\n# a remark\n2026-12-01,"12,5",\n', encoding="utf-8")
    one, two = read_weather(path)
    assert (one.temperature, one.humidity, two.temperature, two.humidity) == (14.0, 65.0, 12.5, None)
    for text, words in (
        ("day,temperature\n2026-11-30,14\n", "'date'|no column date"),
        ("date,temperature\n2026-11-30,warm\n", "line 2, temperature: 'warm' found"),
        ("date,temperature\n2026-13-30,14\n", "line 2.date"),
        ("date,temperature\n", "no days"),
    ):
        path.write_text(text, encoding="utf-8")
        with pytest.raises((PlanError, PlanFaults), match=words):
            read_weather(path)


def test_small_packs_are_mixed_where_the_hands_need_them():
    """One hand lays 6.25 m² of primer in 25 min, 2.6 kg at 0.42 kg/m²: 10 kg is too much, 2.5 kg is not."""
    small = "primer_small_pack_kg = 2.5\nmembrane_small_pack_kg = 2\nadhesive_small_pack_kg = 2.5\ngrout_small_pack_kg = 1\n"
    takeoff = take_off(set_out(parse_plan(f"[works]\nhands = 1\n{ROOM}[products]\n{small}")))
    works = plan_works(takeoff, start=moment("2026-11-30T07:00"))
    primed = [batch for batch in works.batches if batch.stage == "prime"]
    assert {batch.pack_kg for batch in primed} == {2.5}
    assert {batch.hands for batch in primed} == {1}
    assert sum(batch.covers for batch in primed) == pytest.approx(works.stages[0].hours * 15)
    assert "batch-hands" not in {each.code for each in works.batch_findings if "primer" in each.text}
    assert any("packs of 2.5 kg and 0 of 10 kg are mixed" in each.text for each in works.batch_findings)


def test_the_rest_is_planned_again_from_what_was_done(takeoff):
    start = moment("2026-11-30T07:00")
    planned = plan_works(takeoff, start=start)
    rows = tuple(
        DoneRow(room="A", stage=stage.key, start=stage.start, end=stage.end, area=stage.area)
        for stage in planned.stages if stage.key in ("prime", "details", "coat 1")
    )  # fmt: skip
    again = plan_works(takeoff, start=start, done=rows)
    assert [(stage.key, stage.start, stage.end) for stage in again.stages] == [
        (stage.key, stage.start, stage.end) for stage in planned.stages
    ]
    assert [stage.key for stage in again.stages if stage.done] == ["prime", "details", "coat 1"]
    assert {batch.stage for batch in again.batches} == {batch.stage for batch in planned.batches} - {"prime", "details", "coat 1"}


def test_what_can_no_longer_be_met_is_told_first(takeoff):
    """The detail coat takes the first coat for 36 h: begun three days later it cannot be met, and what it stood on was too cold."""
    rows = (
        DoneRow(room="A", stage="prime", start=moment("2026-11-30T07:00"), end=moment("2026-11-30T08:00"), temperature=20.0),
        DoneRow(room="A", stage="details", start=moment("2026-11-30T13:00"), end=moment("2026-11-30T15:00")),
        DoneRow(room="A", stage="coat 1", start=moment("2026-12-04T07:00"), temperature=9.0),
    )
    works = plan_works(takeoff, start=moment("2026-11-30T07:00"), done=rows)
    codes = [each.code for each in works.findings]
    assert codes[:3] == ["window-missed", "done-early", "done-cold"]
    assert works.findings[0].text.startswith("Can no longer be met: A: membrane, first coat comes at Fri 04 Dec 07:00")
    assert "takes it from" in works.findings[1].text
    under_way = next(stage for stage in works.stages if stage.key == "coat 1")
    assert under_way.start == moment("2026-12-04T07:00")
    assert not under_way.done
    assert min(stage.start for stage in works.stages if stage.key == "coat 2") >= under_way.end + 6 * HOUR


@pytest.mark.parametrize(("text", "words"), [
    ("room,stage,start\nB,prime,2026-11-30T07:00\n", "there is no room 'B'"),
    ("room,stage,start\nA,primed,2026-11-30T07:00\n", "'primed' is no stage of A"),
    ("room,stage,area,start\nA,prime,3,2026-11-30T07:00\n", "prime of A has 1"),
    ("room,stage,start,end\nA,prime,2026-11-30T07:00,2026-11-29T07:00\n", "comes before its start"),
    ("room,stage,start\nA,prime,2026-11-30T07:00\nA,prime,2026-11-30T07:00\n", "told twice"),
    ("room,stage,start\nA,prime,soon\n", "'soon' found"),
    ("room,stage\nA,prime\n", "no column start"),
    ('[{"room": "A", "stage": "prime"}]', "start: it is missing"),
    ('[{"room": "A", "stage": "prime", "begin": 1}]', "no such key"),
    ("{", "not JSON"),
])  # fmt: skip
def test_done_files_that_cannot_be_are_told(takeoff, tmp_path, text, words):
    path = tmp_path / "done.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises((PlanError, PlanFaults), match=words):
        plan_works(takeoff, start=moment("2026-11-30T07:00"), done=read_done(path))


def test_the_command_takes_files_and_gives_records(tmp_path):
    (tmp_path / "a.toml").write_text(f'[works]\nstart = 2026-11-30T07:00:00\nshift = "06:00-14:00"\n{ROOM}', encoding="utf-8")
    (tmp_path / "t.csv").write_text("date,temperature\n2026-11-30,20\n2026-12-01,10\n", encoding="utf-8")
    done = [{"room": "A", "stage": "prime", "area": 1, "start": "2026-11-30T06:00", "end": "2026-11-30T06:30", "temperature": 20}]
    (tmp_path / "d.json").write_text(json.dumps({"done": done}), encoding="utf-8")
    asked = ["programme", str(tmp_path / "a.toml"), "--temperature", str(tmp_path / "t.csv"), "--done", str(tmp_path / "d.json"), "--json"]
    said = CliRunner().invoke(app, asked)
    assert said.exit_code == 0, said.stderr
    record = json.loads(said.stdout)
    assert record["works"]["shift"] == "06:00-14:00"
    assert [stage["stage"] for stage in record["stages"] if stage["done"]] == ["prime"]
    # 12 h of primer: 17.5 h of Monday at 20 degrees would do
    assert record["stages"][0]["next_from"] == "2026-11-30T18:30"
    assert sum(piece["m2"] for piece in record["day_pieces"] if piece["kind"] == "floor") == pytest.approx(5.9, abs=0.2)
    night = CliRunner().invoke(app, [*asked[:2], "--shift", "20:00-04:00", "--holidays", "2026-12-25", "--json"])
    assert json.loads(night.stdout)["stages"][0]["start"] == "2026-11-30T20:00"
    assert climate_of(Works(temperature=12.0), Products(), Calendar()).slowest == pytest.approx(2**0.8)
