"""The documents and what lies beside them: composes the pages, fills the templates, sets and binds.

Start reading here. The crew book is set in pieces and bound: its pages stay in a binder when the next issue comes. The
engineer's file, the shop file, the pocket cards and the install book are each one document that is exchanged whole.
Beside them lie the plan, the hardware lists and the change sheet alone.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from pathlib import Path

from assembler.cache import Cache
from assembler.errors import Fault, InputError
from assembler.figure.printed import PrintedPiece
from assembler.figure.settings import Logo
from assembler.projectfiles.bookfolder import PDF
from assembler.projectfiles.planfile import plan_json
from assembler.projectfiles.writing import write_whole
from assembler.publishing.binding import Leaves, bound
from assembler.publishing.cards import pocket_cards
from assembler.publishing.changepages import change_page
from assembler.publishing.changesheet import write_change_sheet
from assembler.publishing.days import days_page
from assembler.publishing.endpages import base_page, finish_page, log_rows
from assembler.publishing.engineer import HEADS, engineers_file
from assembler.publishing.frontpages import before_page, bonding_page, cover_page, parts_page
from assembler.publishing.install import install_book, packing_rows
from assembler.publishing.pages import Book, ContentsLine
from assembler.publishing.pdf import SetPages, Typesetter, measure_all, save_pdf, set_all
from assembler.publishing.pieces import (
    END,
    FRONT,
    Piece,
    Pieces,
    Printed,
    has_section,
    kept_layout,
    page_style,
    page_templates,
)
from assembler.publishing.sheets import sheet_size
from assembler.publishing.shop import bag_labels, dated, part_labels, shop_file
from assembler.publishing.source import Earlier, Source
from assembler.publishing.steplayout import laid_out
from assembler.publishing.steppages import step_pages
from assembler.publishing.supplies import supply_rows
from assembler.publishing.tables import hardware_csv, hardware_xlsx
from assembler.words import Words

DOCUMENTS: Mapping[str, str] = {
    "crew": PDF,
    "engineer": "engineers-file.pdf",
    "shop": "shop-file.pdf",
    "cards": "pocket-cards.pdf",
    "install": "install-book.pdf",
}
"""Files by what `--only` calls them; the install book only where the figure travels in crates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """One PDF that was written, with its pages."""

    pdf: Path
    pages: int

    @property
    def size_bytes(self) -> int:
        """Of the file."""
        return self.pdf.stat().st_size


@dataclass(frozen=True, slots=True, kw_only=True)
class BookFiles:
    """What was written.

    Parameters
    ----------
    documents
        By name, see `DOCUMENTS`.
    complaints
        What the typesetter had to say, for the log; empty when all went well.
    misfits
        Text that runs out of its page or cell or was not set at all, close-ups without room; empty when all went well.
    printed
        What is on the pages of each piece, and on each label, by its name.
    """

    documents: Mapping[str, Document]
    complaints: tuple[str, ...] = ()
    misfits: tuple[str, ...] = ()
    printed: Mapping[str, PrintedPiece] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """How documents are set.

    Parameters
    ----------
    kept
        Asked for pages that were set before.
    executor
        Workers that set pages; None: this process sets all.
    progress
        Told what is being done.
    only
        Documents to write, see `DOCUMENTS`; empty: all.
    """

    kept: Cache | None = None
    executor: Executor | None = None
    progress: Callable[[str], None] = lambda _: None
    only: tuple[str, ...] = ()


def write_book(
    source: Source, out_dir: Path, *, earlier: Earlier | None = None, press: Press | None = None
) -> BookFiles:
    """The documents, plan.json, hardware.csv, hardware.xlsx, and change-sheet.pdf after an earlier issue.

    Parameters
    ----------
    source
        What the pages are composed from.
    out_dir
        Folder that exists and holds the pictures; what an earlier call wrote is replaced.
    earlier
        What the book says of the issue before it.
    press
        How, and which documents; None: all of them, in this process.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken; names file and line.
    BookFolderError
        If a picture is missing, or a file cannot be written.
    """
    earlier, press, words = earlier or Earlier(), press or Press(), source.words
    press.progress(words("progress.composing"))
    printed = Printed(out_dir, earlier.printed, source.plan.revision)
    book = _laid_out(source, out_dir, earlier, press)
    press.progress(words("progress.setting"))
    files = []
    for name in press.only or documents_of(source):
        if name == "crew":
            files.append(_write_crew(source, book, out_dir, earlier, press, printed))
        else:
            html = whole_html(name, source, book, earlier, printed)
            files.append(_write_whole(name, html, source, book, out_dir, press))
    write_besides(source, out_dir, earlier)
    whole = BookFiles(
        documents={name: document for one in files for name, document in one.documents.items()},
        complaints=tuple(line for one in files for line in one.complaints),
        misfits=tuple(line for one in files for line in one.misfits),
        printed=printed.now,
    )
    for line in (*whole.complaints, *whole.misfits):
        press.progress(words("progress.complaint", line=line))
    return whole


