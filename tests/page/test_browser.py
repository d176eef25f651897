"""The page in a real browser, by touch and by keys, at the sizes of a phone and a desk: skipped where no browser is found."""

from __future__ import annotations

import json
import shutil

import numpy as np
import pytest

from layout.record.values import Event, latest, merged
from layout.writers.page.assemble import page_html
from tests.page.conftest import BOOTH, data_of, pieces_of, takeoff_of

sync_api = pytest.importorskip("playwright.sync_api", reason="no driver for a browser is installed")
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
DESK = {"viewport": {"width": 1280, "height": 800}}


@pytest.fixture(scope="module")
def browser():
    path = next((found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("no browser found: apt-get install chromium")
    with sync_api.sync_playwright() as driver:
        one = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield one
        one.close()


@pytest.fixture(scope="module")
def files(tmp_path_factory, booth):
    """The booth's page, and that of its next issue, a wall moved by 6 mm."""
    folder = tmp_path_factory.mktemp("pages")
    texts = {"one": booth[2], "moved": page_html(takeoff_of(BOOTH.format(width=2456).replace('"A"', '"B"')))}
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8", newline="")
    return folder


class Phone:
    """One phone: its own storage, the page open, what went wrong."""

    def __init__(self, browser, file, how=None, name=""):
        self.context = browser.new_context(**(PHONE if how is None else how), accept_downloads=True)
        self.context.set_default_timeout(8000)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self.asked: list[str] = []
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("console", lambda message: self.faults.append(message.text) if message.type == "error" else None)
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("dialog", lambda dialog: dialog.accept())
        self.page.goto(file.as_uri())
        if name:
            self.tab("Done")
            self.page.fill("#phone", name)
            self.page.press("#phone", "Tab")

    def tab(self, name):
        self.page.locator("#tabs").get_by_role("button", name=name, exact=True).click()

    def text(self, where):
        return self.page.locator(where).inner_text()

    def panel_button(self, name):
        return self.page.locator("#panel").get_by_role("button", name=name, exact=True)

    def tick_run(self, name):
        self.tab("Tape")
        self.page.locator("tr.t", has=self.page.get_by_role("button", name=name, exact=True)).locator("[data-field=taped]").click()

    def export(self, kind, folder):
        self.tab("Done")
        with self.page.expect_download() as waiting:
            self.page.get_by_role("button", name=f"Export {kind}").click()
        place = folder / waiting.value.suggested_filename
        waiting.value.save_as(place)
        return place

    def take(self, *places):
        self.tab("Done")
        self.page.set_input_files("#file", [str(place) for place in places])
        sync_api.expect(self.page.locator("#came")).not_to_be_empty()
        return self.text("#came")

    def close(self):
        self.context.close()


@pytest.fixture
def phone(browser, files):
    one = Phone(browser, files / "one.html")
    yield one
    assert one.faults == []
    assert len([url for url in one.asked if not url.startswith("blob:")]) <= 2, "the file alone, and once again when it is opened again"
    one.close()


def on_screen(phone, x, y):
    """Where a point of the drawing, in its own units, stands on the screen, as the browser itself reckons."""
    return phone.page.evaluate(
        "([x, y]) => { const m = document.querySelector('figure.now > svg').getScreenCTM();"
        " return [m.a * x + m.c * y + m.e, m.b * x + m.d * y + m.f]; }", [x, y],
    )  # fmt: skip


def box_of(phone):
    return [float(v) for v in phone.page.locator("figure.now > svg").get_attribute("viewBox").split()]


def pieces_on(data, sheet):
    """Cut tiles that stand on a sheet: id, mark, and the middle in the drawing's units."""
    for key, mark, box in pieces_of(data):
        for on, a, b, c, d, e, f in data["frames"][key.split(":")[0]]["on"]:
            if on == sheet:
                x, y = np.array(box, dtype=float).reshape(2, 2).mean(axis=0)
                yield key, mark, (a * x + c * y + e, b * x + d * y + f)


def sheet_of(data, kind):
    return next(k for k, sheet in enumerate(data["sheets"]) if sheet["k"].startswith(kind))


@pytest.mark.parametrize("kind", ["cuts", "elevations"])
def test_a_tapped_tile_tells_its_mark_and_size_and_a_tick_is_kept(phone, booth, kind):
    takeoff, _, text = booth
    data = data_of(text)
    sheet = sheet_of(data, kind)
    phone.page.select_option("#which", str(sheet))
    phone.page.wait_for_timeout(60)
    placed = [(key, mark, on_screen(phone, *at)) for key, mark, at in list(pieces_on(data, sheet))[:40]]
    key, mark, at = min(placed, key=lambda each: abs(each[2][0] - 150.0) + abs(each[2][1] - 400.0))  # clear of the buttons
    phone.page.touchscreen.tap(*at)
    title = phone.text("#panel h2")
    cut = next(each for each in takeoff.setout.cuts if each.mark == mark)
    assert title.startswith(f"{mark} · ")
    assert all(f"{side:g}" in title for side in cut.size)
    assert phone.panel_button("sawn").get_attribute("aria-pressed") == "false", "the tap that opened the panel presses nothing in it"
    phone.panel_button("sawn").tap()
    assert phone.panel_button("✓ sawn").get_attribute("aria-pressed") == "true"
    phone.page.reload()
    events = phone.page.evaluate("Object.entries(localStorage).filter(([k]) => k.includes('ticks/1')).map(([, v]) => JSON.parse(v)).flat()")
    assert [(e["id"], e["field"], e["value"]) for e in events] == [(key, "sawn", True)]
    phone.tab("Cuts")
    assert f"1 of {cut.count} sawn" in phone.text(f"tr[data-mark={mark}]")


def test_the_drawing_is_moved_and_zoomed_by_fingers_wheel_and_keys(phone):
    page = phone.page
    page.wait_for_timeout(60)
    at_first = box_of(phone)
    page.locator("#closer").tap()
    page.wait_for_timeout(60)
    closer = box_of(phone)
    assert closer[2] < at_first[2] * 0.7
    touch = page.context.new_cdp_session(page)
    send = lambda kind, points: touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]})  # noqa: E731  # fmt: skip
    send("touchStart", [(150, 400), (240, 400)])
    for step in range(1, 5):
        send("touchMove", [(150 - 20 * step, 400), (240 + 20 * step, 400)])
    send("touchEnd", [])
    page.wait_for_timeout(80)
    pinched = box_of(phone)
    assert pinched[2] == pytest.approx(closer[2] * 90 / 250, rel=0.15), "the drawing grows as the fingers part"
    page.locator("#stage").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(60)
    assert box_of(phone)[0] > pinched[0]
    page.keyboard.press("0")
    page.wait_for_timeout(60)
    assert box_of(phone) == pytest.approx(at_first, abs=2.0)


