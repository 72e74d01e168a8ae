"""Stop the command at random moments, and call it several times at once: nothing may be lost or left behind.

    python -m tests.hostile.kills --count 50 --seed 1

Real processes, as a user starts them: survey, check, record, recut and book --issue, each stopped by INT, TERM or
KILL at a random moment; then eight records, two issues, and a survey beside records at once.
"""

from __future__ import annotations

import argparse
import copy
import hashlib
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from tests.hostile import smallfigure
from tests.hostile.confine import apart
from tests.hostile.projectcases import forged
from tests.hostile.run import make_start, shut_out
from tests.hostile.trial import COMMAND, Place

STEPS = 9
"""The plan of the issued book is given so many steps, so that there is something to record."""
_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGKILL)
_CALLS = ("survey", "check", "record", "recut", "issue")
_ENDED_S, _LONGEST_S = 30.0, 900.0
_RIGHT_AFTER = {signal.SIGINT: (130, 0, 1), signal.SIGTERM: (-15, 143, 0, 1), signal.SIGKILL: (-9, 0, 1)}


def words(call: str, place: Place, step: int = 1) -> list[str]:
    """Words of one of the calls on the project of a place."""
    project = str(place.project)
    return {
        "survey": ["survey", str(place.parts), project],
        "check": ["check", project],
        "record": ["record", project, str(step), "--at", f"2024-05-{3 + step:02d}T10:30", "--temp", "20"],
        "recut": ["recut", project, "--since", f"{project}/books/A"],
        "issue": ["book", project, "--issue"],
    }[call]


def with_more_steps(place: Place, book: str = "A") -> None:
    """Give the plan of a book more steps, each like its first."""

    def more(plan: Any) -> Any:
        first = plan["steps"][0]
        for number in range(2, STEPS + 1):
            step = copy.deepcopy(first)
            step["number"] = str(number)
            plan["steps"].append(step)
        return plan

    forged("plan.json", more, book=book)(place)


def begin(words: list[str], place: Place, log: Path) -> subprocess.Popen[bytes]:
    """Start the installed command in a session of its own."""
    with log.open("wb") as said:
        return subprocess.Popen(
            [COMMAND, *words],
            cwd=place.cwd,
            env={**os.environ, "TMPDIR": str(place.tmp)},
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )


def ended(process: subprocess.Popen[bytes], within_s: float) -> int | None:
    """Its exit code; None where it had to be killed."""
    try:
        return process.wait(within_s)
    except subprocess.TimeoutExpired:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        return None


def still_there(session: int) -> bool:
    """Whether any process of a session outlives its first by five seconds; it is killed then."""
    until = time.monotonic() + 5.0
    while time.monotonic() < until:
        if not any(_is_alive(entry, session) for entry in Path("/proc").iterdir() if entry.name.isdigit()):
            return False
        time.sleep(0.05)
    with suppress(ProcessLookupError):
        os.killpg(session, signal.SIGKILL)
    return True


def _is_alive(entry: Path, session: int) -> bool:
    with suppress(OSError):
        fields = (entry / "stat").read_text(errors="replace").rpartition(")")[2].split()
        return int(fields[3]) == session and fields[0] != "Z"
    return False


def faults(place: Place) -> Iterator[str]:
    """What is broken in a project: files that cannot be read, books that are not what they were sealed as."""
    for name in ("figure.toml", "joints.toml", "ids.toml", "built.toml"):
        path = place.project / name
        if path.exists():
            try:
                tomllib.loads(path.read_text(encoding="utf-8"))
            except (tomllib.TOMLDecodeError, UnicodeDecodeError) as exc:
                yield f"{name} cannot be read: {exc}"
    for book in sorted(place.project.glob("books/[!.]*")):
        if not (book / "book.json").exists():
            if book.is_dir():
                yield f"{book.name} is half a book"
            continue
        for name, digest in sorted(json.loads((book / "book.json").read_text())["files"].items()):
            if not (book / name).is_file() or hashlib.sha256((book / name).read_bytes()).hexdigest() != digest:
                yield f"{name} of book {book.name} is not as sealed"


def leftovers(place: Place) -> list[str]:
    """Scratch files that somebody forgot."""
    found = []
    for base, folders, files in os.walk(place.project):
        is_cache = ".cache" in Path(base).parts
        for name in (*folders, *files):
            if (name.startswith(".") and name != ".cache" and not name.endswith(".lock") and name != ".lock") or (
                not is_cache and name.endswith((".new", ".issue", ".tmp"))
            ):
                found.append(os.path.relpath(Path(base, name), place.project))
    return sorted(found)


