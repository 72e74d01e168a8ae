"""The build book: composes the pages, fills the templates, sets the pieces and binds them. Start reading here."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from assembler.assistants import Assistants
from assembler.engineering.curing import TemperatureRow
from assembler.engineering.worksheet import WorksheetRow
from assembler.figure.exposure import ExposureRow
from assembler.figure.hardware import Bonding, BuyLine, HardwareLine, Stack
from assembler.figure.ids import JointId, PartId, StepNumber
from assembler.figure.pictures import Picture, Pictures
from assembler.figure.plan import Plan
from assembler.figure.printed import PrintedPiece
from assembler.figure.settings import Logo, Settings
from assembler.figure.shelf import Shelf
from assembler.projectfiles.bookfolder import PDF
from assembler.publishing.appendixpages import appendix_page
from assembler.publishing.binding import Binder, Leaves
from assembler.publishing.changepages import change_page
from assembler.publishing.daypages import days_page
from assembler.publishing.endpages import base_page, finish_page
from assembler.publishing.frontpages import before_page, cover_page, finding_rows
from assembler.publishing.hardwarepages import hardware_page
from assembler.publishing.pages import Book, ContentsLine
from assembler.publishing.partpages import parts_page
from assembler.publishing.pdf import SetPages, Typesetter, save_pdf
from assembler.publishing.pieces import BAGS, PARTS, SHEETS, TOLD_LAST, Piece, Pieces, first_of_runs
from assembler.publishing.printed import Printed
from assembler.publishing.sheets import sheet_size
from assembler.publishing.source import Source, step_anchor
from assembler.publishing.steplayout import laid_out, left_over
from assembler.publishing.steppages import step_pages
from assembler.publishing.words import Words, load_words
from assembler.publishing.workdays import shifts_of
from assembler.recut.changes import Changes
from assembler.recut.marks import StepMark

APART = {
    "parts": (("order", "order.title"),),
    "appendix": (("log", "appendix.log"), ("force", "appendix.effective")),
}
"""Pieces of a section that count pages of their own, with the words over them."""
RUNS = {
    "parts": (PARTS, "parts.list"),
    "hardware": (BAGS, "hardware.bags"),
    "appendix": (SHEETS, "appendix.sheets"),
}
"""Pieces of a section of which there are many, by what their names begin with: one line in the contents."""
SECTIONS = ("before", "findings", "parts", "hardware", "days", "steps", "finish", "base", "appendix")


@dataclass(frozen=True, slots=True, kw_only=True)
class BookFiles:
    """What was written.

    Parameters
    ----------
    pdf
        The book.
    pages
        Its number of pages.
    complaints
        What the typesetter had to say, for the log; empty when all went well.
    misfits
        Text that runs out of its page or cell, or was not set at all; empty when all went well.
    printed
        What is on the pages of each piece that is no step, by its name.
    """

    pdf: Path
    pages: int
    complaints: tuple[str, ...]
    misfits: tuple[str, ...]
    printed: Mapping[str, PrintedPiece]


def write_book(
    *,
    plan: Plan,
    settings: Settings,
    pictures: Pictures,
    stacks: Sequence[Stack],
    bondings: Sequence[Bonding],
    buy: Sequence[BuyLine],
    hardware: Sequence[HardwareLine],
    worksheets: Mapping[JointId, Sequence[WorksheetRow]],
    five_temperatures: Sequence[TemperatureRow],
    skin_mm2: float,
    exposure: Sequence[ExposureRow] = (),
    is_draft: bool,
    out_dir: Path,
    overrides: Path | None = None,
    changes: Changes | None = None,
    marks: Mapping[StepNumber, StepMark] | None = None,
    was: Mapping[PartId, Picture] | None = None,
    before: Mapping[str, PrintedPiece] | None = None,
    shelf: Shelf | None = None,
    assistants: Assistants | None = None,
    progress: Callable[[str], None] | None = None,
) -> BookFiles:
    """The build book as `build-book.pdf` in a folder that holds its pictures.

    Parameters
    ----------
    plan, settings, stacks, bondings
        The plan, and what it was made from.
    pictures
        Their files lie in `out_dir`.
    buy, hardware
        Buying list, and the pieces of each joint.
    worksheets
        Rows of calculation by joint.
    five_temperatures
        Times of the adhesive, one row a temperature.
    skin_mm2
        Outer skin of the printed parts: what is primed and coated.
    exposure
        What wind and people do to the finished figure.
    is_draft
        Marks every page.
    out_dir
        Folder that exists; an earlier book in it is replaced.
    overrides
        Folder beside the project whose templates and words win over the built-in ones.
    changes
        What differs from an earlier issue: the book opens with it; None for a first book.
    marks
        By step: how its pages differ from those of an earlier issue.
    was
        Small pictures of parts as they were; their files lie in `out_dir`.
    before
        What the last issue printed: pages that read the same keep their revision.
    shelf
        Asked for pages that were set before.
    assistants
        Other processes that set pages too; None: this one sets all.
    progress
        Told what is being done.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken; names file and line.
    BookFolderError
        If a picture is missing, or the PDF cannot be written.
    """
    tell = progress or _silent
    words = load_words(overrides)
    source = Source(
        plan=plan,
        settings=settings,
        pictures=pictures,
        stacks=stacks,
        bondings=bondings,
        buy=buy,
        hardware=hardware,
        worksheets=worksheets,
        temperatures=five_temperatures,
        skin_mm2=skin_mm2,
        exposure=exposure,
        words=words,
        is_draft=is_draft,
        shifts=shifts_of(plan, settings.crew),
        marks=marks or {},
        revisions={page.number: page.revision for page in changes.effective_pages} if changes else {},
    )
    tell(words("progress.composing"))
    sheet = change_page(changes, words, was=was, now=pictures.thumbnails, is_in_book=True) if changes else None
    book = compose(source, has_changes=sheet is not None)
    unlaid = Pieces(book, words, overrides)
    typesetter = Typesetter(out_dir, style=unlaid.style(), anchors=_anchors(book, words), shelf=shelf, is_piece=True)
    # Heads and feet have no part in the heights, so a draft and an issue share them.
    ruler = Typesetter(out_dir, style=unlaid.style(is_marked=False), shelf=shelf)
    heights: dict[str, float] = {}
    measured = [unlaid.measured(step) for step in book.steps]
    # What is done ahead is handed over on the shelf.
    others = assistants if assistants is not None and shelf is not None else Assistants(0)
    with others.ahead(ruler.measure_ahead, measured):
        for html in measured:
            heights |= ruler.heights(html)
    book = laid_out(book, heights, sheet_size(book.sheet))
    tell(words("progress.setting"))
    by_name: dict[str, SetPages] = {}
    leaves: dict[str, Leaves] = {}
    first = book.steps[0].anchor if book.steps else ""

    def pages_of(piece: Piece, html: str) -> int:
        by_name[piece.name] = typesetter.pages(html)
        leaves.pop(piece.name, None)
        return by_name[piece.name].pages

    def leaves_of(piece: Piece) -> Leaves:
        if piece.name not in leaves:
            leaves[piece.name] = _leaves(piece, by_name[piece.name], words, first)
        return leaves[piece.name]

    def before_last(pieces: Sequence[Piece], htmls: Sequence[str]) -> None:
        # What comes last is set elsewhere, on the shelf, while the rest is bound here.
        with others.beside(typesetter.set_all, htmls if others.count else ()) as are_set:
            binder.begin([leaves_of(piece) for piece in pieces if piece.name not in TOLD_LAST])
            are_set()

    printed = Printed(out_dir, before or {}, plan.revision)
    # Most books have as many pages a piece as the last one: what tells these numbers is then set once.
    last = hashlib.sha256(b"pages of each piece").hexdigest()
    expected = shelf.value(last) if shelf else None
    pieces = Pieces(book, words, overrides, changes=sheet, printed=printed)
    with Binder(out_dir) as binder:
        with others.ahead(typesetter.set_ahead, pieces.foreseen(expected) if others.count else ()):
            order = pieces.each(pages_of, expected, before_last)
        save_pdf(binder.bound([leaves_of(piece) for piece in order]), out_dir / PDF)
    if shelf:
        shelf.renew_value(last, {piece.name: by_name[piece.name].pages for piece in order})
    results = [(piece, by_name[piece.name]) for piece in order]
    files = BookFiles(
        printed=printed.now,
        pdf=out_dir / PDF,
        pages=sum(result.pages for _, result in results),
        complaints=tuple(line for _, result in results for line in result.complaints),
        misfits=tuple(f"{piece.label}, {line}" for piece, result in results for line in result.misfits),
    )
    for line in (*files.complaints, *files.misfits):
        tell(words("progress.complaint", line=line))
    return files


def _leaves(piece: Piece, result: SetPages, words: Words, first_step: str) -> Leaves:
    return Leaves(
        content=result.content,
        bookmarks=result.bookmarks,
        label=f"{piece.label}{words('page.between')}" if piece.is_numbered else piece.label,
        is_numbered=piece.is_numbered,
        chapter=(words("section.steps"), "part-steps") if piece.name == first_step else None,
    )


def _silent(_: str) -> None:
    """Takes the place of a progress line nobody wants."""


def compose(source: Source, *, has_changes: bool = False) -> Book:
    """Every page as data; the change sheet, which only stands in the contents, apart."""
    words, plan, settings = source.words, source.plan, source.settings
    finish = finish_page(source)
    steps = step_pages(source)
    parts, hardware = parts_page(source), hardware_page(source)
    appendix = appendix_page(source, left_over(steps))
    first = first_of_runs(parts.rows, hardware.bags, appendix.sheets)
    contents = _contents(words, plan, first, has_finish=finish is not None, has_changes=has_changes)
    return Book(
        figure=plan.figure_name,
        client=settings.client,
        shop=settings.shop_name,
        logo=_logo_address(settings.logo),
        revision=plan.revision,
        mark=words("book.draft") if source.is_draft else "",
        date=settings.date,
        language=words("book.language"),
        sheet=settings.sheet,
        contents=contents,
        numbers={line.anchor.removeprefix("part-"): line.number for line in contents if line.level == 1},
        cover=cover_page(source),
        before=before_page(source),
        findings=finding_rows(source),
        parts=parts,
        hardware=hardware,
        days=days_page(source),
        steps=steps,
        finish=finish,
        base=base_page(source),
        appendix=appendix,
    )


def _logo_address(logo: Logo | None) -> str:
    return f"data:{logo.media_type};base64,{base64.b64encode(logo.data).decode()}" if logo else ""


def _anchors(book: Book, words: Words) -> dict[str, str]:
    """Where each link leads, in words."""
    close_ups = {f"close-{step.number}": words("link.close_ups", number=step.number) for step in book.steps}
    lines = {
        line.anchor: words("link.section" if line.level == 1 else "link.step", number=line.number, title=line.title)
        if line.number
        else line.title
        for line in book.contents
    }
    return {**lines, **close_ups, "temperatures": words("hardware.temperatures")}


def _contents(
    words: Words, plan: Plan, first: Mapping[str, str], *, has_finish: bool, has_changes: bool
) -> tuple[ContentsLine, ...]:
    # Without a number, so that a second issue does not renumber the sections of the first.
    title = words("changes.section")
    lines = [ContentsLine(anchor="part-changes", number="", title=title, level=1, piece="changes")] * has_changes
    number = 0
    for name in SECTIONS:
        if (name == "finish" and not has_finish) or (name == "steps" and not plan.steps):
            continue
        number += 1
        if name != "steps":
            anchor, title = f"part-{name}", words(f"section.{name}")
            lines.append(ContentsLine(anchor=anchor, number=str(number), title=title, level=1, piece=name))
            if name in RUNS and RUNS[name][0] in first:
                run, heading = RUNS[name]
                lines.append(ContentsLine(anchor=first[run], number="", title=words(heading), level=2, piece=run))
            lines += [
                ContentsLine(anchor=f"part-{apart}", number="", title=words(heading), level=2, piece=apart)
                for apart, heading in APART.get(name, ())
                if apart != "order" or plan.steps
            ]
            continue
        lines.append(ContentsLine(anchor="part-steps", number=str(number), title=words("section.steps"), level=1))
        for step in plan.steps:
            anchor = step_anchor(step.number)
            lines.append(ContentsLine(anchor=anchor, number=step.number, title=step.title, level=2, piece=anchor))
    return tuple(lines)