def test_keys_alone_reach_all_and_the_panel_gives_focus_back(phone):
    page = phone.page
    page.locator("#find").focus()
    page.keyboard.press("Enter")
    page.keyboard.type("R3")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert phone.text("#panel h2") == "R3"
    page.keyboard.press("Escape")
    assert page.locator("#panel").is_hidden()
    assert page.evaluate("document.activeElement !== document.body")


def test_layers_hide_by_trade_words_also_what_sheets_share(phone):
    page = phone.page
    shown = lambda: page.evaluate("getComputedStyle(document.querySelector('defs .ti')?.closest('g[class]') ?? document.querySelector('defs g.l1')).display")  # noqa: E731  # fmt: skip
    before = shown()
    page.locator("#layers").tap()
    page.locator("#panel").get_by_role("button", name="tiles").tap()
    assert (before, shown()) == ("inline", "none")
    page.reload()
    assert shown() == "none", "what is hidden stays hidden"


def test_two_phones_become_one_whatever_the_order(browser, files, tmp_path):
    one, two = Phone(browser, files / "one.html", name="Ana"), Phone(browser, files / "one.html", name="Bo")
    for phone, runs in ((one, ("R1", "R2")), (two, ("R2", "R4"))):
        for run in runs:
            phone.tick_run(run)
    two.tick_run("R2")  # and off again: the later word of the higher counter holds
    for name in ("a", "b", "c"):
        (tmp_path / name).mkdir()
    from_one, from_two = one.export("JSON", tmp_path / "a"), two.export("JSON", tmp_path / "b")
    assert "2 new ticks" in two.take(from_one)
    assert "0 new ticks, 2 known" in two.take(from_one)
    table = two.export("CSV", tmp_path / "b")
    assert "3 new ticks" in one.take(table)
    told = []
    file = {}
    for phone, folder in ((one, "c"), (two, "b")):
        file = json.loads(phone.export("JSON", tmp_path / folder).read_text(encoding="utf-8"))
        told.append({Event(**each) for each in file["events"]})
    assert told[0] == told[1]
    assert file["done"] == [], "no stage was ticked"
    both = [Event(**e) for place in (from_one, from_two) for e in json.loads(place.read_text(encoding="utf-8"))["events"]]
    assert set(merged(both)) == told[0], "the page and the tool agree on what two files come to"
    shown = {event.id.split("/")[-1]: event.value for event in latest(both).values()}
    one.tab("Tape")
    pressed = one.page.locator("tr.t [data-field=taped][aria-pressed=true]").count()
    assert pressed == sum(value is True for value in shown.values()) == 2
    for phone in (one, two):
        assert phone.faults == []
        phone.close()