def logged(place: Place) -> list[str]:
    """Steps in the as-built log."""
    path = place.project / "built.toml"
    return [entry["step"] for entry in tomllib.loads(path.read_text()).get("built", [])] if path.exists() else []


def new_place(root: Path, start: Path) -> Place:
    """A fresh copy of the sound project."""
    shutil.rmtree(root, ignore_errors=True)
    place = Place(root)
    for folder in (place.case, place.cwd, place.tmp):
        folder.mkdir(parents=True)
    shutil.copytree(start / "parts", place.parts)
    shutil.copytree(start / "project", place.project)
    return place


def set_revision(place: Place, letter: str) -> None:
    """Have the next issue be of this letter."""
    path = place.project / "figure.toml"
    path.write_text(re.sub(r'^revision = "\w+"', f'revision = "{letter}"', path.read_text(), flags=re.MULTILINE))


def kill_one(call: str, sign: signal.Signals, after_s: float, root: Path, start: Path) -> tuple[bool, list[str]]:
    """Stop one call after a time; whether it was still at work, and all that was wrong then and in the next run."""
    place = new_place(root, start)
    set_revision(place, "B")
    if call == "survey":
        smallfigure.write_recut(place.parts)
    log = root / "said.txt"
    process = begin(words(call, place), place, log)
    time.sleep(after_s)
    is_hit = process.poll() is None
    if is_hit:
        # As a terminal does it: everybody of the session is told, but for the two that are sent by a single kill.
        os.killpg(process.pid, sign) if sign == signal.SIGINT else process.send_signal(sign)
    code = ended(process, _ENDED_S if is_hit else _LONGEST_S)
    wrong = []
    said = log.read_text(errors="replace")
    if code is None:
        wrong.append(f"did not end within {_ENDED_S:g} s")
    elif is_hit and code not in _RIGHT_AFTER[sign]:
        wrong.append(f"ended with {code}")
    if "Traceback" in said or "UserWarning" in said:
        wrong.append("showed a traceback or warning: " + said.strip().splitlines()[-1][:160])
    if still_there(process.pid):
        wrong.append("left a process")
    wrong += faults(place)
    if call == "record" and "recorded" in said and logged(place) != ["1"]:
        wrong.append("said 'recorded', and the log does not have it")
    had = logged(place)
    again = ended(begin(words(call, place), place, log), _LONGEST_S)
    is_right = again in (0, 1) or (call == "record" and had == ["1"] and again == 2)
    if not is_right:
        wrong.append(f"the next run ended with {again}: " + log.read_text(errors="replace").strip()[-200:])
    wrong += faults(place)
    wrong += [f"left {name}" for name in leftovers(place)]
    if sign != signal.SIGKILL:
        wrong += [f"left {path.name} in the temporary folder" for path in sorted(place.tmp.iterdir())]
    return is_hit, wrong


def race(calls: list[list[str]], place: Place) -> list[tuple[int | None, str]]:
    """Exit codes and words of calls made at once."""
    logs = [place.root / f"said{number}.txt" for number in range(len(calls))]
    begun = [begin(one, place, log) for one, log in zip(calls, logs, strict=True)]
    codes = [ended(process, _LONGEST_S) for process in begun]
    return [(code, log.read_text(errors="replace")) for code, log in zip(codes, logs, strict=True)]


def race_records(root: Path, start: Path, count: int = 8) -> list[str]:
    """Several steps recorded at once: each that was said to be recorded is in the log, once."""
    place = new_place(root, start)
    with_more_steps(place)
    done = race([words("record", place, number) for number in range(1, count + 1)], place)
    return record_faults(done, place, count)


def record_faults(done: list[tuple[int | None, str]], place: Place, count: int) -> list[str]:
    """What is wrong after so many steps were recorded at once."""
    wrong = list(faults(place))
    for number, (code, said) in enumerate(done, 1):
        has = logged(place).count(str(number))
        if code == 0 and has != 1:
            wrong.append(f"step {number} was said to be recorded and is {has} times in the log")
        # Who comes at the same moment is served or told so; a step that waits for an earlier one is told so too.
        if code != 0 and (code != 2 or has or not said.strip()):
            wrong.append(f"step {number}: exit {code}, {has} times in the log: {said.strip()[-200:]}")
    if sum(code == 0 for code, _ in done) < 1:
        wrong.append(f"none of {count} was recorded")
    return wrong + [f"left {name}" for name in leftovers(place)]


