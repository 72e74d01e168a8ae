"""The build book: composes the pages, fills the templates, sets the PDF. Start reading here."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from assembler.engineering.curing import TemperatureRow
from assembler.engineering.worksheet import WorksheetRow
from assembler.figure.exposure import ExposureRow
from assembler.figure.hardware import Bonding, BuyLine, HardwareLine, Stack
from assembler.figure.ids import JointId, PartId, StepNumber
from assembler.figure.pictures import Picture, Pictures
from assembler.figure.plan import Plan
from assembler.figure.settings import Logo, Settings
from assembler.publishing.appendixpages import appendix_page
from assembler.publishing.changesheet import ChangePage, change_page
from assembler.publishing.daypages import days_page
from assembler.publishing.endpages import base_page, finish_page
from assembler.publishing.frontpages import before_page, cover_page, finding_rows
from assembler.publishing.hardwarepages import hardware_page
from assembler.publishing.pages import Book, ContentsLine, EffectivePages, StepPage
from assembler.publishing.partpages import parts_page
from assembler.publishing.pdf import measured_heights, write_pdf
from assembler.publishing.sheets import sheet_size
from assembler.publishing.source import Source, step_anchor
from assembler.publishing.steplayout import laid_out, left_over
from assembler.publishing.steppages import step_pages
from assembler.publishing.templating import Templates
from assembler.publishing.words import Words, load_words
from assembler.publishing.workdays import shifts_of
from assembler.recut.changes import Changes
from assembler.recut.marks import StepMark

PDF = "build-book.pdf"
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
    """

    pdf: Path
    pages: int
    complaints: tuple[str, ...]
    misfits: tuple[str, ...]


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
    book = laid_out(book, measured_heights(measure_html(book, words, overrides), base=out_dir), sheet_size(book.sheet))
    html = book_html(book, words, overrides, changes=sheet)
    tell(words("progress.setting"))
    result = write_pdf(
        html, out_dir / PDF, base=out_dir, cover=words("book.cover_label"), anchors=_anchors(book, words)
    )
    for line in (*result.complaints, *result.misfits):
        tell(words("progress.complaint", line=line))
    return BookFiles(pdf=out_dir / PDF, pages=result.pages, complaints=result.complaints, misfits=result.misfits)


def _silent(_: str) -> None:
    """Takes the place of a progress line nobody wants."""


def compose(source: Source, *, has_changes: bool = False) -> Book:
    """Every page as data; the change sheet, which only stands in the contents, apart."""
    words, plan, settings = source.words, source.plan, source.settings
    finish = finish_page(source)
    steps = step_pages(source)
    contents = _contents(words, plan, has_finish=finish is not None, has_changes=has_changes)
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
        parts=parts_page(source),
        hardware=hardware_page(source),
        days=days_page(source),
        steps=steps,
        finish=finish,
        base=base_page(source),
        appendix=appendix_page(source, _effective(source, contents, steps), left_over(steps)),
    )


def _effective(
    source: Source, contents: Sequence[ContentsLine], steps: Sequence[StepPage]
) -> tuple[EffectivePages, ...]:
    """Every page of the book but sheets for notes: cover and contents, each section, each step."""
    words, revision = source.words, source.plan.revision
    rows = [EffectivePages(what=words("effective.front"), start="part-cover", end="end-contents", revision=revision)]
    of_step = {step.anchor: step.revision for step in steps}
    for line in contents:
        if line.anchor == "part-steps":
            continue
        is_step = line.anchor in of_step
        rows.append(
            EffectivePages(
                what=words("effective.step" if is_step else "effective.section", number=line.number or line.title),
                start=line.anchor,
                end=f"end-{line.anchor.removeprefix('part-')}",
                revision=of_step.get(line.anchor, revision),
            )
        )
    return tuple(rows)


def _logo_address(logo: Logo | None) -> str:
    return f"data:{logo.media_type};base64,{base64.b64encode(logo.data).decode()}" if logo else ""


def _anchors(book: Book, words: Words) -> dict[str, str]:
    """Where each link leads, in words."""
    close_ups = {
        f"close-{row.step}": words("link.close_ups", number=row.step) for row in book.appendix.close_ups if row.is_first
    }
    lines = {
        line.anchor: words("link.section" if line.level == 1 else "link.step", number=line.number, title=line.title)
        if line.number
        else line.title
        for line in book.contents
    }
    return {
        **lines,
        **close_ups,
        "temperatures": words("hardware.temperatures"),
        "part-cover": words("effective.front"),
    }


def _contents(words: Words, plan: Plan, *, has_finish: bool, has_changes: bool) -> tuple[ContentsLine, ...]:
    # Without a number, so that a second issue does not renumber the sections of the first.
    lines = [ContentsLine(anchor="part-changes", number="", title=words("changes.section"), level=1)] * has_changes
    number = 0
    for name in SECTIONS:
        if name == "finish" and not has_finish:
            continue
        number += 1
        lines.append(ContentsLine(anchor=f"part-{name}", number=str(number), title=words(f"section.{name}"), level=1))
        if name == "steps":
            lines.extend(
                ContentsLine(anchor=step_anchor(step.number), number=step.number, title=step.title, level=2)
                for step in plan.steps
            )
    return tuple(lines)


def book_html(book: Book, words: Words, overrides: Path | None = None, *, changes: ChangePage | None = None) -> str:
    """The whole book as one HTML document, the change sheet at its front where there is one."""
    sheet = sheet_size(book.sheet)
    return Templates(overrides, {"w": words}).filled("book.html", book=book, sheet=sheet, changes=changes)


def measure_html(book: Book, words: Words, overrides: Path | None = None) -> str:
    """The blocks of every step below each other on one endless sheet, to be measured."""
    sheet = sheet_size(book.sheet)
    return Templates(overrides, {"w": words}).filled("measure.html", book=book, sheet=sheet)
