"""Several at once, and stopped at any moment: no entry of the as-built log is lost; `kills.py` asks for more."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

import pytest

from assembler import cli, pipeline
from tests.hostile import kills, smallfigure
from tests.hostile.trial import Place
from tests.pipeline.test_killed import _nothing_is_drawn

# It is in force for every test here: the books of this page have no pictures.
FIXTURES = (_nothing_is_drawn,)
NOT_BEGUN = 71
"""A child's exit code where it was stopped before it came to the command."""


@pytest.fixture
def place(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Place:
    """The small figure with book A, whose plan has nine steps: made once, copied for each test."""
    kept = tmp_path_factory.getbasetemp() / "races"
    if not kept.exists():
        made = Place(tmp_path_factory.mktemp("making"))
        smallfigure.write_parts(made.parts)
        pipeline.survey_project(made.parts, made.project, unit=None, progress=_quiet)
        pipeline.write_project_book(made.project, out=None, is_issue=True, progress=_quiet)
        kills.with_more_steps(made)
        made.case.rename(kept)
    shutil.copytree(kept, tmp_path / "case")
    return Place(tmp_path)


def _quiet(_: str) -> None:
    return


def _begun(words: Sequence[str], log: Path, gate: int) -> int:
    """A child that runs the command as soon as it reads a letter at the gate."""
    child = os.fork()
    if child == 0:
        _child(words, log, gate)
    return child


def _child(words: Sequence[str], log: Path, gate: int) -> NoReturn:
    handle = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    os.dup2(handle, 1)
    os.dup2(handle, 2)
    sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: PTH123, SIM115
    sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: PTH123, SIM115
    sys.argv = ["assembler", *words]
    code = 70
    try:
        os.read(gate, 1)
        cli.run()
    except SystemExit as exc:
        code = exc.code if isinstance(exc.code, int) else 70
    except KeyboardInterrupt:
        code = NOT_BEGUN
    finally:
        # Whatever happened: the child must not go on with the tests.
        os._exit(code)


def _ended(child: int) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _at_once(calls: Sequence[Sequence[str]], place: Place) -> list[tuple[int | None, str]]:
    read, write = os.pipe()
    logs = [place.root / f"said{number}.txt" for number in range(len(calls))]
    begun = [_begun(words, log, read) for words, log in zip(calls, logs, strict=True)]
    os.close(read)
    # A letter for each: all go off together.
    os.write(write, b"x" * len(calls))
    codes = [_ended(child) for child in begun]
    os.close(write)
    return [(code, log.read_text()) for code, log in zip(codes, logs, strict=True)]


def test_four_records_at_once_are_all_in_the_log(place: Place) -> None:
    for first in (1, 5):
        done = _at_once([kills.words("record", place, first + k) for k in range(4)], place)
        recorded = [str(first + k) for k, (code, _) in enumerate(done) if code == 0]
        assert recorded
        assert [step for step in recorded if kills.logged(place).count(step) != 1] == []
        assert all(code in (0, 2) and "Traceback" not in said for code, said in done)
    assert list(kills.faults(place)) == []
    assert kills.leftovers(place) == []


def test_two_issues_at_once_make_one_book(place: Place) -> None:
    kills.set_revision(place, "B")
    read, write = os.pipe()
    children = []
    for _ in range(2):
        child = os.fork()
        if child == 0:
            os.read(read, 1)
            code = 70
            try:
                pipeline.write_project_book(place.project, out=None, is_issue=True, progress=_quiet)
                code = 0
            except pipeline.InputError:
                code = 2
            finally:
                os._exit(code)
        children.append(child)
    os.write(write, b"xx")
    codes = sorted(_ended(child) for child in children)
    os.close(read)
    os.close(write)
    assert codes in ([0, 0], [0, 2])
    assert list(kills.faults(place)) == []
    assert sorted(path.name for path in (place.project / "books").iterdir() if path.suffix != ".lock") == ["A", "B"]


def test_a_record_that_is_stopped_is_in_the_log_or_can_be_made_again(place: Place) -> None:
    rng = random.Random(20310504)
    for step in range(1, 7):
        read, write = os.pipe()
        log = place.root / "said.txt"
        child = _begun(kills.words("record", place, step), log, read)
        os.write(write, b"x")
        time.sleep(rng.uniform(0.005, 0.06))
        sign = (signal.SIGINT, signal.SIGTERM, signal.SIGKILL)[step % 3]
        os.kill(child, sign)
        code = _ended(child)
        os.close(read)
        os.close(write)
        assert code in (0, 143, NOT_BEGUN, {signal.SIGINT: 130, signal.SIGTERM: -15, signal.SIGKILL: -9}[sign])
        said = log.read_text() if log.exists() else ""
        assert "Traceback" not in said
        assert list(kills.faults(place)) == []
        assert str(step) in kills.logged(place) or "recorded" not in said
        ((again, said),) = _at_once([kills.words("record", place, step)], place)
        assert (again, kills.logged(place).count(str(step))) in ((0, 1), (2, 1)), said
    assert kills.leftovers(place) == []