def race_issues(root: Path, start: Path) -> list[str]:
    """Two issues at once: one book, and both say so or one is refused."""
    place = new_place(root, start)
    set_revision(place, "B")
    done = race([words("issue", place)] * 2, place)
    wrong = list(faults(place))
    if sorted(path.name for path in place.project.glob("books/[!.]*")) not in (["A", "B"], ["A", "B", "draft"]):
        wrong.append(f"the books are {sorted(path.name for path in place.project.glob('books/*'))}")
    for code, said in done:
        if code not in (0, 1) and (code != 2 or "assembler: " not in said or "Traceback" in said):
            wrong.append(f"exit {code}: {said.strip()[-200:]}")
    if not any(code in (0, 1) for code, _ in done):
        wrong.append("neither was issued")
    return wrong + [f"left {name}" for name in leftovers(place)]


def race_survey(root: Path, start: Path) -> list[str]:
    """A survey of new parts while steps are recorded, and a second survey of the same."""
    place = new_place(root, start)
    with_more_steps(place)
    smallfigure.write_recut(place.parts)
    records = [words("record", place, number) for number in (1, 2, 3)]
    done = race([words("survey", place), *records, words("survey", place)], place)
    wrong = list(faults(place))
    for code, said in done:
        if code not in (0, 1, 2) or "Traceback" in said:
            wrong.append(f"exit {code}: {said.strip()[-200:]}")
    wrong += record_faults(done[1:4], place, 3)
    if ended(begin(words("check", place), place, root / "said.txt"), _LONGEST_S) not in (0, 1):
        wrong.append(
            "the project cannot be checked afterwards: " + (root / "said.txt").read_text(errors="replace")[-200:]
        )
    return wrong


def main(given: list[str] | None = None) -> int:
    """Run; the exit code says whether anything failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile.kills", description="Stop the command at random.")
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--seed", default="1")
    call = parser.parse_args(given)
    with tempfile.TemporaryDirectory(prefix="hostile-kills-") as scratch:
        return apart(lambda: stop_all(call.count, call.seed, Path(scratch)))


def stop_all(count: int, seed: str, folder: Path) -> int:
    """All kills and races; the exit code says whether anything failed."""
    shut_out((folder,))
    make_start(folder, is_with_book=True)
    rng = random.Random(seed)
    lasts = {name: _lasts_s(name, folder) for name in _CALLS}
    hits, right = 0, []
    for number in range(count):
        name = _CALLS[number % len(_CALLS)]
        sign, after_s = rng.choice(_SIGNALS), rng.uniform(0.02, 1.05) * lasts[name]
        is_hit, wrong = kill_one(name, sign, after_s, folder / "run", folder)
        hits += is_hit
        right.append(_said(f"{sign.name} after {after_s:.2f} s of {name}{'' if is_hit else ' (it had ended)'}", wrong))
    right.append(_said("eight records at once", race_records(folder / "run", folder)))
    right.append(_said("two issues at once", race_issues(folder / "run", folder)))
    right.append(_said("surveys beside records", race_survey(folder / "run", folder)))
    sys.stdout.write(f"{hits} of {count} were still at work when they were stopped\n")
    sys.stdout.write(f"{sum(right)} passed, {len(right) - sum(right)} failed\n")
    return 0 if all(right) else 1


def _lasts_s(call: str, folder: Path) -> float:
    place = new_place(folder / "run", folder)
    set_revision(place, "B")
    begun = time.monotonic()
    code = ended(begin(words(call, place), place, folder / "said.txt"), _LONGEST_S)
    if code not in (0, 1):
        raise SystemExit(f"{call} cannot be called: exit {code}\n{(folder / 'said.txt').read_text()}")
    return time.monotonic() - begun


def _said(name: str, wrong: list[str]) -> bool:
    sys.stdout.write(f"{'FAILED' if wrong else 'passed'} {name}" + "".join(f"\n    {one}" for one in wrong) + "\n")
    sys.stdout.flush()
    return not wrong


if __name__ == "__main__":
    raise SystemExit(main())
