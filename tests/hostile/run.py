"""Attack the command: crafted input of each kind, then mutated input; count what it must never do.

    python -m tests.hostile.run --count 20000 --seed 7
    python -m tests.hostile.run --kind mesh --minutes 10
    python -m tests.hostile.run --only "mesh/stl point"     # what a failing case's file says

The kinds: mesh, project, book, names, templates, links. Failing cases are kept under tests/results/hostile/.
The same seed gives the same cases.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from tests.hostile import bookcases, meshcases, mutations, namecases, projectcases, smallfigure
from tests.hostile.confine import NotConfinedError, apart, confine
from tests.hostile.trial import COLUMNS, CPU_S, Case, Place, Verdict, draw_alone, interrupted, judge, load

RESULTS = Path(__file__).resolve().parents[1] / "results" / "hostile"
KINDS = ("mesh", "names", "project", "links", "templates", "book")
# Of what is mutated: a book takes a hundred times as long as a part that is refused.
_SHARES = {"mesh": 0.62, "names": 0.05, "project": 0.315, "links": 0.0, "templates": 0.01, "book": 0.005}
_KEPT_BYTES = 60_000_000


def cases(kind: str, start: projectcases.Start) -> Iterator[Case]:
    """Crafted cases of a kind."""
    given: dict[str, Callable[[], Iterator[Case]]] = {
        "mesh": lambda: itertools.chain(meshcases.crafted(), meshcases.suffix_cases()),
        "names": namecases.crafted,
        "project": lambda: projectcases.crafted(start),
        "links": lambda: bookcases.crafted_links(start),
        "templates": lambda: bookcases.crafted_templates(start),
        "book": lambda: bookcases.crafted_books(start),
    }
    yield from given[kind]()


def mutated(kind: str, start: projectcases.Start, seed: str) -> Callable[[int], Case] | None:
    """What makes the n-th mutated case of a kind."""
    given: dict[str, Callable[[int], Case]] = {
        "mesh": partial(mutations.mutated_mesh_case, seed),
        "names": partial(namecases.mutated, seed),
        "project": partial(projectcases.mutated, start, seed),
        "templates": partial(bookcases.mutated_template, start, seed),
        "book": partial(bookcases.mutated_book, start, seed),
    }
    return given.get(kind)


def all_cases(
    kinds: tuple[str, ...], start: projectcases.Start, seed: str, count: int, every: int = 1
) -> Iterator[Case]:
    """Every n-th crafted case of these kinds, then mutated ones until there are so many."""
    given = 0
    for kind in kinds:
        for case in itertools.islice(cases(kind, start), 0, None, every):
            given += 1
            if given > count:
                return
            yield case
    makers = {kind: maker for kind in kinds if (maker := mutated(kind, start, seed)) is not None}
    whole = sum(_SHARES[kind] for kind in makers)
    if not makers:
        return
    owed, done = dict.fromkeys(makers, 0.0), dict.fromkeys(makers, 0)
    # Shared out evenly, so that a run that is cut short has seen all kinds.
    while given < count:
        for kind in makers:
            owed[kind] += _SHARES[kind] / whole
        kind = max(owed, key=lambda one: (owed[one], one))
        owed[kind] -= 1.0
        yield makers[kind](done[kind])
        done[kind] += 1
        given += 1


def make_start(folder: Path, *, is_with_book: bool) -> projectcases.Start:
    """The sound project that cases start from: surveyed, with book A issued, once with and once without its cache."""
    said = folder / "start.txt"
    if apart(partial(_make, folder, said, is_with_book)) not in (0, 1):
        raise SystemExit(f"the sound figure cannot be made:\n{said.read_text()}")
    shutil.copytree(folder / "project", folder / "cold", ignore=shutil.ignore_patterns(".cache"))
    return projectcases.Start(folder)


def _make(folder: Path, said: Path, is_with_book: bool) -> int:
    # In a process of its own: graphics do not survive a fork.
    from assembler.cli import main

    (folder / "tmp").mkdir()
    os.environ["TMPDIR"], tempfile.tempdir = str(folder / "tmp"), None
    with said.open("w", encoding="utf-8") as stream:
        os.dup2(stream.fileno(), 1)
        os.dup2(stream.fileno(), 2)
    draw_alone()
    parts, project = smallfigure.write_parts(folder / "parts"), folder / "project"
    calls = [["survey", str(parts), str(project)], ["book", str(project), "--issue"], ["book", str(project)]]
    return max(main(words) for words in (calls if is_with_book else calls[:1]))


def keep(case: Case, verdict: Verdict, root: Path, seed: str) -> Path:
    """Store a failing case: what was said, how to do it again, and its input."""
    name = re.sub(r"[^A-Za-z0-9.,=+-]+", "_", f"{case.kind}-{case.name}")[:90]
    folder = RESULTS / name
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    again = f'.venv/bin/python -m tests.hostile.run --seed {seed} --only "{case.kind}/{case.name}"'
    wrong = "\n".join(f"{column}: {what}" for column, what in sorted(verdict.wrong.items()))
    said = verdict.said.replace(str(root), "ROOT")
    (folder / "case.txt").write_text(
        f"{again}\n\n{wrong}\n\ncodes {verdict.codes}\n\n{said}", encoding="utf-8", errors="replace"
    )
    # What the case lies in now was changed by the run: laid out again, without what can be made again.
    shutil.rmtree(root, ignore_errors=True)
    place = Place(root)
    for one in (place.case, place.parts, place.cwd, place.outside):
        one.mkdir(parents=True)
    case.build(place)
    _copy_input(place.case, folder / "input")
    return folder


def _copy_input(source: Path, target: Path) -> None:
    left = _KEPT_BYTES
    for base, folders, files in os.walk(source):
        folders[:] = sorted(one for one in folders if one not in (".cache", "books", "kept-meshes"))
        for name in sorted(files):
            path = Path(base, name)
            into = target / path.relative_to(source)
            into.parent.mkdir(parents=True, exist_ok=True)
            if path.is_symlink():
                into.symlink_to(path.readlink())
            elif path.is_file() and path.lstat().st_size < left:
                left -= path.lstat().st_size
                shutil.copyfile(path, into)


def shut_out(writable: tuple[Path, ...]) -> None:
    """Let nothing that a case talks the program into reach other files; no attack by root without that."""
    try:
        confine(writable)
    except NotConfinedError as exc:
        if not hasattr(os, "geteuid") or os.geteuid() == 0:
            raise SystemExit(f"an attack by root has to be confined ({exc}): run it as another user") from exc
        say(f"not confined ({exc}): whatever this user may write to can be spoiled")


def say(text: str) -> None:
    """A line, at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


