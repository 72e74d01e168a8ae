"""Assistants come before there is work, give what they are asked for, and never outlive who called them."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from types import SimpleNamespace

import pytest

import assembler
from assembler.assistants import Assistants
from assembler.drawing import workshop
from assembler.drawing.tasks import Task
from assembler.errors import Fault, TemplateError

ROOT = Path(assembler.__file__).parents[1]

CALLER = """
import os, sys, time
from assembler.assistants import Assistants
if __name__ == "__main__":
    with Assistants() as others:
        print(others.give(os.getpid).result(), flush=True)
        time.sleep(600)
"""


def test_an_assistant_is_another_process():
    with Assistants() as others:
        others.call()
        first, second = others.give(os.getpid).result(), others.give(os.getpid).result()
    assert first == second != os.getpid()


def test_nobody_can_be_given_work_where_there_are_none():
    with Assistants(0) as others, pytest.raises(ValueError, match="nobody"):
        others.give(os.getpid)


def test_who_has_nothing_to_do_is_not_waited_for(tmp_path, monkeypatch):
    (tmp_path / "long_to_load.py").write_text("import time\ntime.sleep(60.0)\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    others = set(multiprocessing.active_children())
    begun = time.monotonic()
    with Assistants() as assistants:
        assistants.call("long_to_load")
    assert time.monotonic() - begun < 30.0
    assert set(multiprocessing.active_children()) <= others


@pytest.mark.parametrize("count", [0, 1])
def test_something_is_done_beside_what_the_caller_does(count):
    with Assistants(count) as others, others.beside(os.path.join, "a", "b") as joined:
        assert joined() == "a/b"


def _gives_up(others):
    with others.beside(time.sleep, 0.5):
        raise KeyError("something else went wrong")


def test_what_is_done_beside_has_ended_when_the_caller_gives_up():
    with Assistants() as others:
        others.give(os.getpid).result()
        begun = time.monotonic()
        with pytest.raises(KeyError):
            _gives_up(others)
        assert time.monotonic() - begun >= 0.5


def _counts(place, is_wanted):
    while is_wanted():
        with Path(place).open("a") as file:
            file.write("x")
        time.sleep(0.02)


@pytest.mark.parametrize("count", [0, 1])
def test_what_is_done_ahead_ends_when_it_is_no_longer_wanted(count, tmp_path):
    place = tmp_path / "count"
    with Assistants(count) as others, others.ahead(_counts, place):
        last = time.monotonic() + 30.0 * count
        while not place.exists() and time.monotonic() < last:
            time.sleep(0.01)
    others.settle()
    assert place.exists() == bool(count)
    size = place.stat().st_size if count else 0
    time.sleep(0.1)
    assert not count or place.stat().st_size == size


def _fails(_value, _is_wanted):
    raise KeyError("a fault of the program")


def test_a_fault_ahead_is_not_hidden():
    with Assistants() as others:
        with others.ahead(_fails, 0):
            pass
        (failure,) = others.settle()
        assert "a fault" in str(failure)
        assert others.settle() == []


def _faulty():
    raise TemplateError(Fault(file="step.html", place="line 3", wrong="no such word", right="see words.en.toml"))


def test_faults_come_back_from_an_assistant_as_they_are():
    with Assistants() as others, others.beside(_faulty) as work, pytest.raises(TemplateError) as caught:
        work()
    (fault,) = caught.value.faults
    assert (fault.file, fault.place) == ("step.html", "line 3")


def test_an_assistant_leaves_when_its_caller_is_killed(tmp_path):
    script = tmp_path / "caller.py"
    script.write_text(CALLER, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True, env=environment) as caller:
        assert caller.stdout is not None
        assistant = int(caller.stdout.readline())
        assert _is_there(assistant)
        caller.send_signal(signal.SIGKILL)
    last = time.monotonic() + 30.0
    while _is_there(assistant) and time.monotonic() < last:
        time.sleep(0.05)
    assert not _is_there(assistant)


def _is_there(process: int) -> bool:
    """Whether a process runs; one that ended and waits to be collected does not."""
    try:
        about = Path(f"/proc/{process}/stat").read_text(encoding="ascii")
        return about.rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_a_task_on_its_way_to_an_assistant_is_not_lost(monkeypatch):
    """This process runs out of tasks just when an assistant has taken the last one and not yet begun with it."""
    monkeypatch.setattr(workshop, "drawn", lambda _desk, job, _seen: (job,))
    monkeypatch.setattr(workshop, "_drawn_elsewhere", lambda _file, task: (task.job,))

    class Slow(Assistants):
        def give(self, what, /, *values, **named):
            time.sleep(0.02)
            return pool.submit(what, *values, **named)

    jobs = [f"step {number}" for number in range(8)]
    with ThreadPoolExecutor(1) as pool, ExitStack() as stack:
        for _ in range(5):
            desk = SimpleNamespace(stack=stack, order=0, shelf=0, light_copies=int)
            crew = workshop._Crew(desk=desk, assistants=Slow(1))
            crew.take([Task(job=job, key=job) for job in jobs])
            time.sleep(0.01)
            assert sorted(made for _, (made,) in crew.done(int)) == jobs


@pytest.mark.parametrize(("are_here", "jobs", "given"), [(True, 1, 1), (False, 2, 0), (False, 3, 1)])
def test_who_is_here_already_begins_with_the_first_task(are_here, jobs, given):
    """Others are called for more than a few."""

    class Noting(Assistants):
        were_called = are_here

        def give(self, what, /, *values, **named):
            return Future()

    with ExitStack() as stack:
        desk = SimpleNamespace(stack=stack, order=0, shelf=0, light_copies=int)
        crew = workshop._Crew(desk=desk, assistants=Noting(1))
        for number in range(jobs):
            crew.take([Task(job=f"step {number}", key="")])
        assert len(crew.given) == given
