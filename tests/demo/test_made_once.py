"""Whoever asks for the demo figure while it is being made waits, and gets all of it."""

from __future__ import annotations

import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from demo import build

PARTS = ["head.stl", "neck.stl", "tail.stl"]


def test_the_figure_is_made_once_however_many_ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Each opens the lock's file anew, so threads hold one another up as processes do.
    made = []

    def generated(words: list[str], **_: object) -> subprocess.CompletedProcess[bytes]:
        made.append(words)
        folder = Path(words[-1])
        (folder / "parts").mkdir()
        for name in PARTS:
            time.sleep(0.05)
            (folder / "parts" / name).write_text("solid")
        (folder / "truth.json").write_text("{}")
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(build, "OUT", tmp_path / "out")
    monkeypatch.setattr(build.subprocess, "run", generated)

    def asked(_: int) -> list[str]:
        with build.alone():
            build.make_figure()
        return sorted(path.name for path in (build.OUT / "parts").iterdir())

    with ThreadPoolExecutor(4) as people:
        assert list(people.map(asked, range(4))) == [PARTS] * 4
    assert len(made) == 1


def test_a_figure_whose_making_was_stopped_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []

    def stopped_once(words: list[str], **_: object) -> subprocess.CompletedProcess[bytes]:
        calls.append(words)
        folder = Path(words[-1])
        (folder / "parts").mkdir()
        (folder / "truth.json").write_text("{}")
        if len(calls) == 1:
            (folder / "parts" / "half.stl").write_text("sol")
            raise subprocess.CalledProcessError(1, words)
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(build, "OUT", tmp_path / "out")
    monkeypatch.setattr(build.subprocess, "run", stopped_once)
    with pytest.raises(subprocess.CalledProcessError), build.alone():
        build.make_figure()
    with build.alone():
        build.make_figure()
    assert list((build.OUT / "parts").iterdir()) == []
