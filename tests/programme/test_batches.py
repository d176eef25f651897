"""The batch list: whole packs, mixed while the crew is at it, laid within their pot life or told."""

from __future__ import annotations

import csv
import datetime as dt
import io
import itertools
import json

import pytest
from typer.testing import CliRunner

from cli.main import app
from layout.programme.calendar import Calendar
from layout.programme.stages import plan_works
from layout.quantities.orders import place_orders
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan
from layout.setout.conduct import set_out
from tests.examples import example_takeoff
from tests.rooms import plan_text
from tests.test_project import TOP

CANTEEN = TOP / "plans" / "canteen.toml"
MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone
BOX = {"name": "A", "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]}


@pytest.fixture(scope="module")
def takeoff():
    return example_takeoff(CANTEEN)


def room(extra: str):
    return take_off(set_out(parse_plan(plan_text(BOX) + "[products]\n" + extra)))


def test_primer_by_hand(takeoff):
    """69.27 m2; 0.4 kg/m2 and 5 % lost: a pack of 10 kg does 23.81 m2, two hands 30 m2 an hour: 47 min 37 s a pack."""
    primed = [batch for batch in plan_works(takeoff, start=MONDAY).batches if batch.stage == "prime"]
    assert [f"{batch.at:%H:%M:%S}" for batch in primed] == ["07:00:00", "07:47:37", "08:35:14"]
    assert [batch.covers for batch in primed] == pytest.approx([23.81, 23.81, 69.27 - 47.62], abs=0.02)
    assert all(batch.by - batch.at == dt.timedelta(minutes=25) for batch in primed)
    assert {batch.hands for batch in primed} == {4}  # 23.81 m2 in 25 min at 6.25 m2 a hand


def test_cold_gives_more_time_and_takes_fewer_hands(takeoff):
    cold = [batch for batch in plan_works(takeoff, start=MONDAY, temperature=10.0).batches if batch.stage == "prime"]
    assert all(batch.by - batch.at == dt.timedelta(minutes=50) for batch in cold)
    assert {batch.hands for batch in cold} == {2}


def test_all_work_is_mixed_for_while_the_crew_is_at_it(takeoff):
    works = plan_works(takeoff, start=MONDAY)
    paces = {"prime": 15.0, "coat 1": 8.0, "coat 2": 8.0, "grout": 2.5, "details": 10.0}
    # tile by its adhesive: 3 mm of mean bed and 1 on the back, 1.55 kg/l: 6.2 kg/m2
    kg = takeoff.item("adhesive").parts
    stages: dict[str, list[float]] = {"floor": [], "bottom": [], "walls": []}
    for part in kg:
        stages["floor" if part.place.surface.kind == "floor" else part.place.course or "walls"].append(part.quantity)
    for key, weights in stages.items():
        paces[key] = sum(weights) / 6.2 / sum(stage.hours for stage in works.stages if stage.key == key)
    assert {stage.key for stage in works.stages} >= set(paces)
    for stage in works.stages:
        own = [batch for batch in works.batches if (batch.stage, batch.area) == (stage.key, stage.area)]
        assert bool(own) == (stage.key in paces)
        if not own:
            continue
        assert sum(batch.covers for batch in own) == pytest.approx(stage.hours * paces[stage.key], abs=0.05)
        assert all(stage.start <= batch.at < stage.end for batch in own)
        assert all(batch.at.weekday() < 5 and dt.time(7) <= batch.at.time() < dt.time(16) for batch in own)
        for one, two in itertools.pairwise(own):  # the next is mixed when the last is laid, and each day begins with one
            if one.at.date() == two.at.date():
                laid = dt.timedelta(hours=one.covers / paces[stage.key] / 2)
                assert abs(two.at - one.at - laid) < dt.timedelta(seconds=1)
            else:
                assert two.at.time() == dt.time(7)


def test_the_crew_is_at_a_stage_as_long_as_its_hours_say(takeoff):
    for temperature, days in ((20.0, (0, 1, 2, 3, 4)), (12.0, (0, 2, 4))):
        stages = plan_works(takeoff, start=MONDAY, temperature=temperature, calendar=Calendar(days=days)).stages
        assert stages
        for stage in stages:
            worked = sum(((end - begin) for begin, end in stage.spans), dt.timedelta())
            assert worked.total_seconds() / 3600 * stage.hands == pytest.approx(stage.hours, abs=1e-3)
            assert all(begin.date() == end.date() for begin, end in stage.spans)


def test_two_coats_of_primer_take_the_packs_that_are_ordered():
    takeoff = room("primer_coats = 2\nprimer_pack_kg = 1\n")
    (order,) = [order for order in place_orders(takeoff) if order.item.key == "primer"]
    mixed = [batch for batch in plan_works(takeoff, start=MONDAY).batches if batch.stage == "prime"]
    assert len(mixed) == order.packs > 5


def test_too_few_hands_and_too_few_packs_are_told():
    codes = [finding.code for finding in plan_works(room(""), start=MONDAY).batch_findings]
    assert "batch-hands" in codes
    small = room("primer_pack_kg = 2\nmembrane_pack_kg = 2\nadhesive_pack_kg = 2\ngrout_pack_kg = 1\n")
    assert not [each for each in plan_works(small, start=MONDAY).batch_findings if each.code == "batch-hands"]
    # 0.8 kg/m2 on 12 m2 and upstands, two coats on two days: with packs of 30 kg one would do both by weight, but each day takes one
    large = plan_works(room("membrane_pack_kg = 60\n"), start=MONDAY)
    (told,) = [each for each in large.batch_findings if each.code == "batch-packs" and "membrane" in each.text]
    assert "3 packs are mixed and 1 ordered" in told.text  # details, first coat, second coat


def test_washes_fall_inside_the_shift_or_are_refused(takeoff):
    """At 10 degrees grout is washed up by 90 min after it is worked in, so a shift until 14:45 works it in until 13:15.

    30.86 h of one hand, two hands: 15.43 h; in days of 7.75 h two areas would do, in days of 6.25 h it takes three. What is left
    of a shift of an hour is nothing: what is mixed then is washed at 08:30 at the soonest, and told.
    """
    for temperature, end, areas in ((20.0, dt.time(16), 2), (10.0, dt.time(14, 45), 3)):
        works = plan_works(takeoff, start=MONDAY, temperature=temperature, calendar=Calendar(end=end))
        grout = [stage for stage in works.stages if stage.key == "grout"]
        assert len(grout) == areas
        washed = [batch.washed for batch in works.batches if batch.washed is not None]
        assert {batch.stage for batch in works.batches if batch.washed} == {"grout"}
        assert len(washed) > 10
        assert all(each.time() <= end for each in washed)
        assert max(washed) - grout[-1].end == dt.timedelta(minutes=45 * areas - 45)
        assert not [each for each in works.batch_findings if each.code == "wash-late"]
    works = plan_works(takeoff, start=MONDAY, temperature=10.0, calendar=Calendar(end=dt.time(8)))
    (told,) = [each for each in works.batch_findings if each.code == "wash-late"]
    assert "work ends at 08:00" in told.text


def test_the_list_as_json_and_csv():
    run = CliRunner()
    asked = ["programme", str(CANTEEN), "--start", "2026-11-30T07:00"]
    record = json.loads(run.invoke(app, [*asked, "--json"]).stdout)
    said = run.invoke(app, [*asked, "--csv"])
    assert said.exit_code == 0
    rows = list(csv.DictReader(io.StringIO(said.stdout)))
    assert len(rows) == len(record["batches"]) > 50
    for row, one in zip(rows, record["batches"], strict=True):
        assert list(row) == list(one)
        assert row["mix_at"] == one["mix_at"]
        assert float(row["covers"]) == one["covers"]
    assert {each["code"] for each in record["batch_warnings"]} == {"batch-hands", "batch-packs"}
    both = run.invoke(app, [*asked, "--csv", "--json"])
    assert both.exit_code == 2
    assert "--csv" in both.stderr
