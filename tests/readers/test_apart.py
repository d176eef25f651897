"""What reads with a library that may crash is tried with work that does each thing it can do."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys

import pytest

from layout.errors import PlanError
from layout.readers.apart import _answer, apart

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="no process of its own there")


def test_an_answer_comes_from_another_process():
    assert apart("model.ifc", "save it anew", os.getpid) != os.getpid()


def test_what_is_raised_there_is_raised_here():
    def refused():
        raise PlanError("model.ifc", "it is damaged", "save it anew")

    with pytest.raises(PlanError, match=r"^model.ifc: it is damaged; save it anew$"):
        apart("model.ifc", "nothing", refused)


@pytest.mark.parametrize(("end", "words"), [(lambda: os.kill(os.getpid(), signal.SIGFPE), "SIGFPE"), (lambda: os._exit(3), "status 3")])
def test_a_crash_is_a_message_that_names_the_file(end, words):
    with pytest.raises(PlanError, match=rf"^model.ifc: the library that reads such files crashed on it \({words}\); save it anew$"):
        apart("model.ifc", "save it anew", end)


def test_a_person_who_stops_it_gets_no_trace_of_the_other_process():
    def stopped():
        raise KeyboardInterrupt

    ours, theirs = multiprocessing.Pipe(duplex=False)
    _answer(theirs, stopped)  # raises nothing, says nothing
    theirs.close()
    with pytest.raises(EOFError):
        ours.recv()
    ours.close()


def test_waiting_that_is_broken_off_leaves_no_process(tmp_path):
    def late(*_):
        raise TimeoutError

    def long():
        (tmp_path / "number").write_text(str(os.getpid()))
        signal.pause()

    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, 1.0)
    try:
        with pytest.raises(TimeoutError):
            apart("model.ifc", "save it anew", long)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
    with pytest.raises(ProcessLookupError):
        os.kill(int((tmp_path / "number").read_text()), 0)
