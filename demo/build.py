"""Make the demo book: figure, survey, book; with 'B' also its re-cut. What is up to date is not made again."""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from assembler.cli import main as assembler
from demo.figure.recut import PART, split_part

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "demo" / "out"
PROJECT = OUT / "project"
DECK = "P13"
"""The timber base, see demo/project/figure.toml."""
RING = ({"P25", "P23"}, {"P24", "P22"})
"""Pairs of parts at the ring below the chest: bolted only, so that the figure travels in two sections."""
HATCH = {"P03", "P24"}
"""The panel in the back: it is bonded in on site, for through its opening the ring is bolted."""
BOOK = PROJECT / "books" / "draft" / "crew-book.pdf"
INSTALL = BOOK.with_name("install-book.pdf")
RECUT = OUT / "recut"
"""A copy of the project in which revision A is issued, a part is cut again, and revision B is issued."""
SHEET = RECUT / "books" / "B" / "change-sheet.pdf"


def digest(files: Iterable[Path]) -> str:
    """Checksum over names and contents of files."""
    total = hashlib.sha256()
    for path in sorted(files):
        total.update(str(path.relative_to(ROOT)).encode())
        total.update(path.read_bytes())
    return total.hexdigest()


def is_fresh(stamp: Path, wanted: str, *products: Path) -> bool:
    """Whether everything was made from what is there now."""
    return stamp.exists() and stamp.read_text() == wanted and all(path.exists() for path in products)


@contextlib.contextmanager
def alone() -> Iterator[None]:
    """Wait until no other process makes anything in the demo's folder, such as tests that run side by side."""
    with OUT.with_name(f"{OUT.name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def make_figure() -> str:
    """
    Generate the parts unless they are there; returns the checksum of their generator.

    To be called `alone`: what is out of date is deleted first.
    """
    source = digest((ROOT / "demo" / "figure").glob("*.py"))
    stamp = OUT / "figure.made-from"
    if not is_fresh(stamp, source, OUT / "truth.json", OUT / "parts"):
        print("Making the demo figure (a few minutes, once) ...", file=sys.stderr)
        if OUT.exists():
            shutil.rmtree(OUT)
        OUT.mkdir(parents=True)
        subprocess.run([sys.executable, "-m", "demo.figure", str(OUT)], check=True, cwd=ROOT, stdout=sys.stderr)
        stamp.write_text(source)
    return source


def call(*words: str) -> int:
    """Run one command of the program; only the path of the book goes to stdout. Returns its exit code."""
    with contextlib.redirect_stdout(sys.stderr):
        return assembler(words)


def decide(joints: Path) -> None:
    """State by hand what meshes cannot tell, as the shop would: what is bolted without glue, what is closed on site."""
    tables = joints.read_text(encoding="utf-8").split("[[joint]]")
    joints.write_text("[[joint]]".join([tables[0], *(decided(table) for table in tables[1:])]), encoding="utf-8")


def decided(table: str) -> str:
    """One joint of joints.toml with what the shop decides: deck and ring are bolted, the hatch is closed on site."""
    names = table.splitlines()[2]
    pair = set(re.findall(r"P\d+", names))
    if DECK in pair or pair in RING:
        reason = "comes off its deck again" if DECK in pair else "opened for the way to the site"
        return table.replace('method = "bolted and bonded"', f'method = "bolted"            # decided: {reason}')
    if pair == HATCH:
        return table.replace('made = "shop"', 'made = "site"                # decided: through it the ring is bolted')
    return table


def program() -> str:
    """Checksum of what makes a book: the program, its templates, the demo's decisions."""
    files = [
        *(ROOT / "assembler").rglob("*.*"),
        *(ROOT / "templates").rglob("*.*"),
        ROOT / "demo/project/figure.toml",
    ]
    return digest(path for path in files if path.is_file() and path.suffix != ".pyc")


def make_book(figure: str) -> int:
    """Survey the parts and write the book unless it is there; returns the exit code of the program."""
    source = figure + program()
    stamp = OUT / "book.made-from"
    if is_fresh(stamp, source, BOOK):
        return 0
    PROJECT.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(ROOT / "demo" / "project" / "figure.toml", PROJECT / "figure.toml")
    code = call("survey", str(OUT / "parts"), str(PROJECT))
    if code <= 1:
        decide(PROJECT / "joints.toml")
        code = call("book", str(PROJECT))
    if code > 1:
        return code
    stamp.write_text(source)
    return 0


def make_recut(figure: str) -> int:
    """Issue revision A, cut the middle of the tail in two, issue revision B; returns the exit code of the program."""
    source = figure + program() + digest([ROOT / "demo/figure/recut.py"])
    stamp = OUT / "recut.made-from"
    if is_fresh(stamp, source, SHEET):
        return 0
    shutil.rmtree(RECUT, ignore_errors=True)
    shutil.copytree(PROJECT, RECUT, ignore=shutil.ignore_patterns("books"))
    code = call("book", str(RECUT), "--issue")
    if code > 1:
        return code
    cut_again(RECUT / "parts")
    state_revision(RECUT / "figure.toml", "A", "B")
    for words in (("recut", str(RECUT), "--since", str(RECUT / "books" / "A")), ("book", str(RECUT), "--issue")):
        code = call(*words)
        if code > 1:
            return code
    stamp.write_text(source)
    return 0


def cut_again(parts: Path) -> None:
    """Replace the middle of the tail by two pieces."""
    split_part(parts / f"{PART}.stl", parts)
    (parts / f"{PART}.stl").unlink()


def state_revision(figure_toml: Path, old: str, new: str) -> None:
    """Set the revision, as the shop does before it issues the next book."""
    text = figure_toml.read_text(encoding="utf-8")
    stated = text.replace(f'revision = "{old}"', f'revision = "{new}"')
    if stated == text:
        raise ValueError(f'{figure_toml}: no line revision = "{old}"')
    figure_toml.write_text(stated, encoding="utf-8")


def main(words: list[str]) -> int:
    """Make everything; the last line on stdout is the path of the PDF (of the change sheet, where B was asked for)."""
    if words not in ([], ["B"]):
        print("usage: sh demo/run [B]", file=sys.stderr)
        return 2
    with alone():
        figure = make_figure()
        code = make_book(figure)
        if code == 0 and words:
            code = make_recut(figure)
    if code == 0:
        print(f"For the crew on site: {INSTALL}", file=sys.stderr)
        print(SHEET if words else BOOK)
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
