"""The build book and what lies beside it: composes the pages, fills the templates, sets the pieces and binds them.

Start reading here. Beside the book lie the plan, the hardware lists, the labels and the change sheet alone.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

from assembler.cache import Cache
from assembler.figure.plan import Plan
from assembler.figure.printed import PrintedPiece
from assembler.figure.settings import Logo
from assembler.projectfiles.bookfolder import PDF
from assembler.projectfiles.planfile import plan_json
from assembler.projectfiles.writing import write_whole
from assembler.publishing.appendixpages import appendix_page
from assembler.publishing.binding import Leaves, bound
from assembler.publishing.changepages import change_page
from assembler.publishing.changesheet import write_change_sheet
from assembler.publishing.days import days_page
from assembler.publishing.endpages import base_page, finish_page
from assembler.publishing.frontpages import before_page, cover_page, finding_rows, parts_page
from assembler.publishing.hardwarepages import hardware_page
from assembler.publishing.labels import write_labels
from assembler.publishing.pages import Book, ContentsLine
from assembler.publishing.pdf import SetPages, Typesetter, measure_all, save_pdf, set_all
from assembler.publishing.pieces import BAGS, PARTS, SHEETS, Piece, Pieces, first_of_runs
from assembler.publishing.printed import Printed
from assembler.publishing.sheets import sheet_size
from assembler.publishing.source import Earlier, Source, step_anchor
from assembler.publishing.spreadsheet import hardware_xlsx
from assembler.publishing.steplayout import laid_out, left_over
from assembler.publishing.steppages import step_pages
from assembler.publishing.tables import hardware_csv
from assembler.words import Words

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
    source: Source,
    out_dir: Path,
    *,
    earlier: Earlier | None = None,
    kept: Cache | None = None,
    executor: Executor | None = None,
    progress: Callable[[str], None] | None = None,
) -> BookFiles:
    """The build book as `build-book.pdf` in a folder that holds its pictures.

    Parameters
    ----------
    source
        What its pages are composed from.
    out_dir
        Folder that exists; an earlier book in it is replaced.
    earlier
        What it says of the issue before it.
    kept
        Asked for pages that were set before.
    executor
        Workers that set pages; None: this process sets all.
    progress
        Told what is being done.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken; names file and line.
    BookFolderError
        If a picture is missing, or the PDF cannot be written.
    """
    tell, words, earlier = progress or _silent, source.words, earlier or Earlier()
    tell(words("progress.composing"))
    sheet = None
    if earlier.changes is not None:
        now = source.pictures.thumbnails
        sheet = change_page(earlier.changes, words, was=earlier.was, now=now, is_in_book=True)
    book = compose(source, has_changes=sheet is not None)
    unlaid = Pieces(book, words, source.overrides)
    # Heads and feet have no part in the heights, so a draft and an issue share them.
    ruler = Typesetter(base=out_dir, style=unlaid.style(is_marked=False))
    heights = measure_all(ruler, [unlaid.measured(step) for step in book.steps], kept, executor)
    book = laid_out(book, heights, sheet_size(book.sheet))
    tell(words("progress.setting"))
    typesetter = Typesetter(base=out_dir, style=unlaid.style(), anchors=_anchors(book, words), is_piece=True)
    printed = Printed(out_dir, earlier.printed, source.plan.revision)
    pieces = Pieces(book, words, source.overrides, changes=sheet, printed=printed)
    order = pieces.each(lambda some: set_all(typesetter, [html for _, html in some], kept, executor))
    first = book.steps[0].anchor if book.steps else ""
    save_pdf(bound([_leaves(piece, result, words, first) for piece, result in order], out_dir), out_dir / PDF)
    files = BookFiles(
        printed=printed.now,
        pdf=out_dir / PDF,
        pages=sum(result.pages for _, result in order),
        complaints=tuple(line for _, result in order for line in result.complaints),
        misfits=tuple(f"{piece.label}, {line}" for piece, result in order for line in result.misfits),
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
            lines.append(
                ContentsLine(anchor=anchor, number=step.number, title=words.text(step.title), level=2, piece=anchor)
            )
    return tuple(lines)


def write_besides(
    source: Source, out_dir: Path, earlier: Earlier, kept: Cache | None = None, executor: Executor | None = None
) -> Mapping[str, PrintedPiece]:
    """Write plan.json, hardware.csv, hardware.xlsx, labels.pdf and, after an earlier issue, change-sheet.pdf.

    Parameters are those of `write_book`.

    Returns
    -------
    mapping
        What is on each label, by its name.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken; names file and line.
    BookFolderError
        If a picture is missing, or a file cannot be written.
    """
    write_whole(out_dir / "plan.json", plan_json(source.plan))
    write_whole(out_dir / "hardware.csv", hardware_csv(source.words, source.hardware, source.buy))
    write_whole(out_dir / "hardware.xlsx", hardware_xlsx(source.hardware, source.buy, source.words))
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
    return write_labels(source, out_dir, earlier, kept, executor)
