"""Make the demo book: figure, survey, book. What is up to date is not made again."""

from __future__ import annotations

import contextlib
import hashlib
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

from assembler.cli import main as assembler

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "demo" / "out"
PROJECT = OUT / "project"
BOOK = PROJECT / "books" / "draft" / "build-book.pdf"


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


def make_figure() -> str:
    """Generate the parts unless they are there; returns the checksum of their generator."""
    source = digest((ROOT / "demo" / "figure").glob("*.py"))
    stamp = OUT / "figure.made-from"
    if not is_fresh(stamp, source, OUT / "truth.json", OUT / "parts"):
        print("Making the demo figure (a few minutes, once) ...", file=sys.stderr)
        shutil.rmtree(OUT, ignore_errors=True)
        OUT.mkdir(parents=True)
        subprocess.run([sys.executable, "-m", "demo.figure", str(OUT)], check=True, cwd=ROOT, stdout=sys.stderr)
        stamp.write_text(source)
    return source


def make_book(figure: str) -> int:
    """Survey the parts and write the book unless it is there; returns the exit code of the program."""
    program = [
        *(ROOT / "assembler").rglob("*.*"),
        *(ROOT / "templates").rglob("*.*"),
        ROOT / "demo/project/figure.toml",
    ]
    source = figure + digest(path for path in program if path.is_file() and path.suffix != ".pyc")
    stamp = OUT / "book.made-from"
    if is_fresh(stamp, source, BOOK):
        return 0
    PROJECT.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(ROOT / "demo" / "project" / "figure.toml", PROJECT / "figure.toml")
    for call in (["survey", str(OUT / "parts"), str(PROJECT)], ["book", str(PROJECT)]):
        # Only the path of the book goes to stdout.
        with contextlib.redirect_stdout(sys.stderr):
            code = assembler(call)
        if code > 1:
            return code
    stamp.write_text(source)
    return 0


def main() -> int:
    """Make everything; the last line on stdout is the path of the PDF."""
    code = make_book(make_figure())
    if code == 0:
        print(BOOK)
    return code


if __name__ == "__main__":
    sys.exit(main())
