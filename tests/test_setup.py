"""What the set-up scripts say on systems that they cannot install on, and which names they take."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

SETUP = Path(__file__).parents[1] / ".ci" / "setup.sh"


def _called(folder: Path, call: str, **programs: str) -> subprocess.CompletedProcess[str]:
    """A function of the script, with no other programs than these about."""
    for name, text in programs.items():
        (folder / name.replace("_", "-")).write_text(f"#!/bin/sh\n{text}\n")
        (folder / name.replace("_", "-")).chmod(0o755)
    shell = shutil.which("sh")
    assert shell is not None
    return subprocess.run(
        [shell, "-c", f". {SETUP}; {call}"], env={"PATH": str(folder)}, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize(
    ("manager", "command"), [("dnf", "sudo dnf install"), ("brew", "brew install"), ("zz", "with")]
)
def test_another_system_is_told_in_one_line_what_to_install(tmp_path: Path, manager: str, command: str) -> None:
    done = _called(tmp_path, "need_packages libegl1", **{manager: "exit 1"})
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert f"({command}" in line
    assert "untried" in line
    assert _called(tmp_path, "HAVE_SYSTEM=1; need_packages libegl1").returncode == 0


def test_a_library_is_asked_for_by_the_name_that_this_system_has(tmp_path: Path) -> None:
    known = '[ "$2" = libonet64 ] || [ "$2" = libtwo ]'
    names = "known_package libone; known_package libtwo; known_package libthree"
    assert _called(tmp_path, names, apt_cache=known).stdout.split() == ["libonet64", "libtwo", "libthree"]
