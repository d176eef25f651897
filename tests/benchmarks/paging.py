"""The crew's page in a browser whose processor is slowed four times: opening, against an empty page of the same size, and panning.

Run: python -m tests.benchmarks.paging. Goals: opens within twice the empty page; 95 % of frames under 50 ms while a hall of 20,000 tiles
is panned. Needs Chromium; frames are told in ms of this machine.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from playwright.sync_api import sync_playwright

import layout

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CANTEEN = Path(__file__).parent.parent.parent / "plans" / "canteen.toml"
HALL = """
[project]
title = "Invented hall"
[tiles.floor]
size = [200, 200]
joint = 6
[[rooms]]
name = "Hall"
outline = [[0, 0], [34000, 0], [34000, 25000], [6000, 25000], [0, 22000]]
"""
TWO_FRAMES = "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now()))))"
PAN = """new Promise(done => {
  const stage = document.getElementById("stage"), times = [];
  stage.setPointerCapture = () => {};
  const at = (x, y) => ({ bubbles: true, pointerId: 1, clientX: x, clientY: y });
  stage.dispatchEvent(new PointerEvent("pointerdown", at(200, 400)));
  let last = performance.now();
  const step = () => {
    const now = performance.now(), k = times.push(now - last);
    last = now;
    stage.dispatchEvent(new PointerEvent("pointermove", at(200 + 60 * Math.sin(k / 6), 400 + 50 * Math.cos(k / 7))));
    if (k < 120) requestAnimationFrame(step); else done(times.slice(5));
  };
  requestAnimationFrame(step);
})"""


def slowed(browser: Browser, file: Path) -> Page:
    """A page of a phone's size, its processor slowed four times, with the file open."""
    page = browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=2).new_page()
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
    page.goto(file.as_uri())
    return page


def opening(browser: Browser, file: Path) -> float:
    """Milliseconds to two frames after loading."""
    page = slowed(browser, file)
    time = float(page.evaluate(TWO_FRAMES))
    page.context.close()
    return time


def main(repeats: int = 5) -> None:
    """Measure and print."""
    plans = {"canteen": layout.read_plan(CANTEEN), "hall of 20,000 tiles": layout.parse_plan(HALL)}
    with sync_playwright() as driver, tempfile.TemporaryDirectory() as folder:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name, plan in plans.items():
            file, empty = Path(folder) / "page.html", Path(folder) / "empty.html"
            text = layout.page_html(layout.take_off(layout.set_out(plan)))
            file.write_text(text, encoding="utf-8", newline="")
            empty.write_text(f"<!doctype html><title>empty</title><p hidden>{'x' * len(text.encode())}", encoding="utf-8")
            times = [(opening(browser, file), opening(browser, empty)) for _ in range(repeats)]
            ours, bare = (statistics.median(each) for each in zip(*times, strict=True))
            print(f"{name}: {len(text.encode()) / 1000:.0f} KB, opens in {ours / bare:.2f} of an empty page (goal 2)")
            page = slowed(browser, file)
            frames = sorted(page.evaluate(PAN))
            print(f"{name}: frame {frames[len(frames) // 2]:.0f} ms, 95 % under {frames[int(len(frames) * 0.95)]:.0f} (goal 50)")
            page.context.close()
        browser.close()


if __name__ == "__main__":
    main()
