"""The as-built log: no entry is lost, and no slip of the crew is written in silence."""

from __future__ import annotations

import datetime
import os
from pathlib import Path

import pytest

from assembler import cli, pipeline
from assembler.errors import InputError, ProjectFileError
from assembler.projectfiles import locking
from assembler.projectfiles.builtlog import BuiltStep, read_built
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.locking import locked
from assembler.reports import BuiltReport
from tests.hostile.projects import PLAN, project

NOW = datetime.datetime(2025, 5, 6, 12, 0).astimezone()
FIRST = datetime.datetime(2025, 5, 4, 8, 0)


@pytest.fixture
def folder(tmp_path: Path) -> ProjectFolder:
    return project(tmp_path / "tower", "A")


def _quiet(_: str) -> None:
    return


def _record(
    folder: ProjectFolder,
    step: str,
    at: datetime.datetime,
    temperature_c: float = 18.0,
    *,
    although: str = "",
    book: str | None = None,
) -> BuiltReport:
    return pipeline.record_step(
        folder.root,
        step=step,
        at=at,
        temperature_c=temperature_c,
        book=book,
        although=although,
        by="night shift",
        now=NOW,
        progress=_quiet,
    )


def _written(folder: ProjectFolder) -> tuple[BuiltStep, ...]:
    return read_built(folder.built)


def test_what_is_in_order_is_recorded_with_who_did_it(folder: ProjectFolder) -> None:
    _record(folder, "1", FIRST)
    _record(folder, "2", FIRST + datetime.timedelta(days=1))
    assert [(entry.step, entry.book, entry.by, entry.although) for entry in _written(folder)] == [
        ("1", "A", "night shift", ""),
        ("2", "A", "night shift", ""),
    ]


@pytest.mark.parametrize(
    ("done", "step", "at", "temperature_c", "words"),
    [
        ([], "2", FIRST, 18.0, "step 1 comes before step 2 and is not recorded"),
        (["1"], "2", FIRST - datetime.timedelta(days=900), 18.0, "is recorded at 2025-05-04 08:00"),
        (["1"], "2", FIRST + datetime.timedelta(minutes=1), 18.0, "J01 of step 1 is not free before 2025-05-0"),
        ([], "1", datetime.datetime(2025, 5, 6, 12, 30), 18.0, "2025-05-06 12:30 is in the future"),
        ([], "1", FIRST, 50.0, "50 C, which is unlikely"),
    ],
    ids=["before those it stands on", "time before theirs", "inside a hold", "in the future", "warm"],
)
def test_a_slip_is_refused_in_words_unless_it_is_stated_as_a_deviation(
    folder: ProjectFolder, done: list[str], step: str, at: datetime.datetime, temperature_c: float, words: str
) -> None:
    for number in done:
        _record(folder, number, FIRST)
    before = _written(folder)
    with pytest.raises(InputError, match=words):
        _record(folder, step, at, temperature_c)
    assert _written(folder) == before
    report = _record(folder, step, at, temperature_c, although="it was\ndone so")
    assert any(words.split("2025-05-0")[0] in line for line in report.lines())
    assert _written(folder)[-1].although == "it was\ndone so"


@pytest.mark.parametrize("temperature_c", [float("nan"), float("inf"), 200.0, -300.0, 64.0, -31.0])
def test_a_temperature_that_cannot_have_been_is_refused_even_as_a_deviation(
    folder: ProjectFolder, temperature_c: float
) -> None:
    with pytest.raises(InputError, match="Fahrenheit"):
        _record(folder, "1", FIRST, temperature_c, although="sure")
    assert not folder.built.exists()


def test_fahrenheit_is_told_in_celsius(folder: ProjectFolder) -> None:
    with pytest.raises(InputError, match="64 F is 17.8 C"):
        _record(folder, "1", FIRST, 64.0)


def test_twice_is_refused_even_as_a_deviation(folder: ProjectFolder) -> None:
    _record(folder, "1", FIRST)
    with pytest.raises(ProjectFileError, match="recorded already"):
        _record(folder, "1", FIRST, although="again")


@pytest.mark.parametrize("at", ["9999-12-31T23:59", "0001-12-31T23:59", "2025-05-04", "20250504"])
def test_a_day_alone_or_at_the_end_of_the_calendar_leaves_nothing_half_done(
    folder: ProjectFolder, at: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["record", str(folder.root), "1", "--at", at, "--temp", "18", "--although", "x"]) == 2
    assert "--at" in capsys.readouterr().err
    assert not folder.built.exists()


@pytest.mark.parametrize("at", ["2025-05-04T08:00:00+02:00", "2025-05-04T08:00:00.123456-09:30"])
def test_times_with_and_without_a_zone_may_be_mixed(folder: ProjectFolder, at: str) -> None:
    _record(folder, "1", datetime.datetime.fromisoformat(at))
    _record(folder, "2", FIRST + datetime.timedelta(days=1, hours=6))
    assert _written(folder)[0].at == datetime.datetime.fromisoformat(at)


@pytest.mark.parametrize("at", ["2025-05-04T08:00:00+02:00:15", "2025-05-04T08:00:00-00:00:30"])
def test_what_the_log_could_not_be_read_with_is_not_written(folder: ProjectFolder, at: str) -> None:
    with pytest.raises(ProjectFileError, match=r"built\.toml"):
        _record(folder, "1", datetime.datetime.fromisoformat(at))
    assert not folder.built.exists()


@pytest.mark.parametrize("book", ["B", "x" * 5000, "../A", "", "A\0"])
def test_a_book_that_is_none_of_the_project_is_refused(folder: ProjectFolder, book: str) -> None:
    with pytest.raises(InputError) as caught:
        _record(folder, "1", FIRST, book=book)
    assert "one of: A, draft" in str(caught.value)
    assert len(str(caught.value)) < 1000


def test_records_at_once_are_all_kept(folder: ProjectFolder) -> None:
    steps = [step.number for step in PLAN.steps]
    children = []
    for number in steps:
        child = os.fork()
        if child == 0:
            try:
                _record(folder, number, FIRST, although="all at once")
                os._exit(0)
            except BaseException:  # noqa: BLE001  a child must never come back into the test run
                os._exit(70)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0] * len(steps)
    assert sorted(entry.step for entry in _written(folder)) == sorted(steps)


def test_whoever_has_to_wait_too_long_is_told(folder: ProjectFolder) -> None:
    with locked(folder.root), pytest.raises(ProjectFileError, match="another run"), locked(folder.root, wait_s=0.0):
        pytest.fail("two runs at once")
    # Free again, and a link in the place of the lock is not followed.
    with locked(folder.root, wait_s=0.0):
        pass
    (folder.root / locking.LOCK).unlink()
    (folder.root / locking.LOCK).symlink_to(folder.root.parent / "outside")
    with pytest.raises(OSError, match="symbolic links"), locked(folder.root):
        pytest.fail("followed a link")
    assert not (folder.root.parent / "outside").exists()
