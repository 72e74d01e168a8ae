"""Workers of an engine that is running already, in place of processes of this machine: `book --cluster ADDRESS`.

The engine is dask.distributed, which schedules, starts lost work again and looks after its workers; nothing of that is
done here. Workers see the project folder under the same path, run the same program, and do one thing at a time. Each
keeps one process that works for it: a graphics context belongs to one thread, and pages are set within bounds of time
that only the main thread of a process can hold.
"""

from __future__ import annotations

import asyncio
import logging
import multiprocessing
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from distributed import Client, rpc
from distributed.scheduler import KilledWorker

from assembler.cache import code_mark
from assembler.errors import Fault, InputError
from assembler.parallel import processes
from assembler.roombound import allow_memory, memory_gib

WAIT_S = 8.0
"""How long an address may take to answer."""
_ROOMS = ("figure", "drawing", "publishing", "catalogue")
_LIBRARIES = ("distributed", "numpy", "pillow", "pyrender", "weasyprint")


@contextmanager
def cluster_workers(address: str, folder: Path) -> Iterator[Executor]:
    """Workers of a running scheduler, to be let go by leaving the context; they go on running.

    Parameters
    ----------
    address
        Of the scheduler, such as ``tcp://192.0.2.7:8786``.
    folder
        The project, absolute: on storage that all workers see.

    Raises
    ------
    InputError
        If nobody answers, or a worker cannot do this work; or, later, if work in hand has killed several workers.
    """
    # What the engine has to say of lost connections is said here, in one line.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        asyncio.run(asyncio.wait_for(_greet(address), WAIT_S))
        client = Client(address, timeout=WAIT_S, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, MemoryError) as exc:
        # Words of another kind of server are taken for the size of what it is going to say.
        right = "start a scheduler as README shows, and give its address: tcp://HOST:PORT"
        raise _unusable(address, "no scheduler answers there", right) from exc
    with client:
        try:
            _check_workers(client, address, folder)
        except OSError as exc:
            raise _unusable(address, f"a worker does not answer: {exc}", "start it again") from exc
        try:
            yield _Workers(client)
        except KilledWorker as exc:
            right = "look at the log of the workers: have they memory enough?"
            raise _unusable(address, "one piece of work ended several workers", right) from exc


async def _greet(address: str) -> None:
    """Whoever listens there is a scheduler: a `Client` waits for other servers without end."""
    async with rpc(address) as scheduler:  # type: ignore[no-untyped-call]
        await scheduler.identity()


class _Workers(Executor):
    """Has each call carried out by the process of a worker."""

    def __init__(self, client: Client) -> None:
        self._engine: Executor = client.get_executor(pure=False)  # type: ignore[no-untyped-call]

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        return self._engine.submit(_carry_out, fn, *args, **kwargs)


@cache
def _process() -> Executor:
    """The process of this worker."""
    return processes(1)


def _carry_out(fn: Callable[..., Any], *args: Any, **kwargs: Any) -> Any:
    try:
        return _process().submit(fn, *args, **kwargs).result()
    except BrokenExecutor:
        _process.cache_clear()
        raise


def _check_workers(client: Client, address: str, folder: Path) -> None:
    """Refuse a cluster whose results would differ from those of this machine, or never come."""
    about = client.scheduler_info(n_workers=-1)["workers"]
    if not about:
        raise _unusable(address, "the scheduler has no workers", "start workers as README shows")
    crowded = sorted(worker for worker, facts in about.items() if facts["nthreads"] != 1)
    if crowded:
        wrong = f"worker {crowded[0]} does {about[crowded[0]]['nthreads']} things at once"
        raise _unusable(address, wrong, "start it again with --nthreads 1")
    for worker, is_nursed in sorted(client.run(_is_daemon).items()):
        if is_nursed:
            wrong = f"worker {worker} may not start a process of its own"
            raise _unusable(address, wrong, "start it again with --no-nanny")
    try:
        marks = client.run(_code_of_worker)
    except ImportError as exc:
        raise _unusable(address, "a worker does not have this program", "install it there as it is here") from exc
    for worker, mark in sorted(marks.items()):
        if mark != _code_of_worker():
            wrong = f"worker {worker} has another version of this program or of its libraries"
            raise _unusable(address, wrong, "install it there as it is here")
    for worker, is_there in sorted(client.run(folder.is_dir).items()):
        if not is_there:
            right = "keep the project on storage that all workers see under one path"
            raise _unusable(address, f"worker {worker} does not see {folder}", right)
    client.run(allow_memory, memory_gib())


def _code_of_worker() -> str:
    return code_mark(_ROOMS, _LIBRARIES)


def _is_daemon() -> bool:
    return multiprocessing.current_process().daemon


def _unusable(address: str, wrong: str, right: str) -> InputError:
    return InputError(Fault(file="", place=f"--cluster {address}", wrong=wrong, right=right))
