"""Many plans, each set out by itself: on all cores, or by any executor of `concurrent.futures`.

A plan that is not valid, or on which the tool fails, is told in its own result and takes no other along. Our own pool survives a
worker that is killed: the plans that were at work then are tried once more, each alone.
"""

from __future__ import annotations

import os
import threading
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import parent_process
from multiprocessing.connection import wait
from pathlib import Path
from typing import TYPE_CHECKING

from layout.budgets import bounds_given, with_bounds
from layout.errors import LayoutError
from layout.quantities.needs import PlanWork, work_of
from layout.readers.planfile import read_plan
from layout.setout.conduct import set_out

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from concurrent.futures import Executor

    from layout.quantities.bill import Rates


def batch(
    plans: Sequence[str | Path],
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    rates: Rates | None = None,
    told: Callable[[PlanWork], None] | None = None,
    fault_text: Callable[[BaseException], str] = repr,
) -> tuple[PlanWork, ...]:
    """Set out many plans; what each came to, in their order.

    Parameters
    ----------
    plans : plan files.
    executor : where they are set out; a pool of our own processes if not given. It is left open. Files must be within its reach.
    workers : how many processes our own pool has; as many as there are cores if not given.
    rates : prices each plan.
    told : called with each plan's work as it is done, in any order.
    fault_text : words for a fault of the tool's own.

    Results of several plans are ordered and cut as one by `layout.together`.
    """
    paths = [Path(plan) for plan in plans]
    names = _names(paths)
    done: dict[Path, PlanWork] = {}
    one = partial(_one, rates=rates, fault_text=fault_text, bounds=bounds_given())
    makers = _by(executor, one, paths, names) if executor is not None else _by_own(one, paths, names, workers or os.cpu_count() or 1)
    for path, work in makers:
        done[path] = work
        if told is not None:
            told(work)
    return tuple(done[path] for path in paths)


def _names(paths: Sequence[Path]) -> dict[Path, str]:
    """What each plan is called: its file's name, with its folder where another has the same."""
    many = {path.name for path in paths if sum(path.name == other.name for other in set(paths)) > 1}
    return {path: path.as_posix() if path.name in many else path.name for path in paths}


def _one(
    path: Path, name: str, *, rates: Rates | None, fault_text: Callable[[BaseException], str], bounds: tuple[str, ...] = ()
) -> PlanWork:
    """One plan's work; a fault of the plan, or of ours with it, is its own."""
    try:
        with with_bounds(bounds):
            return work_of(set_out(read_plan(path)), name, rates)
    except LayoutError as error:
        return PlanWork(plan=name, fault=str(error))
    except Exception as error:  # noqa: BLE001  # one plan on which the tool fails must not take the others along
        return PlanWork(plan=name, fault=f"{name}: {fault_text(error)}", own_fault=True)


def _by(executor: Executor, one: partial[PlanWork], paths: Sequence[Path], names: Mapping[Path, str]) -> Iterator[tuple[Path, PlanWork]]:
    """Work as it is done by an executor; a plan that it loses is told and the rest go on."""
    waiting = {executor.submit(one, path, names[path]): path for path in _large_first(paths)}
    for each in as_completed(waiting):
        path = waiting[each]
        try:
            yield path, each.result()
        except Exception as error:  # noqa: BLE001  # whatever an executor of another's raises for a worker that is gone
            yield (
                path,
                PlanWork(plan=names[path], fault=f"{names[path]}: its worker is gone ({type(error).__name__}: {error})", own_fault=True),
            )


def _by_own(one: partial[PlanWork], paths: Sequence[Path], names: Mapping[Path, str], workers: int) -> Iterator[tuple[Path, PlanWork]]:
    """Work as it is done by processes of our own."""
    if len(paths) == 1:
        yield paths[0], one(paths[0], names[paths[0]])
        return
    left = _large_first(paths)
    while left:
        done = set()
        for path, work in _until_broken(one, left, names, workers):
            done.add(path)
            yield path, work
        left = [path for path in left if path not in done]
        for path in left[: workers + 1]:  # among these are the ones at work when the pool broke
            yield next(_until_broken(one, [path], names, 1), (path, _killed(path, names[path])))
        left = left[workers + 1 :]


def _until_broken(
    one: partial[PlanWork], paths: Sequence[Path], names: Mapping[Path, str], workers: int
) -> Iterator[tuple[Path, PlanWork]]:
    """Work as it is done, until one of the workers ends without a word."""
    pool = ProcessPoolExecutor(max_workers=min(workers, len(paths)), initializer=end_with_parent)
    try:
        waiting = {pool.submit(one, path, names[path]): path for path in paths}
        for each in as_completed(waiting):
            if not isinstance(each.exception(), BrokenProcessPool):
                yield waiting[each], each.result()
    except BrokenProcessPool:
        return
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def end_with_parent() -> None:
    """See to it that this process ends when the one that started it is killed: a worker would else wait for its next plan for good."""
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_wait_for_end, args=(parent.sentinel,), daemon=True).start()


def _wait_for_end(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


def _large_first(paths: Sequence[Path]) -> list[Path]:
    """Large files first, so that no core waits for the last one."""

    def size(path: Path) -> int:
        try:
            return path.stat().st_size
        except OSError:
            return 0

    return sorted(paths, key=lambda path: -size(path))


def _killed(path: Path, name: str) -> PlanWork:
    mend = f"set it out alone (gaugerod setout {path.name}) and look at the memory it takes"
    return PlanWork(plan=name, fault=f"{name}: its worker was ended from outside: killed, or memory ran out; {mend}", own_fault=True)