def test_ticks_of_things_with_long_names_come_in(browser, tmp_path):
    text = BOOTH.format(width=2450)
    for name in ("Booth", "door", "gully", "pipe"):
        text = text.replace(f'name = "{name}"', f'name = "{name} {name[0] * 300}"')
    (tmp_path / "long.html").write_text(page_html(takeoff_of(text)), encoding="utf-8", newline="")
    data = data_of((tmp_path / "long.html").read_text(encoding="utf-8"))
    events = [
        {"id": thing["i"], "field": data["fields"][thing["t"]][0][0], "value": True, "size": thing["z"], "n": 1, "by": "Ana", "at": ""}
        for thing in data["things"]
    ]
    assert max(len(event["id"]) for event in events) > 300
    file = tmp_path / "ticks.json"
    file.write_text(json.dumps({"schema": data["schema"], "issue": data["issue"], "tool": "", "events": events}), encoding="utf-8")
    phone = Phone(browser, tmp_path / "long.html")
    assert f"{len(events)} new ticks" in phone.take(file)
    assert phone.faults == []
    phone.close()


def test_ticks_of_an_earlier_issue_count_only_where_the_size_is_the_same(browser, files, booth, tmp_path):
    data, moved = data_of(booth[2]), data_of((files / "moved.html").read_text(encoding="utf-8"))

    def sizes(record):
        return {key: record["marks"][mark][0] for key, mark, _ in pieces_of(record)}

    before, after = sizes(data), sizes(moved)
    events = [{"id": key, "field": "sawn", "value": True, "size": size, "n": 1, "by": "old", "at": ""} for key, size in before.items()]
    file = tmp_path / "ticks.json"
    file.write_text(json.dumps({"schema": data["schema"], "issue": data["issue"], "tool": "", "events": events}), encoding="utf-8")
    same = sum(after.get(key) == size for key, size in before.items())
    unlike = sum(key in after and after[key] != size for key, size in before.items())
    assert same > 0
    assert unlike > 0
    phone = Phone(browser, files / "moved.html")
    words = phone.take(file)
    assert words.startswith("Another issue of this plan")
    assert f"{unlike} of another size" in words
    phone.tab("Cuts")
    assert "cut to the old size" in phone.text("#cuts")
    phone.tab("Done")
    assert f"cuts sawn: {same} of {len(after)}" in phone.text("#desk")
    assert phone.faults == []
    phone.close()