def documents_of(source: Source) -> tuple[str, ...]:
    """Documents that a book has: without a way to the site nothing is said of it."""
    return tuple(name for name in DOCUMENTS if name != "install" or source.consignment is not None)


def _laid_out(source: Source, out_dir: Path, earlier: Earlier, press: Press) -> Book:
    """The crew book with the layout of its steps."""
    book = compose(source, has_changes=earlier.changes is not None)
    unlaid = Pieces(book, source.words, source.overrides)
    # Heads and feet have no part in the heights, so a draft and an issue share them.
    ruler = Typesetter(base=out_dir, style=unlaid.style(is_marked=False))
    heights = measure_all(ruler, [unlaid.measured(step) for step in book.steps], press.kept, press.executor)
    kept = kept_layout(earlier.printed, [step.number for step in book.steps])
    return laid_out(book, heights, sheet_size(book.sheet), kept)


def _write_crew(
    source: Source, book: Book, out_dir: Path, earlier: Earlier, press: Press, printed: Printed
) -> BookFiles:
    words, sheet = source.words, None
    if earlier.changes is not None:
        now = source.pictures.thumbnails
        sheet = change_page(earlier.changes, words, was=earlier.was, now=now, is_in_book=True)
    pieces = Pieces(book, words, source.overrides, changes=sheet, printed=printed)
    typesetter = Typesetter(base=out_dir, style=pieces.style(), anchors=_anchors(book, words), is_piece=True)
    order = pieces.each(lambda some: set_all(typesetter, [html for _, html in some], press.kept, press.executor))
    first = book.steps[0].anchor if book.steps else ""
    leaves = [_leaves(piece, result, numbers, words, first) for piece, result, numbers in order]
    save_pdf(bound(leaves, out_dir, is_spread=True), out_dir / DOCUMENTS["crew"])
    without_room = [
        words("progress.no_room", count=step.layout.dropped, step=step.number)
        for step in book.steps
        if step.layout.dropped
    ]
    misfits = [f"{piece.label}, {line}" for piece, result, _ in order for line in result.misfits]
    misfits += [words("progress.runs_on", what=piece.label) for piece, result, _ in order if _runs_on(piece, result)]
    return BookFiles(
        documents={
            "crew": Document(pdf=out_dir / DOCUMENTS["crew"], pages=sum(result.pages for _, result, _ in order))
        },
        complaints=tuple(line for _, result, _ in order for line in result.complaints),
        misfits=(*misfits, *without_room),
    )


def _leaves(piece: Piece, result: SetPages, numbers: tuple[str, ...], words: Words, first_step: str) -> Leaves:
    return Leaves(
        content=result.content,
        bookmarks=result.bookmarks,
        labels=numbers,
        chapter=(words("section.steps"), "part-steps") if piece.name == first_step else None,
    )


def _runs_on(piece: Piece, result: SetPages) -> bool:
    """Whether a step takes more pages than it was laid out for."""
    return piece.step is not None and result.pages > (1 if piece.step.layout.is_short else 2)


