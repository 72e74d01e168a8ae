"""What share of a cold build does the book after a re-cut take? One part cut in two, everything else as it was.

Run by name (`pytest tests/bench/recut_share.py -s`); takes the demo's parts from demo/out/parts, so `sh demo/run` comes
first. Processor seconds of both books are printed; pictures of unchanged steps have to be the same bytes.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from demo.build import ROOT, cut_again, decide, state_revision

pytestmark = pytest.mark.bench
PARTS = ROOT / "demo" / "out" / "parts"
BAR = 0.15


def say(text: str) -> None:
    """A line for who runs this by hand."""
    sys.stderr.write(f"\n{text}")


def cpu_s(*words: str) -> float:
    """Processor seconds of one command with all its children."""
    before = os.times()
    done = subprocess.run([sys.executable, "-m", "assembler", *words], cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
    assert done.returncode <= 1
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def test_a_book_after_a_re_cut_costs_a_share_of_a_cold_one(tmp_path: Path) -> None:
    project = tmp_path / "project"
    project.mkdir()
    shutil.copyfile(ROOT / "demo" / "project" / "figure.toml", project / "figure.toml")
    survey = cpu_s("survey", str(PARTS), str(project))
    decide(project / "joints.toml")
    cold = cpu_s("book", str(project), "--issue")
    cut_again(project / "parts")
    state_revision(project / "figure.toml", "A", "B")
    warm = cpu_s("book", str(project), "--issue")
    again = cpu_s("book", str(project))
    say(f"survey {survey:.0f} s, book A {cold:.0f} s, book B after one part was cut in two {warm:.0f} s: ")
    say(f"{warm / (survey + cold):.0%} of the cold build (bar {BAR:.0%}); the same once more {again:.0f} s")
    books = project / "books"
    changes = json.loads((books / "B" / "changes.json").read_text(encoding="utf-8"))
    same = set(changes["steps"]["unchanged"]) - set(changes["steps"]["background_only"])
    assert same
    for number in same:
        name = f"step-{number}.png"
        assert (books / "A" / name).read_bytes() == (books / "B" / name).read_bytes(), name
    assert warm <= BAR * (survey + cold)