HOSTILE = (
    "no json, no table",
    '{"schema":"gaugerod/ticks/1","issue":null,"events":[1,null,{"id":"<img src=x onerror=alert(1)>","field":"x"}]}',
    '{"schema":"gaugerod/ticks/2","events":[]}',
    json.dumps({"schema": "gaugerod/ticks/1", "issue": {"title": "<b>", "number": {}}, "events": [{"id": "__proto__", "field": "polluted", "value": "yes", "size": "", "n": 1, "by": "x", "at": ""}] * 3}),
    json.dumps({"schema": "gaugerod/ticks/1", "issue": {}, "events": [{"id": "0/wall/1-2", "field": "length", "value": "9" * 500, "size": "2450", "n": 10**9, "by": "x", "at": ""}]}),
)  # fmt: skip


def test_a_hostile_file_sets_no_more_than_values(phone, tmp_path):
    tags = lambda: set(phone.page.evaluate("[...document.querySelectorAll('*')].map(e => e.tagName)"))  # noqa: E731
    phone.tab("Done")
    before = tags()
    for k, text in enumerate(HOSTILE):
        file = tmp_path / f"{k}.json"
        file.write_text(text, encoding="utf-8")
        phone.tab("Cuts")
        words = phone.take(file)
        assert words
        assert "1 new" not in words
    assert phone.page.evaluate("({}).polluted === undefined && Object.prototype.polluted === undefined")
    assert phone.page.locator("img").count() == 0
    assert tags() == before


def test_the_policy_lets_nothing_in(browser, files):
    phone = Phone(browser, files / "one.html")
    broken = phone.page.evaluate(
        "() => new Promise(done => { const seen = []; document.addEventListener('securitypolicyviolation', e => { seen.push(e.effectiveDirective);"
        " if (seen.length === 3) done(seen.sort()); });"
        " const i = document.createElement('img'); i.src = 'http://127.0.0.1:9/x.png'; document.body.append(i);"
        " const s = document.createElement('script'); s.textContent = 'window.ran = 1'; document.body.append(s);"
        " fetch('http://127.0.0.1:9/').catch(() => 0); setTimeout(() => done(seen.sort()), 3000); })"
    )
    assert broken == ["connect-src", "img-src", "script-src-elem"]
    assert phone.page.evaluate("window.ran === undefined")
    phone.close()


def test_without_scripts_every_drawing_and_table_shows_in_order_and_prints(browser, files, booth):
    import io

    import pypdf

    context = browser.new_context(java_script_enabled=False, **DESK)
    page = context.new_page()
    page.goto((files / "one.html").as_uri())
    data = data_of(booth[2])
    tops = [page.locator("figure > svg").nth(k).bounding_box() for k in range(len(data["sheets"]))]
    assert all(box is not None and box["width"] > 600 and box["height"] > 300 for box in tops)
    assert [box["y"] for box in tops] == sorted(box["y"] for box in tops)
    for caption in ("Cut tiles", "Tape runs", "Joints and sealant", "Hold points", "Test points", "Orders in whole packs"):
        assert page.get_by_text(caption).first.is_visible()
    assert page.get_by_text("Scripts are off").is_visible()
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    words = "".join(each.extract_text() for each in printed.pages)
    assert len(printed.pages) >= len(data["sheets"])
    assert all(mark in words for mark in data["marks"])
    context.close()


@pytest.mark.parametrize("how", ["phone", "desk"])
def test_what_is_touched_is_large_named_and_inside_the_screen(browser, files, how):
    phone = Phone(browser, files / "one.html", PHONE if how == "phone" else DESK)
    wide = phone.page.viewport_size["width"]
    for name in ("Drawing", "Cuts", "Tape", "Joints", "Checks", "Orders", "Done"):
        phone.tab(name)
        controls = phone.page.evaluate(
            "[...document.querySelectorAll('button, select, input')].filter(e => e.checkVisibility())"
            ".map(e => { const r = e.getBoundingClientRect(); return [e.getAttribute('aria-label') || e.textContent || e.labels?.[0]?.textContent || '',"
            " r.width, r.height, r.left, r.right]; })"
        )
        assert controls
        for label, width, height, left, right in controls:
            assert label.strip(), name
            assert height >= 48, (name, label)
            assert width >= 44, (name, label)
            assert left >= -1, (name, label)
            assert right <= wide + 1, (name, label)
        assert phone.page.evaluate("document.documentElement.scrollWidth") <= wide + 1, name
    assert phone.faults == []
    phone.close()
