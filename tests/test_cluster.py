"""A running engine draws and sets the same as this machine; one that cannot is refused in one line."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from functools import partial
from pathlib import Path

import distributed
import pytest

import assembler
from assembler import cluster, pipeline
from assembler.cluster import cluster_workers
from assembler.errors import InputError
from assembler.parallel import ordered_map
from tests.hostile.smallfigure import write_parts

ROOT = Path(assembler.__file__).parents[1]
WAIT_S = 60.0


class Engine:
    """A scheduler and single workers, as README starts them; nothing starts a worker again here."""

    def __init__(self, workers: int, threads: int = 1) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
        host, port = self.address[len("tcp://") :].split(":")
        self.processes = [_dask("scheduler", "--host", host, "--port", port, "--no-dashboard")]
        for _ in range(workers):
            self.processes.append(
                _dask("worker", self.address, "--no-nanny", "--no-dashboard", "--nthreads", str(threads))
            )
        with distributed.Client(self.address, timeout=WAIT_S, set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=WAIT_S) if workers else None

    def kill_one(self) -> None:
        """The last worker is gone without a word."""
        self.processes[-1].kill()

    def end(self) -> None:
        """All processes are gone."""
        for process in reversed(self.processes):
            process.kill()
            process.wait()


def _dask(*call: str) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "ignore"}
    line = [sys.executable, "-c", "from dask.__main__ import main; main()", *call]
    return subprocess.Popen(line, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment)


@pytest.fixture(scope="module")
def engine() -> Iterator[Engine]:
    started = Engine(2)
    yield started
    started.end()


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two plates, surveyed, with the book that this machine makes by itself."""
    folder = tmp_path_factory.mktemp("figure")
    pipeline.survey_project(write_parts(folder / "exports"), folder / "project", unit="mm", progress=_quiet)
    _book(folder / "project", "alone", None)
    return folder / "project"


def _quiet(_: str) -> None:
    return


def _book(project: Path, name: str, executor: Executor | None, progress: Callable[[str], None] = _quiet) -> None:
    shutil.rmtree(project / ".cache", ignore_errors=True)
    pipeline.write_project_book(
        project, out=project.parent / name, is_issue=False, progress=progress, executor=executor
    )


def _content(book: Path) -> dict[str, bytes]:
    return {str(path.relative_to(book)): path.read_bytes() for path in sorted(book.rglob("*")) if path.is_file()}


def _refusal(address: str, folder: Path) -> str:
    with pytest.raises(InputError) as caught, cluster_workers(address, folder):
        pass
    (line,) = str(caught.value).splitlines()
    return line


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    assert cluster.WAIT_S < 10.0
    monkeypatch.setattr(cluster, "WAIT_S", 1.0)


@pytest.mark.usefixtures("impatient")
def test_an_address_that_nobody_answers_is_one_line_in_the_time_stated(tmp_path: Path) -> None:
    before = time.monotonic()
    assert "no scheduler answers there" in _refusal("tcp://127.0.0.1:9", tmp_path)
    assert time.monotonic() - before < 9.0
    assert "no scheduler answers there" in _refusal("nowhere at all", tmp_path)


def test_a_folder_that_workers_do_not_see_is_refused(engine: Engine, tmp_path: Path) -> None:
    assert "does not see" in _refusal(engine.address, tmp_path / "elsewhere")


def test_workers_that_do_several_things_at_once_are_refused(tmp_path: Path) -> None:
    crowded = Engine(1, threads=2)
    try:
        assert "--nthreads 1" in _refusal(crowded.address, tmp_path)
    finally:
        crowded.end()


def test_a_scheduler_without_workers_is_refused(tmp_path: Path) -> None:
    idle = Engine(0)
    try:
        assert "has no workers" in _refusal(idle.address, tmp_path)
    finally:
        idle.end()


def test_a_cluster_writes_the_same_book_also_when_a_worker_is_lost_half_way(engine: Engine, project: Path) -> None:
    lost: list[str] = []

    def progress(line: str) -> None:
        if line.startswith("drawing: step") and not lost:
            lost.append(line)
            engine.kill_one()

    with cluster_workers(engine.address, project) as executor:
        _book(project, "cluster", executor, progress)
    assert lost
    alone, together = _content(project.parent / "alone"), _content(project.parent / "cluster")
    assert sorted(alone) == sorted(together)
    assert [name for name in alone if alone[name] != together[name]] == []


def test_a_scheduler_that_is_lost_costs_time_only(tmp_path: Path) -> None:
    short = Engine(1)
    with cluster_workers(short.address, tmp_path) as executor:
        results = ordered_map(executor, (partial(_slowly, number) for number in range(4)))
        first = next(results)
        short.end()
        assert [first, *results] == [0, 1, 2, 3]


def _slowly(number: int) -> int:
    time.sleep(0.3)
    return number
