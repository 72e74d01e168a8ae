"""The harness bites: a program that does one thing it must not do is told so, by its column."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest

from assembler import cli
from tests.hostile import run, trial
from tests.hostile.mutations import mutated_mesh_case
from tests.hostile.projectcases import Start
from tests.hostile.trial import COLUMNS, Case, Place, judge


def _case(**more: object) -> Case:
    def build(place: Place) -> None:
        place.project.mkdir()
        (place.project / "figure.toml").write_text("kept")

    given = {"kind": "project", "name": "one", "build": build, "calls": (("check", "{project}"),), "is_full": True}
    return Case(**{**given, **more})  # type: ignore[arg-type]


def _ending(code: int, work: Callable[[], object], said: str = "") -> Callable[[], NoReturn]:
    def program() -> NoReturn:
        work()
        sys.stderr.write(said)
        sys.stderr.flush()
        os._exit(code)

    return program


def _nothing() -> None:
    return


def _project() -> Path:
    return Path(sys.argv[2])


def _spin() -> None:
    while True:
        pass


def _raise() -> None:
    raise ValueError("oh")


def _write(path: Path) -> None:
    path.write_text("spoiled")


_REFUSAL = "assembler: figure.toml: wrong\n"
_BAD: tuple[tuple[str, Callable[[], NoReturn]], ...] = (
    ("internal error", _ending(3, _nothing, _REFUSAL)),
    ("internal error", _ending(70, _nothing, _REFUSAL)),
    ("crash", _ending(0, lambda: os.kill(os.getpid(), signal.SIGSEGV))),
    ("traceback", _ending(0, _raise)),
    ("foreign line", _ending(2, _nothing, f"{_REFUSAL}RuntimeWarning: overflow\n")),
    ("foreign line", _ending(2, _nothing, f"assembler: {'n' * 400}\n")),
    ("foreign line", _ending(0, _nothing, "[   0.1 s] reading \x1b[31m.stl\n")),
    ("hang", _ending(0, _spin)),
    ("touched outside", _ending(0, lambda: _write(_project().parents[1] / "outside" / "secret.txt"))),
    ("touched outside", _ending(0, lambda: _write(_project().parents[1] / "cwd" / "new.txt"))),
    ("touched outside", _ending(0, lambda: subprocess.run(["/bin/true"], check=True))),
    ("read outside", _ending(0, lambda: (_project().parents[1] / "outside" / "secret.txt").read_bytes())),
    ("read outside", _ending(0, lambda: _write_mark(_project() / "book.html"))),
    ("half-written", _ending(2, lambda: _write(_project() / "figure.toml"), _REFUSAL)),
    ("half-written", _ending(2, lambda: _write(_project() / "new.toml"), _REFUSAL)),
    ("half-written", _ending(0, lambda: (_project() / "figure.toml").unlink())),
    ("left behind", _ending(0, lambda: _write(Path(os.environ["TMPDIR"]) / "scratch"))),
    ("left behind", _ending(0, lambda: subprocess.Popen(["/bin/sleep", "60"]))),
    ("wrong answer", _ending(2, _nothing)),
    ("wrong answer", _ending(1, _nothing)),
)


def _write_mark(path: Path) -> None:
    path.write_text(trial.MARK)


@pytest.mark.parametrize(("column", "program"), _BAD)
def test_what_must_not_happen_is_counted(
    column: str, program: Callable[[], NoReturn], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cli, "run", program)
    verdict = judge(_case(keeps=("project/figure.toml",), codes=frozenset((0, 2))), tmp_path / "run", cpu_s=1)
    assert column in verdict.wrong


def test_much_memory_for_little_input_is_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trial, "MEMORY_BYTES", 1_000_000)
    monkeypatch.setattr(cli, "run", _ending(0, _nothing))
    assert "memory" in judge(_case(), tmp_path / "run").wrong


def test_who_waits_for_ever_hangs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trial, "IDLE_S", 0.2)
    monkeypatch.setattr(cli, "run", _ending(0, signal.pause))
    assert "hang" in judge(_case(), tmp_path / "run").wrong


def test_a_clear_refusal_passes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cli, "run", _ending(2, _nothing, _REFUSAL))
    verdict = judge(_case(codes=frozenset((2,))), tmp_path / "run")
    assert verdict.wrong == {}
    assert verdict.codes == [2]


def test_the_same_seed_gives_the_same_input(tmp_path: Path) -> None:
    made = []
    for turn in ("first", "second"):
        place = Place(tmp_path / turn)
        for number in range(40):
            place = Place(tmp_path / turn / str(number))
            place.parts.mkdir(parents=True)
            mutated_mesh_case("7", number).build(place)
        made.append({str(path.relative_to(tmp_path / turn)): path.read_bytes() for path in _files(tmp_path / turn)})
    assert made[0] == made[1]
    assert len(set(made[0].values())) > 35


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def test_every_crafted_case_has_a_name_of_its_own(tmp_path: Path) -> None:
    names = Counter(f"{kind}/{case.name}" for kind in run.KINDS for case in run.cases(kind, Start(tmp_path)))
    assert [name for name, count in names.items() if count > 1] == []
    assert len(names) > 2000
    assert set(column for column, _ in _BAD) | {"memory"} == set(COLUMNS)
