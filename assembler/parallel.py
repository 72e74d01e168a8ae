"""An ordered map over workers: processes of this machine, or any other `concurrent.futures.Executor`.

In: calls that can be pickled. Out: what they return, in their order, whoever made it. A worker that is lost costs time
only: what it had in hand is done here.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from typing import TypeVar

from assembler.isolation import isolated_children
from assembler.roombound import allow_memory, memory_gib

Got = TypeVar("Got")


def workers(count: int | None = None) -> AbstractContextManager[Executor | None]:
    """Processes that carry out calls, to be let go by leaving the context; None where there are none.

    Parameters
    ----------
    count
        How many; None: one for each core; 1: this process does everything itself.
    """
    number = count or cores()
    return nullcontext() if number < 2 else processes(number)


def cores() -> int:
    """How many processors this machine has."""
    return os.cpu_count() or 1


def processes(number: int) -> ProcessPoolExecutor:
    """So many processes of this machine that end with this one."""
    isolated_children()
    # Graphics contexts do not survive a fork.
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(number, mp_context=context, initializer=_serve_the_caller, initargs=(memory_gib(),))


def ordered_map(executor: Executor | None, calls: Iterable[Callable[[], Got]]) -> Iterator[Got]:
    """What calls return, in their order.

    Parameters
    ----------
    executor
        Carries them out; None: this process does, one after the other.
    calls
        Handed over one by one, so that workers are busy while the next call is made up.

    Raises
    ------
    Exception
        Whatever a call raises; calls after it that nobody has begun with are dropped.
    """
    if executor is None:
        for call in calls:
            yield call()
        return
    given: deque[tuple[Callable[[], Got], Future[Got] | None]] = deque()
    try:
        for call in calls:
            given.append((call, _handed_over(executor, call)))
            while given and _is_done(given[0][1]):
                yield _result(*given.popleft())
        while given:
            yield _result(*given.popleft())
    finally:
        for _, future in given:
            if future is not None:
                future.cancel()


def _handed_over(executor: Executor, call: Callable[[], Got]) -> Future[Got] | None:
    """None where the workers are gone."""
    try:
        return executor.submit(call)
    except BrokenExecutor:
        return None


def _is_done(future: Future[Got] | None) -> bool:
    return future is not None and future.done()


def _result(call: Callable[[], Got], future: Future[Got] | None) -> Got:
    if future is None:
        return call()
    try:
        return future.result()
    except (BrokenExecutor, CancelledError):
        # An engine elsewhere that is gone has what it was given cancelled.
        return call()


def _serve_the_caller(allowed_gib: float) -> None:
    """What a worker begins with: it ends when the one that started it is gone, and leaves Ctrl-C to that."""
    allow_memory(allowed_gib)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    caller = multiprocessing.parent_process()
    if caller is not None:
        threading.Thread(target=_end_after, args=(caller.join,), daemon=True).start()


def _end_after(wait: Callable[[], None]) -> None:
    wait()
    # A worker whose caller was killed would wait for work for ever.
    signal.raise_signal(signal.SIGTERM)
