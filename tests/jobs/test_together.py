"""Plans together: orders and offcuts over all of them, by any executor, kept in a file and read back."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import asdict

import pytest

import layout
from layout.jobs import runner

ROOM = '[tiles.floor]\nsize = [200, 200]\njoint = 6\n{more}[[rooms]]\nname = "A"\noutline = [[0, 0], [{w}, 0], [{w}, {h}], [0, {h}]]\n'
SIZES = {"a": (1900, 1400), "b": (1500, 1300), "c": (1700, 1200)}


@pytest.fixture(scope="module")
def paths(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plans")
    for name, (w, h) in SIZES.items():
        (folder / f"{name}.toml").write_text(ROOM.format(w=w, h=h, more="[rules]\nbreakage = 0.02\n"), encoding="utf-8")
    return sorted(folder.glob("*.toml"))


@pytest.fixture(scope="module")
def works(paths):
    return layout.batch(paths, executor=ThreadPoolExecutor(1))


@pytest.fixture(scope="module")
def together(works):
    return layout.together(works)


def test_any_executor_gives_the_same(paths, works):
    with ProcessPoolExecutor(2) as pool:
        assert layout.batch(paths, executor=pool) == works
    assert [work.plan for work in works] == ["a.toml", "b.toml", "c.toml"]


def test_a_kept_cluster_gives_the_same(paths, works):
    distributed = pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    told: list[layout.PlanWork] = []
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert layout.batch(paths, executor=client.get_executor(), told=told.append) == works
    assert len(told) == len(paths)


def test_packs_together_are_those_of_the_sum(works, together):
    orders = {order.key: order for order in together.orders}
    for key in ("primer", "membrane", "adhesive", "grout", "sealant"):
        needs = [need for work in works for need in work.needs if need.key == key]
        packs = -(-round(sum(need.need for need in needs) * 1e6) // round(needs[0].size * 1e6))
        assert (orders[key].packs, orders[key].alone) == (packs, sum(need.packs for need in needs))
        assert dict(orders[key].plans) == {f"{name}.toml": need.packs for name, need in zip(SIZES, needs, strict=True)}
    tape = orders["tape.internal"]
    # lengths of the three walls and uprights with laps, off rolls of 10 m, joined anywhere
    assert tape.packs <= tape.alone
    assert tape.packs * 10.0 >= tape.need


def test_every_piece_of_every_plan_is_sawn_once_from_no_more_tiles(works, together):
    (cuts,) = together.cuts
    wanted = Counter((work.plan, piece.mark) for work in works for own in work.cuts for piece in own.pieces)
    assert Counter((piece.plan, piece.mark) for tile in cuts.tiles for piece in tile) == wanted
    alone = [layout.plan_cuts(layout.set_out(layout.parse_plan(ROOM.format(w=w, h=h, more="")))).batches[0] for w, h in SIZES.values()]
    assert cuts.bound <= len(cuts.tiles) <= sum(len(batch.tiles) for batch in alone)
    assert cuts.whole == sum(batch.whole for batch in alone)
    for tile in cuts.tiles:  # no two pieces of a tile lie over each other, and none over its edge
        for k, one in enumerate(tile):
            assert one.at[0] + one.box[0] <= 200.0
            assert one.at[1] + one.box[1] <= 200.0
            for other in tile[:k]:
                apart = [one.at[d] >= other.at[d] + other.box[d] or other.at[d] >= one.at[d] + one.box[d] for d in (0, 1)]
                assert any(apart)


def test_tiles_that_are_not_alike_are_not_ordered_together(tmp_path, works):
    (tmp_path / "d.toml").write_text(
        ROOM.format(w=1500, h=1300, more="turns = 1\n").replace("joint = 6\n", "joint = 6\nrectified = true\n").replace("turns = 1\n", ""),
        encoding="utf-8",
    )
    found = layout.together((*works, *layout.batch([tmp_path / "d.toml"])))
    assert [[plan for plan, _ in order.plans] for order in found.orders if order.key == "tiles.floor"] == [
        ["a.toml", "b.toml", "c.toml"],
        ["d.toml"],
    ]


def test_work_goes_into_a_file_and_back(works):
    assert works
    for work in works:
        assert layout.plan_work(json.loads(json.dumps(asdict(work), default=sorted))) == work


def test_an_executor_that_loses_a_plan_loses_no_other(paths):
    class Losing(ThreadPoolExecutor):
        def submit(self, call, /, *given, **named):
            if given[0].name == "b.toml":
                return super().submit(self.gone)
            return super().submit(call, *given, **named)

        @staticmethod
        def gone():
            raise ConnectionError("the far machine is off")

    found = layout.batch(paths, executor=Losing(1))
    assert [work.own_fault for work in found] == [False, True, False]
    assert "the far machine is off" in found[1].fault


POOL = """
import time
from concurrent.futures import ProcessPoolExecutor
from layout.jobs.runner import end_with_parent
with ProcessPoolExecutor(2, initializer=end_with_parent) as pool:
    for done in [pool.submit(time.sleep, 0.2) for _ in range(4)]:
        done.result()
    print("at work", flush=True)
    time.sleep(300)
"""


@pytest.mark.skipif(os.name != "posix", reason="a process is killed by its signal")
def test_workers_of_a_batch_that_is_killed_end_with_it():
    # the workers hold the same standard output: it comes to its end when the last of them is gone
    batch = subprocess.Popen([sys.executable, "-c", POOL], stdout=subprocess.PIPE, text=True)
    assert batch.stdout is not None
    assert batch.stdout.readline() == "at work\n"
    os.kill(batch.pid, signal.SIGKILL)
    try:
        said, _ = batch.communicate(timeout=100)
    finally:
        batch.stdout.close()
    assert (said, batch.returncode) == ("", -signal.SIGKILL)


def test_a_process_that_nothing_started_goes_on_without_a_watch():
    runner.end_with_parent()
    assert not [thread for thread in threading.enumerate() if thread.name.endswith("(_wait_for_end)")]
