"""One book of the sample, set once for all tests that read it back."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path

import pypdf
import pytest

from assembler.cache import Cache
from assembler.figure.plan import Plan
from assembler.publishing.book import BookFiles, Press, compose, whole_html, write_book
from assembler.publishing.pages import Book
from assembler.publishing.pieces import Pieces, Printed
from assembler.publishing.source import Earlier, Source
from assembler.publishing.words import Words, load_words
from assembler.publishing.workdays import shifts_of
from tests.publishing import sample


@dataclass(frozen=True)
class Written:
    """A book that was written, and read back."""

    kept: Cache
    files: BookFiles
    reader: pypdf.PdfReader
    texts: tuple[str, ...]


FACE = '<svg xmlns="http://www.w3.org/2000/svg" role="img" width="40mm" height="20mm"><title>A face.</title></svg>'


def source_of(folder: Path, sheet: str = "A4") -> Source:
    """What the sample's pages are composed from."""
    settings = replace(sample.SETTINGS, sheet=sheet)
    return Source(
        plan=sample.PLAN,
        settings=settings,
        pictures=sample.draw_pictures(folder),
        stacks=sample.STACKS,
        bondings=sample.BONDINGS,
        buy=sample.BUY,
        hardware=sample.HARDWARE,
        worksheets=sample.WORKSHEETS,
        temperatures=sample.TEMPERATURES,
        skin_mm2=sample.SKIN_MM2,
        exposure=sample.EXPOSURE,
        words=load_words(),
        faces={one.id: FACE for one in sample.JOINTS},
        is_draft=True,
        shifts=shifts_of(sample.PLAN),
    )


def write_sample(
    folder: Path,
    *,
    sheet: str = "A4",
    overrides: Path | None = None,
    kept: Cache | None = None,
    executor: Executor | None = None,
    plan: Plan = sample.SHORT,
    only: tuple[str, ...] = ("crew",),
    earlier: Earlier | None = None,
) -> BookFiles:
    """The sample book, five steps of it."""
    source = replace(
        source_of(folder, sheet),
        plan=plan,
        words=load_words(overrides),
        shifts=shifts_of(plan),
        overrides=overrides,
    )
    return write_book(source, folder, earlier=earlier, press=Press(kept=kept, executor=executor, only=only))


def book_html(book: Book, words: Words) -> str:
    """The bodies of all pieces in one document."""
    pieces = Pieces(book, words)
    bodies = [pieces.html(piece, ("1",), {}).split("<body>")[1].split("</body>")[0] for piece in pieces.listed()]
    return f"<html lang='en'><body>{''.join(bodies)}</body></html>"


def documents_html(source: Source) -> str:
    """The bodies of all four documents in one."""
    book = compose(source)
    printed = Printed(Path("nowhere"), {}, source.plan.revision)
    htmls = [whole_html(name, source, book, Earlier(), printed) for name in ("engineer", "shop", "cards")]
    bodies = [html.split("<body", 1)[1].split(">", 1)[1].split("</body>")[0] for html in htmls]
    return book_html(book, source.words).replace("</body>", f"{''.join(bodies)}</body>")


@pytest.fixture(scope="session")
def source(tmp_path_factory: pytest.TempPathFactory) -> Source:
    """What the sample's pages are composed from."""
    return source_of(tmp_path_factory.mktemp("pictures"))


@pytest.fixture(scope="session")
def book(source: Source) -> Book:
    """The sample's pages as data."""
    return compose(source)


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """The sample's PDF."""
    kept = Cache()
    files = write_sample(tmp_path_factory.mktemp("book"), kept=kept)
    return read_back(files, "crew", kept)


@pytest.fixture(scope="session")
def all_written(written: Written, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Written]:
    """The sample's four documents by name."""
    names = ("engineer", "shop", "cards")
    files = write_sample(tmp_path_factory.mktemp("beside"), only=names)
    return {"crew": written, **{name: read_back(files, name, Cache()) for name in names}}


def read_back(files: BookFiles, name: str, kept: Cache) -> Written:
    """A document that was written, as a reader of PDF finds it."""
    reader = pypdf.PdfReader(files.documents[name].pdf)
    return Written(kept=kept, files=files, reader=reader, texts=tuple(page.extract_text() for page in reader.pages))
