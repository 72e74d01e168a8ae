"""An ordered map gives the same with and without workers, and a worker that is lost costs time only."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

import assembler
from assembler.errors import Fault, TemplateError
from assembler.parallel import ordered_map, workers

ROOT = Path(assembler.__file__).parents[1]

MANY = 600
"""Calls that take longer to make up than any machine takes to begin with the first."""

CALLER = """
import os, time
from assembler.parallel import workers
if __name__ == "__main__":
    with workers(2) as executor:
        print(executor.submit(os.getpid).result(), flush=True)
        time.sleep(600)
"""


def _late_or_soon(number: int) -> int:
    time.sleep(0.05 * (number % 2 == 0))
    return number


@pytest.mark.parametrize("count", [1, 2])
def test_results_come_in_the_order_of_the_calls(count: int) -> None:
    with workers(count) as executor:
        assert list(ordered_map(executor, (partial(_late_or_soon, n) for n in range(8)))) == list(range(8))
        assert list(ordered_map(executor, [])) == []


def test_one_worker_is_this_process_and_two_are_others() -> None:
    with workers(1) as executor:
        assert set(ordered_map(executor, [os.getpid] * 2)) == {os.getpid()}
    with workers(2) as executor:
        assert os.getpid() not in set(ordered_map(executor, [os.getpid] * 2))


def test_workers_do_not_look_for_modules_where_the_program_was_called() -> None:
    with workers(2) as executor:
        assert list(ordered_map(executor, [partial(os.getenv, "PYTHONSAFEPATH")])) == ["1"]


def test_a_result_is_given_while_later_calls_are_still_made_up() -> None:
    seen: list[int] = []

    def calls() -> Iterator[Callable[[], int]]:
        for number in range(MANY):
            time.sleep(0.1)
            yield partial(_noted, number)
            if seen:
                return

    with workers(2) as executor:
        for result in ordered_map(executor, calls()):
            seen.append(result)
    assert len(seen) < MANY


def _noted(number: int) -> int:
    return number


def _die_once(marker: Path, number: int) -> int:
    if number == 2 and not marker.exists():
        marker.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def test_a_worker_that_is_killed_half_way_costs_time_only(tmp_path: Path) -> None:
    with workers(2) as executor:
        calls = [partial(_die_once, tmp_path / "marker", number) for number in range(8)]
        assert list(ordered_map(executor, calls)) == list(range(8))
        # The workers are gone, and the work is done all the same.
        assert list(ordered_map(executor, calls)) == list(range(8))
    assert (tmp_path / "marker").exists()


def _faulty() -> None:
    raise TemplateError(Fault(file="step.html", place="line 3", wrong="no such word", right="see words.en.toml"))


@pytest.mark.parametrize("count", [1, 2])
def test_faults_come_back_as_they_are(count: int) -> None:
    with workers(count) as executor, pytest.raises(TemplateError) as caught:
        list(ordered_map(executor, [_faulty] * 3))
    (fault,) = caught.value.faults
    assert (fault.file, fault.place) == ("step.html", "line 3")


def test_a_worker_leaves_when_its_caller_is_killed(tmp_path: Path) -> None:
    script = tmp_path / "caller.py"
    script.write_text(CALLER, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True, env=environment) as caller:
        assert caller.stdout is not None
        worker = int(caller.stdout.readline())
        assert _is_there(worker)
        caller.send_signal(signal.SIGKILL)
    last = time.monotonic() + 30.0
    while _is_there(worker) and time.monotonic() < last:
        time.sleep(0.05)
    assert not _is_there(worker)


def _is_there(process: int) -> bool:
    """Whether a process runs; one that ended and waits to be collected does not."""
    try:
        about = Path(f"/proc/{process}/stat").read_text(encoding="ascii")
        return about.rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False