class Tally:
    """Counts by kind."""

    def __init__(self) -> None:
        self.cases: Counter[str] = Counter()
        self.codes: Counter[tuple[str, str]] = Counter()
        self.wrong: Counter[tuple[str, str]] = Counter()
        self.failed: Counter[str] = Counter()
        self.cpu_s: Counter[str] = Counter()

    def add(self, case: Case, verdict: Verdict) -> None:
        self.cases[case.kind] += 1
        self.cpu_s[case.kind] += round(verdict.cpu_s * 1000)
        last = verdict.codes[-1]
        self.codes[case.kind, str(last) if last in (0, 1, 2, 3) else "other"] += 1
        for column in verdict.wrong:
            self.wrong[case.kind, column] += 1
        self.failed[case.kind] += bool(verdict.wrong)

    def table(self) -> list[str]:
        kinds = [kind for kind in KINDS if self.cases[kind]]
        rows: list[list[str]] = [["", *kinds, "all"]]

        def row(name: str, numbers: list[int]) -> None:
            rows.append([name, *map(str, numbers), str(sum(numbers))])

        row("cases", [self.cases[kind] for kind in kinds])
        for code in ("0", "1", "2", "3", "other"):
            row(f"exit {code}", [self.codes[kind, code] for kind in kinds])
        for column in COLUMNS:
            row(column, [self.wrong[kind, column] for kind in kinds])
        row("cases failed", [self.failed[kind] for kind in kinds])
        row("ms a case", [self.cpu_s[kind] // self.cases[kind] for kind in kinds])
        rows[-1][-1] = str(sum(self.cpu_s.values()) // max(sum(self.cases.values()), 1))
        widths = [max(len(one[k]) for one in rows) for k in range(len(rows[0]))]
        return ["  ".join(word.rjust(width) for word, width in zip(one, widths, strict=True)) for one in rows]


def main(words: list[str] | None = None) -> int:
    """Run; the exit code says whether anything failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile.run", description="Attack the command.")
    parser.add_argument("--count", type=int, default=20000, help="so many cases (default 20000)")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--kind", action="append", choices=KINDS)
    parser.add_argument("--minutes", type=float, default=0.0, help="begin no further case after this time")
    parser.add_argument("--every", type=int, default=1, help="only each n-th crafted case, for a look in short time")
    parser.add_argument("--cpu", type=int, default=CPU_S, help="seconds of processor time after which a call hangs")
    parser.add_argument("--only", default="", help="one case, by its kind and name")
    some = parser.add_mutually_exclusive_group()
    some.add_argument("--mutated-only", action="store_true", help="leave out the crafted cases")
    some.add_argument("--crafted-only", action="store_true", help="leave out the mutated ones")
    call = parser.parse_args(words)
    kinds = tuple(call.kind or KINDS)
    if call.only:
        kinds = (call.only.partition("/")[0],)
    load()
    with tempfile.TemporaryDirectory(prefix="hostile-") as scratch:
        return apart(lambda: attack(call, kinds, Path(scratch)))


def attack(call: argparse.Namespace, kinds: tuple[str, ...], folder: Path) -> int:
    """Run the chosen cases, say what failed, and the counts."""
    signal.signal(signal.SIGTERM, interrupted)
    RESULTS.mkdir(parents=True, exist_ok=True)
    shut_out((folder, RESULTS))
    tally, told = Tally(), time.monotonic()
    until = told + (call.minutes * 60 if call.minutes else 1e9)
    is_with_book = bool(set(kinds) - {"mesh", "names"})
    start = make_start(folder, is_with_book=is_with_book) if is_with_book else projectcases.Start(folder)
    try:
        for case in all_cases(kinds, start, call.seed, 10**9 if call.only else call.count, call.every):
            if (call.only and f"{case.kind}/{case.name}" != call.only) or (
                call.mutated_only and not case.name.startswith("mutated ")
            ):
                continue
            if call.crafted_only and case.name.startswith("mutated "):
                break
            if time.monotonic() > until:
                say("stopped: the time is over")
                break
            verdict = judge(case, folder / "run", call.cpu)
            tally.add(case, verdict)
            if verdict.wrong:
                keep(case, verdict, folder / "run", call.seed)
                what = "; ".join(f"{column}: {text}" for column, text in sorted(verdict.wrong.items()))
                say(f"FAILED {case.kind}/{case.name}: {what.replace(str(folder), '')[:400]}")
            if call.only:
                say(verdict.said)
                break
            if time.monotonic() - told > 60:
                told = time.monotonic()
                say(f"... {sum(tally.cases.values())} cases, {sum(tally.failed.values())} failed; at {case.kind}")
    except KeyboardInterrupt:
        say("stopped")
    say("\n".join(tally.table()))
    failed = sum(tally.failed.values())
    (RESULTS / "counts.json").write_text(
        json.dumps({f"{kind} {name}": n for (kind, name), n in sorted(tally.wrong.items())})
    )
    say(f"{sum(tally.cases.values()) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
