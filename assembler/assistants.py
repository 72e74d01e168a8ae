"""Other processes that draw and set pages beside this one. Called early, they are ready when there is something to do.

In: functions and values that can be pickled. Out: futures of what they return.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import tempfile
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from functools import partial
from multiprocessing.process import BaseProcess
from pathlib import Path
from types import TracebackType
from typing import Any, ParamSpec, TypeVar

from assembler.isolation import isolated_children

Given = ParamSpec("Given")
Got = TypeVar("Got")
One = TypeVar("One")
IsWanted = Callable[[], bool]


class Assistants:
    """Some processes that do what they are given.

    Parameters
    ----------
    count
        How many; none: everything is done by the caller.
    """

    def __init__(self, count: int = 1) -> None:
        self.count = count
        self._pool: ProcessPoolExecutor | None = None
        self._processes: set[BaseProcess] = set()
        self._given: list[Future[Any]] = []
        self._ahead: list[Future[None]] = []
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    def __enter__(self) -> Assistants:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let them go; waited for only while they still write."""
        if self._pool is not None:
            if all(future.done() for future in self._given):
                # Who gives back a figure's memory first, or loads what nobody needs any more, keeps the caller waiting.
                for process in self._processes:
                    process.kill()
            self._pool.shutdown(cancel_futures=True)
            self._pool = None
        if self._folder is not None:
            self._folder.cleanup()

    def call(self, module: str = "") -> None:
        """Have them come, without waiting for them; those who have come stay.

        Parameters
        ----------
        module
            What they are to have loaded when there is something to do.
        """
        if self._pool is None and self.count > 0:
            isolated_children()
            # Graphics contexts do not survive a fork.
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(self.count, mp_context=context, initializer=_leave_with_the_caller)
            others = set(multiprocessing.active_children())
            for _ in range(self.count):
                self._pool.submit(_come, module)
            self._processes = set(multiprocessing.active_children()) - others

    @property
    def were_called(self) -> bool:
        """Whether they are here, or on their way."""
        return self._pool is not None

    def load(self, module: str) -> None:
        """Have them load a module that they will need soon."""
        for _ in range(self.count):
            self.give(_come, module)

    def give(self, what: Callable[Given, Got], /, *values: Given.args, **named: Given.kwargs) -> Future[Got]:
        """One more thing to do.

        Raises
        ------
        ValueError
            If there are no assistants.
        """
        self.call()
        if self._pool is None:
            raise ValueError("there is nobody to give work to")
        future = self._pool.submit(what, *values, **named)
        self._given.append(future)
        return future

    @contextmanager
    def beside(
        self, what: Callable[Given, Got], /, *values: Given.args, **named: Given.kwargs
    ) -> Iterator[Callable[[], Got]]:
        """Have something done while the caller does something else, and asks for what comes back.

        It has ended when this ends. Where there are no assistants it is done when it is asked for.
        """
        if self.count < 1:
            yield partial(what, *values, **named)
            return
        future = self.give(what, *values, **named)
        try:
            yield future.result
        finally:
            wait([future])

    @contextmanager
    def ahead(self, what: Callable[[One, IsWanted], None], value: One) -> Iterator[None]:
        """Have something done ahead that may be of use, until this ends; what was begun ends later (`settle`).

        Parameters
        ----------
        what
            Asks its second argument before each piece of work whether that is still wanted.
        value
            Its first argument.
        """
        if self.count < 1:
            yield
            return
        handle, name = tempfile.mkstemp(dir=self.place())
        os.close(handle)
        wanted = Path(name)
        self._ahead.append(self.give(what, value, wanted.exists))
        try:
            yield
        finally:
            wanted.unlink()

    def settle(self) -> list[BaseException]:
        """Wait until nothing that was given ahead is being done any more; gives what went wrong there.

        Nothing is lost by that: what was not done ahead is done in its turn.
        """
        failures = [future.exception() for future in self._ahead]
        self._ahead.clear()
        return [failure for failure in failures if failure is not None]

    def place(self) -> Path:
        """A folder that stays until the assistants have left."""
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory()
        return Path(self._folder.name)


def _leave_with_the_caller() -> None:
    """End this process when the one that started it is gone, however that ended."""
    caller = multiprocessing.parent_process()
    if caller is not None:
        threading.Thread(target=_leave_after, args=(caller.join,), daemon=True).start()


def _leave_after(wait: Callable[[], None]) -> None:
    wait()
    os._exit(1)


def _come(module: str) -> None:
    """Load a module."""
    if module:
        importlib.import_module(module)
