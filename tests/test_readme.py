"""What the README tells a newcomer to type is what the program takes."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from assembler import cli

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
CALLS = [line.strip() for line in README.splitlines() if line.startswith("    assembler ")]


def test_it_opens_with_the_job_in_one_paragraph() -> None:
    title, job, *_ = README.split("\n\n")
    assert title.startswith("# ")
    assert "build book" in job
    assert "\n" not in job


@pytest.mark.parametrize("call", CALLS)
def test_each_call_is_understood(call: str) -> None:
    words = shlex.split(call, comments=True)[1:]
    assert cli._parser().parse_args(words).call == words[0]


def test_there_are_calls_to_check() -> None:
    assert {call.split()[1] for call in CALLS} >= {"survey", "check", "book", "recut", "record", "worksheet"}


@pytest.mark.parametrize("script", re.findall(r"sh (demo/run|tests/run)", README))
def test_the_scripts_are_there(script: str) -> None:
    assert (ROOT / script).stat().st_mode & 0o111


@pytest.mark.parametrize("target", re.findall(r"\]\(([^)]+)\)", README))
def test_links_and_pictures_lead_somewhere(target: str) -> None:
    assert target.startswith("https://") or (ROOT / target).exists()
