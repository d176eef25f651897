"""The programme's sheets: bars stand at their days, windows are shaded, what is checked has its figure and boxes."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import shapely

from layout.programme.stages import plan_works
from layout.quantities.takeoff import take_off
from layout.readers.planfile import parse_plan, read_plan
from layout.setout.conduct import set_out
from layout.sheets import batch_sheet, programme_sheet
from layout.sheets.draft import Job, room_job
from layout.sheets.draw import draw_sheets
from layout.sheets.hold_points import CAUTIONS, all_holds
from layout.sheets.lettering import text_width
from layout.sheets.paper import SIZES, drawing_space
from layout.sheets.scene import Fill, Label, Stroke
from tests.rooms import plan_text
from tests.test_project import TOP

CANTEEN = TOP / "plans" / "canteen.toml"


def job_of(plan, paper=None):
    setout = set_out(plan)
    takeoff = take_off(setout)
    rooms = tuple(room_job(setout, k, paper, None) for k in range(len(setout.rooms)))
    return Job(setout, takeoff, rooms, paper, None, plan_works(takeoff))


@pytest.fixture(scope="module")
def job():
    return job_of(read_plan(CANTEEN))


@pytest.fixture(scope="module")
def drafts(job):
    return list(programme_sheet.drafts(job))


def labels(drafts):
    return [item for draft in drafts for item in draft.words if isinstance(item, Label)]


def test_a_plan_without_a_date_has_no_programme():
    """A date that nobody gave would be printed, and built to."""
    setout = set_out(parse_plan(plan_text({"name": "A", "outline": [[0, 0], [2000, 0], [2000, 1500], [0, 1500]]})))
    names = [sheet.name for sheet in draw_sheets(setout, take_off(setout))]
    assert names
    assert not [name for name in names if re.search("programme|batches|pieces", name)]


def test_bars_stand_under_their_days(job, drafts):
    """Where a day's head stands tells where its hours are: 24 h from one head to the next."""
    heads = [item for item in labels(drafts[:1]) if item.across == "centre" and re.fullmatch(r"\d+", item.text)]
    first, unit = heads[0].at[0], heads[1].at[0] - heads[0].at[0]
    works = plan_works(job.takeoff, start=dt.datetime(2026, 11, 24, 7))  # noqa: DTZ001  # site time has no zone
    noon = dt.datetime(2026, 11, 24, 12)  # noqa: DTZ001  # a head stands in the middle of its day
    bars = [item.polygon.bounds for item in drafts[0].words if isinstance(item, Fill) and item.layer == "TEXT"]
    assert len(bars) == len(works.stages)
    for stage, (x0, _, x1, _) in zip(works.stages, bars, strict=True):
        assert x0 == pytest.approx(first + unit * (stage.start - noon) / dt.timedelta(days=1), abs=0.01)
        long = unit * (stage.end - stage.start) / dt.timedelta(days=1)
        assert x1 - x0 == pytest.approx(max(long, 0.9), abs=0.01)
    windows = [item.polygon for item in drafts[0].words if isinstance(item, Fill) and item.layer == "TONE" and item.tone > 0.3]
    kept = [(stage, bar) for stage, bar in zip(works.stages, bars, strict=True) if stage.latest and stage.start <= stage.latest]
    assert len(windows) == len(kept) == 3  # details and two coats; tile comes too late here, and is marked
    for window, (_, bar) in zip(windows, kept, strict=True):
        assert window.bounds[0] <= bar[0] <= window.bounds[2]
    assert sum(item.text == "!" for item in labels(drafts[:1])) == 2


def test_the_table_says_each_stage_with_its_window(job, drafts):
    words = [item.text for item in labels(drafts)]
    for stage in plan_works(job.takeoff, start=dt.datetime(2026, 11, 24, 7)).stages:  # noqa: DTZ001
        assert programme_sheet.short(stage) in words
        assert f"{stage.start:%d %b %H:%M}" in words
    assert "26 Nov 07:00" in words  # details by: 48 h after priming began
    assert "30 Nov 07:00 !" in words  # tile, 72 h after the last coat began


def test_every_check_has_its_figure_boxes_and_every_stage_its_caution(job, drafts):
    text = " ".join(item.text for item in labels(drafts))
    for words in ("2 CM-% cement screed", "1.5 at least", "3 K over dew point", "0.57 at least", "no fall in 24 h", "one in 50", "95 %"):
        assert words in text
    works = plan_works(job.takeoff, start=dt.datetime(2026, 11, 24, 7))  # noqa: DTZ001
    holds = [hold for each in all_holds(works, job.takeoff) for hold in each.holds]
    signed = [item for item in labels(drafts) if item.text == "signed"]
    assert len(signed) == len(holds)
    assert {stage.key for stage in works.stages if stage.hold} <= {each.key for each in all_holds(works, job.takeoff) if each.holds}
    assert sum(item.text == "△" for item in labels(drafts)) == len(CAUTIONS)


@pytest.mark.parametrize("paper", ["A4", "A3", "A2"])
@pytest.mark.parametrize("rooms", [1, 9])
def test_nothing_stands_outside_the_frame_or_is_cut_short(paper, rooms):
    more = "".join(f'[[rooms]]\nname = "R{k}"\noutline = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]\n' for k in range(1, rooms))
    text = "[project]\ndate = 2026-03-02\n" + plan_text({"name": "A", "outline": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]})
    job = job_of(parse_plan(text + more), paper)
    drafts = list(programme_sheet.drafts(job))
    x0, y0, x1, y1 = drawing_space(SIZES[paper])
    frame = shapely.box(x0, y0, x1, y1)
    for draft in drafts:
        block = shapely.box(x1 - 180.0, y0, x1, y0 + 44.0)
        for item in draft.words:
            if isinstance(item, Label):
                wide = text_width(item.text, item.height, item.bold) * {"left": 1.0, "centre": 0.5, "right": 0.0}[item.across]
                assert frame.covers(shapely.Point(item.at)), item.text
                assert item.at[0] + wide < x1, item.text
                assert not re.search(r"\d…", item.text), item.text  # no time is cut short
                assert not block.covers(shapely.Point(item.at))
            elif isinstance(item, Stroke):
                assert frame.covers(shapely.LineString(item.points))
    assert sum(item.text == "signed" for item in labels(drafts)) >= 9 * rooms
    names = {f"R{k}" for k in range(1, rooms)}
    assert names <= {item.text for item in labels(drafts)}


def test_the_batch_list_stands_on_the_sheet_day_by_day(job):
    drafts = list(batch_sheet.drafts(job))
    works = plan_works(job.takeoff, start=dt.datetime(2026, 11, 24, 7))  # noqa: DTZ001
    words = [item.text for item in labels(drafts)]
    packs = [text for text in words if re.fullmatch(r"(primer|membrane|adhesive|grout) \d+ kg", text)]
    assert len(packs) == len(works.batches) > 50
    days = {f"{batch.at:%a %d %b}" for batch in works.batches}
    assert days == {text.partition(":")[0] for text in words if re.match(r"\w{3} \d\d \w{3}: \d+ × ", text)}
    heads = [text.partition(": ")[2] for text in words if re.match(r"\w{3} \d\d \w{3}: \d+ × ", text)]
    assert sum(int(count) for head in heads for count in re.findall(r"(\d+) ×", head)) == len(works.batches)
    assert any("16 packs are mixed and" in text for text in words)
