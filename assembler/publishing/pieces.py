"""The pieces a book is set in: cover, lists, each section, each step. Each counts its own pages.

A piece that did not change need not be set again, printed again, or changed in a binder: no number on its pages depends
on what stands before it. Goes in: pages as data. Comes out: the HTML of one piece after another, and what
it is set as.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import groupby
from pathlib import Path

from assembler.errors import BookFolderError, Fault
from assembler.publishing.cautions import in_columns
from assembler.publishing.changepages import ChangePage
from assembler.publishing.pages import BagRow, Book, CloseUp, PagesInForce, PartRow, StepPage, Worksheet
from assembler.publishing.pdf import SetPages
from assembler.publishing.printed import Printed
from assembler.publishing.sheets import sheet_size
from assembler.publishing.templating import Templates
from assembler.publishing.wording import by_tens
from assembler.publishing.words import Words

NOTES = "notes"
CONTENTS = "contents"
TOLD_LAST = ("contents", "force")
"""Pieces that say how many pages others have."""
MOST_ROUNDS = 8
"""A book settles in three: what tells numbers of pages may have a page more itself once it tells them."""
BEGIN_RIGHT = ("before", "parts", "hardware", "appendix", "log")
"""Pieces that begin on a sheet of their own: one page more or less before them does not turn them over."""
PARTS, BAGS, CLOSE_UPS, SHEETS = "parts-", "bags-", "close-ups-", "sheet-"
"""What the names of pieces begin with of which there are many."""


class Side(StrEnum):
    """Which side of a spread a page lies on."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def other(self) -> Side:
        """The side of the page after it."""
        return Side.RIGHT if self is Side.LEFT else Side.LEFT


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A run of pages that is set on its own.

    Parameters
    ----------
    name
        Different from piece to piece.
    template
        File that fills the body.
    section
        What the running head says.
    label
        What stands before the number of the page, on the page and as its label.
    in_force
        What the list of pages in force calls it; empty for sheets for notes.
    revision
        Since which its pages are in force.
    side
        Of its first page; None: whichever comes next.
    step, worksheet
        The step, or the calculation of a joint, that it shows; None for all other pieces.
    parts, bags, close_ups
        Those that it shows; none for all other pieces.
    """

    name: str
    template: str
    section: str
    label: str
    in_force: str
    revision: str
    side: Side | None = None
    step: StepPage | None = None
    worksheet: Worksheet | None = None
    parts: tuple[PartRow, ...] = ()
    bags: tuple[BagRow, ...] = ()
    close_ups: tuple[CloseUp, ...] = ()

    @property
    def is_headed(self) -> bool:
        """Whether its pages have heads."""
        return self.name != "cover"

    @property
    def is_numbered(self) -> bool:
        """Whether its pages have numbers."""
        return self.is_headed and bool(self.in_force)


class Pieces:
    """The pieces of a book.

    Parameters
    ----------
    book
        Its pages as data, laid out.
    words
        The catalogue.
    overrides
        Folder beside the project whose templates win.
    changes
        The change sheet at its front; None for a first book.
    printed
        Says since when a piece that is no step reads as it does; None: since this revision.
    """

    def __init__(
        self,
        book: Book,
        words: Words,
        overrides: Path | None = None,
        *,
        changes: ChangePage | None = None,
        printed: Printed | None = None,
    ) -> None:
        self._book = book
        self._words = words
        self._changes = changes
        self._printed = printed
        self._templates = page_templates(words, overrides)
        self._sheet = sheet_size(book.sheet)
        self._htmls: dict[tuple[str, str, Side], str] = {}

    def style(self, *, is_marked: bool = True) -> str:
        """The CSS of all pieces; without the mark of a draft for what is only measured."""
        return page_style(self._templates, self._book.sheet, self._book.mark if is_marked else "", self._book.date)

    def each(
        self, set_all: Callable[[Sequence[tuple[Piece, str]]], Sequence[SetPages]]
    ) -> tuple[tuple[Piece, SetPages], ...]:
        """Every piece as it is set, in the order of the book, sheets for notes between them.

        Which side a piece begins on follows from the numbers of pages before it, and pieces that tell these numbers
        come last: it is set for the numbers that most pieces have, then what those turned out to change.

        Parameters
        ----------
        set_all
            Sets pieces, each with its HTML.

        Raises
        ------
        BookFolderError
            If the numbers of pages do not settle, as a template of the project may have it.
        """
        counts: dict[str, int] = _Usual()
        known: dict[str, SetPages] = {}
        for _ in range(MOST_ROUNDS):
            order = self._ordered(counts)
            missing = [(piece, html) for piece, html in order if html not in known]
            first = [(piece, html) for piece, html in missing if piece.name not in TOLD_LAST] or missing
            known |= {html: pages for (_, html), pages in zip(first, set_all(first), strict=True)}
            told = {piece.name: known[html].pages for piece, html in order if html in known}
            if not missing and all(counts[name] == pages for name, pages in told.items()):
                return tuple((piece, known[html]) for piece, html in order)
            counts |= told
        wrong = "the numbers of pages, and the pages that tell them, do not settle"
        raise BookFolderError(Fault(file="the PDF", place="", wrong=wrong, right="mend the templates of the project"))

    def _ordered(self, counts: Mapping[str, int]) -> list[tuple[Piece, str]]:
        """Every piece with its HTML, where pieces have so many pages."""
        side, order, in_force = Side.RIGHT, list[tuple[Piece, str]](), list[PagesInForce]()
        for bare in self._with_notes(counts):
            told = (tuple(in_force), counts) if bare.name in TOLD_LAST else ((), {})
            piece = self._since(bare, side, *told)
            order.append((piece, self.html(piece, side, *told)))
            if piece.in_force:
                in_force.append(_in_force(piece, counts[piece.name]))
            side = side.other if counts[piece.name] % 2 else side
        return order

    def _since(self, piece: Piece, side: Side, in_force: tuple[PagesInForce, ...], counts: Mapping[str, int]) -> Piece:
        """The piece with the revision since which it reads as it does; steps know theirs from what changed in them."""
        if self._printed is None or piece.step is not None or not piece.in_force:
            return piece
        bare = self.html(replace(piece, revision=""), side, in_force, counts)
        return replace(piece, revision=self._printed.revision_of(piece.name, bare))

    def _with_notes(self, counts: Mapping[str, int]) -> Iterator[Piece]:
        """Every piece, and a sheet for notes before a piece that would begin on the wrong side.

        Parameters
        ----------
        counts
            Pages of each piece that was handed out before the one that is asked for.
        """
        side = Side.RIGHT
        for piece in self.listed():
            if piece.side not in (None, side):
                notes = self._notes(piece.name)
                yield notes
                side = side.other if counts[notes.name] % 2 else side
            yield piece
            side = side.other if counts[piece.name] % 2 else side

    def listed(self) -> Iterator[Piece]:
        """Every piece in its order, without the sheets for notes."""
        book = self._book
        yield self._front("cover", side=Side.RIGHT)
        if self._changes is not None:
            yield self._front("changes")
        yield self._front(CONTENTS)
        for name in ("before", "findings", "parts"):
            yield self._section(name)
        for number, parts in by_tens(book.parts.rows, lambda part: part.id).items():
            yield replace(self._run(f"{PARTS}{number}", "part_rows", "parts", parts[0].id, parts[-1].id), parts=parts)
        if book.parts.order:
            yield self._sheets("order", "parts")
        yield self._section("hardware")
        for number, bags in by_tens(book.hardware.bags, lambda bag: bag.joint).items():
            yield replace(self._run(f"{BAGS}{number}", "bags", "hardware", bags[0].joint, bags[-1].joint), bags=bags)
        yield self._section("days")
        for step in book.steps:
            yield self._step(step)
        if book.finish is not None:
            yield self._section("finish")
        yield self._section("base")
        yield self._section("appendix")
        for number, shown in by_tens(book.appendix.close_ups, lambda box: box.step).items():
            run = self._run(f"{CLOSE_UPS}{number}", "close_ups", "appendix", shown[0].step, shown[-1].step)
            yield replace(run, close_ups=shown, side=Side.RIGHT)
        # Begun on a sheet of their own by tens: one page more or less turns over those after it in its ten only.
        for sheets in by_tens(book.appendix.sheets, lambda sheet: sheet.joint).values():
            yield replace(self._worksheet(sheets[0]), side=Side.RIGHT)
            yield from map(self._worksheet, sheets[1:])
        yield self._sheets("log", "appendix")
        # The last one, since it lists all others.
        yield self._sheets("force", "appendix")

    def html(
        self,
        piece: Piece,
        side: Side,
        in_force: tuple[PagesInForce, ...] = (),
        counts: Mapping[str, int] | None = None,
    ) -> str:
        """One piece as an HTML document.

        Parameters
        ----------
        piece, side
            What, and where its first page lies.
        in_force
            Pages of all pieces before it.
        counts
            Pages of pieces by name, as far as they are known.

        Raises
        ------
        TemplateError
            If an override, or the catalogue, is broken; names file and line.
        """
        if piece.name not in TOLD_LAST:
            # All else follows from the book, and is asked for in every round.
            key = (piece.name, piece.revision, side)
            if key not in self._htmls:
                self._htmls[key] = self._filled(piece, side, in_force, {})
            return self._htmls[key]
        return self._filled(piece, side, in_force, counts or {})

    def _filled(self, piece: Piece, side: Side, in_force: tuple[PagesInForce, ...], counts: Mapping[str, int]) -> str:
        return piece_html(
            self._templates,
            piece,
            side,
            book=self._book,
            sheet=self._sheet,
            changes=self._changes,
            in_force=self._together(in_force) if piece.name == "force" else (),
            counts=self._counted(counts) if piece.name == CONTENTS else {},
            title=self._words("book.title", figure=self._book.figure, revision=self._book.revision)
            if piece.name == "cover"
            else self._book.figure,
        )

    def _counted(self, counts: Mapping[str, int]) -> dict[str, str]:
        """Pages of each piece, and of all pieces of a kind together, in words."""
        kinds = {
            kind: sum(pages for name, pages in counts.items() if name.startswith(kind))
            for kind in (PARTS, BAGS, SHEETS)
        }
        return {name: self._words.count("page.count", pages) for name, pages in {**counts, **kinds}.items()}

    def _together(self, in_force: Sequence[PagesInForce]) -> tuple[PagesInForce, ...]:
        """Steps and joints in a row with as many pages of the same revision as one line."""
        listed = []
        for (kind, _, _), alike in groupby(in_force, key=lambda row: (row.kind or row.what, row.pages, row.revision)):
            first, *others = alike
            if others and first.kind:
                what = self._words(f"page.{kind}", span=self._words.span(first.id, others[-1].id))
                first = replace(first, what=what)
            listed.append(first)
        return tuple(listed)

    def measured(self, step: StepPage) -> str:
        """The blocks of a step below each other on one endless sheet, to be measured."""
        return self._templates.filled("measure.html", book=self._book, sheet=self._sheet, step=step)

    def _front(self, name: str, side: Side | None = None) -> Piece:
        words = self._words
        return Piece(
            name=name,
            template=f"{name}.html",
            section=words(f"page.front.{name}"),
            label=words(f"page.front.{name}"),
            in_force=words(f"page.front.{name}"),
            revision=self._book.revision,
            side=side,
        )

    def _section(self, name: str) -> Piece:
        return self._sheets(name, name, self._words("page.section", number=self._book.numbers[name]))

    def _step(self, step: StepPage) -> Piece:
        label = self._words("page.step", number=step.number)
        return Piece(
            name=step.anchor,
            template="step.html",
            section=self._words("section.steps"),
            label=label,
            in_force=label,
            revision=step.revision,
            side=Side.LEFT,
            step=step,
        )

    def _worksheet(self, sheet: Worksheet) -> Piece:
        label = self._words("page.joint", number=sheet.joint)
        return Piece(
            name=f"{SHEETS}{sheet.joint}",
            template="worksheet.html",
            section=self._words("section.appendix"),
            label=label,
            in_force=label,
            revision=self._book.revision,
            worksheet=sheet,
        )

    def _sheets(self, name: str, section: str, label: str = "") -> Piece:
        """Pages of a section: all of it, or under a label of their own what changes or is written on."""
        label = label or self._words(f"page.{name}")
        return Piece(
            name=name,
            template=f"{name}.html",
            section=self._words(f"section.{section}"),
            label=label,
            in_force=label,
            revision=self._book.revision,
            side=Side.RIGHT if name in BEGIN_RIGHT else None,
        )

    def _run(self, name: str, kind: str, section: str, first: str, last: str) -> Piece:
        """Pages of a section for some of its joints or steps."""
        label = self._words(f"page.{kind}", span=self._words.span(first, last))
        return replace(self._sheets(name, section, label), template=f"{kind.replace('_', '-')}.html")

    def _notes(self, before: str) -> Piece:
        return Piece(
            name=f"{NOTES}-before-{before}",
            template="notes.html",
            section=self._words("page.notes"),
            label=self._words("page.notes"),
            in_force="",
            revision=self._book.revision,
        )


class _Usual(dict[str, int]):
    """Pages by name of the piece; where nobody knows, those that most pieces of its kind have."""

    def __missing__(self, name: str) -> int:
        return 1 if name.startswith((NOTES, PARTS, BAGS, SHEETS)) else 2


def _in_force(piece: Piece, pages: int) -> PagesInForce:
    kind, name = "", ""
    if piece.step is not None:
        kind, name = "steps", piece.step.number
    elif piece.worksheet is not None:
        kind, name = "joints", piece.worksheet.joint
    return PagesInForce(what=piece.in_force, pages=pages, revision=piece.revision, kind=kind, id=name)


def first_of_runs(parts: Sequence[PartRow], bags: Sequence[BagRow], sheets: Sequence[Worksheet]) -> dict[str, str]:
    """Name of the first piece of each kind of which there are many: links lead to it."""
    runs = {
        PARTS: [str(number) for number in by_tens(parts, lambda part: part.id)],
        BAGS: [str(number) for number in by_tens(bags, lambda bag: bag.joint)],
        SHEETS: [sheet.joint for sheet in sheets],
    }
    return {kind: f"{kind}{names[0]}" for kind, names in runs.items() if names}


def page_templates(words: Words, overrides: Path | None) -> Templates:
    """Templates of the book's pages."""
    return Templates(overrides, {"w": words, "in_columns": in_columns})


def page_style(templates: Templates, sheet: str, mark: str, date: str) -> str:
    """The CSS that all pages of the book share.

    Parameters
    ----------
    templates
        Of the pages.
    sheet
        Name of the sheet.
    mark
        'DRAFT', printed at the head of every page; empty for an issue.
    date
        Printed at the foot of every page of a draft; an issue is told by its revision, and pages that stay in force
        when the next one comes out have to stay what they are.
    """
    return templates.filled("book.css", sheet=sheet_size(sheet), mark=mark, date=date if mark else "")


def piece_html(templates: Templates, piece: Piece, side: Side, **values: object) -> str:
    """One piece as an HTML document; `values` are what its template uses besides."""
    return templates.filled("piece.html", piece=piece, side=side, step=piece.step, **values)
