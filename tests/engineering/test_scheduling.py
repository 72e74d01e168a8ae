"""The same network gives the same calendar, and one that cannot be is refused."""

from __future__ import annotations

import subprocess
import sys

import pytest

from assembler.engineering.schedule import CircularOrderError
from assembler.engineering.scheduling import Activity, Network, NoScheduleError, Wait, scheduled


def test_the_same_answer_every_time() -> None:
    activities = [Activity(name=str(at), minutes=3 + at % 4, needs={"people": 1 + at % 2}) for at in range(1, 13)]
    waits = [Wait(first=str(at), then=str(at + 3)) for at in range(1, 10)]
    network = Network(activities=activities, waits=waits, capacity={"people": 2})
    answers = [
        scheduled(network, horizon_min=200, first=["10", "11", "12"], units=[["1", "4", "7"]]).start for _ in range(2)
    ]
    assert answers[0] == answers[1]


def test_a_circle_and_too_short_a_time_are_refused() -> None:
    pair = [Activity(name="A", minutes=5), Activity(name="B", minutes=5)]
    circle = [Wait(first="A", then="B"), Wait(first="B", then="A")]
    with pytest.raises(CircularOrderError, match="A -> B -> A"):
        scheduled(Network(activities=pair, waits=circle), horizon_min=60)
    with pytest.raises(NoScheduleError):
        scheduled(Network(activities=pair, waits=circle[:1]), horizon_min=9)


_STOPPED_LATER = """
import os, signal, time
from assembler.engineering.scheduling import Activity, Network, scheduled

scheduled(Network(activities=[Activity(name="A", minutes=5), Activity(name="B", minutes=5)]), horizon_min=60)
try:
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(5)
except KeyboardInterrupt:
    print("in order")
"""


def test_ctrl_c_after_a_calendar_was_solved_is_still_the_program_s() -> None:
    done = subprocess.run([sys.executable, "-c", _STOPPED_LATER], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, "in order\n"), done.stderr[-300:]