def whole_html(name: str, source: Source, book: Book, earlier: Earlier, printed: Printed) -> str:
    """The HTML of a document that is set in one go and exchanged whole.

    Parameters
    ----------
    name
        'engineer', 'shop', 'cards' or 'install'.
    source, book, earlier
        What it is composed from.
    printed
        Knows the labels of the book before, and is told those of this one.
    """
    words = source.words
    values: dict[str, object] = {}
    if name == "engineer":
        values = {"file": engineers_file(source), "heads": HEADS}
    elif name == "shop":
        again = {row.about for row in earlier.changes.labels if row.action == "make"} if earlier.changes else set()
        labels = (*part_labels(source), *bag_labels(source))
        values = {"file": shop_file(source, dated(labels, printed, again, source.plan.figure_name, words))}
    elif name == "install":
        if source.consignment is None:
            right = "state [[passage]], [vehicle], [[section]] or envelopes.section_max_kg"
            wrong = "it says nothing of the way to the site, so there is no install book"
            raise InputError(Fault(file="figure.toml", place="", wrong=wrong, right=right))
        values = {"file": install_book(source, book.steps, source.consignment)}
    else:
        values = {"sheets": pocket_cards(book.steps, words)}
    return page_templates(words, source.overrides).filled(
        "document.html",
        kind=name,
        template=f"{name}.html",
        title=words(f"document.{name}.title"),
        book=book,
        sheet=sheet_size(book.sheet),
        **values,
    )


def _write_whole(name: str, html: str, source: Source, book: Book, out_dir: Path, press: Press) -> BookFiles:
    style = page_style(page_templates(source.words, source.overrides), book.sheet, book.mark, book.date)
    (result,) = set_all(Typesetter(base=out_dir, style=style), [html], press.kept, press.executor)
    pdf = out_dir / DOCUMENTS[name]
    save_pdf(bound([Leaves(content=result.content, bookmarks=result.bookmarks, labels=())], out_dir), pdf)
    return BookFiles(
        documents={name: Document(pdf=pdf, pages=result.pages)},
        complaints=result.complaints,
        misfits=tuple(f"{DOCUMENTS[name]}, {line}" for line in result.misfits),
    )


def compose(source: Source, *, has_changes: bool = False) -> Book:
    """Every page of the crew book as data; the change sheet, which only stands in the contents, apart."""
    words, plan, settings = source.words, source.plan, source.settings
    book = Book(
        figure=plan.figure_name,
        client=settings.client,
        shop=settings.shop_name,
        logo=_logo_address(settings.logo),
        revision=plan.revision,
        mark=words("book.draft") if source.is_draft else "",
        date=settings.date,
        language=words("book.language"),
        sheet=settings.sheet,
        contents=(),
        cover=cover_page(source),
        before=before_page(source),
        bonding=bonding_page(source),
        parts=parts_page(source),
        days=days_page(source),
        steps=step_pages(source),
        finish=finish_page(source),
        base=base_page(source),
        log=log_rows(source),
    )
    return replace(book, contents=tuple(_contents(book, words, has_changes=has_changes)))


def _logo_address(logo: Logo | None) -> str:
    return f"data:{logo.media_type};base64,{base64.b64encode(logo.data).decode()}" if logo else ""


def _contents(book: Book, words: Words, *, has_changes: bool) -> Iterator[ContentsLine]:
    names = (*(["changes"] if has_changes else []), *(name for name in FRONT if has_section(book, name)))
    for name in names:
        yield _line(name, words)
    for step in book.steps:
        yield ContentsLine(anchor=step.anchor, number=step.number, title=step.title, level=2, piece=step.anchor)
    for name in END:
        if has_section(book, name):
            yield _line(name, words)


def _line(name: str, words: Words) -> ContentsLine:
    return ContentsLine(anchor=f"part-{name}", number="", title=words(f"section.{name}"), level=1, piece=name)


def _anchors(book: Book, words: Words) -> dict[str, str]:
    """Where each link leads, in words."""
    return {
        line.anchor: words("link.step", number=line.number, title=line.title) if line.number else line.title
        for line in book.contents
    }


def write_besides(source: Source, out_dir: Path, earlier: Earlier) -> None:
    """Write plan.json, hardware.csv, hardware.xlsx and, after an earlier issue, change-sheet.pdf."""
    rows = supply_rows(source)
    write_whole(out_dir / "plan.json", plan_json(source.plan))
    write_whole(out_dir / "hardware.csv", hardware_csv(rows))
    write_whole(out_dir / "hardware.xlsx", hardware_xlsx(rows, source.words, packing_rows(source)))
    if earlier.changes is not None:
        write_change_sheet(
            earlier.changes,
            source.settings,
            out_dir,
            was=earlier.was,
            now=source.pictures.thumbnails,
            is_draft=source.is_draft,
            overrides=source.overrides,
        )
