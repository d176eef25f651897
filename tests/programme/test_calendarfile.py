"""The programme as a calendar, read back by a library that shares no code with it and by the letter of RFC 5545."""

from __future__ import annotations

import dataclasses
import datetime as dt

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from cli.main import app
from layout.programme.calendar import Calendar
from layout.programme.stages import plan_works
from layout.writers.calendarfile import folded, programme_ical, text
from tests.examples import example_takeoff
from tests.test_project import TOP

CANTEEN = TOP / "plans" / "canteen.toml"
MONDAY = dt.datetime(2026, 11, 30, 7, 0)  # noqa: DTZ001  # site time has no zone
HARD = "Küche; süd, „neu“ \\ a room with a very long name, folded more than once: ÄÖÜ ßßß 厨房厨房厨房厨房"


@pytest.fixture(scope="module")
def takeoff():
    return example_takeoff(CANTEEN)


@pytest.fixture(scope="module")
def works(takeoff):
    return plan_works(takeoff, start=MONDAY)


@pytest.fixture(scope="module")
def project(takeoff):
    return takeoff.setout.plan.project


def events(written):
    return list(icalendar.Calendar.from_ical(written.encode()).walk("VEVENT"))


def test_every_stretch_of_every_stage_is_an_event(works, project):
    found = events(programme_ical(works, project))
    times = [(each.decoded("DTSTART"), each.decoded("DTEND")) for each in found if "DTEND" in each]
    wanted = [span for stage in works.stages for span in (stage.spans or ((stage.start, stage.end),))]
    assert len(times) == len(wanted) > len(works.stages)
    for (begin, end), (start, stop) in zip(times, wanted, strict=True):
        assert begin.tzinfo is None
        assert dt.timedelta() <= start - begin < dt.timedelta(minutes=1)
        assert dt.timedelta() <= end - stop < dt.timedelta(minutes=1)
    assert len([each for each in found if "DTEND" not in each]) == 3  # walked on, wetted, loaded
    assert len({str(each["UID"]) for each in found}) == len(found)
    assert {each.decoded("DTSTAMP").date() for each in found} == {project.date}
    assert "begun no later than 02 Dec 07:00" in str(next(each for each in found if "tape" in each["SUMMARY"])["DESCRIPTION"])


def test_with_a_zone_moments_are_in_utc(takeoff, project):
    """Berlin is one hour ahead of UTC in winter, two in summer."""
    for start, ahead in ((MONDAY, 1), (dt.datetime(2026, 6, 1, 7, 0), 2)):  # noqa: DTZ001
        own = plan_works(takeoff, start=start, calendar=Calendar(zone="Europe/Berlin"))
        first = events(programme_ical(own, project))[0].decoded("DTSTART")
        assert first == dt.datetime(start.year, start.month, start.day, 7 - ahead, tzinfo=dt.UTC)


def test_hard_names_come_back_as_they_were(works, project):
    written = programme_ical(dataclasses.replace(works, rooms=(HARD,)), project)
    assert {str(each["LOCATION"]) for each in events(written)} == {HARD}
    assert all(str(each["SUMMARY"]).startswith(f"{HARD}: ") for each in events(written))


def test_lines_are_those_of_the_standard(works, project):
    """RFC 5545 3.1: lines of 75 octets at most end in CR LF; a name, a colon or a semicolon, a value; no control character."""
    raw = programme_ical(dataclasses.replace(works, rooms=(HARD + "\x07\r\nnext\x1b",)), project).encode()
    assert raw.endswith(b"\r\n")
    lines = raw[:-2].split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode()  # no character is parted
        assert not set(line) & set(range(32))
    whole = raw.replace(b"\r\n ", b"").decode().split("\r\n")[:-1]
    assert all(line.partition(":")[0].replace("-", "").isalpha() and line.partition(":")[1] for line in whole)
    assert whole.count("BEGIN:VEVENT") == whole.count("END:VEVENT") > 0
    assert (whole[0], whole[1], whole[-1]) == ("BEGIN:VCALENDAR", "VERSION:2.0", "END:VCALENDAR")


@given(st.text(max_size=300))
def test_a_folded_line_unfolds_to_itself(words):
    words = words.replace("\r", "").replace("\n", "").encode("utf-8", "ignore").decode()
    parts = folded(words).split("\r\n")
    assert all(len(part.encode()) <= 75 for part in parts)
    assert parts[0] + "".join(part[1:] for part in parts[1:]) == words
    assert all(part[0] == " " for part in parts[1:])


def test_text_is_escaped():
    assert text("a,b;c\\d\ne\r\nf\x00") == "a\\,b\\;c\\\\d\\ne\\nf"


def test_the_command_writes_the_same_bytes_again(tmp_path):
    said = []
    for name in ("one.ics", "two.ics"):
        out = tmp_path / name
        run = CliRunner().invoke(app, ["programme", str(CANTEEN), "--start", "2026-11-30T07:00", "--ical", "-o", str(out)])
        assert run.exit_code == 0, run.stderr
        said.append(out.read_bytes())
    assert said[0] == said[1]
    assert len(events(said[0].decode())) > 11
    both = CliRunner().invoke(app, ["programme", str(CANTEEN), "--start", "2026-11-30T07:00", "--ical", "--csv"])
    assert both.exit_code == 2
    assert "give one of them" in both.stderr
